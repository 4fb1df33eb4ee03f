//! In which way the two differ most, and what cures that.

use record::{CureWay, DiffersBy, Matters, WayOfDiffering};

use crate::Pair;
use crate::number::show;
use crate::sentence::telling_rung;

/// `It is mostly a shift of the holes against the opening: 1.2 mm (give or take 0.1); slots can cure that.` Empty where
/// nothing stands out. A twist beside a ladder of angles goes without its amount: that is reckoned over the whole
/// opening, the ladder runs along the junction, and two numbers of degrees for one thing cannot be told apart.
pub fn differs_text(pair: &Pair) -> String {
    let Some(d) = pair.decided.and_then(|d| telling(&d.differs)) else {
        return String::new();
    };
    // How much, whichever way round.
    let mut amount = d.amount;
    amount.value = amount.value.abs();
    let shown = show(&amount, pair.study.units);
    let by = if d.way == WayOfDiffering::Twist && telling_rung(pair).is_some() {
        String::new()
    } else {
        format!(": {} {}", shown.with_unit(), shown.in_brackets())
    };
    let place = d
        .place
        .as_ref()
        .map_or_else(String::new, |p| format!(" ({p})"));
    format!(
        "It is mostly {}{place}{by}; {} can cure that.",
        way(d.way),
        listed(&d.cures),
    )
}

/// The first that matters, else the first.
fn telling(all: &[DiffersBy]) -> Option<&DiffersBy> {
    all.iter()
        .find(|d| d.matters == Matters::Matters)
        .or_else(|| all.first())
}

fn way(way: WayOfDiffering) -> &'static str {
    match way {
        WayOfDiffering::Shift => "a shift of the holes against the opening",
        WayOfDiffering::Turn => "a turn of the holes against the opening",
        WayOfDiffering::Tilt => "a tilt of the seats against the opening",
        WayOfDiffering::StandOff => "the depth of the seats against the opening",
        WayOfDiffering::Width => "the width",
        WayOfDiffering::Height => "the height",
        WayOfDiffering::Shear => "a shear",
        WayOfDiffering::Twist => "a twist of the edge over its height",
        WayOfDiffering::Bow => "a bow",
        WayOfDiffering::LocalWave => "a local wave of the edge",
        WayOfDiffering::HolePattern => "the pattern of the holes",
    }
}

fn cure(cure: CureWay) -> &'static str {
    match cure {
        CureWay::Slots => "slots",
        CureWay::TaperedShim => "a tapered shim",
        CureWay::Shims => "shims",
        CureWay::Gasket => "a gasket",
        CureWay::WiderFlange => "a wider flange",
        CureWay::Bend => "bending it true",
        CureWay::FileOrFill => "filing or filling",
        CureWay::Scribe => "scribing at the fit",
        CureWay::TransferDrill => "drilling from the body's own holes",
        CureWay::TwoHands => "two hands",
    }
}

/// `a gasket, bending it true or two hands`.
fn listed(cures: &[CureWay]) -> String {
    let words: Vec<&str> = cures.iter().map(|c| cure(*c)).collect();
    match words.split_last() {
        Some((last, [])) => (*last).to_owned(),
        Some((last, rest)) => format!("{} or {last}", rest.join(", ")),
        None => String::new(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cures_are_listed_the_simplest_first() {
        use CureWay::{Bend, Gasket, Slots, TwoHands};
        assert_eq!(listed(&[Slots]), "slots");
        assert_eq!(
            listed(&[Gasket, Bend, TwoHands]),
            "a gasket, bending it true or two hands"
        );
    }
}
