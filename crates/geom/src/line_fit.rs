//! Straight lines with errors in all coordinates.

use nalgebra::Matrix3;

use crate::{FitError, Point, Unit, Vector};

/// The line that minimises the sum of squared distances square to it, in the plane.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line2Fit {
    /// The centroid, through which the line goes.
    pub centre: [f64; 2],
    /// Unit direction; x >= 0, and y > 0 if x is 0.
    pub direction: [f64; 2],
    /// Standard deviation of a point square to the line, sqrt(sum d^2 / (n - 2)); NaN for two points.
    pub sd: f64,
    /// n - 2.
    pub dof: usize,
    /// Variance of the line's place across itself at the centroid for noise of variance 1: 1/n.
    pub across_factor: f64,
    /// Variance of its angle (rad) for noise of variance 1: 1/sum t^2, t along the line from the centroid.
    pub angle_factor: f64,
}

/// Fits a line to `points` by orthogonal (total) least squares. Errors: fewer than two points, values that are not
/// finite, points without a longest direction (all in one place, or evenly round).
pub fn fit_line_2d(points: &[[f64; 2]]) -> Result<Line2Fit, FitError> {
    FitError::check_count(2, points.len())?;
    let n = points.len() as f64;
    let mean = |k: usize| points.iter().map(|p| p[k]).sum::<f64>() / n;
    let centre = [mean(0), mean(1)];
    if !centre.iter().all(|c| c.is_finite()) {
        return Err(FitError::NotFinite);
    }
    let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
    for p in points {
        let (x, y) = (p[0] - centre[0], p[1] - centre[1]);
        xx += x * x;
        xy += x * y;
        yy += y * y;
    }
    let split = (xx - yy).hypot(2.0 * xy);
    if split <= 1e-12 * (xx + yy) || xx + yy <= 0.0 {
        return Err(FitError::Degenerate);
    }
    let angle = 0.5 * (2.0 * xy).atan2(xx - yy);
    let direction = [angle.cos(), angle.sin()];
    let direction = if direction[0] < 1e-300 {
        [0.0, 1.0]
    } else {
        direction
    };
    let (mut along, mut across) = (0.0, 0.0);
    for p in points {
        let (x, y) = (p[0] - centre[0], p[1] - centre[1]);
        along += (x * direction[0] + y * direction[1]).powi(2);
        across += (y * direction[0] - x * direction[1]).powi(2);
    }
    let dof = points.len() - 2;
    Ok(Line2Fit {
        centre,
        direction,
        sd: (across / dof as f64).sqrt(),
        dof,
        across_factor: 1.0 / n,
        angle_factor: 1.0 / along,
    })
}

/// The line of least squared distances in space.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LineFit {
    /// The weighted centroid, through which the line goes.
    pub centre: Point,
    /// Its direction; towards the side of its largest component, so that the sign does not hang on an eigenvector.
    pub direction: Unit,
    /// Standard deviation of a point per direction square to the line, sqrt(sum w d^2 / (2n - 4)), mm; NaN for two
    /// points.
    pub sd: f64,
    /// Variance of either turn of the line (rad) for noise of variance 1 and weight 1.
    pub angle_factor: f64,
}

/// Fits a line in space by orthogonal least squares; `weights` one per point, `None` all 1. Errors: fewer than two
/// points, values that are not finite or negative weights, points without a longest direction.
pub fn fit_line(points: &[Point], weights: Option<&[f64]>) -> Result<LineFit, FitError> {
    let got = points.len().min(weights.map_or(points.len(), <[f64]>::len));
    FitError::check_count(points.len().max(2), got)?;
    let weight = |k: usize| weights.map_or(1.0, |w| w[k]);
    if (0..points.len()).any(|k| {
        let weighs = weight(k) >= 0.0 && weight(k).is_finite();
        !weighs || !points[k].iter().all(|x| x.is_finite())
    }) {
        return Err(FitError::NotFinite);
    }
    FitError::check_count(2, (0..points.len()).filter(|&k| weight(k) > 0.0).count())?;
    let total: f64 = (0..points.len()).map(weight).sum();
    let sum = points
        .iter()
        .enumerate()
        .fold(Vector::zeros(), |s, (k, p)| s + p.coords * weight(k));
    let centre = Point::from(sum / total);
    let scatter = points
        .iter()
        .enumerate()
        .fold(Matrix3::zeros(), |s, (k, p)| {
            let d = p - centre;
            s + d * d.transpose() * weight(k)
        });
    let eigen = scatter.symmetric_eigen();
    let longest = eigen.eigenvalues.imax();
    let rest = (0..3)
        .filter(|&k| k != longest)
        .map(|k| eigen.eigenvalues[k])
        .fold(0.0, f64::max);
    let along = eigen.eigenvalues[longest];
    if along <= 0.0 || along - rest <= 1e-12 * along {
        return Err(FitError::Degenerate);
    }
    let mut direction: Vector = eigen.eigenvectors.column(longest).into_owned();
    if direction[direction.iamax()] < 0.0 {
        direction = -direction;
    }
    let direction = Unit::new_normalize(direction);
    let squares: f64 = points
        .iter()
        .enumerate()
        .map(|(k, p)| weight(k) * (p - centre).cross(&direction).norm_squared())
        .sum();
    let used = (0..points.len()).filter(|&k| weight(k) > 0.0).count();
    Ok(LineFit {
        centre,
        direction,
        sd: (squares / (2.0 * used as f64 - 4.0)).sqrt(),
        angle_factor: 1.0 / along,
    })
}

/// The line y = intercept + slope x for readings with known standard uncertainties in both coordinates.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WeightedLine {
    /// Slope.
    pub slope: f64,
    /// Value at x = 0.
    pub intercept: f64,
    /// Standard uncertainty of the slope from the stated uncertainties.
    pub u_slope: f64,
    /// Standard uncertainty of the intercept from the stated uncertainties.
    pub u_intercept: f64,
    /// Covariance of the two.
    pub covariance: f64,
    /// Sum of the squared weighted residuals; about n - 2 if the stated uncertainties are right.
    pub chi_square: f64,
    /// n - 2.
    pub dof: usize,
}

/// Fits a line to (`x`, `y`) with standard uncertainties (`ux`, `uy`), all independent (York 1966; standard errors as
/// York, Evensen, Lopez Martinez & De Basabe Delgado 2004, Am. J. Phys. 72, 367). With equal `ux` and `uy` it is the
/// orthogonal line. The line must not be parallel to the y axis.
///
/// Errors: unequal numbers or fewer than two, values that are not finite, uncertainties that are not positive, all x
/// equal, no convergence in 200 rounds.
pub fn fit_line_weighted(
    x: &[f64],
    y: &[f64],
    ux: &[f64],
    uy: &[f64],
) -> Result<WeightedLine, FitError> {
    let n = x.len();
    let least = y.len().min(ux.len()).min(uy.len()).min(n);
    FitError::check_count(n.max(2), least)?;
    let finite = x.iter().chain(y).all(|v| v.is_finite());
    if !finite || !ux.iter().chain(uy).all(|u| u.is_finite() && *u > 0.0) {
        return Err(FitError::NotFinite);
    }
    let points: Vec<[f64; 2]> = x.iter().zip(y).map(|(x, y)| [*x, *y]).collect();
    let start = fit_line_2d(&points)?.direction;
    if x.iter().all(|v| *v == x[0]) || start[0] < 1e-9 {
        return Err(FitError::Degenerate);
    }
    let mut slope = start[1] / start[0];
    for _ in 0..200 {
        let state = York::at(slope, &points, ux, uy);
        let next = state.next_slope();
        if !next.is_finite() {
            return Err(FitError::Degenerate);
        }
        let done = (next - slope).abs() <= 1e-15 * (1.0 + next.abs());
        slope = next;
        if done {
            break;
        }
    }
    let state = York::at(slope, &points, ux, uy);
    if (state.next_slope() - slope).abs() > 1e-12 * (1.0 + slope.abs()) {
        return Err(FitError::NoConvergence);
    }
    Ok(state.line(slope, &points))
}

/// One round of York's iteration.
struct York {
    /// Weight of each point square to the line.
    w: Vec<f64>,
    /// The weighted centroid.
    centre: [f64; 2],
    /// Adjusted x less the x of the centroid.
    beta: Vec<f64>,
    /// x and y less the centroid.
    u: Vec<[f64; 2]>,
}

impl York {
    fn at(slope: f64, points: &[[f64; 2]], ux: &[f64], uy: &[f64]) -> Self {
        let w: Vec<f64> = ux
            .iter()
            .zip(uy)
            .map(|(a, b)| 1.0 / (b * b + slope * slope * a * a))
            .collect();
        let total: f64 = w.iter().sum();
        let mean = |k: usize| points.iter().zip(&w).map(|(p, w)| w * p[k]).sum::<f64>() / total;
        let centre = [mean(0), mean(1)];
        let u: Vec<[f64; 2]> = points
            .iter()
            .map(|p| [p[0] - centre[0], p[1] - centre[1]])
            .collect();
        let beta = (0..w.len())
            .map(|i| w[i] * (u[i][0] * uy[i] * uy[i] + slope * u[i][1] * ux[i] * ux[i]))
            .collect();
        Self { w, centre, beta, u }
    }

    fn next_slope(&self) -> f64 {
        let sum = |k: usize| -> f64 {
            (0..self.w.len())
                .map(|i| self.w[i] * self.beta[i] * self.u[i][k])
                .sum()
        };
        sum(1) / sum(0)
    }

    fn line(&self, slope: f64, points: &[[f64; 2]]) -> WeightedLine {
        let total: f64 = self.w.iter().sum();
        let middle = self
            .w
            .iter()
            .zip(&self.beta)
            .map(|(w, b)| w * b)
            .sum::<f64>()
            / total;
        let spread: f64 = self
            .w
            .iter()
            .zip(&self.beta)
            .map(|(w, b)| w * (b - middle).powi(2))
            .sum();
        let adjusted = self.centre[0] + middle;
        let intercept = self.centre[1] - slope * self.centre[0];
        let variance = 1.0 / spread;
        WeightedLine {
            slope,
            intercept,
            u_slope: variance.sqrt(),
            u_intercept: (1.0 / total + adjusted * adjusted * variance).sqrt(),
            covariance: -adjusted * variance,
            chi_square: points
                .iter()
                .zip(&self.w)
                .map(|(p, w)| w * (p[1] - slope * p[0] - intercept).powi(2))
                .sum(),
            dof: points.len() - 2,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Rigid;
    use approx::assert_relative_eq;

    #[test]
    fn both_plane_fits_agree_when_the_weights_are_equal() {
        let points = [[0.0, 0.0], [1.0, 1.0], [2.0, 4.0], [3.0, 9.0]];
        let line = fit_line_2d(&points).unwrap();
        let one = [1.0; 4];
        let weighted =
            fit_line_weighted(&[0.0, 1.0, 2.0, 3.0], &[0.0, 1.0, 4.0, 9.0], &one, &one).unwrap();
        assert_relative_eq!(
            line.direction[1] / line.direction[0],
            weighted.slope,
            max_relative = 1e-12
        );
        assert_relative_eq!(
            line.sd.powi(2) * 2.0,
            weighted.chi_square,
            max_relative = 1e-12
        );
        // d slope = d angle / cos^2, and likewise across the line at the centroid.
        let cos2 = line.direction[0].powi(2);
        assert_relative_eq!(
            line.angle_factor.sqrt() / cos2,
            weighted.u_slope,
            max_relative = 0.02
        );
    }

    #[test]
    fn a_line_in_space_moves_with_its_points() {
        let points: Vec<Point> = (0..9)
            .map(|k| {
                let t = f64::from(k);
                Point::new(10.0 * t, 0.1 * (7.0 * t).sin(), 0.1 * (4.0 * t).cos())
            })
            .collect();
        let line = fit_line(&points, None).unwrap();
        assert!(line.direction.x > 0.9999 && line.sd < 0.12);
        let far = Rigid::new(Vector::new(900.0, -20.0, 77.0), Vector::new(0.2, 1.4, 0.1));
        let moved: Vec<Point> = points.iter().map(|p| far * p).collect();
        let there = fit_line(&moved, None).unwrap();
        assert_relative_eq!(there.centre, far * line.centre, epsilon = 1e-10);
        assert!(
            there
                .direction
                .cross(&(far * line.direction.into_inner()))
                .norm()
                < 1e-12
        );
        assert_relative_eq!(there.sd, line.sd, max_relative = 1e-9);
        // Twice the weight is the point twice.
        let weights = [1.0, 2.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0];
        let doubled: Vec<Point> = points.iter().copied().chain([points[1]]).collect();
        let (a, b) = (
            fit_line(&points, Some(&weights)).unwrap(),
            fit_line(&doubled, None).unwrap(),
        );
        assert_relative_eq!(
            a.direction.into_inner(),
            b.direction.into_inner(),
            epsilon = 1e-12
        );
    }

    #[test]
    fn what_has_no_line_is_refused() {
        assert_eq!(fit_line_2d(&[[1.0, 1.0]; 5]), Err(FitError::Degenerate));
        assert_eq!(
            fit_line_2d(&[[0.0, 0.0], [1.0, 0.0], [0.0, 1.0], [1.0, 1.0]]),
            Err(FitError::Degenerate)
        );
        assert_eq!(
            fit_line_2d(&[[1.0, 1.0]]),
            Err(FitError::TooFewPoints { needed: 2, got: 1 })
        );
        assert_eq!(
            fit_line(&[Point::origin(); 3], None),
            Err(FitError::Degenerate)
        );
        let upright = fit_line_2d(&[[2.0, 0.0], [2.0, 3.0], [2.0, 5.0]]).unwrap();
        assert_relative_eq!(upright.direction[1], 1.0, epsilon = 1e-12);
        assert_eq!(
            fit_line_weighted(&[2.0; 3], &[0.0, 3.0, 5.0], &[1.0; 3], &[1.0; 3]),
            Err(FitError::Degenerate)
        );
        assert_eq!(
            fit_line_weighted(&[1.0, 2.0], &[0.0, 3.0], &[1.0, 0.0], &[1.0; 2]),
            Err(FitError::NotFinite)
        );
    }
}
