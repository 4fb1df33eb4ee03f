//! The true figures of an opening in the part axes in which it was measured.

use demo::TrueOpening;
use geom::{Point, Rigid, Vector};
use nalgebra::{DMatrix, DVector};
use record::EdgeStation;

/// Places on a true edge.
const PLACES: usize = 4096;

/// The true sharp line of an opening.
pub struct Made {
    /// Places in order, part axes, mm; closed.
    pub line: Vec<Point>,
}

impl Made {
    /// The edge of `opening` (car axes) moved by `part_from_car`.
    pub fn new(opening: &TrueOpening, part_from_car: &Rigid) -> Self {
        let line = opening
            .edge(PLACES)
            .iter()
            .map(|p| part_from_car * p.at)
            .collect();
        Self { line }
    }

    /// Where the edge crosses the plane through `at` normal to `tangent`, near `at`.
    pub fn crossing(&self, at: &Point, tangent: &Vector) -> Point {
        let n = self.line.len();
        let near = (0..n)
            .min_by(|a, b| {
                let d = |i: usize| (self.line[i] - at).norm_squared();
                d(*a).total_cmp(&d(*b))
            })
            .expect("a line has places");
        let off = |i: usize| (self.line[i % n] - at).dot(tangent);
        let from = (near + n - 40..near + n + 40)
            .filter(|i| (off(*i) <= 0.0) != (off(i + 1) <= 0.0))
            .min_by_key(|i| i.abs_diff(near + n))
            .expect("the plane of a station cuts the edge beside it");
        let (a, b) = (off(from), off(from + 1));
        self.line[from % n] + (self.line[(from + 1) % n] - self.line[from % n]) * (a / (a - b))
    }

    /// Length once round, mm.
    pub fn perimeter(&self) -> f64 {
        self.pairs().map(|(a, b)| (b - a).norm()).sum()
    }

    /// Area of the shadow in the flat of the part, mm2.
    pub fn area(&self) -> f64 {
        0.5 * self
            .pairs()
            .map(|(a, b)| a.x * b.y - b.x * a.y)
            .sum::<f64>()
            .abs()
    }

    fn pairs(&self) -> impl Iterator<Item = (&Point, &Point)> {
        self.line.iter().zip(self.line.iter().cycle().skip(1))
    }

    /// Extent along (c, s) of the flat, mm.
    pub fn span(&self, c: f64, s: f64) -> f64 {
        let along = |p: &Point| c * p.x + s * p.y;
        let all = self.line.iter().map(along);
        all.clone().fold(f64::NEG_INFINITY, f64::max) - all.fold(f64::INFINITY, f64::min)
    }

    /// The least distance of two parallel jaws within 0.1 rad of `angle`, mm.
    pub fn caliper(&self, angle: f64) -> f64 {
        let extent = |a: f64| self.span(a.cos(), a.sin());
        let (mut best, mut step) = (angle, 0.005);
        for _ in 0..4 {
            best = (-20..=20)
                .map(|k| (best + step * f64::from(k)).clamp(angle - 0.1, angle + 0.1))
                .min_by(|a, b| extent(*a).total_cmp(&extent(*b)))
                .expect("tries");
            step /= 10.0;
        }
        extent(best)
    }

    /// Extents along X and Y, mm.
    pub fn size(&self) -> (f64, f64) {
        (self.span(1.0, 0.0), self.span(0.0, 1.0))
    }

    /// Radius of the circle through the places whose neighbours along the edge are within `half` of `at`, mm.
    pub fn radius(&self, at: &Point, half: f64) -> f64 {
        let near: Vec<[f64; 2]> = self
            .line
            .iter()
            .filter(|p| (*p - at).norm() < half)
            .map(|p| [p.x, p.y])
            .collect();
        geom::fit_circle_2d(&near)
            .expect("a corner is round")
            .radius
    }

    /// Twist out of its flat of the true edge at the stations, degrees: slope of the height over x y, times the height.
    pub fn twist_deg(&self, stations: &[EdgeStation]) -> f64 {
        let at: Vec<Point> = stations
            .iter()
            .map(|s| self.crossing(&s.at, &s.tangent))
            .collect();
        let rows = DMatrix::from_fn(at.len(), 4, |i, k| {
            [1.0, at[i].x, at[i].y, at[i].x * at[i].y][k]
        });
        let z = DVector::from_fn(at.len(), |i, _| at[i].z);
        let k = (rows.transpose() * &rows)
            .cholesky()
            .expect("the stations are spread")
            .solve(&(rows.transpose() * z))[3];
        (k * self.size().1).to_degrees()
    }
}
