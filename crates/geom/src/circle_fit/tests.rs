use super::*;
use crate::{Point, Rigid, Vector};
use approx::assert_relative_eq;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, Normal};

fn arc(seed: u64, n: usize, degrees: f64, sd: f64, stray: f64) -> (Vec<[f64; 2]>, Vec<bool>) {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let noise = Normal::new(0.0, sd).unwrap();
    (0..n)
        .map(|_| {
            let a = rng.random_range(0.0..degrees.to_radians());
            let good = !rng.random_bool(stray);
            let r = if good {
                40.0 + noise.sample(&mut rng)
            } else {
                rng.random_range(20.0..80.0)
            };
            ([500.0 + r * a.cos(), -300.0 + r * a.sin()], good)
        })
        .unzip()
}

/// The simple algebraic fit: linear least squares of x^2 + y^2 = 2 a x + 2 b y + c.
fn simple(points: &[[f64; 2]]) -> Circle {
    let x = nalgebra::DMatrix::from_fn(points.len(), 3, |i, k| {
        if k < 2 { 2.0 * points[i][k] } else { 1.0 }
    });
    let y = nalgebra::DVector::from_fn(points.len(), |i, _| {
        points[i][0].powi(2) + points[i][1].powi(2)
    });
    let b = crate::least_squares(&x, &y, None).unwrap().coefficients;
    [b[0], b[1], (b[2] + b[0] * b[0] + b[1] * b[1]).sqrt()]
}

/// Six points of Gander, Golub & Strebel (1994), BIT 34, 558.
const GANDER: [[f64; 2]; 6] = [
    [1.0, 7.0],
    [2.0, 6.0],
    [5.0, 8.0],
    [7.0, 7.0],
    [9.0, 5.0],
    [3.0, 7.0],
];

#[test]
fn gander_geometric_and_not_algebraic() {
    let fit = fit_circle_2d(&GANDER).unwrap();
    assert_relative_eq!(fit.centre[0], 4.739_782_42, epsilon = 1e-7);
    assert_relative_eq!(fit.centre[1], 2.983_532_73, epsilon = 1e-7);
    assert_relative_eq!(fit.radius, 4.714_226_03, epsilon = 1e-7);
    assert_relative_eq!(fit.sd * 3.0_f64.sqrt(), 1.107_970_7, epsilon = 1e-7);
    let [x, y, r] = simple(&GANDER);
    assert_relative_eq!(x, 4.742_331_3, epsilon = 1e-6);
    assert_relative_eq!(y, 3.835_122_7, epsilon = 1e-6);
    assert_relative_eq!(r, 4.108_761_5, epsilon = 1e-6);
    assert!(fit.radius - r > 0.6);
    let start = taubin(&GANDER, &[1.0; 6]).unwrap();
    assert_relative_eq!(start[0], 4.613_933, epsilon = 1e-6);
    assert_relative_eq!(start[1], 2.795_209, epsilon = 1e-6);
    assert_relative_eq!(start[2], 4.879_213, epsilon = 1e-6);
}

#[test]
fn the_covariance_is_what_repeated_scans_scatter_by() {
    // 90 deg of arc, 60 points, sd 0.05: 600 scans.
    let (mut sum, mut squares, mut stated) = (0.0, 0.0, 0.0);
    for seed in 0..600 {
        let (points, _) = arc(seed, 60, 90.0, 0.05, 0.0);
        let fit = fit_circle_2d(&points).unwrap();
        sum += fit.radius - 40.0;
        squares += (fit.radius - 40.0).powi(2);
        stated += fit.covariance_factor[(2, 2)] * 0.05 * 0.05;
        assert!((70.0..91.0).contains(&fit.arc.to_degrees()));
    }
    assert_relative_eq!(squares / 600.0, stated / 600.0, max_relative = 0.15);
    let u_mean = (stated / 600.0 / 600.0_f64).sqrt();
    assert!((sum / 600.0).abs() < 4.0 * u_mean);
}

#[test]
fn the_simple_fit_shrinks_a_short_arc_and_this_one_does_not() {
    let (mut ours, mut theirs, n) = (0.0, 0.0, 200);
    for seed in 0..n {
        let (points, _) = arc(1000 + seed, 40, 40.0, 0.3, 0.0);
        ours += fit_circle_2d(&points).unwrap().radius - 40.0;
        theirs += simple(&points).last().unwrap() - 40.0;
    }
    let n = n as f64;
    assert!(
        theirs / n < -2.0 && (ours / n).abs() < 1.0,
        "{} {}",
        ours / n,
        theirs / n
    );
}

#[test]
fn forty_per_cent_stray_points() {
    for (seed, degrees) in [(7, 360.0), (8, 120.0)] {
        let (points, good) = arc(seed, 400, degrees, 0.05, 0.4);
        let fit = fit_circle_2d_robust(&points, 0.0).unwrap();
        let u = |k: usize| (fit.covariance_factor[(k, k)]).sqrt() * 0.05;
        assert!((fit.radius - 40.0).abs() < 4.0 * u(2));
        assert!((fit.centre[0] - 500.0).abs() < 4.0 * u(0));
        assert!((fit.centre[1] + 300.0).abs() < 4.0 * u(1));
        assert_relative_eq!(fit.sd, 0.05, max_relative = 0.15);
        let lost = good
            .iter()
            .zip(&fit.inliers)
            .filter(|(g, k)| **g && !**k)
            .count();
        let strays = good
            .iter()
            .zip(&fit.inliers)
            .filter(|(g, k)| !**g && **k)
            .count();
        assert!(lost <= 3 && strays <= 4, "{lost} {strays}");
    }
}

#[test]
fn a_circle_in_space_moves_with_its_points() {
    let far = Rigid::new(
        Vector::new(900.0, -650.0, 700.0),
        Vector::new(0.4, 1.0, -0.3),
    );
    let mut rng = ChaCha8Rng::seed_from_u64(3);
    let noise = Normal::new(0.0, 0.03).unwrap();
    let points: Vec<Point> = (0..300)
        .map(|k| {
            let a = f64::from(k) / 300.0 * 4.0;
            let (mut r, mut h) = (6.0 + noise.sample(&mut rng), noise.sample(&mut rng));
            match k % 10 {
                0 | 1 => h += rng.random_range(0.5..4.0),
                2 | 3 => r += rng.random_range(-4.0..-0.5),
                _ => {}
            }
            far * Point::new(r * a.cos(), r * a.sin(), h)
        })
        .collect();
    let fit = fit_circle_robust(&points, &(far * Vector::z()), 0.0).unwrap();
    assert_relative_eq!(fit.radius, 6.0, epsilon = 0.01);
    assert_relative_eq!(fit.centre, far * Point::origin(), epsilon = 0.02);
    assert!(fit.axis.angle(&(far * Vector::z())) < 0.003);
    assert_relative_eq!(fit.out_of_plane_sd, 0.03, max_relative = 0.2);
    assert!(
        fit.in_plane
            .inliers
            .iter()
            .enumerate()
            .all(|(k, &kept)| !kept || k % 10 > 3)
    );
    // Tilt variance against the definition: rows (v, -u, 1) of the lift by turns about u and v.
    let sure: Vec<Point> = points
        .iter()
        .zip(&fit.in_plane.inliers)
        .filter(|(_, k)| **k)
        .map(|(p, _)| *p)
        .collect();
    let plain = fit_circle(&sure, &(far * Vector::z())).unwrap();
    assert_relative_eq!(plain.centre, fit.centre, epsilon = 1e-9);
    let rows = nalgebra::DMatrix::from_fn(sure.len(), 3, |i, k| {
        let [u, v, _] = plain.axes.local(&sure[i]);
        [v, -u, 1.0][k]
    });
    let inverse = (rows.transpose() * rows).try_inverse().unwrap();
    for i in 0..2 {
        for j in 0..2 {
            assert_relative_eq!(
                plain.tilt_factor[i][j],
                inverse[(i, j)],
                max_relative = 1e-9,
                epsilon = 1e-12
            );
        }
    }
}

#[test]
fn what_is_no_circle_is_refused() {
    let line: Vec<[f64; 2]> = (0..9).map(|k| [f64::from(k), 2.0 * f64::from(k)]).collect();
    assert_eq!(fit_circle_2d(&line), Err(FitError::Degenerate));
    assert_eq!(fit_circle_2d(&[[1.0, 1.0]; 5]), Err(FitError::Degenerate));
    assert_eq!(
        fit_circle_2d(&line[..2]),
        Err(FitError::TooFewPoints { needed: 3, got: 2 })
    );
    assert_eq!(
        fit_circle_2d(&[[0.0, f64::NAN]; 3]),
        Err(FitError::NotFinite)
    );
    assert_eq!(fit_circle_2d_robust(&line, 0.0), Err(FitError::Degenerate));
    assert_eq!(
        fit_circle(&[Point::origin(); 5], &Vector::z()),
        Err(FitError::Degenerate)
    );
    // Three points are met exactly.
    let three = fit_circle_2d(&[[1.0, 0.0], [0.0, 1.0], [-1.0, 0.0]]).unwrap();
    assert_relative_eq!(three.radius, 1.0, epsilon = 1e-14);
    assert!(three.sd.is_nan());
}
