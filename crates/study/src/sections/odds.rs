//! All differences of a panel weighed together.

use geom::covariance_factor;
use nalgebra::DMatrix;
use rayon::prelude::*;

use crate::decide::{CHUNK, normal, scale, stream};

/// What the largest of many differences is held against.
pub(super) struct Odds {
    /// Chance of so large a largest one between two like panels.
    pub p: f64,
    /// The largest |d|/u that 95 of 100 like panels stay below.
    pub limit: f64,
}

/// A factor of a covariance of which the parts off the diagonal were taken from tables: where they go together so badly
/// that there is none, the diagonal grows until there is.
pub(super) fn factor(covariance: &DMatrix<f64>) -> DMatrix<f64> {
    for grown in [1.0, 1.02, 1.05, 1.1, 1.2] {
        let mut c = covariance.clone();
        for i in 0..c.nrows() {
            c[(i, i)] *= grown;
        }
        if let Some(c) = c.cholesky() {
            return c.unpack();
        }
    }
    covariance_factor(covariance)
}

/// Standard uncertainty of every figure; infinite where it is no more than what rounding leaves of figures that are always
/// the same, so that they do not count.
pub(super) fn doubts(rows: &DMatrix<f64>) -> Vec<f64> {
    let all: Vec<f64> = rows.row_iter().map(|r| r.norm()).collect();
    let least = 1e-3 * all.iter().copied().fold(0.0, f64::max);
    all.into_iter()
        .map(|u| if u > least { u } else { f64::INFINITY })
        .collect()
}

/// The odds of figures d with `rows` (figures x factors) of doubt and `nu` degrees of freedom of its size. `None` without
/// figures or draws.
pub(super) fn odds(d: &[f64], rows: &DMatrix<f64>, nu: f64, seed: u64, draws: u32) -> Option<Odds> {
    if d.is_empty() || draws == 0 {
        return None;
    }
    // In units of their own doubt, so that a draw is one product.
    let mut alike = rows.clone();
    let u = doubts(rows);
    for (i, u) in u.iter().enumerate() {
        alike.row_mut(i).scale_mut(1.0 / u);
    }
    let found = d
        .iter()
        .zip(&u)
        .map(|(d, u)| d.abs() / u)
        .fold(0.0, f64::max);
    let chunks: Vec<Vec<f64>> = (0..draws.div_ceil(CHUNK))
        .into_par_iter()
        .map(|c| {
            let first = c * CHUNK;
            let count = CHUNK.min(draws - first) as usize;
            let mut z = DMatrix::zeros(alike.ncols(), count);
            for k in 0..count {
                let mut rng = stream(seed ^ 0x7061_6E65, u64::from(first) + k as u64);
                let s = scale(&mut rng, nu);
                z.column_mut(k).apply(|v| *v = s * normal(&mut rng));
            }
            let drawn = &alike * z;
            drawn.column_iter().map(|c| c.amax()).collect()
        })
        .collect();
    let mut largest: Vec<f64> = chunks.into_iter().flatten().collect();
    largest.sort_by(f64::total_cmp);
    let above = largest.len() - largest.partition_point(|v| *v < found);
    let at95 = ((0.95 * largest.len() as f64) as usize).min(largest.len() - 1);
    Some(Odds {
        // One more than counted: with none counted the chance is below 1 in the number of draws, not zero.
        p: (above as f64 + 1.0) / (largest.len() as f64 + 1.0),
        limit: largest[at95],
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    /// Of n independent normal figures the largest stays below the quantile of 0.95^(1/n): with n = 20 the two-sided
    /// limit is 3.016 (standard normal tables), with one 1.960.
    #[test]
    fn the_limit_of_independent_figures_is_that_of_the_tables() {
        for (n, limit) in [(1, 1.960), (20, 3.016)] {
            let rows = DMatrix::identity(n, n) * 0.3;
            let found = odds(&vec![0.0; n], &rows, f64::INFINITY, 3, 20_000).unwrap();
            assert_relative_eq!(found.limit, limit, max_relative = 0.015);
            assert!(found.p > 0.999);
        }
        let rows = DMatrix::identity(20, 20) * 0.3;
        let mut d = vec![0.0; 20];
        d[4] = -0.3 * 3.016;
        let found = odds(&d, &rows, f64::INFINITY, 3, 20_000).unwrap();
        assert_relative_eq!(found.p, 0.05, epsilon = 0.006);
        assert!(odds(&d, &rows, f64::INFINITY, 3, 0).is_none());
    }

    #[test]
    fn a_covariance_out_of_tables_has_a_factor() {
        let c = DMatrix::from_row_slice(3, 3, &[1.0, 0.9, 0.2, 0.9, 1.0, 0.9, 0.2, 0.9, 1.0]);
        let f = factor(&c);
        for i in 0..3 {
            assert!(f.row(i).norm_squared() >= 1.0 - 1e-9);
        }
    }
}
