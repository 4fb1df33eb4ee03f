//! Positions on the car, from files to sentences and tables.

use std::path::Path;
use std::process::{Command, Output};

use demo::Coach;
use geom::{Point, Rigid, Vector};
use record::Quiet;

fn run(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_unmirror"))
        .args(arguments)
        .env("COLUMNS", "100")
        .output()
        .unwrap()
}

fn text(path: &Path) -> &str {
    path.to_str().unwrap()
}

/// Left and right of six places, car axes, mm; the left of the first one is bent by 30 mm where `bent`.
fn table(scan_from_car: &Rigid, bent: bool) -> String {
    let places = [
        ("nose corner", [-250.0, 610.0, 160.0]),
        ("door front", [780.0, 705.0, -220.0]),
        ("belt front", [800.0, 640.0, 420.0]),
        ("belt rear", [1850.0, 650.0, 430.0]),
        ("door rear", [1900.0, 710.0, -200.0]),
        ("tail seam", [2900.0, 660.0, -220.0]),
        ("roof corner", [3250.0, 560.0, 480.0]),
    ];
    let mut rows = "name;side;scan;x;y;z;sigma\n".to_owned();
    for (k, (name, at)) in places.iter().enumerate() {
        for (side, y) in [("left", -1.0), ("right", 1.0)] {
            // A fixed scatter of a few tenths.
            let e = |c: f64| 0.4 * ((k as f64 * 3.1 + c) * y * 2.7).sin();
            let mut p = Point::new(at[0] + e(0.0), y * at[1] + e(1.0), at[2] + e(2.0));
            if bent && k == 0 && side == "left" {
                p.x += 30.0;
            }
            let p = scan_from_car * p;
            let row = format!("{name};{side};;{:.3};{:.3};{:.3};0.4\n", p.x, p.y, p.z);
            rows += &row.replace('.', ",");
        }
    }
    rows
}

#[test]
fn from_files_to_the_verdict_and_tables() {
    let folder = tempfile::tempdir().unwrap();
    let scan_from_car = Rigid::new(
        Vector::new(420.0, -310.0, 95.0),
        Vector::new(0.3, -0.2, 1.1),
    );
    let back = Rigid::translation(6.0, 0.0, 0.0);
    let (raw, mut job) = Coach::perfect(31)
        .in_one_scan(400_000, &scan_from_car, &back, &Quiet)
        .unwrap();
    formats::write_ply(&folder.path().join("body.ply"), &raw, &Quiet).unwrap();
    let path = folder.path().join("job.ron");
    formats::write_job(&job, &path).unwrap();
    let without = run(&["positions", text(&path)]);
    assert_eq!(without.status.code(), Some(0));
    assert!(
        String::from_utf8(without.stdout)
            .unwrap()
            .starts_with("No places are given")
    );

    job.centreline.front = Some("door front".to_owned());
    job.centreline.rear = Some("tail seam".to_owned());
    job.places_table = Some(record::PlacesTable {
        path: "places.csv".into(),
        hash: None,
        places: Vec::new(),
        unread: None,
    });
    formats::write_job(&job, &path).unwrap();
    let missing = run(&["positions", text(&path)]);
    assert_eq!(missing.status.code(), Some(2));
    assert!(
        String::from_utf8(missing.stderr)
            .unwrap()
            .contains("places.csv")
    );

    std::fs::write(
        folder.path().join("places.csv"),
        table(&scan_from_car, false),
    )
    .unwrap();
    let out = folder.path().join("out");
    let done = run(&["positions", text(&path), "--out", text(&out)]);
    let said = String::from_utf8(done.stdout).unwrap();
    assert_eq!(done.status.code(), Some(0), "{said}");
    let verdict = "Lamp opening: the left sits further back than the right by ";
    assert!(said.lines().any(|l| l.starts_with(verdict)), "{said}");
    assert!(!said.contains("odd one out"), "{said}");
    let figures = std::fs::read_to_string(out.join("positions.csv")).unwrap();
    let set_back = figures
        .lines()
        .find(|l| l.starts_with("lamp,set_back,mm"))
        .unwrap();
    let cells: Vec<&str> = set_back.split(',').collect();
    let (value, u95): (f64, f64) = (cells[7].parse().unwrap(), cells[8].parse().unwrap());
    assert!((value - 6.0).abs() <= u95 && u95 < 1.5, "{set_back}");
    assert!(
        std::fs::read_to_string(out.join("places.csv"))
            .unwrap()
            .lines()
            .count()
            == 8
    );
    let json = std::fs::read_to_string(out.join("positions.json")).unwrap();
    assert!(json.contains("\"laid_by\": \"pairs\""), "{json}");

    let bent = folder.path().join("bent.csv");
    std::fs::write(&bent, table(&scan_from_car, true)).unwrap();
    let done = run(&["positions", text(&path), "--places", text(&bent)]);
    let said = String::from_utf8(done.stdout).unwrap();
    let one_line = said.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        one_line.contains("the pair nose corner is the odd one out"),
        "{said}"
    );
    assert!(said.lines().any(|l| l.starts_with(verdict)), "{said}");
    // The answer itself knows nothing of it.
    let answer = run(&["compare", text(&path), "--draws", "100"]);
    let answer = String::from_utf8(answer.stdout).unwrap();
    assert!(!answer.contains("centreline"), "{answer}");
}
