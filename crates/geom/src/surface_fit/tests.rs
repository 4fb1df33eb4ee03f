use super::*;
use crate::{Rigid, Vector};
use approx::assert_relative_eq;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, Normal};

fn flat() -> LocalAxes {
    LocalAxes::along(
        Point::new(900.0, -650.0, 700.0),
        &Vector::new(1.0, 0.2, 0.0),
        Unit::new_normalize(Vector::new(0.1, -0.9, 0.4)),
    )
    .unwrap()
}

fn surface(c: &[f64; 6], u: f64, v: f64) -> f64 {
    c[0] + c[1] * u + c[2] * v + c[3] * u * u + c[4] * u * v + c[5] * v * v
}

/// Where stray points lie, given the true height.
type Stray = fn(&mut ChaCha8Rng, u: f64, v: f64) -> Option<f64>;

/// Points over 30 x 30 mm with noise; `stray` gives the distance of stray ones.
fn scan(seed: u64, n: usize, c: &[f64; 6], sd: f64, stray: Stray) -> (Vec<Point>, Vec<bool>) {
    let axes = flat();
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let noise = Normal::new(0.0, sd).unwrap();
    (0..n)
        .map(|_| {
            let (u, v) = (rng.random_range(-15.0..15.0), rng.random_range(-15.0..15.0));
            let off = stray(&mut rng, u, v);
            let h = surface(c, u, v) + off.unwrap_or_else(|| noise.sample(&mut rng));
            (axes.point(u, v, h), off.is_none())
        })
        .unzip()
}

fn spread_both_sides(rng: &mut ChaCha8Rng, _: f64, _: f64) -> Option<f64> {
    rng.random_bool(0.4).then(|| rng.random_range(-20.0..20.0))
}

fn back_of_the_sheet(rng: &mut ChaCha8Rng, _: f64, _: f64) -> Option<f64> {
    rng.random_bool(0.4)
        .then(|| -0.9 + 0.05 * rng.random_range(-1.0..1.0))
}

fn clump_at_one_end(rng: &mut ChaCha8Rng, u: f64, _: f64) -> Option<f64> {
    (u > 4.0).then(|| 0.8 * (u - 4.0) + rng.random_range(0.3..0.6))
}

fn none(_: &mut ChaCha8Rng, _: f64, _: f64) -> Option<f64> {
    None
}

#[test]
fn exact_surfaces_come_back() {
    let quadric = [0.3, 0.02, -0.05, 1e-3, -4e-4, 2e-3];
    let plane = [0.3, 0.02, -0.05, 0.0, 0.0, 0.0];
    for (order, c) in [
        (SurfaceOrder::Quadric, quadric),
        (SurfaceOrder::Plane, plane),
    ] {
        let (points, _) = scan(1, 3000, &c, 1e-300, none);
        let fit = fit_surface(flat(), &points, 2.0, order, 0.0).unwrap();
        for (found, truth) in fit.coefficients.iter().zip(&c) {
            assert_relative_eq!(*found, *truth, epsilon = 1e-11);
        }
        assert!(fit.scatter < 1e-10 && fit.rms < 1e-10);
        assert!(fit.inliers.iter().all(|&x| x));
        assert_relative_eq!(
            fit.height(3.0, -2.0),
            surface(&c, 3.0, -2.0),
            epsilon = 1e-11
        );
        let (du, dv) = fit.slope(3.0, -2.0);
        let step = 1e-4;
        assert_relative_eq!(
            du,
            (fit.height(3.0 + step, -2.0) - fit.height(3.0 - step, -2.0)) / (2.0 * step),
            epsilon = 1e-9
        );
        assert_relative_eq!(
            dv,
            (fit.height(3.0, -2.0 + step) - fit.height(3.0, -2.0 - step)) / (2.0 * step),
            epsilon = 1e-9
        );
    }
}

#[test]
fn forty_per_cent_stray_points_change_nothing() {
    let (sd, n) = (0.05, 20_000);
    let plane = [0.2, 0.03, -0.06, 0.0, 0.0, 0.0];
    let quadric = [0.2, 0.03, -0.06, 1e-3, -4e-4, 2e-3];
    let kinds: [(&str, Stray); 3] = [
        ("both sides", spread_both_sides),
        ("back of the sheet", back_of_the_sheet),
        ("clump", clump_at_one_end),
    ];
    for (seed, (kind, stray)) in (1..).zip(kinds) {
        for (order, c) in [
            (SurfaceOrder::Plane, plane),
            (SurfaceOrder::Quadric, quadric),
        ] {
            let (points, good) = scan(seed, n, &c, sd, stray);
            let fit = fit_surface(flat(), &points, 3.0, order, 0.0).unwrap();
            assert_relative_eq!(fit.scatter, sd, max_relative = 0.02);
            // In the middle of the good part five sd of the mean of white noise, tripled for the quadric.
            let m = good.iter().filter(|g| **g).count() as f64;
            let allowed = 5.0 * sd / m.sqrt()
                * if order == SurfaceOrder::Plane {
                    1.0
                } else {
                    3.0
                };
            assert_relative_eq!(
                fit.height(-5.0, 0.0),
                surface(&c, -5.0, 0.0),
                epsilon = allowed
            );
            // Slope of a 19 x 30 mm patch (the clump leaves that): sd sqrt(12 / m) / 19.
            let (du, dv) = fit.slope(-5.0, 0.0);
            let allowed = allowed * 12.0_f64.sqrt() / 19.0;
            assert_relative_eq!(du, c[1] + 2.0 * c[3] * -5.0, epsilon = allowed);
            assert_relative_eq!(dv, c[2] + c[4] * -5.0, epsilon = allowed);
            let kept = |want: bool| {
                let of = good.iter().filter(|g| **g == want).count() as f64;
                good.iter()
                    .zip(&fit.inliers)
                    .filter(|(g, k)| **g == want && **k)
                    .count() as f64
                    / of
            };
            assert!(kept(true) > 0.999, "{kind}: {}", kept(true));
            assert!(kept(false) < 0.012, "{kind}: {}", kept(false));
        }
    }
}

#[test]
fn area_weighting_keeps_a_plane_on_a_cylinder_level() {
    // R = 500 along v, four times as dense for u > 0; the tangent at the middle is level.
    let axes = flat();
    let mut rng = ChaCha8Rng::seed_from_u64(4);
    let points: Vec<Point> = (0..50_000)
        .map(|k| {
            let u: f64 = if k % 5 > 0 {
                rng.random_range(0.0..15.0)
            } else {
                rng.random_range(-15.0..0.0)
            };
            let h = (500.0_f64 * 500.0 - u * u).sqrt() - 500.0;
            axes.point(u, rng.random_range(-15.0..15.0), h)
        })
        .collect();
    let fit = fit_surface(axes, &points, 3.0, SurfaceOrder::Plane, 0.1).unwrap();
    let tilt = fit.coefficients[1].atan().to_degrees();
    assert!(tilt.abs() < 0.002, "{tilt}");
    // The same points counted one by one: the error that is avoided.
    let mut equations = NormalEquations::default();
    for p in &points {
        let [u, v, h] = axes.local(p);
        equations.add(SurfaceOrder::Plane, &row(u, v), h, 1.0);
    }
    let counted = equations.solve(SurfaceOrder::Plane).unwrap()[1]
        .atan()
        .to_degrees();
    assert_relative_eq!(counted.abs(), 0.173, epsilon = 0.008);
}

#[test]
fn noise_is_recovered_with_and_without_a_floor() {
    let c = [0.0; 6];
    for (seed, sd) in [(5, 0.02), (6, 0.1)] {
        let (points, _) = scan(seed, 50_000, &c, sd, none);
        for floor in [0.0, 3.0 * sd] {
            let fit = fit_surface(flat(), &points, 3.0, SurfaceOrder::Plane, floor).unwrap();
            assert_relative_eq!(fit.scatter, sd, max_relative = 0.01);
        }
    }
}

#[test]
fn the_map_from_cells_gives_the_coefficients() {
    let c = [0.2, 0.03, -0.06, 1e-3, -4e-4, 2e-3];
    for order in [SurfaceOrder::Plane, SurfaceOrder::Quadric] {
        let (points, _) = scan(9, 5000, &c, 0.05, none);
        let fit = fit_surface(flat(), &points, 3.0, order, 0.0).unwrap();
        let heights = nalgebra::DVector::from_iterator(
            fit.cells.cells.len(),
            fit.cells.cells.iter().map(|c| c.h),
        );
        let found = fit.hat().unwrap() * &heights;
        for (k, x) in found.iter().enumerate() {
            assert_relative_eq!(*x, fit.coefficients[k], epsilon = 1e-11);
        }
        let left = heights - fit.design() * found;
        for (a, b) in left.iter().zip(&fit.residuals) {
            assert_relative_eq!(*a, *b, epsilon = 1e-11);
        }
        let near_one = fit.hat().unwrap() * fit.design();
        assert_relative_eq!(
            near_one,
            DMatrix::identity(near_one.nrows(), near_one.nrows()),
            epsilon = 1e-10
        );
    }
}

#[test]
fn the_answer_moves_with_the_points() {
    let c = [0.2, 0.03, -0.06, 1e-3, -4e-4, 2e-3];
    let (points, _) = scan(11, 8000, &c, 0.05, spread_both_sides);
    let far = Rigid::new(
        Vector::new(-2000.0, 500.0, 3000.0),
        Vector::new(1.0, 0.5, -2.0),
    );
    let moved: Vec<Point> = points.iter().map(|p| far * p).collect();
    let a = fit_surface(flat(), &points, 3.0, SurfaceOrder::Quadric, 0.0).unwrap();
    let b = fit_surface(flat().moved(&far), &moved, 3.0, SurfaceOrder::Quadric, 0.0).unwrap();
    assert_eq!(a.inliers, b.inliers);
    for (x, y) in a.coefficients.iter().zip(&b.coefficients) {
        assert_relative_eq!(*x, *y, epsilon = 1e-10);
    }
}

#[test]
fn settled_fits_do_not_depend_on_the_first_axes() {
    let c = [0.2, 0.03, -0.06, 0.0, 0.0, 0.0];
    let (points, _) = scan(12, 8000, &c, 0.05, spread_both_sides);
    let one = settle_surface(flat(), &points, 3.0, SurfaceOrder::Plane, 0.0).unwrap();
    // The noise is along the first normal, so the orthogonal fit differs by second order only.
    assert!(one.coefficients[1].hypot(one.coefficients[2]) < 1e-9);
    let truth = flat().vector(-0.03, 0.06, 1.0).normalize();
    assert!(one.axes.n.angle(&truth) < 5.0 * 0.05 / 4800_f64.sqrt() * 12.0_f64.sqrt() / 30.0 * 1.5);
    let mut tilted = flat();
    tilted.n = Unit::new_normalize(flat().vector(0.1, -0.05, 1.0));
    let tilted = LocalAxes::along(tilted.origin, &tilted.u, tilted.n).unwrap();
    let two = settle_surface(tilted, &points, 3.0, SurfaceOrder::Plane, 0.0).unwrap();
    // Other first axes, other cells: equal within a small part of the noise of the slope.
    assert!(
        one.axes.n.angle(&two.axes.n) < 2e-5,
        "{}",
        one.axes.n.angle(&two.axes.n)
    );
}

#[test]
fn what_cannot_be_fitted_is_refused() {
    let axes = flat();
    let fit = |points: &[Point], order| {
        fit_surface(axes, points, 1.0, order, 0.0).map(|f| f.coefficients)
    };
    assert_eq!(
        fit(&[axes.origin; 2], SurfaceOrder::Plane),
        Err(FitError::TooFewPoints { needed: 3, got: 2 })
    );
    let line: Vec<Point> = (0..50)
        .map(|k| axes.point(f64::from(k), 0.5 * f64::from(k), 0.0))
        .collect();
    assert_eq!(fit(&line, SurfaceOrder::Plane), Err(FitError::Degenerate));
    let circle: Vec<Point> = (0..50)
        .map(|k| axes.point(20.0 * f64::from(k).cos(), 20.0 * f64::from(k).sin(), 0.0))
        .collect();
    assert!(fit(&circle, SurfaceOrder::Plane).is_ok());
    assert_eq!(
        fit(&circle, SurfaceOrder::Quadric),
        Err(FitError::Degenerate)
    );
    let mut holed = line;
    holed[3].x = f64::INFINITY;
    assert_eq!(fit(&holed, SurfaceOrder::Plane), Err(FitError::NotFinite));
}
