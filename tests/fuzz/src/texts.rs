//! Readers of text: typed tables, numbers, drawings read back, the job.

use formats::{
    check_job, hand_value, hand_written, is_hand_table, job_from_str, job_to_string,
    job_to_string_with_tables, place_from_words, places_from_str, read_dxf, read_hand, read_job,
    read_places, read_step,
};
use libfuzzer_sys::Corpus;
use record::{HandKind, Job, LengthUnit};

use crate::{bounded, files, well_told};

/// Tables of hand readings.
pub fn hand(data: &[u8]) -> Corpus {
    let path = files::file("hand.csv", data);
    bounded(data.len(), || is_hand_table(&path));
    match bounded(data.len(), || read_hand(&path)) {
        Ok(readings) => {
            for r in readings {
                let given = r
                    .give_or_take
                    .into_iter()
                    .chain(r.pointers_mm.into_iter().flatten());
                assert!(
                    std::iter::once(r.value).chain(given).all(f64::is_finite),
                    "{r:?}"
                );
                assert!(r.line > 0);
            }
        }
        Err(e) => well_told(&e, true),
    }
    Corpus::Keep
}

/// Tables of places, picks and targets.
pub fn places(data: &[u8]) -> Corpus {
    let path = files::file("places.csv", data);
    match bounded(data.len(), || read_places(&path)) {
        Ok(places) => {
            for p in &places {
                assert!(
                    p.at.iter().all(|c| c.is_finite())
                        && p.sigma_mm.is_finite()
                        && p.sigma_mm > 0.0,
                    "{p:?}"
                );
                assert!(!p.name.is_empty());
            }
            let text = std::str::from_utf8(data).expect("what was read is text");
            let again = places_from_str(text).expect("read from its text as from its file");
            assert_eq!(again, places);
        }
        Err(e) => well_told(&e, true),
    }
    Corpus::Keep
}

/// Numbers as they are typed, with every unit: the first byte picks the kind and the unit.
pub fn numbers(data: &[u8]) -> Corpus {
    let Some((first, text)) = data.split_first() else {
        return Corpus::Reject;
    };
    let Ok(text) = std::str::from_utf8(text) else {
        return Corpus::Reject;
    };
    let first = usize::from(*first);
    let kind = HandKind::ALL[first % HandKind::ALL.len()];
    let unit = LengthUnit::ALL.get(first / HandKind::ALL.len()).copied();
    match bounded(text.len(), || hand_written(text, unit, kind)) {
        Ok((value, written)) => {
            assert!(value.is_finite(), "{text:?} is {value}");
            if !kind.is_word() {
                let again = hand_value(&written, None, kind)
                    .expect("what is kept means something by itself");
                assert_eq!(again, value, "{text:?} was kept as {written:?}");
            }
        }
        Err(e) => {
            assert!(!e.says().is_empty() && !e.hint().is_empty());
        }
    }
    let words = |head: &str| match head {
        "name" => "a",
        "side" | "scan" | "note" => "",
        "unit" => unit.map_or("", LengthUnit::word),
        "sigma" => "1",
        _ => text,
    };
    if let Ok(place) = bounded(text.len(), || place_from_words(&words)) {
        assert!(place.at.iter().all(|c| c.is_finite()));
    }
    Corpus::Keep
}

/// STEP, as it is read back after it is written.
pub fn step(data: &[u8]) -> Corpus {
    let text = String::from_utf8_lossy(data);
    match bounded(data.len(), || read_step(&text)) {
        Ok(products) => {
            for (_, curve) in products.iter().flat_map(|p| &p.curves) {
                let samples = bounded(data.len(), || curve.samples(2));
                assert!(samples.len() <= 1000 + data.len());
            }
        }
        Err(e) => assert!(!e.to_string().is_empty()),
    }
    Corpus::Keep
}

/// DXF, as it is read back after it is written.
pub fn dxf(data: &[u8]) -> Corpus {
    let text = String::from_utf8_lossy(data);
    match bounded(data.len(), || read_dxf(&text)) {
        Ok(shapes) => {
            let all = shapes.paths.iter().flat_map(|p| &p.1.pieces);
            assert!(
                all.into_iter()
                    .all(|p| p.start.iter().all(|c| c.is_finite()) && p.bulge.is_finite())
            );
            assert!(
                shapes
                    .circles
                    .iter()
                    .all(|c| c.1.iter().all(|x| x.is_finite()) && c.2.is_finite())
            );
        }
        Err(e) => assert!(!e.to_string().is_empty()),
    }
    Corpus::Keep
}

/// The job file: what is read is written and read again as the same job.
pub fn job(data: &[u8]) -> Corpus {
    let text = match std::str::from_utf8(data) {
        Ok(text) => text,
        Err(_) => {
            let path = files::file("job.ron", data);
            well_told(&read_job(&path).expect_err("bytes that are no text"), true);
            return Corpus::Reject;
        }
    };
    match bounded(data.len(), || job_from_str(text)) {
        Ok(job) => {
            bounded(data.len(), || check_job(&job));
            same_again(&job);
        }
        Err(e) => well_told(&e, false),
    }
    Corpus::Keep
}

/// A job comes back from its text as it went there, with the tables beside it and without.
pub fn same_again(job: &Job) {
    for write in [job_to_string, job_to_string_with_tables] {
        let text = write(job).expect("a job that was read can be written");
        let again =
            job_from_str(&text).unwrap_or_else(|e| panic!("{e} in what was written:\n{text}"));
        // Not-a-number is not equal to itself; as text it is.
        assert_eq!(write(&again).expect("and written again"), text);
        assert!(
            again == *job || text.contains("NaN") || text.contains("hand"),
            "another job came back:\n{text}"
        );
    }
}
