//! From a dense edge in space to files for the cutter and for CAD, and back.

use geom::{ArcPath, Point, Polyline, bulge_of, fit_arcs};
use nalgebra::{Isometry2, Point2, Vector2};
use record::{Drawing, LengthDisplay, OptionKind, Side, Study};

/// Four unlike corners and a bowed top: no piece of it is like another.
fn truth() -> ArcPath {
    let quarter = bulge_of(std::f64::consts::FRAC_PI_2);
    ArcPath::closed([
        ([-76.0, -55.0], 0.0),
        ([90.0, -55.0], quarter),
        ([102.0, -43.0], 0.0),
        ([102.0, 30.0], quarter),
        ([77.0, 55.0], 0.0),
        ([-70.0, 55.0], quarter),
        ([-96.0, 29.0], 0.0),
        ([-96.0, -35.0], quarter),
    ])
}

/// The truth turned and moved, as dense points in space that leave the flat by up to 1.5 mm.
fn edge(a_from_b: &Isometry2<f64>) -> Vec<Point> {
    let path = truth().moved(a_from_b);
    let n = 1200;
    (0..n)
        .map(|i| {
            let p = path.point_at(7.3 + path.length() * f64::from(i) / f64::from(n));
            let p = p.expect("the path is not empty");
            Point::new(p.x, p.y, 1.5 * (p.x / 60.0).sin())
        })
        .collect()
}

fn drawing(edge: Vec<Point>) -> Drawing {
    let flat: Vec<Point2<f64>> = edge.iter().map(|p| Point2::new(p.x, p.y)).collect();
    let fit = fit_arcs(&flat, true, 0.05).expect("the outline is smooth");
    Drawing {
        compare: "lamps".into(),
        part: "surround".into(),
        part_name: "Lamp surround".into(),
        side: Side::Left,
        option: OptionKind::TwoHands,
        chosen: true,
        shape_of: "lamp left".into(),
        mirrored: false,
        inset_mm: 0.0,
        cut: Some(fit.path.clone()),
        mark: Some(fit.path),
        mark_error_mm: fit.error_mm,
        edge,
        edge_closed: true,
        holes: Vec::new(),
        junctions: Vec::new(),
        faces: Vec::new(),
        stations: Vec::new(),
        reference: [[-50.0, -90.0], [50.0, -90.0]],
        findings: Vec::new(),
    }
}

#[test]
fn an_edge_comes_back_from_the_cutter_file_within_the_stated_tolerance() {
    for (turn, shift) in [(0.0, [0.0, 0.0]), (0.7, [3.0, -8.0]), (2.9, [-40.0, 5.0])] {
        let map = Isometry2::new(Vector2::from(shift), turn);
        let d = drawing(edge(&map));
        assert!(d.mark_error_mm <= 0.05);
        let bytes = formats::dxf_bytes(&d, LengthDisplay::Millimetre).expect("it is written");
        let read =
            formats::read_dxf(std::str::from_utf8(&bytes).expect("text")).expect("it is read");
        let path = &read.paths[0].1;
        assert_eq!(path.pieces.len(), 8, "turned by {turn}");
        for p in &d.edge {
            assert!(path.distance(&Point2::new(p.x, p.y)) <= 0.05);
        }
        let area = truth().area();
        assert!(
            (path.area() - area).abs() < 0.05 * truth().length(),
            "{} for {area}",
            path.area()
        );
        assert!(
            path.joints().iter().all(|j| j.abs() < 1e-6),
            "every joint is tangent"
        );
    }
}

#[test]
fn an_edge_comes_back_from_the_cad_file_in_space() {
    let d = drawing(edge(&Isometry2::identity()));
    let text = formats::step_text(&[&d], "test").expect("it is written");
    let product = formats::read_step(&text).expect("it is read").remove(0);
    let curve = product.curve("opening edge").expect("the edge is named");
    let found = Polyline::new(curve.samples(16), false).expect("it has points");
    for p in &d.edge {
        assert!(found.distance(p) < 2e-3);
    }
    let chain = Polyline::new(d.edge.iter().copied(), true).expect("it has points");
    assert!((found.length() - chain.length()).abs() < 1e-4 * chain.length());
}

#[test]
fn a_hand_over_twice_is_the_same_bytes() {
    let study = Study {
        drawings: vec![drawing(edge(&Isometry2::identity()))],
        ..Study::default()
    };
    let options = formats::OutputOptions::of(&study);
    let [first, second] = [0, 1].map(|_| {
        let folder = tempfile::tempdir().expect("a folder for the test");
        let out = formats::write_outputs(&study, folder.path(), &options).expect("it is written");
        assert!(out.refused.is_empty(), "{:?}", out.refused);
        let read = |f: &formats::WrittenFile| std::fs::read(&f.path).expect("the file is there");
        out.written.iter().map(read).collect::<Vec<_>>()
    });
    assert_eq!(first.len(), 3);
    assert_eq!(first, second);
}
