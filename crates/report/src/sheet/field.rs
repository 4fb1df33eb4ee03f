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
/// A name whose middle is farther than this from its mark is joined to it by a line, pixels.
const LEADER: f64 = 30.0;
/// Boxes in a row.
const TIMES: usize = 3;

const CAPTION: (f64, u16) = (size::CAPTION, weight::REGULAR);
const NUMBER: (f64, u16) = (size::CAPTION, weight::SEMI_BOLD);

/// The pages of a field sheet, A4 upright, to be printed at any scale.
///
/// Degenerate: a plan without readings has its sketch only.
pub fn field_sheets(plan: &FieldPlan, title: &str) -> Vec<Sheet> {
    let [short, long] = PAPER_MM[0].1;
    let which = side(plan.side);
    let name = if plan.name.to_lowercase().contains(which) {
        capital(&plan.name)
    } else {
        format!("{}, {which}", capital(&plan.name))
    };
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
/// The sketch of a field sheet alone, in `width` x `height`; a heavy line goes along the points of `ends`.
///
/// Degenerate: a plan without points has nothing on it.
pub fn field_sketch(plan: &FieldPlan, [width, height]: [f64; 2], ends: &[&str]) -> Sheet {
    let says = format!("sketch of {}", plan.name);
    let mut sheet = Sheet::empty([width, height], says);
    let Some(at) = laid(plan, [0.0, 0.0, width, height], [0.0, 26.0, 0.0]) else {
        return sheet;
    };
    let named = |n: &str| plan.points.iter().find(|p| p.name == n).map(|p| at(p.at));
    let along: Vec<[f64; 2]> = ends.iter().filter_map(|n| named(n)).collect();
    outline(&mut sheet, plan, &at);
    if along.len() > 1 {
        sheet.path(
            along,
            false,
            Some((Ink::Ink, line::SHEET, Dash::Full)),
            None,
        );
    }
    points(&mut sheet, plan, &at);
    sheet
}

/// How a plan is laid into left, top, right and bottom, with room above, around and for a key at the left; `None` without
/// points.
fn laid(
    plan: &FieldPlan,
    [left, top, right, bottom]: [f64; 4],
    [above, around, key]: [f64; 3],
) -> Option<impl Fn([f64; 2]) -> [f64; 2] + use<>> {
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
        return None;
    }
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
    Some(move |p: [f64; 2]| {
        [
            middle[0] + (p[0] - centre[0]) * scale,
            middle[1] - (p[1] - centre[1]) * scale,
        ]
    })
}

fn sketch(sheet: &mut Sheet, plan: &FieldPlan, [left, top, right, bottom]: [f64; 4]) {
    // Room for names all round, the line above and the key at the left.
    let Some(at) = laid(plan, [left, top, right, bottom], [34.0, 26.0, 140.0]) else {
        return;
    };
    outline(sheet, plan, &at);
    points(sheet, plan, &at);
    key_of(sheet, plan, [left + space::INSIDE, top + 56.0]);
}

fn outline(sheet: &mut Sheet, plan: &FieldPlan, at: &dyn Fn([f64; 2]) -> [f64; 2]) {
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
}

/// The points with their names.
fn points(sheet: &mut Sheet, plan: &FieldPlan, at: &dyn Fn([f64; 2]) -> [f64; 2]) {
    let inside = at(middle_of(&plan.outline));
    let marks: Vec<[f64; 2]> = plan.points.iter().map(|p| at(p.at)).collect();
    let mut taken: Vec<[f64; 4]> = marks
        .iter()
        .map(|[x, y]| [x - 7.0, y - 7.0, x + 7.0, y + 7.0])
        .collect();
    // Names keep clear of the outline as well.
    taken.extend(plan.outline.iter().map(|p| {
        let [x, y] = at(*p);
        [x - 2.5, y - 2.5, x + 2.5, y + 2.5]
    }));
    for (p, mark_at) in plan.points.iter().zip(&marks) {
        let top = is_top(plan, p);
        mark(sheet, p.role, *mark_at, top);
        let name = if top {
            format!("{} top", p.name)
        } else {
            p.name.clone()
        };
        let field = name_field(&name, p.role, *mark_at, inside, &taken);
        taken.push(field);
        let middle = [0, 1].map(|k| f64::midpoint(field[k], field[k + 2]));
        if (middle[0] - mark_at[0]).hypot(middle[1] - mark_at[1]) > LEADER {
            let end = [
                mark_at[0].clamp(field[0], field[2]),
                mark_at[1].clamp(field[1] + 2.0, field[3] - 2.0),
            ];
            sheet.line(&[*mark_at, end], Ink::Ink3, 1.0);
        }
        let place = [middle[0], field[3] - 3.5];
        sheet.text(place, NUMBER, Anchor::Middle, Ink::Ink, name);
    }
}

fn middle_of(points: &[[f64; 2]]) -> [f64; 2] {
    let n = points.len().max(1) as f64;
    [0, 1].map(|k| points.iter().map(|p| p[k]).sum::<f64>() / n)
}

fn is_top(plan: &FieldPlan, p: &PlanPoint) -> bool {
    plan.top
        .as_ref()
        .is_some_and(|t| t.split(' ').any(|n| n == p.name))
}

/// Where a name goes: inside the opening for points of its edge, outside for others, where nothing lies yet; the least
/// covered place if all are taken. Left, upper, right and lower border.
fn name_field(
    name: &str,
    role: PlanRole,
    at: [f64; 2],
    middle: [f64; 2],
    taken: &[[f64; 4]],
) -> [f64; 4] {
    let wide = text_width(name, NUMBER.0, NUMBER.1);
    let d = [at[0] - middle[0], at[1] - middle[1]];
    let far = d[0].hypot(d[1]).max(1.0);
    let inward = if role == PlanRole::Edge { -1.0 } else { 1.0 };
    let first = (inward * d[1] / far).atan2(inward * d[0] / far);
    let field = |turn: f64, more: f64| -> [f64; 4] {
        let (sin, cos) = (first + turn).sin_cos();
        // The middle of the name so far out that the name itself clears the mark.
        let reach = 10.0 + more;
        let x = at[0] + cos * (reach + wide / 2.0);
        let y = at[1] + sin * (reach + 7.0);
        [x - wide / 2.0, y - 7.5, x + wide / 2.0, y + 7.5]
    };
    let covered = |f: &[f64; 4]| -> f64 {
        taken
            .iter()
            .map(|t| {
                let w = (f[2].min(t[2]) - f[0].max(t[0])).max(0.0);
                let h = (f[3].min(t[3]) - f[1].max(t[1])).max(0.0);
                w * h
            })
            .sum()
    };
    let mut best: Option<([f64; 4], f64)> = None;
    for more in [0.0, 6.0, 13.0, 20.0, 27.0] {
        for turn in [0.0, 0.3, -0.3, 0.6, -0.6, 1.0, -1.0] {
            let f = field(turn, more);
            // Near its mark and straight away from it, unless it would be covered there.
            let c = covered(&f) + 4.0 * turn.abs() + 0.8 * more;
            if best.as_ref().is_none_or(|b| c < b.1 - 1e-9) {
                best = Some((f, c));
            }
        }
    }
    best.map_or_else(|| field(0.0, 0.0), |b| b.0)
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

#[cfg(test)]
mod tests {
    use super::super::Item;
    use super::*;

    fn plan(times: u8, count: usize) -> FieldPlan {
        let ring = |k: usize, r: f64| {
            let a = std::f64::consts::TAU * k as f64 / 16.0;
            [r * a.cos(), 0.8 * r * a.sin()]
        };
        let points = (0..16)
            .map(|k| PlanPoint {
                name: format!("{}", k + 1),
                at: ring(k, 100.0),
                role: PlanRole::Edge,
            })
            .chain([PlanPoint {
                name: "P".to_owned(),
                at: [-150.0, 90.0],
                role: PlanRole::Raised,
            }])
            .collect();
        FieldPlan {
            opening: None,
            name: "Lamp opening".to_owned(),
            side: Side::Left,
            outline: (0..16).map(|k| ring(k, 100.0)).collect(),
            measured: true,
            points,
            clockwise: false,
            top: Some("5".to_owned()),
            boxes: (0..count)
                .map(|k| PlanBox {
                    kind: HandKind::Length,
                    from: vec![format!("{}", k % 16 + 1)],
                    to: vec!["P".to_owned()],
                    station: String::new(),
                    times,
                })
                .collect(),
            says: "Leave a box blank if it was not measured.".to_owned(),
        }
    }

    fn texts(sheets: &[Sheet]) -> Vec<String> {
        let items = sheets.iter().flat_map(|s| &s.items);
        items
            .filter_map(|i| match i {
                Item::Text { text, .. } => Some(text.clone()),
                _ => None,
            })
            .collect()
    }

    #[test]
    fn every_reading_has_its_number_and_its_boxes_on_some_page() {
        let sheets = field_sheets(&plan(2, 150), "Coach");
        assert!(sheets.len() > 1);
        let all = texts(&sheets);
        for k in 1..=150 {
            assert!(all.contains(&format!("{k}")), "{k}");
        }
        let asked = sheets
            .iter()
            .flat_map(|s| &s.items)
            .filter(|i| {
                matches!(i, Item::Path { stroke: Some((Ink::Rule, w, Dash::Full)), closed: true, .. } if *w == 1.0)
            })
            .count();
        assert_eq!(asked, 300);
        for s in &sheets {
            for item in &s.items {
                if let Item::Path { points, .. } = item {
                    for p in points {
                        assert!(
                            (0.0..=s.width).contains(&p[0]) && (0.0..=s.height).contains(&p[1])
                        );
                    }
                }
            }
        }
    }

    #[test]
    fn a_plan_without_readings_has_its_sketch() {
        let sheets = field_sheets(&plan(1, 0), "");
        assert_eq!(sheets.len(), 1);
        assert!(texts(&sheets).iter().any(|t| t == "5 top"));
    }

    #[test]
    fn left_and_right_have_the_same_boxes_in_the_same_places() {
        let left = field_sheets(&plan(1, 40), "");
        let mut other = plan(1, 40);
        other.side = Side::Right;
        other.points.iter_mut().for_each(|p| p.at[0] = -p.at[0]);
        other.outline.iter_mut().for_each(|p| p[0] = -p[0]);
        let right = field_sheets(&other, "");
        let boxes = |s: &[Sheet]| -> Vec<Item> {
            let items = s.iter().flat_map(|s| &s.items);
            items
                .filter(|i| matches!(i, Item::Path { stroke: Some((_, w, _)), fill: None, closed: true, .. } if *w == 1.0))
                .cloned()
                .collect()
        };
        assert_eq!(boxes(&left), boxes(&right));
    }
}
