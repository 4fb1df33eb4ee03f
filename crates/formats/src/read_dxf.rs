//! A small reader of drawings in DXF, written apart from the writer so that it can check what was written.

use geom::{ArcPath, ArcPiece};
use nalgebra::Point2;

use crate::Refused;

/// The shapes of a DXF file, in the unit of the file.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct DxfShapes {
    /// `$INSUNITS`: 1 inch, 4 millimetre.
    pub insunits: Option<i32>,
    /// `$MEASUREMENT`: 0 inch, 1 metric.
    pub measurement: Option<i32>,
    /// `$ACADVER`.
    pub version: String,
    /// Names of layers in the layer table.
    pub layers: Vec<String>,
    /// LWPOLYLINE: layer and path.
    pub paths: Vec<(String, ArcPath)>,
    /// CIRCLE: layer, middle, radius.
    pub circles: Vec<(String, Point2<f64>, f64)>,
    /// LINE: layer and both ends.
    pub lines: Vec<(String, [Point2<f64>; 2])>,
    /// TEXT: layer and words.
    pub texts: Vec<(String, String)>,
    /// Kinds of entity that this reader does not know, in the order met.
    pub others: Vec<String>,
}

/// One group: code and value as written.
struct Pair<'a> {
    code: i32,
    value: &'a str,
}

/// Reads the shapes of an ASCII DXF file.
///
/// # Errors
/// When the groups do not come in pairs or a number is none.
pub fn read_dxf(text: &str) -> Result<DxfShapes, Refused> {
    let pairs = pairs(text)?;
    let mut shapes = DxfShapes::default();
    let mut section = "";
    let mut i = 0;
    while i < pairs.len() {
        let end = (i + 1..pairs.len())
            .find(|j| pairs[*j].code == 0)
            .unwrap_or(pairs.len());
        let body = &pairs[i + 1..end];
        match (pairs[i].value, section) {
            ("SECTION", _) => {
                section = body.first().map_or("", |p| p.value);
                if section == "HEADER" {
                    header(body, &mut shapes)?;
                }
            }
            ("ENDSEC", _) => section = "",
            ("LAYER", "TABLES") => {
                if let Some(p) = body.iter().find(|p| p.code == 2) {
                    shapes.layers.push(p.value.to_owned());
                }
            }
            (kind, "ENTITIES") => entity(kind, body, &mut shapes)?,
            _ => {}
        }
        i = end;
    }
    Ok(shapes)
}

fn pairs(text: &str) -> Result<Vec<Pair<'_>>, Refused> {
    let mut lines = text.lines();
    let mut found = Vec::new();
    while let Some(code) = lines.next() {
        let code = code
            .trim()
            .parse()
            .map_err(|_| Refused::because(format!("\"{code}\" is no group code")))?;
        let value = lines
            .next()
            .ok_or_else(|| Refused::because("the last group has no value"))?;
        found.push(Pair {
            code,
            value: value.trim(),
        });
    }
    Ok(found)
}

fn number(p: &Pair<'_>) -> Result<f64, Refused> {
    p.value
        .parse()
        .ok()
        .filter(|x: &f64| x.is_finite())
        .ok_or_else(|| Refused::because(format!("\"{}\" is no number", p.value)))
}

fn header(body: &[Pair<'_>], shapes: &mut DxfShapes) -> Result<(), Refused> {
    for w in body.windows(2) {
        match w[0].value {
            "$INSUNITS" => shapes.insunits = Some(number(&w[1])? as i32),
            "$MEASUREMENT" => shapes.measurement = Some(number(&w[1])? as i32),
            "$ACADVER" => w[1].value.clone_into(&mut shapes.version),
            _ => {}
        }
    }
    Ok(())
}

/// The number with group code `code`, 0 where it is left out.
fn value(body: &[Pair<'_>], code: i32) -> Result<f64, Refused> {
    body.iter().find(|p| p.code == code).map_or(Ok(0.0), number)
}

fn entity(kind: &str, body: &[Pair<'_>], shapes: &mut DxfShapes) -> Result<(), Refused> {
    let layer = body
        .iter()
        .find(|p| p.code == 8)
        .map_or("0", |p| p.value)
        .to_owned();
    match kind {
        "LWPOLYLINE" => shapes.paths.push((layer, path(body)?)),
        "CIRCLE" => {
            let centre = Point2::new(value(body, 10)?, value(body, 20)?);
            shapes.circles.push((layer, centre, value(body, 40)?));
        }
        "LINE" => {
            let a = Point2::new(value(body, 10)?, value(body, 20)?);
            let b = Point2::new(value(body, 11)?, value(body, 21)?);
            shapes.lines.push((layer, [a, b]));
        }
        "TEXT" => {
            let words = body.iter().find(|p| p.code == 1).map_or("", |p| p.value);
            shapes.texts.push((layer, words.to_owned()));
        }
        other => shapes.others.push(other.to_owned()),
    }
    Ok(())
}

fn path(body: &[Pair<'_>]) -> Result<ArcPath, Refused> {
    let mut pieces: Vec<ArcPiece> = Vec::new();
    let mut flags = 0;
    let stray = || Refused::because("a group of an outline stands before its first corner");
    for p in body {
        match p.code {
            70 => flags = number(p)? as i32,
            10 => pieces.push(ArcPiece {
                start: Point2::new(number(p)?, 0.0),
                bulge: 0.0,
            }),
            20 => pieces.last_mut().ok_or_else(stray)?.start.y = number(p)?,
            42 => pieces.last_mut().ok_or_else(stray)?.bulge = number(p)?,
            _ => {}
        }
    }
    let end = if flags & 1 == 1 {
        None
    } else {
        pieces.pop().map(|p| p.start)
    };
    Ok(ArcPath { pieces, end })
}
