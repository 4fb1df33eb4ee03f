//! Sections of a pair in DXF (R2000): every section in its own plane, side by side on one sheet at true size.
//!
//! Layers: FIRST (the side that stays where it is), SECOND (the other, mirrored where the pair is), REF (the edge of each
//! section as a short cross, a line of 100 mm and the words).

use geom::{ArcPath, ArcPiece};
use nalgebra::{Point2, Vector2};
use record::{LengthDisplay, PairPanel};

use crate::Refused;
use crate::dxf_text::{DxfEntities, DxfHead, DxfUnit};
use crate::read_dxf::{DxfShapes, read_dxf};
use crate::section_profiles::{Profile, profiles, side_names};
use crate::write_dxf::same_path;

/// Sections side by side in a row.
const IN_A_ROW: usize = 6;
/// Space between sections, mm.
const BETWEEN: f64 = 25.0;
/// Half the size of the cross at the edge, mm.
const CROSS: f64 = 2.0;
/// How far a point may be from where it belongs after writing and reading, mm.
const TOLERANCE_MM: f64 = 1e-6;
const LAYERS: [&str; 2] = ["FIRST", "SECOND"];

/// The sections of a pair as bytes of a DXF file, in millimetres or inches as its header says; read back and compared
/// before it is handed out.
///
/// # Errors
/// When no section was seen, or the file does not read back: units, profiles, layers, crosses, the line of 100 mm.
pub fn section_dxf_bytes(pair: &PairPanel, unit: LengthDisplay) -> Result<Vec<u8>, Refused> {
    let all = profiles(pair);
    if all.is_empty() {
        return Err(Refused::because("there is no section to draw"));
    }
    let unit = DxfUnit::of(unit);
    let sheet = Layout::of(pair, &all);
    let text = build(pair, &all, &sheet, unit);
    check(pair, &all, &sheet, unit, &read_dxf(&text)?)?;
    Ok(text.into_bytes())
}

/// Where the edge of each section stands on the sheet, mm.
struct Layout {
    edges: Vec<Point2<f64>>,
    reference: [Point2<f64>; 2],
}

impl Layout {
    fn of(pair: &PairPanel, all: &[Profile]) -> Self {
        let points = || all.iter().flat_map(|p| &p.flat);
        let span = |k: usize| {
            points().fold([0.0_f64, 0.0_f64], |[low, high], p| {
                [low.min(p[k]), high.max(p[k])]
            })
        };
        let [x, y] = [span(0), span(1)];
        let pitch = [x[1] - x[0] + BETWEEN, y[1] - y[0] + BETWEEN];
        let edges = (0..pair.sections.len())
            .map(|i| {
                let (column, row) = (i % IN_A_ROW, i / IN_A_ROW);
                Point2::new(
                    column as f64 * pitch[0] - x[0],
                    -(row as f64) * pitch[1] - y[1],
                )
            })
            .collect();
        let above = BETWEEN;
        Self {
            edges,
            reference: [Point2::new(0.0, above), Point2::new(100.0, above)],
        }
    }
}

fn path(profile: &Profile, at: &Point2<f64>) -> ArcPath {
    let points: Vec<Point2<f64>> = profile.flat.iter().map(|p| p + at.coords).collect();
    let (last, rest) = points
        .split_last()
        .map_or((None, &[][..]), |(l, r)| (Some(*l), r));
    ArcPath {
        pieces: rest
            .iter()
            .map(|p| ArcPiece {
                start: *p,
                bulge: 0.0,
            })
            .collect(),
        end: last,
    }
}

fn crosses(at: &Point2<f64>) -> [[Point2<f64>; 2]; 2] {
    [Vector2::new(CROSS, 0.0), Vector2::new(0.0, CROSS)].map(|v| [at - v, at + v])
}

fn build(pair: &PairPanel, all: &[Profile], sheet: &Layout, unit: DxfUnit) -> String {
    let factor = unit.factor;
    let mut entities = DxfEntities::default();
    let mut extent = [[f64::INFINITY; 2], [f64::NEG_INFINITY; 2]];
    let mut at = |p: &Point2<f64>| {
        let scaled = [p.x * factor, p.y * factor];
        for k in 0..2 {
            extent[0][k] = extent[0][k].min(scaled[k]);
            extent[1][k] = extent[1][k].max(scaled[k]);
        }
        scaled
    };
    for p in all {
        let path = path(p, &sheet.edges[p.section]);
        let starts = path
            .pieces
            .iter()
            .map(|c| &c.start)
            .chain(path.end.as_ref());
        let corners: Vec<_> = starts.map(|p| (at(p), 0.0)).collect();
        entities.polyline(LAYERS[p.of], &corners, false);
    }
    entities.line("REF", sheet.reference.each_ref().map(&mut at));
    for (i, (edge, section)) in sheet.edges.iter().zip(&pair.sections).enumerate() {
        for line in crosses(edge) {
            entities.line("REF", line.each_ref().map(&mut at));
        }
        let words = format!("{}: {}", i + 1, section.place);
        let below = at(&(edge + Vector2::new(CROSS + 1.0, 4.0)));
        entities.words("REF", below, 2.5 * factor, &words);
    }
    let [a, b] = side_names(pair);
    let words = format!("{}, sections: FIRST {a}, SECOND {b}, 100 mm", pair.name);
    let above = at(&(sheet.reference[0] + Vector2::new(0.0, 3.0)));
    entities.words("REF", above, 4.0 * factor, &words);
    entities.file(&DxfHead {
        unit,
        layers: &[("FIRST", 7), ("SECOND", 5), ("REF", 8)],
        extent,
    })
}

fn check(
    pair: &PairPanel,
    all: &[Profile],
    sheet: &Layout,
    unit: DxfUnit,
    read: &DxfShapes,
) -> Result<(), Refused> {
    unit.read_back(read)?;
    let factor = unit.factor;
    if read.paths.len() != all.len() || !read.circles.is_empty() || !read.others.is_empty() {
        return Err(Refused::because(format!(
            "{} profiles were read back of {}",
            read.paths.len(),
            all.len()
        )));
    }
    for (p, (layer, found)) in all.iter().zip(&read.paths) {
        let number = p.section + 1;
        if layer != LAYERS[p.of] {
            return Err(Refused::because(format!(
                "a profile of section {number} stands on {layer}"
            )));
        }
        same_path(
            &path(p, &sheet.edges[p.section]),
            &found.scaled(1.0 / factor),
        )
        .map_err(|why| Refused::because(format!("section {number} did not read back: {why}")))?;
    }
    let wanted = std::iter::once(sheet.reference).chain(sheet.edges.iter().flat_map(crosses));
    if read.lines.len() != 1 + 2 * sheet.edges.len() || read.texts.len() != 1 + pair.sections.len()
    {
        return Err(Refused::because("lines or words are missing"));
    }
    for (wanted, (layer, found)) in wanted.zip(&read.lines) {
        let off = [0, 1]
            .map(|k: usize| (found[k] / factor - wanted[k]).norm())
            .into_iter()
            .fold(0.0, f64::max);
        if layer != "REF" || off.is_nan() || off > TOLERANCE_MM {
            return Err(Refused::because("a line of reference did not read back"));
        }
    }
    let [a, b] = read.lines[0].1;
    if ((b - a).norm() / factor - 100.0).abs() > TOLERANCE_MM {
        return Err(Refused::because("the line of 100 mm did not read back"));
    }
    Ok(())
}

#[cfg(test)]
mod tests;
