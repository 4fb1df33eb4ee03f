use egui::{Key, Role};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};
use record::{EdgeKind, EdgePick};

use super::{settle, window_on_coach};
use crate::Window;
use crate::state::{Act, Step};

#[test]
fn an_edge_is_traced_near_a_place_and_kept_with_enter() {
    let mut harness = window_on_coach([1280.0, 800.0]);
    let (scan, near, count) = {
        let job = harness.state().editor().unwrap().document().job();
        let opening = &job.openings[0];
        (
            opening.scan.clone(),
            opening.edge.as_ref().unwrap().near,
            job.openings.len(),
        )
    };
    harness.state_mut().ask(Act::Go(Step::Places));
    let pick = EdgePick {
        near,
        kind: EdgeKind::Auto,
        by_hand: Vec::new(),
        closed: false,
    };
    harness
        .state_mut()
        .ask(Act::Probe(scan, editor::ProbeAt::Edge(pick)));
    for _ in 0..600 {
        harness.step();
        if harness.state().view().places.found.is_some() {
            break;
        }
        std::thread::sleep(std::time::Duration::from_millis(20));
    }
    harness.run_steps(2);
    harness.get_by_role_and_label(Role::Button, "Keep this edge");
    harness.key_press(Key::Enter);
    harness.run_steps(3);
    assert_eq!(
        harness
            .state()
            .editor()
            .unwrap()
            .document()
            .job()
            .openings
            .len(),
        count + 1
    );
    harness.state_mut().ask(Act::Undo);
    settle(&mut harness);
    assert_eq!(
        harness
            .state()
            .editor()
            .unwrap()
            .document()
            .job()
            .openings
            .len(),
        count
    );
}

/// The picture of the scan, and where it lies.
fn picture(harness: &Harness<'static, Window>) -> egui::Rect {
    let image = harness
        .get_all_by_role(Role::Image)
        .find(|n| {
            n.accesskit_node()
                .label()
                .is_some_and(|l| l.starts_with("Scan "))
        })
        .unwrap();
    image.rect()
}

#[test]
fn what_a_loop_encloses_is_put_aside_and_comes_back() {
    let mut harness = window_on_coach([1280.0, 800.0]);
    harness.key_press(Key::Num2);
    harness.run_steps(3);
    harness
        .get_by_role_and_label(Role::RadioButton, "Put aside")
        .click();
    harness.run_steps(2);
    let middle = picture(&harness).center();
    let used = |h: &Harness<'static, Window>| {
        let document = h.state().editor().unwrap().document();
        document
            .scans()
            .values()
            .map(|p| p.blocks.len())
            .sum::<usize>()
    };
    let before = used(&harness);
    let at = |phi: f32| middle + 160.0 * egui::vec2(phi.cos(), phi.sin());
    harness.hover_at(at(0.0));
    harness.run_steps(1);
    harness.drag_at(at(0.0));
    for k in 1..24 {
        harness.hover_at(at(std::f32::consts::TAU * k as f32 / 24.0));
        harness.run_steps(1);
    }
    harness.drop_at(at(std::f32::consts::TAU * 23.0 / 24.0));
    harness.run_steps(2);
    let aside = |h: &Harness<'static, Window>| {
        let job = h.state().editor().unwrap().document().job();
        job.scans.iter().map(|s| s.aside.len()).sum::<usize>()
    };
    assert_eq!(aside(&harness), 1);
    settle(&mut harness);
    let now = used(&harness);
    assert!(now < before, "{now} {before}");
    harness
        .get_by_role_and_label(Role::Button, "Take back: put aside, 1")
        .click();
    harness.run_steps(2);
    assert_eq!(aside(&harness), 0);
    settle(&mut harness);
    assert_eq!(used(&harness), before);
}

#[test]
fn a_box_dragged_on_the_picture_is_typed_over_and_taken_back() {
    let mut harness = window_on_coach([1280.0, 800.0]);
    harness.key_press(Key::Num2);
    harness.run_steps(3);
    for name in ["Put aside", "Box"] {
        harness
            .get_by_role_and_label(Role::RadioButton, name)
            .click();
        harness.run_steps(3);
    }
    let used = |h: &Harness<'static, Window>| {
        let document = h.state().editor().unwrap().document();
        document
            .scans()
            .values()
            .map(|p| p.blocks.len())
            .sum::<usize>()
    };
    let of_boxes = |h: &Harness<'static, Window>| {
        let job = h.state().editor().unwrap().document().job();
        let all = job.scans.iter().flat_map(|s| s.aside.clone());
        all.map(|r| match r.shape {
            record::RegionShape::Box { low, high } => (low, high),
            record::RegionShape::Lasso { .. } => panic!("a loop"),
        })
        .collect::<Vec<_>>()
    };
    let before = used(&harness);
    let corner = picture(&harness).center() + egui::vec2(60.0, 40.0);
    let far = corner + egui::vec2(150.0, 120.0);
    harness.hover_at(corner);
    harness.run_steps(1);
    harness.drag_at(corner);
    harness.hover_at(corner + egui::vec2(70.0, 50.0));
    harness.run_steps(1);
    harness.hover_at(far);
    harness.run_steps(1);
    harness.drop_at(far);
    harness.run_steps(2);
    let [(low, high)] = of_boxes(&harness)[..] else {
        panic!("one box is wanted")
    };
    assert!((0..3).all(|i| low[i] < high[i]), "{low} {high}");
    settle(&mut harness);
    let cut = used(&harness);
    assert!(cut < before, "{cut} {before}");
    // Wider by typing.
    let label = "Put aside 1, x to, mm";
    harness
        .get_by_role_and_label(Role::TextInput, label)
        .click();
    harness.run_steps(2);
    harness.key_press_modifiers(egui::Modifiers::COMMAND, Key::A);
    let wanted = high.x + 40.0;
    harness.event(egui::Event::Text(format!("{wanted:.1}")));
    harness.run_steps(2);
    harness.key_press(Key::Enter);
    harness.run_steps(3);
    let [(low_now, high_now)] = of_boxes(&harness)[..] else {
        panic!("one box is wanted")
    };
    assert!((high_now.x - wanted).abs() < 0.06, "{high_now} {wanted}");
    assert_eq!(low_now, low);
    settle(&mut harness);
    assert!(used(&harness) < cut);
    for boxes in [1, 0] {
        harness.state_mut().ask(Act::Undo);
        harness.run_steps(2);
        assert_eq!(of_boxes(&harness).len(), boxes);
    }
    settle(&mut harness);
    assert_eq!(used(&harness), before);
}
