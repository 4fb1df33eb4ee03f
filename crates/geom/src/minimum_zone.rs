//! Minimum zones (Chebyshev fits): straightness, flatness, roundness, each with the contacts that prove it.
//!
//! A zone is least when it cannot be turned without growing: the upper and the lower contacts, seen along the zone,
//! overlap (low-high-low on a line; a contact inside three or two crossing pairs on a plane; two outer and two inner
//! ones taking turns around a circle). Meant for short lists of measured places; for scans with noise use the robust
//! least squares fits, whose result does not hang on single points.

mod hull;
#[cfg(test)]
mod tests;

use nalgebra::{Matrix2, Vector2};

use crate::{FitError, Minimax, Outcome, Plane, Point, Unit, fit_circle_2d};
use hull::Hull;
pub(crate) use hull::hull_2d;

/// Points within this share of the extent of a bounding line, plane or circle touch it.
const TOUCH: f64 = 1e-9;

/// The narrowest strip that holds all points of the plane.
#[derive(Clone, Debug, PartialEq)]
pub struct StraightZone {
    /// Its width, mm.
    pub width: f64,
    /// Unit normal of the strip.
    pub normal: [f64; 2],
    /// normal . p of the middle line, mm.
    pub offset: f64,
    /// Places (indices) that touch on the side of the normal.
    pub upper: Vec<usize>,
    /// Places that touch on the other side.
    pub lower: Vec<usize>,
    /// Whether the contacts overlap along the strip, so that no small turn narrows it.
    pub certified: bool,
}

/// The flattest slab that holds all points.
#[derive(Clone, Debug, PartialEq)]
pub struct FlatZone {
    /// Its thickness, mm.
    pub width: f64,
    /// The plane in its middle.
    pub plane: Plane,
    /// Places (indices) that touch on the side of the normal.
    pub upper: Vec<usize>,
    /// Places that touch on the other side.
    pub lower: Vec<usize>,
    /// Whether the contacts overlap when seen along the normal, so that no small tilt thins it.
    pub certified: bool,
}

/// The thinnest ring that holds all points of the plane.
#[derive(Clone, Debug, PartialEq)]
pub struct RoundZone {
    /// Outer less inner radius, mm.
    pub width: f64,
    /// Common centre, mm.
    pub centre: [f64; 2],
    /// Mean of the two radii, mm.
    pub radius: f64,
    /// Places (indices) on the outer circle.
    pub outer: Vec<usize>,
    /// Places on the inner circle.
    pub inner: Vec<usize>,
    /// Whether outer and inner contacts take turns four times around, so that no small shift thins it.
    pub certified: bool,
}

/// The narrowest strip: the global minimum, one side on an edge of the convex hull. Errors: fewer than two different
/// points, values that are not finite.
pub fn straightness(points: &[[f64; 2]]) -> Result<StraightZone, FitError> {
    FitError::check_count(2, points.len())?;
    if !points.iter().flatten().all(|x| x.is_finite()) {
        return Err(FitError::NotFinite);
    }
    let hull = hull_2d(points);
    if hull.len() < 2 {
        return Err(FitError::Degenerate);
    }
    let mut best: Option<(f64, [f64; 2])> = None;
    for k in 0..hull.len() {
        let (a, b) = (points[hull[k]], points[hull[(k + 1) % hull.len()]]);
        let length = (b[0] - a[0]).hypot(b[1] - a[1]);
        let normal = [(a[1] - b[1]) / length, (b[0] - a[0]) / length];
        let reach = |p: [f64; 2]| normal[0] * (p[0] - a[0]) + normal[1] * (p[1] - a[1]);
        let width = hull.iter().fold(0.0_f64, |m, &i| m.max(reach(points[i])));
        if best.is_none_or(|(least, _)| width < least) {
            best = Some((width, normal));
        }
    }
    let (_, normal) = best.ok_or(FitError::Degenerate)?;
    let heights: Vec<f64> = points
        .iter()
        .map(|p| normal[0] * p[0] + normal[1] * p[1])
        .collect();
    let (low, high, upper, lower) = contacts(&heights, extent(points.iter().flatten()));
    let along = |set: &[usize]| {
        let t = set
            .iter()
            .map(|&i| normal[0] * points[i][1] - normal[1] * points[i][0]);
        t.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), t| {
            (a.min(t), b.max(t))
        })
    };
    let ((a, b), (c, d)) = (along(&upper), along(&lower));
    Ok(StraightZone {
        width: high - low,
        normal,
        offset: 0.5 * (low + high),
        certified: a.max(c) <= b.min(d) + TOUCH * extent(points.iter().flatten()),
        upper,
        lower,
    })
}

/// The flattest slab: the global minimum over all face-vertex and edge-edge positions of the convex hull. Errors: fewer
/// than three points, values that are not finite, all points on a line. Cost O(n f + f^2), f the faces of the hull.
pub fn flatness(points: &[Point]) -> Result<FlatZone, FitError> {
    FitError::check_count(3, points.len())?;
    if !points.iter().flat_map(|p| p.iter()).all(|x| x.is_finite()) {
        return Err(FitError::NotFinite);
    }
    let normal = match Hull::of(points)? {
        Hull::Flat(normal) => normal,
        Hull::Solid(body) => body.thinnest(points),
    };
    let size = extent(points.iter().flat_map(|p| p.iter()));
    let heights: Vec<f64> = points.iter().map(|p| normal.dot(&p.coords)).collect();
    let (low, high, upper, lower) = contacts(&heights, size);
    let axes = crate::LocalAxes::about(points[0], normal);
    let seen = |set: &[usize]| -> Vec<[f64; 2]> {
        set.iter()
            .map(|&i| {
                let [u, v, _] = axes.local(&points[i]);
                [u, v]
            })
            .collect()
    };
    Ok(FlatZone {
        width: high - low,
        plane: Plane {
            normal,
            offset: 0.5 * (low + high),
        },
        certified: overlap(&seen(&upper), &seen(&lower), TOUCH * size),
        upper,
        lower,
    })
}

/// The thinnest ring found from the least squares circle by linearised Chebyshev fits. It is a local minimum, proved by
/// `certified`; for places that are nearly round there is no other. Errors: as for a circle by least squares, and
/// `NoConvergence`.
pub fn roundness(points: &[[f64; 2]]) -> Result<RoundZone, FitError> {
    let start = fit_circle_2d(points)?;
    let size = extent(points.iter().flatten());
    let (mut centre, mut width) = (start.centre, ring(points, start.centre).2);
    let mut settled = false;
    for _ in 0..200 {
        let step = chebyshev_step(points, centre)?;
        // Shorten the step until it helps.
        let mut share = 1.0;
        let mut next = centre;
        let mut next_width = width;
        while share > 1e-6 {
            next = [centre[0] + share * step[0], centre[1] + share * step[1]];
            next_width = ring(points, next).2;
            if next_width < width {
                break;
            }
            share *= 0.5;
        }
        if next_width >= width || step[0].hypot(step[1]) <= 1e-14 * size {
            settled = true;
            break;
        }
        centre = next;
        width = next_width;
    }
    if !settled {
        return Err(FitError::NoConvergence);
    }
    let radii: Vec<f64> = points
        .iter()
        .map(|p| (p[0] - centre[0]).hypot(p[1] - centre[1]))
        .collect();
    let (low, high, outer, inner) = contacts(&radii, size);
    Ok(RoundZone {
        width: high - low,
        centre,
        radius: 0.5 * (low + high),
        certified: turns(points, centre, &outer, &inner) >= 4 || high - low <= TOUCH * size,
        outer,
        inner,
    })
}

fn extent<'a>(coordinates: impl Iterator<Item = &'a f64>) -> f64 {
    let (low, high) = coordinates.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), x| {
        (l.min(*x), h.max(*x))
    });
    high - low
}

/// Least, greatest, and who is there.
fn contacts(heights: &[f64], size: f64) -> (f64, f64, Vec<usize>, Vec<usize>) {
    let low = heights.iter().copied().fold(f64::INFINITY, f64::min);
    let high = heights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let at = |place: f64| {
        (0..heights.len())
            .filter(|&k| (heights[k] - place).abs() <= TOUCH * size)
            .collect()
    };
    (low, high, at(high), at(low))
}

/// Inner radius, outer radius and their difference about a centre.
fn ring(points: &[[f64; 2]], c: [f64; 2]) -> (f64, f64, f64) {
    let (low, high) = points
        .iter()
        .map(|p| (p[0] - c[0]).hypot(p[1] - c[1]))
        .fold((f64::INFINITY, 0.0_f64), |(l, h), r| (l.min(r), h.max(r)));
    (low, high, high - low)
}

/// The shift of the centre that the distances, taken as linear, ask for.
fn chebyshev_step(points: &[[f64; 2]], c: [f64; 2]) -> Result<[f64; 2], FitError> {
    let (low, high, _) = ring(points, c);
    let mut problem = Minimax::new(3);
    for p in points {
        let (x, y) = (p[0] - c[0], p[1] - c[1]);
        let r = x.hypot(y);
        if r <= 0.0 {
            return Err(FitError::Degenerate);
        }
        problem.within(&[-x / r, -y / r, -1.0], r - 0.5 * (low + high), 1.0, 1.0);
    }
    match problem.solve() {
        Outcome::Optimal(best) => Ok([best.x[0], best.x[1]]),
        Outcome::Infeasible(_) => Err(FitError::Degenerate),
    }
}

/// How often the contacts change between outer and inner once around.
fn turns(points: &[[f64; 2]], c: [f64; 2], outer: &[usize], inner: &[usize]) -> usize {
    let angle = |i: usize| (points[i][1] - c[1]).atan2(points[i][0] - c[0]);
    let mut around: Vec<(f64, bool)> = outer.iter().map(|&i| (angle(i), true)).collect();
    around.extend(inner.iter().map(|&i| (angle(i), false)));
    around.sort_by(|a, b| a.0.total_cmp(&b.0));
    (0..around.len())
        .filter(|&k| around[k].1 != around[(k + 1) % around.len()].1)
        .count()
}

/// Whether the convex hulls of two small sets of the plane meet (to within `tolerance`): a point of one in a triangle of
/// the other, or two segments that cross.
fn overlap(a: &[[f64; 2]], b: &[[f64; 2]], tolerance: f64) -> bool {
    let hull = |set: &[[f64; 2]]| -> Vec<Vector2<f64>> {
        hull_2d(set)
            .iter()
            .map(|&i| Vector2::new(set[i][0], set[i][1]))
            .collect()
    };
    let (a, b) = (hull(a), hull(b));
    let inside = |p: &Vector2<f64>, set: &[Vector2<f64>]| match set {
        [q] => (p - q).norm() <= tolerance,
        [q, r] => on_segment(p, q, r, tolerance),
        _ => (0..set.len()).all(|k| {
            let (q, r) = (set[k], set[(k + 1) % set.len()]);
            (r - q).perp(&(p - q)) >= -tolerance * (r - q).norm()
        }),
    };
    a.iter().any(|p| inside(p, &b))
        || b.iter().any(|p| inside(p, &a))
        || sides(&a).any(|(p, q)| sides(&b).any(|(r, s)| cross(&p, &q, &r, &s)))
}

fn sides(set: &[Vector2<f64>]) -> impl Iterator<Item = (Vector2<f64>, Vector2<f64>)> {
    (0..set.len())
        .filter(|_| set.len() > 1)
        .map(|k| (set[k], set[(k + 1) % set.len()]))
}

fn on_segment(p: &Vector2<f64>, q: &Vector2<f64>, r: &Vector2<f64>, tolerance: f64) -> bool {
    let d = r - q;
    let t = ((p - q).dot(&d) / d.norm_squared()).clamp(0.0, 1.0);
    (p - q - d * t).norm() <= tolerance
}

fn cross(p: &Vector2<f64>, q: &Vector2<f64>, r: &Vector2<f64>, s: &Vector2<f64>) -> bool {
    let system = Matrix2::from_columns(&[q - p, r - s]);
    system.try_inverse().is_some_and(|inverse| {
        let t = inverse * (r - p);
        (0.0..=1.0).contains(&t.x) && (0.0..=1.0).contains(&t.y)
    })
}

/// The unit normal of the slab is turned so that its largest component is positive.
fn settled_sign(n: Unit) -> Unit {
    if n[n.iamax()] < 0.0 { -n } else { n }
}
