use egui::{Key, Role};
use egui_kittest::kittest::Queryable;
use record::{EdgeKind, EdgePick};

use super::{settle, window_on_coach};
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
