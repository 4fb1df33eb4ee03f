//! What there is to know before believing the decision.

use record::{Code, Finding, Measured, Number, Quantity, Relation, Severity};

use super::pairing::Pairing;

pub(super) fn findings(measured: &Measured, p: &Pairing<'_>) -> Vec<Finding> {
    let mut out = Vec::new();
    let mut say = |code, severity, says: String, advice: &str, numbers: Vec<Number>| {
        out.push(Finding {
            code,
            severity,
            subject: p.compare.id.to_string(),
            says,
            advice: advice.to_owned(),
            numbers,
        });
    };
    if p.part.load_bearing {
        say(
            Code::LoadBearing,
            Severity::Doubt,
            format!(
                "{} carries load or safety: no mirrored or midway shape is offered, and it fits only where it does so in all places at once.",
                p.part.name
            ),
            "Have it designed and tested by someone qualified; draw each side to itself.",
            Vec::new(),
        );
    }
    if p.compare.b.is_none() && p.compare.relation != Relation::Itself {
        say(
            Code::OtherSideNotMeasured,
            Severity::Doubt,
            "Only one side was measured; nothing can be said of the other.".to_owned(),
            "Scan the opening on the other side.",
            Vec::new(),
        );
    } else {
        holes(p, &mut say);
    }
    let openings = [Some(&p.compare.a), p.compare.b.as_ref()];
    let edges = measured
        .openings
        .iter()
        .filter(|o| openings.contains(&Some(&o.id)))
        .filter_map(|o| Some((o, o.edge.as_ref()?)));
    for (o, e) in edges {
        for c in e
            .corners
            .iter()
            .filter(|c| c.radius.value < p.part.cutter_radius_mm)
        {
            say(
                Code::InsideCornerBelowCutter,
                Severity::Note,
                format!(
                    "{}, {}: the corner has a radius of {:.1} mm, the cutter {:.1} mm.",
                    o.name, c.place, c.radius.value, p.part.cutter_radius_mm
                ),
                "Take a smaller cutter, or open the inside corner of the part to the cutter.",
                vec![Number {
                    name: "corner radius".to_owned(),
                    value: c.radius.value,
                    quantity: Some(Quantity::Length),
                }],
            );
        }
    }
    out
}

fn holes(p: &Pairing<'_>, say: &mut impl FnMut(Code, Severity, String, &str, Vec<Number>)) {
    let missing: Vec<String> = p
        .part
        .fasteners
        .iter()
        .filter(|f| !p.compare.holes.iter().any(|h| h.id == f.hole))
        .map(|f| f.hole.to_string())
        .collect();
    if !missing.is_empty() {
        say(
            Code::HolesDoNotMatch,
            Severity::Doubt,
            format!(
                "No partner was found for the holes {}: they are left out of the fit.",
                missing.join(", ")
            ),
            "Pick the hole on both sides under the same name.",
            Vec::new(),
        );
    }
    // A pattern whose own shape differs by more than the play cannot be helped by moving the part.
    let rest = p
        .holes
        .iter()
        .map(|(_, h)| h.pattern_rest_mm)
        .fold(0.0, f64::max);
    let play = p.least_play();
    if rest > play {
        say(
            Code::HolesDoNotMatch,
            Severity::Doubt,
            format!(
                "The hole patterns of the two sides differ by {rest:.1} mm, the play is {play:.1} mm."
            ),
            "Slot or enlarge the holes, or drill each side from its own.",
            vec![Number {
                name: "largest difference of the patterns".to_owned(),
                value: rest,
                quantity: Some(Quantity::Length),
            }],
        );
    }
}
