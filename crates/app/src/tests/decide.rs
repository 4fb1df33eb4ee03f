use egui::{Key, Role};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use record::{OptionKind, Verdict};

use super::{settle, window_on_coach};
use crate::Window;
use crate::state::Step;

fn chosen(harness: &Harness<'static, Window>) -> Vec<(String, OptionKind, String)> {
    let job = harness.state().editor().unwrap().document().job();
    let all = job.choices.chosen.iter();
    all.map(|c| (c.0.0.clone(), c.1, c.2.clone())).collect()
}

#[test]
fn every_part_is_decided_on_one_page_and_taken_back_one_by_one() {
    let mut harness = window_on_coach([1280.0, 800.0]);
    harness.key_press(Key::Num4);
    harness.run_steps(3);
    let study = std::sync::Arc::clone(harness.state().editor().unwrap().document().study());
    let pairs = report::Pair::all(&study);
    for pair in &pairs {
        let label = format!("{}, nothing chosen yet", pair.title());
        harness.get_by_label(&label);
    }
    // One with a reason.
    let lamp = pairs[0];
    let kind = lamp.options()[0].kind;
    let label = format!(
        "{}: {}",
        lamp.title(),
        report::sheet::choice_says(&lamp, kind)
    );
    super::choose(&mut harness, &label, "the owner agrees");
    let one = chosen(&harness);
    assert_eq!(one.len(), 1, "{one:?}");
    let label = format!(
        "{}, chosen: {}, the owner agrees",
        lamp.title(),
        lamp.choice_word(kind)
    );
    harness.get_by_label(&label);
    // The others at once: of each the first that fits, the chosen one stays.
    harness
        .get_by_role_and_label(Role::Button, "Choose the first that fits")
        .click();
    harness.run_steps(3);
    let all = chosen(&harness);
    assert_eq!(
        all.len(),
        pairs.len(),
        "every part of the coach has a choice that fits"
    );
    assert!(all.contains(&one[0]));
    for pair in &pairs {
        let of = all.iter().find(|c| c.0 == pair.measured.id.0).unwrap();
        assert_eq!(pair.option(of.1).unwrap().verdict, Verdict::Fits);
    }
    settle(&mut harness);
    harness.state_mut().ask(crate::state::Act::Undo);
    harness.run_steps(3);
    assert_eq!(chosen(&harness).len(), pairs.len() - 1);
    harness.state_mut().ask(crate::state::Act::Redo);
    harness.run_steps(3);
    harness
        .get_by_role_and_label(Role::Button, "On to hand over")
        .click();
    harness.run_steps(3);
    assert_eq!(harness.state().view().step, Step::HandOver);
}

#[test]
fn a_part_is_looked_at_from_the_page_of_decisions() {
    let mut harness = window_on_coach([1920.0, 1080.0]);
    harness.key_press(Key::Num4);
    harness.run_steps(3);
    let last = {
        let study = harness.state().editor().unwrap().document().study();
        report::Pair::all(study).last().unwrap().measured.id.clone()
    };
    let links = harness.query_all_by_role_and_label(Role::Button, "look at it");
    links.last().expect("a link for each part").click();
    harness.run_steps(3);
    let view = harness.state().view();
    assert_eq!(
        (view.step, view.pair.as_ref()),
        (Step::Compare, Some(&last))
    );
}

#[test]
fn what_is_chosen_and_will_not_fit_is_said_before_it_leaves() {
    let mut harness = window_on_coach([1280.0, 800.0]);
    let (title, label) = {
        let study = harness.state().editor().unwrap().document().study();
        let pair = report::Pair::all(study)[0];
        assert_eq!(
            pair.option(OptionKind::MirrorA).unwrap().verdict,
            Verdict::WillNotFit
        );
        let says = report::sheet::choice_says(&pair, OptionKind::MirrorA);
        (pair.title().to_owned(), says)
    };
    super::choose(&mut harness, &label, "it was cut already");
    settle(&mut harness);
    harness.key_press(Key::Num4);
    harness.run_steps(3);
    harness.get_by_label(&format!(
        "{title}, chosen: mirror the left one, WILL NOT FIT, it was cut already"
    ));
    harness.key_press(Key::Num5);
    harness.run_steps(3);
    let warned = format!("Chosen and not proven to fit: {title}.");
    harness.get_by_label_contains(&warned);
}
