//! Named places of the body, typed, pasted, changed and taken out; a scan takes them along.

use editor::{Command, Editor, ScanChange, TypedPlace};
use record::{Centreline, LengthUnit, ScanId, Side, UnitSource};

use crate::stand::{Stand, settings, settle};

fn placed() -> (Stand, Editor) {
    let folder = tempfile::tempdir().unwrap();
    let job = demo::Coach::new(2)
        .write_with_places(folder.path(), 40_000, 3, &record::Quiet)
        .unwrap();
    let stand = Stand { folder, job };
    let editor = Editor::open(&stand.job, settings()).unwrap();
    (stand, editor)
}

fn typed(name: &str, side: &str, at: [&str; 3]) -> TypedPlace {
    TypedPlace {
        name: name.to_owned(),
        side: side.to_owned(),
        scan: String::new(),
        at: at.map(str::to_owned),
        sigma: "0,5".to_owned(),
    }
}

#[test]
fn a_typed_place_is_in_the_only_scan_and_is_a_step_by_name() {
    let (_stand, mut editor) = placed();
    let before = editor.document().job().places.len();
    let place = typed("sill end", "left", ["12,5", "-600", "1 3/4 in"]);
    editor.take_place(&place, None).unwrap();
    let job = editor.document().job().clone();
    let last = job.places.last().unwrap();
    assert_eq!((last.scan.0.as_str(), last.at.x), ("body", 12.5));
    assert!((last.at.z - 1.75 * 25.4).abs() < 1e-9);
    assert_eq!(
        editor.document().undo_names().next(),
        Some("add place sill end, left")
    );
    // The same place on the same side again is refused, and nothing has changed.
    assert!(editor.take_place(&place, None).is_err());
    assert_eq!(editor.document().job().places.len(), before + 1);
    for (wrong, says) in [
        (typed("", "left", ["1", "2", "3"]), "no name"),
        (
            typed("x", "up", ["1", "2", "3"]),
            "left, right, centre or nothing",
        ),
        (typed("x", "left", ["", "2", "3"]), "blank"),
        (typed("x", "left", ["1", "2..", "3"]), "\"y\""),
    ] {
        let refused = editor.take_place(&wrong, None).unwrap_err();
        assert!(refused.says().contains(says), "{}", refused.says());
        assert!(!refused.hint().is_empty());
    }
}

#[test]
fn what_is_forward_follows_a_new_name_and_is_forgotten_with_its_place() {
    let (_stand, mut editor) = placed();
    let front = |e: &Editor| e.document().job().centreline.front.clone();
    assert_eq!(front(&editor).as_deref(), Some("door, front"));
    let numbers: Vec<usize> = {
        let places = editor.document().job().places.iter().enumerate();
        let named = places.filter(|(_, p)| p.name == "door, front");
        named.map(|(k, _)| k).collect()
    };
    for number in &numbers {
        let mut to = editor.document().job().places[*number].clone();
        to.name = "front pillar".to_owned();
        let to = Box::new(to);
        let change = Command::ChangePlace {
            number: *number,
            to,
        };
        editor.apply(&change).unwrap();
    }
    assert_eq!(front(&editor).as_deref(), Some("front pillar"));
    for number in numbers.iter().rev() {
        editor.apply(&Command::RemovePlace(*number)).unwrap();
    }
    assert_eq!(editor.document().job().centreline, Centreline::default());
    for _ in 0..4 {
        editor.undo().unwrap();
    }
    assert_eq!(front(&editor).as_deref(), Some("door, front"));
}

#[test]
fn a_scan_takes_its_places_along() {
    let (_stand, mut editor) = placed();
    let scan = ScanId::from("body");
    let before = editor.document().job().clone();
    let rename = Command::scan(scan.clone(), ScanChange::Rename("whole body".into()));
    editor.apply(&rename).unwrap();
    let job = editor.document().job().clone();
    assert!(job.places.iter().all(|p| p.scan.0 == "whole body"));
    editor.undo().unwrap();
    let inch = ScanChange::Unit {
        unit: LengthUnit::Inch,
        source: UnitSource::Stated,
    };
    editor.apply(&Command::scan(scan.clone(), inch)).unwrap();
    let job = editor.document().job().clone();
    for (now, was) in job.places.iter().zip(&before.places) {
        assert!((now.at - was.at * 25.4).norm() < 1e-9);
        assert_eq!(now.sigma_mm, was.sigma_mm);
    }
    editor.undo().unwrap();
    editor.apply(&Command::RemoveScan(scan)).unwrap();
    let job = editor.document().job().clone();
    assert!(job.places.is_empty() && job.centreline.front.is_none());
    editor.undo().unwrap();
    assert_eq!(**editor.document().job(), *before);
}

#[test]
fn rows_of_a_table_beside_the_job_come_into_it_before_they_are_changed() {
    let (stand, editor) = placed();
    drop(editor);
    let table = stand.folder.path().join("places.csv");
    let rows = "name;side;x;y;z;sigma\ngutter;left;1;-2;3;0.5\ngutter;right;1;2;3;0.5\n";
    std::fs::write(&table, rows).unwrap();
    let text = std::fs::read_to_string(&stand.job).unwrap();
    let text = text.replacen(
        "openings:",
        "places_file: \"places.csv\",\n    openings:",
        1,
    );
    std::fs::write(&stand.job, text).unwrap();
    let mut editor = stand.open();
    let job = editor.document().job().clone();
    assert_eq!(job.places_table.as_ref().unwrap().places.len(), 2);
    let number = job.places.len() + 1;
    editor.apply(&Command::RemovePlace(number)).unwrap();
    let job = editor.document().job().clone();
    assert!(job.places_table.is_none());
    let last = job.places.last().unwrap();
    assert_eq!((last.name.as_str(), last.side), ("gutter", Side::Left));
    assert_eq!(std::fs::read_to_string(&table).unwrap(), rows);
}

#[test]
fn another_place_lays_the_line_anew_and_measures_nothing() {
    let (_stand, mut editor) = placed();
    settle(&mut editor);
    let study = editor.document().study().clone();
    editor
        .paste_places("name;side;x;y;z;sigma\nbadge two;centre;900;10;40;0.5")
        .unwrap();
    let laid = |s: &record::Study| {
        let line = s.positions.as_ref().and_then(|p| p.laid.as_ref());
        line.map_or(0, |l| l.places.len())
    };
    let began = std::time::Instant::now();
    while laid(editor.document().study()) == laid(&study) {
        editor.drain().for_each(drop);
        assert!(began.elapsed().as_secs() < 120, "never laid anew");
        std::thread::sleep(std::time::Duration::from_millis(2));
    }
    let now = editor.document().study();
    assert_eq!(
        format!("{:?}", now.measured),
        format!("{:?}", study.measured)
    );
    assert_eq!(laid(now), laid(&study) + 1);
}
