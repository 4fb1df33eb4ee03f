//! Handing over once more: what has changed since the last time, in words.

use egui::Role;
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use record::OptionKind;

use super::{settle, window_on_coach};
use crate::Window;
use crate::state::{Act, Step};

/// Writes the files and waits; what is said of changes.
fn written(harness: &mut Harness<'static, Window>) -> Vec<String> {
    harness.state_mut().ask(Act::Go(Step::HandOver));
    harness.run_steps(3);
    let before = harness.state().view().hand_over.changed.clone();
    harness
        .get_by_role_and_label(Role::Button, "Write the files")
        .click();
    harness.run_steps(2);
    for _ in 0..6000 {
        harness.step();
        let handing = &harness.state().view().hand_over;
        if !handing.writing && handing.changed != before {
            harness.run_steps(2);
            return harness.state().view().hand_over.changed.clone();
        }
        std::thread::sleep(std::time::Duration::from_millis(10));
    }
    panic!("nothing was handed over: {:?}", harness.state().view().said);
}

#[test]
fn what_has_changed_since_the_last_hand_over_is_said_in_words() {
    let folder = tempfile::tempdir().unwrap();
    let mut harness = window_on_coach([1280.0, 800.0]);
    let mut handing = harness.state().view().hand_over.clone();
    handing.folder = folder.path().join("out").display().to_string();
    harness.state_mut().ask(Act::Handing(Box::new(handing)));
    let first = written(&mut harness);
    assert_eq!(first, ["Revision A: the first hand-over into this folder."]);
    let same = written(&mut harness);
    assert_eq!(same, ["Revision B: nothing has changed since revision A."]);
    let (compare, part) = {
        let job = harness.state().editor().unwrap().document().job();
        let lamp = job.compares.iter().find(|c| c.id.0 == "lamp").unwrap();
        (lamp.id.clone(), lamp.part.clone())
    };
    let choose = editor::Command::Choose {
        compare,
        option: OptionKind::TwoHands,
        note: String::new(),
    };
    let gap = editor::Command::part(part, editor::PartChange::Gap(2.5));
    for command in [choose, gap] {
        harness.state_mut().ask(Act::Do(command));
        settle(&mut harness);
    }
    let changed = written(&mut harness);
    assert_eq!(changed[0], "Revision C: changed since revision B:");
    let said = changed[1..].join(" ");
    assert!(said.contains("agreed gap: was 2 mm, is 2.5 mm"), "{said}");
    assert!(said.contains("two hands"), "{said}");
    // All of it stands on the page, and can be taken along.
    for line in &changed {
        assert!(
            harness.query_all_by_label_contains(line).next().is_some(),
            "{line} is not announced"
        );
    }
    harness
        .get_by_role_and_label(Role::Button, "Copy what changed")
        .click();
    harness.run_steps(2);
    assert_eq!(harness.state().view().said.as_deref(), Some("copied"));
}

#[test]
fn a_log_that_cannot_be_read_is_not_written_over() {
    let folder = tempfile::tempdir().unwrap();
    let mut harness = window_on_coach([1280.0, 800.0]);
    let log = folder.path().join("handed over.ron");
    std::fs::write(&log, "(schema: 1, done: [").unwrap();
    let mut handing = harness.state().view().hand_over.clone();
    handing.folder = folder.path().display().to_string();
    harness.state_mut().ask(Act::Handing(Box::new(handing)));
    harness.state_mut().ask(Act::Go(Step::HandOver));
    harness.run_steps(3);
    harness
        .get_by_role_and_label(Role::Button, "Write the files")
        .click();
    harness.run_steps(2);
    for _ in 0..3000 {
        harness.step();
        if !harness.state().view().hand_over.writing {
            break;
        }
        std::thread::sleep(std::time::Duration::from_millis(10));
    }
    let notices = harness
        .state()
        .editor()
        .unwrap()
        .document()
        .notices()
        .to_vec();
    assert!(notices[0].says.contains("handed over.ron"), "{notices:?}");
    assert_eq!(
        std::fs::read_to_string(&log).unwrap(),
        "(schema: 1, done: ["
    );
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
}
