//! What has to be said before a position is believed.

use record::{
    BodyWay, Code, Finding, Job, Laid, Measured, Number, PositionKind, Quantity, Severity,
};

use super::line::{Doubt, Lines};
use super::{count, finding};

/// With fewer the give-or-take is wide and one odd place is hard to tell.
const ENOUGH: usize = 6;

/// Of the places and the body.
pub(super) fn of_places(lines: &Lines, laid: &Laid, findings: &mut Vec<Finding>) {
    for name in &lines.alone {
        findings.push(finding(
            Code::PlaceWithoutPartner,
            Severity::Note,
            name,
            format!("the place {name} stands on one side only and does not count"),
            "pick it on the other side too, under the same name",
        ));
    }
    if lines.rests_on_places() {
        places_themselves(lines, laid, findings);
    }
    of_the_body(laid, findings);
}

fn places_themselves(lines: &Lines, laid: &Laid, findings: &mut Vec<Finding>) {
    let kept = laid.places.iter().filter(|p| p.kept).count();
    if kept < ENOUGH {
        let known = if matches!(lines.used.doubt, Doubt::NotKnown) {
            "so few that no give-or-take can be stated"
        } else {
            "few, and one bent place among them is hard to tell"
        };
        let mut f = finding(
            Code::FewPairs,
            Severity::Doubt,
            "centreline",
            format!("{kept} places hold the centreline: {known}"),
            "pick at least six pairs, spread over the whole length of the car",
        );
        f.numbers.push(count("places", kept));
        findings.push(f);
    }
    for p in laid.places.iter().filter(|p| !p.kept) {
        let [back, out, up] = p.misfit_mm;
        let parts = [
            (back, "further back", "further forward"),
            (out, "further out", "further in"),
            (up, "higher", "lower"),
        ];
        let (most, plus, minus) = parts
            .into_iter()
            .fold(parts[0], |m, q| if q.0.abs() > m.0.abs() { q } else { m });
        let word = if most > 0.0 { plus } else { minus };
        let says = if p.centre {
            let side = if most > 0.0 { "left" } else { "right" };
            format!(
                "the place {} is the odd one out: it lies {:.1} mm to the {side} of where the others put the centreline; it was set aside",
                p.name,
                most.abs() / 2.0
            )
        } else {
            format!(
                "the pair {} is the odd one out: its left lies {:.1} mm {word} than its mirrored right; it was set aside",
                p.name,
                most.abs()
            )
        };
        let mut f = finding(
            Code::OddPlace,
            Severity::Doubt,
            &p.name,
            says,
            "look at both places at the car: bent metal, or a pick beside the place",
        );
        f.numbers.push(Number {
            name: "off".to_owned(),
            value: most,
            quantity: Some(Quantity::Length),
        });
        findings.push(f);
    }
}

fn of_the_body(laid: &Laid, findings: &mut Vec<Finding>) {
    for b in laid.body.iter().filter(|b| b.proven) {
        let v = b.amount.value;
        let says = match b.way {
            BodyWay::Back => format!(
                "the whole left side sits {:.1} mm further {} than the right",
                v.abs(),
                if v > 0.0 { "back" } else { "forward" }
            ),
            BodyWay::High => format!(
                "the whole left side sits {:.1} mm {} than the right",
                v.abs(),
                if v > 0.0 { "higher" } else { "lower" }
            ),
            BodyWay::Twisted => format!(
                "the body is twisted by {:.2} degrees from front to rear",
                v.abs()
            ),
            BodyWay::Bowed => format!(
                "the middle of the body lies {:.1} mm to the {} of the line through its ends",
                v.abs(),
                if v > 0.0 { "right" } else { "left" }
            ),
        };
        let mut f = finding(
            Code::WholeBody,
            Severity::Note,
            "body",
            if b.amount.quantity == Quantity::Angle {
                format!("{says} (give or take {:.2})", b.amount.u95)
            } else {
                format!("{says} (give or take {:.1})", b.amount.u95)
            },
            "do not correct an opening for what the whole body does",
        );
        f.numbers.push(Number {
            name: "amount".to_owned(),
            value: v,
            quantity: Some(b.amount.quantity),
        });
        findings.push(f);
    }
}

/// Of the openings.
pub(super) fn of_openings(
    job: &Job,
    measured: &Measured,
    lines: &Lines,
    laid: &Laid,
    findings: &mut Vec<Finding>,
) {
    if lines.rests_on_places() {
        bunched(job, measured, lines, laid, findings);
    }
    for pair in &laid.pairs {
        let hanging: Vec<Hanging> = (pair.rows.iter().filter(|r| !r.survives))
            .map(|r| (word(r.kind), r.over_rivals, r.difference.quantity))
            .collect();
        let of = format!("of {}", pair.name);
        findings.extend(hangs(&pair.compare.0, &hanging, &of));
    }
    for c in laid.central.iter().filter(|c| !c.survives) {
        let off = ("how far off centre", c.over_rivals, Quantity::Length);
        let is = format!("{} is", c.name);
        findings.extend(hangs(&c.opening.0, &[off], &is));
    }
}

/// A figure by its name, with its least and greatest value over the rivals and what these are.
type Hanging = (&'static str, [f64; 2], Quantity);

/// One finding for all figures of a pair or an opening that change with the centreline; `None` without any.
fn hangs(subject: &str, all: &[Hanging], of: &str) -> Option<Finding> {
    let parts: Vec<String> = all
        .iter()
        .map(|(what, [least, greatest], quantity)| {
            if *quantity == Quantity::Angle {
                format!(
                    "{what} ({} to {} degrees)",
                    signed(*least, 2),
                    signed(*greatest, 2)
                )
            } else {
                format!(
                    "{what} ({} to {} mm)",
                    signed(*least, 1),
                    signed(*greatest, 1)
                )
            }
        })
        .collect();
    let (last, rest) = parts.split_last()?;
    let (what, hang) = if rest.is_empty() {
        (last.clone(), "hangs")
    } else {
        (format!("{} and {last}", rest.join(", ")), "hang")
    };
    let mut f = finding(
        Code::HangsOnCentreline,
        Severity::Doubt,
        subject,
        format!("{what} {of} {hang} on which of the rival centrelines is taken"),
        "add pairs of places over the whole length of the car, or do not rest a decision on it",
    );
    for (_, over, quantity) in all {
        for (name, value) in std::iter::zip(["least", "greatest"], over) {
            f.numbers.push(Number {
                name: name.to_owned(),
                value: *value,
                quantity: Some(*quantity),
            });
        }
    }
    Some(f)
}

/// A number with its sign as in print, never a minus zero.
fn signed(value: f64, digits: usize) -> String {
    let text = format!("{:.digits$}", value.abs());
    let zero = text.bytes().all(|b| b == b'0' || b == b'.');
    if value < 0.0 && !zero {
        format!("\u{2212}{text}")
    } else {
        text
    }
}

fn word(kind: PositionKind) -> &'static str {
    match kind {
        PositionKind::SetBack => "the set-back",
        PositionKind::Out => "the distance from the centreline",
        PositionKind::Height => "the height",
        PositionKind::Toe => "the toe",
        PositionKind::Camber => "the camber",
        PositionKind::Level => "how level the top stands",
    }
}

/// Places that lie close together along the car, and an opening beyond them.
fn bunched(
    job: &Job,
    measured: &Measured,
    lines: &Lines,
    laid: &Laid,
    findings: &mut Vec<Finding>,
) {
    let xs = || laid.places.iter().filter(|p| p.kept).map(|p| p.middle.x);
    let (low, high) = (
        xs().fold(f64::INFINITY, f64::min),
        xs().fold(f64::NEG_INFINITY, f64::max),
    );
    let length = high - low;
    let mut beyond = 0.0_f64;
    for o in &job.openings {
        let m = measured.openings.iter().find(|m| m.id == o.id);
        if let (Some(m), Some(base_from_scan)) = (m, lines.axes.from(&o.scan)) {
            let middle = m.part_from_scan.inverse() * geom::Point::origin();
            let p = laid.car_from_scan * base_from_scan * middle;
            beyond = beyond.max(low - p.x).max(p.x - high);
        }
    }
    // A body is wider than a metre: places over less than that turn with any wing.
    let width = lines
        .named
        .iter()
        .map(|n| n.landmark.chord().norm())
        .fold(0.0, f64::max);
    if length < width.max(beyond) {
        let mut f = finding(
            Code::PlacesBunched,
            Severity::Doubt,
            "centreline",
            format!(
                "all places lie within {length:.0} mm along the car: one wing that sits forward turns such a centreline"
            ),
            "pick pairs at the other end of the car too",
        );
        f.numbers.push(Number {
            name: "length".to_owned(),
            value: length,
            quantity: Some(Quantity::Length),
        });
        findings.push(f);
    }
}
