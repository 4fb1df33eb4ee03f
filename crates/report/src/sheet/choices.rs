//! The choices, best first: word and mark, how much of what is allowed each uses, what it needs, its chance.

use record::{OptionKind, OptionResult, Verdict};

use super::marks::{verdict_ink, verdict_mark};
use super::{Anchor, Dash, Hit, Sheet, cut};
use crate::Pair;
use crate::number::{chance, show, to_shown_unit, to_step, unit_text};
use crate::sentence::{asked_for, needs_text};
use crate::theme::{Ink, size, space, text_width, weight};
use crate::words::capital;

/// How the choices stand.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Standing {
    /// Beside each other.
    Row,
    /// Below each other.
    Column,
}

/// How the choices are asked for.
#[derive(Clone, Copy, Debug)]
pub struct Choosing<'a> {
    /// How they stand.
    pub standing: Standing,
    /// Whether the word is added by which one is chosen.
    pub choosing: bool,
    /// Those whose figures have just changed: underlined.
    pub changed: &'a [OptionKind],
    /// How many there is room for; that of the headline is never left out.
    pub most: usize,
}

impl Choosing<'_> {
    /// Choices on paper.
    pub const PRINTED: Self = Self {
        standing: Standing::Row,
        choosing: false,
        changed: &[],
        most: 5,
    };
}

/// Sets the choices of a pair into `width` x `height`.
///
/// Degenerate: without choices one line says so.
pub fn choices_field(pair: &Pair, [width, height]: [f64; 2], asked: &Choosing<'_>) -> Sheet {
    let mut sheet = Sheet::empty([width, height], String::new());
    let shown = crate::terminal::shown_options(pair, asked.most);
    if shown.is_empty() || pair.one_side_only() {
        let says = if pair.one_side_only() || pair.not_measured().is_some() {
            "No choices before both sides are measured."
        } else {
            "No choices: nothing could be decided."
        };
        sheet.text(
            [space::INSIDE, 40.0],
            (size::BODY, weight::REGULAR),
            Anchor::Start,
            Ink::Ink3,
            says,
        );
        return sheet;
    }
    let chosen = pair.chosen();
    let count = shown.len().max(3) as f64;
    let (step, cell) = match asked.standing {
        Standing::Row => ([width / count, 0.0], [width / count, height]),
        Standing::Column => {
            let tall = (height / shown.len() as f64).min(122.0);
            ([0.0, tall], [width, tall])
        }
    };
    for (i, option) in shown.iter().enumerate() {
        let at = [step[0] * i as f64, step[1] * i as f64];
        let is_chosen = chosen == Some(option.kind);
        if option.verdict == Verdict::Fits && i == 0 {
            sheet.rect(at, cell, None, Some(Ink::FitsTint));
        }
        if i > 0 {
            let end = match asked.standing {
                Standing::Row => [at[0], height],
                Standing::Column => [width, at[1]],
            };
            sheet.line(&[at, end], Ink::Hair, 1.0);
        }
        let mut one = choice(pair, option, cell, asked.choosing.then_some(is_chosen));
        if asked.changed.contains(&option.kind) {
            underline(&mut one, option, cell, pair);
        }
        if is_chosen {
            let line = Some((Ink::Ink, 2.0, Dash::Full));
            one.rect([2.0, 2.0], [cell[0] - 4.0, cell[1] - 4.0], line, None);
        }
        sheet.put(one, at);
    }
    sheet
}

/// What is said of a choice as a whole, for those who cannot see it.
pub fn choice_says(pair: &Pair, kind: OptionKind) -> String {
    let Some(option) = pair.option(kind) else {
        return String::new();
    };
    let units = pair.study.units;
    let mut parts = vec![format!(
        "{}: {}",
        capital(&pair.choice_word(kind)),
        crate::words::verdict(option.verdict).to_lowercase()
    )];
    if let Some(uses) = &option.uses {
        parts.push(format!(
            "uses {} of what you allow",
            show(uses, units).plus_minus()
        ));
    }
    if let Some(c) = option.chance {
        parts.push(format!("chance it fits {}", chance(c.fits)));
    }
    parts.extend(needs_text(&asked_for(option), units));
    parts.join(", ")
}

fn choice(
    pair: &Pair,
    option: &OptionResult,
    [width, height]: [f64; 2],
    chosen: Option<bool>,
) -> Sheet {
    let mut sheet = Sheet::empty([width, height], String::new());
    let units = pair.study.units;
    let (left, right) = (space::INSIDE, width - space::INSIDE);
    let text_left = left + 26.0;
    // Nothing is painted: the whole cell is the place of the choice.
    sheet.rect([0.0, 0.0], [width, height], None, None);
    sheet.named(Hit::Choice(pair.measured.id.clone(), option.kind));
    verdict_mark(&mut sheet, option.verdict, [left, 17.0], 15.0);
    let name = capital(&pair.choice_word(option.kind));
    // A long name stands in smaller type before anything of it is left out.
    let room = right + 6.0 - text_left;
    let letter = if text_width(&name, size::BODY, weight::SEMI_BOLD) <= room {
        size::BODY
    } else {
        size::CAPTION
    };
    let name = cut(&name, room, letter, weight::SEMI_BOLD);
    sheet.text(
        [text_left, 30.0],
        (letter, weight::SEMI_BOLD),
        Anchor::Start,
        Ink::Ink,
        name,
    );
    sheet.named(Hit::Choice(pair.measured.id.clone(), option.kind));
    let needs =
        needs_text(&asked_for(option), units).unwrap_or_else(|| without_needs(option).to_owned());
    let needs = cut(&needs, right - text_left, size::CAPTION, weight::REGULAR);
    sheet.text(
        [text_left, 49.0],
        (size::CAPTION, weight::REGULAR),
        Anchor::Start,
        Ink::Ink2,
        needs,
    );
    bar(&mut sheet, option, [left, 61.0], right - left);
    let base = base_of(height);
    let beside = |one: &str, other: &str, letter| fit_beside(one, other, letter, right - left);
    let [uses, amount] = figures(pair, option, right - left);
    sheet.text([left, base], FIGURES, Anchor::Start, Ink::Ink, uses);
    sheet.text([right, base], FIGURES, Anchor::End, Ink::Ink, amount);
    let (odds, ink) = option.chance.map_or_else(
        || ("chance: being worked out".to_owned(), Ink::Ink3),
        |c| {
            let long = format!("chance it fits {}", chance(c.fits));
            let short = format!("chance {}", chance(c.fits));
            let goes = beside(&long, "choose", (size::CAPTION, weight::SEMI_BOLD));
            (if goes { long } else { short }, Ink::Ink2)
        },
    );
    sheet.text(
        [left, base + 20.0],
        (size::CAPTION, weight::REGULAR),
        Anchor::Start,
        ink,
        odds,
    );
    if let Some(chosen) = chosen {
        let word = if chosen { "chosen" } else { "choose" };
        let at = [right, base + 20.0];
        sheet.text(
            at,
            (size::CAPTION, weight::SEMI_BOLD),
            Anchor::End,
            Ink::Ink,
            word,
        );
        let wide = text_width(word, size::CAPTION, weight::SEMI_BOLD);
        if !chosen {
            sheet.line(
                &[[right - wide, at[1] + 3.0], [right, at[1] + 3.0]],
                Ink::Ink,
                1.0,
            );
        }
    }
    sheet
}

/// How figures of a choice are set.
const FIGURES: (f64, u16) = (size::BODY, weight::MEDIUM);

/// Whether two texts stand beside each other within `room`.
fn fit_beside(one: &str, other: &str, letter: (f64, u16), room: f64) -> bool {
    let wide = |text: &str| text_width(text, letter.0, letter.1);
    wide(one) + wide(other) + 8.0 <= room
}

/// How much a choice uses, and how far it is out at its worst place. What would run into its neighbour is left to what is
/// said of the choice as a whole: first the give or take of the share, then the amount.
fn figures(pair: &Pair, option: &OptionResult, room: f64) -> [String; 2] {
    let units = pair.study.units;
    let amount = match (&option.worst, option.worst_gap_mm) {
        (Some(worst), _) => show(&worst.amount, units).plus_minus(),
        (None, Some(mm)) => {
            let shown = to_shown_unit(mm, record::Quantity::Length, units);
            let step = if units.length == record::LengthDisplay::Inch {
                0.001
            } else {
                0.1
            };
            format!(
                "{}{}",
                to_step(shown, step, units),
                unit_text(record::Quantity::Length, units)
            )
        }
        (None, None) => String::new(),
    };
    let doubted = option
        .uses
        .map(|u| format!("uses {}", show(&u, units).plus_minus()))
        .filter(|doubted| fit_beside(doubted, &amount, FIGURES, room));
    let uses = doubted.unwrap_or_else(|| uses_text(pair, option));
    if fit_beside(&uses, &amount, FIGURES, room) {
        [uses, amount]
    } else {
        [uses, String::new()]
    }
}

/// How much of what is allowed a choice uses, in words.
pub fn uses_text(pair: &Pair, option: &OptionResult) -> String {
    option.uses.map_or_else(
        || "cannot be started".to_owned(),
        |u| format!("uses {}", show(&u, pair.study.units).with_unit()),
    )
}

/// Base line of the figures in a cell of this height.
fn base_of(height: f64) -> f64 {
    height.min(122.0) - 32.0
}

/// A line below the share of a choice.
fn underline(sheet: &mut Sheet, option: &OptionResult, [width, height]: [f64; 2], pair: &Pair) {
    let [uses, _] = figures(pair, option, width - 2.0 * space::INSIDE);
    let wide = text_width(&uses, FIGURES.0, FIGURES.1);
    let (left, y) = (space::INSIDE, base_of(height) + 3.5);
    sheet.line(&[[left, y], [left + wide, y]], Ink::Ink, 2.0);
}

/// 0 to 200 %, a tick at all that is allowed; broken where it is longer.
fn bar(sheet: &mut Sheet, option: &OptionResult, [x, y]: [f64; 2], width: f64) {
    let share = option.uses.map_or(f64::INFINITY, |u| u.value.max(0.0));
    let end = width * share.min(200.0) / 200.0;
    let tall = 7.0;
    sheet.rect(
        [x, y],
        [width, tall],
        Some((Ink::Hair, 1.0, Dash::Full)),
        Some(Ink::Field),
    );
    sheet.rect([x, y], [end, tall], None, Some(verdict_ink(option.verdict)));
    if share > 200.0 {
        for back in [14.0, 20.0] {
            let from = x + width - back;
            sheet.line(
                &[[from, y - 1.0], [from + 4.0, y + tall + 1.0]],
                Ink::Sheet,
                2.0,
            );
        }
    }
    let middle = x + width / 2.0;
    sheet.line(&[[middle, y - 5.0], [middle, y + 12.0]], Ink::Ink, 1.5);
}

/// What stands where a choice asks for nothing.
fn without_needs(option: &OptionResult) -> &'static str {
    match (option.kind, option.verdict) {
        (OptionKind::TwoHands, _) => "each side its own shape",
        (_, Verdict::Fits) => "needs nothing else",
        _ => "as it is",
    }
}
