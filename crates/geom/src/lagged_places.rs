//! Weighted sums of readings that lie anywhere in space, folded over the distances between them.

use std::collections::BTreeMap;

use crate::Lagged;

/// Side of the bins in which weights are summed before they are paired, mm.
const BIN: f64 = 1.25;
/// Step of the distances into which pairs are sorted, mm.
const LAG: f64 = 0.5;

impl Lagged {
    /// The functional with weight `b[k]` on a reading at `places[k]` (mm), distances measured straight through space.
    ///
    /// Readings of one cube of 1.25 mm count as if they lay together: what noise shares over less than that is taken as
    /// shared whole, which is on the safe side. Cost: the square of the number of cubes.
    pub fn of_places(places: &[[f64; 3]], b: &[f64]) -> Self {
        // Weight, and sums of place by size of weight.
        let mut bins: BTreeMap<[i64; 3], [f64; 5]> = BTreeMap::new();
        let mut white = 0.0;
        for (p, w) in places.iter().zip(b).filter(|(_, w)| **w != 0.0) {
            white += w * w;
            let bin = bins.entry(p.map(|x| (x / BIN).floor() as i64)).or_default();
            bin[0] += w;
            for k in 0..3 {
                bin[1 + k] += w.abs() * p[k];
            }
            bin[4] += w.abs();
        }
        let bins: Vec<[f64; 4]> = bins
            .into_values()
            .map(|b| [b[0], b[1] / b[4], b[2] / b[4], b[3] / b[4]])
            .collect();
        let mut lags: Vec<f64> = vec![0.0];
        for (i, p) in bins.iter().enumerate() {
            lags[0] += p[0] * p[0];
            for q in &bins[..i] {
                let apart = (p[1] - q[1]).hypot(p[2] - q[2]).hypot(p[3] - q[3]);
                let k = (apart / LAG).round() as usize;
                if k >= lags.len() {
                    lags.resize(k + 1, 0.0);
                }
                lags[k] += 2.0 * p[0] * q[0];
            }
        }
        let pairs = lags.into_iter().enumerate().filter(|(_, w)| *w != 0.0);
        Self::from_pairs(white, pairs.map(|(k, w)| (k as f64 * LAG, w)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Kernel;
    use approx::assert_relative_eq;

    #[test]
    fn equals_the_double_sum_where_noise_is_long_against_a_cube() {
        let places: Vec<[f64; 3]> = (0..120)
            .map(|k| f64::from(k) * 0.37)
            .map(|x| [x.sin() * 8.0, x.cos() * 8.0, x * 0.5])
            .collect();
        let b: Vec<f64> = (0..120).map(|k| (0.9 * f64::from(k)).cos() + 0.2).collect();
        let found = Lagged::of_places(&places, &b);
        assert_relative_eq!(
            found.white,
            b.iter().map(|w| w * w).sum::<f64>(),
            epsilon = 1e-12
        );
        let kernel = Kernel::Gaussian;
        let mut sum = 0.0;
        for (p, x) in places.iter().zip(&b) {
            for (q, y) in places.iter().zip(&b) {
                let d: f64 = (0..3).map(|k| (p[k] - q[k]).powi(2)).sum();
                sum += x * y * kernel.at(d.sqrt(), 6.0);
            }
        }
        assert_relative_eq!(found.correlated(kernel, 6.0), sum, max_relative = 0.02);
    }
}
