//! Dense linear least squares.

use nalgebra::{DMatrix, DVector};

use crate::FitError;

/// A pivot below this share of its (unit length) column means that the column depends on those before it.
const RANK_TOLERANCE: f64 = 1e-12;

/// The solution of min sum w (y - X b)^2.
#[derive(Clone, Debug, PartialEq)]
pub struct LeastSquares {
    /// The coefficients b, in the order of the columns.
    pub coefficients: DVector<f64>,
    /// (X'WX)^-1. Times the variance of an observation of weight 1 it is the covariance of the coefficients.
    pub covariance_factor: DMatrix<f64>,
    /// y - X b, not weighted.
    pub residuals: DVector<f64>,
    /// sqrt(sum w r^2 / dof): the standard deviation of an observation of weight 1; NaN with no degrees of freedom.
    pub residual_sd: f64,
    /// Observations less coefficients; observations of weight zero do not count.
    pub dof: usize,
}

impl LeastSquares {
    /// Standard deviation of each coefficient, from the residuals.
    pub fn standard_deviations(&self) -> DVector<f64> {
        self.covariance_factor
            .diagonal()
            .map(|c| c.sqrt() * self.residual_sd)
    }
}

/// Solves min sum w (y - X b)^2 by Householder QR on columns scaled to unit length, with one step of refinement.
///
/// `weights`: one per observation, not negative (1/variance up to a common factor); `None` is all equal.
/// Errors: sizes that differ or fewer observations than columns, values that are not finite, columns that depend on
/// one another (to 1e-12 of their length: centre and scale polynomials first, see [`fit_polynomial`]).
/// Cost O(n p^2).
pub fn least_squares(
    x: &DMatrix<f64>,
    y: &DVector<f64>,
    weights: Option<&[f64]>,
) -> Result<LeastSquares, FitError> {
    let (n, p) = x.shape();
    let rows = n.min(y.len()).min(weights.map_or(n, <[f64]>::len));
    if rows != n || y.len() != n || weights.is_some_and(|w| w.len() != n) {
        return Err(FitError::TooFewPoints {
            needed: n.max(y.len()),
            got: rows,
        });
    }
    let used = weights.map_or(n, |w| w.iter().filter(|w| **w != 0.0).count());
    FitError::check_count(p.max(1), used)?;
    let finite = x.iter().chain(y.iter()).all(|v| v.is_finite())
        && weights.is_none_or(|w| w.iter().all(|w| w.is_finite() && *w >= 0.0));
    if !finite {
        return Err(FitError::NotFinite);
    }
    let root = DVector::from_fn(n, |i, _| weights.map_or(1.0, |w| w[i].sqrt()));
    let mut a = DMatrix::from_fn(n, p, |i, k| x[(i, k)] * root[i]);
    let lengths: Vec<f64> = (0..p).map(|k| a.column(k).norm()).collect();
    if lengths.contains(&0.0) {
        return Err(FitError::Degenerate);
    }
    for (k, length) in lengths.iter().enumerate() {
        a.column_mut(k).scale_mut(1.0 / length);
    }
    let qr = a.qr();
    let (q, r) = (qr.q(), qr.r());
    if (0..p).any(|k| r[(k, k)].abs() < RANK_TOLERANCE) {
        return Err(FitError::Degenerate);
    }
    let solve = |right: &DVector<f64>| -> Result<DVector<f64>, FitError> {
        let weighted = right.component_mul(&root);
        let mut b = r
            .solve_upper_triangular(&(q.transpose() * weighted))
            .ok_or(FitError::Degenerate)?;
        for (k, length) in lengths.iter().enumerate() {
            b[k] /= length;
        }
        Ok(b)
    };
    let first = solve(y)?;
    let coefficients = &first + solve(&residuals_of(x, y, &first))?;
    let residuals = residuals_of(x, y, &coefficients);
    let inverse = r
        .solve_upper_triangular(&DMatrix::identity(p, p))
        .ok_or(FitError::Degenerate)?;
    let mut covariance_factor = &inverse * inverse.transpose();
    for i in 0..p {
        for k in 0..p {
            covariance_factor[(i, k)] /= lengths[i] * lengths[k];
        }
    }
    let dof = used - p;
    let squares = residuals.component_mul(&root).norm_squared();
    Ok(LeastSquares {
        coefficients,
        covariance_factor,
        residuals,
        residual_sd: (squares / dof as f64).sqrt(),
        dof,
    })
}

/// y - X b with products and sums carried to about twice the digits of f64, which is what makes refinement work.
fn residuals_of(x: &DMatrix<f64>, y: &DVector<f64>, b: &DVector<f64>) -> DVector<f64> {
    DVector::from_fn(x.nrows(), |i, _| {
        let (mut sum, mut rest) = (y[i], 0.0);
        for k in 0..x.ncols() {
            let product = -x[(i, k)] * b[k];
            let error = (-x[(i, k)]).mul_add(b[k], -product);
            // Two-sum (Knuth): what the addition rounds away goes to `rest`.
            let next = sum + product;
            let virtual_part = next - sum;
            rest += (sum - (next - virtual_part)) + (product - virtual_part) + error;
            sum = next;
        }
        sum + rest
    })
}

/// x to the power of k by repeated multiplication.
fn power(x: f64, k: usize) -> f64 {
    (0..k).fold(1.0, |product, _| product * x)
}

/// A polynomial fitted in the variable t = (x - centre) / scale, where its columns are far from dependent.
#[derive(Clone, Debug, PartialEq)]
pub struct PolynomialFit {
    /// Middle of the range of x.
    pub centre: f64,
    /// Half the range of x.
    pub scale: f64,
    /// The fit in powers of t, the constant first.
    pub fit: LeastSquares,
}

/// Fits y = sum b_k x^k for k = 0..=degree. Errors as for [`least_squares`], and `Degenerate` if all x are equal.
pub fn fit_polynomial(
    x: &[f64],
    y: &[f64],
    weights: Option<&[f64]>,
    degree: usize,
) -> Result<PolynomialFit, FitError> {
    FitError::check_count(degree + 1, x.len().min(y.len()))?;
    let low = x.iter().copied().fold(f64::INFINITY, f64::min);
    let high = x.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let (centre, scale) = (0.5 * (low + high), 0.5 * (high - low));
    if !x.iter().all(|x| x.is_finite()) {
        return Err(FitError::NotFinite);
    }
    if scale == 0.0 && degree > 0 {
        return Err(FitError::Degenerate);
    }
    let scale = if scale == 0.0 { 1.0 } else { scale };
    let design = DMatrix::from_fn(x.len(), degree + 1, |i, k| {
        power((x[i] - centre) / scale, k)
    });
    let fit = least_squares(&design, &DVector::from_column_slice(y), weights)?;
    Ok(PolynomialFit { centre, scale, fit })
}

impl PolynomialFit {
    /// The value at `x`.
    pub fn value(&self, x: f64) -> f64 {
        let t = (x - self.centre) / self.scale;
        self.fit
            .coefficients
            .iter()
            .rev()
            .fold(0.0, |sum, b| sum * t + b)
    }

    /// The variance of the value at `x` for observations of variance 1.
    pub fn variance_factor(&self, x: f64) -> f64 {
        let t = (x - self.centre) / self.scale;
        let row = DVector::from_fn(self.fit.coefficients.len(), |k, _| power(t, k));
        (row.transpose() * &self.fit.covariance_factor * &row)[(0, 0)]
    }

    /// The coefficients in powers of x, the constant first, and their covariance factor.
    pub fn in_powers_of_x(&self) -> (DVector<f64>, DMatrix<f64>) {
        let n = self.fit.coefficients.len();
        // Column k holds the powers of x in ((x - centre) / scale)^k.
        let mut map = DMatrix::zeros(n, n);
        for k in 0..n {
            let mut binomial = 1.0;
            for j in (0..=k).rev() {
                map[(j, k)] = binomial * power(-self.centre, k - j) / power(self.scale, k);
                binomial *= j as f64 / (k - j + 1) as f64;
            }
        }
        let covariance = &map * &self.fit.covariance_factor * map.transpose();
        (map * &self.fit.coefficients, covariance)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn weights_count_as_repeats() {
        let x = DMatrix::from_row_slice(4, 2, &[1.0, 0.0, 1.0, 1.0, 1.0, 2.0, 1.0, 4.0]);
        let y = DVector::from_row_slice(&[1.0, 2.5, 2.0, 7.0]);
        let weighted = least_squares(&x, &y, Some(&[1.0, 2.0, 1.0, 1.0])).unwrap();
        let xx = x.clone().insert_row(1, 1.0);
        let yy = y.clone().insert_row(1, 2.5);
        let mut xx = xx;
        xx[(1, 1)] = 1.0;
        let repeated = least_squares(&xx, &yy, None).unwrap();
        assert_relative_eq!(
            weighted.coefficients,
            repeated.coefficients,
            epsilon = 1e-13
        );
        assert_relative_eq!(
            weighted.covariance_factor,
            repeated.covariance_factor,
            epsilon = 1e-13
        );
        assert_eq!((weighted.dof, repeated.dof), (2, 3));
        // A weight of zero is an observation that is not there.
        let dropped = least_squares(&x, &y, Some(&[1.0, 0.0, 1.0, 1.0])).unwrap();
        let without =
            least_squares(&x.clone().remove_row(1), &y.clone().remove_row(1), None).unwrap();
        assert_relative_eq!(dropped.coefficients, without.coefficients, epsilon = 1e-13);
        assert_eq!(dropped.dof, without.dof);
        assert_relative_eq!(dropped.residual_sd, without.residual_sd, epsilon = 1e-13);
    }

    #[test]
    fn unsolvable_systems_are_refused() {
        let x = DMatrix::from_row_slice(3, 2, &[1.0, 2.0, 2.0, 4.0, 3.0, 6.0]);
        let y = DVector::from_row_slice(&[1.0, 2.0, 3.0]);
        assert_eq!(least_squares(&x, &y, None), Err(FitError::Degenerate));
        assert_eq!(
            least_squares(&x.rows(0, 1).into(), &y.rows(0, 1).into(), None),
            Err(FitError::TooFewPoints { needed: 2, got: 1 })
        );
        assert!(matches!(
            least_squares(&x, &y.rows(0, 2).into(), None),
            Err(FitError::TooFewPoints { .. })
        ));
        assert_eq!(
            least_squares(&x, &y, Some(&[1.0, -1.0, 1.0])),
            Err(FitError::NotFinite)
        );
        assert_eq!(
            fit_polynomial(&[2.0; 4], &[1.0; 4], None, 1),
            Err(FitError::Degenerate)
        );
    }

    #[test]
    fn polynomial_in_both_forms() {
        let x: Vec<f64> = (0..9).map(|k| 1000.0 + f64::from(k)).collect();
        let y: Vec<f64> = x
            .iter()
            .map(|x| 3.0 - 0.5 * (x - 1000.0) + 0.25 * (x - 1000.0).powi(2))
            .collect();
        let fit = fit_polynomial(&x, &y, None, 2).unwrap();
        assert_relative_eq!(fit.value(1002.5), 3.0 - 1.25 + 1.5625, epsilon = 1e-10);
        let (b, c) = fit.in_powers_of_x();
        assert_relative_eq!(b[2], 0.25, epsilon = 1e-12);
        assert_relative_eq!(b[1], -0.5 - 500.0, epsilon = 1e-8);
        let row = DVector::from_row_slice(&[1.0, 1002.5, 1002.5 * 1002.5]);
        assert_relative_eq!(
            (row.transpose() * c * &row)[(0, 0)],
            fit.variance_factor(1002.5),
            max_relative = 1e-3
        );
    }
}
