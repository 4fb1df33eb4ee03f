//! The part's edge as a curve that can be cut again after the part has moved.

use std::sync::Arc;

use geom::{Point, Vector};

/// A dense chain of points read as a smooth curve (cubic pieces with the chords of the neighbours as tangents). Copies
/// share it: one part is tried in many ways.
#[derive(Clone, Debug, PartialEq)]
pub struct EdgeCurve {
    points: Arc<[Point]>,
    /// Ends and end tangents by piece.
    pieces: Arc<[[Vector; 4]]>,
    closed: bool,
}

/// A place on the curve.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cut {
    /// Which piece.
    pub piece: usize,
    /// Where it is, mm.
    pub at: Point,
    /// Derivative along the curve, any length but zero.
    pub along: Vector,
}

impl EdgeCurve {
    /// From points in order; a repeated first point at the end of a closed chain is dropped. `None` with fewer than two.
    pub fn new(points: &[Point], closed: bool) -> Option<Self> {
        let mut kept: Vec<Point> = Vec::with_capacity(points.len());
        for p in points {
            if kept.last().is_none_or(|q| (p - q).norm() > 1e-9) {
                kept.push(*p);
            }
        }
        if closed && kept.len() > 2 && (kept[0] - kept[kept.len() - 1]).norm() <= 1e-9 {
            kept.pop();
        }
        if kept.len() < 2 {
            return None;
        }
        let count = kept.len() - usize::from(!closed);
        let pieces = (0..count).map(|k| piece(&kept, closed, k)).collect();
        Some(Self {
            points: kept.into(),
            pieces,
            closed,
        })
    }

    fn pieces(&self) -> usize {
        self.pieces.len()
    }

    /// Pieces whose start lies nearest to each of `places`, which run along the curve.
    pub fn nearest(&self, places: &[Point]) -> Vec<usize> {
        let n = self.points.len();
        let window = 2 * n / places.len().max(1) + 8;
        let reach = window.min(n / 2);
        let squared = |i: usize, p: &Point| (self.points[i] - p).norm_squared();
        // The nearest of `count <= n + 1` points in turn from `first` on; of equally near ones the first.
        let nearest = |first: usize, count: usize, p: &Point| {
            let (mut best, mut least) = (first, squared(first, p));
            for k in 1..count {
                let i = first + k;
                let i = if i >= n { i - n } else { i };
                let d2 = squared(i, p);
                if d2.total_cmp(&least).is_lt() {
                    (best, least) = (i, d2);
                }
            }
            (best, least)
        };
        let mut last: Option<usize> = None;
        places
            .iter()
            .map(|p| {
                let found = last.and_then(|l| {
                    let (best, least) = nearest((l + n - reach) % n, 2 * reach + 1, p);
                    // A true nearest point lies inside the window and within about a step of the place.
                    let step = (self.points[(best + 1) % n] - self.points[best]).norm();
                    (least.sqrt() <= 2.0 * step).then_some(best)
                });
                let best = found.unwrap_or_else(|| nearest(0, n, p).0);
                last = Some(best);
                best.min(self.pieces() - 1)
            })
            .collect()
    }

    /// Where the curve crosses the plane through `o` with normal `n`, searched from `piece` on. Beyond the ends of an
    /// open curve its end pieces go on straight.
    pub fn cut(&self, piece: usize, o: &Point, n: &Vector) -> Cut {
        let pieces = self.pieces();
        let mut k = piece.min(pieces - 1);
        let mut came_from = None;
        let mut s = 0.5;
        for _ in 0..pieces + 4 {
            let [p1, p2, m1, m2] = &self.pieces[k];
            s = solve_piece(
                n.dot(&(p1 - o.coords)),
                n.dot(&(p2 - o.coords)),
                n.dot(m1),
                n.dot(m2),
            );
            let next = if s < 0.0 {
                self.step(k, false)
            } else if s > 1.0 {
                self.step(k, true)
            } else {
                None
            };
            match next {
                Some(j) if came_from != Some(j) => {
                    came_from = Some(k);
                    k = j;
                }
                _ => break,
            }
        }
        let [p1, p2, m1, m2] = &self.pieces[k];
        let (at, along) = hermite(s, p1, p2, m1, m2);
        Cut {
            piece: k,
            at: Point::from(at),
            along,
        }
    }

    fn step(&self, k: usize, forward: bool) -> Option<usize> {
        let n = self.pieces();
        if self.closed {
            Some(if forward {
                (k + 1) % n
            } else {
                (k + n - 1) % n
            })
        } else if forward {
            (k + 1 < n).then_some(k + 1)
        } else {
            k.checked_sub(1)
        }
    }
}

/// Ends and end tangents of a piece, tangents per piece length (Catmull-Rom with unequal spacing).
fn piece(points: &[Point], closed: bool, k: usize) -> [Vector; 4] {
    let n = points.len();
    let after = |by: usize| {
        if closed {
            Some(points[(k + by) % n])
        } else {
            points.get(k + by).copied()
        }
    };
    let before = match k.checked_sub(1) {
        Some(j) => Some(points[j]),
        None => closed.then(|| points[n - 1]),
    };
    let p1 = points[k];
    let p2 = after(1).unwrap_or(p1);
    let chord = p2 - p1;
    let l = chord.norm();
    let tangent = |before: Option<Point>, at: Point, after: Option<Point>| -> Vector {
        match (before, after) {
            (Some(b), Some(a)) => {
                let (h0, h1) = ((at - b).norm(), (a - at).norm());
                ((at - b) * (h1 / h0) + (a - at) * (h0 / h1)) * (l / (h0 + h1))
            }
            _ => chord,
        }
    };
    [
        p1.coords,
        p2.coords,
        tangent(before, p1, Some(p2)),
        tangent(Some(p1), p2, after(2)),
    ]
}

/// Position and derivative of a cubic piece; straight beyond its ends.
fn hermite(s: f64, p1: &Vector, p2: &Vector, m1: &Vector, m2: &Vector) -> (Vector, Vector) {
    if s < 0.0 {
        return (p1 + m1 * s, *m1);
    }
    if s > 1.0 {
        return (p2 + m2 * (s - 1.0), *m2);
    }
    let (s2, s3) = (s * s, s * s * s);
    let at = p1 * (2.0 * s3 - 3.0 * s2 + 1.0)
        + m1 * (s3 - 2.0 * s2 + s)
        + p2 * (3.0 * s2 - 2.0 * s3)
        + m2 * (s3 - s2);
    let along =
        (p2 - p1) * (6.0 * (s - s2)) + m1 * (3.0 * s2 - 4.0 * s + 1.0) + m2 * (3.0 * s2 - 2.0 * s);
    (at, along)
}

/// Where the height over the plane, `a` and `b` at the ends with slopes `ma` and `mb`, is zero; outside 0..=1 on the
/// straight continuation.
fn solve_piece(a: f64, b: f64, ma: f64, mb: f64) -> f64 {
    if a * b > 0.0 {
        let (before, after) = (-a / ma, 1.0 - b / mb);
        // Both signs equal: the crossing lies behind the end that is nearer to the plane.
        return if a.abs() < b.abs() {
            if before.is_finite() {
                before.min(-1e-12)
            } else {
                -1.0
            }
        } else if after.is_finite() {
            after.max(1.0 + 1e-12)
        } else {
            2.0
        };
    }
    let value = |s: f64| {
        let (s2, s3) = (s * s, s * s * s);
        let v = a * (2.0 * s3 - 3.0 * s2 + 1.0)
            + ma * (s3 - 2.0 * s2 + s)
            + b * (3.0 * s2 - 2.0 * s3)
            + mb * (s3 - s2);
        let d =
            (b - a) * 6.0 * (s - s2) + ma * (3.0 * s2 - 4.0 * s + 1.0) + mb * (3.0 * s2 - 2.0 * s);
        (v, d)
    };
    let (mut low, mut high) = (0.0, 1.0);
    let mut s = if a == b { 0.0 } else { a / (a - b) };
    for _ in 0..60 {
        let (v, d) = value(s);
        if v == 0.0 {
            break;
        }
        if (v > 0.0) == (a > 0.0) && a != 0.0 {
            low = s;
        } else {
            high = s;
        }
        let newton = s - v / d;
        let next = if newton > low && newton < high {
            newton
        } else {
            0.5 * (low + high)
        };
        if (next - s).abs() <= 1e-15 {
            s = next;
            break;
        }
        s = next;
    }
    s
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    fn circle(r: f64, n: usize) -> EdgeCurve {
        let p: Vec<Point> = (0..=n)
            .map(|k| TAU * k as f64 / n as f64)
            .map(|a| Point::new(r * a.cos(), r * a.sin(), 0.0))
            .collect();
        EdgeCurve::new(&p, true).unwrap()
    }

    #[test]
    fn cuts_a_circle_everywhere() {
        let c = circle(100.0, 628);
        for k in 0..1000 {
            let a = TAU * f64::from(k) / 1000.0;
            let n = Vector::new(-a.sin(), a.cos(), 0.0);
            let start = c.nearest(&[Point::new(
                100.0 * (a + 0.05).cos(),
                100.0 * (a + 0.05).sin(),
                0.0,
            )])[0];
            let cut = c.cut(start, &Point::origin(), &n);
            let want = Point::new(100.0 * a.cos(), 100.0 * a.sin(), 0.0);
            assert!((cut.at - want).norm() < 1e-6, "{k}: {} {want}", cut.at);
            assert!(cut.along.dot(&n) > 0.0);
        }
    }

    #[test]
    fn a_slide_past_a_corner_costs_what_geometry_says() {
        // Slide tau along the tangent of a circle of radius r: the section plane stays, the gap opens by
        // r - sqrt(r^2 - tau^2): 0.1003 mm at r = 20, tau = 2.
        let r = 20.0;
        let c = circle(r, 400);
        let o = Point::new(r, 0.0, 0.0);
        let cut = c.cut(0, &(o + Vector::new(0.0, -2.0, 0.0)), &Vector::y());
        assert!((r - cut.at.x - (r - (r * r - 4.0).sqrt())).abs() < 1e-7);
    }

    #[test]
    fn an_open_edge_goes_on_straight() {
        let p: Vec<Point> = (0..=10)
            .map(|k| Point::new(f64::from(k), 0.0, 0.0))
            .collect();
        let c = EdgeCurve::new(&p, false).unwrap();
        for x in [-3.0, 0.0, 4.5, 10.0, 12.0] {
            let cut = c.cut(5, &Point::new(x, 0.0, 0.0), &Vector::x());
            assert!((cut.at.x - x).abs() < 1e-12, "{x}: {}", cut.at);
        }
        assert!(EdgeCurve::new(&p[..1], false).is_none());
    }
}
