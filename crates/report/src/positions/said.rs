//! What the page of the centreline says above its pictures.

use record::{ImageFit, Laid, LineKnown, PlaceRow, Quantity, Severity, Study, Verdict};

use crate::PairText;
use crate::number::{show, show_signed};
use crate::words::{capital, full_stop};

/// Under every sentence about the centreline.
pub const NOT_NEEDED: &str = "Angles, sizes, holes and whether a part fits need no centreline.";

/// The sentence above the page: how well the centreline is known, what was set aside, what it counts for.
///
/// Degenerate: without places it says what places are for; where no line could be laid, why.
pub fn centreline_text(study: &Study) -> PairText {
    let said = |verdict, headline: String, reason: String| PairText {
        verdict,
        headline,
        reason,
        cure: NOT_NEEDED.to_owned(),
        angle: String::new(),
    };
    let Some(positions) = &study.positions else {
        return said(
            Verdict::NotMeasured,
            "No centreline is laid.".to_owned(),
            "Only heights, set-back, toe and level on the car ask for one: give pairs of places, the same on the left and on the right.".to_owned(),
        );
    };
    let Some(laid) = &positions.laid else {
        let stop = positions
            .findings
            .iter()
            .find(|f| f.severity == Severity::Stop);
        let (says, advice) = stop.map_or_else(
            || ("no centreline could be laid".to_owned(), String::new()),
            |f| (f.says.clone(), f.advice.clone()),
        );
        return said(
            Verdict::NotMeasured,
            full_stop(&capital(&says)),
            full_stop(&capital(&advice)),
        );
    };
    let doubtful = positions
        .findings
        .iter()
        .any(|f| f.severity > Severity::Note);
    let verdict = if doubtful {
        Verdict::NotProven
    } else {
        Verdict::Fits
    };
    let twice = "Whatever is measured from it, left against right, carries its doubt twice.";
    said(
        verdict,
        known(laid, study),
        format!("{}{twice}", aside(laid, study)),
    )
}

fn known(laid: &Laid, study: &Study) -> String {
    let size = |k: &LineKnown| {
        let figure = record::Figure {
            value: k.aside.u95,
            ..k.aside
        };
        show(&figure, study.units).with_unit()
    };
    match (laid.known.first(), laid.known.last()) {
        (Some(front), Some(rear)) if front.aside.u95.is_finite() => format!(
            "The centreline is known to {} at the front places and to {} at the rear ones.",
            size(front),
            size(rear)
        ),
        _ => "A centreline is laid, by too few places to say how well it is known.".to_owned(),
    }
}

/// What was set aside, as a sentence with a space behind it; empty where nothing was.
fn aside(laid: &Laid, study: &Study) -> String {
    let odd: Vec<String> = laid
        .places
        .iter()
        .filter(|p| !p.kept)
        .map(|p| format!("{}, {} out", p.name, in_all(p, study.units)))
        .collect();
    match odd.len() {
        0 => String::new(),
        1 => format!("The odd one out is set aside: {}. ", odd[0]),
        _ => format!("Odd ones out are set aside: {}. ", odd.join("; ")),
    }
}

/// How far a pair is out in all three directions together; a place on the centre by half of what it counts.
pub fn in_all(place: &PlaceRow, units: record::DisplayUnits) -> String {
    let [x, y, z] = place.misfit_mm;
    let far = if place.centre {
        y.abs() / 2.0
    } else {
        x.hypot(y).hypot(z)
    };
    show(&misfit(far), units).with_unit()
}

/// How well a scan lies on its own mirror image, as a sentence.
pub(super) fn image(fit: &ImageFit, units: record::DisplayUnits) -> String {
    // A spread is known to a tenth of itself or so.
    let mm = |value: f64| {
        let figure = record::Figure {
            value,
            u95: (0.1 * value).max(0.1),
            ..misfit(value)
        };
        show(&figure, units).with_unit()
    };
    let next = if fit.next_best_mm.is_finite() {
        format!("; by the next best plane {}", mm(fit.next_best_mm))
    } else {
        String::new()
    };
    format!(
        "Own mirror image of {}: {:.0} % of the smaller half lies on the image of the other, {} apart (one standard deviation){next}.",
        fit.scan,
        100.0 * fit.share,
        mm(fit.left_mm)
    )
}

/// One direction of a misfit with its sign, without the unit.
pub fn misfit_text(value: f64, units: record::DisplayUnits) -> String {
    show_signed(&misfit(value), units).value
}

/// A misfit as a figure: shown to 0.1 mm, as picks are no better.
pub(super) fn misfit(value: f64) -> record::Figure {
    record::Figure {
        value,
        u95: 0.1,
        nu: f64::INFINITY,
        source: record::Source::Centreline,
        quantity: Quantity::Length,
    }
}
