//! Square patches cut from smooth faces, from which the noise of a visit is read.

use nalgebra::{DMatrix, DVector, Matrix3, Vector3};

use crate::{Cell, CellGrid};

/// Coarse cells along one side of a patch. Few on purpose: fine structure must not outvote the long waves that decide
/// a slope.
pub(crate) const ACROSS: usize = 5;

/// The shape taken off before the rest is called noise.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Removed {
    /// A plane.
    Plane,
    /// A surface of second order.
    Quadric,
    /// A surface of third order: where the curvature of the sheet itself changes over the patch.
    Cubic,
}

impl Removed {
    /// Number of its coefficients.
    pub fn terms(self) -> usize {
        match self {
            Self::Plane => 3,
            Self::Quadric => 6,
            Self::Cubic => 10,
        }
    }

    /// Its terms at (u, v): 1, u, v, for the quadric also u^2, u v, v^2, for the cubic u^3, u^2 v, u v^2, v^3 as well.
    pub(crate) fn row(self, u: f64, v: f64) -> Vec<f64> {
        let (uu, uv, vv) = (u * u, u * v, v * v);
        let all = [1.0, u, v, uu, uv, vv, uu * u, uu * v, u * vv, vv * v];
        all[..self.terms()].to_vec()
    }
}

/// One coarse cell of a patch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PatchCell {
    /// Column, 0 to 4.
    pub i: usize,
    /// Row, 0 to 4.
    pub j: usize,
    /// Number of points, > 0.
    pub count: f64,
    /// Mean distance of its points from the removed shape, mm, as if they lay about the middle of the cell.
    pub mean: f64,
}

/// A square piece of a smooth face in 5 x 5 coarse cells.
#[derive(Clone, Debug, PartialEq)]
pub struct NoisePatch {
    /// Side, mm.
    pub side_mm: f64,
    /// The shape taken off.
    pub removed: Removed,
    /// Cells at least half full, row by row.
    pub cells: Vec<PatchCell>,
}

impl NoisePatch {
    /// The square side that suits a face: its short side, mm.
    pub fn side_for(grid: &CellGrid) -> f64 {
        grid.size * grid.columns.min(grid.rows) as f64
    }

    /// Cuts a face into square tiles of side `side_mm`, as many as fit along each direction (at least one), centred. A
    /// coarse cell is kept when half of its small cells hold points, a tile when 15 of its 25 cells are kept (18 for a
    /// quadric, 22 for a cubic). The face must be clean, and its cells at most a tenth of `side_mm`, or tiles go missing.
    pub fn tiles(grid: &CellGrid, side_mm: f64, removed: Removed) -> Vec<Self> {
        let along = |cells: usize| {
            let n = (cells as f64 * grid.size / side_mm + 0.05).floor().max(1.0);
            (n as usize, 0.5 * (cells as f64 * grid.size - n * side_mm))
        };
        let (nu, u0) = along(grid.columns);
        let (nv, v0) = along(grid.rows);
        let mut held: Vec<Vec<(usize, &Cell)>> = vec![Vec::new(); nu * nv];
        let coarse = side_mm / ACROSS as f64;
        for c in &grid.cells {
            let x = ((f64::from(c.i) + 0.5) * grid.size - u0) / coarse;
            let y = ((f64::from(c.j) + 0.5) * grid.size - v0) / coarse;
            if x < 0.0 || y < 0.0 {
                continue;
            }
            let (x, y) = (x as usize, y as usize);
            let (tu, tv) = (x / ACROSS, y / ACROSS);
            if tu < nu && tv < nv {
                held[tv * nu + tu].push(((y % ACROSS) * ACROSS + x % ACROSS, c));
            }
        }
        let full = (coarse / grid.size).powi(2);
        held.iter()
            .filter_map(|tile| Self::of_tile(tile, side_mm, full, removed))
            .collect()
    }

    /// One tile; `tile` = (coarse cell, small cell), `full` = small cells in a full coarse one.
    fn of_tile(tile: &[(usize, &Cell)], side_mm: f64, full: f64, removed: Removed) -> Option<Self> {
        let mut filled = [0.0; ACROSS * ACROSS];
        for (k, _) in tile {
            filled[*k] += 1.0;
        }
        let kept: Vec<_> = tile
            .iter()
            .filter(|(k, _)| filled[*k] >= 0.5 * full)
            .collect();
        let rest = residuals(&kept, side_mm, removed)?;
        let mut sums = [[0.0; 4]; ACROSS * ACROSS];
        for ((k, c), r) in kept.iter().zip(rest) {
            let s = &mut sums[*k];
            *s = [
                s[0] + c.count,
                s[1] + c.count * r,
                s[2] + c.count * c.u,
                s[3] + c.count * c.v,
            ];
        }
        let (mut cells, places): (Vec<_>, Vec<_>) = sums
            .iter()
            .enumerate()
            .filter(|(_, s)| s[0] > 0.0)
            .map(|(k, s)| {
                let cell = PatchCell {
                    i: k % ACROSS,
                    j: k / ACROSS,
                    count: s[0],
                    mean: s[1] / s[0],
                };
                (cell, [s[2] / s[0], s[3] / s[0]])
            })
            .unzip();
        centre(&mut cells, &places, side_mm / ACROSS as f64);
        (cells.len() >= 12 + removed.terms()).then_some(Self {
            side_mm,
            removed,
            cells,
        })
    }
}

/// Takes off the means what they owe to their points lying about another place (mm) than the middle of the cell, by the
/// slope among the neighbours: what a cubic leaves of a long wave is small against what the wave rises by across half a
/// cell. A shift that all cells share is left.
fn centre(cells: &mut [PatchCell], places: &[[f64; 2]], side: f64) {
    let n = cells.len() as f64;
    let off = |k: usize| {
        let c = &cells[k];
        [
            places[k][0] / side - c.i as f64,
            places[k][1] / side - c.j as f64,
        ]
    };
    let offs: Vec<[f64; 2]> = (0..cells.len()).map(off).collect();
    let shared = [0, 1].map(|d| offs.iter().map(|o| o[d]).sum::<f64>() / n);
    let owed: Vec<f64> = (0..cells.len())
        .map(|k| {
            let slope = slope(cells, k);
            (0..2).map(|d| slope[d] * (offs[k][d] - shared[d])).sum()
        })
        .collect();
    for (c, o) in cells.iter_mut().zip(owed) {
        c.mean -= o;
    }
}

/// Slope along columns and rows of the means of a cell and its neighbours, mm per cell; 0 where they do not give one.
fn slope(cells: &[PatchCell], k: usize) -> [f64; 2] {
    let at = &cells[k];
    let (mut m, mut b) = (Matrix3::zeros(), Vector3::zeros());
    for c in cells {
        let (x, y) = (c.i as f64 - at.i as f64, c.j as f64 - at.j as f64);
        if x.abs() <= 1.0 && y.abs() <= 1.0 {
            let row = Vector3::new(1.0, x, y);
            m += row * row.transpose();
            b += row * c.mean;
        }
    }
    m.cholesky().map_or([0.0; 2], |f| {
        let plane = f.solve(&b);
        [plane.y, plane.z]
    })
}

/// Heights of the small cells above the shape fitted to them (equal weight per area); `None` where it is not determined.
fn residuals(kept: &[&(usize, &Cell)], side: f64, removed: Removed) -> Option<Vec<f64>> {
    let p = removed.terms();
    if kept.len() < 2 * p {
        return None;
    }
    let n = kept.len() as f64;
    let mean = |f: fn(&Cell) -> f64| kept.iter().map(|(_, c)| f(c)).sum::<f64>() / n;
    let (u0, v0, h0) = (mean(|c| c.u), mean(|c| c.v), mean(|c| c.h));
    let x = DMatrix::from_row_iterator(
        kept.len(),
        p,
        kept.iter()
            .flat_map(|(_, c)| removed.row((c.u - u0) / side, (c.v - v0) / side)),
    );
    let h = DVector::from_iterator(kept.len(), kept.iter().map(|(_, c)| c.h - h0));
    let beta = x.tr_mul(&x).cholesky()?.solve(&x.tr_mul(&h));
    Some((h - x * beta).iter().copied().collect())
}
