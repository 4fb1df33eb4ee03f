//! Scans joined by places that are clicked in both, by role and label.

use egui::Role;
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use record::Side;

use super::clicked_places::{places, press};
use super::{centreline::placed_job, settle, window};
use crate::Window;
use crate::state::{Act, Step};

type Seen = Harness<'static, Window>;

/// The coach in one scan, and the same file once more under another name: where one lies in the axes of the other is known.
fn twice(name: &str) -> Seen {
    let mut harness = window([1280.0, 800.0]);
    let job = placed_job(name);
    harness.state_mut().open_job(&job);
    settle(&mut harness);
    let scan = {
        let job = harness.state().editor().unwrap().document().job().clone();
        job.scans[0].path.clone()
    };
    let ending = scan.extension().unwrap().to_string_lossy().into_owned();
    let again = job.with_file_name(format!("again-{}.{ending}", name.trim_end_matches(".ron")));
    std::fs::copy(&scan, &again).unwrap();
    harness.state_mut().ask(Act::BringIn(vec![again]));
    harness.run_steps(3);
    settle(&mut harness);
    harness.state_mut().ask(Act::Go(Step::Centreline));
    harness.run_steps(3);
    click(&mut harness, Role::RadioButton, "Joined scans");
    harness
}

fn click(harness: &mut Seen, role: Role, name: &str) {
    harness.get_by_role_and_label(role, name).click();
    harness.run_steps(4);
}

fn says(harness: &Seen, what: &str) -> bool {
    harness.query_all_by_label_contains(what).next().is_some()
}

#[test]
fn two_scans_are_joined_by_clicking_the_same_places_in_both_and_taken_apart() {
    let mut harness = twice("joined.ron");
    let scans: Vec<String> = {
        let job = harness.state().editor().unwrap().document().job().clone();
        job.scans.iter().map(|s| s.id.0.clone()).collect()
    };
    assert_eq!(scans.len(), 2);
    click(
        &mut harness,
        Role::RadioButton,
        &format!("Join {}", scans[1]),
    );
    click(&mut harness, Role::RadioButton, &format!("To {}", scans[0]));
    assert!(says(&harness, "No place is in both scans yet"));
    click(&mut harness, Role::Button, "Click places in both");
    let first = places(&harness).len();
    for at in [0.05, 0.35, 0.65, 0.95] {
        assert!(says(&harness, "click a spot that the other scan shows"));
        press(&mut harness, at);
        assert!(says(&harness, "click the same spot"));
        press(&mut harness, at);
    }
    let new = places(&harness).split_off(first);
    assert_eq!(new.len(), 8);
    for pair in new.chunks(2) {
        assert_eq!(pair[0].name, pair[1].name);
        assert_ne!(pair[0].scan, pair[1].scan);
        assert!(pair.iter().all(|p| p.side == Side::NotSaid));
    }
    click(&mut harness, Role::Button, "Join them");
    settle(&mut harness);
    let study = harness.state().editor().unwrap().document().study().clone();
    let joined = &study.measured.joined.joins[0];
    // The same file twice: it lies where it lies.
    assert!(joined.to_from.translation.vector.norm() < 1e-6);
    assert!(joined.to_from.rotation.angle() < 1e-9);
    assert!(says(&harness, &report::joins::how(joined, study.units)));
    let row = &joined.at[0];
    assert!(says(&harness, &format!("{}: shift", row.name)));
    click(
        &mut harness,
        Role::CheckBox,
        "Lay the surfaces that both show on each other, too",
    );
    settle(&mut harness);
    let refined = |h: &Seen| {
        let job = h.state().editor().unwrap().document().job().clone();
        job.joins.first().map(|j| j.refine)
    };
    assert_eq!(refined(&harness), Some(true));
    harness.state_mut().ask(Act::Undo);
    harness.run_steps(3);
    assert_eq!(refined(&harness), Some(false));
    click(&mut harness, Role::Button, "Take apart");
    assert_eq!(refined(&harness), None);
    harness.state_mut().ask(Act::Undo);
    harness.run_steps(3);
    assert_eq!(refined(&harness), Some(false));
}

#[test]
fn a_ring_of_joins_is_refused_with_a_sentence() {
    let mut harness = twice("ring.ron");
    let scans: Vec<_> = {
        let job = harness.state().editor().unwrap().document().job().clone();
        job.scans.iter().map(|s| s.id.clone()).collect()
    };
    let join = |a: usize, b: usize| record::Join {
        scan: scans[a].clone(),
        to: scans[b].clone(),
        places: Vec::new(),
        start: None,
        refine: false,
        note: String::new(),
    };
    let ring = editor::Command::Joins(vec![join(0, 1), join(1, 0)]);
    harness.state_mut().ask(Act::Do(ring));
    harness.run_steps(3);
    let said = harness.state().view().said.clone().unwrap_or_default();
    assert!(said.contains("ring"), "{said}");
    let job = harness.state().editor().unwrap().document().job().clone();
    assert!(job.joins.is_empty());
}

fn type_into(harness: &mut Seen, label: &str, text: &str) {
    harness
        .get_by_role_and_label(Role::TextInput, label)
        .focus();
    harness.run_steps(2);
    harness.key_press_modifiers(egui::Modifiers::COMMAND, egui::Key::A);
    harness.event(egui::Event::Text(text.to_owned()));
    harness.run_steps(2);
}

#[test]
fn a_taped_length_and_a_start_are_typed_refused_with_words_and_taken_back() {
    let mut harness = twice("typed.ron");
    let job = |h: &Seen| h.state().editor().unwrap().document().job().clone();
    let scans: Vec<_> = job(&harness).scans.iter().map(|s| s.id.clone()).collect();
    let join = record::Join {
        scan: scans[1].clone(),
        to: scans[0].clone(),
        places: Vec::new(),
        start: None,
        refine: true,
        note: String::new(),
    };
    let joins = editor::Command::Joins(vec![join]);
    harness.state_mut().ask(Act::Do(joins));
    harness.run_steps(3);
    settle(&mut harness);
    let press = |h: &mut Seen, name: &str| {
        h.get_by_role_and_label(Role::Button, name)
            .click_accesskit();
        h.run_steps(4);
    };
    // A start: a turn needs an axis.
    press(&mut harness, "Say about where it lies");
    type_into(&mut harness, "Turn, °", "40");
    press(&mut harness, "Take the start");
    assert!(says(&harness, "The turn has no axis"));
    assert_eq!(job(&harness).joins[0].start, None);
    type_into(&mut harness, "Turn, °", "0");
    type_into(&mut harness, "Shift x, mm", "0,5");
    type_into(&mut harness, "Within, mm", "20");
    press(&mut harness, "Take the start");
    let start = job(&harness).joins[0].start.expect("a start");
    assert!((start.shift.x - 0.5).abs() < 1e-12);
    assert_eq!(start.within_mm, Some(20.0));
    // A length between two places that are there: what the scan says is off it.
    let named: Vec<_> = job(&harness).every_place().take(2).cloned().collect();
    let length = (named[0].at - named[1].at).norm();
    let side = |p: &record::Place| match p.side {
        Side::Left => ", left",
        Side::Right => ", right",
        Side::Centre => ", centre",
        Side::NotSaid => "",
    };
    type_into(&mut harness, "Taped from", "no such place, left");
    let to = format!("{}{}", named[1].name, side(&named[1]));
    type_into(&mut harness, "To", &to);
    type_into(&mut harness, "Length, mm", &format!("{:.1}", length + 8.0));
    press(&mut harness, "Take the length");
    assert!(says(&harness, "no such place"));
    assert!(job(&harness).taped.is_empty());
    let from = format!("{}{}", named[0].name, side(&named[0]));
    type_into(&mut harness, "Taped from", &from);
    press(&mut harness, "Take the length");
    settle(&mut harness);
    assert_eq!(job(&harness).taped.len(), 1);
    let study = harness.state().editor().unwrap().document().study().clone();
    let row = &study.measured.joined.lengths[0];
    assert!((row.off.value + 8.0).abs() < 0.1, "{:?}", row.off);
    assert!(says(&harness, &report::joins::taped_text(row, study.units)));
    let undone = |h: &mut Seen| {
        h.state_mut().ask(Act::Undo);
        h.run_steps(3);
        h.state().view().said.clone().unwrap_or_default()
    };
    assert_eq!(undone(&mut harness), "undone: add taped length");
    assert!(job(&harness).taped.is_empty());
    assert_eq!(undone(&mut harness), "undone: how scans are joined");
    assert_eq!(job(&harness).joins[0].start, None);
}
