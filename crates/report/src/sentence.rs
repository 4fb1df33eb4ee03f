//! The verdict sentences: a fixed grammar, so that the same study always reads the same.
//!
//! Main clause first, then the worst place by name, then the cure or the next act, then the angle to set.
//! Every number comes from one field of the study.

use record::{
    AngleRow, DisplayUnits, Figure, Finding, NextReading, OptionKind, OptionResult, Quantity,
    Relation, Verdict,
};

mod differs;
mod needs;

use differs::differs_text;
pub use needs::{SlotsRun, asked_for, needs_text, slots_run};

use crate::Pair;
use crate::number::{chance, show, show_at, step_of, typed, unit_text};
use crate::words::{capital, full_stop, out_by, severity, side};

/// What is said of a pair, in parts that may stand in different inks.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PairText {
    /// The verdict on the simplest choice, or that there is none.
    pub verdict: Verdict,
    /// The main clause: `Lamp surround: mirroring the left one will NOT fit the right side.`
    pub headline: String,
    /// The worst place and what is allowed there; may be empty.
    pub reason: String,
    /// What cures it, or what would settle it; may be empty.
    pub cure: String,
    /// The angle to set, where there is a junction; may be empty.
    pub angle: String,
}

impl PairText {
    /// All of it as running text.
    pub fn full(&self) -> String {
        let parts = [&self.headline, &self.reason, &self.cure, &self.angle];
        parts
            .into_iter()
            .filter(|p| !p.is_empty())
            .map(String::as_str)
            .collect::<Vec<_>>()
            .join(" ")
    }
}

/// The choice the headline speaks of: a single drawn shape, as simple as can be.
pub fn headline_option<'a>(pair: &Pair<'a>) -> Option<&'a OptionResult> {
    let simple = [
        OptionKind::OneShape,
        OptionKind::MirrorA,
        OptionKind::MirrorB,
    ];
    let found: Vec<&OptionResult> = simple.iter().filter_map(|&k| pair.option(k)).collect();
    found
        .iter()
        .find(|o| o.verdict == Verdict::Fits)
        .or_else(|| found.first())
        .copied()
}

/// The sentences of a pair.
pub fn pair_text(pair: &Pair) -> PairText {
    let angle = angle_text(pair);
    if let Some(text) = without_options(pair, &angle) {
        return text;
    }
    let Some(option) = headline_option(pair) else {
        return no_short_cut(pair, angle);
    };
    let units = pair.study.units;
    let title = capital(pair.title());
    match option.verdict {
        Verdict::Fits => {
            let agree = agreement(pair);
            let verb = fitting_clause(pair, option.kind);
            let headline = agree
                .as_ref()
                .map_or_else(|| format!("{title}: {verb}."), |a| format!("{title}: {a}"));
            let uses = option
                .uses
                .map_or_else(String::new, |u| uses_text(&u, option, units));
            let reason = match (&agree, pair.measured.relation) {
                (Some(_), Relation::Mirrored) => full_stop(&format!(
                    "{}; it fits both sides and uses {uses}",
                    capital(&verb)
                )),
                (Some(_), _) => full_stop(&format!(
                    "{} fits and uses {uses}",
                    capital(&fit_subject(pair, option.kind))
                )),
                (None, Relation::Mirrored) => {
                    full_stop(&format!("It fits both sides and uses {uses}"))
                }
                (None, _) => full_stop(&format!("It uses {uses}")),
            };
            let cure = if agree.is_some() {
                String::new()
            } else {
                harmless_difference(pair)
            };
            PairText {
                verdict: Verdict::Fits,
                headline,
                reason,
                cure,
                angle,
            }
        }
        Verdict::WillNotFit => PairText {
            verdict: Verdict::WillNotFit,
            headline: format!("{title}: {}.", failing_clause(pair, option.kind)),
            reason: [worst_text(option, units), differs_text(pair)]
                .join(" ")
                .trim_end()
                .to_owned(),
            cure: cure_text(pair, option),
            angle,
        },
        Verdict::NotProven | Verdict::NotMeasured => PairText {
            verdict: Verdict::NotProven,
            headline: format!(
                "{title}: not proven that {}.",
                open_clause(pair, option.kind)
            ),
            reason: worst_text(option, units),
            cure: settle_text(pair, option),
            angle,
        },
    }
}

/// What is said where there is no verdict: one side only, or stopped, or nothing that could be laid together.
pub(crate) fn without_options(pair: &Pair, angle: &str) -> Option<PairText> {
    let title = capital(pair.title());
    let plain = |verdict, headline: String, reason: String| {
        Some(PairText {
            verdict,
            headline,
            reason,
            cure: String::new(),
            angle: angle.to_owned(),
        })
    };
    if pair.one_side_only() {
        let seen = pair.measured.sides[0];
        let missing = match seen {
            record::Side::Left => "the right side",
            record::Side::Right => "the left side",
            _ => "the other opening",
        };
        return plain(
            Verdict::NotMeasured,
            format!("{title}: {missing} is not measured."),
            format!(
                "All figures of the {} stand; there is no verdict.",
                side_noun(seen)
            ),
        );
    }
    if !pair.options().is_empty() {
        return None;
    }
    if let Some(stop) = pair.stop() {
        return Some(PairText {
            verdict: Verdict::NotMeasured,
            headline: format!("{title}: stop. {}", full_stop(&capital(&stop.says))),
            reason: String::new(),
            cure: full_stop(&capital(&stop.advice)),
            angle: angle.to_owned(),
        });
    }
    if let Some(lost) = pair.not_measured() {
        return Some(PairText {
            verdict: Verdict::NotMeasured,
            headline: format!("{title}: no verdict."),
            reason: format!("{} was not measured: {}.", capital(&lost.id.0), lost.why),
            cure: "Bring that scan in again; what is named in it stays.".to_owned(),
            angle: angle.to_owned(),
        });
    }
    plain(
        Verdict::NotMeasured,
        format!("{title}: no verdict."),
        "No edges or angles of both sides could be compared.".to_owned(),
    )
}

fn side_noun(which: record::Side) -> String {
    match which {
        record::Side::Left | record::Side::Right => format!("{} side", side(which)),
        record::Side::Centre | record::Side::NotSaid => "one opening".to_owned(),
    }
}

/// Where no mirror choice is offered (a part that carries load or safety): what the first choice does.
fn no_short_cut(pair: &Pair, angle: String) -> PairText {
    let title = capital(pair.title());
    let Some(best) = pair.options().first() else {
        return PairText {
            verdict: Verdict::NotMeasured,
            headline: format!("{title}: no verdict."),
            reason: String::new(),
            cure: String::new(),
            angle,
        };
    };
    let word = pair.choice_word(best.kind);
    let uses = best.uses.map_or_else(String::new, |u| {
        format!(" and uses {}", uses_text(&u, best, pair.study.units))
    });
    let (headline, reason) = match best.verdict {
        Verdict::Fits => (format!("{title}: {word}."), format!("It fits{uses}.")),
        Verdict::WillNotFit => (
            format!("{title}: {word} will NOT fit."),
            worst_text(best, pair.study.units),
        ),
        _ => (
            format!("{title}: not proven that {word} fits."),
            worst_text(best, pair.study.units),
        ),
    };
    let cure = if pair.part.is_some_and(|p| p.load_bearing) {
        "It carries load or safety: no mirror short cut is offered; qualified design and test decide.".to_owned()
    } else {
        String::new()
    };
    PairText {
        verdict: best.verdict,
        headline,
        reason,
        cure,
        angle,
    }
}

/// `50 % (give or take 8) of the 0.6 mm you allow`; what is allowed at the worst place of the option.
pub(crate) fn uses_text(uses: &Figure, option: &OptionResult, units: DisplayUnits) -> String {
    let shown = show(uses, units);
    let allowed = option.worst.as_ref().map_or_else(
        || "what you allow".to_owned(),
        |w| {
            let q = w.amount.quantity;
            let amount = typed(w.allowed, q, units);
            format!("the {amount}{} you allow", unit_text(q, units))
        },
    );
    format!("{} {} of {allowed}", shown.with_unit(), shown.in_brackets())
}

/// What to do, where a choice fits: `mirror the left one`.
fn fitting_clause(pair: &Pair, kind: OptionKind) -> String {
    match pair.measured.relation {
        Relation::Itself => format!("{} fits", fit_subject(pair, kind)),
        Relation::Same => format!("one shape fits {} and {}", pair.a_word(), pair.b_word()),
        Relation::Mirrored => pair.choice_word(kind),
    }
}

/// Who fits: `a part drawn to the left half and mirrored`.
fn fit_subject(pair: &Pair, kind: OptionKind) -> String {
    let which = if kind == OptionKind::MirrorB {
        pair.b_word()
    } else {
        pair.a_word()
    };
    match pair.measured.relation {
        Relation::Itself => format!("a part drawn to the {which} half and mirrored"),
        Relation::Same => "one shape for both".to_owned(),
        Relation::Mirrored => format!("the {which} one, mirrored,"),
    }
}

/// `mirroring the left one will NOT fit the right side`.
fn failing_clause(pair: &Pair, kind: OptionKind) -> String {
    let (from, to) = if kind == OptionKind::MirrorB {
        (pair.b_word(), pair.a_word())
    } else {
        (pair.a_word(), pair.b_word())
    };
    match pair.measured.relation {
        Relation::Mirrored => format!("mirroring the {from} one will NOT fit the {to} side"),
        Relation::Same => format!("one shape will NOT fit both {from} and {to}"),
        Relation::Itself => {
            format!("drawing the {from} half and mirroring it will NOT fit the {to} half")
        }
    }
}

/// `the left one, mirrored, fits the right side`.
fn open_clause(pair: &Pair, kind: OptionKind) -> String {
    let (from, to) = if kind == OptionKind::MirrorB {
        (pair.b_word(), pair.a_word())
    } else {
        (pair.a_word(), pair.b_word())
    };
    match pair.measured.relation {
        Relation::Mirrored => format!("the {from} one, mirrored, fits the {to} side"),
        Relation::Same => format!("one shape fits both {from} and {to}"),
        Relation::Itself => format!("the {from} half, mirrored, fits the {to} half"),
    }
}

/// `no difference proven, and none can be larger than 0.2 mm.` where that is so.
fn agreement(pair: &Pair) -> Option<String> {
    let joint = pair.decided?.joint.as_ref()?;
    if joint.proven {
        return None;
    }
    let units = pair.study.units;
    let within = joint.within_mm.filter(|w| w.is_finite()).map(|w| {
        let bound = Figure {
            value: 0.0,
            u95: w,
            nu: f64::INFINITY,
            source: record::Source::EdgeSight,
            quantity: Quantity::Length,
        };
        format!(
            ", and none can be larger than {}{}",
            show(&bound, units).give_or_take,
            unit_text(Quantity::Length, units)
        )
    });
    Some(format!(
        "no difference proven{}.",
        within.unwrap_or_default()
    ))
}

/// Said where a difference is proven although the simple choice fits.
fn harmless_difference(pair: &Pair) -> String {
    match pair.decided.and_then(|d| d.joint.as_ref()) {
        Some(joint) if joint.proven && !joint.largest.is_empty() => {
            let who = if pair.measured.relation == Relation::Itself {
                "The halves"
            } else {
                "The two"
            };
            format!(
                "{who} do differ, most clearly in {}; it stays within what you allow.",
                joint.largest
            )
        }
        _ => String::new(),
    }
}

/// `Worst place: top inner corner, the gap 1.4 mm too tight (give or take 0.3). You allow 0.8 mm.`
pub fn worst_text(option: &OptionResult, units: DisplayUnits) -> String {
    if option.uses.is_none() {
        let more = option.least_oversize_mm.map_or_else(String::new, |mm| {
            let amount = typed((mm * 100.0).ceil() / 100.0, Quantity::Length, units);
            format!(
                ": the holes want at least {amount}{} more on the radius",
                unit_text(Quantity::Length, units)
            )
        });
        return format!("The fasteners cannot be started{more}.");
    }
    let Some(worst) = &option.worst else {
        return String::new();
    };
    let shown = show(&worst.amount, units);
    let out = out_by(worst.direction, &shown.with_unit());
    format!(
        "Worst place: {}, {out} {}. You allow {}{}.",
        worst.place,
        shown.in_brackets(),
        typed(worst.allowed, worst.amount.quantity, units),
        unit_text(worst.amount.quantity, units)
    )
}

/// What a group of cures is called, and whether the word is plural.
fn cure_group(pair: &Pair, kind: OptionKind) -> Option<(&'static str, bool)> {
    match kind {
        OptionKind::OneShapeWithSlots
        | OptionKind::MirrorAWithSlots
        | OptionKind::MidwayWithSlots => Some(("slots", true)),
        OptionKind::OneShapeWithShims
        | OptionKind::MirrorAWithShims
        | OptionKind::MidwayWithShims => Some(("shims", true)),
        OptionKind::Midway => Some((
            match pair.measured.relation {
                Relation::Mirrored => "one shape midway between the two, mirrored,",
                Relation::Same => "a midway shape",
                Relation::Itself => "the midway of the halves",
            },
            false,
        )),
        OptionKind::TwoHands => Some(match pair.measured.relation {
            Relation::Mirrored => ("two hands", true),
            Relation::Same => ("two shapes", true),
            Relation::Itself => ("drawing both halves as they are", false),
        }),
        OptionKind::OneShape | OptionKind::MirrorA | OptionKind::MirrorB => None,
    }
}

/// `Slots do not cure it; two hands do.`
fn cure_text(pair: &Pair, failed: &OptionResult) -> String {
    let other = [OptionKind::MirrorA, OptionKind::MirrorB]
        .into_iter()
        .filter(|&k| k != failed.kind)
        .find_map(|k| pair.option(k).filter(|o| o.verdict == Verdict::Fits));
    if let Some(other) = other {
        return format!("{} fits instead.", capital(&pair.choice_word(other.kind)));
    }
    let others: Vec<&OptionResult> = pair
        .options()
        .iter()
        .filter(|o| cure_group(pair, o.kind).is_some())
        .collect();
    let cure = others.iter().find(|o| o.verdict == Verdict::Fits);
    // A group does not cure it only if no member of it may.
    let group_of = |o: &OptionResult| cure_group(pair, o.kind).map(|g| g.0);
    let useless = |name: &str| {
        let mut members = others
            .iter()
            .filter(|o| group_of(o) == Some(name))
            .peekable();
        members.peek().is_some() && members.all(|o| o.verdict == Verdict::WillNotFit)
    };
    let failing: Vec<&str> = ["slots", "shims"]
        .into_iter()
        .filter(|n| useless(n))
        .collect();
    let doubtful = |name: &str| {
        others
            .iter()
            .filter(|o| group_of(o) == Some(name) && o.verdict == Verdict::NotProven)
            .find_map(|o| o.chance)
    };
    let mut clauses = Vec::new();
    if !failing.is_empty() {
        clauses.push(format!("{} do not cure it", failing.join(" and ")));
    }
    if let Some(best) = cure {
        clauses.push(cured_by(pair, best, !clauses.is_empty()));
    } else {
        for name in ["slots", "shims"] {
            if let Some(c) = doubtful(name) {
                clauses.push(format!(
                    "{name} may cure it (chance it fits {})",
                    chance(c.fits)
                ));
            }
        }
        if let Some(c) = pair
            .option(OptionKind::Midway)
            .filter(|o| o.verdict == Verdict::NotProven)
        {
            let odds = c.chance.map_or_else(String::new, |c| {
                format!(" (chance it fits {})", chance(c.fits))
            });
            clauses.push(format!("a midway shape may fit{odds}"));
        }
        clauses.push("no choice is proven to fit".to_owned());
    }
    let mut text = full_stop(&capital(&clauses.join("; ")));
    if let (None, Some(next)) = (cure, next_text(pair, None)) {
        text = format!("{text} {next}");
    }
    text
}

/// The clause of the cure; short after a clause that named what does not cure it.
fn cured_by(pair: &Pair, best: &OptionResult, after: bool) -> String {
    let Some((name, plural)) = cure_group(pair, best.kind) else {
        return String::new();
    };
    match best.kind {
        OptionKind::OneShapeWithSlots
        | OptionKind::OneShapeWithShims
        | OptionKind::MirrorAWithSlots
        | OptionKind::MidwayWithSlots
        | OptionKind::MirrorAWithShims
        | OptionKind::MidwayWithShims => {
            let what = needs_text(&best.needs, pair.study.units).unwrap_or_else(|| name.to_owned());
            let midway = matches!(
                best.kind,
                OptionKind::MidwayWithSlots | OptionKind::MidwayWithShims
            );
            let with = if midway { "a midway shape with " } else { "" };
            let verb = if midway || !plural { "cures" } else { "cure" };
            let rest = if pair.option(OptionKind::TwoHands).is_some() {
                let (hands, many) =
                    cure_group(pair, OptionKind::TwoHands).unwrap_or(("two hands", true));
                format!("; {hands} {} not needed", if many { "are" } else { "is" })
            } else {
                String::new()
            };
            format!("{with}{what} {verb} it{rest}")
        }
        _ if after => format!("{name} {}", if plural { "do" } else { "does" }),
        OptionKind::TwoHands if plural => format!("{name} fit"),
        _ => format!("{name} fits"),
    }
}

/// Chance and the reading that would settle a doubtful choice.
fn settle_text(pair: &Pair, option: &OptionResult) -> String {
    let odds = option
        .chance
        .map(|c| format!("Chance it fits: {}.", chance(c.fits)));
    let sure = pair
        .options()
        .iter()
        .find(|o| o.verdict == Verdict::Fits)
        .and_then(|o| {
            let (name, plural) = cure_group(pair, o.kind)?;
            let name = capital(name);
            Some(format!(
                "{name} {} proven to fit.",
                if plural { "are" } else { "is" }
            ))
        });
    [odds, sure, next_text(pair, Some(option.kind))]
        .into_iter()
        .flatten()
        .collect::<Vec<_>>()
        .join(" ")
}

/// `To settle it: scan the right lamp opening once more, re-seated.`
pub fn next_text(pair: &Pair, option: Option<OptionKind>) -> Option<String> {
    let best = next_for(pair, option)?;
    Some(full_stop(&format!("To settle it: {}", best.what)))
}

/// The reading that would settle a choice; without one for it, the one that settles most.
fn next_for<'a>(pair: &Pair<'a>, option: Option<OptionKind>) -> Option<&'a NextReading> {
    let next = &pair.decided?.next;
    next.iter()
        .find(|n| n.option == option && option.is_some())
        .or_else(|| next.first())
}

/// The one reading to take next: that of the choice that the sentence speaks of.
pub fn next_reading<'a>(pair: &Pair<'a>) -> Option<&'a NextReading> {
    next_for(pair, headline_option(pair).map(|o| o.kind))
}

/// The rung with the largest proven difference (largest against its give-or-take if none is proven).
pub fn telling_rung<'a>(pair: &Pair<'a>) -> Option<&'a AngleRow> {
    let weight = |r: &AngleRow| {
        r.difference
            .map_or(0.0, |d| d.value.abs() / d.u95.max(1e-9))
    };
    let proven = |r: &AngleRow| r.difference.is_some_and(|d| d.value.abs() > d.u95);
    let size = |r: &AngleRow| r.difference.map_or(0.0, |d| d.value.abs());
    let rows = || {
        pair.measured
            .angles
            .iter()
            .filter(|r| r.a.is_some() && r.b.is_some())
    };
    rows()
        .filter(|r| proven(r))
        .max_by(|x, y| size(x).total_cmp(&size(y)))
        .or_else(|| rows().max_by(|x, y| weight(x).total_cmp(&weight(y))))
}

/// `Angle at the top: left 89.1°, right 90.4° (give or take 0.2): set your bevel there to these.`
fn angle_text(pair: &Pair) -> String {
    let units = pair.study.units;
    let at = |row: &AngleRow| {
        let many = pair.ladders().len() > 1;
        let of = if many {
            format!(" of {}", row.junction)
        } else {
            String::new()
        };
        format!("{of} {}", at_place(&row.place))
    };
    if let Some(row) = telling_rung(pair)
        && let (Some(a), Some(b)) = (row.a, row.b)
    {
        let step = step_of(&a, units).max(step_of(&b, units));
        let (left, right) = (show_at(&a, step, units), show_at(&b, step, units));
        let wider = if a.u95 >= b.u95 { &left } else { &right };
        let differs = row.difference.is_some_and(|d| d.value.abs() > d.u95);
        let close = if differs {
            ": set your bevel there to these."
        } else {
            ". No difference of angle is proven."
        };
        return format!(
            "Angle{}: {} {}, {} {} {}{close}",
            at(row),
            pair.a_word(),
            left.with_unit(),
            pair.b_word(),
            right.with_unit(),
            wider.in_brackets()
        );
    }
    let one = pair
        .measured
        .angles
        .iter()
        .find_map(|r| r.a.or(r.b).map(|f| (r, f, r.a.is_some())));
    one.map_or_else(String::new, |(row, figure, is_a)| {
        let shown = show(&figure, units);
        let who = if is_a { pair.a_word() } else { pair.b_word() };
        format!(
            "Angle{}: {who} {} {}.",
            at(row),
            shown.with_unit(),
            shown.in_brackets()
        )
    })
}

/// `at the top`, `at 1/4`, `at 120 mm`.
fn at_place(place: &str) -> String {
    if place.starts_with(|c: char| c.is_ascii_digit()) {
        format!("at {place}")
    } else {
        format!("at the {place}")
    }
}

/// `Doubt: right lamp: primed, left is bare. Change it if the film was measured.`
pub fn finding_text(finding: &Finding) -> String {
    let says = full_stop(&finding.says);
    let subject = if finding.subject.is_empty() || finding.says.contains(&finding.subject) {
        String::new()
    } else {
        format!("{}: ", finding.subject)
    };
    let advice = if finding.advice.is_empty() {
        String::new()
    } else {
        format!(" {}", full_stop(&capital(&finding.advice)))
    };
    format!("{}: {subject}{says}{advice}", severity(finding.severity))
}

#[cfg(test)]
mod tests;
