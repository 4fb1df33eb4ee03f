//! Boxes along the axes of a scan: two corners dragged on its picture, as deep as what is seen between them; typed over later.

use editor::{Command, ScanChange};
use egui::{Rect, Stroke, StrokeKind, Ui, pos2, vec2};
use geom::{Aabb, Point, Vector};
use record::{DisplayUnits, LengthDisplay, Region, RegionShape, ScanId, ScanRef};
use report::theme::{Ink, space};
use view3d::Picture;

use super::naming::Tool;
use crate::controls::{paragraph, text_line};
use crate::letter::CAPTION;
use crate::look::{colour, theme_of};
use crate::shown::Shown;
use crate::state::Act;

/// A smaller box was a slip of the hand: points of the screen.
const LEAST: f32 = 6.0;
/// So many pixels are looked at, evenly over the box.
const LOOKS: u32 = 40_000;

/// The two corners while they are dragged, points of the screen from the middle of the picture, right and down.
pub(super) fn paint(ui: &Ui, field: Rect, corners: &[[f32; 2]]) {
    if let [a, .., b] = corners {
        let at = |c: &[f32; 2]| pos2(c[0], c[1]) + field.center().to_vec2();
        let ink = colour(theme_of(ui.ctx()), Ink::Ink);
        ui.painter().rect_stroke(
            Rect::from_two_pos(at(a), at(b)),
            0.0,
            Stroke::new(1.5, ink),
            StrokeKind::Middle,
        );
    }
}

/// The box round everything that the picture shows of its first object between two corners, in the axes of the scan;
/// grown by `margin_mm`, so that the outermost points are in it. `None` where it shows nothing.
pub(super) fn region(
    picture: &Picture,
    field: Rect,
    corners: &[[f32; 2]],
    margin_mm: f64,
) -> Option<Region> {
    let [a, .., b] = corners else { return None };
    let per_point = picture.view.width as f32 / field.width().max(1.0);
    let at = |c: &[f32; 2]| (vec2(c[0], c[1]) + field.size() / 2.0) * per_point;
    let drawn = Rect::from_two_pos(at(a).to_pos2(), at(b).to_pos2());
    if drawn.width().min(drawn.height()) < LEAST * per_point {
        return None;
    }
    let whole = Rect::from_min_size(
        pos2(0.0, 0.0),
        vec2(picture.view.width as f32, picture.view.height as f32),
    );
    let drawn = drawn.intersect(whole);
    let pixels = (drawn.width() * drawn.height()).max(1.0);
    let step = ((pixels / LOOKS as f32).sqrt().ceil() as usize).max(1);
    let mut seen = Aabb::empty();
    for y in (drawn.top() as u32..drawn.bottom() as u32).step_by(step) {
        for x in (drawn.left() as u32..drawn.right() as u32).step_by(step) {
            if let Some(hit) = picture.hit(x, y).filter(|h| h.object == 0) {
                seen.add(&hit.place);
            }
        }
    }
    let margin = Vector::repeat(margin_mm);
    (seen.low.x <= seen.high.x).then(|| Region {
        shape: RegionShape::Box {
            low: seen.low - margin,
            high: seen.high + margin,
        },
        note: String::new(),
    })
}

/// The twelve edges of the boxes of a scan, scan axes, mm: each a line of two ends.
pub(super) fn edges(scan: &ScanRef) -> Vec<[Point; 2]> {
    let mut out = Vec::new();
    for region in scan.keep.iter().chain(&scan.aside) {
        let RegionShape::Box { low, high } = &region.shape else {
            continue;
        };
        let corner = |k: usize| {
            Point::from([0, 1, 2].map(|i| if k & (1 << i) == 0 { low[i] } else { high[i] }))
        };
        for k in 0..8 {
            for axis in 0..3 {
                if k & (1 << axis) == 0 {
                    out.push([corner(k), corner(k | (1 << axis))]);
                }
            }
        }
    }
    out
}

/// Six blanks with the corners of a box; what is typed takes its place.
pub(super) fn typed(
    ui: &mut Ui,
    shown: Shown,
    (scan, kept, index): (&ScanRef, bool, usize),
    asks: &mut Vec<Act>,
) {
    let regions = if kept { &scan.keep } else { &scan.aside };
    let Some(RegionShape::Box { low, high }) = regions.get(index).map(|r| &r.shape) else {
        return;
    };
    let units = shown.document().job().units;
    let (word, in_mm, decimals) = unit(units);
    for (axis, name) in ["x", "y", "z"].into_iter().enumerate() {
        ui.horizontal(|ui| {
            ui.spacing_mut().item_spacing.x = space::GAP as f32;
            let wide = (ui.available_width() - 4.0 * space::INSIDE as f32) / 2.0;
            for (end, value) in [(false, low[axis]), (true, high[axis])] {
                let says = if end { "to" } else { name };
                paragraph(ui, says, CAPTION, Ink::Ink2);
                let label = format!(
                    "{} {}, {name} {}, {word}",
                    if kept { "Used alone" } else { "Put aside" },
                    index + 1,
                    if end { "to" } else { "from" }
                );
                let mut held = format!("{:.decimals$}", value / in_mm).replace('-', "\u{2212}");
                if units.decimal_comma {
                    held = held.replace('.', ",");
                }
                let Some(new) = blank(ui, &label, &held, wide) else {
                    continue;
                };
                let (mut low, mut high) = (*low, *high);
                if end {
                    high[axis] = new * in_mm;
                } else {
                    low[axis] = new * in_mm;
                }
                let region = Region {
                    shape: RegionShape::Box { low, high },
                    note: regions[index].note.clone(),
                };
                asks.push(if low[axis] < high[axis] {
                    Act::Do(replaced(&scan.id, regions, (kept, index), &region))
                } else {
                    let says = format!("the box would end in {name} before it begins");
                    Act::Say(says)
                });
            }
        });
    }
}

/// One blank; the number once it was typed and left.
fn blank(ui: &mut Ui, label: &str, held: &str, wide: f32) -> Option<f64> {
    let id = ui.scope_id().with(("box", label));
    let mut text: String = ui
        .data_mut(|d| d.get_temp(id))
        .unwrap_or_else(|| held.to_owned());
    let response = ui
        .scope(|ui| {
            ui.set_width(wide);
            text_line(ui, label, "", &mut text)
        })
        .inner;
    if response.lost_focus() {
        ui.data_mut(|d| d.remove::<String>(id));
        return signed(&text).filter(|_| text != held);
    }
    if response.has_focus() {
        ui.data_mut(|d| d.insert_temp(id, text));
    }
    None
}

/// A number that may be negative, with either sign for minus.
fn signed(text: &str) -> Option<f64> {
    let text = text.trim();
    match text.strip_prefix(['-', '\u{2212}']) {
        Some(rest) => crate::allowances::number(rest).map(|v| -v),
        None => crate::allowances::number(text),
    }
}

/// Name of the unit that lengths are shown in, its millimetres, and the decimals that show a tenth of one.
fn unit(units: DisplayUnits) -> (&'static str, f64, usize) {
    match units.length {
        LengthDisplay::Millimetre => ("mm", 1.0, 1),
        LengthDisplay::Inch => ("in", 25.4, 3),
    }
}

/// Another region in the place of one, the order kept: one step of undo.
fn replaced(
    scan: &ScanId,
    regions: &[Region],
    (kept, index): (bool, usize),
    new: &Region,
) -> Command {
    let step = |change| Command::scan(scan.clone(), change);
    let add = |region: &Region| {
        step(if kept {
            ScanChange::Keep(region.clone())
        } else {
            ScanChange::PutAside(region.clone())
        })
    };
    let out = regions[index..]
        .iter()
        .map(|_| step(ScanChange::RemoveRegion { kept, index }));
    let back = regions[index + 1..].iter().map(add);
    let commands = out.chain([add(new)]).chain(back).collect();
    Command::Several {
        name: format!("box {} of {scan}", index + 1),
        commands,
    }
}

/// What a drag with one of the two tools does.
pub(super) fn change(tool: Tool, region: Region) -> ScanChange {
    if tool == Tool::Keep {
        ScanChange::Keep(region)
    } else {
        ScanChange::PutAside(region)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_box_has_twelve_edges_and_numbers_may_be_negative() {
        let scan = ScanRef {
            aside: vec![Region {
                shape: RegionShape::Box {
                    low: Point::new(-1.0, -2.0, -3.0),
                    high: Point::new(1.0, 2.0, 3.0),
                },
                note: String::new(),
            }],
            ..super::super::looping::empty_scan()
        };
        let edges = edges(&scan);
        assert_eq!(edges.len(), 12);
        let total: f64 = edges.iter().map(|[a, b]| (b - a).norm()).sum();
        assert!((total - 4.0 * (2.0 + 4.0 + 6.0)).abs() < 1e-12);
        assert_eq!(signed("\u{2212}3,5"), Some(-3.5));
        assert_eq!(signed("-3.5"), Some(-3.5));
        assert_eq!(signed("x"), None);
    }
}
