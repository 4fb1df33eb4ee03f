//! One coach in several units: what a file does not state is guessed right, and the answer is the same.

use std::path::Path;
use std::sync::Arc;

use demo::Coach;
use geom::RawPoints;
use record::{
    Code, Decided, Figure, Job, LengthUnit, Measured, Prepared, Quiet, RawScan, Scans, Severity,
    UnitSource,
};

const POINTS: usize = 250_000;

/// A scan in another unit, which it does not state.
fn in_unit(raw: &RawScan, unit: LengthUnit) -> RawScan {
    let RawPoints::F32(points) = &raw.points else {
        panic!("the demo's scans are in single precision");
    };
    let scaled = points
        .iter()
        .map(|p| p.map(|c| (f64::from(c) / unit.in_mm()) as f32))
        .collect();
    RawScan {
        points: RawPoints::F32(scaled),
        unit: None,
        ..raw.clone()
    }
}

/// Written and read back as files: the left as PLY, the right as STL, the centre as a table.
fn read(folder: &Path, raw: &RawScan, k: usize) -> RawScan {
    let path = folder.join(["left.ply", "right.stl", "centre.xyz"][k]);
    match k {
        0 => formats::write_ply(&path, raw, &Quiet),
        1 => formats::write_stl(&path, raw, &Quiet),
        _ => formats::write_xyz(&path, raw, &Quiet),
    }
    .unwrap();
    formats::read_scan(&path, &Quiet).unwrap()
}

#[test]
fn the_unit_of_the_demo_is_guessed_right_in_every_unit() {
    for seed in 1..=3 {
        for (k, scan) in Coach::new(seed)
            .scans(POINTS, &Quiet)
            .unwrap()
            .iter()
            .enumerate()
        {
            for unit in LengthUnit::ALL {
                let guess = formats::guess_unit(&in_unit(&scan.raw, unit).points);
                let offered: Vec<&str> = guess.candidates.iter().map(|c| c.unit.word()).collect();
                println!("scan {k} in {}: {offered:?}: {}", unit.word(), guess.reason);
                assert_eq!(guess.unit, unit, "{}", guess.reason);
            }
        }
    }
}

fn run(job: &Job, scans: &Scans) -> (Measured, Decided) {
    let s = study::run(job, scans, &mut study::Kept::default(), 400, &Quiet).unwrap();
    (s.measured, s.decided)
}

/// Figures that rounding to single precision in other units may move: by less than a tenth of their give-or-take.
fn near(what: &str, a: &Figure, b: &Figure) {
    let off = (a.value - b.value).abs();
    assert!(
        off <= 0.1 * a.u95 && (b.u95 / a.u95 - 1.0).abs() < 0.1,
        "{what}: {a:?} {b:?}"
    );
}

/// Inch STL and metre PLY of one coach, the units guessed from the files and stated in the job: what comes out is what
/// millimetres give.
#[test]
fn inches_and_metres_of_one_coach_give_the_answer_of_millimetres() {
    let folder = tempfile::tempdir().unwrap();
    let coach = Coach::new(21);
    let raws: Vec<RawScan> = coach
        .scans(POINTS, &Quiet)
        .unwrap()
        .into_iter()
        .map(|s| s.raw)
        .collect();
    let with = |units: [LengthUnit; 3]| {
        let mut job = coach.job();
        let mut scans = Scans::new();
        for (k, unit) in units.into_iter().enumerate() {
            let raw = read(folder.path(), &in_unit(&raws[k], unit), k);
            assert_eq!(raw.unit, None);
            let guess = formats::guess_unit(&raw.points);
            assert_eq!(guess.unit, unit, "{}", guess.reason);
            let scan = &mut job.scans[k];
            scan.unit = guess.unit;
            scan.unit_source = UnitSource::Guessed;
            let p: Prepared = study::prepare(raw, guess.unit, &Quiet).unwrap();
            scans.insert(scan.id.clone(), Arc::new(p));
        }
        let guessed = run(&job, &scans);
        for scan in &mut job.scans {
            scan.unit_source = UnitSource::Stated;
        }
        let stated = run(&job, &scans);
        (guessed, stated)
    };
    let (_, (mm, mm_decided)) = with([LengthUnit::Millimetre; 3]);
    let ((guessed, _), (stated, decided)) =
        with([LengthUnit::Metre, LengthUnit::Inch, LengthUnit::Millimetre]);
    let doubts = |m: &Measured| {
        m.findings
            .iter()
            .filter(|f| f.code == Code::UnitDoubt)
            .count()
    };
    assert_eq!((doubts(&guessed), doubts(&stated)), (3, 0));
    assert_eq!(
        format!("{:?}", guessed.compares),
        format!("{:?}", stated.compares)
    );
    for (a, b) in mm.compares.iter().zip(&stated.compares) {
        for (x, y) in a.modes.iter().zip(&b.modes) {
            near(&format!("{} {:?}", a.id, x.kind), &x.amount, &y.amount);
        }
        for (x, y) in a.angles.iter().zip(&b.angles) {
            near(
                &format!("{} {}", a.id, x.place),
                &x.a.unwrap(),
                &y.a.unwrap(),
            );
        }
    }
    for (a, b) in mm_decided.compares.iter().zip(&decided.compares) {
        let verdicts = |d: &record::DecidedCompare| -> Vec<_> {
            d.options.iter().map(|o| (o.kind, o.verdict)).collect()
        };
        assert_eq!(verdicts(a), verdicts(b), "{}", a.id);
    }
}

/// A scan taken for centimetres that is in inches: the pair says so and gives no verdict; a taped length names the unit.
#[test]
fn a_wrong_unit_stops_the_pair_and_one_taped_length_settles_it() {
    let coach = Coach::new(22);
    let mut job = coach.job();
    let mut scans = Scans::new();
    for (k, s) in coach.scans(POINTS, &Quiet).unwrap().into_iter().enumerate() {
        // The right side is 2.54 times too small.
        let (raw, unit) = if k == 1 {
            (in_unit(&s.raw, LengthUnit::Inch), LengthUnit::Centimetre)
        } else {
            (s.raw, LengthUnit::Millimetre)
        };
        let p = study::prepare(raw, unit, &Quiet).unwrap();
        scans.insert(s.id, Arc::new(p));
    }
    let too_small = |p: &mut geom::Point| p.coords /= 2.54;
    for o in job.openings.iter_mut().filter(|o| o.scan.0 == "right") {
        if let Some(e) = o.edge.as_mut() {
            too_small(&mut e.near);
        }
        o.top.iter_mut().for_each(too_small);
        o.faces.clear();
        o.junctions.clear();
        o.holes.clear();
    }
    job.scans[1].unit = LengthUnit::Centimetre;
    let (m, d) = run(&job, &scans);
    let lamp = m.compares.iter().find(|c| c.id.0 == "lamp").unwrap();
    let said: Vec<_> = lamp
        .findings
        .iter()
        .filter(|f| f.code == Code::UnitDoubt)
        .collect();
    println!("{:?}", lamp.findings);
    assert_eq!(said.len(), 1);
    assert_eq!(said[0].severity, Severity::Stop);
    assert!(
        said[0]
            .says
            .contains("as if a scan in inches had been read in cm"),
        "{}",
        said[0].says
    );
    let lamp = d.compares.iter().find(|c| c.id.0 == "lamp").unwrap();
    assert!(lamp.options.is_empty());

    // 300 mm on the body, 118.1 mm in the scan as it is read.
    let from = geom::Point::origin();
    job.scans[1].unit_source = UnitSource::Checked {
        from,
        to: geom::Point::new(300.0 / 2.54, 0.0, 0.0),
        taped_mm: 300.4,
    };
    let (m, _) = run(&job, &scans);
    let tape = m
        .findings
        .iter()
        .find(|f| f.code == Code::UnitDoubt)
        .unwrap();
    assert_eq!(tape.severity, Severity::Stop);
    assert!(tape.advice.contains("probably in"), "{tape:?}");
    // One that agrees leaves no doubt.
    job.scans[1].unit_source = UnitSource::Checked {
        from,
        to: geom::Point::new(300.0, 0.0, 0.0),
        taped_mm: 300.4,
    };
    let (m, _) = run(&job, &scans);
    assert!(m.findings.iter().all(|f| f.code != Code::UnitDoubt));
}

/// Scans nobody here made. `UNMIRROR_SCANS=FOLDER cargo test -p it real_scans -- --ignored --nocapture` reads every scan in
/// a folder; those whose name holds "room" are rooms in metres.
#[test]
#[ignore = "needs a folder of scans: UNMIRROR_SCANS=FOLDER cargo test -p it real_scans -- --ignored --nocapture"]
fn real_scans_of_a_folder() {
    let folder = std::env::var("UNMIRROR_SCANS").expect("UNMIRROR_SCANS names a folder of scans");
    let mut paths: Vec<_> = std::fs::read_dir(&folder)
        .unwrap()
        .map(|e| e.unwrap().path())
        .collect();
    paths.sort();
    let mut rooms = 0;
    for path in paths {
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        let raw = match formats::read_scan(&path, &Quiet) {
            Ok(raw) => raw,
            Err(e) => {
                println!("{name}: not read: {e}; {}", e.hint());
                assert!(!e.hint().is_empty());
                continue;
            }
        };
        let guess = formats::guess_unit(&raw.points);
        println!(
            "{name}: {} points, {}: {}",
            raw.points.len(),
            guess.unit.word(),
            guess.reason
        );
        let unit = raw.unit.unwrap_or(guess.unit);
        let p = study::prepare(raw, unit, &Quiet).unwrap();
        let look = study::look(&p, &Quiet).unwrap();
        println!(
            "   {:?} {:?} {} openings",
            look.size_mm,
            look.noise,
            look.openings.len()
        );
        for f in &look.findings {
            println!("   {}", report::finding_text(f));
        }
        if name.contains("room") {
            rooms += 1;
            assert_eq!(unit, LengthUnit::Metre, "{name}");
            assert!(look.openings.is_empty(), "{name}: a room is no body");
        }
    }
    println!("{rooms} rooms");
}
