//! Pieces of a chain in place, and what of them lies nearest to a point.

use std::f64::consts::TAU;

use nalgebra::{Point2, Vector2};

/// A piece in place, with what depends on it alone.
#[derive(Clone, Copy)]
pub(super) struct Placed {
    pub start: Point2<f64>,
    pub heading: f64,
    pub length: f64,
    pub k: f64,
    /// Direction at its start.
    pub along: Vector2<f64>,
    pub end: Point2<f64>,
    /// Direction at its end.
    pub end_along: Vector2<f64>,
    /// Derivative of its end by its curvature.
    pub end_by_curvature: Vector2<f64>,
}

fn direction(a: f64) -> Vector2<f64> {
    Vector2::new(a.cos(), a.sin())
}

pub(super) fn left(v: Vector2<f64>) -> Vector2<f64> {
    Vector2::new(-v.y, v.x)
}

/// `v` turned by the angle of which `c` and `s` are cosine and sine.
fn turned(v: Vector2<f64>, c: f64, s: f64) -> Vector2<f64> {
    v * c + left(v) * s
}

impl Placed {
    pub(super) fn new(start: Point2<f64>, heading: f64, length: f64, k: f64) -> Self {
        let along = direction(heading);
        let mut placed = Self {
            start,
            heading,
            length,
            k,
            along,
            end: start,
            end_along: along,
            end_by_curvature: Vector2::zeros(),
        };
        (placed.end, placed.end_along) = placed.at(length);
        placed.end_by_curvature = placed.by_curvature(length);
        placed
    }

    /// Place and direction at the arc length `s`.
    pub(super) fn at(&self, s: f64) -> (Point2<f64>, Vector2<f64>) {
        let half = self.k * s / 2.0;
        let (sin, cos) = half.sin_cos();
        let chord = if half.abs() < 1e-8 { s } else { s * sin / half };
        let middle = turned(self.along, cos, sin);
        (self.start + middle * chord, turned(middle, cos, sin))
    }

    pub(super) fn point(&self, s: f64) -> Point2<f64> {
        self.at(s).0
    }

    /// Derivative of `point(s)` by the curvature: integral of w N(w) from 0 to s.
    pub(super) fn by_curvature(&self, s: f64) -> Vector2<f64> {
        let turn = self.k * s;
        if turn.abs() < 1e-3 {
            let (sin, cos) = (turn * 2.0 / 3.0).sin_cos();
            return left(turned(self.along, cos, sin)) * (s * s / 2.0);
        }
        let (point, along) = self.at(s);
        (along * s - (point - self.start)) / self.k
    }

    /// Arc length of the nearest place and signed distance of `p` along the normal there (+ to the left).
    pub(super) fn nearest(&self, p: &Point2<f64>) -> (f64, f64, f64) {
        let v = p - self.start;
        let (a, b) = (v.dot(&self.along), v.dot(&left(self.along)));
        let foot = if (self.k * self.length).abs() < 1e-9 {
            a
        } else {
            let mut s = (self.k * a).atan2(1.0 - self.k * b) / self.k;
            let round = TAU / self.k.abs();
            // Outside the piece the foot may be nearer the other way round the circle.
            if s < 0.0 && -s > (s + round - self.length).max(0.0) {
                s += round;
            }
            s
        };
        let s = foot.clamp(0.0, self.length);
        let (at, along) = self.at(s);
        let d = p - at;
        (s, d.dot(&left(along)), d.norm())
    }
}

/// Nearest place on the chain: piece, arc length on it, signed normal distance, distance.
pub(super) fn nearest(placed: &[Placed], p: &Point2<f64>) -> (usize, f64, f64, f64) {
    let mut best = (0, 0.0, 0.0, f64::INFINITY);
    for (j, piece) in placed.iter().enumerate() {
        let (s, r, d) = piece.nearest(p);
        if d < best.3 {
            best = (j, s, r, d);
        }
    }
    best
}

/// The same for points in order, searched from piece `at` on: its neighbours first, on as long as they are nearer.
pub(super) fn nearest_from(
    placed: &[Placed],
    at: usize,
    closed: bool,
    p: &Point2<f64>,
) -> (usize, f64, f64, f64) {
    let n = placed.len();
    if n <= 4 {
        return nearest(placed, p);
    }
    let of = |j: usize| {
        let (s, r, d) = placed[j].nearest(p);
        (j, s, r, d)
    };
    let mut best = of(at);
    for way in [1, n - 1] {
        let mut misses = 0;
        let mut j = at;
        // Two pieces that are no nearer end the search: one may be a short one past a bend.
        for _ in 0..n / 2 {
            let end = if way == 1 { j + 1 == n } else { j == 0 };
            if end && !closed {
                break;
            }
            j = (j + way) % n;
            let found = of(j);
            if found.3 < best.3 {
                best = found;
                misses = 0;
            } else {
                misses += 1;
                if misses > 1 {
                    break;
                }
            }
        }
    }
    best
}
