//! A smooth line through few points: arcs by tangents, blended.
//!
//! The direction at a point lies between those of the two stretches it joins: nearer to the one that belongs to a straight
//! run, as a hand would draw it (after H. Akima (1970) J. ACM 17, 589, with curvatures for slopes), and as on a circle where
//! both sides are curved alike. Between two points the line runs from the arc that leaves the first over to the arc that
//! arrives at the second. Straight stretches, arcs and arcs that leave a straight line at a point come out as they are, and
//! nothing overshoots at a corner, which splines do. A sharp corner is rounded within its two stretches.

use geom::{Point, Unit, Vector};

/// Distance of the places at which the line is given, mm.
const STEP: f64 = 1.5;
/// A run of points this much less curved than the other side of a point is straight.
const STRAIGHT: f64 = 0.02;

/// How many places each stretch between points has.
pub fn counts(points: &[Point], closed: bool) -> Vec<usize> {
    let n = points.len();
    let spans = if closed { n } else { n - 1 };
    (0..spans)
        .map(|i| {
            let d = (points[(i + 1) % n] - points[i]).norm();
            ((d / STEP).ceil() as usize).clamp(4, 400)
        })
        .collect()
}

/// The places of the line: `counts` of each stretch, its first point included; of an open one the last point as well.
pub fn places(points: &[Point], closed: bool, counts: &[usize]) -> Vec<Point> {
    let line = Outline::new(points, closed);
    let mut out = Vec::with_capacity(counts.iter().sum::<usize>() + 1);
    for (i, count) in counts.iter().enumerate() {
        for k in 0..*count {
            out.push(line.at(i, k as f64 / *count as f64));
        }
    }
    if !closed {
        out.push(points[points.len() - 1]);
    }
    out
}

/// A line through points, with the direction at each. A point changes the three stretches before it and after it.
pub struct Outline<'p> {
    points: &'p [Point],
    directions: Vec<Vector>,
}

impl<'p> Outline<'p> {
    /// Through three points or more in order.
    pub fn new(points: &'p [Point], closed: bool) -> Self {
        let n = points.len();
        let chord = |i: usize| points[(i + 1) % n] - points[i % n];
        // Turn at a point over the mean of its two stretches; 0 at an open end.
        let inner = |i: usize| closed || i > 0 && i + 1 < n;
        let turn = |i: usize| {
            let (a, b) = (chord(i + n - 1), chord(i));
            a.cross(&b).norm().atan2(a.dot(&b))
        };
        let bend = |i: usize| {
            if !inner(i) {
                return None;
            }
            let length = f64::midpoint(chord(i + n - 1).norm(), chord(i).norm());
            Some(turn(i) / length.max(1e-12))
        };
        let mut directions: Vec<Vector> = (0..n)
            .map(|i| {
                if !inner(i) {
                    return Vector::zeros();
                }
                let (a, b) = (chord(i + n - 1), chord(i));
                let own = bend(i).unwrap_or(0.0);
                let before = bend((i + n - 1) % n).unwrap_or(own);
                let after = bend((i + 1) % n).unwrap_or(own);
                let least = STRAIGHT * before.max(after) + 1e-12;
                let (x, y) = (a.norm() * (before + least), b.norm() * (after + least));
                between(&a, &b, x / (x + y).max(1e-300))
            })
            .collect();
        if !closed {
            // At an open end as if the last stretch were an arc.
            let mirrored = |d: Vector, t: Vector| {
                let e = d.normalize();
                e * (2.0 * e.dot(&t)) - t
            };
            directions[0] = mirrored(chord(0), directions[1]);
            directions[n - 1] = mirrored(chord(n - 2), directions[n - 2]);
        }
        Self { points, directions }
    }

    /// The line between point `i` and the next, at share `t` of the stretch.
    pub fn at(&self, i: usize, t: f64) -> Point {
        let n = self.points.len();
        let j = (i + 1) % n;
        let (p, q) = (&self.points[i], &self.points[j]);
        let leaving = on_arc(p, q, &self.directions[i], t);
        let arriving = on_arc(q, p, &-self.directions[j], 1.0 - t);
        let w = (std::f64::consts::FRAC_PI_2 * t).sin().powi(2);
        leaving + (arriving - leaving) * w
    }
}

/// The direction at share `f` of the turn from `a` to `b`, length one.
fn between(a: &Vector, b: &Vector, f: f64) -> Vector {
    let (a, b) = (a.normalize(), b.normalize());
    let angle = a.cross(&b).norm().atan2(a.dot(&b));
    if angle < 1e-9 {
        return a;
    }
    (a * ((1.0 - f) * angle).sin() + b * (f * angle).sin()) / angle.sin().max(1e-12)
}

/// Place at share `t` (by angle) of the arc that leaves p in a direction and ends in q.
fn on_arc(p: &Point, q: &Point, direction: &Vector, t: f64) -> Point {
    let chord = q - p;
    let c = chord.norm();
    if c < 1e-12 {
        return *p;
    }
    let e = chord / c;
    let along = direction.dot(&e);
    let across = direction - e * along;
    let half = across.norm().atan2(along);
    let Some(away) = Unit::try_new(across, 1e-12) else {
        return p + chord * t;
    };
    let u = 2.0 * t - 1.0;
    let (along, sag) = if half < 1e-6 {
        (u, half / 2.0 * (1.0 - u * u))
    } else {
        let angle = u * half;
        (
            angle.sin() / half.sin().max(1e-9),
            (angle.cos() - half.cos()) / half.sin().max(1e-9),
        )
    };
    nalgebra::center(p, q) + (e * along + away.into_inner() * sag) * (c / 2.0)
}

/// By how much each point is missed by the line through all others, as a vector from that line; `None` near open ends.
pub fn misses(points: &[Point], closed: bool) -> Vec<Option<Vector>> {
    let n = points.len();
    (0..n)
        .map(|i| {
            if !closed && (i == 0 || i + 1 == n) {
                return None;
            }
            let mut rest = points.to_vec();
            rest.remove(i);
            // The stretch over the gap begins at the point before.
            let from = if i == 0 { n - 2 } else { i - 1 };
            let line = Outline::new(&rest, closed);
            (0..=60)
                .map(|k| points[i] - line.at(from, f64::from(k) / 60.0))
                .min_by(|a, b| a.norm_squared().total_cmp(&b.norm_squared()))
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn off_circle(n: usize) -> f64 {
        let points: Vec<Point> = (0..n)
            .map(|k| {
                let a = std::f64::consts::TAU * k as f64 / n as f64;
                Point::new(80.0 * a.cos(), 80.0 * a.sin(), 0.0)
            })
            .collect();
        places(&points, true, &counts(&points, true))
            .iter()
            .map(|p| (p.coords.norm() - 80.0).abs())
            .fold(0.0, f64::max)
    }

    #[test]
    fn circles_and_straight_lines_are_met() {
        assert!(off_circle(6) < 1e-9 && off_circle(12) < 1e-9);
        let line: Vec<Point> = (0..5)
            .map(|k| {
                Point::new(f64::from(k) * 20.0, f64::from(k * k), 0.0) * 0.0
                    + Vector::new(f64::from(k) * 20.0, 3.0, 1.0)
            })
            .collect();
        for p in places(&line, false, &counts(&line, false)) {
            assert!((p.y - 3.0).abs() < 1e-12 && (p.z - 1.0).abs() < 1e-12);
        }
        assert!(
            misses(&line, false)
                .iter()
                .flatten()
                .all(|m| m.norm() < 1e-9)
        );
    }

    #[test]
    fn a_rounded_corner_does_not_overshoot() {
        // Straight sides of 100 mm, corner radius 30: tangent points and the middle of the arc.
        let s = 30.0 / 2f64.sqrt();
        let points: Vec<Point> = [
            (-100.0, 30.0),
            (-50.0, 30.0),
            (0.0, 30.0),
            (s, s),
            (30.0, 0.0),
            (30.0, -50.0),
            (30.0, -100.0),
        ]
        .iter()
        .map(|(x, y)| Point::new(*x, *y, 0.0))
        .collect();
        for p in places(&points, false, &counts(&points, false)) {
            let off = if p.x < 0.0 {
                p.y - 30.0
            } else if p.y < 0.0 {
                p.x - 30.0
            } else {
                p.coords.norm() - 30.0
            };
            assert!(off.abs() < 0.4, "{p:?}: {off}");
            assert!(p.x < 30.4 && p.y < 30.4);
        }
    }
}
