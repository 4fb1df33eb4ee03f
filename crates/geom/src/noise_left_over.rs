//! How much of a correlated noise is left about a surface that was fitted through it.

use nalgebra::DMatrix;

use crate::Kernel;
use crate::noise_patch::Removed;

/// Cells along one side of the square in which it is reckoned.
const ACROSS: usize = 9;

/// Weights of the hat matrix of a quadric over a square, summed over all pairs of cells at each absolute lag.
pub(crate) struct LeftOver {
    weights: [[f64; ACROSS]; ACROSS],
}

impl LeftOver {
    /// For the quadric: what the faces of a visit are fitted with.
    pub fn quadric() -> Self {
        let n = ACROSS * ACROSS;
        let half = 0.5 * (ACROSS - 1) as f64;
        let at = |k: usize| (k % ACROSS, k / ACROSS);
        let x = DMatrix::from_row_iterator(
            n,
            Removed::Quadric.terms(),
            (0..n).flat_map(|k| {
                let (i, j) = at(k);
                Removed::Quadric.row((i as f64 - half) / half, (j as f64 - half) / half)
            }),
        );
        let q = x.qr().q();
        let mut weights = [[0.0; ACROSS]; ACROSS];
        for a in 0..n {
            for b in 0..n {
                let ((i, j), (k, l)) = (at(a), at(b));
                weights[i.abs_diff(k)][j.abs_diff(l)] += q.row(a).dot(&q.row(b)) / n as f64;
            }
        }
        Self { weights }
    }

    /// Share, 0 to 1, of the variance of noise of this form and range that the residuals about a quadric over a square
    /// of side `side` (mm) show: near 1 for short waves, near 0 for waves much longer than the square.
    pub fn share(&self, kernel: Kernel, range_mm: f64, side: f64) -> f64 {
        let cell = side / ACROSS as f64;
        let mut taken = 0.0;
        for (i, row) in self.weights.iter().enumerate() {
            for (j, w) in row.iter().enumerate() {
                taken += w * kernel.between_cells(range_mm, cell, i as f64, j as f64);
            }
        }
        (1.0 - taken).clamp(0.0, 1.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn short_waves_stay_and_long_ones_go() {
        let left = LeftOver::quadric();
        for kernel in Kernel::ALL {
            let share = |l| left.share(kernel, l, 30.0);
            assert!(share(0.5) > 0.97, "{}", share(0.5));
            assert!(share(3.0) > share(10.0) && share(10.0) > share(30.0));
        }
        // Two waves of 63 mm over 30 mm are all but a quadric.
        assert!(left.share(Kernel::Gaussian, 30.0, 30.0) < 0.02);
    }
}
