//! Least squares of a ruled or flat face over (s, t), with the linear maps from readings to coefficients.

use crate::FitError;
use crate::weighted_rows::weighted_rows;

/// A ruled face h = c0 + c1 s + c2 t + c3 s t.
pub(super) struct Ruled {
    /// c0 to c3 with s counted from mid length.
    pub mid: [f64; 4],
    /// Weights of the readings in c2 and c3, s counted from mid length.
    pub slope_rows: [Vec<f64>; 2],
}

impl Ruled {
    /// Fits places (s, t, h) with weights; `mid`: the s from which the coefficients count.
    pub fn fit(places: &[[f64; 3]], weights: &[f64], mid: f64) -> Result<Self, FitError> {
        let centre = weighted_mean(places, weights);
        let (t0, s0) = (centre[1], centre[0] - mid);
        let terms = |p: &[f64; 3]| {
            let (s, t) = (p[0] - centre[0], p[1] - t0);
            vec![1.0, s, t, s * t]
        };
        let rows = weighted_rows(places, weights, 4, terms)?;
        // c0' + c1' (s - s0) + c2' (t - t0) + c3' (s - s0)(t - t0), s from mid, multiplied out.
        let h: Vec<f64> = places.iter().map(|p| p[2]).collect();
        let c: Vec<f64> = rows.iter().map(|r| dot(r, &h)).collect();
        let slope: Vec<f64> = rows[2]
            .iter()
            .zip(&rows[3])
            .map(|(a, b)| a - s0 * b)
            .collect();
        Ok(Self {
            mid: [
                c[0] - s0 * c[1] - t0 * c[2] + s0 * t0 * c[3],
                c[1] - t0 * c[3],
                c[2] - s0 * c[3],
                c[3],
            ],
            slope_rows: [slope, rows[3].clone()],
        })
    }

    /// The coefficients with s counted from the start.
    pub fn counted_from_start(&self, mid: f64) -> [f64; 4] {
        let [c0, c1, c2, c3] = self.mid;
        [c0 - mid * c1, c1, c2 - mid * c3, c3]
    }
}

/// A flat piece of a face: its slope against t, the weights of the readings in it, and its middle.
pub(super) struct Flat {
    pub slope: f64,
    pub row: Vec<f64>,
    /// Weighted mean s.
    pub s: f64,
}

impl Flat {
    /// Fits h = c0 + c1 s + c2 t to places (s, t, h) with weights.
    pub fn fit(places: &[[f64; 3]], weights: &[f64]) -> Result<Self, FitError> {
        let centre = weighted_mean(places, weights);
        let terms = |p: &[f64; 3]| vec![1.0, p[0] - centre[0], p[1] - centre[1]];
        let row = weighted_rows(places, weights, 3, terms)?.swap_remove(2);
        let h: Vec<f64> = places.iter().map(|p| p[2]).collect();
        Ok(Self {
            slope: dot(&row, &h),
            row,
            s: centre[0],
        })
    }
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}

/// Weighted mean of s and t.
fn weighted_mean(places: &[[f64; 3]], weights: &[f64]) -> [f64; 2] {
    let mut sums = [0.0; 3];
    for (p, w) in places.iter().zip(weights) {
        sums = [sums[0] + w, sums[1] + w * p[0], sums[2] + w * p[1]];
    }
    [sums[1] / sums[0], sums[2] / sums[0]]
}
