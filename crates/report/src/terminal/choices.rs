//! The choices as rows: mark, what, share of what is allowed, worst place, chance that it fits.

use record::{NeedKind, OptionKind, OptionResult, Quantity, Relation, Verdict};

use super::ink::{Line, Look, Role, cut};
use crate::Pair;
use crate::number::{Shown, chance, show, to_shown_unit, to_step, typed, unit_text};
use crate::sentence::{SlotsRun, asked_for, headline_option, slots_run};
use crate::words;

/// The role of a verdict.
pub(super) fn verdict_role(verdict: Verdict) -> Role {
    match verdict {
        Verdict::Fits => Role::Fits,
        Verdict::NotProven => Role::NotProven,
        Verdict::WillNotFit => Role::WillNotFit,
        Verdict::NotMeasured => Role::Light,
    }
}

/// The short name of a choice for a list, with what it asks for: `mirror left, slots 2.8 mm`.
fn short_name(pair: &Pair, option: &OptionResult) -> String {
    let (a, b) = match pair.measured.relation {
        Relation::Same => ("first".to_owned(), "second".to_owned()),
        _ => (pair.a_word(), pair.b_word()),
    };
    let base = match (option.kind, pair.measured.relation) {
        (
            OptionKind::OneShape | OptionKind::OneShapeWithSlots | OptionKind::OneShapeWithShims,
            _,
        ) => "one shape".to_owned(),
        (OptionKind::MirrorB, _) => format!("mirror {b}"),
        (OptionKind::MirrorA | OptionKind::MirrorAWithSlots | OptionKind::MirrorAWithShims, _) => {
            format!("mirror {a}")
        }
        (OptionKind::Midway | OptionKind::MidwayWithSlots | OptionKind::MidwayWithShims, _) => {
            "midway".to_owned()
        }
        (OptionKind::TwoHands, Relation::Mirrored) => "two hands".to_owned(),
        (OptionKind::TwoHands, Relation::Same) => "two shapes".to_owned(),
        (OptionKind::TwoHands, Relation::Itself) => "both halves".to_owned(),
    };
    let asked = asked_for(option);
    let most = asked
        .iter()
        .max_by(|x, y| x.amount_mm.total_cmp(&y.amount_mm));
    let need = most.map(|n| {
        let word = match n.kind {
            NeedKind::SlotLength => "slots",
            NeedKind::HoleRadius => "holes +",
            NeedKind::Shim => "shims",
            NeedKind::Gasket => "gasket",
            NeedKind::TakeOff => "file",
        };
        let up = (n.amount_mm * 10.0 - 1e-6).ceil() / 10.0;
        let units = pair.study.units;
        let unit = unit_text(Quantity::Length, units);
        let way = match slots_run(&asked).filter(|_| n.kind == NeedKind::SlotLength) {
            Some(SlotsRun::Sideways) => " ↔",
            Some(SlotsRun::UpAndDown) => " ↕",
            None => "",
        };
        format!("{word} {}{unit}{way}", typed(up, Quantity::Length, units)).replace("+ ", "+")
    });
    let plain = match option.kind {
        OptionKind::OneShapeWithSlots
        | OptionKind::MirrorAWithSlots
        | OptionKind::MidwayWithSlots => Some("slots".to_owned()),
        OptionKind::OneShapeWithShims
        | OptionKind::MirrorAWithShims
        | OptionKind::MidwayWithShims => Some("shims".to_owned()),
        _ => None,
    };
    need.or(plain)
        .map_or_else(|| base.clone(), |n| format!("{base}, {n}"))
}

/// Whether a part drawn to its own side is off by nothing but the doubt of the readings.
fn only_doubt(option: &OptionResult) -> bool {
    option.kind == OptionKind::TwoHands && option.uses.is_some_and(|u| u.value < 0.5)
}

/// How much of what is allowed a choice uses, with its give-or-take. A part drawn to its own side uses nothing but the
/// doubt of the readings.
fn uses_cell(pair: &Pair, option: &OptionResult) -> String {
    let Some(uses) = option.uses else {
        return "none".to_owned();
    };
    if only_doubt(option) {
        return format!("< {:.0} %", uses.u95.max(1.0).ceil());
    }
    if uses.value > 999.0 {
        return "> 999 %".to_owned();
    }
    short(&show(&uses, pair.study.units))
}

/// `19 ±9 %`, `1.3 ±0.2°`.
fn short(shown: &Shown) -> String {
    if shown.give_or_take.is_empty() {
        shown.with_unit()
    } else {
        format!("{} ±{}{}", shown.value, shown.give_or_take, shown.unit)
    }
}

/// The worst deviation of a choice of what is allowed there, and its give-or-take where there is `room` for it:
/// `0.14 ±0.09 of 0.5 mm`.
fn worst_cell(pair: &Pair, option: &OptionResult, room: bool) -> String {
    let units = pair.study.units;
    if only_doubt(option) {
        return "–".to_owned();
    }
    if let Some(worst) = &option.worst {
        let shown = show(&worst.amount, units);
        let allowed = typed(worst.allowed, worst.amount.quantity, units);
        let amount = if room && !shown.give_or_take.is_empty() {
            format!("{} ±{}", shown.value, shown.give_or_take)
        } else {
            shown.value.clone()
        };
        return format!("{amount} of {allowed}{}", shown.unit);
    }
    option.worst_gap_mm.map_or_else(
        || "…".to_owned(),
        |mm| {
            let step = if units.length == record::LengthDisplay::Inch {
                0.001
            } else {
                0.1
            };
            let value = to_step(to_shown_unit(mm, Quantity::Length, units), step, units);
            format!("{value}{}", unit_text(Quantity::Length, units))
        },
    )
}

/// At most `most` choices in the order of the study. The one the headline speaks of is always among them; the first
/// to go is b mirrored where it comes to the same as a mirrored.
pub(crate) fn shown_options<'a>(pair: &Pair<'a>, most: usize) -> Vec<&'a OptionResult> {
    let head = headline_option(pair).map(|o| o.kind);
    let mut picked: Vec<&OptionResult> = pair.options().iter().collect();
    let of = |kind| pair.option(kind).map(|o| o.verdict);
    let same = of(OptionKind::MirrorA) == of(OptionKind::MirrorB);
    while picked.len() > most {
        let other_hand = picked
            .iter()
            .position(|o| same && o.kind == OptionKind::MirrorB);
        let last = || picked.iter().rposition(|o| Some(o.kind) != head);
        let Some(least) = other_hand.or_else(last) else {
            break;
        };
        picked.remove(least);
    }
    picked
}

/// Letters of a name at most.
const NAME: usize = 28;

/// Mark and what a choice is, cut to `most` letters.
fn mark_and_name(pair: &Pair, option: &OptionResult, most: usize, look: Look) -> [String; 2] {
    [
        look.signs(&words::mark(option.verdict).to_string()),
        cut(&look.signs(&short_name(pair, option)), most, look),
    ]
}

fn chance_cell(option: &OptionResult, look: Look) -> String {
    option
        .chance
        .map_or_else(|| look.signs("…"), |c| chance(c.fits))
}

/// One row per choice that says what its numbers are; the give-or-take of the worst place where `room` letters hold
/// it, names cut where they must be.
pub(super) fn in_words(
    pair: &Pair,
    options: &[&OptionResult],
    room: usize,
    look: Look,
) -> Vec<Line> {
    let rows = |(full, most, gap, odds): (bool, usize, &str, &str)| -> Vec<Line> {
        let cells: Vec<[String; 5]> = options
            .iter()
            .map(|o| {
                let [mark, name] = mark_and_name(pair, o, most, look);
                let uses = look.signs(&format!("uses {}", uses_cell(pair, o)));
                let worst = look.signs(&format!("worst {}", worst_cell(pair, o, full)));
                let odds = format!("{odds} {}", chance_cell(o, look));
                [mark, name, uses, worst, odds]
            })
            .collect();
        let wide = |k: usize| {
            cells
                .iter()
                .map(|r| r[k].chars().count())
                .max()
                .unwrap_or(0)
        };
        let (name, uses, worst) = (wide(1), wide(2), wide(3));
        cells
            .iter()
            .zip(options)
            .map(|(row, option)| {
                let numbers = format!(
                    " {:name$}{gap}{:uses$}{gap}{:worst$}{gap}{}",
                    row[1], row[2], row[3], row[4]
                );
                Line::of(verdict_role(option.verdict), row[0].clone()).and(Role::Ink, numbers)
            })
            .collect()
    };
    let ways = [
        (true, NAME, "  ", "chance it fits"),
        (false, NAME, "  ", "chance it fits"),
        (false, NAME, " ", "chance it fits"),
        (false, NAME, " ", "chance"),
        (false, 22, " ", "chance"),
        (false, 14, " ", "chance"),
    ];
    let holds = |lines: &Vec<Line>| lines.iter().all(|l| l.len() <= room);
    let found = ways.into_iter().map(&rows).find(holds);
    found.unwrap_or_else(|| rows((false, 14, " ", "chance")))
}

/// A heading and one narrow row per choice, to stand beside a ladder.
pub(super) fn columns(pair: &Pair, options: &[&OptionResult], look: Look) -> Vec<Line> {
    if options.is_empty() {
        return Vec::new();
    }
    let mut rows = vec![["choice", "uses", "worst of allowed", "chance"].map(str::to_owned)];
    for option in options {
        rows.push([
            mark_and_name(pair, option, NAME, look)[1].clone(),
            look.signs(&uses_cell(pair, option)),
            look.signs(&worst_cell(pair, option, false)),
            chance_cell(option, look),
        ]);
    }
    let wide = |column: usize| {
        rows.iter()
            .map(|r| r[column].chars().count())
            .max()
            .unwrap_or(0)
    };
    let (name, uses, worst, odds) = (wide(0), wide(1), wide(2), wide(3));
    let mark_width = look.signs("■").chars().count();
    rows.iter()
        .enumerate()
        .map(|(i, row)| {
            let numbers = format!("  {:>uses$}  {:>worst$}  {:>odds$}", row[1], row[2], row[3]);
            match i.checked_sub(1).map(|k| options[k]) {
                None => Line::of(
                    Role::Light,
                    format!("{} {:name$}{numbers}", " ".repeat(mark_width), row[0]),
                ),
                Some(option) => Line::of(
                    verdict_role(option.verdict),
                    mark_and_name(pair, option, NAME, look)[0].clone(),
                )
                .and(Role::Ink, format!(" {:name$}{numbers}", row[0])),
            }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{lamp, study};

    #[test]
    fn the_choice_of_the_headline_is_never_left_out() {
        let study = study(vec![lamp()]);
        let pair = Pair::all(&study)[0];
        let kinds: Vec<OptionKind> = shown_options(&pair, 2).iter().map(|o| o.kind).collect();
        assert_eq!(kinds, [OptionKind::TwoHands, OptionKind::MirrorA]);
    }

    #[test]
    fn rows_carry_mark_share_worst_and_chance() {
        let study = study(vec![lamp()]);
        let pair = Pair::all(&study)[0];
        let text: Vec<String> = columns(&pair, &shown_options(&pair, 4), Look::default())
            .iter()
            .map(|l| l.render(false))
            .collect();
        assert_eq!(
            text,
            [
                "  choice                            uses  worst of allowed  chance",
                "■ two hands                      33 ±4 %            0.2 mm    98 %",
                "⊠ midway                       133 ±13 %            0.8 mm     2 %",
                "⊠ mirror left, slots 2.8 mm ↔  173 ±17 %            1.0 mm   < 1 %",
                "⊠ mirror left                  175 ±17 %     1.4 of 0.8 mm   < 1 %",
            ]
        );
    }

    #[test]
    fn rows_in_words_say_what_each_number_is_and_drop_a_give_or_take_where_there_is_no_room() {
        let study = study(vec![lamp()]);
        let pair = Pair::all(&study)[0];
        let rows = |room: usize| -> String {
            let lines = in_words(&pair, &shown_options(&pair, 4), room, Look::default());
            lines.last().map(|l| l.render(false)).unwrap_or_default()
        };
        assert_eq!(
            rows(98),
            "⊠ mirror left                  uses 175 ±17 %  worst 1.4 ±0.3 of 0.8 mm  chance it fits < 1 %"
        );
        assert_eq!(
            rows(86),
            "⊠ mirror left                 uses 175 ±17 % worst 1.4 of 0.8 mm chance it fits < 1 %"
        );
        assert_eq!(
            rows(78),
            "⊠ mirror left                 uses 175 ±17 % worst 1.4 of 0.8 mm chance < 1 %"
        );
    }

    #[test]
    fn the_other_hand_goes_first_where_it_comes_to_the_same() {
        let study = study(vec![lamp()]);
        let pair = Pair::all(&study)[0];
        let kinds: Vec<OptionKind> = shown_options(&pair, 4).iter().map(|o| o.kind).collect();
        assert!(!kinds.contains(&OptionKind::MirrorB) && kinds.len() == 4);
    }
}
