//! The plan: the body from above, nose up, with every part where it is known to sit; the others stand below.

use record::{OptionKind, Side, Verdict};

use super::marks::verdict_mark;
use super::{Anchor, Dash, Hit, Sheet, cut};
use crate::number::show;
use crate::theme::{Ink, size, space, text_width, weight};
use crate::words::capital;
use crate::{Pair, pair_text};

/// Length of the body by its width.
const SLENDER: f64 = 3.2;

/// Sets the plan with all pairs into `width` x `height`; the one with the id `chosen` stands out.
pub fn plan_field(
    pairs: &[Pair],
    chosen: Option<&record::CompareId>,
    [width, height]: [f64; 2],
) -> Sheet {
    let mut sheet = Sheet::empty([width, height], String::new());
    let base = space::CAPTION;
    sheet.text(
        [space::INSIDE, base],
        (size::CAPTION, weight::SEMI_BOLD),
        Anchor::Start,
        Ink::Ink2,
        "Plan",
    );
    let end = width - space::INSIDE;
    sheet.text(
        [end, base],
        (size::CAPTION, weight::REGULAR),
        Anchor::End,
        Ink::Ink2,
        "seen from above",
    );
    let legend = legend_height(width);
    let row = space::TWO_LINE_ROW;
    let in_row: Vec<&Pair> = pairs.iter().filter(|p| place_of(p).is_none()).collect();
    let on_body: Vec<(&Pair, [f64; 2])> = pairs
        .iter()
        .filter_map(|p| Some((p, place_of(p)?)))
        .collect();
    let (top, body_height) = laid(pairs, [width, height]);
    let mut y = top;
    if body_height > LEAST {
        body(&mut sheet, [width / 2.0, top], body_height);
        let words = if on_body.is_empty() {
            top + 18.0
        } else {
            base + 24.0
        };
        sides(&mut sheet, width, words);
        on_plan(
            &mut sheet,
            &on_body,
            chosen,
            ([width / 2.0, top], body_height),
        );
        y = top + body_height + 12.0;
    }
    // Where the body found no room, all stand in the row.
    let in_row = if y > top {
        in_row
    } else {
        pairs.iter().collect()
    };
    for pair in in_row {
        part_row(
            &mut sheet,
            pair,
            chosen == Some(&pair.measured.id),
            y,
            width,
        );
        y += row;
        if y + legend > height {
            break;
        }
    }
    legend_rows(&mut sheet, [width, height]);
    sheet
}

/// The body is not drawn in less room than this, pixels.
const LEAST: f64 = 120.0;

fn place_of(pair: &Pair) -> Option<[f64; 2]> {
    pair.part.and_then(|part| part.place)
}

/// Where the body begins on the plan, and how long it is drawn.
fn laid(pairs: &[Pair], [width, height]: [f64; 2]) -> (f64, f64) {
    let in_row = pairs.iter().filter(|p| place_of(p).is_none()).count();
    let none_on_body = in_row == pairs.len();
    let rows = in_row as f64 * space::TWO_LINE_ROW;
    // Names of parts at the nose stand above it.
    let top = space::CAPTION + if none_on_body { 12.0 } else { 60.0 };
    // Without them the sides are named beside it.
    let beside = if none_on_body { 72.0 } else { 44.0 };
    let room = height - legend_height(width) - top - rows - 12.0;
    (top, room.min((width - beside) * SLENDER))
}

/// The place on the body, along and aside as [`record::Part::place`] has it, at `at` of the plan of that size; `None` off
/// the body.
pub fn place_on_plan(pairs: &[Pair], size: [f64; 2], at: [f64; 2]) -> Option<[f64; 2]> {
    const BESIDE: f64 = 24.0;
    let (top, tall) = laid(pairs, size);
    let half = tall / SLENDER / 2.0;
    let (along, aside) = (at[1] - top, (at[0] - size[0] / 2.0).abs());
    let on_it =
        tall > LEAST && (-BESIDE..=tall + BESIDE).contains(&along) && aside <= half + BESIDE;
    on_it.then(|| [(along / tall).clamp(0.0, 1.0), (aside / half).min(1.0)])
}

/// Parts on the body: marks where they sit, the name and its state between them, below each other where they would run into
/// one another.
fn on_plan(
    sheet: &mut Sheet,
    parts: &[(&Pair, [f64; 2])],
    chosen: Option<&record::CompareId>,
    ([x, top], tall): ([f64; 2], f64),
) {
    let half = tall / SLENDER / 2.0;
    let mut order: Vec<&(&Pair, [f64; 2])> = parts.iter().collect();
    order.sort_by(|a, b| a.1[0].total_cmp(&b.1[0]));
    let mut free = f64::NEG_INFINITY;
    for (pair, [along, aside]) in &order {
        let y = top + along * tall;
        let is_chosen = chosen == Some(&pair.measured.id);
        let name = Hit::Pair(pair.measured.id.clone());
        let wide = text_width(pair.title(), size::BODY, weight::SEMI_BOLD).max(text_width(
            &state_of(pair),
            size::CAPTION,
            weight::REGULAR,
        )) + 10.0;
        let wide = wide.min(sheet.width - 2.0 * space::UNIT);
        let in_middle = pair.measured.sides[0] == Side::Centre;
        // Above at the nose; between the marks where there is room; else below them.
        let wanted = if in_middle && *along < 0.02 {
            y - 46.0
        } else if !in_middle && wide / 2.0 + 14.0 < aside * half {
            y - 18.0
        } else {
            y + 10.0
        };
        // A little lower where its words would lie below the marks of another part.
        let halves = [
            text_width(pair.title(), size::BODY, weight::SEMI_BOLD) / 2.0,
            text_width(&state_of(pair), size::CAPTION, weight::REGULAR) / 2.0,
        ];
        let covered = |label_top: f64| -> f64 {
            let lines = [[4.0, 18.0], [20.0, 34.0]].map(|l| l.map(|v| label_top + v));
            let others = order
                .iter()
                .filter(|(p, _)| p.measured.id != pair.measured.id);
            others
                .map(|(other, [along, aside])| {
                    let mark = top + along * tall;
                    let alone = other.measured.sides[0] == Side::Centre;
                    let reach = if alone { 0.0 } else { aside * half };
                    let over = |k: usize| {
                        let [from, to] = lines[k];
                        let high = (to.min(mark + 9.0) - from.max(mark - 9.0)).max(0.0);
                        high * (halves[k] - (reach - 9.0)).clamp(0.0, 18.0)
                    };
                    over(0) + over(1)
                })
                .sum()
        };
        let from = wanted.max(free);
        let cost = |dy: f64| covered(from + dy) + 3.0 * dy;
        let label_top = (0..=10)
            .map(|k| 4.0 * f64::from(k))
            .min_by(|a, b| cost(*a).total_cmp(&cost(*b)))
            .map_or(from, |dy| from + dy);
        free = label_top + 37.0;
        let ground = if is_chosen { Ink::Ink } else { Ink::Sheet };
        sheet.rect(
            [x - wide / 2.0, label_top],
            [wide, 36.0],
            None,
            Some(ground),
        );
        sheet.named(name.clone());
        let (ink, ink2) = if is_chosen {
            (Ink::OnInk, Ink::OnInk)
        } else {
            (Ink::Ink, Ink::Ink2)
        };
        let title = cut(
            &capital(pair.title()),
            wide - 6.0,
            size::BODY,
            weight::SEMI_BOLD,
        );
        sheet.text(
            [x, label_top + 16.0],
            (size::BODY, weight::SEMI_BOLD),
            Anchor::Middle,
            ink,
            title,
        );
        let line = cut(&state_of(pair), wide - 6.0, size::CAPTION, weight::REGULAR);
        sheet.text(
            [x, label_top + 31.0],
            (size::CAPTION, weight::REGULAR),
            Anchor::Middle,
            ink2,
            line,
        );
    }
    for (pair, [along, aside]) in &order {
        let is_chosen = chosen == Some(&pair.measured.id);
        let at = [x, top + along * tall];
        marks_of(sheet, pair, at, aside * half, is_chosen);
    }
}

/// The marks of a part on the body: one a side, or one in the middle.
fn marks_of(sheet: &mut Sheet, pair: &Pair, [x, y]: [f64; 2], aside: f64, is_chosen: bool) {
    let verdict = pair_text(pair).verdict;
    let second = if pair.one_side_only() {
        Verdict::NotMeasured
    } else {
        verdict
    };
    let alone = pair.measured.sides[0] == Side::Centre;
    let places = if alone {
        vec![(x, verdict)]
    } else {
        vec![(x - aside, verdict), (x + aside, second)]
    };
    for (x, verdict) in places {
        let edge = is_chosen.then_some((Ink::Ink, 2.0, super::Dash::Full));
        sheet.rect([x - 9.0, y - 9.0], [18.0, 18.0], edge, Some(Ink::Sheet));
        sheet.named(Hit::Pair(pair.measured.id.clone()));
        verdict_mark(sheet, verdict, [x - 6.0, y - 6.0], 12.0);
    }
}

/// Left and right as the driver sits.
fn sides(sheet: &mut Sheet, width: f64, y: f64) {
    super::marks::side_mark(sheet, true, [space::INSIDE + 6.0, y], 4.5);
    sheet.text(
        [space::INSIDE, y + 20.0],
        (size::CAPTION, weight::SEMI_BOLD),
        Anchor::Start,
        Ink::Left,
        "left",
    );
    super::marks::side_mark(sheet, false, [width - space::INSIDE - 8.0, y], 4.5);
    sheet.text(
        [width - space::INSIDE, y + 20.0],
        (size::CAPTION, weight::SEMI_BOLD),
        Anchor::End,
        Ink::Right,
        "right",
    );
}

/// A coach body from above, nose up.
fn body(sheet: &mut Sheet, [x, top]: [f64; 2], tall: f64) {
    let half = tall / SLENDER / 2.0;
    // Half outline: share of the half width by share of the length.
    let outline = [
        (0.0, 0.36),
        (0.012, 0.62),
        (0.04, 0.78),
        (0.10, 0.84),
        (0.20, 0.86),
        (0.27, 0.90),
        (0.34, 0.98),
        (0.42, 1.0),
        (0.80, 1.0),
        (0.90, 0.97),
        (0.96, 0.86),
        (0.99, 0.66),
        (1.0, 0.40),
    ];
    let side = |sign: f64| {
        outline
            .iter()
            .map(move |&(l, w)| [x + sign * w * half, top + l * tall])
    };
    let mut points: Vec<[f64; 2]> = side(-1.0).collect();
    points.extend(side(1.0).rev());
    sheet.path(
        points,
        true,
        Some((Ink::Ink2, 1.0, Dash::Full)),
        Some(Ink::Sheet),
    );
    let thin = Some((Ink::Hair, 1.0, Dash::Full));
    for sign in [-1.0, 1.0] {
        let at = |l: f64, w: f64| [x + sign * w * half, top + l * tall];
        sheet.path(vec![at(0.03, 0.20), at(0.28, 0.38)], false, thin, None);
        sheet.path(
            vec![
                at(0.30, 0.84),
                at(0.36, 0.80),
                at(0.90, 0.80),
                at(0.94, 0.70),
            ],
            false,
            thin,
            None,
        );
        for l in [0.46, 0.56, 0.66, 0.76] {
            sheet.path(vec![at(l, 0.80), at(l, 1.0)], false, thin, None);
        }
    }
    let screen = (0..=8)
        .map(|k| {
            let u = f64::from(k) / 4.0 - 1.0;
            [x + u * 0.84 * half, top + (0.285 + 0.018 * u * u) * tall]
        })
        .collect();
    sheet.path(screen, false, thin, None);
    let chain = Some((Ink::Ink2, 1.0, Dash::Chain));
    sheet.path(
        vec![[x, top - 6.0], [x, top + tall + 6.0]],
        false,
        chain,
        None,
    );
}

fn part_row(sheet: &mut Sheet, pair: &Pair, chosen: bool, y: f64, width: f64) {
    let row = space::TWO_LINE_ROW;
    let verdict = pair_text(pair).verdict;
    if chosen {
        sheet.rect([0.0, y], [width, row], None, Some(Ink::Ink));
    } else {
        sheet.rect([0.0, y], [width, row], None, Some(Ink::Field));
        sheet.line(&[[0.0, y + row], [width, y + row]], Ink::Hair, 1.0);
    }
    sheet.named(Hit::Pair(pair.measured.id.clone()));
    let (ink, ink2) = if chosen {
        (Ink::OnInk, Ink::OnInk)
    } else {
        (Ink::Ink, Ink::Ink2)
    };
    let marks_left = width - space::INSIDE - 30.0;
    let room = marks_left - space::INSIDE - 6.0;
    let name = cut(&capital(pair.title()), room, size::BODY, weight::SEMI_BOLD);
    sheet.text(
        [space::INSIDE, y + 20.0],
        (size::BODY, weight::SEMI_BOLD),
        Anchor::Start,
        ink,
        name,
    );
    let line = cut(&state_of(pair), room, size::CAPTION, weight::REGULAR);
    sheet.text(
        [space::INSIDE, y + 38.0],
        (size::CAPTION, weight::REGULAR),
        Anchor::Start,
        ink2,
        line,
    );
    // One mark per side; on the black row they stand on a bare ground.
    if chosen {
        sheet.rect(
            [marks_left - 6.0, y + 14.0],
            [42.0, 20.0],
            None,
            Some(Ink::Sheet),
        );
    }
    let centre = pair.measured.sides[0] == Side::Centre;
    let second = if pair.one_side_only() {
        Verdict::NotMeasured
    } else {
        verdict
    };
    verdict_mark(sheet, verdict, [marks_left, y + 18.0], 12.0);
    if !centre {
        verdict_mark(sheet, second, [marks_left + 18.0, y + 18.0], 12.0);
    }
}

/// One line of state: what was chosen, or how far the simplest choice is out.
fn state_of(pair: &Pair) -> String {
    let chosen: Option<OptionKind> = pair
        .study
        .choices
        .chosen
        .iter()
        .find(|(id, _, _)| *id == pair.measured.id)
        .map(|(_, kind, _)| *kind);
    if let Some(kind) = chosen {
        return pair.choice_word(kind);
    }
    if pair.one_side_only() {
        return "other side not measured".to_owned();
    }
    if pair.stop().is_some() {
        return "stopped".to_owned();
    }
    crate::sentence::headline_option(pair)
        .and_then(|o| o.worst.as_ref())
        .map_or_else(
            || "no verdict".to_owned(),
            |w| show(&w.amount, pair.study.units).plus_minus(),
        )
}

fn legend_rows(sheet: &mut Sheet, [width, height]: [f64; 2]) {
    let rows = legend(width);
    let top = height - legend_height(width);
    sheet.line(&[[0.0, top], [width, top]], Ink::Hair, 1.0);
    for (i, row) in rows.iter().enumerate() {
        let y = top + 14.0 + 22.0 * i as f64;
        for (j, (verdict, says)) in row.iter().enumerate() {
            let x = space::INSIDE + (width / 2.0 - 16.0) * j as f64;
            verdict_mark(sheet, *verdict, [x, y], 12.0);
            sheet.text(
                [x + 18.0, y + 11.0],
                (size::CAPTION, weight::REGULAR),
                Anchor::Start,
                Ink::Ink2,
                *says,
            );
        }
    }
}

/// The marks with their words: two beside each other, or where there is no room for that below each other.
fn legend(width: f64) -> Vec<Vec<(Verdict, &'static str)>> {
    let all = [
        (Verdict::Fits, "fits"),
        (Verdict::NotProven, "not proven"),
        (Verdict::WillNotFit, "will not fit"),
        (Verdict::NotMeasured, "not measured"),
    ];
    let each = if width < 190.0 { 1 } else { 2 };
    all.chunks(each).map(<[_]>::to_vec).collect()
}

fn legend_height(width: f64) -> f64 {
    18.0 + 22.0 * legend(width).len() as f64
}
