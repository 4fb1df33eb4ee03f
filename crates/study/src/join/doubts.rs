//! What has to be said of a join before it is believed.

use geom::Vector;
use record::{
    BodyState, Code, Figure, Finding, Job, JoinedPlaceRow, JoinedScan, Number, Quantity, ScanId,
    Severity, Side, WeakWay,
};

/// What helps most joins.
pub(super) const ASK_FOR_PLACES: &str = "pick five places or more in both scans, over the whole length of what is joined, each under one name and side";

/// With fewer an error out of the plane of the places hides, and none can be named.
const ENOUGH: usize = 5;

/// A name with its side, where it has one.
pub(super) fn named(name: &str, side: Side) -> String {
    match side {
        Side::Left => format!("{name} (left)"),
        Side::Right => format!("{name} (right)"),
        Side::Centre => format!("{name} (centre)"),
        Side::NotSaid => name.to_owned(),
    }
}

/// What a join does about unlike states.
pub(crate) const UNDOES_NOTHING: &str = "the join does not undo that";

/// Scans of two visits between which the body changed its state.
///
/// `undone` says what becomes of it.
pub(crate) fn unlike_states(
    job: &Job,
    scan: &ScanId,
    to: &ScanId,
    undone: &str,
) -> Option<Finding> {
    let state = |id: &ScanId| -> Option<&BodyState> {
        let visit = &job.scans.iter().find(|s| s.id == *id)?.visit;
        Some(&job.visits.iter().find(|v| v.id == *visit)?.state)
    };
    let (a, b) = (state(scan)?, state(to)?);
    let mut unlike = Vec::new();
    if a.mounting != b.mounting {
        unlike.push("one was taken on its mounts, the other not");
    }
    if a.doors_hung != b.doors_hung {
        unlike.push("the doors were hung for one only");
    }
    if (a.left, a.right) != (b.left, b.right)
        || (a.left_film_um, a.right_film_um) != (b.left_film_um, b.right_film_um)
    {
        unlike.push("its surface was covered otherwise");
    }
    (!unlike.is_empty()).then(|| Finding {
        code: Code::UnlikeBodyStates,
        severity: Severity::Doubt,
        subject: scan.0.clone(),
        says: format!(
            "{scan} and {to} show the body in unlike states: {}; {undone}",
            unlike.join("; ")
        ),
        advice: "scan again in one state, or tape lengths across the join".to_owned(),
        numbers: Vec::new(),
    })
}

/// Few places, and odd ones.
pub(super) fn of_places(join: &JoinedScan, findings: &mut Vec<Finding>) {
    let kept = join.places.iter().filter(|p| p.kept).count();
    let subject = join.scan.0.clone();
    if kept > 0 && kept < ENOUGH && join.overlap.is_none() {
        findings.push(Finding {
            code: Code::JoinFewPlaces,
            severity: Severity::Doubt,
            subject: subject.clone(),
            says: format!(
                "{kept} places hold the join of {} to {}: so few bend to fit almost any error out of their plane (three hide 5 mm there but for 0.009 mm)",
                join.scan, join.to
            ),
            advice: ASK_FOR_PLACES.to_owned(),
            numbers: vec![Number {
                name: "places".to_owned(),
                value: kept as f64,
                quantity: None,
            }],
        });
    }
    for p in join.places.iter().filter(|p| !p.kept) {
        findings.push(odd(join, p));
    }
}

fn odd(join: &JoinedScan, p: &JoinedPlaceRow) -> Finding {
    let off = p.off.iter().map(|f| f.value.powi(2)).sum::<f64>().sqrt();
    Finding {
        code: Code::OddPlace,
        severity: Severity::Doubt,
        subject: p.name.clone(),
        says: format!(
            "the place {} is the odd one out: {} puts it {off:.1} mm from where {} has it, when joined by the others; it was set aside",
            named(&p.name, p.side),
            join.scan,
            join.to
        ),
        advice: "look at both picks of it: a pick beside the place, or metal that moved between the scans".to_owned(),
        numbers: vec![Number {
            name: "off".to_owned(),
            value: off,
            quantity: Some(Quantity::Length),
        }],
    }
}

/// Less of a scan than this on the other is little.
const LITTLE: f64 = 0.1;

/// What the surfaces hold, and how much of them there is.
pub(super) fn of_surfaces(join: &JoinedScan, findings: &mut Vec<Finding>) {
    let Some(overlap) = join.overlap else { return };
    if overlap.share < LITTLE {
        findings.push(Finding {
            code: Code::JoinLittleOverlap,
            severity: Severity::Doubt,
            subject: join.scan.0.clone(),
            says: format!(
                "{:.1} % of the points of {} lie on a surface of {}",
                100.0 * overlap.share,
                join.scan,
                join.to
            ),
            advice:
                "let the scans overlap by a third, round the corner of the body where that can be"
                    .to_owned(),
            numbers: vec![Number {
                name: "share".to_owned(),
                value: 100.0 * overlap.share,
                quantity: Some(Quantity::Percent),
            }],
        });
    }
    findings.extend(join.weak.iter().map(|w| weak(join, w)));
}

fn weak(join: &JoinedScan, w: &WeakWay) -> Finding {
    let way = if w.turns {
        format!("turn about an axis {}", along(&w.direction))
    } else {
        format!("slide {}", along(&w.direction))
    };
    let goes = match &w.goes {
        Some(f) => format!("give or take {}", amount(f)),
        None => "nothing holds it".to_owned(),
    };
    Finding {
        code: Code::JoinWeak,
        severity: if w.goes.is_none() {
            Severity::Doubt
        } else {
            Severity::Note
        },
        subject: join.scan.0.clone(),
        says: format!(
            "by its surfaces {} can {way} in the axes of {}: {goes}",
            join.scan, join.to
        ),
        advice:
            "add places that are in both scans, or let the scans overlap round a corner of the body"
                .to_owned(),
        numbers: vec![Number {
            name: "held".to_owned(),
            value: 100.0 * w.held,
            quantity: Some(Quantity::Percent),
        }],
    }
}

fn amount(f: &Figure) -> String {
    match f.quantity {
        Quantity::Angle => format!("{:.2} degrees", f.u95),
        _ => format!("{:.1} mm", f.u95),
    }
}

/// A direction in words: "along X", or by its three parts.
fn along(d: &Vector) -> String {
    let k = d.iamax();
    // Within 15 degrees of an axis it is called that.
    if d[k].abs() > 0.966 {
        return format!("along {}", ["X", "Y", "Z"][k]);
    }
    format!("along ({:.2}, {:.2}, {:.2})", d.x, d.y, d.z)
}
