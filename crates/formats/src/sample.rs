//! A small study for the tests of this crate.

mod panel;

use geom::{ArcPath, Plane, Point, Vector, bulge_of};
use record::{
    Allowed, AngleRow, Chance, DecidedCompare, Direction, Drawing, DrawnFace, DrawnHole,
    DrawnJunction, DrawnStation, Figure, Finish, HoleKind, HolePair, MeasuredCompare, ModeKind,
    Need, NeedKind, OptionKind, OptionResult, PairStation, Part, Quantity, Relation,
    ScanProvenance, ShapeMode, Side, Slot, Source, Study, Through, Verdict, WorstPlace,
};

pub(crate) use panel::panel;

/// A rounded rectangle of half-sizes a, b and corner radius r.
pub(crate) fn rounded(a: f64, b: f64, r: f64) -> ArcPath {
    let q = bulge_of(std::f64::consts::FRAC_PI_2);
    ArcPath::closed([
        ([-a + r, -b], 0.0),
        ([a - r, -b], q),
        ([a, -b + r], 0.0),
        ([a, b - r], q),
        ([a - r, b], 0.0),
        ([-a + r, b], q),
        ([-a, b - r], 0.0),
        ([-a, -b + r], q),
    ])
}

/// A drawing with one of everything.
pub(crate) fn drawing() -> Drawing {
    let edge = rounded(100.0, 60.0, 20.0);
    let in_space = |p: &nalgebra::Point2<f64>| Point::new(p.x, p.y, 2e-4 * p.x * p.y);
    let hole = |id: &str, x: f64, slot: Option<Slot>| DrawnHole {
        id: id.into(),
        kind: HoleKind::Hole,
        centre: Point::new(x, 70.0, 1.0),
        axis: Vector::z_axis(),
        body_diameter_mm: 5.5,
        cut_diameter_mm: Some(6.5),
        slot,
    };
    Drawing {
        compare: "lamps".into(),
        part: "surround".into(),
        part_name: "Lamp surround".into(),
        side: Side::Left,
        option: OptionKind::TwoHands,
        chosen: true,
        shape_of: "lamp left".into(),
        mirrored: false,
        inset_mm: 2.0,
        cut: Some(rounded(98.0, 58.0, 18.0)),
        mark: Some(edge.clone()),
        mark_error_mm: 0.03,
        edge: edge.flattened(1.0, 0.001).iter().map(in_space).collect(),
        edge_closed: true,
        holes: vec![
            hole("upper", -40.0, None),
            hole(
                "lower",
                40.0,
                Some(Slot {
                    along: [0.6, 0.8],
                    extra_mm: 4.0,
                }),
            ),
        ],
        junctions: vec![DrawnJunction {
            id: "bowl".into(),
            start: Point::new(-90.0, 50.0, 3.0),
            end: Point::new(-90.0, -50.0, 1.0),
        }],
        faces: vec![DrawnFace {
            id: "bowl".into(),
            plane: Plane::through(&Point::new(0.0, 0.0, -20.0), Vector::z_axis()),
            centre: Point::new(0.0, 0.0, -20.0),
            size_mm: [80.0, 40.0],
        }],
        stations: vec![DrawnStation {
            name: "upper outer corner".into(),
            at: Point::new(-94.0, 54.0, -1.0),
        }],
        reference: [[-50.0, -90.0], [50.0, -90.0]],
        findings: Vec::new(),
    }
}

fn figure(value: f64, u95: f64, nu: f64, quantity: Quantity) -> Figure {
    Figure {
        value,
        u95,
        nu,
        source: Source::Noise,
        quantity,
    }
}

fn part() -> Part {
    Part {
        id: "surround".into(),
        name: "Lamp surround".into(),
        gap_mm: 2.0,
        allowed: Allowed {
            tight_mm: 0.8,
            wide_mm: 0.8,
            proud_mm: 0.5,
            shy_mm: 0.5,
            angle_deg: 0.5,
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

fn compare() -> MeasuredCompare {
    let mm = |v: f64| figure(v, 0.1, f64::INFINITY, Quantity::Length);
    let deg = |v: f64| figure(v, 0.14, 12.0, Quantity::Angle);
    let row = |place: &str, share: f64, b: Option<Figure>| AngleRow {
        junction: "bowl".into(),
        place: place.into(),
        share,
        through: Through::Material,
        a: Some(deg(89.1)),
        b,
        difference: b.map(|_| figure(-1.3, 0.2, f64::INFINITY, Quantity::Angle)),
        drawn_deg: b.map(|_| 90.0),
        independent: true,
    };
    MeasuredCompare {
        id: "lamps".into(),
        relation: Relation::Mirrored,
        part: "surround".into(),
        a: "lamp left".into(),
        b: Some("lamp right".into()),
        sides: [Side::Left, Side::Right],
        b_on_a: None,
        stations: vec![PairStation {
            place: "upper outer corner".into(),
            share: 0.0,
            a: Point::new(25.4, 50.8, 0.0),
            b: Point::new(26.0, 50.8, 0.0),
            tangent: Vector::x_axis(),
            gap_dir: Vector::y_axis(),
            flush_dir: Vector::z_axis(),
            gap: mm(0.6),
            flush: mm(-0.2),
            seen: true,
        }],
        a_spread: None,
        b_spread: None,
        a_curve: Vec::new(),
        b_curve: Vec::new(),
        closed: true,
        modes: vec![ShapeMode {
            kind: ModeKind::Width,
            amount: mm(0.4),
        }],
        rest: None,
        angles: vec![row("top", 0.0, Some(deg(90.4))), row("bottom", 1.0, None)],
        holes: vec![HolePair {
            id: "upper".into(),
            a: Point::new(-40.0, 70.0, 0.0),
            b: Point::new(-38.8, 70.0, 0.0),
            axis: Vector::z_axis(),
            right: mm(-1.2),
            up: mm(0.0),
            a_u_mm: 0.05,
            b_u_mm: 0.05,
            a_diameter: mm(5.5),
            b_diameter: mm(5.6),
            pattern_rest_mm: 0.02,
        }],
        findings: Vec::new(),
    }
}

/// A study with one pair.
pub(crate) fn study() -> Study {
    let mut study = Study {
        title: "Touring coach".into(),
        drawings: vec![drawing(), drawing()],
        ..Study::default()
    };
    study.drawings[1].side = Side::Right;
    study.choices.parts.push(part());
    study
        .choices
        .chosen
        .push(("lamps".into(), OptionKind::TwoHands, "seen together".into()));
    study.measured.compares.push(compare());
    study.decided.compares.push(DecidedCompare {
        id: "lamps".into(),
        part: "surround".into(),
        options: vec![OptionResult {
            kind: OptionKind::MirrorA,
            uses: Some(figure(175.0, 20.0, 30.0, Quantity::Percent)),
            worst: Some(WorstPlace {
                place: "upper inner corner".into(),
                side: Side::Right,
                direction: Direction::Tight,
                amount: figure(1.4, 0.3, 30.0, Quantity::Length),
                allowed: 0.8,
                station: Some(0),
            }),
            worst_gap_mm: Some(1.4),
            chance: Some(Chance {
                fits: 0.01,
                draws: 2000,
            }),
            even: None,
            band_percent: None,
            verdict: Verdict::WillNotFit,
            needs: vec![Need {
                kind: NeedKind::SlotLength,
                hole: Some("upper".into()),
                amount_mm: 0.4,
                along: Some([1.0, 0.0]),
            }],
            incurable: false,
            least_oversize_mm: None,
        }],
        joint: None,
        boxes: Vec::new(),
        differs: Vec::new(),
        next: Vec::new(),
        findings: Vec::new(),
    });
    study.provenance.version = "0.1.0".into();
    study.provenance.job_hash = "ab12".into();
    study.provenance.seed = 7;
    study.provenance.draws = 2000;
    study.provenance.scans.push(ScanProvenance {
        id: "left".into(),
        file: "left.stl".into(),
        format: "binary STL".into(),
        hash: "cd34".into(),
        points: 1000,
        unit: "mm, not checked".into(),
    });
    study
}
