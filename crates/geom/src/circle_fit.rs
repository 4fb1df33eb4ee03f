//! Circles by geometric (orthogonal) least squares, in the plane and in space.
//!
//! The simple algebraic fit (least squares of x^2 + y^2 - 2ax - 2by - c) pulls the radius of a short arc inwards;
//! here it is nowhere used. An algebraic fit without that pull (Taubin) gives the start, distances decide.

mod algebraic;
mod in_space;
mod robust;
#[cfg(test)]
mod tests;

use std::f64::consts::TAU;

use nalgebra::{Matrix3, Vector3};

use crate::FitError;
use algebraic::taubin;

pub use in_space::{CircleFit, fit_circle, fit_circle_robust};
pub use robust::fit_circle_2d_robust;

/// A circle in the plane and how well its points fix it.
#[derive(Clone, Debug, PartialEq)]
pub struct Circle2Fit {
    /// Centre, mm.
    pub centre: [f64; 2],
    /// Radius, mm.
    pub radius: f64,
    /// Covariance of (centre x, centre y, radius) for independent noise of variance 1 in each point.
    pub covariance_factor: Matrix3<f64>,
    /// Standard deviation of a point along the radius, sqrt(sum d^2 / (n - 3)), mm; NaN for three points.
    pub sd: f64,
    /// Points fitted, less 3.
    pub dof: usize,
    /// The arc between the outermost points, rad: a full turn less the widest gap between neighbouring points. Below
    /// pi/3 (60 deg) radius and centre hang on each other; see the covariance.
    pub arc: f64,
    /// Which of the points given were fitted; all of them unless the fit was robust.
    pub inliers: Vec<bool>,
}

impl Circle2Fit {
    /// Distance of a point from the circle, positive outside.
    pub fn distance(&self, p: [f64; 2]) -> f64 {
        (p[0] - self.centre[0]).hypot(p[1] - self.centre[1]) - self.radius
    }
}

/// Fits a circle to `points` by least squares of their distances from it. Errors: fewer than three points, values that
/// are not finite, points in one place or on a line (also where the best circle is so flat that it runs off to a
/// line), no convergence in 500 rounds.
pub fn fit_circle_2d(points: &[[f64; 2]]) -> Result<Circle2Fit, FitError> {
    let weights = vec![1.0; points.len()];
    let circle = geometric(points, &weights)?;
    Ok(describe(points, &vec![true; points.len()], &circle))
}

/// Centre x, centre y, radius.
type Circle = [f64; 3];

/// Levenberg-Marquardt on the distances, weighted (Chernov & Lesort 2005), from Taubin's fit.
fn geometric(points: &[[f64; 2]], weights: &[f64]) -> Result<Circle, FitError> {
    let used = weights.iter().filter(|w| **w > 0.0).count();
    FitError::check_count(3, used)?;
    if !points.iter().flatten().all(|x| x.is_finite()) {
        return Err(FitError::NotFinite);
    }
    let start = taubin(points, weights).ok_or(FitError::Degenerate)?;
    let size = extent(points, weights);
    let mut circle = start;
    let mut best = objective(points, weights, &circle);
    let mut damping = 1e-3;
    for _ in 0..500 {
        let (normal, gradient) = normal_equations(points, weights, &circle);
        let damped = normal + Matrix3::from_diagonal(&normal.diagonal()) * damping;
        let step = damped
            .cholesky()
            .ok_or(FitError::Degenerate)?
            .solve(&gradient);
        let next = [
            circle[0] + step[0],
            circle[1] + step[1],
            circle[2] + step[2],
        ];
        let value = objective(points, weights, &next);
        let small = step.amax() <= 1e-14 * (size + circle[2]);
        if next[2] > 0.0 && value <= best {
            circle = next;
            best = value;
            damping *= 0.1;
        } else {
            damping *= 10.0;
        }
        if circle[2] > 1e6 * size {
            return Err(FitError::Degenerate);
        }
        // A step of rounding size, or no step of any size that improves.
        if small || damping > 1e12 {
            return Ok(circle);
        }
    }
    Err(FitError::NoConvergence)
}

/// Half the larger side of the box around the points that count.
fn extent(points: &[[f64; 2]], weights: &[f64]) -> f64 {
    let side = |k: usize| {
        let used = points
            .iter()
            .zip(weights)
            .filter(|(_, w)| **w > 0.0)
            .map(|(p, _)| p[k]);
        let (low, high) = used.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), x| {
            (l.min(x), h.max(x))
        });
        high - low
    };
    0.5 * side(0).max(side(1))
}

fn objective(points: &[[f64; 2]], weights: &[f64], c: &Circle) -> f64 {
    let square = |p: &[f64; 2]| ((p[0] - c[0]).hypot(p[1] - c[1]) - c[2]).powi(2);
    points
        .iter()
        .zip(weights)
        .filter(|(_, w)| **w > 0.0)
        .map(|(p, w)| w * square(p))
        .sum()
}

/// J'WJ and J'W d for the step that lowers the distances d, rows of J (cos, sin, 1).
fn normal_equations(
    points: &[[f64; 2]],
    weights: &[f64],
    c: &Circle,
) -> (Matrix3<f64>, Vector3<f64>) {
    let (mut normal, mut gradient) = (Matrix3::zeros(), Vector3::zeros());
    for (p, w) in points.iter().zip(weights).filter(|(_, w)| **w > 0.0) {
        let (x, y) = (p[0] - c[0], p[1] - c[1]);
        let d = x.hypot(y);
        // At the very centre no direction is better than another.
        let row = if d > 0.0 {
            Vector3::new(x / d, y / d, 1.0)
        } else {
            Vector3::new(0.0, 0.0, 1.0)
        };
        normal += row * row.transpose() * *w;
        gradient += row * (*w * (d - c[2]));
    }
    (normal, gradient)
}

fn describe(points: &[[f64; 2]], inliers: &[bool], circle: &Circle) -> Circle2Fit {
    let weights: Vec<f64> = inliers.iter().map(|&x| f64::from(x)).collect();
    let (normal, _) = normal_equations(points, &weights, circle);
    let used = inliers.iter().filter(|x| **x).count();
    let dof = used - 3;
    let unknown = Matrix3::from_element(f64::INFINITY);
    Circle2Fit {
        centre: [circle[0], circle[1]],
        radius: circle[2],
        covariance_factor: normal.try_inverse().unwrap_or(unknown),
        sd: (objective(points, &weights, circle) / dof as f64).sqrt(),
        dof,
        arc: arc_covered(points, inliers, circle),
        inliers: inliers.to_vec(),
    }
}

/// A full turn less the widest gap between neighbouring points, rad.
fn arc_covered(points: &[[f64; 2]], inliers: &[bool], c: &Circle) -> f64 {
    let mut angles: Vec<f64> = points
        .iter()
        .zip(inliers)
        .filter(|(_, kept)| **kept)
        .map(|(p, _)| (p[1] - c[1]).atan2(p[0] - c[0]))
        .collect();
    angles.sort_by(f64::total_cmp);
    let (Some(first), Some(last)) = (angles.first(), angles.last()) else {
        return 0.0;
    };
    let around = first + TAU - last;
    let widest = angles
        .windows(2)
        .map(|w| w[1] - w[0])
        .fold(around, f64::max);
    TAU - widest
}
