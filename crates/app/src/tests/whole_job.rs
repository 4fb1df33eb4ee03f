use egui::{Key, Role};
use egui_kittest::kittest::Queryable;

use super::window_on_coach;
use crate::state::Step;

#[test]
fn every_step_is_reached_from_the_keyboard() {
    let mut harness = window_on_coach([1280.0, 800.0]);
    for (key, step) in [
        (Key::Num1, Step::BringIn),
        (Key::Num2, Step::Places),
        (Key::Num3, Step::Compare),
        (Key::Num4, Step::Decide),
        (Key::Num5, Step::HandOver),
    ] {
        harness.key_press(key);
        harness.run_steps(2);
        assert_eq!(harness.state().view().step, step);
    }
    harness.get_by_role_and_label(Role::Button, "Write the files");
}
