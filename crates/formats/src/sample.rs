//! A small study for the tests of this crate.

use geom::{ArcPath, Plane, Point, Vector, bulge_of};
use record::{
    Drawing, DrawnFace, DrawnHole, DrawnJunction, DrawnStation, HoleKind, OptionKind, Side, Slot,
};

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
