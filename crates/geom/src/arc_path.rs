//! Plane curves of straight lines and circular arcs.
//!
//! An arc is held by its bulge b = tan(sweep / 4): chord c, radius c (1 + b2) / (4 |b|), height of the bow b c / 2.

use std::f64::consts::{PI, TAU};

use nalgebra::{Isometry2, Point2, Vector2};

/// One piece of an [`ArcPath`]: from its start to the start of the next (or to `end`).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ArcPiece {
    /// Start, mm.
    pub start: Point2<f64>,
    /// tan(sweep / 4): 0 for a line, + counter-clockwise; |bulge| <= 1.
    pub bulge: f64,
}

/// A chain of lines and arcs in a plane.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct ArcPath {
    /// Pieces in order.
    pub pieces: Vec<ArcPiece>,
    /// End of the last piece; `None`: it closes on the first.
    pub end: Option<Point2<f64>>,
}

/// One line or arc with both ends, mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ArcSegment {
    /// Start.
    pub start: Point2<f64>,
    /// End.
    pub end: Point2<f64>,
    /// tan(sweep / 4): 0 for a line, + counter-clockwise.
    pub bulge: f64,
}

/// Below this bulge the middle of the circle is so far away that it no longer says where the arc is: a place on the
/// arc is taken from its chord (bow below 5e-9 of the chord).
const FLAT_BULGE: f64 = 1e-8;

/// A quarter turn to the left.
fn left(v: &Vector2<f64>) -> Vector2<f64> {
    Vector2::new(-v.y, v.x)
}

impl ArcSegment {
    /// Signed turn from start to end, rad; + counter-clockwise.
    pub fn sweep(&self) -> f64 {
        4.0 * self.bulge.atan()
    }

    /// Length, mm.
    pub fn length(&self) -> f64 {
        let chord = (self.end - self.start).norm();
        let half = self.sweep().abs() / 2.0;
        if half < 1e-8 {
            return chord;
        }
        chord * half / half.sin()
    }

    /// Middle and radius of an arc; `None` for a line.
    pub fn circle(&self) -> Option<(Point2<f64>, f64)> {
        if self.bulge == 0.0 {
            return None;
        }
        let b = self.bulge;
        let chord = self.end - self.start;
        let to_centre = left(&chord) * ((1.0 - b * b) / (4.0 * b));
        let centre = nalgebra::center(&self.start, &self.end) + to_centre;
        Some((centre, chord.norm() * (1.0 + b * b) / (4.0 * b.abs())))
    }

    /// The circle where it is near enough to be used for places.
    fn bent(&self) -> Option<(Point2<f64>, f64)> {
        self.circle().filter(|_| self.bulge.abs() > FLAT_BULGE)
    }

    /// Signed curvature, 1/mm; + where it turns counter-clockwise.
    pub fn curvature(&self) -> f64 {
        self.circle().map_or(0.0, |(_, r)| self.bulge.signum() / r)
    }

    /// Direction (length one) at the share `f` of the length.
    pub fn tangent(&self, f: f64) -> Vector2<f64> {
        let chord = (self.end - self.start).normalize();
        nalgebra::Rotation2::new(self.sweep() * (f - 0.5)) * chord
    }

    /// The point at the share `f` of the length, mm.
    pub fn point(&self, f: f64) -> Point2<f64> {
        match self.bent() {
            None => self.start + (self.end - self.start) * f,
            Some((c, _)) if f <= 0.5 => {
                c + nalgebra::Rotation2::new(self.sweep() * f) * (self.start - c)
            }
            Some((c, _)) => c + nalgebra::Rotation2::new(self.sweep() * (f - 1.0)) * (self.end - c),
        }
    }

    /// The place nearest to `p`: share of the length, and the point.
    pub fn nearest(&self, p: &Point2<f64>) -> (f64, Point2<f64>) {
        let chord = self.end - self.start;
        let Some((c, r)) = self.bent() else {
            let f = ((p - self.start).dot(&chord) / chord.norm_squared()).clamp(0.0, 1.0);
            return (f, self.start + chord * f);
        };
        let ray = p - c;
        if ray.norm_squared() > 0.0 {
            let from = self.start - c;
            let turn = from.perp(&ray).atan2(from.dot(&ray)) * self.bulge.signum();
            let f = turn.rem_euclid(TAU) / self.sweep().abs();
            if f <= 1.0 {
                return (f, c + ray * (r / ray.norm()));
            }
        }
        if (p - self.start).norm_squared() <= (p - self.end).norm_squared() {
            (0.0, self.start)
        } else {
            (1.0, self.end)
        }
    }

    /// Twice the area between the segment and its chord, mm2; + where the bow is to the right of the chord.
    fn twice_bow(&self) -> f64 {
        self.circle().map_or(0.0, |(_, r)| {
            let a = self.sweep().abs();
            // a - sin a loses digits for flat arcs; its series does not.
            let bow = if a < 1e-2 {
                a.powi(3) / 6.0 * (1.0 - a * a / 20.0)
            } else {
                a - a.sin()
            };
            self.bulge.signum() * r * r * bow
        })
    }
}

impl ArcPath {
    /// A closed path from starts and bulges.
    pub fn closed(pieces: impl IntoIterator<Item = ([f64; 2], f64)>) -> Self {
        Self {
            pieces: pieces
                .into_iter()
                .map(|(p, bulge)| ArcPiece {
                    start: Point2::from(p),
                    bulge,
                })
                .collect(),
            end: None,
        }
    }

    /// Whether it closes on its start.
    pub fn is_closed(&self) -> bool {
        self.end.is_none()
    }

    /// The pieces with both ends, in order. A closed path of one piece has none.
    pub fn segments(&self) -> Vec<ArcSegment> {
        let n = self.pieces.len();
        let count = if n < 2 && self.end.is_none() { 0 } else { n };
        (0..count)
            .map(|i| ArcSegment {
                start: self.pieces[i].start,
                end: match self.end {
                    Some(end) if i + 1 == n => end,
                    _ => self.pieces[(i + 1) % n].start,
                },
                bulge: self.pieces[i].bulge,
            })
            .collect()
    }

    /// Whole length, mm.
    pub fn length(&self) -> f64 {
        self.segments().iter().map(ArcSegment::length).sum()
    }

    /// Enclosed area, arcs exact, mm2; + counter-clockwise. An open path is closed by a straight line.
    pub fn area(&self) -> f64 {
        let Some(first) = self.pieces.first() else {
            return 0.0;
        };
        let o = first.start;
        let twice: f64 = self
            .segments()
            .iter()
            .map(|s| (s.start - o).perp(&(s.end - o)) + s.twice_bow())
            .sum();
        twice / 2.0
    }

    /// Signed turn all the way along, joints included, rad: +-2 pi for a simple closed path.
    pub fn turning(&self) -> f64 {
        let arcs: f64 = self.segments().iter().map(ArcSegment::sweep).sum();
        arcs + self.joints().iter().sum::<f64>()
    }

    /// Signed turn at each joint, rad: between the end of a piece and the start of the next. 0 where tangent.
    pub fn joints(&self) -> Vec<f64> {
        let s = self.segments();
        let n = s.len();
        (0..if self.is_closed() {
            n
        } else {
            n.saturating_sub(1)
        })
            .map(|i| {
                let (a, b) = (s[i].tangent(1.0), s[(i + 1) % n].tangent(0.0));
                a.perp(&b).atan2(a.dot(&b))
            })
            .collect()
    }

    /// The point at arc length `s` from the start (wrapped when closed, held at the ends when open), mm.
    pub fn point_at(&self, s: f64) -> Option<Point2<f64>> {
        let segments = self.segments();
        let whole = self.length();
        let mut rest = if self.is_closed() {
            s.rem_euclid(whole)
        } else {
            s.clamp(0.0, whole)
        };
        for segment in &segments {
            let length = segment.length();
            if rest <= length {
                return Some(segment.point(rest / length));
            }
            rest -= length;
        }
        segments.last().map(|s| s.end)
    }

    /// Distance of `p` from the path, mm; infinite for an empty path.
    pub fn distance(&self, p: &Point2<f64>) -> f64 {
        self.segments()
            .iter()
            .map(|s| (s.nearest(p).1 - p).norm())
            .fold(f64::INFINITY, f64::min)
    }

    /// Smallest and largest coordinates, arcs exact, mm; `None` for an empty path.
    pub fn bounds(&self) -> Option<(Point2<f64>, Point2<f64>)> {
        let segments = self.segments();
        let first = segments.first()?.start;
        let (mut low, mut high) = (first, first);
        let mut add = |p: Point2<f64>| {
            low = low.inf(&p);
            high = high.sup(&p);
        };
        for s in &segments {
            add(s.start);
            add(s.end);
            if let Some((c, r)) = s.circle() {
                for reach in [Vector2::x(), -Vector2::x(), Vector2::y(), -Vector2::y()] {
                    let p = c + reach * r;
                    let (f, q) = s.nearest(&p);
                    if f > 0.0 && f < 1.0 {
                        add(q);
                    }
                }
            }
        }
        Some((low, high))
    }

    /// The same path run the other way.
    #[must_use]
    pub fn reversed(&self) -> Self {
        let mut segments = self.segments();
        segments.reverse();
        Self {
            pieces: segments
                .iter()
                .map(|s| ArcPiece {
                    start: s.end,
                    bulge: -s.bulge,
                })
                .collect(),
            end: self.end.and(self.pieces.first().map(|p| p.start)),
        }
    }

    /// The path after a motion of the plane.
    #[must_use]
    pub fn moved(&self, a_from_b: &Isometry2<f64>) -> Self {
        Self {
            pieces: self
                .pieces
                .iter()
                .map(|p| ArcPiece {
                    start: a_from_b * p.start,
                    bulge: p.bulge,
                })
                .collect(),
            end: self.end.map(|e| a_from_b * e),
        }
    }

    /// The mirror image about X = 0, run so that a counter-clockwise path stays counter-clockwise.
    #[must_use]
    pub fn mirrored_x(&self) -> Self {
        let flip = |p: Point2<f64>| Point2::new(-p.x, p.y);
        Self {
            pieces: self
                .pieces
                .iter()
                .map(|p| ArcPiece {
                    start: flip(p.start),
                    bulge: -p.bulge,
                })
                .collect(),
            end: self.end.map(flip),
        }
        .reversed()
    }

    /// The path with every length multiplied by `factor > 0` (millimetres to inches).
    #[must_use]
    pub fn scaled(&self, factor: f64) -> Self {
        Self {
            pieces: self
                .pieces
                .iter()
                .map(|p| ArcPiece {
                    start: p.start * factor,
                    bulge: p.bulge,
                })
                .collect(),
            end: self.end.map(|e| e * factor),
        }
    }

    /// The path with every arc above half a circle cut in two, which many readers of bulges need.
    #[must_use]
    pub fn split_wide_arcs(&self) -> Self {
        let mut pieces = Vec::new();
        for s in self.segments() {
            let parts = if s.bulge.abs() > 1.0 { 2 } else { 1 };
            let bulge = (s.sweep() / f64::from(4 * parts)).tan();
            for k in 0..parts {
                pieces.push(ArcPiece {
                    start: if k == 0 { s.start } else { s.point(0.5) },
                    bulge: if parts == 1 { s.bulge } else { bulge },
                });
            }
        }
        Self {
            pieces,
            end: self.end,
        }
    }

    /// Points along the path, ends of pieces included, at most `step` mm apart and with chords at most `sag` mm from
    /// the arc. A closed path does not repeat its first point.
    pub fn flattened(&self, step: f64, sag: f64) -> Vec<Point2<f64>> {
        let mut points = Vec::new();
        for s in self.segments() {
            let by_sag = s.circle().map_or(1.0, |(_, r)| {
                let turn = 2.0 * (1.0 - (sag / r).min(1.0)).acos();
                s.sweep().abs() / turn.max(1e-6)
            });
            let n = (s.length() / step).max(by_sag).ceil().max(1.0);
            points.extend((0..n as usize).map(|k| s.point(k as f64 / n)));
        }
        points.extend(self.end);
        points
    }

    /// Smallest radius with which the closed path turns to the side on which it bends away from its own inside
    /// (`inside = false`) or towards it (`inside = true`), mm; 0 for a sharp corner above `kink` rad; `None` if it has
    /// no such bend. Outside corners of the enclosed area bend towards the inside.
    pub fn least_radius(&self, inside: bool, kink: f64) -> Option<f64> {
        let way = if inside { 1.0 } else { -1.0 } * self.area().signum();
        let arcs = self
            .segments()
            .into_iter()
            .filter(|s| s.bulge * way > 0.0)
            .filter_map(|s| s.circle().map(|c| c.1));
        let sharp = self
            .joints()
            .into_iter()
            .filter(|j| j * way > kink)
            .map(|_| 0.0);
        arcs.chain(sharp).min_by(f64::total_cmp)
    }

    /// Arcs of the path with their middle, radius, sweep (rad, signed) and arc length of their middle from the start.
    pub fn arcs(&self) -> Vec<(Point2<f64>, f64, f64, f64)> {
        let mut found = Vec::new();
        let mut along = 0.0;
        for s in self.segments() {
            let length = s.length();
            if let Some((c, r)) = s.circle() {
                found.push((c, r, s.sweep(), along + length / 2.0));
            }
            along += length;
        }
        found
    }
}

/// Bulge of an arc of the given signed sweep, rad (|sweep| below a full turn).
pub fn bulge_of(sweep: f64) -> f64 {
    debug_assert!(sweep.abs() < 2.0 * PI);
    (sweep / 4.0).tan()
}

#[cfg(test)]
mod tests;
