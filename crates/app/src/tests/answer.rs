use egui::{Key, Role};
use egui_kittest::kittest::{NodeT, Queryable};

use super::{settle, window_on_coach};
use crate::state::Step;

#[test]
fn the_verdict_is_announced_and_every_part_can_be_chosen() {
    let mut harness = window_on_coach([1280.0, 800.0]);
    let study = std::sync::Arc::clone(harness.state().editor().unwrap().document().study());
    for pair in report::Pair::all(&study) {
        let label = format!(
            "{}: {}",
            pair.title(),
            report::words::verdict(report::pair_text(&pair).verdict).to_lowercase()
        );
        harness.get_by_role_and_label(Role::Button, &label).click();
        harness.run_steps(3);
        let headline = report::pair_text(&pair).headline;
        let said = harness.query_all_by_label_contains(&headline).next();
        assert!(said.is_some(), "{headline} is not announced");
    }
}

#[test]
fn a_blank_answers_while_one_types_and_undo_takes_it_back() {
    let mut harness = window_on_coach([1280.0, 800.0]);
    let part = |h: &egui_kittest::Harness<crate::Window>| {
        h.state().editor().unwrap().document().job().choices.parts[0].clone()
    };
    let before = part(&harness);
    harness
        .get_by_role_and_label(Role::TextInput, "How far the gap may vary")
        .focus();
    harness.run_steps(2);
    harness.event(egui::Event::Text("2,5".to_owned()));
    harness.run_steps(3);
    assert_eq!(part(&harness).allowed.wide_mm, 2.5);
    assert_eq!(part(&harness).allowed.tight_mm, 2.5);
    harness.key_press(Key::Enter);
    settle(&mut harness);
    harness.state_mut().ask(crate::state::Act::Undo);
    settle(&mut harness);
    assert_eq!(part(&harness).allowed, before.allowed);
}

#[test]
fn a_choice_is_taken_with_its_reason() {
    let mut harness = window_on_coach([1280.0, 800.0]);
    let label = {
        let study = harness.state().editor().unwrap().document().study();
        let pair = report::Pair::all(study)[0];
        report::sheet::choice_says(&pair, pair.options()[0].kind)
    };
    super::choose(&mut harness, &label, "the owner agrees");
    let chosen = harness
        .state()
        .editor()
        .unwrap()
        .document()
        .job()
        .choices
        .chosen
        .clone();
    assert!(
        chosen.iter().any(|(_, _, why)| why == "the owner agrees"),
        "{chosen:?}"
    );
}

#[test]
fn keys_walk_through_pages_stations_and_factors() {
    let mut harness = window_on_coach([1280.0, 800.0]);
    harness.key_press(Key::X);
    harness.run_steps(2);
    assert_eq!(harness.state().view().factor, 1);
    harness.key_press(Key::ArrowDown);
    harness.run_steps(2);
    assert_eq!(harness.state().view().pointed, Some(0));
    harness.key_press(Key::E);
    harness.run_steps(2);
    assert_eq!(harness.state().view().strip, Some(true));
    harness.key_down(Key::Space);
    harness.run_steps(2);
    assert!(harness.state().view().laid_over);
    harness.key_up(Key::Space);
    harness.run_steps(2);
    assert!(!harness.state().view().laid_over);
    harness.key_press(Key::Num2);
    harness.run_steps(2);
    assert_eq!(harness.state().view().step, Step::Places);
}

#[test]
fn a_figure_says_what_it_means_and_is_copied_with_unit_and_doubt() {
    let mut harness = window_on_coach([1280.0, 800.0]);
    let rung = {
        let study = harness.state().editor().unwrap().document().study();
        let pair = report::Pair::all(study)
            .into_iter()
            .find(|p| !p.measured.angles.is_empty())
            .unwrap();
        (
            pair.measured.id.clone(),
            report::sheet::Hit::Rung(pair.measured.id.clone(), 0),
        )
    };
    harness.state_mut().ask(crate::state::Act::Pair(rung.0));
    harness
        .state_mut()
        .ask(crate::state::Act::Panel(Some(crate::state::Panel::Figure(
            rung.1,
        ))));
    harness.run_steps(3);
    harness.get_by_label("What it means");
    harness
        .get_by_role_and_label(Role::Button, "Copy the figure")
        .click();
    harness.run_steps(2);
    harness.get_by_label("At the car");
}

#[test]
fn doubts_lead_to_their_places() {
    let mut harness = window_on_coach([1280.0, 800.0]);
    // A part that carries load is doubted whatever the scans say.
    let lamp = harness.state().editor().unwrap().document().job().compares[0].clone();
    let load = editor::PartChange::LoadBearing(true);
    let command = editor::Command::part(lamp.part, load);
    harness.state_mut().ask(crate::state::Act::Do(command));
    harness.run_steps(2);
    settle(&mut harness);
    let doubts = {
        let study = harness.state().editor().unwrap().document().study();
        let pairs = report::Pair::all(study);
        let pair = pairs.iter().find(|p| p.measured.id == lamp.id).unwrap();
        report::sheet::doubts(pair).len()
    };
    assert!(doubts > 0);
    let id = lamp.id;
    harness
        .state_mut()
        .ask(crate::state::Act::Panel(Some(crate::state::Panel::Doubts(
            id,
        ))));
    harness.run_steps(3);
    let first = harness
        .get_all_by_role(Role::Button)
        .find(|n| {
            n.accesskit_node()
                .label()
                .is_some_and(|l| l.starts_with("Go to "))
        })
        .expect("each doubt has a button to its place");
    first.click();
    harness.run_steps(3);
    assert_eq!(harness.state().view().step, Step::Places);
}

#[test]
fn everything_is_found_by_name() {
    let mut harness = window_on_coach([1280.0, 800.0]);
    harness.key_press_modifiers(egui::Modifiers::COMMAND, Key::F);
    harness.run_steps(3);
    harness.get_by_role_and_label(Role::TextInput, "Find");
    harness.event(egui::Event::Text("hand over".to_owned()));
    harness.run_steps(2);
    harness.key_press(Key::Enter);
    harness.run_steps(3);
    assert_eq!(harness.state().view().step, Step::HandOver);
}

#[test]
fn a_part_is_dragged_on_the_plan_and_back_below_it() {
    let mut harness = window_on_coach([1280.0, 800.0]);
    let label = {
        let study = harness.state().editor().unwrap().document().study();
        let pairs = report::Pair::all(study);
        let cowl = pairs.iter().find(|p| p.measured.id.0 == "vent").unwrap();
        format!(
            "{}: {}",
            cowl.title(),
            report::words::verdict(report::pair_text(cowl).verdict).to_lowercase()
        )
    };
    let place = |h: &egui_kittest::Harness<crate::Window>| {
        let job = h.state().editor().unwrap().document().job();
        let part = &job.compares.iter().find(|c| c.id.0 == "vent").unwrap().part;
        job.choices
            .parts
            .iter()
            .find(|p| p.id == *part)
            .unwrap()
            .place
    };
    let before = place(&harness).unwrap();
    let steps = |h: &egui_kittest::Harness<crate::Window>| {
        h.state().editor().unwrap().document().undo_names().count()
    };
    let undone = steps(&harness);
    let middle = |h: &egui_kittest::Harness<crate::Window>| {
        let part = h.get_by_role_and_label(Role::Button, &label);
        part.rect().center()
    };
    let drag = |h: &mut egui_kittest::Harness<'static, crate::Window>, to: egui::Pos2| {
        let from = middle(h);
        let press = |pressed, pos| egui::Event::PointerButton {
            pos,
            button: egui::PointerButton::Primary,
            pressed,
            modifiers: egui::Modifiers::NONE,
        };
        h.event(egui::Event::PointerMoved(from));
        h.run_steps(1);
        h.event(press(true, from));
        h.run_steps(1);
        for k in 1..=6 {
            let on_way = from + (to - from) * (k as f32 / 6.0);
            h.event(egui::Event::PointerMoved(on_way));
            h.run_steps(1);
        }
        h.event(press(false, to));
        h.run_steps(3);
        (place(h), steps(h))
    };
    // One gesture is one step of undo. It ends behind the step plate, clear of its words, which would be taken hold of else.
    let to = middle(&harness) + egui::vec2(50.0, 150.0);
    let (now, count) = drag(&mut harness, to);
    let now = now.unwrap();
    assert!(now[0] > before[0] + 0.15, "{before:?} {now:?}");
    assert_eq!(count, undone + 1);
    // The plan shows where the part was until the answer to its new place is there.
    settle(&mut harness);
    let (off, count) = drag(&mut harness, egui::pos2(to.x, 780.0));
    let names: Vec<String> = {
        let editor = harness.state().editor().unwrap();
        editor.document().undo_names().map(str::to_owned).collect()
    };
    assert_eq!((off, count), (None, undone + 2), "{names:?}");
}

#[test]
fn the_keys_of_the_help_are_told_what_they_are_for() {
    let mut harness = window_on_coach([1280.0, 800.0]);
    harness.key_press_modifiers(egui::Modifiers::COMMAND, Key::F);
    harness.run_steps(3);
    for (typed, help) in [
        ("begin by hand", "tape and protractor"),
        ("place the part", "where on the coach"),
        ("millimetres", "every length in the other unit"),
    ] {
        harness.key_press_modifiers(egui::Modifiers::COMMAND, Key::A);
        harness.event(egui::Event::Text(typed.to_owned()));
        harness.run_steps(4);
        assert!(
            harness.query_all_by_label_contains(help).next().is_some(),
            "{typed}: nothing about {help}"
        );
    }
}
