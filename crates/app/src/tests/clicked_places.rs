//! Places of the centreline clicked in the scan, by pointer and by keys.

use egui::{Key, Role};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use record::{Place, Side};

use super::{centreline::placed_job, settle, window};
use crate::Window;
use crate::state::Act;

type Seen = Harness<'static, Window>;

pub fn places(harness: &Seen) -> Vec<Place> {
    let job = harness.state().editor().unwrap().document().job();
    job.every_place().cloned().collect()
}

/// On the page of the centreline, clicking in the scan.
fn clicking(name: &str) -> Seen {
    let mut harness = window([1280.0, 800.0]);
    harness.state_mut().open_job(&placed_job(name));
    settle(&mut harness);
    harness
        .get_by_role_and_label(Role::Tab, "Centreline")
        .click();
    harness.run_steps(3);
    for switch in ["Places", "left", "Click in the scan"] {
        let found = harness.query_by_role_and_label(Role::RadioButton, switch);
        if let Some(node) = found {
            node.click();
        }
        harness.run_steps(3);
    }
    harness
}

fn picture(harness: &Seen) -> egui::Rect {
    let mut all = harness.query_all_by_label_contains("Places in scan");
    all.next().unwrap().rect()
}

/// Presses the pointer at a share of the picture, and the nearest place with metal from there on.
pub fn press(harness: &mut Seen, [across, down]: [f32; 2]) {
    let before = places(harness).len();
    let rect = picture(harness);
    for step in 0..40 {
        let angle = step as f32 * 0.9;
        let off = 3.0 * step as f32;
        let at = rect.min
            + egui::vec2(rect.width() * across, rect.height() * down)
            + off * egui::vec2(angle.cos(), angle.sin());
        harness.hover_at(at);
        harness.run_steps(1);
        for pressed in [true, false] {
            harness.event(egui::Event::PointerButton {
                pos: at,
                button: egui::PointerButton::Primary,
                pressed,
                modifiers: egui::Modifiers::NONE,
            });
            harness.run_steps(1);
        }
        harness.run_steps(2);
        if places(harness).len() > before {
            return;
        }
    }
    panic!("nowhere there is metal");
}

/// How far a place is from the nearest point of its scan.
fn off_the_metal(harness: &Seen, place: &Place) -> f64 {
    let document = harness.state().editor().unwrap().document();
    let blocks = &document.scans()[&place.scan].blocks;
    (0..blocks.len() as u32)
        .map(|s| (blocks.point(s) - place.at).norm())
        .fold(f64::INFINITY, f64::min)
}

#[test]
fn a_pair_is_clicked_left_then_right_and_undone_one_by_one() {
    let mut harness = clicking("clicked.ron");
    let before = places(&harness).len();
    press(&mut harness, [0.3, 0.5]);
    let said = harness
        .query_all_by_label_contains("Now the same place on the right")
        .count();
    assert!(said > 0, "the partner is not asked for");
    press(&mut harness, [0.7, 0.5]);
    let now = places(&harness);
    let new: Vec<&Place> = now
        .iter()
        .filter(|p| p.name.starts_with("place "))
        .collect();
    assert_eq!(new.len(), 2);
    assert_eq!(new[0].name, new[1].name);
    assert_eq!([new[0].side, new[1].side], [Side::Left, Side::Right]);
    for place in new {
        // A pick is a point of the scan itself, or on a triangle of it.
        let off = off_the_metal(&harness, place);
        assert!(off < 1e-9, "{off} mm off the nearest point");
    }
    for left in [1, 0] {
        harness.state_mut().ask(Act::Undo);
        harness.run_steps(3);
        assert_eq!(places(&harness).len(), before + left);
    }
}

#[test]
fn centre_places_follow_each_other_and_a_partner_can_be_left() {
    let mut harness = clicking("clicked-centre.ron");
    let before = places(&harness).len();
    harness
        .get_by_role_and_label(Role::RadioButton, "Centre")
        .click();
    harness.run_steps(3);
    press(&mut harness, [0.5, 0.4]);
    press(&mut harness, [0.5, 0.6]);
    let now = places(&harness);
    let new: Vec<&Place> = now
        .iter()
        .filter(|p| p.name.starts_with("place "))
        .collect();
    assert_eq!(now.len(), before + 2);
    assert!(new.iter().all(|p| p.side == Side::Centre));
    assert_ne!(new[0].name, new[1].name);
    harness
        .get_by_role_and_label(Role::RadioButton, "Left")
        .click();
    harness.run_steps(3);
    press(&mut harness, [0.3, 0.5]);
    harness.key_press(Key::Escape);
    harness.run_steps(3);
    assert_eq!(harness.state().view().line.typed.side, "left");
    assert!(harness.state().view().line.typed.name.is_empty());
}

#[test]
fn a_place_is_clicked_by_keys_and_an_old_one_is_moved() {
    let mut harness = clicking("clicked-keys.ron");
    let before = places(&harness).len();
    harness.key_press(Key::P);
    harness.run_steps(3);
    // The middle may lie in an opening: the arrows move on until there is metal.
    for _ in 0..40 {
        harness.key_press(Key::Space);
        harness.run_steps(3);
        if places(&harness).len() > before {
            break;
        }
        harness.key_press(Key::ArrowUp);
        harness.run_steps(3);
    }
    assert_eq!(places(&harness).len(), before + 1);
    let row = {
        let all = places(&harness);
        format!(
            "Place {}, left",
            all.iter().find(|p| p.side == Side::Left).unwrap().name
        )
    };
    let old = places(&harness)
        .into_iter()
        .find(|p| p.side == Side::Left)
        .unwrap();
    harness.get_by_role_and_label(Role::Button, &row).click();
    harness.run_steps(3);
    harness.key_press(Key::P);
    harness.run_steps(2);
    for _ in 0..40 {
        harness.key_press(Key::Space);
        harness.run_steps(3);
        let moved = places(&harness)
            .into_iter()
            .any(|p| p.name == old.name && p.side == Side::Left && p.at != old.at);
        if moved {
            break;
        }
        harness.key_press(Key::ArrowUp);
        harness.run_steps(3);
    }
    let now = places(&harness);
    assert_eq!(now.len(), before + 1, "moved, not added");
    let moved = now
        .iter()
        .find(|p| p.name == old.name && p.side == Side::Left)
        .unwrap();
    assert_ne!(moved.at, old.at);
}
