use super::*;
use crate::{Rigid, Vector};
use approx::assert_relative_eq;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

const EXACT: f64 = 1e-9;

fn body(corners: &[[f64; 3]], scale: f64) -> Vec<Point> {
    // Turned and shifted, so that no axis helps.
    let far = Rigid::new(Vector::new(3.0, -7.0, 11.0), Vector::new(0.3, 0.5, -0.8));
    corners
        .iter()
        .map(|&[x, y, z]| far * Point::new(scale * x, scale * y, scale * z))
        .collect()
}

/// Widths of regular bodies (Steinhagen 1922; Gritzmann & Klee 1992).
#[test]
fn flatness_of_exact_bodies() {
    let tetrahedron = [
        [1.0, 1.0, 1.0],
        [1.0, -1.0, -1.0],
        [-1.0, 1.0, -1.0],
        [-1.0, -1.0, 1.0],
    ];
    let octahedron = [
        [1.0, 0.0, 0.0],
        [-1.0, 0.0, 0.0],
        [0.0, 1.0, 0.0],
        [0.0, -1.0, 0.0],
        [0.0, 0.0, 1.0],
        [0.0, 0.0, -1.0],
    ];
    let cube: Vec<[f64; 3]> = (0..8_u8)
        .map(|k| [0, 1, 2].map(|b| f64::from(k >> b & 1)))
        .collect();
    let cases = [
        (
            body(&tetrahedron, 1.0 / 8.0_f64.sqrt()),
            0.5_f64.sqrt(),
            (2, 2),
        ),
        (
            body(&octahedron, 0.5_f64.sqrt()),
            (2.0_f64 / 3.0).sqrt(),
            (3, 3),
        ),
        (body(&cube, 1.0), 1.0, (4, 4)),
    ];
    for (points, width, touching) in cases {
        let zone = flatness(&points).unwrap();
        assert_relative_eq!(zone.width, width, epsilon = EXACT);
        assert_eq!((zone.upper.len(), zone.lower.len()), touching);
        assert!(zone.certified);
        assert!(
            points
                .iter()
                .all(|p| zone.plane.distance(p).abs() <= 0.5 * width + EXACT)
        );
    }
}

#[test]
fn flatness_of_a_plate_is_that_of_its_known_wave() {
    // A wave of +-0.1 with three contacts above and one between them below, among points inside.
    let mut rng = ChaCha8Rng::seed_from_u64(2);
    let mut corners = vec![
        [-50.0, -30.0, 0.1],
        [50.0, -30.0, 0.1],
        [0.0, 30.0, 0.1],
        [2.0, -5.0, -0.1],
    ];
    corners.extend((0..500).map(|_| {
        [
            rng.random_range(-50.0..50.0),
            rng.random_range(-30.0..30.0),
            rng.random_range(-0.09..0.09),
        ]
    }));
    let zone = flatness(&body(&corners, 1.0)).unwrap();
    // Points outside the triangle could stick out only if the slab were turned; it is not.
    assert_relative_eq!(zone.width, 0.2, epsilon = EXACT);
    assert!(zone.certified);
    assert_eq!(zone.upper.len() + zone.lower.len(), 4);
    assert!(zone.upper.contains(&3) != zone.lower.contains(&3));
}

#[test]
fn straightness_of_exact_sets() {
    let triangle = [[0.0, 0.0], [1.0, 0.0], [0.5, 0.75_f64.sqrt()]];
    let zone = straightness(&triangle).unwrap();
    assert_relative_eq!(zone.width, 0.75_f64.sqrt(), epsilon = EXACT);
    assert!(zone.certified);
    let square = [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]];
    let zone = straightness(&square).unwrap();
    assert_relative_eq!(zone.width, 1.0, epsilon = EXACT);
    assert_eq!((zone.upper.len(), zone.lower.len()), (2, 2));
    // Low, high, low: the edge offsets 0, 0, 1 of a straight edge lie in a strip of just under half.
    let zone = straightness(&[[0.0, 0.0], [100.0, 0.0], [200.0, 1.0]]).unwrap();
    assert_relative_eq!(
        zone.width,
        0.5 / (1.0_f64 + 0.005 * 0.005).sqrt(),
        epsilon = EXACT
    );
    assert!(zone.certified);
    // A least squares strip is never narrower.
    let line = crate::fit_line_2d(&triangle);
    assert!(line.is_err() || line.is_ok_and(|l| l.sd >= 0.0));
}

#[test]
fn roundness_of_exact_sets() {
    let d = 0.03;
    let zone = roundness(&[[1.0, 0.0], [-1.0, 0.0], [0.0, 1.0 + d], [0.0, -1.0 - d]]).unwrap();
    assert_relative_eq!(zone.width, d, epsilon = EXACT);
    assert!(zone.certified && zone.centre[0].hypot(zone.centre[1]) < EXACT);
    // An ellipse, its vertices among the places.
    let (a, b) = (5.2, 5.0);
    let mut points: Vec<[f64; 2]> = (0..60)
        .map(|k| f64::from(k) * 0.7)
        .map(|t: f64| [3.0 + a * t.cos(), -2.0 + b * t.sin()])
        .collect();
    points.extend([
        [3.0 + a, -2.0],
        [3.0 - a, -2.0],
        [3.0, -2.0 + b],
        [3.0, -2.0 - b],
    ]);
    let zone = roundness(&points).unwrap();
    assert_relative_eq!(zone.width, a - b, epsilon = EXACT);
    assert_relative_eq!(zone.radius, 0.5 * (a + b), epsilon = EXACT);
    assert!(zone.certified);
}

#[test]
fn no_ring_around_a_random_set_is_thinner() {
    let mut rng = ChaCha8Rng::seed_from_u64(4);
    for _ in 0..50 {
        let points: Vec<[f64; 2]> = (0..12)
            .map(|k| {
                let (t, r) = (f64::from(k) * 0.55, 10.0 + rng.random_range(-0.2..0.2));
                [r * f64::cos(t), r * f64::sin(t)]
            })
            .collect();
        let zone = roundness(&points).unwrap();
        assert!(zone.certified);
        // Every ring with two contacts outside and two inside is at least as thick.
        for _ in 0..2000 {
            let c = [
                zone.centre[0] + rng.random_range(-0.3..0.3),
                zone.centre[1] + rng.random_range(-0.3..0.3),
            ];
            assert!(ring(&points, c).2 >= zone.width - 1e-12);
        }
    }
}

#[test]
fn zones_of_nothing_are_refused() {
    assert_eq!(straightness(&[[1.0, 2.0]; 4]), Err(FitError::Degenerate));
    assert_eq!(
        straightness(&[[1.0, 2.0]]),
        Err(FitError::TooFewPoints { needed: 2, got: 1 })
    );
    let line: Vec<Point> = (0..6)
        .map(|k| Point::new(f64::from(k), 1.0, -f64::from(k)))
        .collect();
    assert_eq!(flatness(&line), Err(FitError::Degenerate));
    let flat = [
        [0.0, 0.0, 0.0],
        [9.0, 0.0, 0.0],
        [0.0, 9.0, 0.0],
        [5.0, 5.0, 0.0],
    ];
    let zone = flatness(&body(&flat, 1.0)).unwrap();
    assert!(zone.width < 1e-12 && zone.certified);
    assert_eq!(
        roundness(&[[0.0, 0.0], [1.0, 1.0], [2.0, 2.0]]),
        Err(FitError::Degenerate)
    );
    assert_eq!(roundness(&[[f64::NAN, 0.0]; 3]), Err(FitError::NotFinite));
}
