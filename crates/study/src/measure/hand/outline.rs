//! A smooth line through few points: blended circles.
//!
//! Between two points the line runs from the circle through the first, its forerunner and the second over to the circle
//! through both and the next (M. Szilvasi-Nagy, T. P. Vendel (2000) Computer-Aided Geometric Design 17, 135: curves by
//! blended circles). Straight stretches and arcs come out as they are, and nothing overshoots at a corner, which splines
//! do. A sharp corner must be a point.

use geom::{Point, Unit, Vector};

/// Distance of the places at which the line is given, mm.
const STEP: f64 = 1.5;

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
    let n = points.len();
    let mut out = Vec::with_capacity(counts.iter().sum::<usize>() + 1);
    for (i, count) in counts.iter().enumerate() {
        for k in 0..*count {
            out.push(on_stretch(points, closed, i, k as f64 / *count as f64));
        }
    }
    if !closed {
        out.push(points[n - 1]);
    }
    out
}

/// The line between point `i` and the next, at share `t` of the stretch.
pub fn on_stretch(points: &[Point], closed: bool, i: usize, t: f64) -> Point {
    let n = points.len();
    let (p, q) = (points[i], points[(i + 1) % n]);
    let before = (closed || i > 0).then(|| points[(i + n - 1) % n]);
    let after = (closed || i + 2 < n).then(|| points[(i + 2) % n]);
    let arc = |third: &Point| on_arc(&p, &q, third, t);
    match (before, after) {
        (Some(a), Some(b)) => {
            let w = (std::f64::consts::FRAC_PI_2 * t).sin().powi(2);
            let (a, b) = (arc(&a), arc(&b));
            a + (b - a) * w
        }
        (Some(a), None) | (None, Some(a)) => arc(&a),
        (None, None) => p + (q - p) * t,
    }
}

/// Place at share `t` (by angle) of the arc from p to q of the circle through both and a third point, on the side away from
/// it: half the angle at the centre is the angle under which the third point sees the chord.
fn on_arc(p: &Point, q: &Point, third: &Point, t: f64) -> Point {
    let chord = q - p;
    let c = chord.norm();
    if c < 1e-12 {
        return *p;
    }
    let e = chord / c;
    let (a, b) = (p - third, q - third);
    let half = a.cross(&b).norm().atan2(a.dot(&b));
    let from_third = nalgebra::center(p, q) - third;
    let away = from_third - e * from_third.dot(&e);
    let Some(away) = Unit::try_new(away, 1e-12 * c) else {
        return p + chord * t;
    };
    let u = 2.0 * t - 1.0;
    let (along, sag) = if half < 1e-6 {
        (u, half / 2.0 * (1.0 - u * u))
    } else {
        let angle = u * half;
        (
            angle.sin() / half.sin(),
            (angle.cos() - half.cos()) / half.sin(),
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
            (0..=60)
                .map(|k| points[i] - on_stretch(&rest, closed, from, f64::from(k) / 60.0))
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
            // The stretch of 50 mm beside the corner bulges by 1.5 mm: a point half way halves it.
            assert!(off.abs() < 1.6, "{p:?}: {off}");
            assert!(p.x < 31.6 && p.y < 31.6);
        }
    }
}
