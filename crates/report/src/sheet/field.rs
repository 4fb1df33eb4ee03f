//! The field sheet: a sketch with the names of the points, and a numbered empty box for every reading.

use record::{FieldPlan, HandKind, PlanBox, PlanPoint, PlanRole, Side};

use super::printed::{HEAD, PAPER_MM, PX_PER_MM, page};
use super::{Anchor, Dash, Sheet, cut, wrapped};
use crate::theme::{Ink, line, size, space, text_width, weight};
use crate::words::{capital, side};

/// Height of a row of boxes, mm: what a pencil needs on the bonnet of a car.
const ROW_MM: f64 = 7.6;
/// Width of an empty box, mm: "16 27/64" by hand.
const BOX_MM: f64 = 19.0;
/// Width of the number of a row, mm.
const NUMBER_MM: f64 = 8.5;
/// Height of the sketch, mm.
const SKETCH_MM: f64 = 118.0;
/// Heights of the lines to fill in at the head of the first page, mm.
const LINES_MM: f64 = 22.0;
/// Boxes in a row.
const TIMES: usize = 3;

const CAPTION: (f64, u16) = (size::CAPTION, weight::REGULAR);
const NUMBER: (f64, u16) = (size::CAPTION, weight::SEMI_BOLD);

/// The pages of a field sheet, A4 upright, to be printed at any scale.
///
/// Degenerate: a plan without readings has its sketch only.
pub fn field_sheets(plan: &FieldPlan, title: &str) -> Vec<Sheet> {
    let [short, long] = PAPER_MM[0].1;
    let name = format!("{}, {}", capital(&plan.name), side(plan.side));
    let rows_in = |room: f64| ((room / PX_PER_MM / ROW_MM).floor() as usize).saturating_sub(1);
    let mut pages = Vec::new();
    let mut left_over: &[PlanBox] = &plan.boxes;
    let mut number = 1;
    loop {
        let first = pages.is_empty();
        let says = format!("field sheet, {name}, page {}", pages.len() + 1);
        let what = if title.is_empty() {
            "field sheet".to_owned()
        } else {
            format!("field sheet · {title}")
        };
        let (mut sheet, [left, top, right, bottom]) =
            page([short, long], PX_PER_MM, &says, &name, &what);
        let mut at = top + HEAD;
        if first {
            at = lines(&mut sheet, plan, [left, at, right]);
            sketch(
                &mut sheet,
                plan,
                [left, at, right, at + SKETCH_MM * PX_PER_MM],
            );
            at += SKETCH_MM * PX_PER_MM;
            sheet.line(&[[left, at], [right, at]], Ink::Rule, line::FIELD);
        }
        at += 2.0 * space::UNIT;
        let foot = bottom - 8.0 * PX_PER_MM;
        let per_column = rows_in(foot - at).max(1);
        let middle = f64::midpoint(left, right);
        for (from, to) in [(left, middle), (middle, right)] {
            let take = per_column.min(left_over.len());
            let (now, rest) = left_over.split_at(take);
            column(&mut sheet, now, number, [from, at, to]);
            number += take;
            left_over = rest;
        }
        foot_line(&mut sheet, plan, pages.len() + 1, [left, bottom, right]);
        pages.push(sheet);
        if left_over.is_empty() {
            break;
        }
    }
    pages
}

/// What is written down before anything is measured.
fn lines(sheet: &mut Sheet, plan: &FieldPlan, [left, top, right]: [f64; 3]) -> f64 {
    let cells: [&[(&str, f64)]; 2] = [
        &[
            ("Date", 0.22),
            ("Measured by", 0.3),
            ("Car", 0.26),
            ("Temperature", 0.22),
        ],
        &[
            ("Tape", 0.22),
            ("Protractor", 0.3),
            ("On mounts or stands", 0.26),
            ("Bare, primed, painted", 0.22),
        ],
    ];
    let tall = LINES_MM * PX_PER_MM / 2.0;
    for (row, cells) in cells.iter().enumerate() {
        let y = top + row as f64 * tall;
        let mut x = left;
        for (head, share) in *cells {
            let wide = (right - left) * share;
            sheet.rect(
                [x, y],
                [wide, tall],
                Some((Ink::Hair, 1.0, Dash::Full)),
                None,
            );
            sheet.text(
                [x + 6.0, y + 15.0],
                CAPTION,
                Anchor::Start,
                Ink::Ink2,
                *head,
            );
            x += wide;
        }
    }
    let at = top + 2.0 * tall;
    sheet.line(&[[left, at], [right, at]], Ink::Rule, line::FIELD);
    for (i, text) in wrapped(
        &plan.says,
        right - left - 2.0 * space::INSIDE,
        CAPTION.0,
        CAPTION.1,
    )
    .into_iter()
    .enumerate()
    {
        let y = at + space::CAPTION + 18.0 * i as f64;
        sheet.text(
            [left + space::INSIDE, y],
            CAPTION,
            Anchor::Start,
            Ink::Ink,
            text,
        );
    }
    at
}

fn ink_of(plan: &FieldPlan) -> (Ink, Dash) {
    match plan.side {
        Side::Right => (Ink::Right, Dash::Right),
        Side::Left | Side::Centre | Side::NotSaid => (Ink::Left, Dash::Full),
    }
}

/// The opening with its points by name.
fn sketch(sheet: &mut Sheet, plan: &FieldPlan, [left, top, right, bottom]: [f64; 4]) {
    let all: Vec<[f64; 2]> = plan
        .outline
        .iter()
        .copied()
        .chain(plan.points.iter().map(|p| p.at))
        .collect();
    let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
    for p in &all {
        for k in 0..2 {
            low[k] = low[k].min(p[k]);
            high[k] = high[k].max(p[k]);
        }
    }
    if all.is_empty() {
        return;
    }
    // Room for names all round, the line above and the key at the left.
    let (above, around, key) = (46.0, 30.0, 150.0);
    let room = [
        right - left - key - 2.0 * around,
        bottom - top - above - 2.0 * around,
    ];
    let scale = (0..2)
        .map(|k| room[k] / (high[k] - low[k]).max(1.0))
        .fold(f64::INFINITY, f64::min);
    let middle = [
        left + key + around + room[0] / 2.0,
        top + above + around + room[1] / 2.0,
    ];
    let centre = [
        f64::midpoint(low[0], high[0]),
        f64::midpoint(low[1], high[1]),
    ];
    let at = |p: [f64; 2]| {
        [
            middle[0] + (p[0] - centre[0]) * scale,
            middle[1] - (p[1] - centre[1]) * scale,
        ]
    };
    let (ink, dash) = ink_of(plan);
    sheet.path(
        plan.outline.iter().map(|p| at(*p)).collect(),
        true,
        Some((ink, line::SHEET, dash)),
        Some(Ink::Field),
    );
    let inside = at(middle_of(&plan.outline));
    sheet.text(
        [inside[0], inside[1] - 4.0],
        (size::HEAD, weight::SEMI_BOLD),
        Anchor::Middle,
        Ink::Ink2,
        capital(side(plan.side)),
    );
    sheet.text(
        [inside[0], inside[1] + 16.0],
        CAPTION,
        Anchor::Middle,
        Ink::Ink2,
        "seen from outside",
    );
    for p in &plan.points {
        point(sheet, plan, p, at(p.at), inside);
    }
    key_of(sheet, plan, [left + space::INSIDE, top + above + 10.0]);
}

fn middle_of(points: &[[f64; 2]]) -> [f64; 2] {
    let n = points.len().max(1) as f64;
    [0, 1].map(|k| points.iter().map(|p| p[k]).sum::<f64>() / n)
}

/// A mark with its name, the name away from the middle of the opening for the marks, towards it for the edge.
fn point(sheet: &mut Sheet, plan: &FieldPlan, p: &PlanPoint, at: [f64; 2], middle: [f64; 2]) {
    let top = plan
        .top
        .as_ref()
        .is_some_and(|t| t.split(' ').any(|n| n == p.name));
    mark(sheet, p.role, at, top);
    let d = [at[0] - middle[0], at[1] - middle[1]];
    let far = d[0].hypot(d[1]).max(1.0);
    let away: f64 = if p.role == PlanRole::Edge {
        -17.0
    } else {
        18.0
    };
    let name = if top {
        format!("{} top", p.name)
    } else {
        p.name.clone()
    };
    // A long name beside its mark must not lie over it.
    let sideways =
        (text_width(&name, NUMBER.0, NUMBER.1) / 2.0 - 8.0).max(0.0) * (d[0] / far).abs();
    let reach = away + sideways * away.signum();
    let place = [at[0] + d[0] / far * reach, at[1] + d[1] / far * away + 4.5];
    sheet.text(place, NUMBER, Anchor::Middle, Ink::Ink, name);
}

fn mark(sheet: &mut Sheet, role: PlanRole, at: [f64; 2], top: bool) {
    let [x, y] = at;
    let stroke = Some((Ink::Ink, 1.5, Dash::Full));
    match role {
        PlanRole::Edge => {
            sheet.disc(at, if top { 5.5 } else { 4.0 }, Ink::Ink);
        }
        PlanRole::Hole => {
            let ring = |r: f64| -> Vec<[f64; 2]> {
                (0..24)
                    .map(|k| {
                        let a = std::f64::consts::TAU * f64::from(k) / 24.0;
                        [x + r * a.cos(), y + r * a.sin()]
                    })
                    .collect()
            };
            sheet.path(ring(6.0), true, stroke, Some(Ink::Sheet));
        }
        PlanRole::Panel => {
            sheet.line(&[[x - 6.0, y], [x + 6.0, y]], Ink::Ink, 1.5);
            sheet.line(&[[x, y - 6.0], [x, y + 6.0]], Ink::Ink, 1.5);
        }
        PlanRole::Raised => {
            let corners = vec![[x, y - 7.0], [x + 6.5, y + 5.0], [x - 6.5, y + 5.0]];
            sheet.path(corners, true, stroke, Some(Ink::Sheet));
        }
    }
}

fn key_of(sheet: &mut Sheet, plan: &FieldPlan, [x, mut y]: [f64; 2]) {
    let has = |r: PlanRole| plan.points.iter().any(|p| p.role == r);
    for (role, words) in [
        (PlanRole::Edge, "on the edge"),
        (PlanRole::Hole, "middle of a hole"),
        (PlanRole::Panel, "mark on the panel"),
        (PlanRole::Raised, "mark raised off it"),
    ] {
        if has(role) {
            mark(sheet, role, [x + 7.0, y - 4.0], false);
            sheet.text([x + 22.0, y], CAPTION, Anchor::Start, Ink::Ink2, words);
            y += 22.0;
        }
    }
    let way = if plan.clockwise {
        "edge runs clockwise"
    } else {
        "edge runs counter-clockwise"
    };
    let shape = if plan.measured {
        "drawn as measured"
    } else {
        "any opening: move the points to corners and ends of straights"
    };
    for text in [way, shape] {
        for l in wrapped(text, 132.0, CAPTION.0, CAPTION.1) {
            sheet.text([x, y], CAPTION, Anchor::Start, Ink::Ink2, l);
            y += 18.0;
        }
        y += 4.0;
    }
}

/// A column of numbered rows, with a head.
fn column(sheet: &mut Sheet, boxes: &[PlanBox], first: usize, [from, top, to]: [f64; 3]) {
    if boxes.is_empty() {
        return;
    }
    let mm = |v: f64| v * PX_PER_MM;
    let wide = mm(BOX_MM);
    let boxes_at = to - space::INSIDE - TIMES as f64 * wide;
    let words_at = from + space::INSIDE + mm(NUMBER_MM);
    let head = top + mm(ROW_MM) - 8.0;
    for (k, text) in ["1st", "2nd", "3rd"].into_iter().enumerate() {
        let x = boxes_at + (k as f64 + 0.5) * wide;
        sheet.text([x, head], CAPTION, Anchor::Middle, Ink::Ink2, text);
    }
    sheet.text(
        [words_at, head],
        CAPTION,
        Anchor::Start,
        Ink::Ink2,
        "from, to",
    );
    for (i, b) in boxes.iter().enumerate() {
        let y = top + mm(ROW_MM) * (i as f64 + 1.0);
        let base = y + mm(ROW_MM) / 2.0 + 4.5;
        let number = format!("{}", first + i);
        let at = [from + space::INSIDE + mm(NUMBER_MM) - 8.0, base];
        sheet.text(at, NUMBER, Anchor::End, Ink::Ink2, number);
        let words = cut(
            &row_words(b),
            boxes_at - words_at - 6.0,
            size::BODY,
            weight::MEDIUM,
        );
        sheet.text(
            [words_at, base],
            (size::BODY, weight::MEDIUM),
            Anchor::Start,
            Ink::Ink,
            words,
        );
        for k in 0..TIMES {
            let x = boxes_at + k as f64 * wide;
            let asked = k < usize::from(b.times);
            let stroke = if asked {
                (Ink::Rule, 1.0, Dash::Full)
            } else {
                (Ink::Hair, 1.0, Dash::Dotted)
            };
            sheet.rect(
                [x + 1.0, y + 1.0],
                [wide - 2.0, mm(ROW_MM) - 2.0],
                Some(stroke),
                None,
            );
        }
    }
}

/// What a row asks for.
fn row_words(b: &PlanBox) -> String {
    let from = b.from.join(" ");
    let to = b.to.join(" ");
    match b.kind {
        HandKind::Length => format!("{from} – {to}"),
        HandKind::Hole | HandKind::Stud => format!("⌀ {from}"),
        HandKind::Angle => format!("∠ {from}, {}", b.station),
        kind if to.is_empty() => format!("{} {from} {}", kind.word(), b.station),
        kind => format!("{} {from} – {to}", kind.word()),
    }
}

fn foot_line(sheet: &mut Sheet, plan: &FieldPlan, number: usize, [left, bottom, right]: [f64; 3]) {
    let y = bottom - 3.0 * PX_PER_MM;
    let text = format!(
        "Lengths in mm, or in inches with the fraction; angles in degrees. Left and right as seated facing forward.   {}, page {number}",
        side(plan.side)
    );
    let room = right - left - 2.0 * space::INSIDE;
    let text = cut(&text, room, CAPTION.0, CAPTION.1);
    sheet.text(
        [left + space::INSIDE, y],
        CAPTION,
        Anchor::Start,
        Ink::Ink2,
        text,
    );
}
