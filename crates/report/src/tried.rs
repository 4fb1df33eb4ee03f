//! What a part drawn to one opening does in another, in the fixed grammar of verdicts.

use record::{Direction, Need, NeedKind, OptionKind, OptionResult, Quantity, Verdict};

use crate::Pair;
use crate::number::{chance, typed, unit_text};
use crate::sentence::{needs_text, next_text, uses_text, without_options, worst_text};
use crate::words::{capital, full_stop, verdict};

/// A verdict with its reason and what would do.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TriedText {
    /// The verdict.
    pub verdict: Verdict,
    /// `Lamp surround drawn for car 1, left: WILL NOT FIT car 2, left.`
    pub headline: String,
    /// The worst place, or how much of what is allowed is used; may be empty.
    pub reason: String,
    /// What would do, or what would settle it; may be empty.
    pub cure: String,
}

impl TriedText {
    /// All of it as running text.
    pub fn full(&self) -> String {
        let parts = [&self.headline, &self.reason, &self.cure];
        let some = parts.into_iter().filter(|p| !p.is_empty());
        some.map(String::as_str).collect::<Vec<_>>().join(" ")
    }
}

/// The words for choice `kind`, the part as it was drawn to a: `drawn` says for what it was drawn, `tried` where it is tried.
pub fn tried_text(pair: &Pair, kind: OptionKind, drawn: &str, tried: &str) -> TriedText {
    let title = format!("{} {drawn}", capital(pair.title()));
    if let Some(none) = without_options(pair, "") {
        return TriedText {
            verdict: none.verdict,
            headline: none.headline,
            reason: none.reason,
            cure: none.cure,
        };
    }
    let Some(option) = pair.option(kind) else {
        return TriedText {
            verdict: Verdict::NotMeasured,
            headline: format!("{title}: no verdict on {tried}."),
            reason: "It carries load or safety: no part is taken over from one opening to another."
                .to_owned(),
            cure: String::new(),
        };
    };
    let units = pair.study.units;
    let on = if option.verdict == Verdict::NotProven {
        " on"
    } else {
        ""
    };
    let headline = format!("{title}: {}{on} {tried}.", verdict(option.verdict));
    let (reason, cure) = match option.verdict {
        Verdict::Fits => {
            let uses = option.uses.map_or_else(String::new, |u| {
                full_stop(&format!("It uses {}", uses_text(&u, option, units)))
            });
            (uses, String::new())
        }
        Verdict::WillNotFit => (worst_text(option, units), would_do(pair, kind, option)),
        Verdict::NotProven | Verdict::NotMeasured => {
            let odds = option
                .chance
                .map(|c| format!("Chance it fits: {}.", chance(c.fits)));
            let both = [odds, next_text(pair, Some(kind))];
            let both: Vec<String> = both.into_iter().flatten().collect();
            (worst_text(option, units), both.join(" "))
        }
    };
    TriedText {
        verdict: option.verdict,
        headline,
        reason,
        cure,
    }
}

/// The choices that are this one with slots or shims.
fn with(kind: OptionKind) -> [OptionKind; 2] {
    if kind == OptionKind::OneShape {
        [OptionKind::OneShapeWithSlots, OptionKind::OneShapeWithShims]
    } else {
        [OptionKind::MirrorAWithSlots, OptionKind::MirrorAWithShims]
    }
}

/// `Slots with 1.4 mm of travel would do.`, or that only another drawing does.
fn would_do(pair: &Pair, kind: OptionKind, failed: &OptionResult) -> String {
    let units = pair.study.units;
    let cures: Vec<&OptionResult> = with(kind)
        .iter()
        .filter_map(|&k| pair.option(k))
        .filter(|o| o.verdict != Verdict::WillNotFit)
        .collect();
    let mut says = Vec::new();
    for c in &cures {
        let Some(what) = needs_text(&c.needs, units) else {
            continue;
        };
        says.push(match (c.verdict, c.chance) {
            (Verdict::Fits, _) => format!("{what} would do"),
            (_, Some(odds)) => format!("{what} may do (chance it fits {})", chance(odds.fits)),
            _ => format!("{what} may do"),
        });
    }
    if says.is_empty() {
        says.push("no slot and no shim cures it".to_owned());
        let tight = failed
            .worst
            .as_ref()
            .is_some_and(|w| w.direction == Direction::Tight);
        if let Some(off) = taken_off(failed).filter(|_| tight) {
            says.push(format!(
                "it would want {}{} taken off there",
                typed(off, Quantity::Length, units),
                unit_text(Quantity::Length, units)
            ));
        }
        let anew = pair
            .option(OptionKind::TwoHands)
            .is_some_and(|o| o.verdict == Verdict::Fits);
        says.push(
            if anew {
                "drawn anew it fits"
            } else {
                "drawn anew it may fit"
            }
            .to_owned(),
        );
    }
    full_stop(&capital(&says.join("; ")))
}

/// Most metal to take off, mm, rounded up to a tenth.
fn taken_off(o: &OptionResult) -> Option<f64> {
    let off = |n: &&Need| n.kind == NeedKind::TakeOff && n.amount_mm.is_finite();
    let most = o
        .needs
        .iter()
        .filter(off)
        .map(|n| n.amount_mm)
        .reduce(f64::max)?;
    Some((most * 10.0 - 1e-6).ceil() / 10.0)
}
