//! Noise that the two faces of a junction share.
//!
//! Readings beside a bend lie on different faces and yet near each other. What makes a surface be seen too far out on one
//! side of a bend does so on the other as well, so that the heights of both, counted away from the metal, are correlated as
//! two readings of one face are that lie so far apart straight through space. Both slopes then err the same way, and
//! their sum, the angle, by more than two faces that know nothing of each other would: with noise over 10 mm, faces 300 x
//! 55 mm and a band of 5 mm, by a seventh.

use nalgebra::DMatrix;

use crate::{CellGrid, Lagged, NoiseModel, Point};

/// Step of the distances into which pairs are sorted, mm.
const LAG: f64 = 0.5;
/// Blocks of a face: faces of more cells are taken together in larger ones.
const MOST_BLOCKS: f64 = 1000.0;

/// Weights of the readings of one face, in blocks of cells.
pub(super) struct Blocks {
    /// Middle of each block.
    places: Vec<Point>,
    /// Weights of the blocks in each of some functionals.
    rows: Vec<Vec<f64>>,
}

impl Blocks {
    /// `rows`: weights of the cells of `grid` in each functional.
    pub fn new(grid: &CellGrid, rows: &[&[f64]]) -> Self {
        let spanned = (grid.columns * grid.rows) as f64;
        let side = (spanned / MOST_BLOCKS).sqrt().ceil().max(1.0) as usize;
        let columns = grid.columns.div_ceil(side);
        let mut sums = vec![[0.0; 4]; columns * grid.rows.div_ceil(side)];
        let mut weights = vec![vec![0.0; sums.len()]; rows.len()];
        for (k, c) in grid.cells.iter().enumerate() {
            let block = c.j as usize / side * columns + c.i as usize / side;
            for (s, x) in sums[block].iter_mut().zip([1.0, c.u, c.v, c.h]) {
                *s += x;
            }
            for (w, row) in weights.iter_mut().zip(rows) {
                w[block] += row[k];
            }
        }
        // Blocks without a reading, or without weight in any functional, have no part in it.
        let held: Vec<usize> = (0..sums.len())
            .filter(|&b| sums[b][0] > 0.0 && weights.iter().any(|w| w[b] != 0.0))
            .collect();
        Self {
            places: held
                .iter()
                .map(|&b| {
                    let [n, u, v, h] = sums[b];
                    grid.axes.point(u / n, v / n, h / n)
                })
                .collect(),
            rows: weights
                .iter()
                .map(|w| held.iter().map(|&b| w[b]).collect())
                .collect(),
        }
    }

    /// The distance to each block of `other` in steps of [`LAG`].
    fn lags<'a>(&self, i: usize, other: &'a Self) -> impl Iterator<Item = usize> + 'a {
        let p = self.places[i];
        other
            .places
            .iter()
            .map(move |q| ((p - q).norm() / LAG).round() as usize)
    }

    /// Products of the weights of two functionals of A with two of B, summed at each distance:
    /// (first x first, first x second, second x first, second x second).
    pub fn by_distance(&self, b: &Self) -> SharedSlopes {
        let mut sums: Vec<[f64; 4]> = Vec::new();
        for (i, (x, y)) in self.rows[0].iter().zip(&self.rows[1]).enumerate() {
            let of_b = b.rows[0].iter().zip(&b.rows[1]);
            for (lag, (u, v)) in self.lags(i, b).zip(of_b) {
                if lag >= sums.len() {
                    sums.resize(lag + 1, [0.0; 4]);
                }
                let s = &mut sums[lag];
                *s = [s[0] + x * u, s[1] + x * v, s[2] + y * u, s[3] + y * v];
            }
        }
        SharedSlopes(sums)
    }

    /// Covariances of the functionals of A (rows) and of B (columns) under the mean noise.
    pub fn covariances(&self, b: &Self, noise: &NoiseModel) -> DMatrix<f64> {
        let far = self
            .places
            .iter()
            .map(|p| b.places.iter().map(|q| (p - q).norm()).fold(0.0, f64::max))
            .fold(0.0, f64::max);
        let at = noise.covariance_table(LAG, (far / LAG).round() as usize + 1);
        let mut out = DMatrix::zeros(self.rows.len(), b.rows.len());
        for i in 0..self.places.len() {
            let mut met = vec![0.0; b.rows.len()];
            for (j, lag) in self.lags(i, b).enumerate() {
                for (m, row) in met.iter_mut().zip(&b.rows) {
                    *m += at[lag] * row[j];
                }
            }
            for (k, row) in self.rows.iter().enumerate() {
                for (l, m) in met.iter().enumerate() {
                    out[(k, l)] += row[i] * m;
                }
            }
        }
        out
    }
}

/// What the slopes (c2, c3) of both faces share, by distance.
#[derive(Clone, Debug, Default)]
pub(super) struct SharedSlopes(Vec<[f64; 4]>);

impl SharedSlopes {
    /// Twice the covariance of p c2 + q c3 of face A with that of face B: what the variance of their sum has beside
    /// the variances of both.
    pub fn lagged(&self, [pa, qa]: [f64; 2], [pb, qb]: [f64; 2]) -> Lagged {
        let factors = [pa * pb, pa * qb, qa * pb, qa * qb].map(|f| 2.0 * f);
        Lagged::from_pairs(
            0.0,
            self.0.iter().enumerate().filter_map(|(k, s)| {
                let w: f64 = s.iter().zip(factors).map(|(s, f)| s * f).sum();
                (w != 0.0).then_some((LAG * k as f64, w))
            }),
        )
    }
}
