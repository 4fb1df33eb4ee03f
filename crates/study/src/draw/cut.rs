//! The path of the cutter.

use record::{Code, Drawing, Finding, Number, Part, Quantity, Severity};

use super::offset::{NoOffset, as_cut, inset};

/// Turn at a joint above which it is a corner, rad.
const KINK: f64 = 0.05;

/// Adds the cut path to a drawing, or the reason why there is none.
pub(super) fn add_cut(drawing: &mut Drawing, part: &Part) {
    let subject = format!("{}, {}", drawing.part_name, drawing.shape_of);
    let Some(mark) = &drawing.mark else {
        drawing.findings.push(finding(
            Code::CoarseScan,
            subject,
            "the edge is too rough to be described by lines and arcs: there is no path to cut",
            "use the curve in the STEP file, or scan the edge once more",
        ));
        return;
    };
    match inset(mark, drawing.inset_mm) {
        Ok(path) => drawing.cut = Some(path),
        Err(why) => {
            let (code, says, advice) = match why {
                NoOffset::NotClosed => (
                    Code::EdgeGap,
                    "the edge does not close: there is no path to cut",
                    "scan the missing length of the edge, or close it in CAD",
                ),
                NoOffset::TooNarrow => (
                    Code::CoarseScan,
                    "the opening is narrower than twice the gap somewhere: there is no path to cut",
                    "check the gap of the part",
                ),
                NoOffset::Broken => (
                    Code::CoarseScan,
                    "the edge could not be moved inwards as one outline: there is no path to cut",
                    "move the edge inwards in CAD and compare the two",
                ),
            };
            drawing.findings.push(finding(code, subject, says, advice));
            return;
        }
    }
    keep_cutter_radius(drawing, part, subject);
}

/// Rounds inside corners of the part that are tighter than the cutter, and says so.
fn keep_cutter_radius(drawing: &mut Drawing, part: &Part, subject: String) {
    let radius = part.cutter_radius_mm;
    let Some(cut) = &drawing.cut else { return };
    let Some(tightest) = cut.least_radius(false, KINK).filter(|r| *r < radius - 1e-6) else {
        return;
    };
    let mut says = finding(
        Code::InsideCornerBelowCutter,
        subject,
        "an inside corner of the part is tighter than the cutter",
        "the path is drawn with the radius of the cutter: file the corner by hand or take a smaller cutter",
    );
    for (name, value) in [
        ("radius of the corner", tightest),
        ("radius of the cutter", radius),
    ] {
        says.numbers.push(Number {
            name: name.to_owned(),
            value,
            quantity: Some(Quantity::Length),
        });
    }
    match as_cut(cut, radius) {
        Ok(path) => drawing.cut = Some(path),
        Err(_) => {
            "the path is drawn as it is: round the corner in CAD".clone_into(&mut says.advice);
        }
    }
    drawing.findings.push(says);
}

fn finding(code: Code, subject: String, says: &str, advice: &str) -> Finding {
    Finding {
        code,
        severity: Severity::Doubt,
        subject,
        says: says.to_owned(),
        advice: advice.to_owned(),
        numbers: Vec::new(),
    }
}
