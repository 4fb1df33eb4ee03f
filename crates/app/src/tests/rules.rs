//! Rules of the look: nothing clipped, few sizes of type.

use std::collections::BTreeSet;

use super::window_on_coach;
use crate::state::{Act, Step};

/// Text whose glyphs reach outside the clip it is painted with, of the last pass.
fn clipped(harness: &egui_kittest::Harness<crate::Window>) -> Vec<String> {
    let mut found = Vec::new();
    for shape in &harness.output().shapes {
        if let egui::Shape::Text(text) = &shape.shape {
            let rect = text.visual_bounding_rect();
            if rect.is_positive() && !shape.clip_rect.expand(1.5).contains_rect(rect) {
                found.push(format!(
                    "{:?} at {rect:?} in {:?}",
                    text.galley.text(),
                    shape.clip_rect
                ));
            }
        }
    }
    found
}

fn sizes(harness: &egui_kittest::Harness<crate::Window>) -> BTreeSet<u32> {
    let mut found = BTreeSet::new();
    for shape in &harness.output().shapes {
        if let egui::Shape::Text(text) = &shape.shape {
            for section in &text.galley.job.sections {
                found.insert(section.format.font_id.size.round() as u32);
            }
        }
    }
    found
}

#[test]
fn no_text_is_clipped_and_four_sizes_of_type_are_enough() {
    for size in [[1280.0, 800.0], [1920.0, 1080.0]] {
        let mut harness = window_on_coach(size);
        for step in Step::ALL {
            harness.state_mut().ask(Act::Go(step));
            harness.run_steps(3);
            if step != Step::BringIn && step != Step::Places {
                let bad = clipped(&harness);
                assert!(bad.is_empty(), "{step:?} at {size:?}: {bad:#?}");
            }
            // A factor written across a drawing counts apart; sheets in small have their own scale.
            let mut sizes = sizes(&harness);
            sizes.remove(&44);
            if step != Step::HandOver {
                assert!(sizes.len() <= 4, "{step:?} at {size:?}: {sizes:?}");
            }
        }
    }
}
