//! A coach half seen by each of two scans, in axes of their own: from files to positions, against the known truth.

use std::path::Path;
use std::process::{Command, Output};

use demo::Coach;
use geom::{Point, RawPoints, Rigid, Vector};
use record::{Job, Quiet, RawScan, Side};

/// The left side of the coach sits further back by this, mm.
const BACK: f64 = 6.0;
/// Both scans show what lies so near the centreline, mm.
const BOTH: f64 = 160.0;

fn run(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_unmirror"))
        .args(arguments)
        .env("COLUMNS", "100")
        .output()
        .unwrap()
}

fn said(arguments: &[&str]) -> String {
    let done = run(arguments);
    let text = String::from_utf8(done.stdout).unwrap();
    let errors = String::from_utf8(done.stderr).unwrap();
    assert_eq!(done.status.code(), Some(0), "{text}{errors}");
    text
}

fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn poses() -> [Rigid; 2] {
    [
        Rigid::new(
            Vector::new(420.0, -310.0, 95.0),
            Vector::new(0.3, -0.2, 1.1),
        ),
        Rigid::new(
            Vector::new(-900.0, 150.0, 700.0),
            Vector::new(-0.8, 0.5, 0.4),
        ),
    ]
}

/// What one scan shows: the left half and the middle, or the middle and the right half.
fn half(reading: u64, scan_from_car: &Rigid) -> (RawScan, Job) {
    let back = Rigid::translation(BACK, 0.0, 0.0);
    let coach = Coach::perfect(31).reading(reading);
    let (raw, job) = coach
        .in_one_scan(400_000, scan_from_car, &back, &Quiet)
        .unwrap();
    let sign = if reading == 0 { -1.0 } else { 1.0 };
    let car_from_scan = scan_from_car.inverse();
    let keep: Vec<usize> = (0..raw.points.len())
        .filter(|&k| sign * (car_from_scan * raw.points.get(k)).y > -BOTH)
        .collect();
    let points = keep
        .iter()
        .map(|&k| raw.points.get(k).coords.map(|x| x as f32).into());
    let kept = RawScan {
        points: RawPoints::F32(points.collect()),
        normals: keep.iter().map(|&k| raw.normals[k]).collect(),
        ..raw
    };
    (kept, job)
}

/// A fixed scatter of a few tenths.
fn scatter(k: usize, c: usize) -> Vector {
    Vector::from_fn(|i, _| 0.3 * ((3 * k + i) as f64 * 2.7 + 1.9 * c as f64).sin())
}

const PAIRS: [(&str, [f64; 3]); 7] = [
    ("nose corner", [-250.0, 610.0, 160.0]),
    ("door front", [780.0, 705.0, -220.0]),
    ("belt front", [800.0, 640.0, 420.0]),
    ("belt rear", [1850.0, 650.0, 430.0]),
    ("door rear", [1900.0, 710.0, -200.0]),
    ("tail seam", [2900.0, 660.0, -220.0]),
    ("roof corner", [3250.0, 560.0, 480.0]),
];

const TARGETS: [(&str, [f64; 3]); 6] = [
    ("spot 1", [-200.0, -90.0, 120.0]),
    ("spot 2", [-210.0, 110.0, 420.0]),
    ("spot 3", [600.0, -60.0, 900.0]),
    ("spot 4", [1500.0, 100.0, 910.0]),
    ("spot 5", [2400.0, -110.0, 905.0]),
    ("spot 6", [3200.0, 60.0, 500.0]),
];

/// Pairs, left ones in the left scan and right ones in the right; spots without a side in both.
fn table(bent: Option<usize>) -> String {
    let mut rows = "name;side;scan;x;y;z;sigma\n".to_owned();
    let mut row = |name: &str, side: &str, scan: usize, at: Point| {
        let p = poses()[scan] * at;
        let scan = ["left half", "right half"][scan];
        rows += &format!(
            "{name};{side};{scan};{:.3};{:.3};{:.3};0.3\n",
            p.x, p.y, p.z
        );
    };
    for (k, (name, at)) in PAIRS.iter().enumerate() {
        for (s, side) in ["left", "right"].iter().enumerate() {
            let y = if s == 0 { -at[1] } else { at[1] };
            row(name, side, s, Point::new(at[0], y, at[2]) + scatter(k, s));
        }
    }
    for (k, (name, at)) in TARGETS.iter().enumerate() {
        for s in 0..2 {
            let mut p = Point::from(*at) + scatter(k, 2 + s);
            if s == 1 && bent == Some(k) {
                p.x += 9.0;
            }
            row(name, "", s, p);
        }
    }
    rows
}

/// The figure `figure` of the lamp: value and give-or-take.
fn figure_of(folder: &Path, figure: &str) -> (f64, f64, String) {
    let text = std::fs::read_to_string(folder.join("positions.csv")).unwrap();
    let start = format!("lamp,{figure}");
    let row = text.lines().find(|l| l.starts_with(&start)).unwrap();
    let cells: Vec<&str> = row.split(',').collect();
    (
        cells[7].parse().unwrap(),
        cells[8].parse().unwrap(),
        row.to_owned(),
    )
}

#[test]
fn two_scans_of_one_coach_are_joined_and_positions_hold() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    let [(left, mut job), (right, other)] = [0, 1].map(|s| half(s as u64, &poses()[s]));
    formats::write_ply(&at("left.ply"), &left, &Quiet).unwrap();
    formats::write_ply(&at("right.ply"), &right, &Quiet).unwrap();
    let mut scans = vec![job.scans[0].clone(), job.scans[0].clone()];
    (scans[0].id, scans[0].path) = ("left half".into(), "left.ply".into());
    (scans[1].id, scans[1].path) = ("right half".into(), "right.ply".into());
    job.scans = scans;
    for (o, there) in job.openings.iter_mut().zip(other.openings) {
        if o.side == Side::Right {
            *o = there;
            o.scan = "right half".into();
        } else {
            o.scan = "left half".into();
        }
    }
    job.centreline.front = Some("door front".to_owned());
    job.centreline.rear = Some("tail seam".to_owned());
    let path = at("job.ron");
    formats::write_job(&job, &path).unwrap();
    let plain = std::fs::read_to_string(&path).unwrap();
    let with = |more: &str| {
        let places = "places_file: \"places.csv\",\n";
        let text = plain.replacen("schema: 1,", &format!("schema: 1,\n{places}{more}"), 1);
        std::fs::write(&path, text).unwrap();
    };
    std::fs::write(at("places.csv"), table(None)).unwrap();
    let job = path.to_str().unwrap();
    let out = at("out");
    let out_text = out.to_str().unwrap();

    // Not joined: nothing is said, and why.
    with("");
    let text = one_line(&said(&["positions", job]));
    assert!(text.contains("each with axes of its own"), "{text}");
    let none = said(&["join", job]);
    assert!(none.starts_with("The job joins no scans"), "{none}");

    // By places.
    let join = "joins: [(scan: \"right half\", to: \"left half\")],\n";
    with(join);
    let text = one_line(&said(&["positions", job, "--out", out_text]));
    assert!(
        text.contains("Right half is joined to left half by 6 places."),
        "{text}"
    );
    assert!(
        text.contains("left half, to which right half is joined"),
        "{text}"
    );
    let (by_places, wide, row) = figure_of(&out, "set_back,mm");
    assert!((by_places - BACK).abs() <= wide && wide < 3.0, "{row}");

    // By places and surfaces: as true, and better known.
    let both = join.replace("half\")", "half\", refine: true)");
    with(&both);
    let text = said(&["positions", job, "--out", out_text]);
    let (by_both, narrow, row) = figure_of(&out, "set_back,mm");
    println!("set-back {by_places} +- {wide} by places, {by_both} +- {narrow} with surfaces");
    assert!((by_both - BACK).abs() <= narrow && narrow < wide, "{row}");
    for other in ["height,mm", "out,mm", "toe,deg", "camber,deg", "level,deg"] {
        let (value, u95, row) = figure_of(&out, other);
        assert!(value.abs() <= 1.5 * u95, "{row}");
    }
    let verdict = "Lamp opening: the left sits further back than the right by ";
    assert!(text.lines().any(|l| l.starts_with(verdict)), "{text}");
    let joined = said(&["join", job]);
    println!("{joined}");
    assert!(joined.lines().all(|l| l.chars().count() <= 100), "{joined}");
    assert!(
        joined.contains("6 places and the surfaces that both show"),
        "{joined}"
    );
    let json = said(&["join", job, "--json"]);
    assert!(json.contains("\"by\": \"places_and_surfaces\""), "{json}");

    // A bent target is named; a tape that is 8 mm off is heard.
    std::fs::write(at("places.csv"), table(Some(4))).unwrap();
    let taped = |length: f64| {
        let end = |name: &str, side: &str| format!("(name: \"{name}\", side: {side})");
        format!(
            "taped: [(from: {}, to: {}, length_mm: {length}, u95_mm: 2)],\n",
            end("door front", "left"),
            end("tail seam", "right")
        )
    };
    let true_length = {
        let (a, b) = (PAIRS[1].1, PAIRS[5].1);
        (Point::new(a[0], -a[1], a[2]) - Point::from(b)).norm()
    };
    with(&format!("{join}{}", taped(true_length)));
    let text = one_line(&said(&["join", job]));
    assert!(
        text.contains("the place spot 5 is the odd one out"),
        "{text}"
    );
    assert!(
        text.contains("agrees") && !text.contains("disagrees"),
        "{text}"
    );
    with(&format!("{join}{}", taped(true_length - 12.0)));
    let text = one_line(&said(&["join", job]));
    assert!(text.contains("mm longer than the tape"), "{text}");

    // What leads nowhere is refused with a remedy.
    with("joins: [(scan: \"rihgt half\", to: \"left half\")],\n");
    let refused = run(&["join", job]);
    assert_eq!(refused.status.code(), Some(2));
    let error = String::from_utf8(refused.stderr).unwrap();
    assert!(
        error.contains("the nearest name is \"right half\""),
        "{error}"
    );
}
