use super::*;
use approx::assert_relative_eq;

/// Half-sizes 100 x 60, corner radius 20, counter-clockwise from the right end of the lower side's line.
pub(crate) fn rounded_rectangle(a: f64, b: f64, r: f64) -> ArcPath {
    let q = bulge_of(PI / 2.0);
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

#[test]
fn sizes_of_a_rounded_rectangle() {
    let p = rounded_rectangle(100.0, 60.0, 20.0);
    assert_relative_eq!(
        p.length(),
        2.0 * 160.0 + 2.0 * 80.0 + TAU * 20.0,
        epsilon = 1e-12
    );
    assert_relative_eq!(p.area(), 200.0 * 120.0 - (4.0 - PI) * 400.0, epsilon = 1e-9);
    assert_relative_eq!(p.turning(), TAU, epsilon = 1e-12);
    assert!(p.joints().iter().all(|j| j.abs() < 1e-12));
    let (low, high) = p.bounds().unwrap();
    assert_relative_eq!(low, Point2::new(-100.0, -60.0), epsilon = 1e-12);
    assert_relative_eq!(high, Point2::new(100.0, 60.0), epsilon = 1e-12);
    let far = p.moved(&Isometry2::new(Vector2::new(1e6, 2e6), 0.7));
    assert_relative_eq!(far.area(), p.area(), max_relative = 1e-9);
}

#[test]
fn reversing_and_mirroring() {
    let p = rounded_rectangle(100.0, 60.0, 20.0);
    let r = p.reversed();
    assert_relative_eq!(r.area(), -p.area(), epsilon = 1e-9);
    assert_relative_eq!(r.turning(), -TAU, epsilon = 1e-12);
    assert_relative_eq!(r.reversed().area(), p.area(), epsilon = 1e-9);
    let m = p.mirrored_x();
    assert_relative_eq!(m.area(), p.area(), epsilon = 1e-9);
    assert_relative_eq!(m.length(), p.length(), epsilon = 1e-9);
    let q = Point2::new(93.0, -57.0);
    assert_relative_eq!(
        m.distance(&Point2::new(-93.0, -57.0)),
        p.distance(&q),
        epsilon = 1e-12
    );
}

#[test]
fn open_paths_keep_their_ends() {
    let p = ArcPath {
        pieces: vec![
            ArcPiece {
                start: Point2::new(0.0, 0.0),
                bulge: 0.0,
            },
            ArcPiece {
                start: Point2::new(10.0, 0.0),
                bulge: 1.0,
            },
        ],
        end: Some(Point2::new(10.0, 8.0)),
    };
    assert_relative_eq!(p.length(), 10.0 + 4.0 * PI, epsilon = 1e-12);
    assert_relative_eq!(
        p.point_at(10.0 + 2.0 * PI).unwrap(),
        Point2::new(14.0, 4.0),
        epsilon = 1e-12
    );
    assert_relative_eq!(
        p.point_at(1e9).unwrap(),
        Point2::new(10.0, 8.0),
        epsilon = 1e-12
    );
    let r = p.reversed();
    assert_eq!(r.end, Some(Point2::new(0.0, 0.0)));
    assert_relative_eq!(
        r.point_at(2.0 * PI).unwrap(),
        Point2::new(14.0, 4.0),
        epsilon = 1e-12
    );
    assert_eq!(r.joints().len(), 1);
}

#[test]
fn distances_from_arcs() {
    let s = ArcSegment {
        start: Point2::new(10.0, 0.0),
        end: Point2::new(0.0, 10.0),
        bulge: bulge_of(PI / 2.0),
    };
    let (c, r) = s.circle().unwrap();
    assert_relative_eq!(c, Point2::origin(), epsilon = 1e-12);
    assert_relative_eq!(r, 10.0, epsilon = 1e-12);
    assert_relative_eq!(s.nearest(&Point2::new(3.0, 3.0)).0, 0.5, epsilon = 1e-12);
    assert_eq!(s.nearest(&Point2::new(11.0, -5.0)).0, 0.0);
    assert_eq!(s.nearest(&Point2::new(-5.0, 11.0)).0, 1.0);
    assert_relative_eq!(s.tangent(0.0), Vector2::new(0.0, 1.0), epsilon = 1e-12);
    assert_relative_eq!(s.tangent(1.0), Vector2::new(-1.0, 0.0), epsilon = 1e-12);
    // The clockwise way of the same ends.
    let other = ArcSegment {
        bulge: -s.bulge,
        ..s
    };
    assert_relative_eq!(
        other.circle().unwrap().0,
        Point2::new(10.0, 10.0),
        epsilon = 1e-12
    );
    assert!(other.curvature() < 0.0);
}

#[test]
fn wide_arcs_are_cut_in_two() {
    let p = ArcPath::closed([([0.0, 0.0], bulge_of(1.5 * PI)), ([10.0, 0.0], 0.0)]);
    let q = p.split_wide_arcs();
    assert_eq!(q.pieces.len(), 3);
    assert!(q.pieces.iter().all(|p| p.bulge.abs() <= 1.0));
    assert_relative_eq!(q.area(), p.area(), epsilon = 1e-10);
    assert_relative_eq!(q.length(), p.length(), epsilon = 1e-10);
}

#[test]
fn flat_arcs_keep_their_area() {
    // A bow of 1e-4 mm over 1 m: area 2/3 of chord times height.
    let chord = 1000.0;
    let b = 2.0 * 1e-4 / chord;
    let p = ArcPath::closed([([0.0, 0.0], b), ([chord, 0.0], 0.0)]);
    assert_relative_eq!(p.area(), 2.0 / 3.0 * chord * 1e-4, max_relative = 1e-6);
}

#[test]
fn flattened_points_lie_on_the_path() {
    let p = rounded_rectangle(50.0, 30.0, 8.0);
    let points = p.flattened(5.0, 0.01);
    assert!(points.iter().all(|q| p.distance(q) < 1e-12));
    let d = |i: usize| (points[(i + 1) % points.len()] - points[i]).norm();
    assert!((0..points.len()).all(|i| d(i) <= 5.0 + 1e-9));
}

#[test]
fn least_radii() {
    let p = rounded_rectangle(50.0, 30.0, 8.0);
    assert_relative_eq!(p.least_radius(true, 0.1).unwrap(), 8.0, epsilon = 1e-12);
    assert!(p.least_radius(false, 0.1).is_none());
    assert_relative_eq!(
        p.reversed().least_radius(true, 0.1).unwrap(),
        8.0,
        epsilon = 1e-12
    );
    let sharp = ArcPath::closed([([0.0, 0.0], 0.0), ([9.0, 0.0], 0.0), ([0.0, 9.0], 0.0)]);
    assert_eq!(sharp.least_radius(true, 0.1), Some(0.0));
}
