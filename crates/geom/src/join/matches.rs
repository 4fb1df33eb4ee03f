//! Points of one surface against the nearest of another.

use nalgebra::{Matrix6, Vector6};

use super::pose_doubt::motion_row;
use super::surface::JoinSurface;
use crate::{Point, Rigid, Vector};

/// Normals of one surface seen twice differ by less (cosine).
const ALIKE: f64 = 0.7;

/// A point with the surface it lies against; axes of the target.
#[derive(Clone, Copy, Debug)]
pub(super) struct Match {
    pub at: Point,
    /// Mean of the two normals.
    pub normal: Vector,
    /// Height of the point above the other surface along it, mm.
    pub height: f64,
    /// Square of the sine between the two normals.
    pub unlike: f64,
}

/// What limits a match.
#[derive(Clone, Copy, Debug)]
pub(super) struct Limits {
    /// Distance, mm.
    pub reach: f64,
    /// Distance along the surface, mm: beyond the border of the other surface nothing lies against it.
    pub beside: f64,
}

/// Every `every`-th point of `from` that lies against `to`, in order, and how many were tried.
pub(super) fn matches(
    from: &JoinSurface,
    to: &JoinSurface,
    pose: &Rigid,
    every: usize,
    limits: Limits,
) -> (Vec<Match>, usize) {
    let which: Vec<usize> = (0..from.len())
        .step_by(every.max(1))
        .filter(|&k| from.normals[k] != Vector::zeros())
        .collect();
    let at: Vec<Point> = which.iter().map(|&k| pose * from.points[k]).collect();
    let near = to.tree.nearest_of(&at, limits.reach);
    let signed = from.facing && to.facing;
    let found = which
        .iter()
        .zip(&at)
        .zip(near)
        .filter_map(|((&k, at), near)| {
            let other = *to.normals.get(near.index as usize)?;
            let own = pose * from.normals[k];
            let cos = own.dot(&other);
            // A normal of no length is like none.
            let alike = if signed { cos } else { cos.abs() };
            if alike < ALIKE {
                return None;
            }
            let mean = (other + own * cos.signum()).normalize();
            let d = at - to.points[near.index as usize];
            let height = d.dot(&mean);
            let beside = (d.norm_squared() - height * height).max(0.0).sqrt();
            (beside <= limits.beside).then_some(Match {
                at: *at,
                normal: mean,
                height,
                unlike: (1.0 - cos * cos).max(0.0),
            })
        })
        .collect();
    (found, which.len())
}

/// Share of the points of `from`, as they lie, that lie against `to` within `reach` (mm), 0 to 1.
pub(crate) fn matching_share(from: &JoinSurface, to: &JoinSurface, reach: f64) -> f64 {
    let limits = Limits {
        reach,
        beside: reach,
    };
    let (found, tried) = matches(from, to, &Rigid::identity(), 1, limits);
    found.len() as f64 / tried.max(1) as f64
}

/// Weighted sums over matches about a place.
#[derive(Clone, Debug)]
pub(super) struct Normal {
    pub about: Point,
    /// What the heights say of the six motions.
    pub information: Matrix6<f64>,
    /// The same if every coordinate of the points were held.
    pub free: Matrix6<f64>,
    pub pull: Vector6<f64>,
    pub weight: f64,
}

impl Normal {
    /// Root mean square by which a motion moves the points, mm.
    pub fn moves_by(&self, motion: &Vector6<f64>) -> f64 {
        (motion.dot(&(self.free * motion)) / self.weight).sqrt()
    }

    pub fn of(matches: &[Match], weight: impl Fn(&Match) -> f64) -> Self {
        let mut total = 0.0;
        let mut middle = Vector::zeros();
        for m in matches {
            let w = weight(m);
            total += w;
            middle += m.at.coords * w;
        }
        let about = Point::from(middle / total.max(f64::MIN_POSITIVE));
        let mut out = Self {
            about,
            information: Matrix6::zeros(),
            free: Matrix6::zeros(),
            pull: Vector6::zeros(),
            weight: total,
        };
        for m in matches {
            let w = weight(m);
            if w > 0.0 {
                let row = motion_row(&m.at, &m.normal, &about);
                out.information += row * row.transpose() * w;
                out.pull += row * (w * m.height);
                for d in [Vector::x(), Vector::y(), Vector::z()] {
                    let row = motion_row(&m.at, &d, &about);
                    out.free += row * row.transpose() * w;
                }
            }
        }
        out
    }
}
