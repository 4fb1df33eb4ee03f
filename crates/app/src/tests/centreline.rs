//! The page of the centreline, by role and label.

use std::path::PathBuf;
use std::sync::LazyLock;

use egui::{Key, Role};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use record::Side;

use super::{settle, window, window_on_coach};
use crate::Window;
use crate::state::Step;

static BODY: LazyLock<(tempfile::TempDir, PathBuf)> = LazyLock::new(|| {
    let folder = tempfile::tempdir().unwrap();
    let job = demo::Coach::new(1)
        .write_with_places(folder.path(), 90_000, 4, &record::Quiet)
        .unwrap();
    (folder, job)
});

/// A copy of the job of the coach in one scan, with its places.
pub fn placed_job(name: &str) -> PathBuf {
    let copy = BODY.1.with_file_name(name);
    std::fs::copy(&BODY.1, &copy).unwrap();
    copy
}

fn on_body(name: &str) -> Harness<'static, Window> {
    let mut harness = window([1280.0, 800.0]);
    harness.state_mut().open_job(&placed_job(name));
    settle(&mut harness);
    harness
        .get_by_role_and_label(Role::Tab, "Centreline")
        .click();
    harness.run_steps(3);
    harness
}

fn type_into(harness: &mut Harness<'static, Window>, label: &str, text: &str) {
    harness
        .get_by_role_and_label(Role::TextInput, label)
        .focus();
    harness.run_steps(2);
    harness.key_press_modifiers(egui::Modifiers::COMMAND, Key::A);
    harness.event(egui::Event::Text(text.to_owned()));
    harness.run_steps(2);
}

#[test]
fn the_page_says_what_is_known_what_is_set_aside_and_what_needs_no_centreline() {
    let harness = on_body("said.ron");
    let study = harness.state().editor().unwrap().document().study().clone();
    let laid = study.positions.as_ref().unwrap().laid.as_ref().unwrap();
    let odd: Vec<&str> = laid
        .places
        .iter()
        .filter(|p| !p.kept)
        .map(|p| p.name.as_str())
        .collect();
    assert_eq!(odd, ["nose corner"]);
    // What was planted: the left side sits back and higher.
    let lamp = laid.pairs.iter().find(|p| p.compare.0 == "lamp").unwrap();
    for (kind, planted) in [
        (record::PositionKind::SetBack, demo::LEFT_SITS[0]),
        (record::PositionKind::Height, demo::LEFT_SITS[2]),
    ] {
        let row = lamp.rows.iter().find(|r| r.kind == kind).unwrap();
        let d = row.difference;
        assert!((d.value - planted).abs() <= d.u95, "{kind:?}: {d:?}");
    }
    let text = report::positions::centreline_text(&study);
    for said in [
        text.headline.as_str(),
        "The odd one out is set aside: nose corner",
        "need no centreline",
        "Places from above: nose corner",
        "Doubt of the centreline, front and rear: ±",
        &report::positions::verdict(lamp, study.units),
    ] {
        assert!(
            harness.query_all_by_label_contains(said).next().is_some(),
            "{said} is not announced"
        );
    }
}

#[test]
fn the_doubt_drawn_is_that_of_the_study() {
    let harness = on_body("doubt.ron");
    let study = harness.state().editor().unwrap().document().study().clone();
    let laid = study.positions.as_ref().unwrap().laid.as_ref().unwrap();
    // At the middle of the places it is the shift alone, at the ends the turn comes in.
    let nearest = laid
        .known
        .iter()
        .min_by(|a, b| a.along_mm.abs().total_cmp(&b.along_mm.abs()))
        .unwrap();
    let arm = nearest.along_mm.abs() * laid.yaw.u95.to_radians();
    assert!((nearest.aside.u95 - laid.shift.u95).abs() <= arm + 0.05 * laid.shift.u95);
    for end in [laid.known.first().unwrap(), laid.known.last().unwrap()] {
        let arm = end.along_mm.abs() * laid.yaw.u95.to_radians();
        let together = arm.hypot(laid.shift.u95);
        assert!(
            (end.aside.u95 / together - 1.0).abs() < 0.35,
            "{} against {together}",
            end.aside.u95
        );
    }
    let sheet = report::sheet::centreline_doubt(laid, study.units, [252.0, 620.0]);
    assert!(sheet.items.len() > 20);
}

#[test]
fn places_are_typed_pair_by_pair_and_taken_back() {
    let mut harness = window_on_coach([1280.0, 800.0]);
    harness.key_press(Key::Num6);
    harness.run_steps(3);
    assert_eq!(harness.state().view().step, Step::Centreline);
    let said = harness
        .query_all_by_label_contains("need no centreline")
        .count();
    assert!(said > 0);
    harness
        .get_by_role_and_label(Role::RadioButton, "left")
        .click();
    harness.run_steps(2);
    for (x, y, z) in [("10,5", "-600", "3"), ("11", "601.5", "4")] {
        // After the left place its partner is what is typed next: its name stands there.
        if x == "10,5" {
            type_into(&mut harness, "Name, without its side", "sill end");
        }
        type_into(&mut harness, "x, mm", x);
        type_into(&mut harness, "y, mm", y);
        type_into(&mut harness, "z, mm", z);
        harness.key_press(Key::Enter);
        harness.run_steps(3);
    }
    let job = harness.state().editor().unwrap().document().job().clone();
    let kept: Vec<_> = job
        .places
        .iter()
        .map(|p| (p.name.as_str(), p.side, p.at.x))
        .collect();
    assert_eq!(
        kept,
        [
            ("sill end", Side::Left, 10.5),
            ("sill end", Side::Right, 11.0)
        ]
    );
    harness
        .get_by_role_and_label(Role::Button, "Place sill end, right")
        .click();
    harness.run_steps(3);
    harness
        .get_by_role_and_label(Role::Button, "Delete the place")
        .click();
    harness.run_steps(3);
    assert_eq!(
        harness
            .state()
            .editor()
            .unwrap()
            .document()
            .job()
            .places
            .len(),
        1
    );
    harness.state_mut().ask(crate::state::Act::Undo);
    harness.run_steps(3);
    assert_eq!(
        harness.state().editor().unwrap().document().job().places,
        job.places
    );
}

#[test]
fn what_cannot_be_read_is_said_and_stays_to_be_corrected() {
    let mut harness = on_body("wrong.ron");
    harness
        .get_by_role_and_label(Role::RadioButton, "Places")
        .click();
    harness.run_steps(3);
    type_into(&mut harness, "Name, without its side", "sill end");
    type_into(&mut harness, "x, mm", "12..5");
    type_into(&mut harness, "y, mm", "1");
    type_into(&mut harness, "z, mm", "1");
    harness
        .get_by_role_and_label(Role::Button, "Take the place")
        .click();
    harness.run_steps(3);
    let line = harness.state().view().line.clone();
    let [says, hint] = line.refused.unwrap();
    assert!(
        says.contains("sill end") && !hint.is_empty(),
        "{says} {hint}"
    );
    assert_eq!(line.typed.at[0], "12..5");
    assert!(harness.query_all_by_label_contains(&says).next().is_some());
}

#[test]
fn a_pasted_table_of_places_is_taken_whole_or_not_at_all() {
    let mut harness = on_body("pasted.ron");
    let count =
        |h: &Harness<'static, Window>| h.state().editor().unwrap().document().job().places.len();
    let before = count(&harness);
    let good = "name;side;x;y;z;sigma\ngutter;left;1;2;3;0.5\ngutter;right;1;-2;3;0.5\n";
    harness.event(egui::Event::Paste(good.to_owned()));
    harness.run_steps(3);
    assert_eq!(count(&harness), before + 2);
    harness.event(egui::Event::Paste(
        good.replace("gutter;right", "sill;nowhere"),
    ));
    harness.run_steps(3);
    assert_eq!(count(&harness), before + 2);
    let said = harness.state().view().said.clone().unwrap();
    assert!(said.contains("nowhere"), "{said}");
}

#[test]
fn a_place_corrected_is_laid_anew_without_measuring_again() {
    let mut harness = on_body("corrected.ron");
    harness
        .get_by_role_and_label(Role::RadioButton, "Places")
        .click();
    harness.run_steps(3);
    harness
        .get_by_role_and_label(Role::Button, "Place nose corner, left")
        .click();
    harness.run_steps(3);
    harness
        .get_by_role_and_label(Role::Button, "Delete the place")
        .click();
    harness.run_steps(3);
    settle(&mut harness);
    let study = harness.state().editor().unwrap().document().study().clone();
    let laid = study.positions.as_ref().unwrap().laid.as_ref().unwrap();
    assert!(
        laid.places
            .iter()
            .all(|p| p.kept && p.name != "nose corner")
    );
}

#[test]
fn the_own_mirror_image_is_chosen_and_taken_back_by_name() {
    let mut harness = on_body("image.ron");
    let click = |harness: &mut Harness<'static, Window>, name: &str| {
        // It may stand below what is in sight: as a reader of the screen presses it.
        harness
            .get_by_role_and_label(Role::RadioButton, name)
            .click_accesskit();
        harness.run_steps(3);
        settle(harness);
    };
    let line = |harness: &Harness<'static, Window>| {
        let job = harness.state().editor().unwrap().document().job().clone();
        job.centreline.clone()
    };
    let laid = |harness: &Harness<'static, Window>| {
        let study = harness.state().editor().unwrap().document().study().clone();
        let positions = study.positions.clone().unwrap();
        positions.laid.expect("a centreline")
    };
    let before = line(&harness);
    let by_pairs = laid(&harness);
    assert_eq!(before.image_of, None);
    click(&mut harness, "Places");
    click(&mut harness, "Own mirror image");
    let scan = harness.state().editor().unwrap().document().job().scans[0]
        .id
        .clone();
    assert_eq!(line(&harness).way, record::CentrelineWay::OwnImage);
    assert_eq!(line(&harness).image_of, Some(scan.clone()));
    let by_image = laid(&harness);
    assert_eq!(by_image.by, record::LaidBy::OwnImage);
    assert_eq!(by_pairs.by, record::LaidBy::Pairs);
    let study = harness.state().editor().unwrap().document().study().clone();
    let said = report::positions::laid_by(&by_image);
    let text = report::positions::centreline_text(&study).full();
    assert!(
        harness.query_all_by_label_contains(&text).next().is_some(),
        "{said}: {text}"
    );
    // As a rival it stays looked at; without it there is none.
    click(&mut harness, "Pairs");
    assert_eq!(line(&harness).image_of, Some(scan.clone()));
    let rivals = laid(&harness).rivals;
    let image = |r: &&record::RivalLine| r.name == record::RivalName::OwnImage;
    assert_eq!(rivals.iter().filter(image).count(), 1);
    click(&mut harness, "No image");
    assert_eq!(line(&harness), before);
    let undone = |harness: &mut Harness<'static, Window>| {
        harness.state_mut().ask(crate::state::Act::Undo);
        harness.run_steps(3);
        harness.state().view().said.clone().unwrap_or_default()
    };
    assert_eq!(
        undone(&mut harness),
        "undone: own mirror image not looked at"
    );
    assert_eq!(undone(&mut harness), "undone: centreline by pairs");
    assert_eq!(
        undone(&mut harness),
        format!("undone: centreline by the own mirror image of {scan}")
    );
    assert_eq!(line(&harness), before);
}
