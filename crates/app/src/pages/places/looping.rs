//! Loops drawn on the picture of a scan: what lies in one is put aside, or it alone is used. The file stays as it is.

use editor::{Command, ScanChange};
use egui::{PointerButton, Rect, Response, Stroke, Ui, pos2};
use record::{Prepared, Region, RegionShape, ScanId};
use report::theme::Ink;
use view3d::{Camera, Picture};

use super::naming::{Naming, Tool};
use crate::controls::{Weight, button, one_of, paragraph, rule, tick};
use crate::letter::{BODY, CAPTION};
use crate::look::{colour, theme_of};
use crate::shown::Shown;
use crate::state::Act;

/// Corners of a loop are at least so far apart, in points of the screen.
const STEP: f32 = 4.0;
/// A smaller loop was a slip of the hand: its area in square points of the screen.
const LEAST_AREA: f32 = 150.0;

/// Takes up a loop while it is drawn, and gives the command once it is closed.
pub(super) fn draw(
    ui: &Ui,
    shown: Shown,
    field: Rect,
    (scan, prepared): (&ScanId, &Prepared),
    picture: &Picture,
    response: &Response,
    asks: &mut Vec<Act>,
) {
    let naming = &shown.view.places;
    let mut corners = naming.corners.clone();
    if response.dragged_by(PointerButton::Primary)
        && let Some(at) = response.interact_pointer_pos()
    {
        let at = at - field.center();
        let far = corners
            .last()
            .is_none_or(|c| egui::vec2(c[0] - at.x, c[1] - at.y).length() >= STEP);
        if far {
            corners.push([at.x, at.y]);
        }
    }
    if naming.boxed {
        super::boxes::paint(ui, field, &corners);
    } else if !corners.is_empty() {
        let points = corners
            .iter()
            .map(|c| pos2(c[0], c[1]) + field.center().to_vec2())
            .collect();
        let stroke = Stroke::new(1.5, colour(theme_of(ui.ctx()), Ink::Ink));
        ui.painter().add(egui::Shape::closed_line(points, stroke));
    }
    if response.drag_stopped_by(PointerButton::Primary) {
        let camera = picture.view.camera;
        let drawn = if naming.boxed {
            let margin = prepared.spacing_mm.max(camera.mm_per_px);
            super::boxes::region(picture, field, &corners, margin)
        } else {
            let per_point = f64::from(ui.ctx().pixels_per_point());
            let camera = Camera {
                mm_per_px: camera.mm_per_px * per_point,
                ..camera
            };
            region(&corners, &camera)
        };
        if let Some(region) = drawn {
            let change = super::boxes::change(naming.tool, region);
            asks.push(Act::Do(Command::scan(scan.clone(), change)));
        }
        corners.clear();
    }
    if corners != naming.corners {
        let naming = Naming {
            corners,
            ..naming.clone()
        };
        asks.push(Act::Naming(Box::new(naming)));
    }
}

/// The loop as a prism along the line of sight; `corners` in points of the screen from the middle of the picture, right
/// and down. `None` where it encloses next to nothing.
fn region(corners: &[[f32; 2]], camera: &Camera) -> Option<Region> {
    let next = corners.iter().cycle().skip(1);
    let twice: f32 = corners
        .iter()
        .zip(next)
        .map(|(a, b)| a[0] * b[1] - b[0] * a[1])
        .sum();
    if corners.len() < 3 || twice.abs() < 2.0 * LEAST_AREA {
        return None;
    }
    let mm = camera.mm_per_px;
    Some(Region {
        shape: RegionShape::Lasso {
            origin: camera.centre,
            right: camera.right(),
            up: camera.up(),
            corners: corners
                .iter()
                .map(|c| [f64::from(c[0]) * mm, -f64::from(c[1]) * mm])
                .collect(),
        },
        note: String::new(),
    })
}

/// The loops of the scan, each with a way to take it back.
pub(super) fn list(ui: &mut Ui, shown: Shown, scan: &ScanId, asks: &mut Vec<Act>) {
    let job = shown.document().job();
    let Some(said) = job.scans.iter().find(|s| s.id == *scan) else {
        return;
    };
    let naming = &shown.view.places;
    let forms = ["Loop", "Box"];
    if let Some(form) = one_of(ui, &forms, Some(usize::from(naming.boxed))) {
        let naming = Naming {
            boxed: form == 1,
            ..naming.clone()
        };
        asks.push(Act::Naming(Box::new(naming)));
    }
    let says = match (naming.tool == Tool::Keep, naming.boxed) {
        (true, false) => "Draw a loop: only what lies in it is used.",
        (false, false) => "Draw a loop: what lies in it is not used.",
        (true, true) => {
            "Drag from corner to corner: only what lies in the box is used. It is as deep as what is seen."
        }
        (false, true) => {
            "Drag from corner to corner: what lies in the box is not used. It is as deep as what is seen."
        }
    };
    paragraph(ui, says, BODY, Ink::Ink2);
    paragraph(ui, "The file stays as it is.", CAPTION, Ink::Ink2);
    let mut largest = said.largest_piece_only;
    if tick(ui, &mut largest, "Use only the largest piece").changed() {
        let change = ScanChange::LargestPieceOnly(largest);
        asks.push(Act::Do(Command::scan(scan.clone(), change)));
    }
    for (kept, regions) in [(true, &said.keep), (false, &said.aside)] {
        for index in 0..regions.len() {
            let word = if kept { "Used alone" } else { "Put aside" };
            let text = format!("Take back: {}, {}", word.to_lowercase(), index + 1);
            if button(ui, &text, Weight::Plain, "").clicked() {
                let change = ScanChange::RemoveRegion { kept, index };
                asks.push(Act::Do(Command::scan(scan.clone(), change)));
            }
            super::boxes::typed(ui, shown, (said, kept, index), asks);
        }
    }
    rule(ui, Ink::Rule);
}

/// A scan of which nothing is said.
#[cfg(test)]
pub(super) fn empty_scan() -> record::ScanRef {
    record::ScanRef {
        id: "left".into(),
        visit: "visit".into(),
        path: "left.ply".into(),
        hash: None,
        unit: record::LengthUnit::Millimetre,
        unit_source: record::UnitSource::Stated,
        side: record::Side::Left,
        keep: Vec::new(),
        aside: Vec::new(),
        largest_piece_only: false,
        note: String::new(),
    }
}
