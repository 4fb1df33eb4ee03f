//! Weights and scales shared by the robust fits.

use crate::quantile::{normal_cdf, normal_density};

/// Tuning of the bisquare: 95 % efficient on normal noise (Beaton & Tukey 1974).
pub(crate) const BISQUARE: f64 = 4.685;

/// Residuals beyond this many scales are set aside in the last, unweighted refit.
pub(crate) const HARD_CUT: f64 = 3.5;

/// Median of |r| of normal noise with sd 1.
pub(crate) const NORMAL_MEDIAN: f64 = 0.674_489_750_196_081_7;

/// Weight of a residual `r` at a fixed `scale`: (1 - (r / (c scale))^2)^2 inside c scale, 0 outside.
pub(crate) fn bisquare_weight(r: f64, scale: f64) -> f64 {
    let x = r / (BISQUARE * scale);
    let inside = 1.0 - x * x;
    if inside > 0.0 { inside * inside } else { 0.0 }
}

/// The standard deviation of normal noise with sd 1 of which only |r| <= `cut` was kept:
/// sqrt(1 - 2 k phi(k) / (2 Phi(k) - 1)). 0.880 at 2, 0.987 at 3, 0.997 at 3.5.
pub(crate) fn truncated_sd(cut: f64) -> f64 {
    if !cut.is_finite() {
        return 1.0;
    }
    // Below 0.01 the closed form loses its digits; a uniform piece has cut^2 / 3.
    if cut < 0.01 {
        return cut / 3.0_f64.sqrt();
    }
    let kept = 2.0 * normal_cdf(cut) - 1.0;
    (1.0 - 2.0 * cut * normal_density(cut) / kept)
        .max(0.0)
        .sqrt()
}

/// The sd of normal noise whose residuals inside `cut` (same unit) have the sd `kept`. Where the kept part is as wide
/// as a uniform one (no such noise exists) it is `kept` over the factor at 3.5, 0.997.
pub(crate) fn untruncated_sd(kept: f64, cut: f64) -> f64 {
    let mut sd = kept / truncated_sd(HARD_CUT);
    for _ in 0..50 {
        let next = kept / truncated_sd(cut / sd);
        if !next.is_finite() || cut < 2.0 * next {
            return kept / truncated_sd(HARD_CUT);
        }
        if (next - sd).abs() <= 1e-12 * next {
            return next;
        }
        sd = next;
    }
    sd
}

/// The sd of normal noise of which the share `h` with the smallest |r| has the root mean square 1.
pub(crate) fn trimmed_scale(h: f64) -> f64 {
    1.0 / truncated_sd(crate::quantile::normal_quantile(0.5 * (1.0 + h)))
}

/// The Kronecker sequence in some dimension: a fixed sequence of places that fills the unit cube evenly. Steps are
/// powers of the root of x^(d+1) = x + 1.
pub(crate) struct EvenSequence {
    root: f64,
}

impl EvenSequence {
    pub(crate) fn new(dimension: usize) -> Self {
        let power = 1.0 / (dimension as f64 + 1.0);
        // The iteration contracts by a factor of 2 and more: 60 rounds reach the last bit.
        let root = (0..60).fold(1.5_f64, |x, _| (1.0 + x).powf(power));
        Self { root }
    }

    /// Coordinate `j` of the `k`-th place, scaled to 0..n and rounded down.
    pub(crate) fn pick(&self, k: usize, j: u16, n: usize) -> usize {
        let step = self.root.powi(-i32::from(j) - 1);
        let x = (0.5 + (k as f64 + 1.0) * step).fract();
        ((x * n as f64) as usize).min(n - 1)
    }
}

/// Median of values, which are reordered; NaN of none.
pub(crate) fn median(values: &mut [f64]) -> f64 {
    let n = values.len();
    if n == 0 {
        return f64::NAN;
    }
    let (_, &mut upper, _) = values.select_nth_unstable_by(n / 2, f64::total_cmp);
    if n % 2 == 1 {
        return upper;
    }
    let lower = values[..n / 2]
        .iter()
        .copied()
        .fold(f64::NEG_INFINITY, f64::max);
    0.5 * (lower + upper)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn truncation_factors() {
        for (cut, factor) in [(2.0, 0.880), (2.5, 0.955), (3.0, 0.987), (3.5, 0.997)] {
            assert_relative_eq!(truncated_sd(cut), factor, epsilon = 6e-4);
            assert_relative_eq!(untruncated_sd(truncated_sd(cut), cut), 1.0, epsilon = 1e-9);
        }
        assert_relative_eq!(
            truncated_sd(0.009_999),
            truncated_sd(0.010_001),
            epsilon = 1e-5
        );
        assert_relative_eq!(trimmed_scale(0.6), 1.0 / 0.4632, epsilon = 2e-3);
    }

    #[test]
    fn sequence_is_even() {
        for d in [3, 6] {
            let sequence = EvenSequence::new(d.into());
            for j in 0..d {
                let mut hits = [0; 10];
                for k in 0..500 {
                    hits[sequence.pick(k, j, 10)] += 1;
                }
                assert!(hits.iter().all(|n| (35..=65).contains(n)), "{hits:?}");
            }
        }
    }

    #[test]
    fn medians() {
        assert_eq!(median(&mut [3.0, 1.0, 2.0]), 2.0);
        assert_eq!(median(&mut [4.0, 3.0, 1.0, 2.0]), 2.5);
        assert!(median(&mut []).is_nan());
    }
}
