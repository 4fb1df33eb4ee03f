//! Openings of a new job that were measured by hand.

use std::path::{Path, PathBuf};

use record::{
    Car, Compare, HandKind, HandReading, HandTable, Job, Opening, OpeningId, Relation, Side, Visit,
};

/// A job without scans.
pub fn empty_job(visit: Visit) -> Job {
    let car = "car".to_owned();
    Job {
        title: "New job".to_owned(),
        seed: 1,
        cars: vec![Car {
            name: car.clone(),
            note: String::new(),
        }],
        visits: vec![Visit { car, ..visit }],
        ..Job::default()
    }
}

/// Adds a table and an opening per file, and compares left with right where one of each is not compared yet. What was
/// taken is said, a line a table.
///
/// # Errors
/// If a table cannot be read.
pub fn add(
    job: &mut Job,
    paths: &[PathBuf],
    relative: impl Fn(&Path) -> PathBuf,
) -> Result<Vec<String>, formats::Error> {
    let mut said = Vec::new();
    for path in paths {
        let readings = formats::read_hand(path)?;
        let stem = path.file_stem().map_or_else(
            || "by-hand".to_owned(),
            |s| s.to_string_lossy().into_owned(),
        );
        let id = free(&stem, |id| {
            job.openings.iter().any(|o| o.id.0 == id)
                || job.scans.iter().any(|s| s.id.0 == id)
                || job.hand.iter().any(|h| h.id.0 == id)
        });
        let side = side_of(&stem, &readings);
        said.push(says(&id, side, &readings));
        job.hand.push(HandTable {
            id: id.as_str().into(),
            visit: job
                .visits
                .first()
                .map_or("first visit".into(), |v| v.id.clone()),
            path: Some(relative(path)),
            hash: None,
            flat: false,
            readings,
            instruments: Vec::new(),
            unread: None,
            note: String::new(),
        });
        job.openings.push(opening(&id, side));
    }
    pair(job);
    Ok(said)
}

fn free(stem: &str, taken: impl Fn(&str) -> bool) -> String {
    let mut id = stem.to_owned();
    let mut n = 1;
    while taken(&id) {
        n += 1;
        id = format!("{stem}-{n}");
    }
    id
}

/// By the name of the file, or by what all rows say.
fn side_of(stem: &str, readings: &[HandReading]) -> Side {
    let words: Vec<String> = stem
        .split(|c: char| !c.is_alphanumeric())
        .map(str::to_lowercase)
        .collect();
    let has = |w: &str| words.iter().any(|x| x == w);
    let rows = |w: &str| {
        !readings.is_empty() && readings.iter().all(|r| r.opening.eq_ignore_ascii_case(w))
    };
    if has("left") || rows("left") {
        Side::Left
    } else if has("right") || rows("right") {
        Side::Right
    } else if has("centre") || has("center") || rows("centre") {
        Side::Centre
    } else {
        Side::NotSaid
    }
}

fn says(id: &str, side: Side, readings: &[HandReading]) -> String {
    let count = |k: HandKind| readings.iter().filter(|r| r.kind == k).count();
    let edge = readings.iter().find(|r| r.kind == HandKind::Edge);
    let side = match side {
        Side::Left => "left",
        Side::Right => "right",
        Side::Centre => "centre",
        Side::NotSaid => "side not said: put it into the job",
    };
    format!(
        "{id}: {side}, {} readings ({} lengths, {} angles), {}",
        readings.iter().filter(|r| !r.kind.is_word()).count(),
        count(HandKind::Length) + count(HandKind::Tram) + count(HandKind::Level),
        count(HandKind::Angle),
        edge.map_or_else(
            || "no row of kind \"edge\" yet".to_owned(),
            |e| format!("edge of {} points", e.from.len())
        )
    )
}

fn opening(id: &str, side: Side) -> Opening {
    Opening {
        name: name_of(id),
        ..Opening::unpicked(id.into(), id.into(), side)
    }
}

/// "lamp-left" is called "Lamp left".
fn name_of(id: &str) -> String {
    let words = id.replace(['-', '_'], " ");
    let mut letters = words.chars();
    letters
        .next()
        .map(|first| first.to_uppercase().chain(letters).collect())
        .unwrap_or_default()
}

/// Compares the left and the right opening that stand alone, if it is one of each.
fn pair(job: &mut Job) {
    let compared = |id: &OpeningId| {
        job.compares
            .iter()
            .any(|c| c.a == *id && c.b.is_some() || c.b.as_ref() == Some(id))
    };
    let alone = |side: Side| -> Vec<OpeningId> {
        job.openings
            .iter()
            .filter(|o| o.side == side && !compared(&o.id))
            .map(|o| o.id.clone())
            .collect()
    };
    let (left, right) = (alone(Side::Left), alone(Side::Right));
    let ([a], [b]) = (left.as_slice(), right.as_slice()) else {
        return;
    };
    // A comparison that one of them stood in alone is completed.
    job.compares.retain(|c| c.a != *a && c.a != *b);
    let number = job.compares.len() + 1;
    let id = free("opening", |id| job.compares.iter().any(|c| c.id.0 == id));
    let part = free(&format!("part-{number}"), |id| {
        job.choices.parts.iter().any(|p| p.id.0 == id)
    });
    job.compares.push(Compare {
        id: id.as_str().into(),
        a: a.clone(),
        b: Some(b.clone()),
        relation: Relation::Mirrored,
        part: part.as_str().into(),
    });
    let name = format!("Part {number}");
    let part = study::propose::starting_part(part.as_str().into(), name);
    job.choices.parts.push(part);
}
