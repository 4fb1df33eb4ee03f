//! The angle along a junction of two faces that may be twisted.
//!
//! Each face is ruled: over an axis (point o, unit e) and its half-plane direction a (perpendicular to e, into the face)
//! its height along nA (away from the measured sector) is h = a0 + a1 s + a2 t + a3 s t. The axis is moved into the
//! intersection of both faces and a, b are turned into their mid slopes until nothing changes. Then both faces hold the
//! axis, every section perpendicular to it is two straight lines, and the angle between them at s is
//! arccos(a.b) + atan(a2 + a3 s) + atan(b2 + b3 s).
//!
//! The axis is the theoretical sharp line of the two fitted faces, not the bend.

mod local;
mod ruled;
mod shared;
#[cfg(test)]
mod tests;

pub use local::{LackOfFit, LocalAngle};

use std::f64::consts::TAU;

use crate::{CellGrid, FitError, Lagged, NoiseModel, Point, Uncertain, Unit, Vector};
use ruled::Ruled;
use shared::{Blocks, SharedSlopes};

/// Rounds after which the fit is given up; 4 to 6 are usual.
const ROUNDS: usize = 50;
/// Shifts (mm) and turns (rad) below this end the iteration.
const SETTLED: f64 = 1e-9;
/// Faces within about this angle (rad) of one plane do not fix the axis along them; it then stays where it was put.
const NEARLY_FLAT: f64 = 0.02;

/// One face of a junction: cleaned cells (the band at the bend left out) and where the metal is.
#[derive(Clone, Copy, Debug)]
pub struct JunctionFace<'a> {
    /// Cell means in any axes.
    pub cells: &'a CellGrid,
    /// Covered share of each cell, 0 to 1: its weight.
    pub covered: &'a [f64],
    /// Roughly the normal of the face, away from the metal.
    pub outward: Vector,
}

/// The two ruled faces of a junction. The angle is that through the metal; through the air it is 360 deg minus that, and
/// differences change sign.
#[derive(Clone, Debug)]
pub struct JunctionFit<'a> {
    /// On the axis, at the foot of the named start: s = 0.
    pub origin: Point,
    /// Along the axis, away from the named start.
    pub along: Unit,
    /// Directions into the faces A and B, perpendicular to the axis.
    pub into: [Unit; 2],
    /// Normals of the faces at mid length, away from the metal.
    pub outward: [Unit; 2],
    /// Heights of the faces A and B over their directions: c0 + c1 s + c2 t + c3 s t, mm; c0, c1 and the slope at mid
    /// length are 0 but for rounding.
    pub coefficients: [[f64; 4]; 2],
    /// Stretch of s, mm, on which both faces were seen.
    pub range: [f64; 2],
    /// Widths of the faces across the junction (from nearest to farthest cell), mm.
    pub widths: [f64; 2],
    /// Whether both outward directions lie on one side of the metal; if not, one face was taken from its back.
    pub sides_agree: bool,
    /// arccos(a.b), from 0 to 2 pi through the metal.
    base: f64,
    faces: [JunctionFace<'a>; 2],
    /// Variances and covariance of (c2, c3), s counted from mid length.
    slopes: [[Lagged; 3]; 2],
    /// Weights of the cells in (c2, c3), s counted from mid length.
    slope_rows: [[Vec<f64>; 2]; 2],
    /// Covariances of (c2, c3) of A with those of B.
    shared: SharedSlopes,
}

/// The axis and the two half-plane directions while they are being found.
#[derive(Clone, Copy)]
struct Axis {
    o: Point,
    e: Unit,
    into: [Unit; 2],
    outward: [Unit; 2],
    /// +1: the metal is swept turning from A to B about +e; -1 about -e.
    turn: f64,
}

impl<'a> JunctionFit<'a> {
    /// Fits a junction that begins near `start` (its named start) and runs along `along`, both roughly (10 mm, 10 deg
    /// are near enough).
    ///
    /// Errors: too few cells, no common stretch, a face without width or length, no settling within 50 rounds, values
    /// that are not finite. Faces within about 1 deg of one plane still give their angle; their axis stays near `start`.
    pub fn fit(
        faces: [JunctionFace<'a>; 2],
        start: Point,
        along: &Vector,
    ) -> Result<Self, FitError> {
        for f in &faces {
            FitError::check_count(8, f.cells.cells.len())?;
        }
        let places = faces.map(|f| places(f.cells));
        let mut axis = Axis::first(&faces, &places, start, along)?;
        for _ in 0..ROUNDS {
            let range = axis.range(&faces, &places)?;
            let mid = 0.5 * (range[0] + range[1]);
            let rules = axis.rules(&faces, &places, mid)?;
            let moved = axis.settle(&rules, mid, start, range[1] - range[0])?;
            if moved < SETTLED {
                return axis.finish(faces, &places);
            }
        }
        Err(FitError::NoConvergence)
    }

    /// The angle through the metal at s (mm from the named start), radians.
    pub fn angle(&self, s: f64) -> f64 {
        self.base + self.slope(0, s).atan() + self.slope(1, s).atan()
    }

    /// Mean change of the angle along the common stretch, radians per mm.
    pub fn twist(&self) -> f64 {
        let [low, high] = self.range;
        (self.angle(high) - self.angle(low)) / (high - low)
    }

    /// Where the junction is at s.
    pub fn point(&self, s: f64) -> Point {
        self.origin + self.along.into_inner() * s
    }

    /// The angle at s as a functional of the readings; beside the bend the faces share noise (`shared.rs`).
    pub fn angle_lagged(&self, s: f64) -> Lagged {
        self.sum_lagged([0, 1].map(|k| {
            let g = self.gain(k, s);
            [g, g * (s - self.middle())]
        }))
    }

    /// [`Self::twist`] as a functional of the readings.
    pub fn twist_lagged(&self) -> Lagged {
        let [low, high] = self.range;
        let (mid, length) = (self.middle(), high - low);
        self.sum_lagged([0, 1].map(|k| {
            let (g0, g1) = (self.gain(k, low), self.gain(k, high));
            let c2 = (g1 - g0) / length;
            let c3 = (g1 * (high - mid) - g0 * (low - mid)) / length;
            [c2, c3]
        }))
    }

    /// Uncertainty of the angle at s when the named start was found with standard uncertainty `u_start` (mm, known).
    pub fn angle_uncertainty(&self, s: f64, noise: &NoiseModel, u_start: f64) -> Uncertain {
        let noise = noise.uncertainty(&self.angle_lagged(s));
        let place = Uncertain::new((self.twist() * u_start).abs(), f64::INFINITY);
        Uncertain::combined(&[noise, place])
    }

    /// How far face `k` (0: A, 1: B) is off its best flat at its corners, mm: |c3| L W / 4. A flat that touches along
    /// the junction and is right at mid length is off by twice this.
    pub fn flat_error(&self, k: usize) -> f64 {
        self.coefficients[k][3].abs() * self.flat_factor(k)
    }

    /// [`Self::flat_error`] as a functional of the readings.
    pub fn flat_error_lagged(&self, k: usize) -> Lagged {
        self.slopes[k][2].scaled(self.flat_factor(k))
    }

    fn flat_factor(&self, k: usize) -> f64 {
        0.25 * (self.range[1] - self.range[0]) * self.widths[k]
    }

    fn middle(&self) -> f64 {
        0.5 * (self.range[0] + self.range[1])
    }

    /// Slope of face `k` against its direction at s.
    fn slope(&self, k: usize, s: f64) -> f64 {
        self.coefficients[k][2] + self.coefficients[k][3] * s
    }

    /// d atan(m) / dm at s.
    fn gain(&self, k: usize, s: f64) -> f64 {
        1.0 / (1.0 + self.slope(k, s).powi(2))
    }

    /// The functional p c2 + q c3 of A and of B, added; s counted from mid length.
    fn sum_lagged(&self, factors: [[f64; 2]; 2]) -> Lagged {
        let own = |k: usize| {
            let ([p, q], [v2, v23, v3]) = (factors[k], &self.slopes[k]);
            Lagged::combination(&[(p * p, v2), (2.0 * p * q, v23), (q * q, v3)])
        };
        let both = own(0).plus(&own(1));
        both.plus(&self.shared.lagged(factors[0], factors[1]))
    }
}

/// Positions of the cell means.
fn places(grid: &CellGrid) -> Vec<Point> {
    grid.cells
        .iter()
        .map(|c| grid.axes.point(c.u, c.v, c.h))
        .collect()
}

/// The part of `v` perpendicular to `e`, of length one.
fn across(e: &Unit, v: &Vector) -> Result<Unit, FitError> {
    let flat = v - e.into_inner() * e.dot(v);
    Unit::try_new(flat, 1e-9 * v.norm()).ok_or(FitError::Degenerate)
}

impl Axis {
    fn first(
        faces: &[JunctionFace; 2],
        places: &[Vec<Point>; 2],
        start: Point,
        along: &Vector,
    ) -> Result<Self, FitError> {
        if !(start.coords.norm() + along.norm()).is_finite() {
            return Err(FitError::NotFinite);
        }
        let e = Unit::try_new(*along, 0.0).ok_or(FitError::Degenerate)?;
        let mut into = [e, e];
        for k in 0..2 {
            let sum: Vector = places[k].iter().map(|p| p - start).sum();
            // The face lies across its own normal: what the start is off along it does not count.
            let flat = match Unit::try_new(faces[k].outward, 0.0) {
                Some(n) => sum - n.into_inner() * n.dot(&sum),
                None => sum,
            };
            into[k] = across(&e, &flat)?;
        }
        // Turning about +e, A's outward side lies behind its direction and B's before it.
        let says = [
            faces[0].outward.dot(&into[0].cross(&e)),
            faces[1].outward.dot(&e.cross(&into[1])),
        ];
        let turn = if says[0] + says[1] < 0.0 { -1.0 } else { 1.0 };
        Ok(Self::with(start, e, into, turn))
    }

    fn with(o: Point, e: Unit, into: [Unit; 2], turn: f64) -> Self {
        let normal = |v: Vector| Unit::new_normalize(v * turn);
        let outward = [normal(into[0].cross(&e)), normal(e.cross(&into[1]))];
        Self {
            o,
            e,
            into,
            outward,
            turn,
        }
    }

    /// Stretch of s that both faces cover: cell means and half a cell at either end.
    fn range(
        &self,
        faces: &[JunctionFace; 2],
        places: &[Vec<Point>; 2],
    ) -> Result<[f64; 2], FitError> {
        let [mut low, mut high] = [f64::NEG_INFINITY, f64::INFINITY];
        for (face, places) in faces.iter().zip(places) {
            let axes = &face.cells.axes;
            let half =
                0.5 * face.cells.size * (axes.u.dot(&self.e).abs() + axes.v.dot(&self.e).abs());
            let (a, b) = extent(places.iter().map(|p| self.e.dot(&(p - self.o))));
            low = low.max(a - half);
            high = high.min(b + half);
        }
        if low.is_nan() || high.is_nan() {
            return Err(FitError::NotFinite);
        }
        if high <= low {
            return Err(FitError::Degenerate);
        }
        Ok([low, high])
    }

    fn rules(
        &self,
        faces: &[JunctionFace; 2],
        places: &[Vec<Point>; 2],
        mid: f64,
    ) -> Result<[Ruled; 2], FitError> {
        let rule = |k: usize| {
            let local: Vec<[f64; 3]> = places[k].iter().map(|p| self.local(k, p)).collect();
            Ruled::fit(&local, faces[k].covered, mid)
        };
        Ok([rule(0)?, rule(1)?])
    }

    /// (s, t, h) of a place over face `k`.
    fn local(&self, k: usize, p: &Point) -> [f64; 3] {
        let d = p - self.o;
        [
            self.e.dot(&d),
            self.into[k].dot(&d),
            self.outward[k].dot(&d),
        ]
    }

    /// Moves the axis into the intersection of the ruled faces and turns the directions to their mid slopes; how far
    /// anything moved, mm and rad, whichever is larger.
    fn settle(
        &mut self,
        rules: &[Ruled; 2],
        mid: f64,
        start: Point,
        length: f64,
    ) -> Result<f64, FitError> {
        // (nA - mA a).x = a0 + a1 s and likewise for B, with x = x_mid + x_1 (s - mid) across e.
        let (p, q) = (self.into[0].into_inner(), self.outward[0].into_inner());
        let row = |k: usize| {
            let g = self.outward[k].into_inner() - self.into[k].into_inner() * rules[k].mid[2];
            [g.dot(&p), g.dot(&q)]
        };
        let (ra, rb) = (row(0), row(1));
        let m = nalgebra::Matrix2::new(ra[0], ra[1], rb[0], rb[1]);
        let svd = m.svd(true, true);
        let solve = |k: usize| {
            let rhs = nalgebra::Vector2::new(rules[0].mid[k], rules[1].mid[k]);
            svd.solve(&rhs, NEARLY_FLAT)
                .map(|x| p * x[0] + q * x[1])
                .map_err(|_| FitError::Degenerate)
        };
        let (shift, lean) = (solve(0)?, solve(1)?);
        let e = Unit::new_normalize(self.e.into_inner() + lean);
        let at_mid = self.o + self.e.into_inner() * mid + shift;
        let o = at_mid + e.into_inner() * e.dot(&(start - at_mid));
        let mut into = self.into;
        for k in 0..2 {
            let turned = self.into[k].into_inner() + self.outward[k].into_inner() * rules[k].mid[2];
            into[k] = across(&e, &turned)?;
        }
        let moved = [
            shift.norm(),
            lean.norm() * length,
            rules[0].mid[2].abs(),
            rules[1].mid[2].abs(),
        ];
        *self = Self::with(o, e, into, self.turn);
        if moved.iter().any(|m| !m.is_finite()) {
            return Err(FitError::NotFinite);
        }
        Ok(moved.into_iter().fold(0.0, f64::max))
    }

    fn finish<'a>(
        &self,
        faces: [JunctionFace<'a>; 2],
        places: &[Vec<Point>; 2],
    ) -> Result<JunctionFit<'a>, FitError> {
        let range = self.range(&faces, places)?;
        let mid = 0.5 * (range[0] + range[1]);
        let rules = self.rules(&faces, places, mid)?;
        let slopes = [0, 1].map(|k| {
            let [b2, b3] = &rules[k].slope_rows;
            let grid = faces[k].cells;
            [
                Lagged::of(grid, b2),
                Lagged::cross(grid, b2, b3),
                Lagged::of(grid, b3),
            ]
        });
        let widths = [0, 1].map(|k| {
            let (a, b) = extent(places[k].iter().map(|p| self.local(k, p)[1]));
            b - a + faces[k].cells.size
        });
        let blocks = [0, 1].map(|k| {
            let [b2, b3] = &rules[k].slope_rows;
            Blocks::new(faces[k].cells, &[b2, b3])
        });
        let (a, b) = (&self.into[0], &self.into[1]);
        let sin = self.turn * self.e.dot(&a.cross(b));
        let sides = [0, 1].map(|k| faces[k].outward.dot(&self.outward[k]) > 0.0);
        Ok(JunctionFit {
            origin: self.o,
            along: self.e,
            into: self.into,
            outward: self.outward,
            coefficients: [0, 1].map(|k| rules[k].counted_from_start(mid)),
            range,
            widths,
            sides_agree: sides[0] == sides[1],
            base: sin.atan2(a.dot(b)).rem_euclid(TAU),
            faces,
            slopes,
            shared: blocks[0].by_distance(&blocks[1]),
            slope_rows: rules.map(|r| r.slope_rows),
        })
    }
}

/// Least and largest.
fn extent(values: impl Iterator<Item = f64>) -> (f64, f64) {
    values.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), x| {
        (a.min(x), b.max(x))
    })
}
