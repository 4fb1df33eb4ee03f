//! The centre plane of a scan of a whole body: the plane whose mirror lays the scan best on itself.
//!
//! Many planes are tried, the likeliest are laid by [`refine`] on a thinned scan, the best of these on the scan as it is. Points of
//! one half alone are mirrored: mirroring both would count every point twice. The motion that is left between the mirrored half
//! and the other one is taken apart: half of what lies across the plane moves the plane, the rest is how the body itself
//! is out, one half slid or turned against the other in the plane.

use nalgebra::{Matrix3, SymmetricEigen, Vector6};
use rayon::prelude::*;

use super::MidPlane;
use crate::join::{matching_share, refine_by};
use crate::{
    JoinSurface, NoRefine, Plane, Point, PoseDoubt, Refined, Rigid, Uncertain, Unit, Vector,
    any_perpendicular, refine,
};

/// Points of the thinned scan.
const THIN: usize = 4_000;
/// Points of a half that are laid on the scan at last.
const HALF: usize = 60_000;
/// Steps of the directions tried, rad.
const STEP: f64 = 0.22;
/// Places of the plane tried for each direction, as shares of the size of the scan from its middle.
const OFFSETS: [f64; 7] = [-0.18, -0.12, -0.06, 0.0, 0.06, 0.12, 0.18];
/// How far off a plane that is tried may be, as a share of the size.
const REACH: f64 = 0.04;
/// Planes that are laid on the thinned scan.
const LAID: usize = 8;
/// Planes nearer to each other than this (rad, and share of the size) are one.
const ONE: (f64, f64) = (0.12, 0.03);
/// Patches behind the doubt. A body is out of true by waves as long as its panels: larger patches than those of two scans of one
/// surface, which differ by noise.
const PATCHES: usize = 14;
/// The scan shows too little of one half below this share.
const LEAST_SHARE: f64 = 0.25;

/// A plane that lays less than this share of what another one lays is none.
const OF_THE_MOST: f64 = 0.8;

/// A plane that was laid on the thinned scan.
struct Laid {
    share: f64,
    left: f64,
    plane: Plane,
}

/// Why a scan was not laid on its own mirror image.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum NoOwnImage {
    /// The best plane lays this share of the points on others, 0 to 1: the scan does not show both halves of a body.
    OneHalf(f64),
    /// The best plane could not be laid.
    Refine(NoRefine),
}

/// A scan on its own mirror image.
#[derive(Clone, Debug, PartialEq)]
pub struct OwnImage {
    /// The plane; its normal points to the half that was mirrored.
    pub plane: Plane,
    /// Middle of what it rests on, on the plane, mm.
    pub centre: Point,
    /// Direction in the plane in which the scan is longest.
    pub long: Unit,
    /// The half off the normal's side less the mirrored other one: slid by, in the plane, mm, at [`Self::centre`].
    pub slid: Vector,
    /// Turned about the normal by, rad.
    pub turned: f64,
    /// Doubt of the motion between the halves: twice that of the plane across it.
    pub halves: PoseDoubt,
    /// Share of the points of the half that lie on the other, 0 to 1.
    pub share: f64,
    /// Spread of what is left between the halves, mm.
    pub left: f64,
    /// The same of the next best other plane, mm; infinite if no other lays the halves on each other. Not far above
    /// [`Self::left`], the scan does not tell which is its middle.
    pub next_best: f64,
}

/// Lays `scan` on its own mirror image. `start`: a plane that is thought to be near, tried besides the others.
///
/// `go_on` is asked often. The result does not depend on the number of threads. Cost: some 700 searches of at most 4,000 nearest
/// points, eight coarse and one full [`refine`].
///
/// # Errors
/// [`NoOwnImage`].
pub fn own_image(
    scan: &JoinSurface,
    start: Option<&Plane>,
    go_on: &(dyn Fn() -> bool + Sync),
) -> Result<OwnImage, NoOwnImage> {
    let called_off = NoOwnImage::Refine(NoRefine::CalledOff);
    let thin = scan.thinned(THIN);
    let (middle, size) = thin.middle_and_size();
    let mut planes: Vec<Plane> = directions()
        .into_iter()
        .flat_map(|n| OFFSETS.map(|o| Plane::through(&(middle + n.into_inner() * (o * size)), n)))
        .collect();
    planes.extend(start.copied());
    let reach = REACH * size;
    let shares: Vec<f64> = planes
        .par_iter()
        .map(|p| {
            if !go_on() {
                return 0.0;
            }
            matching_share(&thin.image(p, THIN / 4), &thin, reach)
        })
        .collect();
    if !go_on() {
        return Err(called_off);
    }
    let mut order: Vec<usize> = (0..planes.len()).collect();
    order.sort_by(|&a, &b| shares[b].total_cmp(&shares[a]));
    let mut likely: Vec<Plane> = start.copied().into_iter().collect();
    for k in order {
        if likely.len() >= LAID {
            break;
        }
        if likely.iter().all(|p| !one(p, &planes[k], &middle, size)) {
            likely.push(planes[k]);
        }
    }
    let mut laid: Vec<Laid> = Vec::new();
    for p in &likely {
        match refine(
            &thin.image(p, THIN),
            &thin,
            &Rigid::identity(),
            reach,
            &|| go_on(),
        ) {
            Ok(r) => laid.push(Laid {
                share: r.share,
                left: r.left,
                plane: halves(p, &r).plane,
            }),
            Err(NoRefine::CalledOff) => return Err(called_off),
            Err(_) => {}
        }
    }
    // A plane that lays hardly any of the scan on itself may do that well.
    let most = laid.iter().fold(0.0_f64, |m, l| m.max(l.share));
    laid.retain(|l| l.share >= OF_THE_MOST * most);
    laid.sort_by(|a, b| a.left.total_cmp(&b.left));
    let Some(first) = laid.first() else {
        return Err(NoOwnImage::OneHalf(0.0));
    };
    if first.share < LEAST_SHARE {
        return Err(NoOwnImage::OneHalf(first.share));
    }
    let best = first.plane;
    let other = laid.iter().find(|l| !one(&l.plane, &best, &middle, size));
    let times = other.map_or(f64::INFINITY, |l| l.left / first.left);
    let (half, on_normals_side) = scan.half_image(&best, HALF);
    let best = if on_normals_side {
        best
    } else {
        Plane {
            normal: -best.normal,
            offset: -best.offset,
        }
    };
    let reach = 3.0 * thin.spacing;
    let found = refine_by(&half, scan, &Rigid::identity(), reach, PATCHES, &|| go_on())
        .map_err(NoOwnImage::Refine)?;
    if found.share < LEAST_SHARE {
        return Err(NoOwnImage::OneHalf(found.share));
    }
    let h = halves(&best, &found);
    Ok(OwnImage {
        plane: h.plane,
        long: thin.longest_in(&h.plane),
        centre: h.centre,
        slid: h.slid,
        turned: h.turned,
        halves: found.doubt.taken_about(&h.centre),
        share: found.share,
        left: found.left,
        // The thinned scan tells of both planes, the full one only of the best.
        next_best: times * found.left,
    })
}

/// Directions over the half sphere, about [`STEP`] apart.
fn directions() -> Vec<Unit> {
    let rings = (std::f64::consts::FRAC_PI_2 / STEP).ceil() as usize;
    let mut out = Vec::new();
    for i in 0..=rings {
        let from_pole = std::f64::consts::FRAC_PI_2 * i as f64 / rings as f64;
        // Of the last ring, the border of the half sphere, half is enough.
        let round = std::f64::consts::TAU * if i == rings { 0.5 } else { 1.0 };
        let n = ((round * from_pole.sin() / STEP).ceil() as usize).max(1);
        for k in 0..n {
            let a = round * k as f64 / n as f64;
            out.push(Unit::new_normalize(Vector::new(
                from_pole.sin() * a.cos(),
                from_pole.sin() * a.sin(),
                from_pole.cos(),
            )));
        }
    }
    out
}

/// Whether two planes are nearly one.
fn one(a: &Plane, b: &Plane, middle: &Point, size: f64) -> bool {
    let across = a.normal.dot(&b.normal);
    let apart = a.distance(middle) - b.distance(middle) * across.signum();
    across.abs().min(1.0).acos() < ONE.0 && apart.abs() < ONE.1 * size
}

struct Halves {
    plane: Plane,
    centre: Point,
    slid: Vector,
    turned: f64,
}

/// Takes the map "mirror about `start`, then the motion found" apart: a mirror, and what is left in its plane.
fn halves(start: &Plane, found: &Refined) -> Halves {
    let turn = found.to_from.rotation.to_rotation_matrix();
    let n = start.normal.into_inner();
    let map: Matrix3<f64> = turn.matrix() * (Matrix3::identity() - n * n.transpose() * 2.0);
    let shift = found.to_from * Point::from(n * (2.0 * start.offset));
    let eigen = SymmetricEigen::new((map + map.transpose()) * 0.5);
    let normal = eigen
        .eigenvectors
        .column(eigen.eigenvalues.imin())
        .into_owned();
    let normal = Unit::new_normalize(if normal.dot(&n) < 0.0 {
        -normal
    } else {
        normal
    });
    let plane = Plane {
        normal,
        offset: 0.5 * normal.dot(&shift.coords),
    };
    let centre = plane.foot(&found.doubt.about);
    let slid = map * centre.coords + shift.coords - centre.coords;
    let along = any_perpendicular(&normal);
    let turned_along = map * along.into_inner();
    Halves {
        plane,
        centre,
        slid: slid - normal.into_inner() * normal.dot(&slid),
        turned: normal
            .cross(&along)
            .dot(&turned_along)
            .atan2(along.dot(&turned_along)),
    }
}

impl OwnImage {
    /// The same in other axes.
    #[must_use]
    pub fn seen_from(&self, other_from_this: &Rigid) -> Self {
        Self {
            plane: self.plane.moved(other_from_this),
            centre: other_from_this * self.centre,
            long: Unit::new_normalize(other_from_this * self.long.into_inner()),
            slid: other_from_this * self.slid,
            halves: self.halves.seen_from(other_from_this),
            ..self.clone()
        }
    }

    /// The plane with its normal on the side of `right`, its origin below `origin`, and axes in it: along is as near to `along` as
    /// it can be.
    pub fn mid_plane(&self, right: &Vector, origin: &Point, along: &Vector) -> MidPlane {
        let over = self.plane.normal.dot(right) < 0.0;
        let normal = if over {
            -self.plane.normal
        } else {
            self.plane.normal
        };
        let plane = Plane::through(&self.centre, normal);
        MidPlane::of_plane(plane, plane.foot(origin), Some(along))
    }

    /// The doubt of a figure that changes by `g` per rad of turn of the plane about up (its normal towards along), per rad
    /// of turn about along (its normal towards up) and per mm of its shift along its normal, in the axes of `plane`; `None` where
    /// nothing holds a motion that changes it.
    pub fn of_motion(&self, plane: &MidPlane, g: [f64; 3]) -> Option<Uncertain> {
        // A plane that turns by w turns the image by 2 w. w x normal is w.along up - w.up along.
        let turn = plane.along.into_inner() * g[1] - plane.up.into_inner() * g[0];
        let shift = plane.plane.normal.into_inner() * g[2];
        let row = Vector6::new(shift.x, shift.y, shift.z, turn.x, turn.y, turn.z) * 0.5;
        self.halves.taken_about(&plane.centre).of(&row)
    }

    /// By how much the half on the left of `plane` lies along `direction` (in the plane, made one long) against the mirrored
    /// right one, mm, and its doubt.
    pub fn slid_along(&self, plane: &MidPlane, direction: &Unit) -> (f64, Option<Uncertain>) {
        // The motion takes the mirrored half of the normal's side onto the other.
        let sign = if plane.plane.normal.dot(&self.plane.normal) < 0.0 {
            -1.0
        } else {
            1.0
        };
        let doubt = self.halves.at(&self.centre, direction);
        (sign * self.slid.dot(direction), doubt)
    }
}

#[cfg(test)]
mod tests;
