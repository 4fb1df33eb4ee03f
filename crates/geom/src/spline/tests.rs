use super::*;
use approx::assert_relative_eq;
use nalgebra::Vector3;

#[test]
fn the_basis_sums_to_one_and_its_slopes_to_nothing() {
    for periodic in [false, true] {
        let b = SplineBasis::new(-1.0, 7.5, 6, periodic);
        for i in 0..=50 {
            let t = -1.0 + 8.5 * f64::from(i) / 50.0;
            assert_relative_eq!(
                b.row(t, 0).iter().map(|r| r.1).sum::<f64>(),
                1.0,
                epsilon = 1e-14
            );
            for order in 1..=3 {
                assert!(b.row(t, order).iter().map(|r| r.1).sum::<f64>().abs() < 1e-13);
            }
        }
    }
}

#[test]
fn a_cubic_comes_back_with_all_its_derivatives() {
    let f = |t: f64| {
        [
            1.0 + 2.0 * t - t * t + 0.5 * t.powi(3),
            2.0 - 2.0 * t + 1.5 * t * t,
            -2.0 + 3.0 * t,
            3.0,
        ]
    };
    let at: Vec<f64> = (0..40).map(|i| f64::from(i) * 0.1).collect();
    let fit = SplineFit::new(SplineBasis::new(0.0, 3.9, 5, false), &at, &[], 0.0).unwrap();
    let values: Vec<f64> = at.iter().map(|t| f(*t)[0]).collect();
    let curve = fit.function(&values);
    for t in [0.0, 0.37, 2.2, 3.9] {
        for order in 0..4 {
            assert_relative_eq!(
                curve.derivative(t, order)[0],
                f(t)[usize::from(order)],
                epsilon = 1e-5
            );
        }
    }
    assert_relative_eq!(fit.used(), 8.0, epsilon = 1e-5);
}

#[test]
fn derivatives_agree_with_differences() {
    let coefficients = (0..9)
        .map(|i| SVector::<f64, 1>::new(f64::from(i * i % 7)))
        .collect();
    let s = Spline {
        basis: SplineBasis::new(0.0, 12.0, 9, true),
        coefficients,
    };
    for order in 0..2 {
        let d = (s.derivative(5.1 + 1e-5, order) - s.derivative(5.1 - 1e-5, order)) / 2e-5;
        assert_relative_eq!(d[0], s.derivative(5.1, order + 1)[0], epsilon = 1e-7);
    }
    // Across the join: value, slope and bend agree.
    for order in 0..3 {
        let (a, b) = (
            s.derivative(12.0 - 1e-9, order)[0],
            s.derivative(1e-9, order)[0],
        );
        assert_relative_eq!(a, b, epsilon = 1e-7);
    }
}

#[test]
fn a_circle_has_its_curvature() {
    let r = 80.0;
    let length = std::f64::consts::TAU * r;
    let at: Vec<f64> = (0..500).map(|i| length * f64::from(i) / 500.0).collect();
    let points: Vec<Vector3<f64>> = at
        .iter()
        .map(|s| Vector3::new(r * (s / r).cos(), r * (s / r).sin(), 4.0))
        .collect();
    let fit = SplineFit::new(SplineBasis::every(length, 25.0, true), &at, &[], 0.0).unwrap();
    let curve = fit.curve(&points);
    for (s, p) in at.iter().zip(&points) {
        assert!((curve.at(*s) - p).norm() < 2e-3);
        assert_relative_eq!(curve.curvature(*s).norm(), 1.0 / r, epsilon = 2e-4);
        let inward = -(p - Vector3::new(0.0, 0.0, 4.0)) / r;
        assert!(curve.curvature(*s).normalize().dot(&inward) > 0.999);
    }
}

#[test]
fn bezier_pieces_are_the_curve() {
    for periodic in [false, true] {
        let basis = SplineBasis::new(0.0, 6.0, 6, periodic);
        let coefficients = (0..basis.size())
            .map(|i| Vector3::new(i as f64, (i * i % 5) as f64, (i % 3) as f64))
            .collect();
        let s = Spline {
            basis,
            coefficients,
        };
        for (i, [a, b, c, d]) in s.bezier().into_iter().enumerate() {
            let u: f64 = 0.3;
            let v = 1.0 - u;
            let p = a * v.powi(3) + b * (3.0 * v * v * u) + c * (3.0 * v * u * u) + d * u.powi(3);
            assert_relative_eq!(p, s.at(i as f64 + u), epsilon = 1e-13);
        }
    }
}

#[test]
fn a_gap_in_the_data_is_bridged_with_little_bending() {
    let at: Vec<f64> = (0..200)
        .map(f64::from)
        .filter(|t| !(60.0..140.0).contains(t))
        .collect();
    let fit = SplineFit::new(SplineBasis::every(200.0, 10.0, false), &at, &[], 0.0).unwrap();
    let line = fit.function(&at.iter().map(|t| 3.0 + 0.1 * t).collect::<Vec<_>>());
    for t in [60.0, 100.0, 139.0] {
        assert_relative_eq!(line.at(t)[0], 3.0 + 0.1 * t, epsilon = 1e-4);
    }
}

#[test]
fn the_spread_is_that_of_the_fitted_values() {
    // White values: the variance of a fitted value is sd2 times the leverage, and leverages sum to the number of
    // coefficients.
    let at: Vec<f64> = (0..300).map(|i| f64::from(i) / 3.0).collect();
    let fit = SplineFit::new(SplineBasis::every(100.0, 25.0, true), &at, &[], 0.0).unwrap();
    let rows = fit.basis().rows(&at, 0);
    let factor = &rows * fit.spread_independent(&vec![0.2; at.len()]);
    let total: f64 = factor.iter().map(|x| x * x).sum();
    assert_relative_eq!(total, 0.04 * 4.0, epsilon = 1e-6);
    // A common shift of all values is a common shift of the curve, and its covariance one factor.
    let common = DMatrix::from_element(at.len(), at.len(), 0.09);
    let g = fit.spread(&common);
    assert_eq!(g.ncols(), 1);
    for i in 0..g.nrows() {
        assert_relative_eq!(g[(i, 0)].abs(), 0.3, epsilon = 1e-9);
    }
}

#[test]
fn bad_input_is_refused() {
    let b = SplineBasis::new(0.0, 1.0, 4, false);
    assert!(SplineFit::new(b, &[], &[], 0.0).is_none());
    assert!(SplineFit::new(b, &[0.1, f64::NAN], &[], 0.0).is_none());
    assert!(SplineFit::new(b, &[0.1, 0.2], &[1.0], 0.0).is_none());
}

#[test]
fn clamped_poles_begin_and_end_on_the_curve() {
    for periodic in [false, true] {
        let basis = SplineBasis::new(0.0, 7.0, 7, periodic);
        let coefficients = (0..basis.size())
            .map(|i| Vector3::new(i as f64, (i * i % 5) as f64, (i % 3) as f64))
            .collect();
        let s = Spline {
            basis,
            coefficients,
        };
        let poles = s.clamped();
        assert_eq!(poles.len(), 10);
        // By the recurrence of de Boor on the repeated knots.
        let knots: Vec<f64> = (0..14_usize)
            .map(|i| i.saturating_sub(3).min(7) as f64)
            .collect();
        for t in [0.0, 0.4, 3.3, 6.9] {
            let span = 3 + t as usize;
            let mut d: Vec<_> = (0..4).map(|j| poles[span - 3 + j]).collect();
            for r in 1..4 {
                for j in (r..4).rev() {
                    let (a, b) = (knots[span - 3 + j], knots[span + 1 + j - r]);
                    let f = (t - a) / (b - a);
                    d[j] = d[j - 1] * (1.0 - f) + d[j] * f;
                }
            }
            assert_relative_eq!(d[3], s.at(t), epsilon = 1e-12);
        }
    }
}

/// The factor of a covariance of less than full rank has no more columns than that; what is no covariance has its positive part.
#[test]
fn a_factor_squares_to_the_covariance() {
    let g = DMatrix::from_fn(9, 4, |i, k| {
        (0.7 * ((i + 1) * (k + 2)) as f64 + k as f64).sin()
    });
    let mut covariance = &g * g.transpose();
    // A figure that never moves.
    covariance.row_mut(2).fill(0.0);
    covariance.column_mut(2).fill(0.0);
    let factor = covariance_factor(&covariance);
    assert_eq!(factor.ncols(), 4);
    assert_relative_eq!(&factor * factor.transpose(), covariance, epsilon = 1e-11);
    let none = DMatrix::from_row_slice(2, 2, &[1.0, 2.0, 2.0, 1.0]);
    let factor = covariance_factor(&none);
    let positive = DMatrix::from_element(2, 2, 1.5);
    assert_relative_eq!(&factor * factor.transpose(), positive, epsilon = 1e-12);
}
