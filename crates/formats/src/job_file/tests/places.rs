//! Places of the body and the centreline in the job file.

use super::super::*;
use record::{CentrelineWay, Side};

const BODY: &str = r#"(schema: 1, visits: [(id: "v", flatness_mm: 0.05)],
    scans: [(id: "body", path: "body.stl", unit: mm)],
    places: [
        (name: "sill", side: left, at_mm: (0, -600, 100), sigma_mm: 0.5),
        (name: "sill", side: right, at_mm: (0, 600.5, 100), sigma_mm: 0.5),
        (name: "nose", side: centre, at_mm: (-900, 0, 400), sigma_mm: 1, note: "badge hole"),
    ],
    centreline: (front: "nose", rear: "sill"),
)"#;

#[test]
fn places_are_read_written_and_need_little() {
    let job = job_from_str(BODY).unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(check_job(&job), []);
    assert_eq!(job.places[0].scan.0, "body");
    assert_eq!(job.places[1].at.y, 600.5);
    assert_eq!(job.places[2].side, Side::Centre);
    assert_eq!(job.centreline.way, CentrelineWay::Pairs);
    assert_eq!(job_from_str(&job_to_string(&job).unwrap()).unwrap(), job);
    let text = BODY.replace(
        "front: \"nose\"",
        "way: own_image, image_of: \"body\", front: \"nose\"",
    );
    let job = job_from_str(&text).unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(check_job(&job), []);
    assert_eq!(job.centreline.image_of, Some("body".into()));
    assert_eq!(job_from_str(&job_to_string(&job).unwrap()).unwrap(), job);
    let way = r#"centreline: (way: three_two_one(
        level: ((name: "sill", side: left), (name: "sill", side: right), (name: "nose", side: centre)),
        line: ((name: "nose", side: centre), (name: "sill", side: left)),
        start: (name: "nose", side: centre))"#;
    let text = BODY.replace("centreline: (front: \"nose\", rear: \"sill\"", way);
    let job = job_from_str(&text).unwrap_or_else(|e| panic!("{e}: {}", e.hint()));
    assert_eq!(check_job(&job), []);
    assert_eq!(job_from_str(&job_to_string(&job).unwrap()).unwrap(), job);
    let odd =
        job_from_str(&text.replace("start: (name: \"nose\"", "start: (name: \"nos\"")).unwrap();
    let problems = check_job(&odd);
    assert_eq!(problems.len(), 1);
    assert!(problems[0].hint.contains("nose (centre)"), "{problems:?}");
}

#[test]
fn what_is_wrong_with_places_is_said() {
    let says = |from: &str, to: &str| {
        assert!(BODY.contains(from), "{from}");
        let job = job_from_str(&BODY.replacen(from, to, 1)).unwrap();
        let all = check_job(&job);
        assert_eq!(all.len(), 1, "{all:?}");
        assert!(!all[0].hint.is_empty());
        all[0].to_string()
    };
    let image = says("front: \"nose\"", "way: own_image, front: \"nose\"");
    assert!(image.contains("own mirror image of no scan"), "{image}");
    let image = says("front: \"nose\"", "image_of: \"bodi\", front: \"nose\"");
    assert!(image.contains("no scan called \"bodi\""), "{image}");
    let twice = says("sill\", side: right", "sill\", side: left");
    assert!(twice.contains("given twice on the same side"), "{twice}");
    let zero = says("sigma_mm: 0.5", "sigma_mm: 0");
    assert!(zero.contains("\"sigma_mm\" is 0"), "{zero}");
    let nan = says("(0, -600, 100)", "(NaN, -600, 100)");
    assert!(nan.contains("\"at_mm\" is no point"), "{nan}");
    let scan = says(
        "name: \"nose\", side",
        "name: \"nose\", scan: \"bodi\", side",
    );
    assert!(scan.contains("no scan called \"bodi\""), "{scan}");
    let rear = says("rear: \"sill\"", "rear: \"sil\"");
    assert!(rear.contains("no place called \"sil\""), "{rear}");
    let alone = says(", rear: \"sill\"", "");
    assert!(alone.contains("do not name two places"), "{alone}");
    let e = job_from_str(&BODY.replace("at_mm: (0, -600", "att_mm: (0, -600")).unwrap_err();
    assert!(e.says().contains("the nearest is \"at_mm\""), "{e}");
    let e = job_from_str(&BODY.replace("front:", "way: pair, front:")).unwrap_err();
    assert!(e.says().contains("the nearest is \"pairs\""), "{e}");
}

#[test]
fn a_table_of_places_stands_beside_the_job() {
    let text = BODY.replace("places: [", "places_file: \"more.csv\", places: [");
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("job.ron");
    std::fs::write(&path, &text).unwrap();
    let missing = check_job(&read_job(&path).unwrap());
    assert!(missing[0].to_string().contains("more.csv"), "{missing:?}");
    let rows = "name;side;scan;x;y;z;sigma\ntail;left;;2000,5;-500;300;0,5\n";
    std::fs::write(folder.path().join("more.csv"), rows).unwrap();
    let job = read_job(&path).unwrap();
    assert_eq!(check_job(&job), []);
    let tail = job.every_place().nth(3).unwrap();
    assert_eq!((tail.at.x, tail.scan.0.as_str()), (2000.5, "body"));
    // What stands in the table is not written into the job.
    let again = job_from_str(&job_to_string(&job).unwrap()).unwrap();
    assert_eq!((again.places.len(), again.every_place().count()), (3, 3));
    let same = format!("{rows}sill;left;;1;1;1;1\n");
    std::fs::write(folder.path().join("more.csv"), same).unwrap();
    let twice = check_job(&read_job(&path).unwrap());
    assert!(twice[0].to_string().contains("given twice"), "{twice:?}");
}
