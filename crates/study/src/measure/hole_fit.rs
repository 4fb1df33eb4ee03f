//! A round hole in a panel, or a stud standing on it, from the points around it.

use std::f64::consts::TAU;

use geom::{Lagged, LocalAxes, NoiseModel, Point, Uncertain, Unit};

use super::face_grow;
use super::hole_edge::{About, Emptied};
use super::robust;
use super::surface::Surface;

/// The largest hole that is looked for without a known diameter, mm.
const LARGEST: f64 = 24.0;

/// Standard uncertainty of a hole edge below which nothing is believed, mm: the edge itself is not rounder.
const LEAST_U: f64 = 0.015;

/// Noise of a point along the panel, per way, of that out of it: lines of sight slant.
const ALONG: f64 = 0.5;
/// Points this much nearer to the edge than to each other lie on it: the scan traces it.
const TRACED: f64 = 0.12;

/// A fitted hole, scan axes.
#[derive(Clone, Debug)]
pub struct FittedHole {
    /// Middle, on the panel surface, mm.
    pub centre: Point,
    /// Outward axis.
    pub axis: Unit,
    /// Radius, mm.
    pub radius: f64,
    /// Standard uncertainty of the middle in each direction of the panel from where its edge lies among the points, mm; see
    /// [`Self::middle_doubt`].
    pub u_centre: f64,
    /// Points, or sectors, that hold the edge.
    pub held_by: f64,
    /// Standard uncertainty of the radius, mm.
    pub u_radius: f64,
    /// Degrees of freedom of both.
    pub nu: f64,
    /// Arc of the edge that was seen, degrees.
    pub arc_deg: f64,
}

impl FittedHole {
    /// Doubt of the middle in each direction of the panel, mm, for the noise of the visit.
    ///
    /// Lines of sight slant, so that a share of the noise goes along the panel: it moves points that lie near together alike, and a
    /// whole hole where it is correlated over more than its size.
    pub fn middle_doubt(&self, noise: &NoiseModel) -> Uncertain {
        // The middle is (2/n) sum cos (r - R): as white noise goes, two thirds of the points count.
        let n = (self.held_by / 1.5).round().max(3.0) as usize;
        let ring: Vec<[f64; 3]> = (0..n)
            .map(|k| {
                let (sin, cos) = (TAU * k as f64 / n as f64).sin_cos();
                [self.radius * cos, self.radius * sin, 0.0]
            })
            .collect();
        let along = noise.uncertainty(&Lagged::of_places(&ring, &vec![1.0 / n as f64; n]));
        Uncertain::combined(&[Uncertain::new(self.u_centre, self.nu), along.scaled(ALONG)])
    }
}

/// Fits the hole near `near`. `facing`: outward normal of the panel, if known. `None` when there is no round hole.
pub fn fit_hole(
    surface: &Surface,
    near: &Point,
    facing: Option<&Unit>,
    diameter: Option<f64>,
) -> Option<FittedHole> {
    let facing = facing.map(|f| f.into_inner());
    let axes = face_grow::seed(surface, near, facing).ok()?;
    let largest = diameter.map_or(LARGEST, |d| 1.6 * d + 2.0);
    let reach = largest * 0.75 + 6.0 + 2.0 * surface.spacing();
    let points = panel_points(surface, &axes, reach);
    if points.len() < 12 {
        return None;
    }
    let (mut cu, mut cv) = emptiest(&points, surface.spacing())?;
    let mut ring = Ring::default();
    for _ in 0..8 {
        ring = Ring::about(&points, cu, cv, largest * 0.5, surface.spacing())?;
        let moved = (ring.u - cu).hypot(ring.v - cv);
        (cu, cv) = (ring.u, ring.v);
        if moved < 1e-6 {
            break;
        }
    }
    // Height of the panel at the middle: its surface about the hole.
    let (rows, values): (Vec<[f64; 6]>, Vec<f64>) = points
        .iter()
        .map(|[u, v, h]| {
            let (u, v) = (u - cu, v - cv);
            ([1.0, u, v, u * u, u * v, v * v], *h)
        })
        .unzip();
    let (c, scatter) = robust::fit(&rows, &values, 0.01)?;
    let normal = axes.n.into_inner() - axes.u.into_inner() * c[1] - axes.v.into_inner() * c[2];
    let along = ALONG * scatter;
    let edge = if ring.scatter < TRACED * surface.spacing() {
        ring.traced()
    } else {
        let about = About {
            points: &points,
            seen: &ring.seen,
            spacing: surface.spacing(),
            noise: along,
        };
        about.emptied(cu, cv, ring.radius)?
    };
    let (du, dv) = (edge.u - cu, edge.v - cv);
    let height = c[0] + c[1] * du + c[2] * dv;
    Some(FittedHole {
        centre: axes.point(edge.u, edge.v, height),
        axis: Unit::new_normalize(normal),
        radius: edge.radius,
        u_centre: edge.u_middle.hypot(LEAST_U),
        held_by: ring.count,
        u_radius: edge.u_radius.hypot(LEAST_U),
        nu: (ring.count - 3.0).max(1.0),
        arc_deg: ring.arc_deg,
    })
}

/// Panel points about the axes: u, v, height.
fn panel_points(surface: &Surface, axes: &LocalAxes, reach: f64) -> Vec<[f64; 3]> {
    let mut points = Vec::new();
    surface.in_ball(&axes.origin, reach, |slot, p| {
        let q = axes.local(&p);
        let agrees = || surface.agreement(&surface.normal(slot), &axes.n) > 0.75;
        if q[2].abs() < 0.45 + 0.02 * reach && agrees() {
            points.push(q);
        }
    });
    points
}

/// The place near the origin that is farthest from every point.
fn emptiest(points: &[[f64; 3]], spacing: f64) -> Option<(f64, f64)> {
    let clearance = |u: f64, v: f64| {
        points
            .iter()
            .map(|p| (p[0] - u).powi(2) + (p[1] - v).powi(2))
            .fold(f64::INFINITY, f64::min)
            .sqrt()
    };
    let mut best = (0.0, 0.0, clearance(0.0, 0.0));
    let mut step = 1.0;
    while step > 0.02 {
        let (u0, v0, _) = best;
        for j in -5i32..=5 {
            for i in -5i32..=5 {
                let (u, v) = (u0 + f64::from(i) * step, v0 + f64::from(j) * step);
                let c = clearance(u, v);
                if c > best.2 && u.hypot(v) < 8.0 {
                    best = (u, v, c);
                }
            }
        }
        step *= 0.4;
    }
    (best.2 > 1.2 * spacing && best.2 > 0.8).then_some((best.0, best.1))
}

/// The innermost points around a middle.
#[derive(Default)]
struct Ring {
    u: f64,
    v: f64,
    radius: f64,
    scatter: f64,
    count: f64,
    arc_deg: f64,
    /// Which sectors the edge was seen in.
    seen: Vec<bool>,
}

impl Ring {
    /// The circle on the inner side of points that lie on the edge.
    fn traced(&self) -> Emptied {
        Emptied {
            u: self.u,
            v: self.v,
            radius: self.radius,
            u_middle: self.scatter * (2.0 / self.count).sqrt(),
            u_radius: (self.scatter.powi(2) / self.count + (0.25 * self.scatter).powi(2)).sqrt(),
        }
    }

    /// In each of the sectors about (u, v) the point nearest to the middle, and the circle on their inner side.
    fn about(points: &[[f64; 3]], u: f64, v: f64, largest: f64, spacing: f64) -> Option<Self> {
        let clearance = points
            .iter()
            .map(|p| (p[0] - u).hypot(p[1] - v))
            .fold(f64::INFINITY, f64::min);
        let sectors = (TAU * clearance / spacing).round().clamp(8.0, 90.0) as usize;
        let mut inner = vec![(f64::INFINITY, 0.0, 0.0); sectors];
        for p in points {
            let (du, dv) = (p[0] - u, p[1] - v);
            let r = du.hypot(dv);
            let k = ((dv.atan2(du) / TAU + 0.5) * sectors as f64) as usize % sectors;
            if r < inner[k].0 {
                inner[k] = (r, du, dv);
            }
        }
        let limit = (clearance + 2.5 * spacing + 1.0).min(largest + spacing);
        let found: Vec<_> = inner.iter().filter(|(r, _, _)| *r < limit).collect();
        if found.len() < 6 {
            return None;
        }
        // First order in the shift of the middle: r = R + cos a du + sin a dv.
        let (rows, values): (Vec<[f64; 3]>, Vec<f64>) = found
            .iter()
            .map(|(r, du, dv)| ([1.0, du / r, dv / r], *r))
            .unzip();
        let (c, scatter) = inner_circle(&rows, &values)?;
        let count = found.len() as f64;
        let radius = c[0] - EXPECTILE_ABOVE * scatter;
        (radius > 0.5 && radius < largest).then_some(Self {
            u: u + c[1],
            v: v + c[2],
            radius,
            scatter,
            count,
            arc_deg: 360.0 * count / sectors as f64,
            seen: inner.iter().map(|(r, _, _)| *r < limit).collect(),
        })
    }
}

/// Weight of points outside the circle against those inside: they lie behind the edge by as much as the spacing lets
/// them, those inside only by noise.
const OUTSIDE: f64 = 0.12;
/// Where the expectile of that weight lies above the end of an exponential distribution, in units of its mean.
const EXPECTILE_ABOVE: f64 = 0.33;

/// The circle r = R + cos a du + sin a dv that hugs the points from inside: an expectile (Newey and Powell 1987), with
/// points far inside, which are stray, set aside. Also the mean distance of points behind it, mm.
fn inner_circle(rows: &[[f64; 3]], values: &[f64]) -> Option<([f64; 3], f64)> {
    let mut kept: Vec<usize> = (0..rows.len()).collect();
    for _ in 0..3 {
        let mut c = {
            let r: Vec<_> = kept.iter().map(|i| rows[*i]).collect();
            let v: Vec<_> = kept.iter().map(|i| values[*i]).collect();
            robust::fit(&r, &v, 0.02)?.0
        };
        let residual = |c: &[f64; 3], i: usize| {
            values[i] - rows[i].iter().zip(c).map(|(a, b)| a * b).sum::<f64>()
        };
        for _ in 0..60 {
            let mut m = nalgebra::Matrix3::zeros();
            let mut b = nalgebra::Vector3::zeros();
            for &i in &kept {
                let w = if residual(&c, i) > 0.0 { OUTSIDE } else { 1.0 };
                let r = nalgebra::Vector3::from(rows[i]);
                m += r * r.transpose() * w;
                b += r * (w * values[i]);
            }
            let next: [f64; 3] = m.cholesky()?.solve(&b).into();
            let moved = c
                .iter()
                .zip(&next)
                .map(|(a, b)| (a - b).abs())
                .fold(0.0, f64::max);
            c = next;
            if moved < 1e-9 {
                break;
            }
        }
        let scatter = kept.iter().map(|i| residual(&c, *i).abs()).sum::<f64>() / kept.len() as f64;
        let before = kept.len();
        kept.retain(|i| residual(&c, *i) > -(4.0 * scatter + 0.15));
        if kept.len() == before {
            return Some((c, scatter));
        }
        if kept.len() < 6 {
            return None;
        }
    }
    None
}

/// Fits the stud near `near` that stands on a panel: a circle through what rises from it, seen along the normal.
pub fn fit_stud(
    surface: &Surface,
    near: &Point,
    facing: Option<&Unit>,
    diameter: Option<f64>,
) -> Option<FittedHole> {
    let facing = facing.map(|f| f.into_inner());
    let axes = face_grow::seed(surface, near, facing).ok()?;
    let largest = diameter.map_or(LARGEST, |d| 1.6 * d + 2.0);
    let mut wall = Vec::new();
    surface.in_ball(&axes.origin, largest + 10.0, |slot, p| {
        let q = axes.local(&p);
        if q[2] > 1.0
            && q[2] < largest + 10.0
            && q[0].hypot(q[1]) < largest
            && surface.normal(slot).dot(&axes.n).abs() < 0.4
        {
            wall.push([q[0], q[1]]);
        }
    });
    if wall.len() < 12 {
        return None;
    }
    let fit = geom::fit_circle_2d_robust(&wall, 0.01).ok()?;
    let nu = (wall.len() as f64 - 3.0).max(1.0);
    let u = fit.sd / (wall.len() as f64 / 2.0).sqrt();
    Some(FittedHole {
        centre: axes.point(fit.centre[0], fit.centre[1], 0.0),
        axis: axes.n,
        radius: fit.radius,
        u_centre: u,
        held_by: wall.len() as f64,
        u_radius: u,
        nu,
        arc_deg: fit.arc.to_degrees(),
    })
}
