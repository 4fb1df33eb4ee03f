//! What a choice asks for: slots, larger holes, shims, a gasket, metal taken off.

use record::{DisplayUnits, Need, NeedKind, OptionResult, Quantity};

use crate::number::{typed, unit_text};
use crate::words::need;

/// Which way slots run, the top of the part up.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SlotsRun {
    /// Along X of the part.
    Sideways,
    /// Along Y of the part, whose + is its top.
    UpAndDown,
}

/// What a choice asks for that would do something: filing does not mend an angle.
pub fn asked_for(option: &OptionResult) -> Vec<Need> {
    let angle_decides = option
        .worst
        .as_ref()
        .is_some_and(|w| w.amount.quantity == Quantity::Angle);
    let useful =
        |n: &&Need| n.amount_mm.is_finite() && !(n.kind == NeedKind::TakeOff && angle_decides);
    option.needs.iter().filter(useful).cloned().collect()
}

/// Which way all slots of a choice run, the top of the part up; `None` where they run askew or not alike.
pub fn slots_run(needs: &[Need]) -> Option<SlotsRun> {
    let mut ways = needs
        .iter()
        .filter(|n| n.kind == NeedKind::SlotLength)
        .map(|n| {
            let [x, y] = n.along?;
            let [x, y] = [x.abs(), y.abs()];
            // Within 20 degrees of an axis.
            if y <= 0.36 * x {
                Some(SlotsRun::Sideways)
            } else if x <= 0.36 * y {
                Some(SlotsRun::UpAndDown)
            } else {
                None
            }
        });
    let first = ways.next()??;
    ways.all(|w| w == Some(first)).then_some(first)
}

/// What a choice asks for, one amount per kind (the largest): `slots with 1.4 mm of travel sideways`.
pub fn needs_text(needs: &[Need], units: DisplayUnits) -> Option<String> {
    let mut largest: Vec<(NeedKind, f64)> = Vec::new();
    for n in needs {
        match largest.iter_mut().find(|(k, _)| *k == n.kind) {
            Some((_, mm)) => *mm = mm.max(n.amount_mm),
            None => largest.push((n.kind, n.amount_mm)),
        }
    }
    let texts: Vec<String> = largest
        .iter()
        .filter(|(_, mm)| mm.is_finite())
        .map(|(kind, mm)| {
            // Rounded up: a slot a shade too short is no slot.
            let up = (mm * 10.0 - 1e-6).ceil() / 10.0;
            let said = need(
                *kind,
                &format!(
                    "{}{}",
                    typed(up, Quantity::Length, units),
                    unit_text(Quantity::Length, units)
                ),
            );
            match slots_run(needs).filter(|_| *kind == NeedKind::SlotLength) {
                Some(SlotsRun::Sideways) => format!("{said} sideways"),
                Some(SlotsRun::UpAndDown) => format!("{said} up and down"),
                None => said,
            }
        })
        .collect();
    if texts.is_empty() {
        None
    } else {
        Some(texts.join(" and "))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::slot;

    fn slots(all: &[[f64; 2]]) -> Vec<Need> {
        let one = |along: &[f64; 2]| Need {
            along: Some(*along),
            ..slot(1.0)
        };
        all.iter().map(one).collect()
    }

    #[test]
    fn the_way_of_slots_is_said_where_all_run_alike_and_along_the_part() {
        let said = |all: &[[f64; 2]]| {
            let text = needs_text(&slots(all), DisplayUnits::default());
            text.unwrap_or_default()
        };
        assert_eq!(
            said(&[[1.0, 0.2], [-1.0, 0.0]]),
            "slots with 1 mm of travel sideways"
        );
        assert_eq!(
            said(&[[0.1, -1.0]]),
            "slots with 1 mm of travel up and down"
        );
        // Askew, and one each way.
        assert_eq!(said(&[[1.0, 0.9]]), "slots with 1 mm of travel");
        assert_eq!(said(&[[1.0, 0.0], [0.0, 1.0]]), "slots with 1 mm of travel");
    }
}
