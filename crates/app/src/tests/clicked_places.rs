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

/// A point of the scan that is clicked in, by its share of all.
fn point_of(harness: &Seen, share: f64) -> geom::Point {
    let state = harness.state();
    let scans = state.editor().unwrap().document().scans();
    let said = record::ScanId(state.view().line.typed.scan.clone());
    let scan = scans.get(&said).or(scans.values().next()).unwrap();
    let count = scan.blocks.len() as f64;
    scan.blocks.point((share * (count - 1.0)) as u32)
}

/// Presses the pointer on a point of the scan; where another one lies in front of it, that one is picked.
pub fn press(harness: &mut Seen, share: f64) {
    let before = places(harness).len();
    // The picture of another scan comes with the next pass.
    harness.run_steps(4);
    let seen = {
        let view = harness.state().scan_view().unwrap();
        view.project(&point_of(harness, share)).unwrap()
    };
    let at = picture(harness).min + egui::vec2(seen.x as f32, seen.y as f32);
    harness.hover_at(at);
    harness.run_steps(1);
    for pressed in [true, false] {
        harness.event(egui::Event::PointerButton {
            pos: at,
            button: egui::PointerButton::Primary,
            pressed,
            modifiers: egui::Modifiers::NONE,
        });
        harness.run_steps(2);
    }
    harness.run_steps(3);
    assert_eq!(places(harness).len(), before + 1, "nothing was picked");
}

/// Puts a point of the scan into the middle of the picture.
fn turn_to(harness: &mut Seen, share: f64) {
    let mut camera = harness.state().scan_view().unwrap().camera;
    camera.centre = point_of(harness, share);
    let mut line = harness.state().view().line.clone();
    let scans = harness.state().editor().unwrap().document().scans();
    let scan = scans.keys().next().unwrap().clone();
    line.camera = Some((scan, camera));
    harness.state_mut().ask(Act::Lining(Box::new(line)));
    harness.run_steps(4);
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
    press(&mut harness, 0.2);
    let said = harness
        .query_all_by_label_contains("Now the same place on the right")
        .count();
    assert!(said > 0, "the partner is not asked for");
    press(&mut harness, 0.8);
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
    press(&mut harness, 0.4);
    press(&mut harness, 0.6);
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
    press(&mut harness, 0.2);
    harness.key_press(Key::Escape);
    harness.run_steps(3);
    assert_eq!(harness.state().view().line.typed.side, "left");
    assert!(harness.state().view().line.typed.name.is_empty());
}

#[test]
fn a_place_is_clicked_by_keys_and_an_old_one_is_moved() {
    let mut harness = clicking("clicked-keys.ron");
    let before = places(&harness).len();
    turn_to(&mut harness, 0.3);
    harness.key_press(Key::P);
    harness.run_steps(3);
    harness.key_press(Key::Space);
    harness.run_steps(4);
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
    turn_to(&mut harness, 0.6);
    harness.key_press(Key::P);
    harness.run_steps(2);
    harness.key_press(Key::Space);
    harness.run_steps(4);
    let now = places(&harness);
    assert_eq!(now.len(), before + 1, "moved, not added");
    let moved = now
        .iter()
        .find(|p| p.name == old.name && p.side == Side::Left)
        .unwrap();
    assert_ne!(moved.at, old.at);
}
