use egui::Role;
use egui_kittest::kittest::Queryable;

use super::{window, window_on_coach};

#[test]
fn the_empty_sheet_says_what_to_do() {
    let mut harness = window([1280.0, 800.0]);
    harness.run_steps(2);
    for name in ["Drop scans here", "Open the coach", "Recent jobs"] {
        harness.get_by_role_and_label(Role::Button, name);
    }
}

#[test]
fn enter_on_the_first_line_asks_for_a_path() {
    let mut harness = window([1280.0, 800.0]);
    harness.run_steps(2);
    harness
        .get_by_role_and_label(Role::Button, "Drop scans here")
        .click();
    harness.run_steps(3);
    harness.get_by_role_and_label(Role::TextInput, "Path of the file");
}

#[test]
fn a_job_opens_on_its_answer() {
    let harness = window_on_coach([1280.0, 800.0]);
    let editor = harness.state().editor().unwrap();
    assert!(editor.document().study().decided.compares.len() >= 5);
    for step in [
        "Bring in",
        "Name the places",
        "Compare",
        "Decide",
        "Hand over",
    ] {
        harness.get_by_role_and_label(Role::Tab, step);
    }
}

#[test]
fn a_wrong_job_is_said_on_the_sheet() {
    let mut harness = window([1280.0, 800.0]);
    harness.state_mut().open_job("no/such/job.ron".as_ref());
    harness.run_steps(2);
    assert!(harness.state().editor().is_none());
}
