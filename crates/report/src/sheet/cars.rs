//! Parts of one car in the openings of another, drawn: the verdicts in rows, and one edge laid on the other.

use geom::Point;
use record::{CarsStudy, CompareId, LengthDisplay, PairStation};

use super::book::{allowed_band, gap_numbers, hole_mark};
use super::marks::verdict_mark;
use super::page::PageView;
use super::{Anchor, Dash, Hit, Sheet, cut};
use crate::Pair;
use crate::cars::{by_part, row_text};
use crate::theme::{Ink, line, size, space, text_width, weight};
use crate::words::capital;

const CAPTION: (f64, u16) = (size::CAPTION, weight::REGULAR);
const HEAD: (f64, u16) = (size::HEAD, weight::SEMI_BOLD);
const BODY: (f64, u16) = (size::BODY, weight::REGULAR);
const STRONG: (f64, u16) = (size::BODY, weight::SEMI_BOLD);

/// Height of a row.
const ROW: f64 = 30.0;

/// What was tried, part by part, `width` wide and as high as it is. Each row can be pressed ([`Hit::Pair`]); `chosen` stands out.
pub fn cars_list(cars: &CarsStudy, chosen: Option<&CompareId>, width: f64) -> Sheet {
    let mut sheet = Sheet::empty([width, 0.0], String::new());
    let mut y = 0.0;
    let mut part = None;
    for (fit, pair, text) in by_part(cars) {
        if part != Some(&fit.part) {
            y += if part.is_some() { 12.0 } else { 0.0 } + size::BODY * size::LINE;
            let name = cut(&capital(pair.title()), width, STRONG.0, STRONG.1);
            sheet.text([0.0, y - 4.0], STRONG, Anchor::Start, Ink::Ink, name);
        }
        part = Some(&fit.part);
        let on = chosen == Some(&fit.compare);
        let ground = on.then_some(Ink::Pick);
        sheet.rect([-8.0, y], [width + 16.0, ROW], None, ground);
        sheet.named(Hit::Pair(fit.compare.clone()));
        verdict_mark(&mut sheet, text.verdict, [0.0, y + 8.0], 14.0);
        let base = y + ROW / 2.0 + 5.0;
        let [what, verdict] = row_text(fit, &pair, &text);
        let letter = if on { STRONG } else { BODY };
        let wide = text_width(&verdict, letter.0, letter.1);
        sheet.text([width, base], letter, Anchor::End, Ink::Ink, verdict);
        let what = cut(&what, width - 24.0 - wide - 12.0, letter.0, letter.1);
        sheet.text([24.0, base], letter, Anchor::Start, Ink::Ink, what);
        y += ROW;
        sheet.line(&[[0.0, y], [width, y]], Ink::Hair, line::HAIR);
    }
    sheet.height = y + 4.0;
    sheet
}

/// The edge of the opening a part was drawn to as a thin line, the edge of the one it is tried in as a heavy one laid on it, in
/// `width` x `height`; the difference is drawn `factor` times as large, and what is allowed stands about the thin one at the
/// same factor. `names`: what the two are called.
///
/// Degenerate: where one of them has no edge, a line says so.
pub fn edges_laid(
    pair: &Pair,
    names: &[String; 2],
    factor: f64,
    [width, height]: [f64; 2],
) -> Sheet {
    let says = format!(
        "{}: drawn for {}, thin; {}, heavy, the difference ×{factor:.0}",
        capital(pair.title()),
        names[0],
        names[1]
    );
    let mut sheet = Sheet::empty([width, height], says);
    legend(&mut sheet, names);
    let measured = pair.measured;
    let all = &measured.stations;
    let mut seen: Vec<Point> = measured.a_curve.clone();
    seen.extend(all.iter().flat_map(|s| [s.a, s.a + (s.b - s.a) * factor]));
    seen.extend(measured.holes.iter().flat_map(|h| [h.a, h.b]));
    let page = [[0.0, 26.0], [width, height - 56.0]];
    let page = PageView::fitted(&seen, page, [52.0, 30.0]).filter(|_| !all.is_empty());
    let Some(page) = page else {
        let at = [width / 2.0, height / 2.0];
        let says = "No edge to lay on the other.";
        sheet.text(at, BODY, Anchor::Middle, Ink::Ink3, says);
        return sheet;
    };
    let enlarged = |s: &PairStation| s.a + (s.b - s.a) * factor;
    let first: Vec<[f64; 2]> = all.iter().map(|s| page.at(&s.a)).collect();
    let second: Vec<[f64; 2]> = all.iter().map(|s| page.at(&enlarged(s))).collect();
    let closed = measured.closed;
    allowed_band(&mut sheet, pair, page, factor);
    sheet.path(first, closed, Some((Ink::Ink2, 1.0, Dash::Full)), None);
    sheet.path(
        second,
        closed,
        Some((Ink::Ink, line::SIDE, Dash::Full)),
        None,
    );
    for h in &measured.holes {
        let radius = |d: &record::Figure| 0.5 * d.value * page.scale;
        hole_mark(
            &mut sheet,
            page.at(&h.a),
            radius(&h.a_diameter),
            Ink::Ink2,
            Dash::Full,
        );
        let at = h.a + (h.b - h.a) * factor;
        hole_mark(
            &mut sheet,
            page.at(&at),
            radius(&h.b_diameter),
            Ink::Ink,
            Dash::Full,
        );
    }
    gap_numbers(&mut sheet, pair, page, &enlarged);
    foot(&mut sheet, page.scale, factor, pair);
    sheet
}

fn legend(sheet: &mut Sheet, names: &[String; 2]) {
    let base = space::CAPTION;
    let mut x = space::INSIDE;
    for (name, ink, wide) in [
        (format!("drawn for {}", names[0]), Ink::Ink2, 1.0),
        (names[1].clone(), Ink::Ink, line::SIDE),
    ] {
        sheet.line(&[[x, base - 4.5], [x + 30.0, base - 4.5]], ink, wide);
        x += 36.0;
        let name = cut(&name, sheet.width - x - space::INSIDE, CAPTION.0, CAPTION.1);
        let wide = text_width(&name, CAPTION.0, CAPTION.1);
        sheet.text([x, base], CAPTION, Anchor::Start, Ink::Ink2, name);
        x += wide + 20.0;
    }
}

/// How large a millimetre of difference is drawn, and by how many times.
fn foot(sheet: &mut Sheet, scale: f64, factor: f64, pair: &Pair) {
    let y = sheet.height - 14.0;
    let (bar, says) = match pair.study.units.length {
        LengthDisplay::Millimetre => (1.0, "1 mm of difference; shaded: what you allow"),
        LengthDisplay::Inch => (1.27, "0.05 in of difference; shaded: what you allow"),
    };
    let x = space::INSIDE;
    let to = x + bar * scale * factor;
    for (a, b) in [
        ([x, y - 4.0], [to, y - 4.0]),
        ([x, y - 9.0], [x, y + 1.0]),
        ([to, y - 9.0], [to, y + 1.0]),
    ] {
        sheet.line(&[a, b], Ink::Ink2, 1.0);
    }
    let times = format!("×{factor:.0}");
    let end = sheet.width - space::INSIDE;
    let room = end - to - 8.0 - text_width(&times, HEAD.0, HEAD.1) - 12.0;
    let says = cut(says, room, CAPTION.0, CAPTION.1);
    sheet.text([to + 8.0, y], CAPTION, Anchor::Start, Ink::Ink2, says);
    sheet.text([end, y + 1.0], HEAD, Anchor::End, Ink::Ink, times);
}
