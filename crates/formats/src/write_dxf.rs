//! Drawings for the cutter in DXF (R2000): closed outlines of lines and arcs, holes, and a line of known length.
//!
//! Layers: CUT (what the cutter follows), MARK (the opening edge and the holes as found on the body; to be marked or
//! left out), REF (a line of 100 mm and the words). Group codes are those of the published DXF reference.

use dxf::entities::{Circle, Entity, EntityType, Line, LwPolyline, Text};
use dxf::enums::{AcadVersion, DrawingUnits, Units};
use dxf::tables::Layer;
use dxf::{Color, Drawing as Dxf, LwPolylineVertex, Point as DxfPoint};
use geom::{ArcPath, ArcPiece, bulge_of};
use nalgebra::{Point2, Vector2};
use record::{Drawing, DrawnHole, LengthDisplay};

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
    let factor = match unit {
        LengthDisplay::Millimetre => 1.0,
        LengthDisplay::Inch => 1.0 / 25.4,
    };
    let file = build(drawing, &shapes, unit, factor);
    let mut bytes = Vec::new();
    file.save(&mut bytes)
        .map_err(|e| Refused::because(format!("DXF: {e}")))?;
    let text =
        String::from_utf8(bytes).map_err(|_| Refused::because("the DXF text is not UTF-8"))?;
    let text = without_clock(&text);
    check(drawing, &shapes, unit, factor, &read_dxf(&text)?)?;
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

fn build(drawing: &Drawing, shapes: &[Shape], unit: LengthDisplay, factor: f64) -> Dxf {
    let mut file = Dxf::new();
    file.header.version = AcadVersion::R2000;
    let inch = unit == LengthDisplay::Inch;
    file.header.default_drawing_units = if inch {
        Units::Inches
    } else {
        Units::Millimeters
    };
    file.header.drawing_units = if inch {
        DrawingUnits::English
    } else {
        DrawingUnits::Metric
    };
    for (name, colour) in [("CUT", 7), ("MARK", 5), ("REF", 8)] {
        file.add_layer(Layer {
            name: name.to_owned(),
            color: Color::from_index(colour),
            ..Layer::default()
        });
    }
    let mut add = |layer: &str, shape: EntityType| {
        let mut entity = Entity::new(shape);
        layer.clone_into(&mut entity.common.layer);
        file.add_entity(entity);
    };
    let point = |p: &Point2<f64>| DxfPoint::new(p.x * factor, p.y * factor, 0.0);
    for shape in shapes {
        match shape {
            Shape::Path(layer, path) => add(layer, EntityType::LwPolyline(lw(path, factor))),
            Shape::Circle(layer, c, r) => {
                add(layer, EntityType::Circle(Circle::new(point(c), r * factor)));
            }
        }
    }
    let [a, b] = drawing.reference.map(Point2::from);
    add("REF", EntityType::Line(Line::new(point(&a), point(&b))));
    let words = format!("{}, {}, 100 mm", drawing.part_name, side_word(drawing.side));
    let text = Text {
        location: point(&(a + Vector2::new(0.0, 3.0))),
        text_height: 4.0 * factor,
        value: words,
        ..Text::default()
    };
    add("REF", EntityType::Text(text));
    file.normalize();
    file
}

fn lw(path: &ArcPath, factor: f64) -> LwPolyline {
    let corner = |p: &Point2<f64>, bulge: f64| LwPolylineVertex {
        x: p.x * factor,
        y: p.y * factor,
        bulge,
        ..LwPolylineVertex::default()
    };
    let mut line = LwPolyline {
        vertices: path
            .pieces
            .iter()
            .map(|p| corner(&p.start, p.bulge))
            .collect(),
        ..LwPolyline::default()
    };
    line.vertices.extend(path.end.map(|e| corner(&e, 0.0)));
    line.set_is_closed(path.is_closed());
    line
}

/// Sets the entries that the writing library fills from the clock and from chance to fixed values, so that the same
/// drawing gives the same bytes.
fn without_clock(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    // Number of lines until the value to be replaced, and what stands there instead.
    let mut wait: Option<(u8, &str)> = None;
    for line in text.lines() {
        let fixed = match line.trim() {
            "$TDCREATE" | "$TDUCREATE" | "$TDUPDATE" | "$TDUUPDATE" => Some("2440587.5"),
            "$FINGERPRINTGUID" | "$VERSIONGUID" => Some("{00000000-0000-0000-0000-000000000000}"),
            _ => None,
        };
        match wait {
            Some((0, value)) => {
                out.push_str(value);
                wait = None;
            }
            Some((n, value)) => {
                out.push_str(line);
                wait = Some((n - 1, value));
            }
            None => out.push_str(line),
        }
        if let Some(value) = fixed {
            wait = Some((1, value));
        }
        out.push_str("\r\n");
    }
    out
}

/// Compares what was read back with what was to be written.
fn check(
    drawing: &Drawing,
    shapes: &[Shape],
    unit: LengthDisplay,
    factor: f64,
    read: &DxfShapes,
) -> Result<(), Refused> {
    let expected = match unit {
        LengthDisplay::Millimetre => (Some(4), Some(1)),
        LengthDisplay::Inch => (Some(1), Some(0)),
    };
    if (read.insunits, read.measurement) != expected {
        return Err(Refused::because("the unit did not read back"));
    }
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
