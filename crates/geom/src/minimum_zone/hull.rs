//! Convex hulls, as far as the zones need them.

use std::collections::BTreeMap;

use super::settled_sign;
use crate::{FitError, Point, Unit, Vector};

/// Corners of the convex hull of a set of the plane, counter-clockwise (Andrew 1979); points on its sides are left out.
/// One corner for points all in one place, two for points on a line.
pub(crate) fn hull_2d(points: &[[f64; 2]]) -> Vec<usize> {
    let mut order: Vec<usize> = (0..points.len()).collect();
    order.sort_by(|&i, &j| {
        let (p, q) = (points[i], points[j]);
        p[0].total_cmp(&q[0]).then(p[1].total_cmp(&q[1]))
    });
    order.dedup_by(|i, j| points[*i] == points[*j]);
    if order.len() < 3 {
        return order;
    }
    let mut hull = half(points, order.iter().copied());
    let mut back = half(points, order.iter().rev().copied());
    hull.pop();
    back.pop();
    hull.extend(back);
    hull
}

fn half(points: &[[f64; 2]], order: impl Iterator<Item = usize>) -> Vec<usize> {
    let mut chain: Vec<usize> = Vec::new();
    for i in order {
        while let [.., a, b] = chain[..] {
            let (p, q, r) = (points[a], points[b], points[i]);
            if (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0]) > 0.0 {
                break;
            }
            chain.pop();
        }
        chain.push(i);
    }
    chain
}

/// The convex hull of points in space.
pub(super) enum Hull {
    /// All points lie in a plane with this normal.
    Flat(Unit),
    /// A body.
    Solid(Body),
}

/// Triangles that wind counter-clockwise seen from outside.
pub(super) struct Body {
    faces: Vec<Face>,
    /// Heights below this are rounding.
    tolerance: f64,
}

#[derive(Clone, Copy)]
struct Face {
    corners: [usize; 3],
    normal: Unit,
    offset: f64,
}

impl Face {
    fn new(points: &[Point], corners: [usize; 3]) -> Option<Self> {
        let [a, b, c] = corners.map(|i| points[i]);
        let normal = Unit::try_new((b - a).cross(&(c - a)), 0.0)?;
        Some(Self {
            corners,
            normal,
            offset: normal.dot(&a.coords),
        })
    }

    fn height(&self, p: &Point) -> f64 {
        self.normal.dot(&p.coords) - self.offset
    }

    fn sides(&self) -> [(usize, usize); 3] {
        let [a, b, c] = self.corners;
        [(a, b), (b, c), (c, a)]
    }
}

/// The index with the greatest value; the first of equals.
fn furthest(points: &[Point], value: impl Fn(&Point) -> f64) -> (usize, f64) {
    points
        .iter()
        .enumerate()
        .fold((0, f64::NEG_INFINITY), |best, (i, p)| {
            let v = value(p);
            if v > best.1 { (i, v) } else { best }
        })
}

impl Hull {
    /// Grows a tetrahedron by one point after the other. `Degenerate` if all points lie on a line.
    pub(super) fn of(points: &[Point]) -> Result<Self, FitError> {
        let a = furthest(points, |p| -p.x).0;
        let (b, length) = furthest(points, |p| (p - points[a]).norm());
        let tolerance = 1e-13 * (length + points[a].coords.amax());
        let Some(along) = Unit::try_new(points[b] - points[a], tolerance) else {
            return Err(FitError::Degenerate);
        };
        let (c, off_line) = furthest(points, |p| along.cross(&(p - points[a])).norm());
        if off_line <= 1e3 * tolerance {
            return Err(FitError::Degenerate);
        }
        let base = Face::new(points, [a, b, c]).ok_or(FitError::Degenerate)?;
        let (d, off_plane) = furthest(points, |p| base.height(p).abs());
        if off_plane <= 10.0 * tolerance {
            return Ok(Self::Flat(settled_sign(base.normal)));
        }
        let corners = if base.height(&points[d]) < 0.0 {
            [a, b, c]
        } else {
            [a, c, b]
        };
        let [a, b, c] = corners;
        let faces = [[a, b, c], [a, d, b], [b, d, c], [c, d, a]]
            .iter()
            .filter_map(|&f| Face::new(points, f))
            .collect();
        let mut body = Body { faces, tolerance };
        for i in 0..points.len() {
            body.take_in(points, i);
        }
        let worst = points
            .iter()
            .flat_map(|p| body.faces.iter().map(move |f| f.height(p)))
            .fold(0.0_f64, f64::max);
        if worst > 1e4 * tolerance {
            return Err(FitError::NoConvergence);
        }
        Ok(Self::Solid(body))
    }
}

impl Body {
    /// Replaces the faces that the point sees by a fan from their border to it.
    fn take_in(&mut self, points: &[Point], i: usize) {
        let (seen, kept): (Vec<Face>, Vec<Face>) = self
            .faces
            .iter()
            .partition(|f| f.height(&points[i]) > self.tolerance);
        if seen.is_empty() {
            return;
        }
        let mut sides: Vec<(usize, usize)> = seen.iter().flat_map(Face::sides).collect();
        sides.sort_unstable();
        self.faces = kept;
        for &(a, b) in &sides {
            if sides.binary_search(&(b, a)).is_err() {
                self.faces.extend(Face::new(points, [a, b, i]));
            }
        }
    }

    /// The normal of the thinnest slab around the body: one side on a face, or each side on an edge.
    pub(super) fn thinnest(&self, points: &[Point]) -> Unit {
        let mut corners: Vec<usize> = self.faces.iter().flat_map(|f| f.corners).collect();
        corners.sort_unstable();
        corners.dedup();
        let mut best = (f64::INFINITY, self.faces[0].normal);
        for f in &self.faces {
            let depth = corners
                .iter()
                .fold(0.0_f64, |m, &i| m.max(-f.height(&points[i])));
            if depth < best.0 {
                best = (depth, f.normal);
            }
        }
        let edges = self.edges(points);
        for (k, e) in edges.iter().enumerate() {
            for g in &edges[k + 1..] {
                let Some(mut n) = Unit::try_new(e.along.cross(&g.along), 1e-9) else {
                    continue;
                };
                let mut width = n.dot(&(e.at - g.at));
                if width < 0.0 {
                    (n, width) = (-n, -width);
                }
                // A candidate only if the body lies between: the neighbours of both edges say so.
                let between = |v: &[Vector; 2], sign: f64| {
                    v.iter().all(|v| sign * n.dot(v) <= self.tolerance)
                };
                if width < best.0 && between(&e.beside, 1.0) && between(&g.beside, -1.0) {
                    best = (width, n);
                }
            }
        }
        settled_sign(best.1)
    }

    fn edges(&self, points: &[Point]) -> Vec<Edge> {
        // From each directed side to the corner opposite it.
        let opposite: BTreeMap<(usize, usize), usize> = self
            .faces
            .iter()
            .flat_map(|f| {
                let [a, b, c] = f.corners;
                [((a, b), c), ((b, c), a), ((c, a), b)]
            })
            .collect();
        opposite
            .iter()
            .filter(|((a, b), _)| a < b)
            .filter_map(|(&(a, b), &c)| {
                let d = *opposite.get(&(b, a))?;
                Some(Edge {
                    at: points[a],
                    along: (points[b] - points[a]).normalize(),
                    beside: [points[c] - points[a], points[d] - points[a]],
                })
            })
            .collect()
    }
}

struct Edge {
    at: Point,
    along: Vector,
    /// From the edge to the third corners of its two faces.
    beside: [Vector; 2],
}
