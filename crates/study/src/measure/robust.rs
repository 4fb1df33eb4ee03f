//! Robust linear least squares with few unknowns.

use nalgebra::{DMatrix, DVector};

/// Turning point of Tukey's bisquare (Beaton and Tukey 1974; 95 % efficiency for normal noise).
const BISQUARE: f64 = 4.685;
/// Standard deviation from the median of absolute deviations of a normal distribution.
const MAD_TO_SD: f64 = 1.4826;

/// Fits `rows[i] . x = values[i]` by iterated bisquare weights from a median-scaled start.
///
/// Returns the coefficients and the scale (standard deviation of the bulk), or `None` when the rows do not
/// determine the unknowns. `floor` is the smallest scale that is believed.
pub fn fit<const N: usize>(
    rows: &[[f64; N]],
    values: &[f64],
    floor: f64,
) -> Option<([f64; N], f64)> {
    if rows.len() < N + 1 {
        return None;
    }
    let mut weights = vec![1.0; rows.len()];
    let mut x = solve(rows, values, &weights)?;
    let mut scale = f64::INFINITY;
    let mut residuals: Vec<f64> = Vec::with_capacity(rows.len());
    for _ in 0..12 {
        residuals.clear();
        residuals.extend(rows.iter().zip(values).map(|(r, v)| v - dot(r, &x)));
        scale = median_abs(&residuals, N).max(floor);
        for (w, r) in weights.iter_mut().zip(&residuals) {
            let z = r / (BISQUARE * scale);
            *w = if z.abs() < 1.0 {
                (1.0 - z * z).powi(2)
            } else {
                0.0
            };
        }
        let next = solve(rows, values, &weights)?;
        let moved = x
            .iter()
            .zip(&next)
            .map(|(a, b)| (a - b).abs())
            .fold(0.0, f64::max);
        x = next;
        if moved < 1e-9 {
            break;
        }
    }
    Some((x, scale))
}

fn dot<const N: usize>(a: &[f64; N], b: &[f64; N]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

fn median_abs(residuals: &[f64], unknowns: usize) -> f64 {
    let mut a: Vec<f64> = residuals.iter().map(|r| r.abs()).collect();
    // Fitting N unknowns makes about N residuals small: the median is taken among the rest.
    let k = usize::midpoint(a.len(), unknowns);
    let k = k.min(a.len() - 1);
    let (_, m, _) = a.select_nth_unstable_by(k, f64::total_cmp);
    MAD_TO_SD * *m
}

fn solve<const N: usize>(rows: &[[f64; N]], values: &[f64], weights: &[f64]) -> Option<[f64; N]> {
    let mut sums = [[0.0; N]; N];
    let mut right = [0.0; N];
    for ((r, v), w) in rows.iter().zip(values).zip(weights) {
        for i in 0..N {
            let wr = w * r[i];
            // The upper half is as quick as an end of its own to every row.
            for j in 0..N {
                sums[i][j] += wr * r[j];
            }
            right[i] += wr * v;
        }
    }
    let mut m = DMatrix::from_fn(N, N, |i, j| sums[i.max(j)][i.min(j)]);
    let mut b = DVector::from_column_slice(&right);
    // Column scaling keeps mm and mm2 columns comparable.
    let s: Vec<f64> = (0..N).map(|i| m[(i, i)].sqrt()).collect();
    if s.iter().any(|x| x.is_nan() || *x <= 0.0) {
        return None;
    }
    for i in 0..N {
        for j in 0..N {
            m[(i, j)] /= s[i] * s[j];
        }
        b[i] /= s[i];
    }
    let c = m.cholesky()?;
    if c.l_dirty().diagonal().min() < 1e-5 {
        return None;
    }
    let x = c.solve(&b);
    Some(std::array::from_fn(|i| x[i] / s[i]))
}
