//! The keyboard stays with a control that moves with its column, and what it goes to is brought into sight.

use egui::{Key, Role};
use egui_kittest::kittest::Queryable;

use super::two::{MADE, Seen, on_page, settle_two};

fn rect(harness: &Seen, role: Role, name: &str) -> egui::Rect {
    harness.get_by_role_and_label(role, name).rect()
}

fn has_the_keyboard(harness: &Seen, role: Role, name: &str) -> bool {
    harness.get_by_role_and_label(role, name).is_focused()
}

fn scroll(harness: &mut Seen, down: f32) {
    harness.hover_at(egui::pos2(1100.0, 400.0));
    harness.event(egui::Event::MouseWheel {
        unit: egui::MouseWheelUnit::Point,
        delta: egui::vec2(0.0, -down),
        modifiers: egui::Modifiers::NONE,
        phase: egui::TouchPhase::Move,
        source: egui::MouseWheelSource::Wheel,
    });
    harness.run_steps(12);
}

#[test]
fn a_switch_and_a_button_keep_the_keyboard_while_their_column_scrolls() {
    let mut harness = on_page(&MADE.files.first, "focus.ron");
    settle_two(&mut harness);
    let after = "After: right-worked";
    let seen = |h: &Seen, role: Role, name: &str| {
        // The column ends where the title block begins.
        let at = rect(h, role, name);
        at.min.y >= 160.0 && at.max.y <= 720.0
    };
    assert!(!seen(&harness, Role::RadioButton, after), "it is in sight");
    for (role, name) in [
        (Role::Button, "Bring in the other visit"),
        (Role::RadioButton, after),
    ] {
        for pressed in 0.. {
            if has_the_keyboard(&harness, role, name) {
                break;
            }
            assert!(pressed < 160, "{name} is not reached by Tab");
            harness.key_press(Key::Tab);
            harness.run_steps(3);
        }
        assert!(
            seen(&harness, role, name),
            "{:?}",
            rect(&harness, role, name)
        );
        // It is moved away and back, and has the keyboard all the while.
        for down in [-70.0, 40.0] {
            let before = rect(&harness, role, name).min.y;
            scroll(&mut harness, down);
            assert!((rect(&harness, role, name).min.y - before).abs() > 10.0);
            assert!(has_the_keyboard(&harness, role, name), "{name}, {down}");
        }
    }
    harness.key_press(Key::Space);
    harness.run_steps(4);
    let taken = harness.state().view().two.after_scan.clone();
    assert_eq!(taken.map(|s| s.0).as_deref(), Some("right-worked"));
    assert!(has_the_keyboard(&harness, Role::RadioButton, after));
}
