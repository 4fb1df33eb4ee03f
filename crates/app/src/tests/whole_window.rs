//! What belongs to no page: how numbers are shown, the plan, what comes back after a crash.

use egui::{Key, Modifiers, Role};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use record::LengthDisplay;

use super::{copied_job, settle, window, window_on_coach};
use crate::Window;
use crate::state::{Act, Step};

fn press(harness: &mut Harness<'static, Window>, role: Role, name: &str) {
    harness.get_by_role_and_label(role, name).click();
    harness.run_steps(4);
}

fn control(harness: &mut Harness<'static, Window>, key: Key) {
    harness.key_press_modifiers(Modifiers::COMMAND, key);
    harness.run_steps(4);
}

#[test]
fn numbers_turn_to_inches_and_commas_and_back() {
    let mut harness = window_on_coach([1280.0, 800.0]);
    let gap = "Agreed gap";
    let shown = |h: &Harness<'static, Window>| {
        h.get_by_role_and_label(Role::TextInput, gap)
            .value()
            .unwrap_or_default()
    };
    let mm = shown(&harness);
    control(&mut harness, Key::U);
    settle(&mut harness);
    let units = harness.state().editor().unwrap().document().job().units;
    assert_eq!(units.length, LengthDisplay::Inch);
    let inch = shown(&harness);
    assert_ne!(mm, inch);
    // By name, as everything.
    control(&mut harness, Key::F);
    harness.event(egui::Event::Text("decimal".to_owned()));
    harness.run_steps(3);
    harness.key_press(Key::Enter);
    harness.run_steps(4);
    settle(&mut harness);
    assert_eq!(shown(&harness), inch.replace('.', ","));
    assert!(inch.contains('.'), "{inch}");
    for _ in 0..2 {
        harness.state_mut().ask(Act::Undo);
        harness.run_steps(3);
    }
    settle(&mut harness);
    assert_eq!(shown(&harness), mm);
}

#[test]
fn a_part_is_put_on_the_plan_and_taken_off() {
    let mut harness = window_on_coach([1280.0, 800.0]);
    let place = |h: &Harness<'static, Window>| {
        let job = h.state().editor().unwrap().document().job().clone();
        job.choices.parts[0].place
    };
    let before = place(&harness).unwrap();
    control(&mut harness, Key::L);
    press(&mut harness, Role::RadioButton, "Doors");
    press(&mut harness, Role::RadioButton, "Side");
    assert_eq!(place(&harness), Some([0.5, 1.0]));
    press(&mut harness, Role::Button, "Off the plan");
    assert_eq!(place(&harness), None);
    harness.key_press(Key::Escape);
    harness.run_steps(3);
    // It stands in the row then, and can be pressed as before.
    settle(&mut harness);
    press(&mut harness, Role::Button, "Lamp surround: will not fit");
    for _ in 0..3 {
        harness.state_mut().ask(Act::Undo);
        harness.run_steps(2);
    }
    assert_eq!(place(&harness), Some(before));
}

#[test]
fn what_was_not_saved_comes_back_after_a_crash() {
    let job = copied_job();
    let kept = {
        let mut harness = window([1280.0, 800.0]);
        harness.state_mut().open_job(&job);
        settle(&mut harness);
        let part = harness
            .state()
            .editor()
            .unwrap()
            .document()
            .job()
            .choices
            .parts[0]
            .id
            .clone();
        let change = editor::PartChange::Gap(3.25);
        harness
            .state_mut()
            .ask(Act::Do(editor::Command::part(part, change)));
        harness.run_steps(3);
        settle(&mut harness);
        // Closed without saving, as when the power fails: the journal stays.
        harness.state().editor().unwrap().document().job().clone()
    };
    let mut harness = window([1280.0, 800.0]);
    harness.state_mut().open_job(&job);
    settle(&mut harness);
    harness.state_mut().ask(Act::Go(Step::BringIn));
    harness.run_steps(4);
    let says = harness
        .query_all_by_label_contains("were not saved")
        .count();
    assert!(says > 0, "nothing is offered");
    press(&mut harness, Role::Button, "Bring them back");
    assert_eq!(*harness.state().editor().unwrap().document().job(), kept);
    press(&mut harness, Role::Button, "Undo");
    let gap = harness
        .state()
        .editor()
        .unwrap()
        .document()
        .job()
        .choices
        .parts[0]
        .gap_mm;
    assert!((gap - 3.25).abs() > 0.1, "undone by name");
}

#[test]
fn a_pasted_table_becomes_a_scan() {
    let mut harness = window([1280.0, 800.0]);
    harness.state_mut().open_job(&copied_job());
    settle(&mut harness);
    harness.state_mut().ask(Act::Go(Step::BringIn));
    harness.run_steps(3);
    let rows: Vec<String> = (0..400)
        .map(|k| format!("{} {} {}", k % 20, k / 20, 0.01 * f64::from(k % 7)))
        .collect();
    let table = format!("x y z\n{}\n", rows.join("\n"));
    harness.event(egui::Event::Paste(table));
    harness.run_steps(3);
    settle(&mut harness);
    let job = harness.state().editor().unwrap().document().job().clone();
    let last = job.scans.last().unwrap();
    assert!(last.id.0.starts_with("pasted"), "{}", last.id);
    harness.get_by_role_and_label(Role::Button, &format!("Scan {}", last.id));
}
