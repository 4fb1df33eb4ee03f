//! Scans joined to common axes: every finding provoked, and one close by that must not be.

use std::sync::Arc;

use geom::{Point, RawPoints, Rigid, Vector};
use rand::distr::Distribution;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::StandardNormal;
use record::{
    Code, Finding, Job, Joined, JoinedBy, LengthUnit, Place, Prepared, Quiet, RawScan, Scans,
    Severity, Side, Source,
};

fn scan(points: &[Point]) -> Arc<Prepared> {
    let raw = RawScan {
        name: "made.xyz".to_owned(),
        format: "table of points".to_owned(),
        hash: format!("made-{}", points.len()),
        bytes: 0,
        points: RawPoints::F64(points.iter().map(|p| p.coords.into()).collect()),
        triangles: Vec::new(),
        colours: Vec::new(),
        normals: Vec::new(),
        names: Vec::new(),
        unit: None,
        notes: Vec::new(),
    };
    Arc::new(study::prepare(raw, LengthUnit::Millimetre, &Quiet).unwrap())
}

fn front_from_rear() -> Rigid {
    Rigid::new(
        Vector::new(900.0, -400.0, 120.0),
        Vector::new(0.3, -0.9, 0.5),
    )
}

/// A corner of a body, or a flat of it, over x0..x1, with 0.03 mm of noise.
fn surface(flat: bool, x: [f64; 2], seed: u64) -> Vec<Point> {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let n = ((x[1] - x[0]) * 60.0) as usize;
    (0..n)
        .map(|_| {
            let (u, v): (f64, f64) = (rng.random(), rng.random());
            let (u, v) = (x[0] + (x[1] - x[0]) * u, -120.0 + 240.0 * v);
            let h = if flat {
                0.0
            } else {
                50.0 - 8e-4 * u * u - 9e-4 * v * v + 4.0 * (v / 50.0).sin() + 4.0 * (u / 45.0).sin()
            };
            let e: f64 = StandardNormal.sample(&mut rng);
            Point::new(u, v, h + 0.03 * e)
        })
        .collect()
}

/// Two scans over parts of one body, each in axes of its own.
fn scans(flat: bool, rear: [f64; 2], front: [f64; 2]) -> Scans {
    let back = front_from_rear().inverse();
    let rear: Vec<Point> = surface(flat, rear, 1).iter().map(|p| back * p).collect();
    [
        ("front".into(), scan(&surface(flat, front, 2))),
        ("rear".into(), scan(&rear)),
    ]
    .into()
}

const AT: [[f64; 3]; 6] = [
    [-200.0, -100.0, 20.0],
    [-150.0, 100.0, 60.0],
    [0.0, 30.0, -50.0],
    [90.0, -110.0, 30.0],
    [160.0, 90.0, 10.0],
    [60.0, 0.0, 80.0],
];

/// `n` places in both scans, scattered by `sigma`; `off` moves those of the rear one (axes of the front one).
fn job(n: usize, sigma: f64, off: impl Fn(usize) -> Vector, more: &str) -> Job {
    let scans = ["front", "rear"].map(|s| format!("(id: \"{s}\", path: \"{s}.xyz\", unit: mm)"));
    let text = format!(
        "(schema: 1, visits: [(id: \"v\", flatness_mm: 0.05)], scans: [{}], {more})",
        scans.join(", ")
    );
    let mut job = formats::job_from_str(&text).unwrap_or_else(|e| panic!("{e}"));
    for (k, at) in AT[..n].iter().enumerate() {
        let e = |c: usize| {
            Vector::from_fn(|i, _| sigma * ((7 * k + 3 * i + c) as f64 * 2.3 + 0.4).sin())
        };
        let p = Point::from(*at);
        let back = front_from_rear().inverse();
        for (scan, at) in [("front", p + e(1)), ("rear", back * (p + e(5) + off(k)))] {
            job.places.push(Place {
                name: format!("spot {k}"),
                side: Side::NotSaid,
                scan: scan.into(),
                at,
                sigma_mm: sigma.max(0.01),
                note: String::new(),
            });
        }
    }
    job
}

const PLAIN: &str = "joins: [(scan: \"rear\", to: \"front\")]";
const REFINED: &str = "joins: [(scan: \"rear\", to: \"front\", refine: true)]";

fn joined(job: &Job, scans: &Scans) -> Joined {
    study::joined(job, scans, &Quiet).unwrap()
}

fn none(_: usize) -> Vector {
    Vector::zeros()
}

fn found(j: &Joined, code: Code) -> Vec<&Finding> {
    j.findings.iter().filter(|f| f.code == code).collect()
}

/// How far a place of the rear scan is from where it is, mm, against its give-or-take.
fn off(j: &Joined, p: Point) -> (f64, f64) {
    let join = &j.joins[0];
    let off = join.to_from * (front_from_rear().inverse() * p) - p;
    (
        off.norm(),
        join.doubt.worst_at(&p).map_or(f64::NAN, |u| u.u95),
    )
}

#[test]
fn places_and_surfaces_join_two_scans() {
    let scans = scans(false, [-150.0, 250.0], [-250.0, 150.0]);
    let by_places = joined(&job(6, 0.3, none, PLAIN), &Scans::new());
    let both = joined(&job(6, 0.3, none, REFINED), &scans);
    assert!(by_places.findings.is_empty(), "{:?}", by_places.findings);
    assert_eq!(both.joins[0].by, JoinedBy::PlacesAndSurfaces);
    let overlap = both.joins[0].overlap.unwrap();
    assert!((0.7..0.8).contains(&overlap.share), "{overlap:?}");
    assert!((0.035..0.06).contains(&overlap.left_mm), "{overlap:?}");
    for p in [[200.0, 60.0, 0.0], [-100.0, -90.0, 30.0]] {
        let (wide, narrow) = (off(&by_places, p.into()), off(&both, p.into()));
        assert!(wide.0 < 1.5 * wide.1, "{wide:?}");
        assert!(
            narrow.0 < 1.5 * narrow.1 && narrow.1 < 0.5 * wide.1,
            "{narrow:?} {wide:?}"
        );
    }
    // Only worth a note: the corner holds.
    assert!(
        both.findings.iter().all(|f| f.severity == Severity::Note),
        "{:?}",
        both.findings
    );
    // Without places, from a start that is a little off.
    let start = "start: (axis: (0.278886, -0.836657, 0.464809), turn_deg: 61.44, shift_mm: (901, -399, 121))";
    let text = REFINED.replace("refine: true", &format!("refine: true, {start}"));
    let alone = joined(&job(0, 0.3, none, &text), &scans);
    assert_eq!(
        alone.joins[0].by,
        JoinedBy::Surfaces,
        "{:?}",
        alone.findings
    );
    let near = off(&alone, Point::new(0.0, 0.0, 40.0));
    assert!(near.0 < 1.5 * near.1 && near.1 < 0.2, "{near:?}");
}

#[test]
fn few_places_are_doubted_and_two_do_not_join() {
    for n in [3, 4] {
        let j = joined(&job(n, 0.3, none, PLAIN), &Scans::new());
        assert_eq!(found(&j, Code::JoinFewPlaces).len(), 1);
        assert_eq!(j.joins.len(), 1);
    }
    assert!(
        found(
            &joined(&job(5, 0.3, none, PLAIN), &Scans::new()),
            Code::JoinFewPlaces
        )
        .is_empty()
    );
    let two = joined(&job(2, 0.3, none, PLAIN), &Scans::new());
    let stop = found(&two, Code::JoinNotMade);
    assert!(two.joins.is_empty() && stop[0].severity == Severity::Stop);
    assert!(
        stop[0].says.contains("2 places are in both"),
        "{}",
        stop[0].says
    );
}

#[test]
fn scans_that_share_nothing_are_not_joined_by_surfaces() {
    let apart = scans(false, [60.0, 250.0], [-250.0, -60.0]);
    let with_places = joined(&job(6, 0.3, none, REFINED), &apart);
    let f = found(&with_places, Code::JoinNotMade);
    assert_eq!(f[0].severity, Severity::Doubt);
    assert_eq!(with_places.joins[0].by, JoinedBy::Places);
    let alone = joined(&job(0, 0.3, none, REFINED), &apart);
    assert_eq!(found(&alone, Code::JoinNotMade)[0].severity, Severity::Stop);
    assert!(alone.joins.is_empty());
    // A missing scan is said by its name.
    let missing = joined(&job(0, 0.3, none, REFINED), &Scans::new());
    assert!(
        found(&missing, Code::JoinNotMade)[0]
            .says
            .contains("the scan rear is not there")
    );
}

#[test]
fn little_overlap_is_doubted() {
    let little = scans(false, [120.0, 400.0], [-250.0, 140.0]);
    let j = joined(&job(6, 0.1, none, REFINED), &little);
    assert_eq!(
        found(&j, Code::JoinLittleOverlap).len(),
        1,
        "{:?}",
        j.findings
    );
    let much = scans(false, [0.0, 250.0], [-250.0, 140.0]);
    let j = joined(&job(6, 0.1, none, REFINED), &much);
    assert!(
        found(&j, Code::JoinLittleOverlap).is_empty(),
        "{:?}",
        j.findings
    );
}

#[test]
fn a_flat_overlap_slides_unless_places_hold_it() {
    let flat = scans(true, [-150.0, 250.0], [-250.0, 150.0]);
    let held = joined(&job(6, 0.3, none, REFINED), &flat);
    let ways = found(&held, Code::JoinWeak);
    assert_eq!(ways.len(), 3, "{:?}", held.findings);
    assert!(
        ways.iter()
            .all(|f| f.severity == Severity::Note && f.says.contains("give or take"))
    );
    assert!(
        ways.iter().any(|f| f.says.contains("can slide along X")),
        "{ways:?}"
    );
    assert!(
        ways.iter()
            .any(|f| f.says.contains("can turn about an axis along Z")),
        "{ways:?}"
    );
    let start = "refine: true, start: (axis: (0.278886, -0.836657, 0.464809), turn_deg: 61.43, shift_mm: (900, -400, 120.5))";
    let text = REFINED.replace("refine: true", start);
    let alone = joined(&job(0, 0.3, none, &text), &flat);
    let ways = found(&alone, Code::JoinWeak);
    assert_eq!(ways.len(), 3, "{:?}", alone.findings);
    assert!(
        ways.iter()
            .all(|f| f.severity == Severity::Doubt && f.says.contains("nothing holds it"))
    );
    assert!(alone.joins[0].at[0].shift.u95.is_nan());
    let corner = scans(false, [-150.0, 250.0], [-250.0, 150.0]);
    let corner = joined(&job(6, 0.3, none, REFINED), &corner);
    assert!(
        found(&corner, Code::JoinWeak)
            .iter()
            .all(|f| f.severity == Severity::Note)
    );
}

#[test]
fn places_that_moved_together_disagree_with_the_surfaces() {
    let scans = scans(false, [-150.0, 250.0], [-250.0, 150.0]);
    let moved = joined(
        &job(6, 0.1, |_| Vector::new(0.0, 1.5, 1.0), REFINED),
        &scans,
    );
    assert_eq!(
        found(&moved, Code::JoinDisagrees).len(),
        1,
        "{:?}",
        moved.findings
    );
    let sound = joined(&job(6, 0.1, none, REFINED), &scans);
    assert!(
        found(&sound, Code::JoinDisagrees).is_empty(),
        "{:?}",
        sound.findings
    );
}

#[test]
fn a_bent_place_is_named() {
    let bent = |k: usize| Vector::x() * if k == 3 { 8.0 } else { 0.0 };
    let j = joined(&job(6, 0.3, bent, PLAIN), &Scans::new());
    let odd = found(&j, Code::OddPlace);
    assert_eq!(
        (odd.len(), odd[0].subject.as_str()),
        (1, "spot 3"),
        "{:?}",
        j.findings
    );
    let (off, u95) = off(&j, Point::origin());
    assert!(off < u95, "{off} {u95}");
}

/// A tape across the join: its give-or-take holds that of the picks and of the join.
#[test]
fn tapes_check_joined_scans() {
    let taped = |length: f64| {
        let end = |n: usize| format!("(name: \"spot {n}\", side: not_said)");
        let tape = format!(
            "taped: [(from: {}, to: {}, length_mm: {length}, u95_mm: 1)]",
            end(0),
            end(4)
        );
        joined(
            &job(6, 0.3, none, &format!("{PLAIN}, {tape}")),
            &Scans::new(),
        )
    };
    let length = (Point::from(AT[0]) - Point::from(AT[4])).norm();
    let right = taped(length);
    assert!(
        found(&right, Code::TapeDisagrees).is_empty(),
        "{:?}",
        right.lengths
    );
    assert_ne!(right.lengths[0].scans[0], right.lengths[0].scans[1]);
    assert!(right.lengths[0].off.u95 > 1.0);
    let wrong = taped(length + 6.0);
    assert_eq!(
        found(&wrong, Code::TapeDisagrees).len(),
        1,
        "{:?}",
        wrong.lengths
    );
    assert!(
        found(&wrong, Code::TapeDisagrees)[0]
            .says
            .contains("shorter than the tape")
    );
    // Not joined: the tape has no meaning.
    let tape = "taped: [(from: (name: \"spot 0\", side: not_said), to: (name: \"x\", side: not_said), length_mm: 400, u95_mm: 1)]";
    let mut lone = job(1, 0.3, none, tape);
    lone.places.retain(|p| p.scan.0 == "front");
    let mut other = lone.places[0].clone();
    (other.name, other.scan) = ("x".to_owned(), "rear".into());
    lone.places.push(other);
    let j = joined(&lone, &Scans::new());
    assert_eq!(found(&j, Code::ScansNotJoined).len(), 1, "{:?}", j.findings);
}

/// Two visits: the body stood on stands at one, on its mounts at the other.
#[test]
fn unlike_visits_are_not_mixed_silently() {
    let mut two = job(6, 0.3, none, PLAIN);
    let second = record::Visit {
        id: "w".into(),
        ..two.visits[0].clone()
    };
    two.visits.push(second);
    two.scans[1].visit = "w".into();
    assert!(found(&joined(&two, &Scans::new()), Code::UnlikeBodyStates).is_empty());
    two.visits[1].state.mounting = record::Mounting::OnStands;
    let j = joined(&two, &Scans::new());
    assert_eq!(
        found(&j, Code::UnlikeBodyStates).len(),
        1,
        "{:?}",
        j.findings
    );
}

/// The words of a join, and its JSON.
#[test]
fn joins_are_told_in_sentences() {
    let scans = scans(false, [-150.0, 250.0], [-250.0, 150.0]);
    let mut study = record::Study {
        title: "Coach".to_owned(),
        ..record::Study::default()
    };
    study.measured.joined = joined(&job(6, 0.3, none, REFINED), &scans);
    let text = report::joins_text(&study, report::Look::default()).unwrap();
    let first = "Rear is joined to front by 6 places and the surfaces that both show: 7";
    assert!(text.lines().any(|l| l.starts_with(first)), "{text}");
    assert!(text.lines().all(|l| l.chars().count() <= 100), "{text}");
    assert!(
        text.contains("Measure next: nothing is asked for"),
        "{text}"
    );
    assert!(formats::joins_json(&study).contains("\"source\": \"joining of the scans\""));
    assert_eq!(Source::Join.word(), "joining of the scans");
    study.measured.joined = Joined::default();
    assert_eq!(report::joins_text(&study, report::Look::default()), None);
}

/// Two range scans of one room that nobody here made, from the start that goes with them, without targets. Set
/// `UNMIRROR_REAL_SCANS` to the folder that holds `room_scan1.ply` and `room_scan2.ply`:
/// `UNMIRROR_REAL_SCANS=... cargo test -p it room -- --ignored --nocapture`.
#[test]
#[ignore = "needs a folder of scans that are not part of the product"]
fn two_scans_of_a_room_are_joined_without_targets() {
    let Some(folder) = std::env::var_os("UNMIRROR_REAL_SCANS") else {
        panic!("set UNMIRROR_REAL_SCANS to the folder of the two scans");
    };
    let folder = std::path::PathBuf::from(folder);
    let text = "(schema: 1, visits: [(id: \"v\", flatness_mm: 1)],
        scans: [(id: \"one\", path: \"room_scan1.ply\", unit: m), (id: \"two\", path: \"room_scan2.ply\", unit: m)],
        joins: [(scan: \"two\", to: \"one\", refine: true,
            start: (axis: (0, 0, 1), turn_deg: 39.7117, shift_mm: (1793.87, 720.047, 0)))])";
    let job = formats::job_from_str(text).unwrap();
    assert_eq!(formats::check_job(&job), []);
    let mut scans = Scans::new();
    for s in &job.scans {
        let raw = formats::read_scan(&folder.join(&s.path), &Quiet).unwrap();
        let ready = study::prepare(raw, s.unit, &Quiet).unwrap();
        println!(
            "{}: {} points, {:.2} mm apart",
            s.id,
            ready.blocks.len(),
            ready.spacing_mm
        );
        scans.insert(s.id.clone(), Arc::new(ready));
    }
    let begun = std::time::Instant::now();
    let j = joined(&job, &scans);
    println!("{:.2} s", begun.elapsed().as_secs_f64());
    let mut study = record::Study {
        title: "Room".to_owned(),
        ..record::Study::default()
    };
    study.measured.joined = j.clone();
    println!(
        "{}",
        report::joins_text(&study, report::Look::default()).unwrap()
    );
    println!("{}", formats::joins_json(&study));
    let join = &j.joins[0];
    let start = job.joins[0].start.unwrap().pose();
    let moved = (join.to_from.inverse() * start).translation.vector.norm();
    let turned = (join.to_from.rotation.inverse() * start.rotation).angle();
    println!(
        "from the start: {moved:.1} mm, {:.3} degrees",
        turned.to_degrees()
    );
    // Held against nothing but the nearest points: far more of the one lie within 60 mm of the other than at the start.
    let close = |pose: &Rigid| {
        let (one, two) = (&scans[&"one".into()].blocks, &scans[&"two".into()].blocks);
        let near = two
            .iter()
            .step_by(20)
            .filter(|(_, p)| one.nearest(&(pose * p), 60.0).is_some());
        near.count() as f64 / (two.len() / 20) as f64
    };
    let (before, after) = (close(&start), close(&join.to_from));
    println!("within 60 mm: {before:.3} at the start, {after:.3} joined");
    assert!(after > 1.5 * before && after > 0.45);
    assert!(moved < 1000.0 && turned.to_degrees() < 3.0);
    assert!(join.overlap.unwrap().share > 0.4);
}
