//! Scans that come in and go out again, by role and label.

use std::fmt::Write as _;
use std::path::Path;

use egui::{Key, Role};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;

use super::{settle, window, window_on_coach};
use crate::Window;
use crate::state::{Act, Step};

/// A table of points that takes long enough to read to be stopped.
fn long_table(folder: &Path) -> std::path::PathBuf {
    let mut text = String::new();
    for k in 0..600_000_u32 {
        let (x, y) = (f64::from(k % 900), f64::from(k / 900));
        writeln!(text, "{x:.3} {y:.3} {:.3}", 0.01 * f64::from(k % 13)).unwrap();
    }
    let path = folder.join("wing left.xyz");
    std::fs::write(&path, text).unwrap();
    path
}

fn reading(folder: &Path) -> Harness<'static, Window> {
    let mut harness = window([1280.0, 800.0]);
    let file = long_table(folder);
    harness.state_mut().ask(Act::BringIn(vec![file]));
    harness.run_steps(2);
    let document = harness.state().editor().unwrap().document();
    assert_eq!(document.incoming().len(), 1, "it is being read");
    harness
}

/// Nothing of the file comes any more, however long one waits.
fn nothing_comes(harness: &mut Harness<'static, Window>) {
    for _ in 0..40 {
        harness.step();
        std::thread::sleep(std::time::Duration::from_millis(25));
        let document = harness.state().editor().unwrap().document();
        assert!(document.incoming().is_empty());
        assert!(document.job().scans.is_empty(), "it came all the same");
    }
    let document = harness.state().editor().unwrap().document();
    assert!(document.work().next().is_none(), "nothing is worked at");
    assert!(document.notices().is_empty(), "{:?}", document.notices());
    assert_eq!(harness.state().view().step, Step::BringIn);
}

#[test]
fn reading_is_stopped_by_the_button() {
    let folder = tempfile::tempdir().unwrap();
    let mut harness = reading(folder.path());
    harness
        .get_by_role_and_label(Role::Button, "Stop reading it")
        .click();
    harness.run_steps(2);
    nothing_comes(&mut harness);
    // The same file can be brought in again, and comes then.
    let again = folder.path().join("wing left.xyz");
    harness.state_mut().ask(Act::BringIn(vec![again]));
    harness.run_steps(2);
    for _ in 0..4000 {
        harness.step();
        if !harness
            .state()
            .editor()
            .unwrap()
            .document()
            .scans()
            .is_empty()
        {
            return;
        }
        std::thread::sleep(std::time::Duration::from_millis(20));
    }
    panic!("it was not read the second time");
}

#[test]
fn reading_is_stopped_by_the_escape_key() {
    let folder = tempfile::tempdir().unwrap();
    let mut harness = reading(folder.path());
    harness.key_press(Key::Escape);
    harness.run_steps(2);
    nothing_comes(&mut harness);
}

#[test]
fn a_scan_is_taken_out_with_what_was_picked_in_it_and_comes_back() {
    let mut harness = window_on_coach([1280.0, 800.0]);
    harness.key_press(Key::Num1);
    harness.run_steps(2);
    let before = harness.state().editor().unwrap().document().job().clone();
    harness
        .get_by_role_and_label(Role::Button, "Scan centre")
        .click();
    harness.run_steps(3);
    harness
        .get_by_role_and_label(Role::Button, "Take this scan out")
        .click();
    harness.run_steps(3);
    let job = harness.state().editor().unwrap().document().job().clone();
    assert_eq!(job.scans.len() + 1, before.scans.len());
    assert!(job.openings.iter().all(|o| o.scan.0 != "centre"));
    harness.state_mut().ask(Act::Undo);
    settle(&mut harness);
    let after = harness.state().editor().unwrap().document().job().clone();
    assert_eq!(*after, *before);
}

#[test]
fn a_hand_table_and_whoever_read_it_are_taken_out() {
    let mut harness = window([1280.0, 800.0]);
    let job = super::by_hand::taped_by("Hanne", "long tape");
    harness.state_mut().open_job(&job);
    settle(&mut harness);
    harness.key_press(Key::Num1);
    harness.run_steps(3);
    for (name, gone) in [
        ("Take Hanne out", "operator"),
        ("Take long tape out", "instrument"),
        ("Take the table out", "table"),
    ] {
        harness.get_by_role_and_label(Role::Button, name).click();
        harness.run_steps(3);
        let job = harness.state().editor().unwrap().document().job().clone();
        let is_gone = match gone {
            "operator" => job.hand[0].readings.iter().all(|r| r.operator.is_empty()),
            "instrument" => job.hand[0].instruments.is_empty(),
            _ => job.hand.len() == 1 && job.openings.iter().all(|o| o.scan.0 != "lamp-left"),
        };
        assert!(is_gone, "{gone}");
    }
    for _ in 0..3 {
        harness.state_mut().ask(Act::Undo);
        harness.run_steps(2);
    }
    let job = harness.state().editor().unwrap().document().job().clone();
    assert_eq!(job.hand.len(), 2);
    assert_eq!(job.hand[0].readings[0].operator, "Hanne");
}
