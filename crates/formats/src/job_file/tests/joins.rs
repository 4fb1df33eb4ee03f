//! Joins of scans and taped lengths in the job file.

use super::super::*;

const JOB: &str = r#"(schema: 1, visits: [(id: "v", flatness_mm: 0.05)],
    scans: [
        (id: "front", path: "front.ply", unit: mm),
        (id: "rear", path: "rear.ply", unit: mm),
        (id: "roof", path: "roof.ply", unit: mm),
    ],
    places: [
        (name: "a", side: left, scan: "front", at_mm: (0, 0, 0), sigma_mm: 0.5),
        (name: "b", side: left, scan: "front", at_mm: (900, 0, 0), sigma_mm: 0.5),
        (name: "c", side: not_said, scan: "front", at_mm: (0, 900, 0), sigma_mm: 0.5),
        (name: "a", side: left, scan: "rear", at_mm: (0, 0, 0), sigma_mm: 0.5),
        (name: "b", side: left, scan: "rear", at_mm: (900, 0, 0), sigma_mm: 0.5),
        (name: "c", side: not_said, scan: "rear", at_mm: (0, 900, 0), sigma_mm: 0.5),
    ],
    joins: [
        (scan: "rear", to: "front", places: ["a", "b", "c"]),
        (scan: "roof", to: "rear", refine: true, start: (axis: (0, 0, 1), turn_deg: 30, shift_mm: (5, 0, 0))),
    ],
    taped: [(from: (name: "a", side: left), to: (name: "b", side: left), length_mm: 900, u95_mm: 1.5)],
)"#;

#[test]
fn joins_are_read_written_and_need_little() {
    let job = job_from_str(JOB).unwrap_or_else(|e| panic!("{e}: {}", e.hint()));
    assert_eq!(check_job(&job), []);
    assert_eq!(job.places_in_both(&job.joins[0]).count(), 3);
    let start = job.joins[1].start.unwrap().pose();
    let p = start * geom::Point::new(1.0, 0.0, 0.0);
    assert!((p - geom::Point::new(5.0 + 0.75_f64.sqrt(), 0.5, 0.0)).norm() < 1e-12);
    assert!(job.joins[1].refine && !job.joins[0].refine);
    assert_eq!(job.taped[0].u95_mm, 1.5);
    assert_eq!(job_from_str(&job_to_string(&job).unwrap()).unwrap(), job);
}

#[test]
fn what_is_wrong_with_joins_is_said() {
    let says = |from: &str, to: &str| {
        assert!(JOB.contains(from), "{from}");
        let all = check_job(&job_from_str(&JOB.replacen(from, to, 1)).unwrap());
        assert_eq!(all.len(), 1, "{all:?}");
        assert!(!all[0].hint.is_empty());
        all[0].to_string()
    };
    let scan = says(
        "scan: \"roof\", to: \"rear\"",
        "scan: \"rof\", to: \"rear\"",
    );
    assert!(scan.contains("no scan called \"rof\""), "{scan}");
    let twice = says(
        "scan: \"roof\", to: \"rear\"",
        "scan: \"rear\", to: \"roof\"",
    );
    assert!(twice.contains("joined twice"), "{twice}");
    let place = says("[\"a\", \"b\", \"c\"]", "[\"a\", \"b\", \"c\", \"d\"]");
    assert!(place.contains("no place called \"d\""), "{place}");
    let few = says("[\"a\", \"b\", \"c\"]", "[\"a\", \"b\"]");
    assert!(few.contains("2 places are in both scans"), "{few}");
    let axis = says("axis: (0, 0, 1)", "axis: (0, 0, 0)");
    assert!(axis.contains("\"start\" is no pose"), "{axis}");
    let end = says("to: (name: \"b\"", "to: (name: \"x\"");
    assert!(end.contains("no place called \"x (left)\""), "{end}");
    let tape = says("u95_mm: 1.5", "u95_mm: 0");
    assert!(tape.contains("\"u95_mm\" is 0"), "{tape}");
    let same = says("to: (name: \"b\"", "to: (name: \"a\"");
    assert!(same.contains("both ends are one place"), "{same}");
    let ring = check_job(
        &job_from_str(&JOB.replacen("to: \"front\"", "to: \"roof\"", 1).replacen(
            "places: [\"a\", \"b\", \"c\"]",
            "refine: true",
            1,
        ))
        .unwrap(),
    );
    assert!(ring.iter().any(|p| p.says.contains("ring")), "{ring:?}");
    let e = job_from_str(&JOB.replace("refine: true", "refined: true")).unwrap_err();
    assert!(e.says().contains("the nearest is \"refine\""), "{e}");
    let e = job_from_str(&JOB.replace("turn_deg", "turn_degrees")).unwrap_err();
    assert!(e.says().contains("the nearest is \"turn_deg\""), "{e}");
    let e = job_from_str(&JOB.replace(", u95_mm: 1.5", "")).unwrap_err();
    assert!(e.says().contains("\"u95_mm\" is missing"), "{e}");
}
