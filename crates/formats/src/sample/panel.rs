//! A made-up panel of a pair, for the tests of what is written and of what is said.

use geom::{Point, Vector};
use record::{Figure, Quantity, Relation, Side, Source};

/// The panel of a pair: two sections of four steps and a flange of two; the second section has a step that was not seen
/// on b.
pub(crate) fn panel() -> record::PairPanel {
    use record::{PairPanel, PanelBand, Section, SectionStep, SheetAxes, SheetKind, WorstPanel};
    let length = |value: f64, u95: f64| Figure {
        value,
        u95,
        nu: 30.0,
        source: Source::Noise,
        quantity: Quantity::Length,
    };
    let section = |place: &str, y: f64| Section {
        place: place.to_owned(),
        share: (y + 1.0) / 100.0,
        along_mm: 10.0 * y,
        edge: Point::new(80.0, y, 0.0),
        tangent: Vector::y_axis(),
        panel: SheetAxes {
            along: Vector::x_axis(),
            out: Vector::z_axis(),
        },
        flange: Some(SheetAxes {
            along: -Vector::z_axis(),
            out: -Vector::x_axis(),
        }),
    };
    let mut steps = Vec::new();
    for number in 0..2_usize {
        for k in 0..6_u32 {
            let sheet = if k < 4 {
                SheetKind::Panel
            } else {
                SheetKind::Flange
            };
            let a = length(-0.01 * f64::from(k * k), 0.03);
            let difference = if number == 0 && k == 2 { 0.41 } else { 0.02 };
            let seen = !(number == 1 && k == 1);
            steps.push(SectionStep {
                section: number,
                sheet,
                from_edge_mm: 5.1 + 5.0 * f64::from(k % 4),
                a: Some(a),
                b: seen.then(|| length(a.value - difference, 0.04)),
                difference: (seen && k < 4).then(|| length(difference, 0.06)),
                proven: number == 0 && k == 2,
            });
        }
    }
    PairPanel {
        compare: "lamps".into(),
        name: "lamp opening".to_owned(),
        relation: Relation::Mirrored,
        sides: [Side::Left, Side::Right],
        plan: record::SectionPlan::default(),
        closed: true,
        sections: vec![
            section("upper outer corner", 0.0),
            section("top edge, middle", 1.0),
        ],
        steps,
        worst: Some(WorstPanel {
            place: "upper outer corner".to_owned(),
            section: 0,
            from_edge_mm: 15.1,
            over_mm: [10.0, 5.0],
            difference: length(0.41, 0.06),
            local: false,
            proven: true,
        }),
        joint: Some(record::JointVerdict {
            proven: true,
            p: 0.001,
            largest: "panel, upper outer corner, 15 mm from the edge".to_owned(),
            figures: 7,
            within_mm: Some(0.1),
        }),
        bands: vec![
            PanelBand {
                from_mm: -0.1,
                to_mm: 0.1,
                share: 0.86,
                proven_share: 0.0,
            },
            PanelBand {
                from_mm: 0.3,
                to_mm: 0.5,
                share: 0.14,
                proven_share: 0.14,
            },
        ],
        not_seen: 0.125,
    }
}
