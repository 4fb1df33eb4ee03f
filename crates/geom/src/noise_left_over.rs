//! How much of a correlated noise is left about a surface that was fitted through it.

use nalgebra::DMatrix;

use crate::Kernel;
use crate::noise_patch::Removed;

/// Cells along the short side of the rectangle in which it is reckoned, and at most along the long one.
const ACROSS: usize = 9;
const MOST_ALONG: usize = 45;

/// Weights of the hat matrix of a quadric over a rectangle, summed over all pairs of cells at each absolute lag.
pub(crate) struct LeftOver {
    weights: DMatrix<f64>,
    /// Side of a cell, mm.
    cell: f64,
}

impl LeftOver {
    /// For the quadric over a rectangle of these sides (mm): what the faces of a visit are fitted with.
    pub fn quadric(size: [f64; 2]) -> Self {
        let [short, long] = [size[0].min(size[1]), size[0].max(size[1])];
        let cell = short / ACROSS as f64;
        let along = ((long / cell).round() as usize).clamp(ACROSS, MOST_ALONG);
        let n = ACROSS * along;
        let at = |k: usize| (k % ACROSS, k / ACROSS);
        let off = |i: usize, of: usize| 2.0 * i as f64 / (of - 1) as f64 - 1.0;
        let x = DMatrix::from_row_iterator(
            n,
            Removed::Quadric.terms(),
            (0..n).flat_map(|k| Removed::Quadric.row(off(at(k).0, ACROSS), off(at(k).1, along))),
        );
        let q = x.qr().q();
        let hat = &q * q.transpose();
        let mut weights = DMatrix::zeros(ACROSS, along);
        for a in 0..n {
            for b in 0..n {
                let ((i, j), (k, l)) = (at(a), at(b));
                weights[(i.abs_diff(k), j.abs_diff(l))] += hat[(a, b)] / n as f64;
            }
        }
        Self { weights, cell }
    }

    /// Share, 0 to 1, of the variance of noise of this form and range that the residuals about a quadric over the
    /// rectangle show: near 1 for short waves, near 0 for waves much longer than it.
    pub fn share(&self, kernel: Kernel, range_mm: f64) -> f64 {
        let mut taken = 0.0;
        for i in 0..self.weights.nrows() {
            for j in 0..self.weights.ncols() {
                taken += self.weights[(i, j)]
                    * kernel.between_cells(range_mm, self.cell, i as f64, j as f64);
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
        let left = LeftOver::quadric([30.0, 30.0]);
        let longer = LeftOver::quadric([30.0, 120.0]);
        for kernel in Kernel::ALL {
            let share = |l| left.share(kernel, l);
            assert!(longer.share(kernel, 10.0) > share(10.0));
            assert!(share(0.5) > 0.97, "{}", share(0.5));
            assert!(share(3.0) > share(10.0) && share(10.0) > share(30.0));
        }
        // Two waves of 63 mm over 30 mm are all but a quadric.
        assert!(left.share(Kernel::Gaussian, 30.0) < 0.02);
    }
}
