//! Points of a surface averaged over square cells.

use crate::{FitError, LocalAxes, Point};

/// The most cells a grid may span, empty ones included: 64 million, 256 MB of indices while it is built.
const MOST_CELLS: f64 = 67_108_864.0;

/// Grid lines stand this share of a cell before the least coordinate, so that points of a regular raster never lie on
/// a line, where rounding would decide which cell they count for.
const LEAD: f64 = 1e-3;

/// The mean of the points of one cell.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cell {
    /// Column, from 0 at the least u.
    pub i: i32,
    /// Row, from 0 at the least v.
    pub j: i32,
    /// How many points it holds; never 0.
    pub count: f64,
    /// Mean u of its points, mm.
    pub u: f64,
    /// Mean v of its points, mm.
    pub v: f64,
    /// Mean height of its points along the normal of the axes, mm.
    pub h: f64,
}

/// Cell means over the (u, v) plane of some axes.
#[derive(Clone, Debug, PartialEq)]
pub struct CellGrid {
    /// The axes in which u, v and h are measured.
    pub axes: LocalAxes,
    /// Side of a cell, mm.
    pub size: f64,
    /// Number of columns spanned (along u).
    pub columns: usize,
    /// Number of rows spanned (along v).
    pub rows: usize,
    /// Cells that hold at least one point, row by row: all of j = 0 first.
    pub cells: Vec<Cell>,
}

/// Where the cells of a grid lie: column of u is floor((u - u0) / size).
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Lattice {
    /// Least u of column 0, mm.
    pub u0: f64,
    /// Least v of row 0, mm.
    pub v0: f64,
    /// Side, mm.
    pub size: f64,
    per_size: f64,
    pub columns: usize,
    pub rows: usize,
}

impl Lattice {
    /// The lattice over all of `local` (u, v, h).
    pub(crate) fn over(
        local: impl ExactSizeIterator<Item = [f64; 3]>,
        size: f64,
    ) -> Result<Self, FitError> {
        FitError::check_count(1, local.len())?;
        if !(size.is_finite() && size > 0.0) {
            return Err(FitError::NotFinite);
        }
        let (mut low, mut high, mut sum) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2], 0.0);
        for [u, v, h] in local {
            low = [low[0].min(u), low[1].min(v)];
            high = [high[0].max(u), high[1].max(v)];
            // Zero unless some coordinate is infinite or not a number.
            sum += (u + v + h) * 0.0;
        }
        if sum != 0.0 {
            return Err(FitError::NotFinite);
        }
        let span = |k: usize| ((high[k] - low[k]) / size + LEAD).floor() + 1.0;
        if span(0) * span(1) > MOST_CELLS {
            return Err(FitError::Degenerate);
        }
        Ok(Self {
            u0: low[0] - LEAD * size,
            v0: low[1] - LEAD * size,
            size,
            per_size: 1.0 / size,
            columns: span(0) as usize,
            rows: span(1) as usize,
        })
    }

    /// Index of the cell under (u, v), row by row; places outside count for the nearest cell.
    #[inline]
    pub(crate) fn index(&self, u: f64, v: f64) -> usize {
        let i = (((u - self.u0) * self.per_size) as usize).min(self.columns - 1);
        let j = (((v - self.v0) * self.per_size) as usize).min(self.rows - 1);
        j * self.columns + i
    }
}

impl CellGrid {
    /// Averages `points` over square cells of side `size` (mm) in the (u, v) plane of `axes`. Sums run in the order of
    /// the points. Errors: no points, a size or coordinate that is not finite, more than 64 million cells. Cost O(n).
    pub fn build(axes: LocalAxes, size: f64, points: &[Point]) -> Result<Self, FitError> {
        let lattice = Lattice::over(points.iter().map(|p| axes.local(p)), size)?;
        let mut sums = vec![[0.0; 4]; lattice.columns * lattice.rows];
        for p in points {
            let [u, v, h] = axes.local(p);
            let s = &mut sums[lattice.index(u, v)];
            *s = [s[0] + 1.0, s[1] + u, s[2] + v, s[3] + h];
        }
        Ok(Self::from_sums(axes, &lattice, &sums))
    }

    /// The grid of cell sums (count, u, v, h).
    #[expect(
        clippy::cast_possible_wrap,
        reason = "a lattice spans at most 64 million cells"
    )]
    pub(crate) fn from_sums(axes: LocalAxes, lattice: &Lattice, sums: &[[f64; 4]]) -> Self {
        let cells = sums
            .iter()
            .enumerate()
            .filter(|(_, s)| s[0] > 0.0)
            .map(|(k, s)| Cell {
                i: (k % lattice.columns) as i32,
                j: (k / lattice.columns) as i32,
                count: s[0],
                u: s[1] / s[0],
                v: s[2] / s[0],
                h: s[3] / s[0],
            })
            .collect();
        Self {
            axes,
            size: lattice.size,
            columns: lattice.columns,
            rows: lattice.rows,
            cells,
        }
    }

    /// Covered share of each cell, 0 to 1, in the order of `cells`: its count against the median count of the filled
    /// cells up to two columns and rows away. Against neighbours, not against the whole grid, so that a scan that is
    /// dense on one half and thin on the other counts as covered on both; only the border and holes fall short.
    pub fn covered(&self) -> Vec<f64> {
        let mut at = vec![0.0; self.columns * self.rows];
        for c in &self.cells {
            at[c.j as usize * self.columns + c.i as usize] = c.count;
        }
        self.cells
            .iter()
            .map(|c| {
                let near = self.neighbour_counts(&at, c);
                (c.count / near).min(1.0)
            })
            .collect()
    }

    /// Median of the counts of the filled cells around `c`, itself included.
    fn neighbour_counts(&self, at: &[f64], c: &Cell) -> f64 {
        let (i, j) = (c.i as usize, c.j as usize);
        let mut near = [0.0; 25];
        let mut n = 0;
        for row in j.saturating_sub(2)..(j + 3).min(self.rows) {
            for column in i.saturating_sub(2)..(i + 3).min(self.columns) {
                let count = at[row * self.columns + column];
                if count > 0.0 {
                    near[n] = count;
                    n += 1;
                }
            }
        }
        let near = &mut near[..n];
        near.sort_unstable_by(f64::total_cmp);
        0.5 * (near[(n - 1) / 2] + near[n / 2])
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Rigid, Unit, Vector};
    use approx::assert_relative_eq;

    fn flat() -> LocalAxes {
        LocalAxes::about(Point::origin(), Unit::new_unchecked(Vector::z()))
    }

    fn raster(w: usize, h: usize) -> Vec<Point> {
        let axes = flat();
        (0..w * h)
            .map(|k| axes.point((k % w) as f64, (k / w) as f64, 0.1 * (k % w) as f64))
            .collect()
    }

    #[test]
    fn raster_is_averaged_cell_by_cell() {
        let grid = CellGrid::build(flat(), 5.0, &raster(20, 10)).unwrap();
        assert_eq!((grid.columns, grid.rows, grid.cells.len()), (4, 2, 8));
        let c = grid.cells[5];
        assert_eq!((c.i, c.j, c.count), (1, 1, 25.0));
        assert_relative_eq!(c.u, 7.0, epsilon = 1e-12);
        assert_relative_eq!(c.v, 7.0, epsilon = 1e-12);
        assert_relative_eq!(c.h, 0.7, epsilon = 1e-12);
    }

    #[test]
    fn moving_the_points_moves_no_point_to_another_cell() {
        let here = CellGrid::build(flat(), 5.0, &raster(20, 10)).unwrap();
        let far = Rigid::new(
            Vector::new(1234.5, -2000.25, 777.125),
            Vector::new(0.3, -1.1, 0.7),
        );
        let moved: Vec<Point> = raster(20, 10).iter().map(|p| far * p).collect();
        let there = CellGrid::build(flat().moved(&far), 5.0, &moved).unwrap();
        for (a, b) in here.cells.iter().zip(&there.cells) {
            assert_eq!((a.i, a.j, a.count), (b.i, b.j, b.count));
            assert_relative_eq!(a.h, b.h, epsilon = 1e-10);
        }
    }

    #[test]
    fn cover_is_judged_among_neighbours() {
        let axes = flat();
        let mut points = Vec::new();
        for k in 0..40 * 40 {
            let (u, v) = (f64::from(k % 40) + 0.5, f64::from(k / 40) + 0.5);
            // Four times as dense on one half; one cell half empty.
            if (10.0..15.0).contains(&u) && (10.0..13.0).contains(&v) {
                continue;
            }
            for copy in 0..if u > 20.0 { 4 } else { 1 } {
                points.push(axes.point(u + 0.01 * f64::from(copy), v, 0.0));
            }
        }
        let grid = CellGrid::build(axes, 5.0, &points).unwrap();
        for (cell, share) in grid.cells.iter().zip(grid.covered()) {
            let expected = if (cell.i, cell.j) == (2, 2) { 0.4 } else { 1.0 };
            assert_relative_eq!(share, expected, epsilon = 1e-12);
        }
    }

    #[test]
    fn bad_input_is_refused() {
        let nan = [Point::new(0.0, f64::NAN, 0.0)];
        assert_eq!(CellGrid::build(flat(), 1.0, &nan), Err(FitError::NotFinite));
        assert_eq!(
            CellGrid::build(flat(), 1.0, &[]),
            Err(FitError::TooFewPoints { needed: 1, got: 0 })
        );
        let wide = [Point::origin(), flat().point(1e6, 1e6, 0.0)];
        assert_eq!(
            CellGrid::build(flat(), 1.0, &wide),
            Err(FitError::Degenerate)
        );
        assert_eq!(
            CellGrid::build(flat(), 0.0, &wide),
            Err(FitError::NotFinite)
        );
    }
}
