use std::f64::consts::{FRAC_PI_2, PI, TAU};

use approx::assert_relative_eq;

use super::*;
use crate::bulge_of;

fn rounded(a: f64, b: f64, r: [f64; 4]) -> ArcPath {
    let q = bulge_of(FRAC_PI_2);
    ArcPath::closed([
        ([-a + r[3], -b], 0.0),
        ([a - r[0], -b], q),
        ([a, -b + r[0]], 0.0),
        ([a, b - r[1]], q),
        ([a - r[1], b], 0.0),
        ([-a + r[2], b], q),
        ([-a, b - r[2]], 0.0),
        ([-a, -b + r[3]], q),
    ])
}

/// Points 0.5 mm apart, begun away from a joint.
fn dense(path: &ArcPath) -> Vec<Point2<f64>> {
    let n = (path.length() / 0.5) as usize;
    (0..n)
        .map(|i| {
            path.point_at(13.7 + path.length() * i as f64 / n as f64)
                .unwrap()
        })
        .collect()
}

fn lines(path: &ArcPath) -> usize {
    path.pieces.iter().filter(|p| p.bulge == 0.0).count()
}

#[test]
fn a_rounded_rectangle_is_four_lines_and_four_arcs() {
    for radii in [[20.0; 4], [12.0, 20.0, 26.0, 35.0]] {
        let path = rounded(100.0, 60.0, radii);
        let fit = fit_arcs(&dense(&path), true, 0.05).unwrap();
        assert_eq!(
            (fit.path.pieces.len(), lines(&fit.path)),
            (8, 4),
            "{:?}",
            fit.path
        );
        assert!(fit.error_mm < 0.02, "{}", fit.error_mm);
        assert!(fit.joint_rad < 1e-6);
        assert_eq!(fit.corners, 0);
        let mut found: Vec<f64> = fit.path.arcs().iter().map(|a| a.1).collect();
        found.sort_by(f64::total_cmp);
        for (f, r) in found.iter().zip(radii) {
            assert_relative_eq!(*f, r, epsilon = 0.02);
        }
        assert_relative_eq!(fit.path.area(), path.area(), max_relative = 1e-5);
    }
}

#[test]
fn a_circle_is_two_half_circles() {
    let points: Vec<_> = (0..700)
        .map(|i| {
            let a = TAU * f64::from(i) / 700.0;
            Point2::new(5.0 + 80.0 * a.cos(), -3.0 + 80.0 * a.sin())
        })
        .collect();
    let fit = fit_arcs(&points, true, 0.05).unwrap();
    assert_eq!(fit.path.pieces.len(), 2);
    assert!(fit.path.pieces.iter().all(|p| (p.bulge - 1.0).abs() < 1e-6));
    assert_relative_eq!(fit.path.length(), TAU * 80.0, max_relative = 1e-4);
    assert!(fit.joint_rad < 1e-6);
}

#[test]
fn an_ellipse_takes_few_arcs_and_fewer_when_more_is_allowed() {
    let points: Vec<_> = (0..900)
        .map(|i| {
            let a = TAU * f64::from(i) / 900.0;
            Point2::new(110.0 * a.cos(), 75.0 * a.sin())
        })
        .collect();
    let fine = fit_arcs(&points, true, 0.05).unwrap();
    let coarse = fit_arcs(&points, true, 0.5).unwrap();
    assert!(fine.error_mm <= 0.05 && coarse.error_mm <= 0.5);
    assert!(fine.path.pieces.len() <= 16, "{}", fine.path.pieces.len());
    assert!(
        coarse.path.pieces.len() <= 8,
        "{}",
        coarse.path.pieces.len()
    );
    assert!(fine.joint_rad < 1e-6);
    assert_relative_eq!(fine.path.area(), PI * 110.0 * 75.0, max_relative = 1e-4);
    // The check of the distance is not taken on trust.
    let own = points
        .iter()
        .map(|p| fine.path.distance(p))
        .fold(0.0, f64::max);
    assert!(own <= fine.error_mm + 1e-12);
}

#[test]
fn clockwise_stays_clockwise() {
    let path = rounded(60.0, 40.0, [15.0; 4]).reversed();
    let fit = fit_arcs(&dense(&path), true, 0.05).unwrap();
    assert!(fit.path.area() < 0.0);
    assert_eq!(fit.path.pieces.len(), 8);
}

#[test]
fn an_open_outline_keeps_its_ends() {
    let path = ArcPath {
        pieces: vec![
            crate::ArcPiece {
                start: Point2::new(0.0, 0.0),
                bulge: 0.0,
            },
            crate::ArcPiece {
                start: Point2::new(80.0, 0.0),
                bulge: bulge_of(FRAC_PI_2),
            },
            crate::ArcPiece {
                start: Point2::new(105.0, 25.0),
                bulge: 0.0,
            },
        ],
        end: Some(Point2::new(105.0, 90.0)),
    };
    let points = path.flattened(0.5, 0.01);
    let fit = fit_arcs(&points, false, 0.05).unwrap();
    assert_eq!((fit.path.pieces.len(), lines(&fit.path)), (3, 2));
    assert!((fit.path.end.unwrap() - Point2::new(105.0, 90.0)).norm() < 0.05);
    assert!((fit.path.pieces[0].start - Point2::origin()).norm() < 0.05);
    assert_relative_eq!(fit.path.arcs()[0].1, 25.0, epsilon = 0.05);
}

#[test]
fn sharp_corners_stay_sharp() {
    let path = ArcPath::closed([
        ([0.0, 0.0], 0.0),
        ([120.0, 0.0], 0.0),
        ([120.0, 50.0], bulge_of(FRAC_PI_2)),
        ([90.0, 80.0], 0.0),
        ([0.0, 80.0], 0.0),
    ]);
    let fit = fit_arcs(&path.flattened(0.5, 0.01), true, 0.05).unwrap();
    assert_eq!(
        (fit.path.pieces.len(), lines(&fit.path), fit.corners),
        (5, 4, 3),
        "{:?}",
        fit.path
    );
    assert_relative_eq!(fit.path.area(), path.area(), max_relative = 1e-4);
}

#[test]
fn waves_of_the_metal_are_followed() {
    // A rounded rectangle whose long side is bowed by 0.6 mm and waved by 0.2 mm, as hand-made ones are.
    let path = rounded(100.0, 60.0, [20.0; 4]);
    let points: Vec<_> = dense(&path)
        .into_iter()
        .map(|p| {
            Point2::new(
                p.x,
                p.y + 0.6 * (p.x / 100.0).powi(2) + 0.2 * (p.x / 14.0).sin(),
            )
        })
        .collect();
    let fit = fit_arcs(&points, true, 0.1).unwrap();
    assert!(fit.error_mm <= 0.1);
    assert!(fit.path.pieces.len() < 40, "{}", fit.path.pieces.len());
    assert!(fit.joint_rad < 1e-6);
    assert_relative_eq!(fit.path.turning(), TAU, epsilon = 1e-6);
}

#[test]
fn noise_beyond_the_tolerance_and_bad_input_are_refused() {
    let path = rounded(100.0, 60.0, [20.0; 4]);
    let noisy: Vec<_> = dense(&path)
        .into_iter()
        .enumerate()
        .map(|(i, p)| p + nalgebra::Vector2::new(0.0, [0.5, -0.5, 0.3, -0.2, 0.5][i * 7 % 5]))
        .collect();
    assert!(fit_arcs(&noisy, true, 0.05).is_none());
    assert!(fit_arcs(&dense(&path)[..5], false, 0.05).is_none());
    assert!(fit_arcs(&dense(&path), true, f64::NAN).is_none());
}

/// Outlines that a chain of few arcs holds only just, or not at all: pieces shrink away while it settles, and each
/// search comes to an end all the same.
#[test]
fn outlines_at_the_edge_of_the_tolerance_come_to_an_end() {
    let path = rounded(100.0, 60.0, [12.0, 20.0, 26.0, 35.0]);
    let even = dense(&path);
    let mut found = 0;
    for k in (0..60_u32).step_by(4) {
        // Waves of 40 to 100 mm, smooth, up to a tolerance and a half high.
        let (height, length) = (0.01 * f64::from(3 + k % 13), 40.0 + f64::from(k * 37 % 60));
        let points: Vec<_> = even
            .iter()
            .map(|p| {
                let lift = height * (TAU * (p.x + 0.6 * p.y) / length + f64::from(k)).sin();
                Point2::new(p.x + 0.5 * lift, p.y + lift)
            })
            .collect();
        if let Some(fit) = fit_arcs(&points, true, 0.1) {
            assert!(fit.error_mm <= 0.1 && fit.joint_rad < 0.02, "{k}: {fit:?}");
            found += 1;
        }
    }
    assert_eq!(found, 15);
}
