//! What the variance of a weighted sum of readings needs to know: its weights, folded over the distances between them.

use crate::{CellGrid, Kernel};

/// Above this many spanned cells, blocks of cells count as one.
const MOST_SPANNED: f64 = 2048.0;

/// A linear functional f = sum b_k h_k of the cell means h_k of one or more faces, reduced to what its variance needs
/// under any stationary noise: Var f = white per point x `white` + correlated x sum of weight(lag) x correlation(lag).
/// Faces add up independently. Also holds covariances of two functionals of one grid ([`Lagged::cross`]).
/// The unit of b is kept: variance = (unit of b)^2 x mm^2.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Lagged {
    /// sum b_k^2 / n_k with n_k the points of cell k: the variance from white noise of variance 1 per point.
    pub white: f64,
    /// Weights over the lags of each grid.
    pub grids: Vec<LagGrid>,
    /// Weights over distances of scattered stations: (distance mm, sum of b_k b_l at that distance), every ordered
    /// pair counted, distance 0 included.
    pub pairs: Vec<(f64, f64)>,
}

/// Weights over the whole-cell lags of one grid, folded by symmetry onto lags of positive sign.
#[derive(Clone, Debug, PartialEq)]
pub struct LagGrid {
    /// Side of a cell, mm.
    pub cell_mm: f64,
    /// Number of lags along the rows (lags 0 to columns - 1).
    pub columns: usize,
    /// sum b_k^2 / n_k: the share of lag (0, 0) in which a reading meets itself.
    pub own: f64,
    /// At [dj * columns + di]: sum of b_k b_l over all ordered pairs of cells that lie di columns and dj rows apart,
    /// whatever the signs.
    pub weights: Vec<f64>,
}

impl Lagged {
    /// The functional with weight `b[k]` on the mean height of `grid.cells[k]`. On grids of more than 2,048 spanned
    /// cells, blocks of 2 x 2 cells (or more) count as one in the correlated part: b must vary little from cell to cell,
    /// as that of a fitted coefficient does. Cost: about 1 ms at 2,048 spanned cells and never much more.
    pub fn of(grid: &CellGrid, b: &[f64]) -> Self {
        Self::cross(grid, b, b)
    }

    /// The covariance of two functionals of the same grid, in the same form; `cross(grid, b, b)` is the variance.
    pub fn cross(grid: &CellGrid, b1: &[f64], b2: &[f64]) -> Self {
        let spanned = (grid.columns * grid.rows) as f64;
        let block = (spanned / MOST_SPANNED).sqrt().ceil().max(1.0) as usize;
        let columns = grid.columns.div_ceil(block);
        let rows = grid.rows.div_ceil(block);
        let dense = |b: &[f64]| {
            let mut sums = vec![0.0; columns * rows];
            for (c, x) in grid.cells.iter().zip(b) {
                sums[c.j as usize / block * columns + c.i as usize / block] += *x;
            }
            sums
        };
        let own = grid
            .cells
            .iter()
            .zip(b1.iter().zip(b2))
            .map(|(c, (x, y))| x * y / c.count)
            .sum();
        Self {
            white: own,
            grids: vec![LagGrid {
                cell_mm: grid.size * block as f64,
                columns,
                own,
                weights: fold(columns, &dense(b1), &dense(b2)),
            }],
            pairs: Vec::new(),
        }
    }

    /// sum of factor x part over parts of ONE grid (made by `cross` or `of` from the same grid): for functionals that
    /// are combinations of a few, whose variances and covariances are at hand. Parts of another shape are an error of
    /// the caller and are kept side by side, which is the same sum at more cost.
    pub fn combination(parts: &[(f64, &Self)]) -> Self {
        let mut out = Self::default();
        for &(factor, part) in parts {
            let part = part.times(factor);
            let alike = out.grids.len() == part.grids.len()
                && out.pairs.is_empty()
                && part.pairs.is_empty()
                && out.grids.iter().zip(&part.grids).all(|(a, b)| {
                    a.cell_mm == b.cell_mm
                        && a.columns == b.columns
                        && a.weights.len() == b.weights.len()
                });
            if !alike {
                out = out.plus(&part);
                continue;
            }
            out.white += part.white;
            for (a, b) in out.grids.iter_mut().zip(&part.grids) {
                a.own += b.own;
                for (x, y) in a.weights.iter_mut().zip(&b.weights) {
                    *x += y;
                }
            }
        }
        out
    }

    /// A functional of scattered stations: `white` = sum b_k^2 / n_k, `pairs` = (distance mm, b_k b_l) over all
    /// ordered pairs, k = l included.
    pub fn from_pairs(white: f64, pairs: impl IntoIterator<Item = (f64, f64)>) -> Self {
        Self {
            white,
            grids: Vec::new(),
            pairs: pairs.into_iter().collect(),
        }
    }

    /// The same of factor x functional: every weight times factor^2.
    #[must_use]
    pub fn scaled(&self, factor: f64) -> Self {
        self.times(factor * factor)
    }

    /// Every weight times `factor` (which may be negative, for covariances).
    #[must_use]
    pub fn times(&self, factor: f64) -> Self {
        let mut out = self.clone();
        out.white *= factor;
        for g in &mut out.grids {
            g.own *= factor;
            for w in &mut g.weights {
                *w *= factor;
            }
        }
        for p in &mut out.pairs {
            p.1 *= factor;
        }
        out
    }

    /// The sum of two functionals of readings that share nothing but the noise model (different faces).
    #[must_use]
    pub fn plus(mut self, other: &Self) -> Self {
        self.white += other.white;
        self.grids.extend(other.grids.iter().cloned());
        self.pairs.extend(&other.pairs);
        self
    }

    /// Variance from noise of variance 1 that is correlated by `kernel` over `range_mm`.
    pub fn correlated(&self, kernel: Kernel, range_mm: f64) -> f64 {
        let grids: f64 = self.grids.iter().map(|g| g.sum(kernel, range_mm)).sum();
        let pairs: f64 = self
            .pairs
            .iter()
            .map(|&(h, w)| w * kernel.at(h, range_mm))
            .sum();
        grids + pairs
    }
}

impl LagGrid {
    /// sum of weight x correlation. Where the cells are small against the range the correlation is taken at the lag;
    /// else near lags are averaged over both cells, and a reading meets itself with correlation 1.
    fn sum(&self, kernel: Kernel, l: f64) -> f64 {
        let cell = self.cell_mm;
        let coarse = cell > 0.5 * l;
        let near = (3.0 * l / cell).ceil() + 1.0;
        let reach = kernel.reach() * l / cell + if coarse { 2.0 } else { 0.0 };
        let mut total = 0.0;
        for (dj, row) in self.weights.chunks(self.columns.max(1)).enumerate() {
            let y = dj as f64;
            if y > reach {
                break;
            }
            for (di, &w) in row.iter().enumerate() {
                let x = di as f64;
                if x > reach {
                    break;
                }
                if w == 0.0 {
                    continue;
                }
                total += if coarse && x <= near && y <= near {
                    let mean = kernel.between_cells(l, cell, x, y);
                    let own = if di + dj == 0 { self.own } else { 0.0 };
                    own + (w - own) * mean
                } else {
                    w * kernel.at(cell * x.hypot(y), l)
                };
            }
        }
        total
    }
}

/// Sums of a_k b_l over all ordered pairs at each absolute lag; `a`, `b` dense, row by row.
fn fold(columns: usize, a: &[f64], b: &[f64]) -> Vec<f64> {
    let mut out = vec![0.0; a.len()];
    if columns == 0 {
        return out;
    }
    let rows = a.len() / columns;
    for dj in 0..rows {
        let lags = &mut out[dj * columns..(dj + 1) * columns];
        for j in 0..rows - dj {
            let near = j * columns..(j + 1) * columns;
            let far = (j + dj) * columns..(j + dj + 1) * columns;
            slide(lags, &a[near.clone()], &b[far.clone()]);
            if dj > 0 {
                slide(lags, &a[far], &b[near]);
            }
        }
    }
    out
}

/// Adds x_i y_j to lags[|i - j|] for all i, j.
fn slide(lags: &mut [f64], x: &[f64], y: &[f64]) {
    for (i, &v) in x.iter().enumerate() {
        if v == 0.0 {
            continue;
        }
        for (l, w) in lags.iter_mut().zip(&y[i..]) {
            *l += v * w;
        }
        for (l, w) in lags[1..].iter_mut().zip(y[..i].iter().rev()) {
            *l += v * w;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{LocalAxes, Point, Unit, Vector};
    use approx::assert_relative_eq;

    /// A grid with holes, 2 points in every third cell, and weights without symmetry.
    fn example() -> (CellGrid, Vec<f64>, Vec<f64>) {
        let axes = LocalAxes::about(Point::origin(), Unit::new_unchecked(Vector::z()));
        let mut points = Vec::new();
        for k in 0..63 {
            if k % 5 == 3 {
                continue;
            }
            let p = axes.point(2.0 * f64::from(k % 9), 2.0 * f64::from(k / 9), 0.0);
            points.push(p);
            if k % 3 == 0 {
                points.push(p);
            }
        }
        let grid = CellGrid::build(axes, 2.0, &points).unwrap();
        let b = |f: f64| {
            grid.cells
                .iter()
                .map(|c| (f * c.u).sin() + 0.1 * c.v)
                .collect()
        };
        let (b1, b2) = (b(0.7), b(1.3));
        (grid, b1, b2)
    }

    #[test]
    fn equals_the_double_sum_over_cells() {
        let (grid, b1, b2) = example();
        let cross = Lagged::cross(&grid, &b1, &b2);
        for kernel in Kernel::ALL {
            let mut want = 0.0;
            for (p, x) in grid.cells.iter().zip(&b1) {
                for (q, y) in grid.cells.iter().zip(&b2) {
                    want += x * y * kernel.at((p.u - q.u).hypot(p.v - q.v), 5.0);
                }
            }
            assert_relative_eq!(cross.correlated(kernel, 5.0), want, epsilon = 1e-8);
        }
        let white: f64 = (0..b1.len())
            .map(|k| b1[k] * b2[k] / grid.cells[k].count)
            .sum();
        assert_relative_eq!(cross.white, white, epsilon = 1e-12);
        assert_relative_eq!(
            cross.correlated(Kernel::Gaussian, 3.0),
            Lagged::cross(&grid, &b2, &b1).correlated(Kernel::Gaussian, 3.0),
            epsilon = 1e-10
        );
    }

    #[test]
    fn noise_far_shorter_than_a_cell_acts_like_white_noise() {
        let (grid, b, _) = example();
        let f = Lagged::of(&grid, &b);
        assert_relative_eq!(
            f.correlated(Kernel::Gaussian, 0.01),
            f.white,
            epsilon = 0.15 * f.white
        );
        assert!(f.correlated(Kernel::Gaussian, 0.01) >= f.white);
    }

    #[test]
    fn scattered_stations_and_sums() {
        let (grid, b, _) = example();
        let f = Lagged::of(&grid, &b);
        let mut pairs = Vec::new();
        for (p, x) in grid.cells.iter().zip(&b) {
            for (q, y) in grid.cells.iter().zip(&b) {
                pairs.push(((p.u - q.u).hypot(p.v - q.v), x * y));
            }
        }
        let scattered = Lagged::from_pairs(f.white, pairs);
        let sum = Lagged::combination(&[(2.0, &f), (-0.5, &f)]);
        assert_eq!(sum.grids.len(), 1);
        assert_relative_eq!(
            sum.correlated(Kernel::Matern, 6.0),
            1.5 * f.correlated(Kernel::Matern, 6.0),
            epsilon = 1e-8
        );
        let both = f.scaled(3.0).plus(&scattered).times(0.1);
        let one = f.correlated(Kernel::Matern, 6.0);
        assert_relative_eq!(both.correlated(Kernel::Matern, 6.0), one, epsilon = 1e-8);
        assert_relative_eq!(both.white, f.white, epsilon = 1e-12);
    }

    #[test]
    fn large_grids_are_taken_in_blocks() {
        // 90 x 60 cells of 1 mm count in blocks of 2 x 2; the same face in cells of 1.5 mm does not.
        let axes = LocalAxes::about(Point::origin(), Unit::new_unchecked(Vector::z()));
        let points: Vec<_> = (0..5400)
            .map(|k| axes.point(f64::from(k % 90), f64::from(k / 90), 0.0))
            .collect();
        let sum = |size: f64, l: f64| {
            let grid = CellGrid::build(axes, size, &points).unwrap();
            let b: Vec<_> = grid
                .cells
                .iter()
                .map(|c| (c.u - 44.5) * (c.v - 29.5) * c.count)
                .collect();
            let f = Lagged::of(&grid, &b);
            (
                f.grids[0].cell_mm,
                f.correlated(Kernel::Gaussian, l).sqrt(),
                f.white,
            )
        };
        for l in [2.4, 6.0, 20.0] {
            let (fine, coarse) = (sum(1.0, l), sum(1.5, l));
            assert_eq!((fine.0, coarse.0), (2.0, 3.0));
            assert_relative_eq!(fine.1, coarse.1, max_relative = 0.03);
            assert_relative_eq!(fine.2, coarse.2, max_relative = 0.03);
        }
    }

    #[test]
    fn smooth_slope_hardly_depends_on_the_cell_where_cells_turn_coarse() {
        // A slope over 30 x 30 mm, noise of range 4: cells of 1 mm (taken at the lags) and of 3 mm (averaged).
        let axes = LocalAxes::about(Point::origin(), Unit::new_unchecked(Vector::z()));
        let points: Vec<_> = (0..900)
            .map(|k| axes.point(f64::from(k % 30), f64::from(k / 30), 0.0))
            .collect();
        let sd = |size: f64, l: f64| {
            let grid = CellGrid::build(axes, size, &points).unwrap();
            let mid = grid.cells.iter().map(|c| c.u).sum::<f64>() / grid.cells.len() as f64;
            let all: f64 = grid.cells.iter().map(|c| (c.u - mid).powi(2)).sum();
            let b: Vec<_> = grid.cells.iter().map(|c| (c.u - mid) / all).collect();
            Lagged::of(&grid, &b).correlated(Kernel::Gaussian, l).sqrt()
        };
        for l in [1.2, 4.0, 12.0] {
            assert_relative_eq!(sd(3.0, l), sd(1.0, l), max_relative = 0.05);
        }
    }
}
