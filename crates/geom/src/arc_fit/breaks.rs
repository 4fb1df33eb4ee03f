//! Where one line or arc ends and the next begins: exact dynamic programming.

use nalgebra::{Matrix3, Point2, Vector3};

use super::Sample;

/// Points whose distances are worked out side by side.
const TOGETHER: usize = 8;

/// Samples in order, seen from a moving start.
pub(super) struct Ring<'a> {
    samples: &'a [Sample],
    closed: bool,
}

/// Fewest pieces up to a sample, least squares among those, and where the last piece began.
#[derive(Clone, Copy)]
struct Best {
    pieces: usize,
    squares: f64,
    from: usize,
}

impl<'a> Ring<'a> {
    pub(super) fn new(samples: &'a [Sample], closed: bool) -> Self {
        Self { samples, closed }
    }

    /// Breakpoints (places of samples, ascending, the first 0; for an open outline also the last) from the first.
    pub(super) fn breaks(&self, tolerance: f64) -> Vec<usize> {
        self.breaks_from(0, tolerance)
    }

    /// Breakpoints; `anywhere`: on a closed outline the first sample need not be one, so that it is begun again at one
    /// that was found.
    pub(super) fn breaks_anywhere(&self, tolerance: f64, anywhere: bool) -> Vec<usize> {
        let found = self.breaks(tolerance);
        if self.closed && anywhere {
            self.breaks_from(found[found.len() / 2], tolerance)
        } else {
            found
        }
    }

    /// Breakpoints in order, beginning at the sample `first`. Every piece is within `tolerance` of a line or circle,
    /// or one step long; sharp corners are always breakpoints.
    pub(super) fn breaks_from(&self, first: usize, tolerance: f64) -> Vec<usize> {
        let n = self.samples.len();
        let last = if self.closed { n } else { n - 1 };
        let at = |i: usize| &self.samples[(first + i) % n];
        let places: Vec<Point2<f64>> = (0..=last).map(|i| at(i).at).collect();
        let mut best = vec![
            Best {
                pieces: usize::MAX,
                squares: f64::INFINITY,
                from: 0,
            };
            last + 1
        ];
        best[0] = Best {
            pieces: 0,
            squares: 0.0,
            from: 0,
        };
        for i in 0..last {
            let (pieces, squares) = (best[i].pieces + 1, best[i].squares);
            let mut sums = Sums::about(places[i]);
            sums.add(places[i]);
            let mut misses = 0;
            #[allow(
                clippy::needless_range_loop,
                reason = "j is a place on the ring as well as in `best`"
            )]
            for j in i + 1..=last {
                sums.add(places[j]);
                let fit = if j == i + 1 {
                    Some(0.0)
                } else {
                    sums.circle()
                        .and_then(|c| c.within(&places[i..=j], tolerance))
                };
                match fit {
                    Some(own) => {
                        misses = 0;
                        let total = squares + own;
                        if (pieces, total) < (best[j].pieces, best[j].squares) {
                            best[j] = Best {
                                pieces,
                                squares: total,
                                from: i,
                            };
                        }
                    }
                    None => misses += 1,
                }
                if misses > 3 || at(j).sharp {
                    break;
                }
            }
        }
        let mut found = vec![last];
        while let Some(&end) = found.last().filter(|e| **e > 0) {
            found.push(best[end].from);
        }
        found.reverse();
        if self.closed {
            found.pop();
        }
        found.into_iter().map(|i| (first + i) % n.max(1)).collect()
    }
}

/// Running sums of 1, x, y and x2 + y2 about an origin, for a circle or line in one step.
struct Sums {
    origin: Point2<f64>,
    n: f64,
    m: Matrix3<f64>,
    r: Vector3<f64>,
}

/// The curve A (x2 + y2) + b . x + c = 0 near a piece, scaled so that its value is the distance to first order.
struct Circle {
    origin: Point2<f64>,
    bent: f64,
    b: [f64; 2],
    c: f64,
}

impl Sums {
    fn about(origin: Point2<f64>) -> Self {
        Self {
            origin,
            n: 0.0,
            m: Matrix3::zeros(),
            r: Vector3::zeros(),
        }
    }

    fn add(&mut self, p: Point2<f64>) {
        let v = p - self.origin;
        let row = Vector3::new(v.x, v.y, 1.0);
        self.n += 1.0;
        self.m += row * row.transpose();
        self.r += row * v.norm_squared();
    }

    /// The circle of least algebraic squares, or the line where the points bend too little for one. Good enough to
    /// find breakpoints on smooth points; radii are fitted later.
    fn circle(&self) -> Option<Circle> {
        let (sx, sy) = (self.m[(0, 2)] / self.n, self.m[(1, 2)] / self.n);
        let xx = self.m[(0, 0)] / self.n - sx * sx;
        let xy = self.m[(0, 1)] / self.n - sx * sy;
        let yy = self.m[(1, 1)] / self.n - sy * sy;
        let half = (xx - yy) / 2.0;
        let root = half.hypot(xy);
        let mean = f64::midpoint(xx, yy);
        let (wide, thin) = (mean + root, mean - root);
        if thin <= 1e-12 * wide {
            let turn = 0.5 * xy.atan2(half);
            let normal = [-turn.sin(), turn.cos()];
            return Some(Circle {
                origin: self.origin,
                bent: 0.0,
                b: normal,
                c: -(normal[0] * sx + normal[1] * sy),
            });
        }
        let q = self.m.lu().solve(&self.r)?;
        let radius2 = q.z + (q.x * q.x + q.y * q.y) / 4.0;
        let radius = Some(radius2).filter(|r| *r > 0.0)?.sqrt();
        let s = 1.0 / (2.0 * radius);
        Some(Circle {
            origin: self.origin,
            bent: s,
            b: [-q.x * s, -q.y * s],
            c: -q.z * s,
        })
    }
}

impl Circle {
    /// Sum of squared distances if none is above `tolerance`.
    fn within(&self, points: &[Point2<f64>], tolerance: f64) -> Option<f64> {
        let mut sum = 0.0;
        let limit = tolerance * tolerance;
        for few in points.chunks(TOGETHER) {
            let mut squares = [0.0; TOGETHER];
            for (square, p) in squares.iter_mut().zip(few) {
                let v = p - self.origin;
                let f = self.bent * v.norm_squared() + self.b[0] * v.x + self.b[1] * v.y + self.c;
                // f = (d2 - r2) / 2r with d the distance from the middle: d - r = 2 f / (1 + sqrt(1 + 2 f / r)).
                let d = 2.0 * f / (1.0 + (1.0 + 4.0 * self.bent * f).max(0.0).sqrt());
                *square = d * d;
            }
            if squares.iter().any(|s| *s > limit) {
                return None;
            }
            sum += squares.iter().sum::<f64>();
        }
        Some(sum)
    }
}
