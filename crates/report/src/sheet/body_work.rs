//! Body work drawn: one area that moved, before and after along it; and what of the earlier answer stands, in rows.

use geom::ChangeCell;
use record::{DisplayUnits, Figure, LaidWork, WorkFound, WorkStudy, WorkedArea};

use super::bands::{hatch, inks};
use super::marks::verdict_mark;
use super::sections::scale_bar;
use super::{Anchor, Dash, Sheet, cut, wrapped};
use crate::body_work::{area_short, standing};
use crate::number::{show, show_signed};
use crate::theme::{Ink, line, size, space, text_width, weight};

const CAPTION: (f64, u16) = (size::CAPTION, weight::REGULAR);
const BODY: (f64, u16) = (size::BODY, weight::REGULAR);
const STRONG: (f64, u16) = (size::BODY, weight::SEMI_BOLD);

/// The factors heights may be drawn at; the largest that finds room is taken.
const FACTORS: [f64; 6] = [50.0, 20.0, 10.0, 5.0, 2.0, 1.0];
/// So much of the metal beyond the ends of an area is shown, as a share of its length.
const BEYOND: f64 = 0.45;

/// Mean height of the metal after over that before, by the place along an area: mm along it from its middle, mm outward.
fn along(laid: &LaidWork, number: usize) -> Vec<[f64; 2]> {
    let Some(area) = laid.areas.get(number) else {
        return Vec::new();
    };
    let cell = (laid.patch_mm / 3.0).max(1e-6);
    let half = 0.5 * area.width.value.max(cell);
    let reach = (0.5 + BEYOND) * area.length.value.max(2.0 * cell);
    let across = area.normal.cross(&area.along);
    let beside = |c: &&ChangeCell| {
        let v = c.at - area.centre;
        c.normal.dot(&area.normal) > 0.7
            && v.dot(&across).abs() <= half
            && v.dot(&area.along).abs() <= reach
            && (c.area == Some(number) || c.area.is_none())
    };
    let mut bins: Vec<(i64, f64, f64)> = Vec::new();
    for c in laid.cells.iter().filter(beside) {
        let at = ((c.at - area.centre).dot(&area.along) / cell).round() as i64;
        let weight = c.count as f64;
        match bins.iter_mut().find(|b| b.0 == at) {
            Some(b) => (b.1, b.2) = (b.1 + weight * c.height, b.2 + weight),
            None => bins.push((at, weight * c.height, weight)),
        }
    }
    bins.retain(|b| b.2 > 0.0);
    bins.sort_by_key(|b| b.0);
    bins.iter()
        .map(|(at, sum, weight)| [cell * *at as f64, sum / weight])
        .collect()
}

/// Runs of places without a hole between them; nothing is drawn over what was not seen.
fn runs(points: &[[f64; 2]], cell: f64) -> Vec<&[[f64; 2]]> {
    points.chunk_by(|a, b| b[0] - a[0] < 2.5 * cell).collect()
}

/// An area that moved, in `width` x `height`: the metal before as a straight line, the metal after as it lies over it, heights drawn
/// as many times as large as is written there. The part that is level, the mean, and the length carry their numbers.
///
/// Degenerate: where no such area is, the picture is empty.
pub fn area_profile(
    laid: &LaidWork,
    number: usize,
    units: DisplayUnits,
    [width, height]: [f64; 2],
) -> Sheet {
    let Some(area) = laid.areas.get(number) else {
        return Sheet::empty([width, height], String::new());
    };
    let says = format!(
        "Area {}, drawn along it. {}",
        number + 1,
        area_short(area, units)
    );
    let mut sheet = Sheet::empty([width, height], says);
    let points = along(laid, number);
    let cell = laid.patch_mm / 3.0;
    let reach = (0.5 + BEYOND) * area.length.value.max(2.0 * cell);
    let mm = (width - 2.0 * space::INSIDE - 120.0).max(40.0) / (2.0 * reach);
    let [top, foot] = [56.0, height - 64.0];
    let most = points
        .iter()
        .map(|p| p[1].abs())
        .fold(area.most.value.abs(), f64::max);
    let room = (foot - top - 16.0).max(20.0);
    let fits = |f: &f64| f * mm * most <= 0.8 * room;
    let factor = FACTORS.into_iter().find(fits).unwrap_or(1.0);
    // Before lies high where metal went in, and low where it came out.
    let inward = area.mean.value < 0.0;
    let zero = if inward {
        top + 0.22 * room
    } else {
        foot - 0.22 * room
    };
    let middle = space::INSIDE + mm * reach;
    let px = |p: [f64; 2]| [middle + mm * p[0], zero - mm * factor * p[1]];
    head(&mut sheet, number);
    let class = if inward { -2 } else { 2 };
    let (fill, contour) = inks(class);
    for run in runs(&points, cell) {
        for pair in run.windows(2) {
            let quad = [
                px([pair[0][0], 0.0]),
                px([pair[1][0], 0.0]),
                px(pair[1]),
                px(pair[0]),
            ];
            let deep = pair.iter().map(|p| p[1].abs()).fold(0.0, f64::max);
            if deep < 0.25 * area.most.value.abs() {
                continue;
            }
            sheet.path(quad.to_vec(), true, None, Some(fill));
            if inward {
                hatch(&mut sheet, &quad, contour);
            }
        }
    }
    sheet.line(&[px([-reach, 0.0]), px([reach, 0.0])], Ink::Ink2, 1.0);
    for run in runs(&points, cell) {
        let after: Vec<[f64; 2]> = run.iter().map(|p| px(*p)).collect();
        if after.len() > 1 {
            let stroke = Some((Ink::Ink, line::SIDE, Dash::Full));
            sheet.path(after, false, stroke, None);
        }
    }
    heights(&mut sheet, area, units, (&px, reach, contour));
    let y = if inward { foot + 6.0 } else { top - 4.0 };
    length(&mut sheet, area, units, (&px, y));
    let drawn = "the move is drawn, the metal along it once";
    scale_bar(&mut sheet, mm, (factor, drawn), units);
    sheet
}

/// Which line is what.
fn head(sheet: &mut Sheet, number: usize) {
    let base = space::CAPTION;
    let head = format!("Area {} along its length", number + 1);
    sheet.text([space::INSIDE, base], STRONG, Anchor::Start, Ink::Ink, head);
    let mut x = sheet.width - space::INSIDE;
    for (name, ink, wide) in [("after", Ink::Ink, line::SIDE), ("before", Ink::Ink2, 1.0)] {
        sheet.text([x, base], CAPTION, Anchor::End, Ink::Ink2, name);
        x -= text_width(name, CAPTION.0, CAPTION.1) + 6.0;
        sheet.line(&[[x - 30.0, base - 4.5], [x, base - 4.5]], ink, wide);
        x -= 46.0;
    }
}

type Px<'a> = &'a dyn Fn([f64; 2]) -> [f64; 2];

/// The level part and the mean, each over its stretch, with their numbers at the right.
fn heights(
    sheet: &mut Sheet,
    area: &WorkedArea,
    units: DisplayUnits,
    (px, reach, contour): (Px, f64, Ink),
) {
    let half = 0.5 * area.length.value;
    let right = px([reach, 0.0])[0] + 8.0;
    let mut last = f64::NEG_INFINITY;
    let mut all = [
        ("level part", &area.most, 0.6 * half, Dash::Full),
        ("mean", &area.mean, half, Dash::Minus),
    ];
    all.sort_by(|a, b| b.1.value.total_cmp(&a.1.value));
    for (name, figure, over, dash) in all {
        let from = px([-over, figure.value]);
        let to = px([over, figure.value]);
        let stroke = Some((contour, line::CONTOUR, dash));
        sheet.path(vec![from, to], false, stroke, None);
        // Numbers stand beside each other's lines, never on one another.
        let y = (to[1] + 4.5).max(last + 34.0);
        sheet.line(&[to, [right - 4.0, y - 4.5]], Ink::Ink2, line::LEADER);
        let number = show_signed(figure, units).plus_minus();
        sheet.text([right, y], STRONG, Anchor::Start, contour, number);
        sheet.text([right, y + 15.0], CAPTION, Anchor::Start, Ink::Ink2, name);
        last = y;
    }
}

/// The length between the places where the move falls to half.
fn length(sheet: &mut Sheet, area: &WorkedArea, units: DisplayUnits, (px, y): (Px, f64)) {
    let half = 0.5 * area.length.value;
    let [a, b] = [px([-half, 0.0])[0], px([half, 0.0])[0]];
    sheet.line(&[[a, y], [b, y]], Ink::Ink2, 1.0);
    for (x, seen) in [(a, area.ends_seen[0]), (b, area.ends_seen[0])] {
        let tall = if seen { 5.0 } else { 0.0 };
        sheet.line(&[[x, y - tall], [x, y + tall]], Ink::Ink2, 1.0);
    }
    let size = |f: &Figure, seen: bool| {
        let least = if seen { "" } else { "at least " };
        format!("{least}{}", show(f, units).plus_minus())
    };
    let text = format!(
        "{} long, {} wide",
        size(&area.length, area.ends_seen[0]),
        size(&area.width, area.ends_seen[1])
    );
    let wide = text_width(&text, CAPTION.0, weight::SEMI_BOLD) + 8.0;
    let x = f64::midpoint(a, b);
    sheet.rect(
        [x - wide / 2.0, y - 9.0],
        [wide, 18.0],
        None,
        Some(Ink::Sheet),
    );
    let letter = (size::CAPTION, weight::SEMI_BOLD);
    sheet.text([x, y + 4.5], letter, Anchor::Middle, Ink::Ink, text);
}

/// What of the earlier answer stands, opening by opening, `width` wide and as high as it is: a mark for each verdict.
pub fn work_openings(found: &WorkStudy, work: &WorkFound, width: f64) -> Sheet {
    let mut sheet = Sheet::empty([width, 0.0], String::new());
    let mut said: Vec<String> = Vec::new();
    let mut y = 0.0;
    for (opening, all) in standing(found, work) {
        for (k, stands) in all.iter().enumerate() {
            let lead = if k == 0 && opening.touched {
                STRONG
            } else {
                BODY
            };
            if !stands.lead.is_empty() {
                for text in wrapped(&stands.lead, width, lead.0, lead.1) {
                    y += size::BODY * size::LINE;
                    sheet.text([0.0, y - 4.0], lead, Anchor::Start, Ink::Ink, text);
                }
            }
            if let Some(verdict) = stands.verdict {
                verdict_mark(&mut sheet, verdict, [0.0, y + 4.0], 14.0);
                for text in wrapped(&stands.text, width - 24.0, BODY.0, BODY.1) {
                    y += size::BODY * size::LINE;
                    sheet.text([24.0, y - 4.0], BODY, Anchor::Start, Ink::Ink2, text);
                }
            }
            said.push(format!("{} {}", stands.lead, stands.text).trim().to_owned());
        }
        y += 8.0;
        sheet.line(&[[0.0, y], [width, y]], Ink::Hair, line::HAIR);
        y += 4.0;
    }
    if said.is_empty() {
        y = size::BODY * size::LINE;
        let none = "No opening is named in the scan from before.";
        let none = cut(none, width, BODY.0, BODY.1);
        sheet.text([0.0, y - 4.0], BODY, Anchor::Start, Ink::Ink3, none.clone());
        said.push(none);
    }
    sheet.height = y + 4.0;
    sheet.says = said.join(" ");
    sheet
}
