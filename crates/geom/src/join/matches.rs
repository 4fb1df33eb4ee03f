//! Points of one surface against the nearest of another.

use nalgebra::{Matrix6, Vector6};

use super::pose_doubt::motion_row;
use super::surface::JoinSurface;
use crate::{LeafTree, Point, Rigid, Vector};

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
            let own = pose * from.normals[k];
            against(*at, own, to, near.index as usize, signed, limits.beside)
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

/// A point against one of the other surface, if it lies over it.
fn against(
    at: Point,
    own: Vector,
    to: &JoinSurface,
    index: usize,
    signed: bool,
    most_beside: f64,
) -> Option<Match> {
    let other = *to.normals.get(index)?;
    let cos = own.dot(&other);
    // A normal of no length is like none.
    let alike = if signed { cos } else { cos.abs() };
    if alike < ALIKE {
        return None;
    }
    let mean = (other + own * cos.signum()).normalize();
    let d = at - to.points[index];
    let height = d.dot(&mean);
    let beside = (d.norm_squared() - height * height).max(0.0).sqrt();
    (beside <= most_beside).then_some(Match {
        at,
        normal: mean,
        height,
        unlike: (1.0 - cos * cos).max(0.0),
    })
}

/// Of a normal that mostly points along an axis, normals that are like it have at least this share along that axis.
const ALONG: f64 = 0.3;

/// As [`matches()`], but a point is held against the nearest one that faces its way, not against the nearest of all: metal that moved
/// farther than it is thick lies nearer to its own back. Without facing sides it is the same.
pub(super) fn facing_matches(
    from: &JoinSurface,
    to: &JoinSurface,
    pose: &Rigid,
    every: usize,
    limits: Limits,
) -> Vec<Match> {
    if !(from.facing && to.facing) {
        return matches(from, to, pose, every, limits).0;
    }
    let own: Vec<(Point, Vector)> = (0..from.len())
        .step_by(every.max(1))
        .filter(|&k| from.normals[k] != Vector::zeros())
        .map(|k| (pose * from.points[k], pose * from.normals[k]))
        .collect();
    let mut found = Vec::with_capacity(own.len());
    for axis in 0..3 {
        for sign in [-1.0, 1.0] {
            let mine: Vec<&(Point, Vector)> = own
                .iter()
                .filter(|(_, n)| n.iamax() == axis && n[axis] * sign > 0.0)
                .collect();
            let theirs: Vec<usize> = (0..to.len())
                .filter(|&k| to.normals[k][axis] * sign > ALONG)
                .collect();
            if mine.is_empty() || theirs.is_empty() {
                continue;
            }
            let tree = LeafTree::new(&theirs.iter().map(|&k| to.points[k]).collect::<Vec<_>>());
            let at: Vec<Point> = mine.iter().map(|m| m.0).collect();
            let near = tree.nearest_of(&at, limits.reach);
            found.extend(mine.iter().zip(near).filter_map(|(m, near)| {
                let index = *theirs.get(near.index as usize)?;
                against(m.0, m.1, to, index, true, limits.beside)
            }));
        }
    }
    found
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
