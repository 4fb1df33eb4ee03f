//! The edge of one side with its angles at true size, to lay on the metal.

use record::{AngleRow, Drawing, Quantity};

use super::foot::title_block;
use super::printed::{BLOCK, BORDER_MM, HEAD, PAPER_MM, PX_PER_MM, caution, job_mark, page};
use super::{Anchor, Dash, Sheet, cut};
use crate::Pair;
use crate::number::{show, show_signed, typed, unit_text};
use crate::theme::{Ink, line, size, space, weight};
use crate::words::{capital, side};

/// Height of a row of the angles, pixels.
const ROW: f64 = 21.0;

/// A drawing at true size on the smallest paper of A4 to A0 that holds it: the cut path, the opening edge, holes, the
/// angles of this side for the bevel, and a bar of 100 mm to check the print by. `None` where there is nothing to draw
/// or it is larger than A0.
pub fn true_size(pair: &Pair, drawing: &Drawing) -> Option<Sheet> {
    let outlines: Vec<Vec<[f64; 2]>> = [&drawing.cut, &drawing.mark]
        .into_iter()
        .map(|p| {
            p.iter()
                .flat_map(|p| p.flattened(1.0, 0.01))
                .map(|q| [q.x, q.y])
                .collect()
        })
        .collect();
    let holes = drawing.holes.iter().map(|h| [h.centre.x, h.centre.y]);
    let all = outlines.iter().flatten().copied().chain(holes);
    let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
    for p in all {
        for k in 0..2 {
            low[k] = low[k].min(p[k]);
            high[k] = high[k].max(p[k]);
        }
    }
    let shape = [high[0] - low[0], high[1] - low[1]];
    if !shape.iter().all(|s| s.is_finite() && *s > 0.0) {
        return None;
    }
    let rows = angles_of(pair, drawing);
    // Around the shape, and below it for the bar, the angles and the title block, mm.
    let below = 34.0 + (rows.len() as f64 * ROW + 40.0) / PX_PER_MM + BLOCK[1] / PX_PER_MM;
    let wanted = [shape[0] + 16.0, shape[1] + 24.0 + HEAD / PX_PER_MM + below];
    let (paper, paper_mm) = PAPER_MM.into_iter().find_map(|(name, [a, b])| {
        [[a, b], [b, a]]
            .into_iter()
            .find(|p| (0..2).all(|k| wanted[k] + 2.0 * BORDER_MM <= p[k]))
            .map(|p| (name, p))
    })?;
    let which = capital(side(drawing.side));
    let name = format!("{}, {}", capital(&drawing.part_name), side(drawing.side));
    let what = format!("true size, {paper}: print at 100 %, then measure the bar");
    let says = format!("{name} at true size");
    let (mut sheet, [left, top, right, bottom]) = page(paper_mm, PX_PER_MM, &says, &name, &what);
    let block_top = bottom - BLOCK[1];
    let table_top = block_top - rows.len() as f64 * ROW - 40.0;
    let space_for = [right - left, table_top - 34.0 * PX_PER_MM - top - HEAD];
    let middle = [
        f64::midpoint(left, right),
        top + HEAD + 8.0 + space_for[1] / 2.0,
    ];
    let centre = [
        f64::midpoint(low[0], high[0]),
        f64::midpoint(low[1], high[1]),
    ];
    let at = |p: [f64; 2]| {
        [
            middle[0] + (p[0] - centre[0]) * PX_PER_MM,
            middle[1] - (p[1] - centre[1]) * PX_PER_MM,
        ]
    };
    shape_at(&mut sheet, drawing, &outlines, &at);
    let highest = outlines
        .iter()
        .flatten()
        .map(|p| p[1])
        .fold(f64::MIN, f64::max);
    let lowest = outlines
        .iter()
        .flatten()
        .map(|p| p[1])
        .fold(f64::MAX, f64::min);
    let inside = [centre[0], f64::midpoint(highest, lowest)];
    let top_mark = [middle[0], at([0.0, highest.min(high[1])])[1] + 34.0];
    sheet.text(
        top_mark,
        (size::CAPTION, weight::SEMI_BOLD),
        Anchor::Middle,
        Ink::Ink2,
        "top",
    );
    sheet.text(
        [middle[0], at(inside)[1] + 6.0],
        (size::HEAD, weight::SEMI_BOLD),
        Anchor::Middle,
        Ink::Ink2,
        format!("{which}, seen from outside"),
    );
    bar(
        &mut sheet,
        [left + space::INSIDE, table_top - 16.0 * PX_PER_MM],
    );
    key(
        &mut sheet,
        drawing,
        [right - space::INSIDE, table_top - 16.0 * PX_PER_MM],
    );
    sheet.line(
        &[[left, table_top], [right, table_top]],
        Ink::Rule,
        line::FIELD,
    );
    ladder(&mut sheet, pair, &rows, [left, table_top, right]);
    sheet.line(
        &[[left, block_top], [right, block_top]],
        Ink::Rule,
        line::FIELD,
    );
    caution(&mut sheet, [left, block_top], right - left - BLOCK[0]);
    let how = pair.choice_word(drawing.option);
    let how = if drawing.chosen {
        how
    } else {
        "drawn to its own side".to_owned()
    };
    let gap = typed(drawing.inset_mm, Quantity::Length, pair.study.units);
    let cells = [
        ("Scale", "1 : 1".to_owned()),
        ("Drawn", how),
        ("Job", job_mark(pair)),
        ("Side", side(drawing.side).to_owned()),
        (
            "Cut inside edge",
            format!("{gap}{}", unit_text(Quantity::Length, pair.study.units)),
        ),
        ("Shape of", drawing.shape_of.0.clone()),
    ];
    sheet.put(title_block(&cells, BLOCK), [right - BLOCK[0], block_top]);
    Some(sheet)
}

/// The cut path, the opening edge and the holes.
fn shape_at(
    sheet: &mut Sheet,
    drawing: &Drawing,
    outlines: &[Vec<[f64; 2]>],
    at: &dyn Fn([f64; 2]) -> [f64; 2],
) {
    let strokes = [
        (Ink::Ink, 1.0, Dash::Full),
        (Ink::Ink2, line::HAIR, Dash::Hidden),
    ];
    let paths = [&drawing.cut, &drawing.mark];
    for ((points, stroke), path) in outlines.iter().zip(strokes).zip(paths) {
        let closed = path.as_ref().is_some_and(geom::ArcPath::is_closed);
        if !points.is_empty() {
            let points = points.iter().map(|p| at(*p)).collect();
            sheet.path(points, closed, Some(stroke), None);
        }
    }
    for hole in &drawing.holes {
        let middle = [hole.centre.x, hole.centre.y];
        for (diameter, stroke) in [
            (hole.cut_diameter_mm, strokes[0]),
            (Some(hole.body_diameter_mm), strokes[1]),
        ] {
            let Some(diameter) = diameter else { continue };
            let round = (0..72)
                .map(|i| {
                    let a = std::f64::consts::TAU * f64::from(i) / 72.0;
                    at([
                        middle[0] + diameter / 2.0 * a.cos(),
                        middle[1] + diameter / 2.0 * a.sin(),
                    ])
                })
                .collect();
            sheet.path(round, true, Some(stroke), None);
        }
        let reach = hole.body_diameter_mm / 2.0 + 3.0;
        for d in [[reach, 0.0], [0.0, reach]] {
            let ends = [-1.0, 1.0].map(|s| at([middle[0] + s * d[0], middle[1] + s * d[1]]));
            sheet.path(
                ends.to_vec(),
                false,
                Some((Ink::Ink2, line::LEADER, Dash::Chain)),
                None,
            );
        }
    }
}

/// A bar of 100 mm with a tick every 10.
fn bar(sheet: &mut Sheet, [x, y]: [f64; 2]) {
    let end = x + 100.0 * PX_PER_MM;
    sheet.line(&[[x, y], [end, y]], Ink::Ink, 1.0);
    for i in 0..=10 {
        let tick = x + f64::from(i) * 10.0 * PX_PER_MM;
        let high = if i % 5 == 0 { 10.0 } else { 6.0 };
        sheet.line(&[[tick, y], [tick, y - high]], Ink::Ink, 1.0);
    }
    for (place, text) in [(x, "0"), (f64::midpoint(x, end), "50"), (end, "100 mm")] {
        sheet.text(
            [place, y - 16.0],
            (size::CAPTION, weight::MEDIUM),
            Anchor::Middle,
            Ink::Ink,
            text,
        );
    }
    sheet.text(
        [x, y + 18.0],
        (size::CAPTION, weight::REGULAR),
        Anchor::Start,
        Ink::Ink2,
        "Measure this bar: if it is not 100 mm, the print is not true.",
    );
}

/// What the lines are.
fn key(sheet: &mut Sheet, drawing: &Drawing, [x, y]: [f64; 2]) {
    let lines = [
        (drawing.cut.is_some(), Dash::Full, Ink::Ink, "to cut"),
        (
            drawing.mark.is_some(),
            Dash::Hidden,
            Ink::Ink2,
            "opening edge",
        ),
    ];
    for (i, (_, dash, ink, text)) in lines.into_iter().filter(|l| l.0).enumerate() {
        let y = y - 16.0 + 20.0 * i as f64;
        sheet.text(
            [x, y],
            (size::CAPTION, weight::REGULAR),
            Anchor::End,
            Ink::Ink2,
            text,
        );
        sheet.path(
            vec![[x - 130.0, y - 4.0], [x - 96.0, y - 4.0]],
            false,
            Some((ink, 1.0, dash)),
            None,
        );
    }
}

/// Rungs with an angle of the side that is drawn.
fn angles_of<'a>(pair: &Pair<'a>, drawing: &Drawing) -> Vec<&'a AngleRow> {
    let on_b = is_b(pair, drawing);
    pair.measured
        .angles
        .iter()
        .filter(|r| if on_b { r.b.is_some() } else { r.a.is_some() })
        .collect()
}

/// Whether the drawing is for the second side.
fn is_b(pair: &Pair, drawing: &Drawing) -> bool {
    drawing.side == pair.measured.sides[1] && drawing.side != pair.measured.sides[0]
}

/// The angles of the side, for the bevel.
fn ladder(sheet: &mut Sheet, pair: &Pair, rows: &[&AngleRow], [left, top, right]: [f64; 3]) {
    let base = top + space::CAPTION;
    let head = (size::CAPTION, weight::SEMI_BOLD);
    let x = left + space::INSIDE;
    if rows.is_empty() {
        let says = "No junction was measured here: there is no angle to set.";
        let plain = (size::CAPTION, weight::REGULAR);
        sheet.text([x, base], plain, Anchor::Start, Ink::Ink2, says);
        return;
    }
    let columns =
        [x + 180.0, x + 390.0, x + 510.0, x + 640.0].map(|c| c.min(right - space::INSIDE));
    sheet.text(
        [x, base],
        head,
        Anchor::Start,
        Ink::Ink2,
        "Set your bevel to",
    );
    let through = match rows[0].through {
        record::Through::Material => "through the metal",
        record::Through::Air => "through the air",
    };
    sheet.text([columns[0], base], head, Anchor::Start, Ink::Ink2, through);
    let heads = [pair.a_word(), pair.b_word(), "difference".to_owned()];
    for (column, text) in columns[1..].iter().zip(heads) {
        sheet.text([*column, base], head, Anchor::End, Ink::Ink2, text);
    }
    let units = pair.study.units;
    for (i, row) in rows.iter().enumerate() {
        let y = base + ROW * (i + 1) as f64;
        let body = (size::BODY, weight::MEDIUM);
        let name = cut(&row.junction.0, 180.0, size::BODY, weight::REGULAR);
        sheet.text(
            [x, y],
            (size::BODY, weight::REGULAR),
            Anchor::Start,
            Ink::Ink,
            name,
        );
        sheet.text(
            [columns[0], y],
            (size::BODY, weight::REGULAR),
            Anchor::Start,
            Ink::Ink,
            row.place.clone(),
        );
        let cells = [
            row.a.map(|f| (Ink::Left, show(&f, units))),
            row.b.map(|f| (Ink::Right, show(&f, units))),
            row.difference.map(|f| (Ink::Ink, show_signed(&f, units))),
        ];
        for (column, cell) in columns[1..].iter().zip(cells) {
            if let Some((ink, shown)) = cell {
                sheet.text([*column, y], body, Anchor::End, ink, shown.plus_minus());
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sheet::{Item, pdf_bytes, printed_pair};
    use crate::testing::{lamp, study};
    use geom::{ArcPath, Point, Vector, bulge_of};
    use record::{DrawnHole, HoleKind, OptionKind, Side};

    fn drawing(width: f64) -> Drawing {
        let half = width / 2.0;
        let round = bulge_of(std::f64::consts::PI);
        let outline = |r: f64| ArcPath::closed([([-r, 0.0], round), ([r, 0.0], round)]);
        Drawing {
            compare: "lamp".into(),
            part: "lamp".into(),
            part_name: "Lamp surround".into(),
            side: Side::Right,
            option: OptionKind::TwoHands,
            chosen: false,
            shape_of: "lamp right".into(),
            mirrored: false,
            inset_mm: 3.0,
            cut: Some(outline(half - 3.0)),
            mark: Some(outline(half)),
            mark_error_mm: 0.05,
            edge: Vec::new(),
            edge_closed: true,
            holes: vec![DrawnHole {
                id: "H1".into(),
                kind: HoleKind::Hole,
                centre: Point::new(0.0, half + 8.0, 0.0),
                axis: Vector::z_axis(),
                body_diameter_mm: 5.0,
                cut_diameter_mm: Some(6.0),
                slot: None,
            }],
            junctions: Vec::new(),
            faces: Vec::new(),
            stations: Vec::new(),
            reference: [[-50.0, 0.0], [50.0, 0.0]],
            findings: Vec::new(),
        }
    }

    fn texts(sheet: &Sheet) -> String {
        let text = |i: &Item| match i {
            Item::Text { text, .. } => Some(text.clone()),
            _ => None,
        };
        let all: Vec<String> = sheet.items.iter().filter_map(text).collect();
        all.join("\n")
    }

    #[test]
    fn a_page_is_a_page_of_paper_and_everything_lies_on_it() {
        let study = study(vec![lamp()]);
        let pair = Pair::all(&study)[0];
        let sheets = [
            printed_pair(&pair),
            true_size(&pair, &drawing(120.0)).unwrap(),
        ];
        for (sheet, paper) in sheets.iter().zip([[297.0, 210.0], [210.0, 297.0]]) {
            assert!((sheet.width - paper[0] * PX_PER_MM).abs() < 1e-9);
            assert!((sheet.height - paper[1] * PX_PER_MM).abs() < 1e-9);
            for item in &sheet.items {
                let (at, far) = match item {
                    Item::Path { points, .. } => (points.clone(), 0.0),
                    Item::Disc { at, radius, .. } => (vec![*at], *radius),
                    Item::Text {
                        at,
                        size,
                        weight,
                        anchor,
                        text,
                        ..
                    } => {
                        let wide = crate::theme::text_width(text, *size, *weight);
                        let from = match anchor {
                            Anchor::Start => at[0],
                            Anchor::Middle => at[0] - wide / 2.0,
                            Anchor::End => at[0] - wide,
                        };
                        (vec![[from, at[1]], [from + wide, at[1]]], 0.0)
                    }
                };
                for [x, y] in at {
                    let inside = (far..=sheet.width - far).contains(&x)
                        && (far..=sheet.height - far).contains(&y);
                    assert!(inside, "{item:?}");
                }
            }
        }
        assert!(pdf_bytes(&sheets, "Lamp").starts_with(b"%PDF"));
    }

    #[test]
    fn shapes_and_the_bar_are_as_long_on_paper_as_they_are() {
        let study = study(vec![lamp()]);
        let sheet = true_size(&Pair::all(&study)[0], &drawing(120.0)).unwrap();
        let widths: Vec<f64> = sheet
            .items
            .iter()
            .filter_map(|i| match i {
                Item::Path { points, .. } => {
                    let x = points.iter().map(|p| p[0]);
                    Some(x.clone().fold(f64::MIN, f64::max) - x.fold(f64::MAX, f64::min))
                }
                _ => None,
            })
            .map(|px| px / PX_PER_MM)
            .collect();
        for wanted in [120.0, 114.0, 100.0] {
            assert!(
                widths.iter().any(|w| (w - wanted).abs() < 0.02),
                "{wanted} mm is missing in {widths:?}"
            );
        }
        let said = texts(&sheet);
        for wanted in ["100 mm", "1 : 1", "Right, seen from outside", "90.4° ±0.2"] {
            assert!(said.contains(wanted), "{wanted} is missing in {said}");
        }
    }

    #[test]
    fn larger_shapes_take_larger_paper_and_what_no_paper_holds_is_left_out() {
        let study = study(vec![lamp()]);
        let pair = Pair::all(&study)[0];
        let sheet = true_size(&pair, &drawing(400.0)).unwrap();
        assert!(sheet.width > 420.0 * PX_PER_MM - 1.0);
        assert!(true_size(&pair, &drawing(1500.0)).is_none());
        let mut nothing = drawing(100.0);
        (nothing.cut, nothing.mark) = (None, None);
        nothing.holes.clear();
        assert!(true_size(&pair, &nothing).is_none());
    }
}
