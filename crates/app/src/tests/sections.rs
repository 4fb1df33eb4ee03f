//! The page of sections and panels, by role and label, and by keys.

use egui::{Key, Modifiers, Role};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use std::sync::Arc;

use super::{settle_sections, window_on_coach};
use crate::Window;
use crate::state::{Act, Step};

type Seen = Harness<'static, Window>;

fn cut(harness: &Seen) -> Arc<record::Sections> {
    let document = harness.state().editor().unwrap().document();
    assert!(
        document.sections_are_fresh(),
        "not those of the job as it is"
    );
    Arc::clone(document.sections().unwrap())
}

fn is_said(harness: &Seen, says: &str) -> bool {
    harness.query_all_by_label_contains(says).next().is_some()
}

/// On the page by its key, with the sections of the job there.
fn on_sections() -> Seen {
    let mut harness = window_on_coach([1280.0, 800.0]);
    harness.key_press(Key::Num7);
    harness.run_steps(3);
    assert_eq!(harness.state().view().step, Step::Sections);
    settle_sections(&mut harness);
    harness
}

#[test]
fn the_page_says_what_the_engine_found_and_draws_the_worst_section_first() {
    let mut harness = on_sections();
    let sections = cut(&harness);
    let units = harness.state().editor().unwrap().document().job().units;
    assert!(!sections.pairs.is_empty());
    for pair in &sections.pairs {
        harness.state_mut().ask(Act::Pair(pair.compare.clone()));
        harness.run_steps(3);
        assert_eq!(harness.state().view().step, Step::Sections);
        let says = report::sections::sentence(pair, units);
        assert!(is_said(&harness, &says), "{says} is not announced");
        let Some(worst) = &pair.worst else { continue };
        let head = format!("Section {} of {}", worst.section + 1, pair.sections.len());
        assert!(is_said(&harness, &head), "{head} is not announced");
        let map = report::sections::bands(pair, units);
        assert!(is_said(&harness, &map), "{map} is not announced");
    }
}

#[test]
fn sections_are_gone_through_by_keys_and_by_buttons() {
    let mut harness = on_sections();
    let sections = cut(&harness);
    let pair = &sections.pairs[0];
    let (n, worst) = (pair.sections.len(), pair.worst.as_ref().unwrap().section);
    let head = |k: usize| format!("Section {} of {n}", k % n + 1);
    harness.key_press(Key::ArrowRight);
    harness.run_steps(3);
    assert!(is_said(&harness, &head(worst + 1)));
    harness.key_press(Key::ArrowLeft);
    harness.key_press(Key::ArrowLeft);
    harness.run_steps(4);
    harness
        .get_by_role_and_label(Role::Button, "Section before")
        .click();
    harness.run_steps(3);
    let now = harness.state().view().cutting.section.unwrap();
    assert_ne!(now, worst);
    harness
        .get_by_role_and_label(Role::Button, "Worst place")
        .click();
    harness.run_steps(3);
    assert!(is_said(&harness, &head(worst)));
    assert!(is_said(&harness, "difference drawn ×20"));
    harness.key_press(Key::X);
    harness.run_steps(3);
    assert!(is_said(&harness, "difference drawn ×50"));
    harness
        .get_by_role_and_label(Role::RadioButton, "×5")
        .click();
    harness.run_steps(3);
    assert!(is_said(&harness, "difference drawn ×5"));
}

#[test]
fn what_is_undone_is_there_without_cutting_again_and_an_old_cut_is_never_called_fresh() {
    let mut harness = on_sections();
    let before = cut(&harness);
    let opening = {
        let job = harness.state().editor().unwrap().document().job().clone();
        job.openings[0].clone()
    };
    let mut edge = opening.edge.clone().unwrap();
    edge.near += geom::Vector::new(0.4, 0.0, 0.0);
    let change = editor::OpeningChange::Edge(Some(edge));
    harness
        .state_mut()
        .ask(Act::Do(editor::Command::opening(opening.id, change)));
    harness.run_steps(2);
    let fresh = |h: &Seen| h.state().editor().unwrap().document().sections_are_fresh();
    assert!(!fresh(&harness));
    settle_sections(&mut harness);
    assert!(fresh(&harness));
    harness.state_mut().ask(Act::Undo);
    harness.run_steps(2);
    settle_sections(&mut harness);
    assert!(Arc::ptr_eq(&before, &cut(&harness)), "cut again");
}

#[test]
fn cutting_is_called_off_and_begun_again() {
    let mut harness = window_on_coach([1280.0, 800.0]);
    harness.state_mut().ask(Act::Go(Step::Sections));
    harness.state_mut().ask(Act::CallOffSections);
    harness.run_steps(3);
    settle_sections(&mut harness);
    assert!(is_said(&harness, "Called off"));
    let document = harness.state().editor().unwrap().document();
    assert!(!document.sections_are_fresh());
    harness
        .get_by_role_and_label(Role::Button, "Cut the sections")
        .click();
    harness.run_steps(3);
    settle_sections(&mut harness);
    assert!(!cut(&harness).pairs.is_empty());
    assert!(!is_said(&harness, "Called off"));
}

#[test]
fn the_page_is_found_by_name() {
    let mut harness = window_on_coach([1280.0, 800.0]);
    harness.key_press_modifiers(Modifiers::COMMAND, Key::F);
    harness.run_steps(3);
    harness.event(egui::Event::Text("panels".to_owned()));
    harness.run_steps(3);
    harness.key_press(Key::Enter);
    harness.run_steps(3);
    assert_eq!(harness.state().view().step, Step::Sections);
}
