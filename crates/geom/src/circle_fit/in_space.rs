//! Circles in space: a plane through the points, and a circle in it.

use nalgebra::Matrix3;

use super::{Circle2Fit, fit_circle_2d, fit_circle_2d_robust};
use crate::robust::{EvenSequence, HARD_CUT, NORMAL_MEDIAN, median, untruncated_sd};
use crate::{FitError, LocalAxes, Point, Unit, Vector};

/// A circle in space.
#[derive(Clone, Debug, PartialEq)]
pub struct CircleFit {
    /// Centre.
    pub centre: Point,
    /// Normal of its plane, on the side asked for.
    pub axis: Unit,
    /// Radius, mm.
    pub radius: f64,
    /// The axes (n = `axis`) in which `in_plane` is written; its origin is the centroid of the points fitted.
    pub axes: LocalAxes,
    /// The circle in its plane: covariance, scatter, arc covered, and which points were fitted.
    pub in_plane: Circle2Fit,
    /// Standard deviation of a point square to the plane, sqrt(sum h^2 / (n - 3)), mm; NaN for three points.
    pub out_of_plane_sd: f64,
    /// Variances of the turns of the plane about `axes.u` and `axes.v` (rad) and their covariance, for noise of
    /// variance 1 square to the plane.
    pub tilt_factor: [[f64; 2]; 2],
}

/// Fits a circle to points in space: the orthogonal plane through them, then the geometric circle of their feet in it.
/// `towards` picks the side of the axis. Errors as [`fit_circle_2d`].
pub fn fit_circle(points: &[Point], towards: &Vector) -> Result<CircleFit, FitError> {
    let kept = vec![true; points.len()];
    let (axes, _) = plane_of(points, &kept, towards)?;
    let circle = fit_circle_2d(&flattened(&axes, points))?;
    finish(points, axes, circle)
}

/// As [`fit_circle`], setting aside stray points off the plane and then in it, up to 40 % together. `scale_floor` (mm)
/// is the noise known beforehand, 0 if none. Standard deviations are corrected for the cut at 3.5 of them.
pub fn fit_circle_robust(
    points: &[Point],
    towards: &Vector,
    scale_floor: f64,
) -> Result<CircleFit, FitError> {
    if !(scale_floor >= 0.0 && scale_floor.is_finite()) {
        return Err(FitError::NotFinite);
    }
    let (axes, on_plane) = robust_plane(points, towards, scale_floor)?;
    let places: Vec<usize> = (0..points.len()).filter(|&k| on_plane[k]).collect();
    let near: Vec<Point> = places.iter().map(|&k| points[k]).collect();
    let circle = fit_circle_2d_robust(&flattened(&axes, &near), scale_floor)?;
    // The plane once more, through what is on the circle.
    let mut kept = vec![false; points.len()];
    for (&k, &on) in places.iter().zip(&circle.inliers) {
        kept[k] = on;
    }
    let (axes, _) = plane_of(points, &kept, towards)?;
    let sure: Vec<Point> = (0..points.len())
        .filter(|&k| kept[k])
        .map(|k| points[k])
        .collect();
    let sd = circle.sd;
    let mut circle = fit_circle_2d(&flattened(&axes, &sure))?;
    circle.sd = sd;
    circle.inliers = kept;
    finish(points, axes, circle)
}

fn flattened(axes: &LocalAxes, points: &[Point]) -> Vec<[f64; 2]> {
    points
        .iter()
        .map(|p| {
            let [u, v, _] = axes.local(p);
            [u, v]
        })
        .collect()
}

fn finish(points: &[Point], axes: LocalAxes, in_plane: Circle2Fit) -> Result<CircleFit, FitError> {
    let (mut n, mut squares, mut uu, mut uv, mut vv) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for (p, _) in points
        .iter()
        .zip(&in_plane.inliers)
        .filter(|(_, kept)| **kept)
    {
        let [u, v, h] = axes.local(p);
        n += 1.0;
        squares += h * h;
        uu += u * u;
        uv += u * v;
        vv += v * v;
    }
    let determinant = uu * vv - uv * uv;
    if determinant <= 0.0 {
        return Err(FitError::Degenerate);
    }
    let [u, v] = in_plane.centre;
    Ok(CircleFit {
        centre: axes.point(u, v, 0.0),
        axis: axes.n,
        radius: in_plane.radius,
        axes,
        out_of_plane_sd: (squares / (n - 3.0)).sqrt(),
        // A turn a about u lifts a point by a v, a turn b about v by -b u.
        tilt_factor: [
            [uu / determinant, uv / determinant],
            [uv / determinant, vv / determinant],
        ],
        in_plane,
    })
}

/// The orthogonal least squares plane of the points kept, as axes at their centroid, and the sd square to it.
fn plane_of(
    points: &[Point],
    kept: &[bool],
    towards: &Vector,
) -> Result<(LocalAxes, f64), FitError> {
    let used = || {
        points
            .iter()
            .zip(kept)
            .filter(|(_, kept)| **kept)
            .map(|(p, _)| p)
    };
    let n = used().count();
    FitError::check_count(3, n)?;
    let centre = Point::from(used().fold(Vector::zeros(), |s, p| s + p.coords) / n as f64);
    if !centre.iter().all(|x| x.is_finite()) {
        return Err(FitError::NotFinite);
    }
    let scatter = used().fold(Matrix3::zeros(), |s, p| {
        let d = p - centre;
        s + d * d.transpose()
    });
    let eigen = scatter.symmetric_eigen();
    let mut order = [0, 1, 2];
    order.sort_by(|&i, &j| eigen.eigenvalues[i].total_cmp(&eigen.eigenvalues[j]));
    let [least, middle, most] = order.map(|k| eigen.eigenvalues[k]);
    if middle - least <= 1e-12 * most || most <= 0.0 {
        return Err(FitError::Degenerate);
    }
    let mut normal: Vector = eigen.eigenvectors.column(order[0]).into_owned();
    if normal.dot(towards) < 0.0 {
        normal = -normal;
    }
    let sd = (least.max(0.0) / (n.max(4) - 3) as f64).sqrt();
    Ok((LocalAxes::about(centre, Unit::new_normalize(normal)), sd))
}

/// The plane with the least median distance among those through 500 triples in a fixed sequence, then refitted to the
/// points within 3.5 sd until they stay the same. Points are cut square to it.
fn robust_plane(
    points: &[Point],
    towards: &Vector,
    floor: f64,
) -> Result<(LocalAxes, Vec<bool>), FitError> {
    FitError::check_count(4, points.len())?;
    if !points.iter().flat_map(|p| p.iter()).all(|x| x.is_finite()) {
        return Err(FitError::NotFinite);
    }
    let sequence = EvenSequence::new(3);
    let mut best: Option<(f64, LocalAxes)> = None;
    let mut sizes = vec![0.0; points.len()];
    for k in 0..500 {
        let [a, b, c] = [0, 1, 2].map(|j| points[sequence.pick(k, j, points.len())]);
        let Some(normal) = Unit::try_new((b - a).cross(&(c - a)), 1e-9) else {
            continue;
        };
        let axes = LocalAxes::about(a, normal);
        for (size, p) in sizes.iter_mut().zip(points) {
            *size = axes.local(p)[2].abs();
        }
        let middle = median(&mut sizes);
        if best.is_none_or(|(least, _)| middle < least) {
            best = Some((middle, axes));
        }
    }
    let (middle, mut axes) = best.ok_or(FitError::Degenerate)?;
    let reach = points.iter().fold(0.0_f64, |m, p| m.max(p.coords.amax()));
    let floor = floor.max(1e-13 * reach);
    let mut scale = (middle / NORMAL_MEDIAN).max(floor);
    let mut kept = Vec::new();
    for _ in 0..30 {
        let cut = HARD_CUT * scale;
        let next: Vec<bool> = points
            .iter()
            .map(|p| axes.local(p)[2].abs() <= cut)
            .collect();
        if next == kept {
            break;
        }
        kept = next;
        let (fitted, sd) = plane_of(points, &kept, towards)?;
        axes = fitted;
        scale = untruncated_sd(sd, cut).max(floor);
    }
    Ok((axes, kept))
}
