//! Readings by hand typed into the boxes of a field sheet.

use std::collections::BTreeMap;

use editor::{Command, Editor, HandBox, HandChange, HandForm, HandSide};
use record::{Code, HandKind, PlanRole, ScanId};

use crate::stand::{settings, settle};

/// Where the points of a sheet are marked on a body, mm; raised ones stand 150 off it, one panel mark lies a little lower.
fn body(form: &HandForm, side: usize) -> BTreeMap<String, [f64; 3]> {
    let plan = &form.plans[side];
    let points = plan.points.iter().map(|p| {
        let height = match p.role {
            PlanRole::Raised => 150.0,
            PlanRole::Panel | PlanRole::Hole => 4.0,
            PlanRole::Edge => 0.0,
        };
        (p.name.clone(), [p.at[0], p.at[1], height])
    });
    points.collect()
}

/// What a tape shows in a box, to half a millimetre.
fn taped(places: &BTreeMap<String, [f64; 3]>, of: &HandBox) -> Option<f64> {
    if of.kind != HandKind::Length {
        return None;
    }
    let [a, b] = [&of.from[0], &of.to[0]].map(|n| places[n]);
    let square: f64 = (0..3).map(|k| (a[k] - b[k]).powi(2)).sum();
    Some((2.0 * square.sqrt()).round() / 2.0)
}

fn put(editor: &mut Editor, side: &HandSide, of: &HandBox, written: &str) {
    editor.apply(&reading(side, of, written)).unwrap();
}

fn reading(side: &HandSide, of: &HandBox, written: &str) -> Command {
    Command::Hand {
        table: side.table.clone(),
        change: HandChange::Reading {
            opening: side.opening.clone(),
            of: of.clone(),
            written: written.to_owned(),
        },
    }
}

fn form(editor: &Editor, table: &ScanId) -> HandForm {
    editor.document().hand_form(table).unwrap()
}

/// Fills every box of a side once.
fn fill(editor: &mut Editor, form: &HandForm, side: usize) {
    let places = body(form, side);
    for row in &form.boxes {
        let of = HandBox::of(row, 0);
        if let Some(mm) = taped(&places, &of) {
            put(editor, &form.sides[side], &of, &format!("{mm}"));
        }
    }
}

#[test]
fn from_nothing_to_a_verdict_and_the_sheet_stays_as_it_is() {
    let mut editor = Editor::new_job(settings());
    let table = editor.begin_by_hand().unwrap();
    assert_eq!(
        editor.document().undo_names().next(),
        Some("begin by hand"),
        "one step of undo"
    );
    let sheet = form(&editor, &table);
    assert_eq!(sheet.sides.len(), 2);
    assert_eq!(sheet.plans.len(), 2);
    assert!(sheet.boxes.len() > 100);
    fill(&mut editor, &sheet, 0);
    fill(&mut editor, &sheet, 1);
    settle(&mut editor);
    assert_eq!(form(&editor, &table), sheet);
    let study = editor.document().study();
    let pair = &study.measured.compares[0];
    assert!(!pair.stations.is_empty());
    let decided = &study.decided.compares[0];
    assert!(!decided.options.is_empty());
    // The same body on both sides: no station differs by more than its give-or-take and the rounding of the tape.
    let off = pair.stations.iter().map(|s| s.gap.value.abs());
    assert!(off.fold(0.0, f64::max) < 1.0);
    // All of it goes back by name, box by box.
    let last = editor.document().undo_names().next().unwrap().to_owned();
    assert!(last.starts_with("right, 16 to R: "), "{last}");
    assert_eq!(editor.undo().unwrap(), last);
    let of = HandBox::of(sheet.boxes.iter().rfind(|b| b.to == ["R"]).unwrap(), 0);
    let held = |e: &Editor| {
        e.document()
            .hand_reading(&sheet.sides[1], &of)
            .map(|r| r.value)
    };
    assert_eq!(held(&editor), None);
    editor.redo().unwrap();
    assert!(held(&editor).is_some());
}

#[test]
fn a_slip_is_named_at_its_box() {
    let mut editor = Editor::new_job(settings());
    let table = editor.begin_by_hand().unwrap();
    let sheet = form(&editor, &table);
    fill(&mut editor, &sheet, 0);
    settle(&mut editor);
    let side = &sheet.sides[0];
    let wrong = |e: &Editor| -> Vec<(String, Vec<u32>)> {
        let doubts = e.document().hand_doubts(side).into_iter();
        let named = doubts.filter(|(f, _)| f.code == Code::HandReadingWrong);
        named.map(|(f, lines)| (f.says.clone(), lines)).collect()
    };
    assert_eq!(wrong(&editor), []);
    // One inch misread at one box.
    let row = sheet.boxes.iter().find(|b| b.from == ["5"]).unwrap();
    let of = HandBox::of(row, 0);
    let good = editor.document().hand_reading(side, &of).unwrap().value;
    put(&mut editor, side, &of, &format!("{}", good + 25.5));
    settle(&mut editor);
    let found = wrong(&editor);
    assert_eq!(found.len(), 1, "{found:?}");
    assert!(found[0].0.contains("one inch"), "{found:?}");
    let line = editor.document().hand_reading(side, &of).unwrap().line;
    assert_eq!(found[0].1, [line]);
    put(&mut editor, side, &of, &format!("{good}"));
    settle(&mut editor);
    assert_eq!(wrong(&editor), []);
}

#[test]
fn what_a_tape_shows_is_taken_and_nothing_else() {
    let mut editor = Editor::new_job(settings());
    let table = editor.begin_by_hand().unwrap();
    let sheet = form(&editor, &table);
    let side = &sheet.sides[0];
    let of = |time| HandBox::of(&sheet.boxes[0], time);
    let held = |e: &Editor, time| {
        let r = e.document().hand_reading(side, &of(time));
        r.map(|r| (r.value, r.written.clone()))
    };
    assert_eq!(held(&editor, 0), None);
    for (written, mm) in [
        ("412,5", 412.5),
        ("412.5", 412.5),
        ("3/16 in", 4.7625),
        ("4 1/2\"", 114.3),
        ("3' 4 1/2\"", 1028.7),
    ] {
        put(&mut editor, side, &of(0), written);
        let (value, kept) = held(&editor, 0).unwrap();
        assert!((value - mm).abs() < 1e-9, "{written}: {value}");
        assert_eq!(kept, written);
    }
    let before = editor.document().job().clone();
    for bad in ["3/16", "5/4 in", "abc", "4 1/2 1/2 in"] {
        let refused = editor.apply(&reading(side, &of(0), bad)).unwrap_err();
        assert!(!refused.hint().is_empty(), "{bad}");
        assert_eq!(editor.document().job(), &before, "{bad}");
    }
    // Repeats have boxes of their own; blank is not measured, never 0.
    put(&mut editor, side, &of(1), "413");
    assert_eq!(held(&editor, 1).unwrap().0, 413.0);
    put(&mut editor, side, &of(1), " ");
    assert_eq!(held(&editor, 1), None);
    assert_eq!(editor.document().hand_count(side), 1);
    assert_eq!(
        editor.document().undo_names().next(),
        Some("left, A to B: blank")
    );
}

#[test]
fn a_table_beside_the_job_is_never_written_and_nothing_typed_is_lost() {
    let folder = tempfile::tempdir().unwrap();
    let csv = folder.path().join("lamp left.csv");
    let text = "kind;from;to;value;unit;station\n# by Ada\nedge;1 2 3 4;;;;clockwise\n\
                length;1;2;16 1/4;in;\nlength;2;3;300,5;;\n";
    std::fs::write(&csv, text).unwrap();
    let mut editor = Editor::new_job(settings());
    editor.bring_in([csv.clone()]);
    let job = folder.path().join("lamp.ron");
    editor.save_as(&job).unwrap();
    let written = std::fs::read_to_string(&job).unwrap();
    assert!(written.contains("path: \"lamp left.csv\""), "{written}");
    drop(editor);
    let mut editor = Editor::open(&job, settings()).unwrap();
    let table = editor.document().job().hand[0].id.clone();
    assert!(editor.document().job().hand[0].path.is_some());
    let sheet = form(&editor, &table);
    // Its own points: its rows are the boxes.
    assert!(sheet.plans.is_empty());
    assert_eq!(sheet.boxes.len(), 2);
    let side = sheet.sides[0].clone();
    let of = HandBox::of(&sheet.boxes[1], 0);
    put(&mut editor, &side, &of, "301 mm");
    let held = editor.document().job().clone();
    assert_eq!(held.hand[0].path, None);
    assert_eq!(std::fs::read_to_string(&csv).unwrap(), text);
    // A crash before it was saved: what was typed is in the journal.
    let journal = formats::journal_path(&job);
    for _ in 0..2000 {
        if formats::read_journal(&journal).unwrap().len() >= 2 {
            break;
        }
        std::thread::sleep(std::time::Duration::from_millis(5));
    }
    let other = tempfile::tempdir().unwrap();
    for file in [&csv, &job, &journal] {
        std::fs::copy(file, other.path().join(file.file_name().unwrap())).unwrap();
    }
    let mut again = Editor::open(&other.path().join("lamp.ron"), settings()).unwrap();
    let offered = again.document().recovery().unwrap().names.clone();
    assert_eq!(
        offered,
        ["lamp left, 2 to 3: 301 mm".replace("lamp left", "left")]
    );
    again.recover();
    assert_eq!(again.document().job().hand[0].readings[2].value, 301.0);
    // The table comes back with undo, as it was read.
    editor.undo().unwrap();
    assert!(editor.document().job().hand[0].path.is_some());
    editor.redo().unwrap();
    editor.save().unwrap();
    let saved = formats::read_job(&job).unwrap();
    assert_eq!(saved.hand[0].readings[1].written, "16 1/4\"");
    assert_eq!(saved.hand[0].readings[2].value, 301.0);
    assert_eq!(std::fs::read_to_string(&csv).unwrap(), text);
}

#[test]
fn a_job_and_its_table_can_be_moved_together() {
    let folder = tempfile::tempdir().unwrap();
    let csv = folder.path().join("right.csv");
    std::fs::write(
        &csv,
        "kind;from;to;value;unit\n\n# spare line\nlength;1;2;3' 4 1/2\";\n",
    )
    .unwrap();
    let mut editor = Editor::new_job(settings());
    editor.bring_in([csv]);
    let job = folder.path().join("right.ron");
    editor.save_as(&job).unwrap();
    drop(editor);
    let editor = Editor::open(&job, settings()).unwrap();
    let journal = formats::journal_path(&job);
    for _ in 0..2000 {
        if !formats::read_journal(&journal).unwrap().is_empty() {
            break;
        }
        std::thread::sleep(std::time::Duration::from_millis(5));
    }
    let other = tempfile::tempdir().unwrap();
    for file in std::fs::read_dir(folder.path()).unwrap() {
        let file = file.unwrap();
        if file.file_type().unwrap().is_file() {
            std::fs::copy(file.path(), other.path().join(file.file_name())).unwrap();
        }
    }
    drop(editor);
    // The folder was moved: what is told in the journal is told of tables elsewhere.
    std::fs::rename(other.path(), folder.path().join("moved")).unwrap();
    let moved = folder.path().join("moved").join("right.ron");
    let again = Editor::open(&moved, settings()).unwrap();
    assert_eq!(again.document().job().hand[0].readings.len(), 1);
}
