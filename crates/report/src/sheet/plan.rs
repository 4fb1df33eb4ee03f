//! The plan: the body from above, nose up, with every part where it is known to sit; the others stand below.

use record::{OptionKind, Side, Verdict};

use super::marks::verdict_mark;
use super::{Anchor, Dash, Hit, Sheet, cut};
use crate::number::show;
use crate::theme::{Ink, size, space, weight};
use crate::words::capital;
use crate::{Pair, pair_text};

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
    let rows = pairs.len() as f64 * row;
    let top = base + 12.0;
    let body_height = (height - legend - top - rows - 12.0).min((width - 72.0) * 2.6);
    let mut y = top;
    if body_height > 120.0 {
        body(&mut sheet, [width / 2.0, top], body_height);
        sides(&mut sheet, width, top + 18.0);
        y = top + body_height + 12.0;
    }
    for pair in pairs {
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
    let half = tall / 2.6 / 2.0;
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
