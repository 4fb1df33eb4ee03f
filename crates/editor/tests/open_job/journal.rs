//! Saving, and what comes back after a crash.

use std::path::{Path, PathBuf};

use editor::{Command, Editor, NotOpened, NotSaved, PartChange, left_over};

use crate::stand::{Stand, settings, stand};

/// The folder as a crash at this moment leaves it.
fn crashed(stand: &Stand) -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    for file in std::fs::read_dir(stand.folder.path()).unwrap() {
        let file = file.unwrap();
        if file.file_type().unwrap().is_file() {
            std::fs::copy(file.path(), folder.path().join(file.file_name())).unwrap();
        }
    }
    let job = folder.path().join("coach.ron");
    (folder, job)
}

/// Waits until the journal of a job holds so many entries.
fn written(job: &Path, entries: usize) {
    comes_to_hold(&formats::journal_path(job), |found| found.len() >= entries);
}

fn comes_to_hold(journal: &Path, holds: impl Fn(&[formats::JournalEntry]) -> bool) {
    for _ in 0..2000 {
        if holds(&formats::read_journal(journal).unwrap_or_default()) {
            return;
        }
        std::thread::sleep(std::time::Duration::from_millis(5));
    }
    panic!("{} never held what was waited for", journal.display());
}

fn gap(editor: &Editor, to: f64) -> Command {
    let part = editor.document().job().choices.parts[0].id.clone();
    Command::part(part, PartChange::Gap(to))
}

#[test]
fn changes_come_back_by_name_after_a_crash_and_can_be_taken_back() {
    let stand = stand();
    let mut editor = stand.open();
    for to in [3.0, 4.0, 5.0] {
        let command = gap(&editor, to);
        editor.apply(&command).unwrap();
    }
    editor.undo().unwrap();
    let want = editor.document().as_written();
    written(&stand.job, 5);
    let (_folder, job) = crashed(&stand);
    let mut again = Editor::open(&job, settings()).unwrap();
    let part = want.choices.parts[0].name.clone();
    let offered = again.document().recovery().unwrap().clone();
    assert_eq!(
        offered.names,
        [format!("{part}: gap 3.0"), format!("{part}: gap 4.0")]
    );
    let as_saved = again.document().as_written();
    assert_ne!(as_saved, want);
    again.recover();
    assert_eq!(again.document().recovery(), None);
    let got = again.document().as_written();
    assert_eq!(got.choices, want.choices);
    assert!(!again.document().is_saved());
    assert_eq!(again.document().redo_names().count(), 1);
    again.undo().unwrap();
    again.undo().unwrap();
    assert_eq!(again.document().as_written().choices, as_saved.choices);
}

#[test]
fn what_is_left_stays_beside_the_job() {
    let stand = stand();
    let mut editor = stand.open();
    let command = gap(&editor, 3.0);
    editor.apply(&command).unwrap();
    written(&stand.job, 2);
    let (_folder, job) = crashed(&stand);
    let mut again = Editor::open(&job, settings()).unwrap();
    assert!(again.document().recovery().is_some());
    let command = gap(&again, 9.0);
    again.apply(&command).unwrap();
    assert_eq!(again.document().recovery(), None);
    let mut before = formats::journal_path(&job).into_os_string();
    before.push(".before");
    let second_gap = |to: f64| {
        move |found: &[formats::JournalEntry]| {
            let second = found.get(1);
            second.is_some_and(|e| (e.job.choices.parts[0].gap_mm - to).abs() < 1e-12)
        }
    };
    comes_to_hold(Path::new(&before), second_gap(3.0));
    comes_to_hold(&formats::journal_path(&job), second_gap(9.0));
}

#[test]
fn an_offer_not_decided_on_is_made_again() {
    let stand = stand();
    let mut editor = stand.open();
    let command = gap(&editor, 3.0);
    editor.apply(&command).unwrap();
    written(&stand.job, 2);
    let (_folder, job) = crashed(&stand);
    for _ in 0..2 {
        let again = Editor::open(&job, settings()).unwrap();
        assert!(again.document().recovery().is_some());
    }
}

#[test]
fn nothing_is_offered_after_saving_and_after_leaving_on_purpose() {
    let stand = stand();
    let mut editor = stand.open();
    let command = gap(&editor, 3.0);
    editor.apply(&command).unwrap();
    assert!(!editor.document().is_saved());
    editor.save().unwrap();
    assert!(editor.document().is_saved());
    drop(editor);
    assert!(!formats::journal_path(&stand.job).exists());
    let mut editor = stand.open();
    assert_eq!(editor.document().recovery(), None);
    assert!((editor.document().job().choices.parts[0].gap_mm - 3.0).abs() < 1e-12);
    let command = gap(&editor, 4.0);
    editor.apply(&command).unwrap();
    editor.close_unsaved();
    let editor = stand.open();
    assert_eq!(editor.document().recovery(), None);
    drop(editor);
    // Closed without a word, a change is offered.
    let mut editor = stand.open();
    let command = gap(&editor, 4.0);
    editor.apply(&command).unwrap();
    drop(editor);
    assert!(stand.open().document().recovery().is_some());
}

#[test]
fn one_window_a_job() {
    let stand = stand();
    let _first = stand.open();
    let second = Editor::open(&stand.job, settings());
    assert!(matches!(second, Err(NotOpened::InUse(_))));
}

#[test]
fn a_job_without_a_file_is_kept_safe_too() {
    let stand = stand();
    let folder = stand.folder.path().join("unsaved");
    let open = || {
        Editor::new_job(editor::Settings {
            unsaved_folder: Some(folder.clone()),
            ..settings()
        })
    };
    let mut editor = open();
    assert!(matches!(editor.save(), Err(NotSaved::NoName)));
    editor
        .apply(&Command::Title("new coach".to_owned()))
        .unwrap();
    assert_eq!(left_over(&folder), [], "it is open");
    drop(editor);
    drop(open());
    let found = left_over(&folder);
    assert_eq!(
        found.len(),
        1,
        "one that nothing was done in leaves nothing"
    );
    assert_eq!(found[0].names, ["title: new coach"]);
    let mut again = Editor::open_left_over(&found[0].path, settings()).unwrap();
    assert_eq!(again.document().job().title, "new coach");
    let to = stand.folder.path().join("named.ron");
    again.save_as(&to).unwrap();
    drop(again);
    assert_eq!(left_over(&folder), []);
    assert_eq!(formats::read_job(&to).unwrap().title, "new coach");
}

#[test]
fn scans_are_found_when_a_job_moves() {
    let stand = stand();
    let mut editor = stand.open();
    let as_it_was = editor.document().as_written();
    assert!(as_it_was.scans.iter().all(|s| s.path.is_relative()));
    let below = stand.folder.path().join("below");
    std::fs::create_dir(&below).unwrap();
    editor.save_as(&below.join("moved.ron")).unwrap();
    let moved = formats::read_job(&below.join("moved.ron")).unwrap();
    assert!(
        moved
            .scans
            .iter()
            .all(|s| s.path.is_absolute() && s.path.exists())
    );
    editor.save_as(&stand.job).unwrap();
    assert_eq!(formats::read_job(&stand.job).unwrap(), as_it_was);
}
