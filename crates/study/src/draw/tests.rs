use std::f64::consts::{FRAC_PI_2, PI};

use approx::assert_relative_eq;
use geom::{ArcPath, Improper, Plane, Point, Rigid, Vector, bulge_of};
use nalgebra::{DMatrix, Point2};
use record::{
    Allowed, Code, CompareId, EdgeKind, EdgeSpread, EdgeStation, Fastener, Figure, Finish, Fixing,
    HoleKind, HolePair, MeasuredEdge, MeasuredFace, MeasuredHole, MeasuredJunction,
    MeasuredOpening, PairStation, Quantity, Side, Slot, Source, StationAngle, Through,
};

use super::*;

/// A rounded rectangle, its right lower corner of radius 10 and the others of 20, so that it is not its own mirror
/// image.
fn outline(a: f64, b: f64) -> ArcPath {
    let q = bulge_of(FRAC_PI_2);
    ArcPath::closed([
        ([-a + 20.0, -b], 0.0),
        ([a - 10.0, -b], q),
        ([a, -b + 10.0], 0.0),
        ([a, b - 20.0], q),
        ([a - 20.0, b], 0.0),
        ([-a + 20.0, b], q),
        ([-a, b - 20.0], 0.0),
        ([-a, -b + 20.0], q),
    ])
}

fn figure(value: f64, quantity: Quantity) -> Figure {
    Figure {
        value,
        u95: 0.1,
        nu: f64::INFINITY,
        source: Source::Noise,
        quantity,
    }
}

fn mm(value: f64) -> Figure {
    figure(value, Quantity::Length)
}

fn spread(n: usize) -> EdgeSpread {
    EdgeSpread {
        gap: DMatrix::zeros(n, 1),
        flush: DMatrix::zeros(n, 1),
        shared: 0,
        nu: f64::INFINITY,
    }
}

fn dense(path: &ArcPath) -> Vec<Point> {
    path.flattened(0.5, 1e-3)
        .iter()
        .map(|p| Point::new(p.x, p.y, 0.0))
        .collect()
}

fn edge(path: &ArcPath) -> MeasuredEdge {
    let stations: Vec<EdgeStation> = (0..120)
        .map(|i| {
            let along_mm = path.length() * f64::from(i) / 120.0;
            let p = path.point_at(along_mm).unwrap();
            EdgeStation {
                along_mm,
                at: Point::new(p.x, p.y, 0.0),
                tangent: Vector::x_axis(),
                gap_dir: Vector::y_axis(),
                flush_dir: Vector::z_axis(),
                gap_u_mm: 0.03,
                flush_u_mm: 0.03,
                seen: true,
            }
        })
        .collect();
    MeasuredEdge {
        kind: EdgeKind::Bend,
        closed: path.is_closed(),
        spread: spread(stations.len()),
        stations,
        gaps: Vec::new(),
        pieces: path.clone(),
        pieces_error_mm: 0.02,
        dimensions: Vec::new(),
        corners: Vec::new(),
        edge_bias_mm: 0.0,
    }
}

fn opening(id: &str, side: Side, path: &ArcPath, part_from_scan: Rigid) -> MeasuredOpening {
    let scan_from_part = part_from_scan.inverse();
    MeasuredOpening {
        id: id.into(),
        name: "Lamp opening".into(),
        side,
        part_from_scan,
        edge: Some(edge(path)),
        faces: vec![MeasuredFace {
            id: "bowl".into(),
            plane: Plane::through(&Point::new(0.0, 0.0, -20.0), Vector::z_axis())
                .moved(&scan_from_part),
            centre: scan_from_part * Point::new(0.0, 5.0, -20.0),
            size_mm: [80.0, 40.0],
            points: 900,
            seen: 1.0,
            scatter_mm: 0.05,
            sag: mm(0.0),
            radius_mm: None,
            turn_deg_per_mm: 0.0,
            findings: Vec::new(),
        }],
        junctions: vec![MeasuredJunction {
            id: "bowl to skin".into(),
            through: Through::Material,
            start: scan_from_part * Point::new(-90.0, 40.0, 2.0),
            end: scan_from_part * Point::new(-90.0, -40.0, 1.0),
            length_mm: 80.0,
            stations: vec![StationAngle {
                place: "top".into(),
                share: 0.0,
                from_start_mm: 0.0,
                angle: figure(89.0, Quantity::Angle),
                at: scan_from_part * Point::new(-90.0, 40.0, 2.0),
            }],
            twist: figure(0.0, Quantity::TwistRate),
            flat_error: mm(0.0),
            ruled: true,
            ruled_p: 0.5,
            widths_mm: [30.0, 30.0],
            findings: Vec::new(),
        }],
        holes: vec![MeasuredHole {
            id: "upper".into(),
            kind: HoleKind::Hole,
            centre: Point::new(-40.0, 70.0, 0.0),
            axis: Vector::z_axis(),
            centre_u95: mm(0.1),
            diameter: mm(5.5),
            arc_deg: 360.0,
            findings: Vec::new(),
        }],
        findings: Vec::new(),
    }
}

fn part() -> Part {
    Part {
        id: "surround".into(),
        name: "Lamp surround".into(),
        gap_mm: 1.5,
        allowed: Allowed {
            tight_mm: 0.8,
            wide_mm: 0.8,
            proud_mm: 0.5,
            shy_mm: 0.5,
            angle_deg: 0.5,
        },
        evenness: None,
        fasteners: vec![Fastener {
            hole: "upper".into(),
            fastener_mm: 5.0,
            part_hole_mm: 6.0,
            body_hole_mm: 5.5,
            fixing: Fixing::Floating,
            slot: Some(Slot {
                along: [0.6, 0.8],
                extra_mm: 2.0,
            }),
            shim_mm: (0.0, 0.0),
        }],
        gasket: None,
        finish: Finish {
            name: "lacquer".into(),
            part_mm: 0.1,
            body_mm: 0.15,
        },
        cutter_radius_mm: 3.0,
        load_bearing: false,
        must_not_mirror: Vec::new(),
        seen_together: true,
        place: None,
        note: String::new(),
    }
}

/// a is `outline(100, 60)`; b, mirrored, is `outline(100.6, 60)`, and lies somewhere else in its scan.
fn measured() -> Measured {
    let (a, b) = (outline(100.0, 60.0), outline(100.6, 60.0));
    let part_from_scan = Rigid::new(Vector::new(300.0, -20.0, 11.0), Vector::new(0.1, 0.4, -0.2));
    let stations = (0..150)
        .map(|i| {
            // Stations of a, and b's edge moved along with its longer sides.
            let p = a.point_at(a.length() * f64::from(i) / 150.0).unwrap();
            let shift = 0.6 * (p.x / 80.0).clamp(-1.0, 1.0);
            PairStation {
                place: format!("station {}", i + 1),
                share: f64::from(i) / 150.0,
                a: Point::new(p.x, p.y, 0.0),
                b: Point::new(p.x + shift, p.y, 0.0),
                tangent: Vector::x_axis(),
                gap_dir: Vector::y_axis(),
                flush_dir: Vector::z_axis(),
                gap: mm(0.0),
                flush: mm(0.0),
                seen: true,
            }
        })
        .collect();
    Measured {
        openings: vec![
            opening("left", Side::Left, &a, Rigid::identity()),
            opening("right", Side::Right, &b.mirrored_x(), part_from_scan),
        ],
        compares: vec![MeasuredCompare {
            id: "lamps".into(),
            relation: Relation::Mirrored,
            part: "surround".into(),
            a: "left".into(),
            b: Some("right".into()),
            sides: [Side::Left, Side::Right],
            // b's part axes mirrored about X = 0 are a's.
            b_on_a: Some(b_on_a(&part_from_scan)),
            stations,
            a_spread: None,
            b_spread: None,
            a_curve: dense(&a),
            b_curve: dense(&b),
            closed: true,
            modes: Vec::new(),
            rest: None,
            angles: Vec::new(),
            holes: vec![HolePair {
                id: "upper".into(),
                a: Point::new(-40.0, 70.0, 0.0),
                b: Point::new(-39.0, 70.0, 0.0),
                axis: Vector::z_axis(),
                right: mm(-1.0),
                up: mm(0.0),
                a_u_mm: 0.05,
                b_u_mm: 0.05,
                a_diameter: mm(5.5),
                b_diameter: mm(5.7),
                pattern_rest_mm: 0.0,
            }],
            findings: Vec::new(),
        }],
        ..Measured::default()
    }
}

/// Mirror about X = 0 after the motion into part axes, written as mirror about Y = 0 first and a proper motion second.
fn b_on_a(part_from_scan: &Rigid) -> Improper {
    // diag(-1, 1, 1) P = rigid * diag(1, -1, 1), so rigid = diag(-1, 1, 1) P diag(1, -1, 1).
    let x = nalgebra::Matrix3::from_diagonal(&Vector::new(-1.0, 1.0, 1.0));
    let y = nalgebra::Matrix3::from_diagonal(&Vector::new(1.0, -1.0, 1.0));
    let turn = x * part_from_scan.rotation.to_rotation_matrix().matrix() * y;
    let rotation = nalgebra::UnitQuaternion::from_rotation_matrix(
        &nalgebra::Rotation3::from_matrix_unchecked(turn),
    );
    Improper::mirrored(Rigid::from_parts(
        (x * part_from_scan.translation.vector).into(),
        rotation,
    ))
}

fn drawn(option: Option<OptionKind>) -> Vec<Drawing> {
    let choices = Choices {
        parts: vec![part()],
        chosen: option
            .map(|o| (CompareId::from("lamps"), o, String::new()))
            .into_iter()
            .collect(),
    };
    draw(&measured(), &Decided::default(), &choices)
}

fn worst(edge: &[Point], path: &ArcPath) -> f64 {
    edge.iter()
        .map(|p| path.distance(&Point2::new(p.x, p.y)))
        .fold(0.0, f64::max)
}

#[test]
fn with_nothing_chosen_each_side_is_drawn_to_itself() {
    let d = drawn(None);
    assert_eq!(d.len(), 2);
    assert_eq!((d[0].side, d[1].side), (Side::Left, Side::Right));
    assert!(!d[0].chosen && !d[1].mirrored);
    for (drawing, path) in d
        .iter()
        .zip([outline(100.0, 60.0), outline(100.6, 60.0).mirrored_x()])
    {
        let by = 1.5 + 0.1 + 0.15;
        assert_relative_eq!(drawing.inset_mm, by, epsilon = 1e-12);
        let cut = drawing.cut.as_ref().unwrap();
        assert_relative_eq!(
            cut.area(),
            path.area() - by * path.length() + PI * by * by,
            epsilon = 1e-6
        );
        // b's dense edge came back through the placement to its own axes, the right way round.
        assert!(worst(&drawing.edge, &path) < 1e-9);
        let chain = geom::Polyline::new(drawing.edge.iter().copied(), true).unwrap();
        assert!(chain.area_xy() > 0.0);
        // From scan axes to part axes.
        assert_relative_eq!(
            drawing.junctions[0].start,
            Point::new(-90.0, 40.0, 2.0),
            epsilon = 1e-9
        );
        assert_relative_eq!(drawing.faces[0].plane.offset, -20.0, epsilon = 1e-9);
        assert!(
            drawing
                .stations
                .iter()
                .any(|s| s.name == "bowl to skin, top")
        );
        // Part hole 6.0 grown by twice the build-up, as a slot.
        assert_relative_eq!(
            drawing.holes[0].cut_diameter_mm.unwrap(),
            6.2,
            epsilon = 1e-12
        );
        assert!(drawing.holes[0].slot.is_some());
        assert!(drawing.findings.is_empty());
    }
}

#[test]
fn a_mirrored_for_b() {
    let d = drawn(Some(OptionKind::MirrorA));
    assert_eq!(
        (d[0].side, d[1].side, d[1].mirrored),
        (Side::Left, Side::Right, true)
    );
    let (a, b) = (d[0].cut.as_ref().unwrap(), d[1].cut.as_ref().unwrap());
    assert_relative_eq!(a.area(), b.area(), epsilon = 1e-9);
    assert!(b.area() > 0.0);
    let p = a.point_at(33.0).unwrap();
    assert!(b.distance(&Point2::new(-p.x, p.y)) < 1e-9);
    assert_relative_eq!(d[1].holes[0].centre.x, 40.0);
    assert_eq!(d[1].holes[0].slot.unwrap().along, [-0.6, 0.8]);
    assert_relative_eq!(d[1].junctions[0].start.x, 90.0, epsilon = 1e-9);
    assert_eq!(d[1].shape_of, "left".into());
    // Mirrored twice it is the same again.
    let back = side::mirrored(&d[1]);
    assert_eq!(back.edge, d[0].edge);
    assert_eq!(back.faces, d[0].faces);
}

#[test]
fn b_mirrored_for_a() {
    let d = drawn(Some(OptionKind::MirrorB));
    assert_eq!((d[0].side, d[1].side), (Side::Left, Side::Right));
    assert_eq!((d[0].mirrored, d[1].mirrored), (true, false));
    assert!(worst(&d[0].edge, &outline(100.6, 60.0)) < 1e-9);
}

#[test]
fn what_the_option_asks_for_is_drawn() {
    let need = |kind, amount_mm| record::Need {
        kind,
        hole: Some("upper".into()),
        amount_mm,
        along: Some([1.0, 0.0]),
    };
    let decided = Decided {
        compares: vec![record::DecidedCompare {
            id: "lamps".into(),
            part: "surround".into(),
            options: vec![record::OptionResult {
                kind: OptionKind::MirrorAWithSlots,
                uses: None,
                worst: None,
                worst_gap_mm: None,
                chance: None,
                even: None,
                band_percent: None,
                verdict: record::Verdict::Fits,
                needs: vec![
                    need(record::NeedKind::SlotLength, 0.8),
                    need(record::NeedKind::HoleRadius, 0.25),
                ],
                incurable: false,
                least_oversize_mm: None,
            }],
            joint: None,
            boxes: Vec::new(),
            differs: Vec::new(),
            next: Vec::new(),
            findings: Vec::new(),
        }],
    };
    let choices = Choices {
        parts: vec![part()],
        chosen: vec![("lamps".into(), OptionKind::MirrorAWithSlots, String::new())],
    };
    let d = draw(&measured(), &decided, &choices);
    assert_relative_eq!(d[0].holes[0].cut_diameter_mm.unwrap(), 6.7, epsilon = 1e-12);
    assert_relative_eq!(d[0].holes[0].slot.unwrap().extra_mm, 0.8);
    assert_eq!(d[1].holes[0].slot.unwrap().along, [-1.0, 0.0]);
}

#[test]
fn an_open_edge_has_no_path_to_cut_and_says_so() {
    let mut m = measured();
    let edge = m.openings[0].edge.as_mut().unwrap();
    edge.closed = false;
    edge.pieces.end = Some(Point2::new(-100.0, -40.0));
    edge.pieces.pieces.pop();
    m.compares[0].closed = false;
    let choices = Choices {
        parts: vec![part()],
        chosen: Vec::new(),
    };
    let d = draw(&m, &Decided::default(), &choices);
    assert!(d[0].cut.is_none() && d[0].mark.is_some());
    assert_eq!(d[0].findings[0].code, Code::EdgeGap);
}

#[test]
fn inside_corners_are_not_tighter_than_the_cutter() {
    let mut m = measured();
    // An L: its inside corner of radius 2 grows by the inset to 2 + 1.75 where the part is cut.
    let l = ArcPath::closed([
        ([-60.0, -60.0], 0.0),
        ([60.0, -60.0], 0.0),
        ([60.0, 0.0], 0.0),
        ([2.0, 0.0], bulge_of(-FRAC_PI_2)),
        ([0.0, 2.0], 0.0),
        ([0.0, 60.0], 0.0),
        ([-60.0, 60.0], 0.0),
    ]);
    m.openings[0].edge.as_mut().unwrap().pieces = l;
    let mut p = part();
    p.cutter_radius_mm = 5.0;
    let choices = Choices {
        parts: vec![p],
        chosen: Vec::new(),
    };
    let d = draw(&m, &Decided::default(), &choices);
    let says = &d[0].findings[0];
    assert_eq!(says.code, Code::InsideCornerBelowCutter);
    assert_relative_eq!(says.numbers[0].value, 3.75, epsilon = 1e-6);
    let tightest = d[0]
        .cut
        .as_ref()
        .unwrap()
        .least_radius(false, 0.05)
        .unwrap();
    assert_relative_eq!(tightest, 5.0, epsilon = 1e-6);
}

#[test]
fn alone_or_against_its_own_image_one_drawing() {
    let mut m = measured();
    m.compares[0].b = None;
    let choices = Choices {
        parts: vec![part()],
        chosen: Vec::new(),
    };
    assert_eq!(draw(&m, &Decided::default(), &choices).len(), 1);
    assert!(draw(&m, &Decided::default(), &Choices::default()).is_empty());
}
#[test]
fn midway_lies_midway() {
    let d = drawn(Some(OptionKind::Midway));
    let (low, high) = d[0].mark.as_ref().unwrap().bounds().unwrap();
    assert_relative_eq!(high.x, 100.3, epsilon = 0.06);
    assert_relative_eq!(low.x, -100.3, epsilon = 0.06);
    assert_relative_eq!(high.y, 60.0, epsilon = 0.06);
    assert_relative_eq!(d[0].holes[0].centre.x, -39.5, epsilon = 1e-12);
    assert_relative_eq!(d[1].holes[0].centre.x, 39.5, epsilon = 1e-12);
    assert!(d[0].cut.is_some() && d[0].junctions.is_empty());
}
