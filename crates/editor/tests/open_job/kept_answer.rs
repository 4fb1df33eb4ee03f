//! The answer is kept beside the job, and counts only as long as nothing it came from has changed.

use std::path::{Path, PathBuf};

use editor::{Command, Editor, Event, FaceChange, OpeningChange, PartChange};

use crate::stand::{Stand, bits, cold, settle, stand};

/// Opens the job and waits for everything; with it, whether the first that was shown had every chance in it: what is
/// worked out is shown without them before.
fn opened(stand: &Stand) -> (Editor, bool) {
    let mut editor = stand.open();
    let events = settle(&mut editor);
    let first = events.iter().find_map(|e| match e {
        Event::Study { chances } => Some(*chances),
        _ => None,
    });
    (editor, first == Some(true))
}

fn kept_by(stand: &Stand) -> PathBuf {
    formats::kept_figures_path(&formats::kept_folder(&stand.job))
}

fn wait_for(path: &Path) {
    for _ in 0..5000 {
        if path.exists() {
            return;
        }
        std::thread::sleep(std::time::Duration::from_millis(10));
    }
    panic!("{} was not written", path.display());
}

#[test]
fn a_job_that_opens_again_shows_the_very_answer_without_measuring() {
    let stand = stand();
    let (editor, at_once) = opened(&stand);
    assert!(!at_once);
    let first = bits(editor.document().study());
    // Closing waits for what is being written.
    drop(editor);
    assert!(kept_by(&stand).exists());
    let written = std::fs::metadata(kept_by(&stand))
        .unwrap()
        .modified()
        .unwrap();
    let (editor, at_once) = opened(&stand);
    assert!(at_once);
    assert_eq!(bits(editor.document().study()), first);
    let job = editor.document().as_written();
    assert_eq!(bits(&cold(&job, &editor)), first);
    drop(editor);
    let again = std::fs::metadata(kept_by(&stand))
        .unwrap()
        .modified()
        .unwrap();
    assert_eq!(
        written, again,
        "an answer that was taken is not written again"
    );
    // It lies beside the job wherever the folder goes.
    let elsewhere = tempfile::tempdir().unwrap();
    let to = elsewhere.path().join("moved");
    std::fs::rename(stand.folder.path(), &to).unwrap();
    let moved = Stand {
        job: to.join("coach.ron"),
        folder: elsewhere,
    };
    let (editor, at_once) = opened(&moved);
    assert!(at_once);
    assert_eq!(bits(editor.document().study()), first);
    // Deleted, everything is measured again.
    drop(editor);
    std::fs::remove_file(kept_by(&moved)).unwrap();
    let (editor, at_once) = opened(&moved);
    assert!(!at_once);
    assert_eq!(bits(editor.document().study()), first);
}

#[test]
fn after_a_pick_changed_in_the_job_or_damage_the_kept_answer_does_not_count() {
    let stand = stand();
    let (mut editor, _) = opened(&stand);
    wait_for(&kept_by(&stand));
    let before = std::fs::read(kept_by(&stand)).unwrap();
    let opening = editor.document().job().openings[0].clone();
    let change = Command::Opening {
        opening: opening.id.clone(),
        change: OpeningChange::Face {
            face: opening.faces[0].id.clone(),
            change: FaceChange::Reach(Some(24.0)),
        },
    };
    editor.apply(&change).unwrap();
    settle(&mut editor);
    let changed = bits(editor.document().study());
    assert_eq!(
        std::fs::read(kept_by(&stand)).unwrap(),
        before,
        "what was not saved is not kept"
    );
    editor.save().unwrap();
    drop(editor);
    // The kept answer of the job before it was changed.
    std::fs::write(kept_by(&stand), &before).unwrap();
    let (editor, at_once) = opened(&stand);
    assert!(!at_once);
    assert_eq!(bits(editor.document().study()), changed);
    drop(editor);
    let now = std::fs::read(kept_by(&stand)).unwrap();
    assert_ne!(now, before, "the answer of the saved job took its place");
    let mut damaged = now.clone();
    let middle = damaged.len() / 2;
    damaged[middle] ^= 4;
    std::fs::write(kept_by(&stand), &damaged).unwrap();
    let (editor, at_once) = opened(&stand);
    assert!(!at_once);
    assert_eq!(bits(editor.document().study()), changed);
    assert!(editor.document().notices().is_empty());
}

#[test]
fn another_allowance_is_decided_anew_on_what_was_measured() {
    let stand = stand();
    let (editor, _) = opened(&stand);
    drop(editor);
    let mut job = formats::read_job(&stand.job).unwrap();
    job.choices.parts[0].allowed.wide_mm *= 3.0;
    formats::write_job(&job, &stand.job).unwrap();
    let (editor, at_once) = opened(&stand);
    assert!(!at_once);
    let job = editor.document().as_written();
    assert_eq!(bits(editor.document().study()), bits(&cold(&job, &editor)));
}

#[test]
fn an_edit_after_a_kept_answer_is_as_if_all_had_been_measured() {
    let stand = stand();
    let (editor, _) = opened(&stand);
    drop(editor);
    let (mut editor, at_once) = opened(&stand);
    assert!(at_once);
    let part = editor.document().job().choices.parts[0].id.clone();
    editor
        .apply(&Command::part(part, PartChange::Wide(0.9)))
        .unwrap();
    let name = editor.document().job().openings[1].clone();
    let change = Command::Opening {
        opening: name.id.clone(),
        change: OpeningChange::Name("another name".to_owned()),
    };
    editor.apply(&change).unwrap();
    settle(&mut editor);
    let job = editor.document().as_written();
    assert_eq!(bits(editor.document().study()), bits(&cold(&job, &editor)));
}
