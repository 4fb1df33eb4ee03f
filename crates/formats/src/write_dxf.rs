//! Drawings for the cutter in DXF (R2000): closed outlines of lines and arcs, holes, and a line of known length.
//!
//! Layers: CUT (what the cutter follows), MARK (the opening edge and the holes as found on the body; to be marked or
//! left out), REF (a line of 100 mm and the words). Group codes are those of the published DXF reference.

use geom::{ArcPath, ArcPiece, bulge_of};
use nalgebra::{Point2, Vector2};
use record::{Drawing, DrawnHole, LengthDisplay};

use crate::dxf_text::{DxfEntities, DxfHead, DxfUnit};
use crate::read_dxf::{DxfShapes, read_dxf};
use crate::{Refused, side_word};

/// How far a point may be from where it belongs after writing and reading, mm.
const TOLERANCE_MM: f64 = 1e-6;

/// One shape of the file, mm.
#[derive(Clone, Debug, PartialEq)]
enum Shape {
    Path(&'static str, ArcPath),
    Circle(&'static str, Point2<f64>, f64),
}

/// The drawing as bytes of a DXF file, read back and compared before it is handed out. Coordinates are part axes
/// (flat of the part = XY), in millimetres or inches as the header says.
///
/// # Errors
/// When there is neither an outline nor an edge to draw, an arc is wider than half a circle, or the file does not
/// read back as the drawing: distance, closing, area, turning direction, holes, units, length of the reference line.
pub fn dxf_bytes(drawing: &Drawing, unit: LengthDisplay) -> Result<Vec<u8>, Refused> {
    let shapes = shapes(drawing)?;
    let unit = DxfUnit::of(unit);
    let text = build(drawing, &shapes, unit);
    check(drawing, &shapes, unit, &read_dxf(&text)?)?;
    Ok(text.into_bytes())
}

/// What is drawn, in order.
fn shapes(drawing: &Drawing) -> Result<Vec<Shape>, Refused> {
    let mut found = Vec::new();
    for (layer, path) in [("CUT", &drawing.cut), ("MARK", &drawing.mark)] {
        if let Some(path) = path {
            if path.segments().is_empty() {
                return Err(Refused::because(format!(
                    "the outline on {layer} has no pieces"
                )));
            }
            found.push(Shape::Path(layer, path.split_wide_arcs()));
        }
    }
    if found.is_empty() {
        return Err(Refused::because("there is no edge to draw"));
    }
    for hole in &drawing.holes {
        let centre = Point2::new(hole.centre.x, hole.centre.y);
        if let Some(diameter) = hole.cut_diameter_mm {
            found.push(cut_hole(hole, centre, diameter));
        }
        found.push(Shape::Circle("MARK", centre, hole.body_diameter_mm / 2.0));
    }
    Ok(found)
}

/// A round hole, or the outline of a slot with round ends.
fn cut_hole(hole: &DrawnHole, centre: Point2<f64>, diameter: f64) -> Shape {
    let Some(slot) = hole.slot.filter(|s| s.extra_mm > 0.0) else {
        return Shape::Circle("CUT", centre, diameter / 2.0);
    };
    let along = Vector2::from(slot.along)
        .try_normalize(1e-12)
        .unwrap_or(Vector2::x());
    let across = Vector2::new(-along.y, along.x) * (diameter / 2.0);
    let half = along * (slot.extra_mm / 2.0);
    let round = bulge_of(std::f64::consts::PI);
    let corners = [
        (half - across, round),
        (half + across, 0.0),
        (-half + across, round),
        (-half - across, 0.0),
    ];
    let pieces = corners.map(|(v, bulge)| ArcPiece {
        start: centre + v,
        bulge,
    });
    Shape::Path(
        "CUT",
        ArcPath {
            pieces: pieces.to_vec(),
            end: None,
        },
    )
}

fn build(drawing: &Drawing, shapes: &[Shape], unit: DxfUnit) -> String {
    let factor = unit.factor;
    let mut entities = DxfEntities::default();
    let mut extent = [[f64::INFINITY; 2], [f64::NEG_INFINITY; 2]];
    let mut reach = |p: &Point2<f64>, by: f64| {
        for (k, v) in [p.x, p.y].into_iter().enumerate() {
            extent[0][k] = extent[0][k].min((v - by) * factor);
            extent[1][k] = extent[1][k].max((v + by) * factor);
        }
    };
    let at = |p: &Point2<f64>| [p.x * factor, p.y * factor];
    for shape in shapes {
        match shape {
            Shape::Path(layer, path) => {
                let corners = path.pieces.iter().map(|p| (at(&p.start), p.bulge));
                let end = path.end.iter().map(|e| (at(e), 0.0));
                let corners: Vec<_> = corners.chain(end).collect();
                entities.polyline(layer, &corners, path.is_closed());
                for p in path.flattened(5.0, 0.1) {
                    reach(&p, 0.0);
                }
            }
            Shape::Circle(layer, c, r) => {
                entities.circle(layer, at(c), r * factor);
                reach(c, *r);
            }
        }
    }
    let [a, b] = drawing.reference.map(Point2::from);
    entities.line("REF", [at(&a), at(&b)]);
    reach(&a, 0.0);
    reach(&b, 0.0);
    let words = format!("{}, {}, 100 mm", drawing.part_name, side_word(drawing.side));
    let above = a + Vector2::new(0.0, 3.0);
    entities.words("REF", at(&above), 4.0 * factor, &words);
    entities.file(&DxfHead {
        unit,
        layers: &[("CUT", 7), ("MARK", 5), ("REF", 8)],
        extent,
    })
}

/// Compares what was read back with what was to be written.
fn check(
    drawing: &Drawing,
    shapes: &[Shape],
    unit: DxfUnit,
    read: &DxfShapes,
) -> Result<(), Refused> {
    unit.read_back(read)?;
    let factor = unit.factor;
    let mut paths = read.paths.iter();
    let mut circles = read.circles.iter();
    for shape in shapes {
        match shape {
            Shape::Path(layer, path) => {
                let (found_on, found) = paths
                    .next()
                    .ok_or_else(|| Refused::because(format!("an outline on {layer} is missing")))?;
                if found_on != layer {
                    return Err(Refused::because(format!(
                        "an outline of {layer} stands on {found_on}"
                    )));
                }
                same_path(path, &found.scaled(1.0 / factor)).map_err(|why| {
                    Refused::because(format!("the outline on {layer} did not read back: {why}"))
                })?;
            }
            Shape::Circle(layer, c, r) => {
                let (found_on, fc, fr) = circles
                    .next()
                    .ok_or_else(|| Refused::because(format!("a hole on {layer} is missing")))?;
                let off = (fc / factor - c).norm().max((fr / factor - r).abs());
                if found_on != layer || off.is_nan() || off > TOLERANCE_MM || *r <= 0.0 {
                    return Err(Refused::because(format!(
                        "a hole on {layer} did not read back: {off:.1e} mm off"
                    )));
                }
            }
        }
    }
    if paths.next().is_some() || circles.next().is_some() || !read.others.is_empty() {
        return Err(Refused::because("more was read back than was written"));
    }
    let [a, b] = drawing.reference.map(Point2::from);
    let kept = matches!(read.lines.as_slice(), [(layer, [p, q])] if layer == "REF"
        && ((q - p).norm() / factor - (b - a).norm()).abs() < TOLERANCE_MM);
    if !kept || ((b - a).norm() - 100.0).abs() > TOLERANCE_MM {
        return Err(Refused::because("the line of 100 mm did not read back"));
    }
    Ok(())
}

/// Whether two paths are the same curve run the same way; the reason if not.
pub(crate) fn same_path(a: &ArcPath, b: &ArcPath) -> Result<(), String> {
    if a.is_closed() != b.is_closed() {
        return Err("one is closed, the other is not".into());
    }
    if b.pieces.iter().any(|p| p.bulge.abs() > 1.0 + 1e-9) {
        return Err("an arc is wider than half a circle".into());
    }
    if a.is_closed() {
        let (x, y) = (a.area(), b.area());
        if y.is_nan() || (x - y).abs() > TOLERANCE_MM * a.length() {
            return Err(format!("area {y:.6} mm2 instead of {x:.6}"));
        }
        if (a.turning() - b.turning()).abs() > 1e-6 {
            return Err("it turns another way".into());
        }
    }
    let worst = |from: &ArcPath, to: &ArcPath| {
        from.flattened(2.0, 0.01)
            .iter()
            .map(|p| to.distance(p))
            .fold(0.0, f64::max)
    };
    let off = worst(a, b).max(worst(b, a));
    if off > TOLERANCE_MM {
        return Err(format!("{off:.2e} mm off"));
    }
    Ok(())
}

#[cfg(test)]
mod tests;
