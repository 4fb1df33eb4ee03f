//! Small hand-built studies for the tests of this crate. Their figures are set by hand.

#[path = "../../formats/src/sample/panel.rs"]
mod panel;

use geom::{Point, Vector};
use nalgebra::Unit;
use record::{
    Allowed, AngleRow, Chance, Choices, Code, CompareId, DecidedCompare, Direction, Figure,
    Finding, Finish, JointVerdict, MeasuredCompare, Need, NeedKind, NextReading, OptionKind,
    OptionResult, PairStation, Part, Quantity, Relation, Severity, Side, Source, Study, Through,
    Verdict, WorstPlace,
};

pub(crate) use panel::panel;

pub(crate) fn figure(value: f64, u95: f64, quantity: Quantity) -> Figure {
    Figure {
        value,
        u95,
        nu: 40.0,
        source: Source::Noise,
        quantity,
    }
}

pub(crate) fn mm(value: f64, u95: f64) -> Figure {
    figure(value, u95, Quantity::Length)
}

pub(crate) fn deg(value: f64, u95: f64) -> Figure {
    figure(value, u95, Quantity::Angle)
}

pub(crate) fn part(id: &str, name: &str, allowed_mm: f64) -> Part {
    Part {
        id: id.into(),
        name: name.to_owned(),
        gap_mm: 3.0,
        allowed: Allowed {
            tight_mm: allowed_mm,
            wide_mm: allowed_mm,
            proud_mm: allowed_mm,
            shy_mm: allowed_mm,
            angle_deg: 0.6,
        },
        evenness: None,
        fasteners: Vec::new(),
        gasket: None,
        finish: Finish::default(),
        cutter_radius_mm: 3.0,
        load_bearing: false,
        must_not_mirror: Vec::new(),
        seen_together: true,
        place: None,
        note: String::new(),
    }
}

pub(crate) fn option(kind: OptionKind, verdict: Verdict, uses: f64, fits: f64) -> OptionResult {
    OptionResult {
        kind,
        uses: Some(figure(uses, uses * 0.1, Quantity::Percent)),
        worst: None,
        worst_gap_mm: Some(uses * 0.006),
        chance: Some(Chance { fits, draws: 2000 }),
        even: None,
        band_percent: None,
        verdict,
        needs: Vec::new(),
        incurable: false,
        least_oversize_mm: None,
    }
}

pub(crate) fn worst(place: &str, direction: Direction, amount: Figure, allowed: f64) -> WorstPlace {
    WorstPlace {
        place: place.to_owned(),
        side: Side::Right,
        direction,
        amount,
        allowed,
        station: Some(4),
    }
}

pub(crate) fn slot(amount_mm: f64) -> Need {
    Need {
        kind: NeedKind::SlotLength,
        hole: Some("H1".into()),
        amount_mm,
        along: Some([1.0, 0.0]),
    }
}

pub(crate) fn rung(place: &str, share: f64, a: f64, b: f64, u95: f64) -> AngleRow {
    AngleRow {
        junction: "inner side".into(),
        place: place.to_owned(),
        share,
        through: Through::Material,
        a: Some(deg(a, u95)),
        b: Some(deg(b, u95)),
        difference: Some(deg(a - b, u95)),
        drawn_deg: Some(90.0),
        independent: share == 0.0 || share == 1.0,
    }
}

pub(crate) fn finding(severity: Severity, subject: &str, says: &str, advice: &str) -> Finding {
    Finding {
        code: Code::EdgeGap,
        severity,
        subject: subject.to_owned(),
        says: says.to_owned(),
        advice: advice.to_owned(),
        numbers: Vec::new(),
    }
}

pub(crate) fn measured(id: &str, relation: Relation) -> MeasuredCompare {
    MeasuredCompare {
        id: id.into(),
        relation,
        part: id.into(),
        a: format!("{id} left").as_str().into(),
        b: (relation != Relation::Itself).then(|| format!("{id} right").as_str().into()),
        sides: if relation == Relation::Itself {
            [Side::Centre, Side::Centre]
        } else {
            [Side::Left, Side::Right]
        },
        b_on_a: None,
        stations: Vec::new(),
        a_spread: None,
        b_spread: None,
        a_curve: Vec::new(),
        b_curve: Vec::new(),
        closed: true,
        modes: Vec::new(),
        rest: None,
        angles: Vec::new(),
        holes: Vec::new(),
        findings: Vec::new(),
    }
}

pub(crate) fn joint(proven: bool, largest: &str, within_mm: f64) -> JointVerdict {
    JointVerdict {
        proven,
        p: if proven { 0.001 } else { 0.6 },
        largest: largest.to_owned(),
        figures: 120,
        within_mm: Some(within_mm),
    }
}

pub(crate) fn next(what: &str, option: Option<OptionKind>) -> NextReading {
    NextReading {
        what: what.to_owned(),
        side: Side::Right,
        option,
        settles: 0.6,
    }
}

/// One comparison to be put into a [`Study`].
pub(crate) struct Made {
    pub part: Part,
    pub measured: MeasuredCompare,
    pub decided: DecidedCompare,
}

impl Made {
    pub fn new(id: &str, name: &str, relation: Relation, allowed_mm: f64) -> Self {
        Self {
            part: part(id, name, allowed_mm),
            measured: measured(id, relation),
            decided: DecidedCompare {
                id: CompareId(id.to_owned()),
                part: id.into(),
                options: Vec::new(),
                joint: None,
                boxes: Vec::new(),
                differs: Vec::new(),
                next: Vec::new(),
                findings: Vec::new(),
            },
        }
    }
}

pub(crate) fn study(made: Vec<Made>) -> Study {
    let mut study = Study {
        title: "Touring coach, front trim".to_owned(),
        choices: Choices::default(),
        ..Study::default()
    };
    for m in made {
        study.choices.parts.push(m.part);
        study.measured.compares.push(m.measured);
        study.decided.compares.push(m.decided);
    }
    study
}

/// A lamp surround whose mirrored part does not fit, with a ladder of five rungs.
pub(crate) fn lamp() -> Made {
    let mut lamp = Made::new("lamp", "Lamp surround", Relation::Mirrored, 0.8);
    lamp.measured.angles = vec![
        rung("top", 0.0, 89.1, 90.4, 0.2),
        rung("1/4", 0.25, 89.3, 90.1, 0.15),
        rung("1/2", 0.5, 89.5, 89.8, 0.1),
        rung("3/4", 0.75, 89.6, 89.6, 0.15),
        rung("bottom", 1.0, 89.8, 89.3, 0.2),
    ];
    let mut mirror = option(OptionKind::MirrorA, Verdict::WillNotFit, 175.0, 0.0);
    mirror.worst = Some(worst(
        "top inner corner",
        Direction::Tight,
        mm(1.4, 0.3),
        0.8,
    ));
    let mut other = option(OptionKind::MirrorB, Verdict::WillNotFit, 176.0, 0.0);
    other.worst = Some(worst(
        "top inner corner",
        Direction::Wide,
        mm(1.4, 0.3),
        0.8,
    ));
    let mut slots = option(
        OptionKind::MirrorAWithSlots,
        Verdict::WillNotFit,
        173.0,
        0.0,
    );
    slots.needs = vec![slot(2.8)];
    slots.incurable = true;
    lamp.decided.options = vec![
        option(OptionKind::TwoHands, Verdict::Fits, 33.0, 0.98),
        option(OptionKind::Midway, Verdict::WillNotFit, 133.0, 0.02),
        slots,
        mirror,
        other,
    ];
    lamp.decided.joint = Some(joint(true, "the gap at the top inner corner", 0.2));
    lamp
}

/// A rounded opening, its right one wider at one place.
pub(crate) fn lamp_with_edges() -> Study {
    let mut made = lamp();
    let n = 72;
    for k in 0..n {
        let phi = std::f64::consts::TAU * f64::from(k) / f64::from(n);
        let radial = Vector::new(phi.cos(), phi.sin(), 0.0);
        let a = Point::from(radial.component_mul(&Vector::new(90.0, 70.0, 0.0)));
        let out =
            1.4 * (-((phi - 0.8) / 0.5).powi(2)).exp() - 0.5 * (-((phi - 4.0) / 0.4).powi(2)).exp();
        made.measured.stations.push(PairStation {
            place: format!("station {k}"),
            share: f64::from(k) / f64::from(n),
            a,
            b: a + radial * out,
            tangent: Unit::new_normalize(Vector::new(-phi.sin(), phi.cos(), 0.0)),
            gap_dir: Unit::new_normalize(-radial),
            flush_dir: Vector::z_axis(),
            gap: mm(-out, 0.2),
            flush: mm(0.0, 0.2),
            seen: true,
        });
    }
    made.measured.a_curve = made.measured.stations.iter().map(|s| s.a).collect();
    made.measured.b_curve = made.measured.stations.iter().map(|s| s.b).collect();
    if let Some(worst) = &mut made.decided.options[3].worst {
        worst.station = Some(9);
    }
    made.decided.next = vec![next("scan the right opening once more, re-seated", None)];
    made.measured.findings = vec![finding(
        record::Severity::Doubt,
        "right <lamp>",
        "12 mm of the edge were not seen",
        "",
    )];
    study(vec![made])
}
