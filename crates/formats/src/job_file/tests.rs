mod any_job;
mod body_work;
mod joins;
mod panels;
mod places;

use super::*;

use any_job::job;
use geom::Point;
use proptest::prelude::*;
use record::{Job, OpeningId, OptionKind, Relation, Side, Stations, UnitSource};

/// The shortest job that a person would type: what is left out has its usual value.
const SHORT: &str = r#"(
    schema: 1,
    title: "Lamp surrounds",
    cars: [(name: "coach")],
    visits: [(id: "monday", flatness_mm: 0.03)],
    scans: [
        (id: "l", path: "left.stl", unit: mm),
        (id: "r", path: "right side/rechts.ply", unit: m, unit_source: guessed),
    ],
    openings: [
        (id: "lamp-left", scan: "l", side: left, edge: (near_mm: (1, 2, 3)), top_mm: (1, 2, 90.5)),
        (id: "lamp-right", name: "Lamp", scan: "r", side: right, edge: (near_mm: (1, 2, 3)),
            faces: [(id: "skin", near_mm: (0, 0, 0)), (id: "lip", near_mm: (0, 0, 9))],
            junctions: [(id: "A", a: "skin", b: "lip", start_mm: (0, 0, 5), drawn_deg: 90)],
            holes: [(id: "h1", near_mm: (1, 1, 1))],
        ),
    ],
    parts: [(id: "surround", gap_mm: 2, allowed: (tight_mm: 0.8, wide_mm: 0.8, proud_mm: 0.5, shy_mm: 0.5, angle_deg: 0.5),
        fasteners: [(hole: "h1", fastener_mm: 4, part_hole_mm: 4.5, body_hole_mm: 5)])],
    compares: [(id: "lamps", a: "lamp-left", b: "lamp-right", part: "surround")],
)"#;

#[test]
fn a_job_typed_by_hand_can_be_short() {
    let job = job_from_str(SHORT).unwrap_or_else(|e| panic!("{e}: {}", e.hint()));
    assert_eq!(check_job(&job), []);
    assert_eq!(job.visits[0].car, "coach");
    assert_eq!(job.scans[1].visit.0, "monday");
    assert_eq!(job.scans[0].unit_source, UnitSource::Stated);
    assert_eq!(job.openings[0].name, "lamp-left");
    assert!(job.openings[0].edge.as_ref().unwrap().closed);
    assert_eq!(job.openings[1].junctions[0].drawn_deg, Some(90.0));
    assert_eq!(job.openings[1].junctions[0].end_name, "end");
    assert_eq!(job.compares[0].relation, Relation::Mirrored);
    assert!(job.choices.parts[0].seen_together);
    assert_eq!(job_from_str(&job_to_string(&job).unwrap()).unwrap(), job);
}

fn refused(from: &str, to: &str, line: u64, words: &str, hint: &str) {
    assert!(SHORT.contains(from), "{from}");
    let e = job_from_str(&SHORT.replacen(from, to, 1)).unwrap_err();
    assert_eq!(e.line(), Some(line), "{e}");
    assert!(e.says().contains(words), "{e}");
    assert!(e.hint().contains(hint), "{}", e.hint());
}

#[test]
fn names_line_field_and_nearest_known_name() {
    refused(
        "near_mm: (1, 2, 3)), top",
        "naer_mm: (1, 2, 3)), top",
        11,
        "\"naer_mm\" here, the nearest is \"near_mm\"",
        "by_hand_mm",
    );
    refused(
        "side: left",
        "side: lefft",
        11,
        "\"lefft\" here, the nearest is \"left\"",
        "centre",
    );
    refused("gap_mm: 2, ", "", 19, "\"gap_mm\" is missing", "gap_mm");
    refused(
        "title:",
        "titel:",
        3,
        "the nearest is \"title\"",
        "openings",
    );
    refused(
        "tight_mm: 0.8",
        "tight_mm: \"x\"",
        18,
        "expected a number",
        "decimal dot",
    );
    refused(
        "unit: mm",
        "unit: mm, unit: mm",
        7,
        "given twice",
        "take one",
    );
    refused(
        "flatness_mm",
        "flatness",
        5,
        "the nearest is \"flatness_mm\"",
        "operator",
    );
    refused(
        "unit_source: guessed",
        "unit_source: measured",
        8,
        "\"measured\"",
        "guessed",
    );
    refused(
        "visits: [(id: \"monday\",",
        "visits: [(id: \"monday\"",
        5,
        "expected",
        "comma",
    );
}

#[test]
fn the_schema_is_looked_at_first() {
    let newer = SHORT
        .replace("schema: 1", "schema: 2")
        .replace("title:", "heading:");
    let e = job_from_str(&newer).unwrap_err();
    assert!(e.is_newer_schema() && e.hint().contains("version"), "{e}");
    let e = job_from_str(&SHORT.replace("schema: 1,", "")).unwrap_err();
    assert!(e.says().contains("schema: 1"), "{e}");
    let e = job_from_str(&SHORT.replace("schema: 1", "schema: 0")).unwrap_err();
    assert!(e.says().contains("schema: 0"), "{e}");
}

#[test]
fn what_is_no_job_is_told() {
    for text in [
        "",
        "hello",
        "[1, 2]",
        "(",
        "(schema: 1",
        "{}",
        "1 2 3\n4 5 6\n",
        "(schema: 1))",
        "(schema: 99999999999)",
    ] {
        let e = job_from_str(text).unwrap_err();
        assert!(
            !e.says().is_empty() && !e.hint().is_empty(),
            "{text:?}: {e}"
        );
    }
    assert!(job_from_str(&"(".repeat(100_000)).is_err());
}

#[test]
fn comments_stand_before_their_openings() {
    let mut job = job_from_str(SHORT).unwrap();
    job.openings[0].note = "two\nlines with openings: [\n        (\n".to_owned();
    let comments = [
        (
            OpeningId::from("lamp-right"),
            "proposal: 83 % sure\nlook at the top".to_owned(),
        ),
        (OpeningId::from("lamp-right"), "second".to_owned()),
        (OpeningId::from("nobody"), "lost".to_owned()),
    ];
    let text = starter_job_to_string(&job, &comments).unwrap();
    let expected = "        // proposal: 83 % sure\n        // look at the top\n        // second\n        (\n            id: \"lamp-right\",";
    assert!(text.contains(expected), "{text}");
    assert_eq!(text.matches("second").count(), 1);
    assert!(!text.contains("lost"));
    assert!(text.starts_with("// A job of unmirror"));
    assert!(text.contains("\"note\" fields are kept"));
    assert_eq!(job_from_str(&text).unwrap(), job);
}

#[test]
fn saving_and_reading_names_the_file() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("größe.ron");
    let job = job_from_str(SHORT).unwrap();
    write_job(&job, &path).unwrap();
    assert_eq!(read_job(&path).unwrap(), job);
    let text = std::fs::read_to_string(&path).unwrap();
    std::fs::write(&path, text.replace("gap_mm", "gup_mm")).unwrap();
    let e = read_job(&path).unwrap_err();
    assert!(
        e.to_string().contains("größe.ron\", line ") && e.says().contains("gap_mm"),
        "{e}"
    );
    std::fs::write(&path, b"(\n\xff").unwrap();
    assert_eq!(read_job(&path).unwrap_err().line(), Some(2));
    std::fs::write(&path, b"").unwrap();
    assert!(read_job(&path).unwrap_err().hint().contains(".previous"));
    assert!(read_job(folder.path()).unwrap_err().is_unknown_format());
    assert!(
        read_job(&folder.path().join("none.ron"))
            .unwrap_err()
            .is_not_found()
    );
}

proptest! {
    #[test]
    fn every_job_comes_back_as_it_was(job in job()) {
        let text = job_to_string(&job).unwrap();
        let back = job_from_str(&text).unwrap_or_else(|e| panic!("{e}\n{text}"));
        prop_assert_eq!(&back, &job);
        prop_assert_eq!(job_to_string(&back).unwrap(), text);
        let _ = check_job(&job);
    }

    #[test]
    fn no_text_makes_it_panic(at in 0..SHORT.len(), cut in 0..40_usize, put in ".{0,4}") {
        let mut text = SHORT.as_bytes().to_vec();
        text.splice(at..(at + cut).min(SHORT.len()), put.into_bytes());
        if let Ok(text) = String::from_utf8(text)
            && let Err(e) = job_from_str(&text)
        {
            prop_assert!(!e.says().is_empty() && !e.hint().is_empty());
        }
    }
}

/// Changes one thing in the short job and looks for the problem that it makes.
fn wrong(change: impl FnOnce(&mut Job), place: &str, says: &str) {
    let mut job = job_from_str(SHORT).unwrap();
    change(&mut job);
    let problems = check_job(&job);
    let found = problems
        .iter()
        .any(|p| p.place == place && p.says.contains(says) && !p.hint.is_empty());
    assert!(found, "{place}: {says} is not among {problems:#?}");
}

#[test]
fn every_wrong_thing_is_named_with_its_place() {
    wrong(
        |j| j.openings[1].id = "lamp-left".into(),
        "opening \"lamp-left\"",
        "given twice",
    );
    wrong(|j| j.openings[0].id = " ".into(), "opening \" \"", "empty");
    wrong(
        |j| j.openings[0].scan = "x".into(),
        "opening \"lamp-left\"",
        "no scan called \"x\"",
    );
    wrong(
        |j| j.scans[0].visit = "x".into(),
        "scan \"l\"",
        "no visit called \"x\"",
    );
    wrong(
        |j| j.visits[0].car = "cooch".into(),
        "visit \"monday\"",
        "no car called \"cooch\"",
    );
    wrong(
        |j| j.visits[0].flatness_mm = 0.0,
        "visit \"monday\"",
        "\"flatness_mm\" is 0",
    );
    wrong(
        |j| j.openings[1].junctions[0].b = "lap".into(),
        "opening \"lamp-right\", junction \"A\"",
        "no face called \"lap\"",
    );
    wrong(
        |j| j.openings[1].junctions[0].b = "skin".into(),
        "opening \"lamp-right\", junction \"A\"",
        "both faces",
    );
    wrong(
        |j| j.openings[1].faces[1].id = "skin".into(),
        "opening \"lamp-right\", face \"skin\"",
        "given twice",
    );
    wrong(
        |j| j.openings[1].faces[1].near.x = f64::NAN,
        "opening \"lamp-right\", face \"lip\"",
        "no point",
    );
    wrong(
        |j| j.openings[0].side = Side::Right,
        "compare \"lamps\"",
        "left opening as \"a\"",
    );
    wrong(
        |j| j.compares[0].relation = Relation::Itself,
        "compare \"lamps\"",
        "no \"b\"",
    );
    wrong(
        |j| j.compares[0].b = Some("lamp-left".into()),
        "compare \"lamps\"",
        "are both",
    );
    wrong(
        |j| j.compares[0].part = "x".into(),
        "compare \"lamps\"",
        "no part called",
    );
    wrong(
        |j| j.choices.parts[0].allowed.tight_mm = -0.1,
        "part \"surround\", allowed",
        "\"tight_mm\" is -0.1",
    );
    wrong(
        |j| j.choices.parts[0].allowed.angle_deg = f64::NAN,
        "part \"surround\", allowed",
        "\"angle_deg\" is NaN",
    );
    let fastener = "part \"surround\", fastener \"h1\"";
    wrong(
        |j| j.choices.parts[0].fasteners[0].part_hole_mm = 3.0,
        fastener,
        "\"part_hole_mm\" is 3",
    );
    wrong(
        |j| j.choices.parts[0].fasteners[0].body_hole_mm = 0.0,
        fastener,
        "\"body_hole_mm\" is 0",
    );
    wrong(
        |j| j.choices.parts[0].fasteners[0].shim_mm = (2.0, 1.0),
        fastener,
        "\"shim_mm\" is (2, 1)",
    );
    wrong(
        |j| j.choices.parts[0].fasteners[0].hole = "h2".into(),
        "part \"surround\", fastener \"h2\"",
        "no hole in its openings",
    );
    wrong(
        |j| {
            j.choices
                .chosen
                .push(("x".into(), OptionKind::Midway, String::new()));
        },
        "chosen for \"x\"",
        "no compare",
    );
    wrong(
        |j| j.openings[0].sureness = Some(83.0),
        "opening \"lamp-left\"",
        "\"sureness\" is 83",
    );
    wrong(
        |j| {
            j.openings[0]
                .edge
                .as_mut()
                .unwrap()
                .by_hand
                .push(Point::origin());
        },
        "opening \"lamp-left\", edge",
        "1 points",
    );
    wrong(
        |j| j.openings[1].junctions[0].stations = Stations::Every(0.0),
        "opening \"lamp-right\", junction \"A\"",
        "spacing_mm",
    );
}

#[test]
fn a_further_reading_is_of_the_same_metal_in_the_same_visit() {
    // A third scan with the left lamp once more.
    let again = |j: &mut Job| {
        let mut scan = j.scans[0].clone();
        scan.id = "l2".into();
        j.scans.push(scan);
        let mut o = j.openings[0].clone();
        o.id = "lamp-left, again".into();
        o.scan = "l2".into();
        o.repeat_of = Some("lamp-left".into());
        j.openings.push(o);
    };
    let mut job = job_from_str(SHORT).unwrap();
    again(&mut job);
    assert_eq!(check_job(&job), []);
    assert_eq!(job_from_str(&job_to_string(&job).unwrap()).unwrap(), job);
    let place = "opening \"lamp-left, again\"";
    let with = |change: fn(&mut Job), says: &str| {
        wrong(
            |j| {
                again(j);
                change(j);
            },
            place,
            says,
        );
    };
    with(
        |j| j.openings[2].repeat_of = Some("lamp-lefd".into()),
        "no opening called",
    );
    with(
        |j| j.openings[2].repeat_of = Some(j.openings[2].id.clone()),
        "the opening itself",
    );
    with(|j| j.openings[2].scan = "l".into(), "in the same scan");
    with(|j| j.openings[2].side = Side::Right, "on another side");
    with(
        |j| {
            let mut v = j.visits[0].clone();
            v.id = "tuesday".into();
            j.visits.push(v);
            j.scans[2].visit = "tuesday".into();
        },
        "of another visit",
    );
    with(
        |j| j.openings[0].repeat_of = Some("lamp-right".into()),
        "a further reading itself",
    );
    with(
        |j| j.compares[0].a = j.openings[2].id.clone(),
        "compared by itself as well",
    );
}

#[test]
fn all_problems_are_told_not_the_first() {
    let mut job = job_from_str(SHORT).unwrap();
    job.openings[0].scan = "x".into();
    job.choices.parts[0].gap_mm = -1.0;
    job.compares[0].part = "y".into();
    let problems = check_job(&job);
    assert!(problems.len() >= 3, "{problems:#?}");
    assert_eq!(
        problems[0].to_string(),
        "opening \"lamp-left\": there is no scan called \"x\""
    );
}

#[test]
fn hand_tables_stand_in_the_job_or_beside_it() {
    let text = "(schema: 1, visits: [(id: \"v\", flatness_mm: 0.05)],
        hand: [
            (id: \"left\", rows: [\"kind;from;to;value\", \"length;1;2;412,5\"]),
            (id: \"right\", path: \"right.csv\", flat: true,
             instruments: [(name: \"lath\", reading: 2.0, own: 0.5)]),
        ],
        openings: [(id: \"a\", scan: \"left\", side: left)])";
    let job = job_from_str(text).unwrap();
    assert_eq!(job.hand[0].readings[0].value, 412.5);
    assert_eq!(job.hand[1].instrument("lath").unwrap().reading, 2.0);
    assert_eq!(check_job(&job), []);
    let again = job_from_str(&job_to_string(&job).unwrap()).unwrap();
    assert_eq!(again.hand[0].readings[0].value, 412.5);
    assert_eq!(again.hand[1], job.hand[1]);
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("job.ron");
    std::fs::write(&path, text).unwrap();
    let missing = read_job(&path).unwrap();
    let says = &missing.hand[1].unread.as_ref().unwrap()[0];
    assert!(says.contains("right.csv"), "{says}");
    std::fs::write(
        folder.path().join("right.csv"),
        "kind;from;to;value\nlength;1;2;3\n",
    )
    .unwrap();
    assert_eq!(read_job(&path).unwrap().hand[1].readings.len(), 1);
    let wrong = job_from_str(&text.replace("412,5", "4x")).unwrap();
    assert!(wrong.hand[0].unread.is_some());
    assert!(!check_job(&wrong).is_empty());
}
