//! Weighted least squares as a linear map.

use nalgebra::DMatrix;

use crate::FitError;

/// The rows of (X'WX)^-1 X'W: for each of `n` coefficients the weight of each reading in it. `terms` gives the `n` terms
/// of the design at a place, best counted from its middle. Errors: no more places than terms, columns that depend on each
/// other, values that are not finite.
pub(crate) fn weighted_rows<P>(
    places: &[P],
    weights: &[f64],
    n: usize,
    terms: impl Fn(&P) -> Vec<f64>,
) -> Result<Vec<Vec<f64>>, FitError> {
    FitError::check_count(n + 1, places.len())?;
    let root: Vec<f64> = weights.iter().map(|w| w.max(0.0).sqrt()).collect();
    let mut x = DMatrix::from_row_iterator(places.len(), n, places.iter().flat_map(terms));
    if x.iter().chain(&root).any(|v| !v.is_finite()) {
        return Err(FitError::NotFinite);
    }
    for (mut row, w) in x.row_iter_mut().zip(&root) {
        row *= *w;
    }
    // Columns of length one, so that millimetres and square millimetres compare.
    let mut lengths = Vec::with_capacity(n);
    for mut column in x.column_iter_mut() {
        let length = column.norm();
        if length <= 0.0 {
            return Err(FitError::Degenerate);
        }
        column /= length;
        lengths.push(length);
    }
    let qr = x.qr();
    let r = qr.r();
    if (0..n).any(|k| r[(k, k)].abs() < 1e-7) {
        return Err(FitError::Degenerate);
    }
    let b = r
        .solve_upper_triangular(&qr.q().transpose())
        .ok_or(FitError::Degenerate)?;
    Ok((0..n)
        .map(|k| {
            b.row(k)
                .iter()
                .zip(&root)
                .map(|(b, w)| b * w / lengths[k])
                .collect()
        })
        .collect())
}
