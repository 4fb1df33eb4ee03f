//! The one thing to do next for a pair.

use record::Verdict;

use crate::Pair;
use crate::sentence::{headline_option, next_reading};
use crate::words::full_stop;

/// `choose “two hands”, then hand over.`; where the verdict is not proven, the reading that would settle it and what fits
/// as it is; where nothing fits, what is missing. What was chosen goes on only if it is proven to fit.
pub fn next_step(pair: &Pair) -> String {
    let fitting = pair
        .options()
        .iter()
        .find(|o| o.verdict == Verdict::Fits)
        .map(|o| format!("“{}”", pair.choice_word(o.kind)));
    let reading = next_reading(pair).map(|n| n.what.clone());
    let unproven = headline_option(pair).is_some_and(|o| o.verdict == Verdict::NotProven);
    let chosen = pair.chosen().map(|kind| {
        let verdict = pair
            .option(kind)
            .map_or(Verdict::NotMeasured, |o| o.verdict);
        (format!("“{}” is chosen", pair.choice_word(kind)), verdict)
    });
    full_stop(&match (chosen, reading, fitting) {
        _ if pair.stop().is_some() => missing(pair),
        (Some((chosen, Verdict::Fits)), ..) => format!("{chosen}: go on to hand over"),
        (Some((chosen, Verdict::WillNotFit)), _, fitting) => {
            let instead = fitting.map_or_else(|| missing(pair), |f| format!("choose {f} instead"));
            format!("{chosen} and will NOT fit: {instead}")
        }
        (Some((chosen, _)), reading, _) => {
            let first = reading.unwrap_or_else(|| missing(pair));
            format!("{chosen}, which is not proven to fit: {first}")
        }
        (None, Some(reading), Some(fits)) if unproven => {
            format!("{reading}; or choose {fits}, which is proven to fit")
        }
        (None, _, Some(fits)) => format!("choose {fits}, then hand over"),
        (None, Some(reading), None) => reading,
        (None, None, None) => missing(pair),
    })
}

/// What is missing where no reading is asked for, if something is.
fn missing(pair: &Pair) -> String {
    if pair.one_side_only() {
        format!("measure the {} side of it", pair.b_word())
    } else if let Some(lost) = pair.not_measured() {
        format!("{}: {}", lost.id, lost.why)
    } else if let Some(stop) = pair.stop() {
        stop.advice.clone()
    } else if pair.part.is_none() {
        "say what you allow for it: gap, flush, angle".to_owned()
    } else if pair.options().is_empty() {
        "nothing more for this part".to_owned()
    } else {
        "choose what to make of it: no choice is proven to fit".to_owned()
    }
}

#[cfg(test)]
mod tests {
    use record::{CompareId, OptionKind, Relation, Severity};

    use super::*;
    use crate::testing::{Made, finding, next, option, study};

    fn lamp(mirror: Verdict, chance: f64) -> Made {
        let mut made = Made::new("lamp", "Lamp surround", Relation::Mirrored, 0.6);
        made.decided.options = vec![
            option(OptionKind::TwoHands, Verdict::Fits, 20.0, 1.0),
            option(OptionKind::MirrorA, mirror, 100.0, chance),
        ];
        made
    }

    fn check(made: Made, chosen: Option<OptionKind>, expected: &str) {
        let mut study = study(vec![made]);
        study.choices.chosen = chosen
            .map(|kind| (CompareId("lamp".to_owned()), kind, String::new()))
            .into_iter()
            .collect();
        assert_eq!(next_step(&Pair::all(&study)[0]), expected);
    }

    #[test]
    fn what_fits_is_to_be_chosen_and_then_handed_over() {
        let made = || lamp(Verdict::WillNotFit, 0.0);
        check(made(), None, "choose “two hands”, then hand over.");
        check(
            made(),
            Some(OptionKind::TwoHands),
            "“two hands” is chosen: go on to hand over.",
        );
    }

    #[test]
    fn what_is_chosen_and_does_not_fit_is_not_handed_over_in_silence() {
        let mirror = Some(OptionKind::MirrorA);
        check(
            lamp(Verdict::WillNotFit, 0.0),
            mirror,
            "“mirror the left one” is chosen and will NOT fit: choose “two hands” instead.",
        );
        let mut made = lamp(Verdict::NotProven, 0.4);
        made.decided.next = vec![next("scan it once more", mirror)];
        check(
            made,
            mirror,
            "“mirror the left one” is chosen, which is not proven to fit: scan it once more.",
        );
    }

    #[test]
    fn what_is_not_proven_is_to_be_settled_or_left_alone() {
        let reading = "scan the right opening once more, re-seated";
        let mut made = lamp(Verdict::NotProven, 0.4);
        made.decided.next = vec![next(reading, Some(OptionKind::MirrorA))];
        check(
            made,
            None,
            "scan the right opening once more, re-seated; or choose “two hands”, which is proven to fit.",
        );
        let mut made = lamp(Verdict::NotProven, 0.4);
        made.decided.options.remove(0);
        made.decided.next = vec![next(reading, Some(OptionKind::MirrorA))];
        check(made, None, "scan the right opening once more, re-seated.");
    }

    #[test]
    fn a_stop_comes_first_and_a_part_that_nothing_fits_is_not_done() {
        let mut made = lamp(Verdict::WillNotFit, 0.0);
        made.measured.findings = vec![finding(
            Severity::Stop,
            "lamp",
            "the sides look swapped",
            "check which side is left",
        )];
        check(
            made,
            Some(OptionKind::TwoHands),
            "check which side is left.",
        );
        let mut made = lamp(Verdict::WillNotFit, 0.0);
        made.decided.options.remove(0);
        check(
            made,
            None,
            "choose what to make of it: no choice is proven to fit.",
        );
    }
}
