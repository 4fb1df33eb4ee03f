//! Pieces of a chain in place, and what of them lies nearest to a point.

use std::f64::consts::{PI, TAU};

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
        let (point, along) = self.at(s);
        self.by_curvature_at(s, &point, along)
    }

    /// The same where place and direction are known.
    pub(super) fn by_curvature_at(
        &self,
        s: f64,
        at: &Point2<f64>,
        along: Vector2<f64>,
    ) -> Vector2<f64> {
        let turn = self.k * s;
        if turn.abs() < 1e-3 {
            let (sin, cos) = (turn * 2.0 / 3.0).sin_cos();
            return left(turned(self.along, cos, sin)) * (s * s / 2.0);
        }
        (along * s - (at - self.start)) / self.k
    }

    /// Coordinates of `p` along and to the left of the piece at its start, and at its end.
    fn at_ends(&self, p: &Point2<f64>) -> [Vector2<f64>; 2] {
        [(p - self.start, self.along), (p - self.end, self.end_along)]
            .map(|(v, along)| Vector2::new(v.dot(&along), v.dot(&left(along))))
    }

    /// Which place of the piece is nearest to `p`. No angle is worked out: the foot lies on the piece where `p` is ahead of its start
    /// and behind its end, of a piece of more than half a circle where it is either.
    fn foot(&self, p: &Point2<f64>) -> Foot {
        let [v, w] = self.at_ends(p);
        let turn = (self.k * self.length).abs();
        let between = if turn > PI {
            v.x >= 0.0 || w.x <= 0.0
        } else {
            v.x >= 0.0 && w.x <= 0.0
        };
        if between {
            return Foot::Between(v);
        }
        let (to_start, to_end) = (v.norm_squared(), w.norm_squared());
        if to_start <= to_end {
            Foot::Start(v, to_start)
        } else {
            Foot::End(w, to_end)
        }
    }

    /// Signed distance of a place from the circle or line of the piece, + to the left, from its coordinates at the start.
    /// (d - r) with d^2 - r^2 divided out, which is good for every curvature and none.
    fn off(&self, v: &Vector2<f64>) -> f64 {
        let from_centre = self.towards(v).norm();
        (2.0 * v.y - self.k * v.norm_squared()) / (1.0 + from_centre)
    }

    /// Cosine and sine of the angle that is turned up to the foot, both times the distance from the centre over the radius.
    fn towards(&self, v: &Vector2<f64>) -> Vector2<f64> {
        Vector2::new(1.0 - self.k * v.y, self.k * v.x)
    }

    fn squared_distance(&self, p: &Point2<f64>) -> f64 {
        match self.foot(p) {
            Foot::Between(v) => self.off(&v).powi(2),
            Foot::Start(_, squared) | Foot::End(_, squared) => squared,
        }
    }

    /// The nearest place.
    pub(super) fn nearest(&self, p: &Point2<f64>) -> Near {
        match self.foot(p) {
            Foot::Start(v, squared) => Near {
                s: 0.0,
                at: self.start,
                along: self.along,
                off: v.y,
                distance: squared.sqrt(),
            },
            Foot::End(w, squared) => Near {
                s: self.length,
                at: self.end,
                along: self.end_along,
                off: w.y,
                distance: squared.sqrt(),
            },
            Foot::Between(v) => {
                let off = self.off(&v);
                let towards = self.towards(&v);
                let s = if (self.k * self.length).abs() < 1e-9 {
                    v.x
                } else {
                    let turn = towards.y.atan2(towards.x);
                    // A foot past half a circle is counted on, not back.
                    let turn = if turn * self.k < 0.0 {
                        turn + TAU.copysign(self.k)
                    } else {
                        turn
                    };
                    turn / self.k
                };
                let along = towards
                    .try_normalize(0.0)
                    .map_or(self.along, |t| turned(self.along, t.x, t.y));
                Near {
                    s: s.clamp(0.0, self.length),
                    at: p - left(along) * off,
                    along,
                    off,
                    distance: off.abs(),
                }
            }
        }
    }
}

/// Where on a piece the nearest place lies: at an end, with the coordinates there and the squared distance, or between
/// them, with the coordinates at the start.
enum Foot {
    Start(Vector2<f64>, f64),
    End(Vector2<f64>, f64),
    Between(Vector2<f64>),
}

/// The place of a piece that is nearest to a point.
pub(super) struct Near {
    /// Arc length on the piece.
    pub s: f64,
    /// The place and the direction there.
    pub at: Point2<f64>,
    pub along: Vector2<f64>,
    /// Distance along the normal there, + to the left.
    pub off: f64,
    pub distance: f64,
}

/// The piece of the chain that is nearest to `p`.
pub(super) fn nearest_piece(placed: &[Placed], p: &Point2<f64>) -> usize {
    let mut best = (0, f64::INFINITY);
    for (j, piece) in placed.iter().enumerate() {
        let d = piece.squared_distance(p);
        if d < best.1 {
            best = (j, d);
        }
    }
    best.0
}

/// The same for points in order, searched from piece `at` on: its neighbours first, on as long as they are nearer.
pub(super) fn nearest_from(placed: &[Placed], at: usize, closed: bool, p: &Point2<f64>) -> usize {
    let n = placed.len();
    if n <= 4 {
        return nearest_piece(placed, p);
    }
    let mut best = (at, placed[at].squared_distance(p));
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
            let found = placed[j].squared_distance(p);
            if found < best.1 {
                best = (j, found);
                misses = 0;
            } else {
                misses += 1;
                if misses > 1 {
                    break;
                }
            }
        }
    }
    best.0
}
