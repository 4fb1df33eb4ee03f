//! Robust planes and quadrics h(u, v) over local axes.
//!
//! Every cell of the patch counts by its covered area, not by how many points fell into it: at a density of 4:1 on a
//! panel of radius 500 mm, counting points turns a 30 mm plane by 0.17 deg. Stray points, up to 40 % of them, spread
//! or in clumps, are found and set aside.

mod normal_equations;
mod start;
#[cfg(test)]
mod tests;

use nalgebra::DMatrix;
use rayon::prelude::*;

use crate::cell_grid::Lattice;
use crate::robust::{HARD_CUT, NORMAL_MEDIAN, median, untruncated_sd};
use crate::{CellGrid, FitError, GoOn, LocalAxes, Plane, Point, Unit};
use normal_equations::{NormalEquations, Row, height, row};
use start::{Place, robust_start};

/// The surface fitted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum SurfaceOrder {
    /// h = c0 + c1 u + c2 v.
    Plane,
    /// h = c0 + c1 u + c2 v + c3 u^2 + c4 uv + c5 v^2.
    Quadric,
}

impl SurfaceOrder {
    /// Number of coefficients: 3 or 6.
    pub fn unknowns(self) -> usize {
        match self {
            Self::Plane => 3,
            Self::Quadric => 6,
        }
    }
}

/// A surface fitted to points, and what the fit left over.
#[derive(Clone, Debug, PartialEq)]
pub struct SurfaceFit {
    /// The axes the surface is written in.
    pub axes: LocalAxes,
    /// Plane or quadric.
    pub order: SurfaceOrder,
    /// h = c0 + c1 u + c2 v + c3 u^2 + c4 uv + c5 v^2 about the axes, u, v and h in mm; the last three are 0 for a
    /// plane.
    pub coefficients: [f64; 6],
    /// For each point given, whether the surface was fitted to it.
    pub inliers: Vec<bool>,
    /// Standard deviation of single points about the surface, mm, corrected for the cut at 3.5 scales. It holds the
    /// noise and whatever form the order cannot follow.
    pub scatter: f64,
    /// Means of the kept points over the cells that are at least half covered, in which the fit was made.
    pub cells: CellGrid,
    /// Covered share of each of `cells`, 0.5 to 1: its weight in the fit.
    pub covered: Vec<f64>,
    /// Mean residual (point minus surface, along the normal of the axes) of each of `cells`, mm.
    pub residuals: Vec<f64>,
    /// Area-weighted root mean square of `residuals`, mm.
    pub rms: f64,
    rows: Vec<Row>,
}

/// Fits a surface to `points` by area-weighted least squares of the heights along the normal of `axes`.
///
/// `size` is the side of a cell (mm); `scale_floor` (mm) is the noise of single points known beforehand, 0 if none:
/// the scale that decides what is stray is never below it. On a face that is curved by more than its noise ask for
/// the quadric: a plane's cut would trim the edges.
///
/// Method: one place per cell from the shortest half of its heights; least trimmed squares (60 %) from 500 subsets in
/// a fixed sequence, bisquare at that scale; then all points within 3.5 sd, cell means, weights the covered shares,
/// repeated until it stays the same. Sums run in the order of the points.
///
/// Errors: fewer points or half-covered cells than unknowns, all on one line (or, for the quadric, on one conic),
/// coordinates that are not finite. Cost O(n).
pub fn fit_surface(
    axes: LocalAxes,
    points: &[Point],
    size: f64,
    order: SurfaceOrder,
    scale_floor: f64,
) -> Result<SurfaceFit, FitError> {
    fit_surface_while(axes, points, size, order, scale_floor, &|| true)
}

/// [`fit_surface`] as long as `go_on` says so, else `FitError::CalledOff`. It is asked every few milliseconds.
pub fn fit_surface_while(
    axes: LocalAxes,
    points: &[Point],
    size: f64,
    order: SurfaceOrder,
    scale_floor: f64,
    go_on: GoOn<'_>,
) -> Result<SurfaceFit, FitError> {
    let patch = Patch::new(axes, points, size, order, scale_floor, go_on)?;
    let samples = patch.sample()?;
    let b = robust_start(&samples.places, order, patch.floor, go_on)?;
    let mut sizes: Vec<f64> = samples
        .points
        .iter()
        .map(|p| (p[2] - patch.height(&b, p)).abs())
        .collect();
    let scale = median(&mut sizes) / NORMAL_MEDIAN;
    let (b, scale) = patch.settle(&samples.points, &samples.cell_of, b, scale)?;
    patch.finish(b, scale)
}

/// [`fit_surface`], repeated with the axes moved into the surface (origin on it, normal along its normal there, `u`
/// kept as near as that allows) until they turn by less than 1e-9 rad: the orthogonal fit, whatever the first axes.
/// `FitError::NoConvergence` after 20 rounds.
pub fn settle_surface(
    axes: LocalAxes,
    points: &[Point],
    size: f64,
    order: SurfaceOrder,
    scale_floor: f64,
) -> Result<SurfaceFit, FitError> {
    let mut fit = fit_surface(axes, points, size, order, scale_floor)?;
    for _ in 0..20 {
        let [_, du, dv, ..] = fit.coefficients;
        if du.hypot(dv) < 1e-9 && fit.coefficients[0].abs() < 1e-9 {
            return Ok(fit);
        }
        let next = LocalAxes::along(fit.point_at(0.0, 0.0), &fit.axes.u, fit.normal_at(0.0, 0.0))?;
        let patch = Patch::new(next, points, size, order, scale_floor, &|| true)?;
        let [.., uu, uv, vv] = fit.coefficients;
        let b = patch.scaled(&[0.0, 0.0, 0.0, uu, uv, vv]);
        fit = patch.finish(b, fit.scatter)?;
    }
    Err(FitError::NoConvergence)
}

impl SurfaceFit {
    /// Height of the surface over (u, v), mm.
    pub fn height(&self, u: f64, v: f64) -> f64 {
        height(&self.coefficients, &row(u, v))
    }

    /// The slopes (dh/du, dh/dv) at (u, v).
    pub fn slope(&self, u: f64, v: f64) -> (f64, f64) {
        let c = &self.coefficients;
        (
            c[1] + 2.0 * c[3] * u + c[4] * v,
            c[2] + c[4] * u + 2.0 * c[5] * v,
        )
    }

    /// The place of the surface over (u, v).
    pub fn point_at(&self, u: f64, v: f64) -> Point {
        self.axes.point(u, v, self.height(u, v))
    }

    /// The unit normal of the surface over (u, v), on the side of the normal of the axes.
    pub fn normal_at(&self, u: f64, v: f64) -> Unit {
        let (du, dv) = self.slope(u, v);
        Unit::new_normalize(self.axes.vector(-du, -dv, 1.0))
    }

    /// The tangent plane over (u, v); for a plane, the plane itself.
    pub fn plane_at(&self, u: f64, v: f64) -> Plane {
        Plane::through(&self.point_at(u, v), self.normal_at(u, v))
    }

    /// The design X: a row of (1, u, v[, u^2, uv, v^2]) for each of `cells`, each the mean over the points of the cell.
    pub fn design(&self) -> DMatrix<f64> {
        DMatrix::from_fn(self.rows.len(), self.order.unknowns(), |i, k| {
            self.rows[i][k]
        })
    }

    /// The linear map B = (X'WX)^-1 X'W, W the covered shares, from heights of `cells` to coefficients: unknowns by
    /// cells. A covariance V of the cell means gives B V B' for the coefficients.
    pub fn hat(&self) -> Result<DMatrix<f64>, FitError> {
        let (x, p) = (self.design(), self.order.unknowns());
        // Weighted rows, columns at unit length: (X'WX)^-1 X'W = D^-1 R^-1 Q' sqrt(W).
        let root: Vec<f64> = self.covered.iter().map(|w| w.sqrt()).collect();
        let mut a = DMatrix::from_fn(x.nrows(), p, |i, k| x[(i, k)] * root[i]);
        let lengths: Vec<f64> = (0..p).map(|k| a.column(k).norm()).collect();
        for (k, &length) in lengths.iter().enumerate() {
            a.column_mut(k).scale_mut(1.0 / length);
        }
        let qr = a.qr();
        let mut b = qr
            .r()
            .solve_upper_triangular(&qr.q().transpose())
            .ok_or(FitError::Degenerate)?;
        for (i, &w) in root.iter().enumerate() {
            for (k, &length) in lengths.iter().enumerate() {
                b[(k, i)] *= w / length;
            }
        }
        Ok(b)
    }
}

/// At most this many points of a cell take part in the start.
const SAMPLES: usize = 64;
/// Points between two looks at the wish to stop: well below a millisecond.
const STRETCH: usize = 1 << 16;
/// Passes over all points before the set of kept ones is taken as it is.
const PASSES: usize = 30;

/// The points in centred and scaled coordinates, with their cells.
struct Patch<'a> {
    go_on: GoOn<'a>,
    axes: LocalAxes,
    order: SurfaceOrder,
    floor: f64,
    lattice: Lattice,
    /// Centre, and half the larger side: scaled = (raw - centre) / half.
    centre: [f64; 2],
    half: f64,
    /// Scaled u, v and h in mm.
    points: Vec<[f64; 3]>,
    cell_of: Vec<u32>,
}

/// Some points of every cell, and one place for it.
struct Samples {
    places: Vec<Place>,
    points: Vec<[f64; 3]>,
    cell_of: Vec<u32>,
}

/// What one pass over the points gathers.
struct Pass {
    /// Per cell: count, then sums of u, v, u^2, uv, v^2 (scaled) and h.
    sums: Vec<[f64; 7]>,
    kept: usize,
    squares: f64,
}

impl<'a> Patch<'a> {
    fn new(
        axes: LocalAxes,
        points: &[Point],
        size: f64,
        order: SurfaceOrder,
        scale_floor: f64,
        go_on: GoOn<'a>,
    ) -> Result<Self, FitError> {
        FitError::check_count(order.unknowns(), points.len())?;
        if !(scale_floor.is_finite() && scale_floor >= 0.0) {
            return Err(FitError::NotFinite);
        }
        let mut local: Vec<[f64; 3]> = points.par_iter().map(|p| axes.local(p)).collect();
        check(go_on)?;
        let lattice = Lattice::over(local.iter().copied(), size)?;
        check(go_on)?;
        let sides = [lattice.columns as f64 * size, lattice.rows as f64 * size];
        let half = 0.5 * sides[0].max(sides[1]);
        let centre = [lattice.u0 + 0.5 * sides[0], lattice.v0 + 0.5 * sides[1]];
        let cell_of = local
            .iter()
            .map(|p| lattice.index(p[0], p[1]) as u32)
            .collect();
        check(go_on)?;
        let per_half = 1.0 / half;
        for p in &mut local {
            *p = [
                (p[0] - centre[0]) * per_half,
                (p[1] - centre[1]) * per_half,
                p[2],
            ];
        }
        // Rounding of the coordinates themselves must not count as scatter.
        let reach = half + points[0].coords.amax() + axes.origin.coords.amax();
        check(go_on)?;
        Ok(Self {
            go_on,
            axes,
            order,
            floor: scale_floor.max(1e-13 * reach),
            lattice,
            centre,
            half,
            points: local,
            cell_of,
        })
    }

    #[inline]
    fn height(&self, b: &Row, p: &[f64; 3]) -> f64 {
        match self.order {
            SurfaceOrder::Plane => b[0] + (b[1] * p[0] + b[2] * p[1]),
            SurfaceOrder::Quadric => height(b, &row(p[0], p[1])),
        }
    }

    fn cells(&self) -> usize {
        self.lattice.columns * self.lattice.rows
    }

    /// Takes every k-th point of each cell, 32 to 64 of the full ones, and the mean of the half of them whose heights
    /// lie closest together (the "shorth": right while fewer than half are stray, whichever way they lie).
    fn sample(&self) -> Result<Samples, FitError> {
        let mut counts = vec![0_u32; self.cells()];
        for &c in &self.cell_of {
            counts[c as usize] += 1;
        }
        check(self.go_on)?;
        let steps: Vec<u32> = counts.iter().map(|n| n.div_ceil(SAMPLES as u32)).collect();
        let mut first = vec![0_usize; counts.len() + 1];
        for (k, &n) in counts.iter().enumerate() {
            first[k + 1] = first[k]
                + if n == 0 {
                    0
                } else {
                    n.div_ceil(steps[k]) as usize
                };
        }
        let mut points = vec![[0.0; 3]; first[counts.len()]];
        let mut cell_of = vec![0_u32; points.len()];
        let mut seen = vec![0_u32; counts.len()];
        for (p, &c) in self.points.iter().zip(&self.cell_of) {
            let k = c as usize;
            if seen[k].is_multiple_of(steps[k]) {
                let at = first[k] + (seen[k] / steps[k]) as usize;
                points[at] = *p;
                cell_of[at] = c;
            }
            seen[k] += 1;
        }
        check(self.go_on)?;
        let shares = self.shares(counts.iter().map(|&n| f64::from(n)));
        let places = (0..counts.len())
            .filter(|&k| shares[k] >= 0.5)
            .map(|k| shortest_half(&points[first[k]..first[k + 1]]))
            .collect();
        check(self.go_on)?;
        Ok(Samples {
            places,
            points,
            cell_of,
        })
    }

    /// Covered share of every cell of the lattice from counts in its order; 0 for empty cells.
    fn shares(&self, counts: impl Iterator<Item = f64>) -> Vec<f64> {
        let sums: Vec<[f64; 4]> = counts.map(|n| [n, 0.0, 0.0, 0.0]).collect();
        let grid = CellGrid::from_sums(self.axes, &self.lattice, &sums);
        let mut shares = vec![0.0; sums.len()];
        for (cell, share) in grid.cells.iter().zip(grid.covered()) {
            shares[cell.j as usize * grid.columns + cell.i as usize] = share;
        }
        shares
    }

    /// Gathers the points within `cut` of the surface `b`; squares and products only where the order needs them.
    fn pass(
        &self,
        points: &[[f64; 3]],
        cell_of: &[u32],
        b: &Row,
        cut: f64,
    ) -> Result<Pass, FitError> {
        let quadric = self.order == SurfaceOrder::Quadric;
        let mut out = Pass {
            sums: vec![[0.0; 7]; self.cells()],
            kept: 0,
            squares: 0.0,
        };
        for (points, cell_of) in points.chunks(STRETCH).zip(cell_of.chunks(STRETCH)) {
            check(self.go_on)?;
            for (p, &c) in points.iter().zip(cell_of) {
                let r = p[2] - self.height(b, p);
                if r.abs() <= cut {
                    let [u, v, h] = *p;
                    let s = &mut out.sums[c as usize];
                    s[0] += 1.0;
                    s[1] += u;
                    s[2] += v;
                    if quadric {
                        s[3] += u * u;
                        s[4] += u * v;
                        s[5] += v * v;
                    }
                    s[6] += h;
                    out.kept += 1;
                    out.squares += r * r;
                }
            }
        }
        Ok(out)
    }

    /// Fits the cell means of a pass, each with its covered share; cells under half covered are left out.
    fn solve(&self, pass: &Pass) -> Result<(Row, Vec<f64>), FitError> {
        let mut shares = self.shares(pass.sums.iter().map(|s| s[0]));
        let mut equations = NormalEquations::default();
        let mut used = 0;
        for (s, share) in pass.sums.iter().zip(&mut shares) {
            if *share < 0.5 {
                *share = 0.0;
                continue;
            }
            equations.add(self.order, &mean_row(s), s[6] / s[0], *share);
            used += 1;
        }
        FitError::check_count(self.order.unknowns(), used)?;
        let b = equations.solve(self.order).ok_or(FitError::Degenerate)?;
        Ok((b, shares))
    }

    /// Keeps the points within 3.5 scales, refits, and takes the scale anew, until both stay. Returns coefficients and
    /// scale.
    fn settle(
        &self,
        points: &[[f64; 3]],
        cell_of: &[u32],
        start: Row,
        scale: f64,
    ) -> Result<(Row, f64), FitError> {
        let (mut b, mut scale, mut kept) = (start, scale.max(self.floor), usize::MAX);
        for _ in 0..PASSES {
            let cut = HARD_CUT * scale;
            let pass = self.pass(points, cell_of, &b, cut)?;
            let (next, _) = self.solve(&pass)?;
            let change = (0..6).fold(0.0_f64, |m, k| m.max((next[k] - b[k]).abs()));
            scale = self.scatter(&pass, cut).max(self.floor);
            b = next;
            if pass.kept == kept && change <= 1e-9 * scale {
                break;
            }
            kept = pass.kept;
        }
        Ok((b, scale))
    }

    /// Standard deviation of single points from those kept within `cut`.
    fn scatter(&self, pass: &Pass, cut: f64) -> f64 {
        let freedom = pass.kept.saturating_sub(self.order.unknowns());
        if freedom == 0 {
            return 0.0;
        }
        untruncated_sd((pass.squares / freedom as f64).sqrt(), cut)
    }

    fn finish(self, start: Row, scale: f64) -> Result<SurfaceFit, FitError> {
        let (b, scale) = self.settle(&self.points, &self.cell_of, start, scale)?;
        let cut = HARD_CUT * scale;
        let pass = self.pass(&self.points, &self.cell_of, &b, cut)?;
        let inliers = self
            .points
            .iter()
            .map(|p| (p[2] - self.height(&b, p)).abs() <= cut)
            .collect();
        check(self.go_on)?;
        let (b, shares) = self.solve(&pass)?;
        let mut fit = SurfaceFit {
            axes: self.axes,
            order: self.order,
            coefficients: self.raw(&b),
            inliers,
            scatter: self.scatter(&pass, cut),
            cells: self.grid(&pass, &shares),
            covered: shares.iter().copied().filter(|&s| s > 0.0).collect(),
            residuals: Vec::new(),
            rms: 0.0,
            rows: Vec::new(),
        };
        let (mut area, mut squares) = (0.0, 0.0);
        for (s, share) in pass
            .sums
            .iter()
            .zip(&shares)
            .filter(|(_, share)| **share > 0.0)
        {
            let mean = mean_row(s);
            let r = s[6] / s[0] - height(&b, &mean);
            area += share;
            squares += share * r * r;
            fit.residuals.push(r);
            fit.rows.push(self.raw_row(&mean));
        }
        fit.rms = (squares / area).sqrt();
        Ok(fit)
    }

    /// The cells used, with their means in mm.
    fn grid(&self, pass: &Pass, shares: &[f64]) -> CellGrid {
        let sums: Vec<[f64; 4]> = pass
            .sums
            .iter()
            .zip(shares)
            .map(|(s, &share)| {
                if share > 0.0 {
                    let n = s[0];
                    let raw = |k: usize| s[k + 1] * self.half + n * self.centre[k];
                    [n, raw(0), raw(1), s[6]]
                } else {
                    [0.0; 4]
                }
            })
            .collect();
        CellGrid::from_sums(self.axes, &self.lattice, &sums)
    }

    /// Coefficients about the axes, mm, from those of the scaled coordinates.
    fn raw(&self, b: &Row) -> Row {
        let ([u, v], half) = (self.centre, self.half);
        let [uu, uv, vv] = [b[3], b[4], b[5]].map(|x| x / (half * half));
        let (du, dv) = (b[1] / half, b[2] / half);
        [
            b[0] - du * u - dv * v + uu * u * u + uv * u * v + vv * v * v,
            du - 2.0 * uu * u - uv * v,
            dv - 2.0 * vv * v - uv * u,
            uu,
            uv,
            vv,
        ]
    }

    /// The inverse of [`Patch::raw`].
    fn scaled(&self, c: &Row) -> Row {
        let ([u, v], half) = (self.centre, self.half);
        [
            height(c, &row(u, v)),
            half * (c[1] + 2.0 * c[3] * u + c[4] * v),
            half * (c[2] + c[4] * u + 2.0 * c[5] * v),
            half * half * c[3],
            half * half * c[4],
            half * half * c[5],
        ]
    }

    /// The mean row about the axes, mm, from that of the scaled coordinates.
    fn raw_row(&self, r: &Row) -> Row {
        let ([u, v], half) = (self.centre, self.half);
        [
            1.0,
            u + half * r[1],
            v + half * r[2],
            u * u + 2.0 * u * half * r[1] + half * half * r[3],
            u * v + half * (u * r[2] + v * r[1]) + half * half * r[4],
            v * v + 2.0 * v * half * r[2] + half * half * r[5],
        ]
    }
}

/// `Err(CalledOff)` once `go_on` says no.
fn check(go_on: GoOn<'_>) -> Result<(), FitError> {
    if go_on() {
        Ok(())
    } else {
        Err(FitError::CalledOff)
    }
}

fn mean_row(s: &[f64; 7]) -> Row {
    [
        1.0,
        s[1] / s[0],
        s[2] / s[0],
        s[3] / s[0],
        s[4] / s[0],
        s[5] / s[0],
    ]
}

/// The mean of the half of the points whose heights lie closest together.
fn shortest_half(points: &[[f64; 3]]) -> Place {
    let mut by_height: Vec<[f64; 3]> = points.to_vec();
    by_height.sort_by(|a, b| a[2].total_cmp(&b[2]));
    let (n, half) = (points.len(), points.len() / 2 + 1);
    let half = half.min(n);
    let width = |k: usize| by_height[k + half - 1][2] - by_height[k][2];
    let first = (0..=n - half).fold(0, |best, k| if width(k) < width(best) { k } else { best });
    let sum = by_height[first..first + half]
        .iter()
        .fold([0.0; 3], |s, p| [s[0] + p[0], s[1] + p[1], s[2] + p[2]]);
    let m = half as f64;
    Place::new(sum[0] / m, sum[1] / m, sum[2] / m)
}
