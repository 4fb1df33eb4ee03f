//! Where an opening is on the car, and how well its edge tells.

use geom::{Improper, Point, Rigid, Unit, Vector};
use nalgebra::{DMatrix, Matrix6, Vector6};
use record::{EdgeSpread, PositionKind};

/// Middle, outward direction and direction of the top of an opening; scan, common or car axes.
#[derive(Clone, Copy, Debug)]
pub(super) struct Pose {
    pub middle: Point,
    pub out: Vector,
    pub top: Vector,
}

impl Pose {
    /// In scan axes.
    pub(super) fn of(part_from_scan: &Rigid) -> Self {
        let back = part_from_scan.inverse();
        Self {
            middle: back * Point::origin(),
            out: back.rotation * Vector::z(),
            top: back.rotation * Vector::y(),
        }
    }

    /// Of the other opening by its edge laid on the first, so that the clicked tops do not matter; scan axes.
    pub(super) fn laid_on(a_from_b: &Improper) -> Self {
        let back = a_from_b.rigid.inverse();
        let point = |p: Point| a_from_b.mirror.map_or(p, |m| m.point(&p));
        let vector = |v: Vector| a_from_b.mirror.map_or(v, |m| m.vector(&v));
        Self {
            middle: point(back * Point::origin()),
            out: vector(back.rotation * Vector::z()),
            top: vector(back.rotation * Vector::y()),
        }
    }

    /// In other axes.
    pub(super) fn in_axes(&self, other_from_these: &Rigid) -> Self {
        Self {
            middle: other_from_these * self.middle,
            out: other_from_these.rotation * self.out,
            top: other_from_these.rotation * self.top,
        }
    }

    /// In car axes: the mirror image about the centreline.
    pub(super) fn mirrored(&self) -> Self {
        let over = |v: &Vector| Vector::new(v.x, -v.y, v.z);
        Self {
            middle: over(&self.middle.coords).into(),
            out: over(&self.out),
            top: over(&self.top),
        }
    }

    /// In car axes: after the centreline was turned by `g[0]` about up, `g[1]` about along and shifted by `g[2]`.
    pub(super) fn seen_from(&self, g: [f64; 3]) -> Self {
        let turn = |v: &Vector| {
            Vector::new(
                v.x - g[0] * v.y,
                v.y + g[0] * v.x + g[1] * v.z,
                v.z - g[1] * v.y,
            )
        };
        let mut middle = turn(&self.middle.coords);
        middle.y -= g[2];
        Self {
            middle: middle.into(),
            out: turn(&self.out),
            top: turn(&self.top),
        }
    }

    /// In car axes: moved by the first three of `q` and turned about its middle by the last three.
    pub(super) fn moved(&self, q: &Vector6<f64>) -> Self {
        let w = Vector::new(q[3], q[4], q[5]);
        Self {
            middle: self.middle + Vector::new(q[0], q[1], q[2]),
            out: self.out + w.cross(&self.out),
            top: self.top + w.cross(&self.top),
        }
    }

    /// Figures of a pose on the left side, car axes: mm and degrees. `None` where the face looks up or down and has no
    /// such angle.
    pub(super) fn figure(&self, kind: PositionKind) -> Option<f64> {
        let n = self.out.try_normalize(0.0)?;
        let flat = n.x.hypot(n.y) > 0.2;
        let angle = match kind {
            PositionKind::SetBack => return Some(self.middle.x),
            PositionKind::Out => return Some(-self.middle.y),
            PositionKind::Height => return Some(self.middle.z),
            PositionKind::Toe => flat.then(|| (-n.y).atan2(-n.x))?,
            PositionKind::Camber => n.z.clamp(-1.0, 1.0).asin(),
            PositionKind::Level => {
                let up = flat
                    .then(|| (Vector::z() - n * n.z).try_normalize(0.0))
                    .flatten()?;
                // To the left where the face looks forward, rearward where it looks to the left.
                let across = up.cross(&n);
                self.top.dot(&across).atan2(self.top.dot(&up))
            }
        };
        Some(angle.to_degrees())
    }
}

/// A place of an edge with its two directions.
pub(crate) type Spot = (Point, Unit, Unit);

/// How a pose that is fitted to the edge by least squares moves with the doubt of `spread`: covariance of shift and turn
/// about the origin, part axes, mm and rad; `None` where the edge leaves it free.
pub(crate) fn pose_covariance(spots: &[Spot], spread: &EdgeSpread) -> Option<Matrix6<f64>> {
    if spots.len() != spread.gap.nrows() || spots.len() != spread.flush.nrows() {
        return None;
    }
    let mut information = Matrix6::zeros();
    let mut rows: Vec<[Vector6<f64>; 2]> = Vec::with_capacity(spots.len());
    for (p, gap, flush) in spots {
        let row = |d: &Unit| {
            let turn = p.coords.cross(d);
            Vector6::new(d.x, d.y, d.z, turn.x, turn.y, turn.z)
        };
        let both = [row(gap), row(flush)];
        for r in &both {
            information += r * r.transpose();
        }
        rows.push(both);
    }
    // Turns made as long as shifts before the inverse is taken.
    let size =
        (spots.iter().map(|s| s.0.coords.norm_squared()).sum::<f64>() / spots.len() as f64).sqrt();
    let alike = Matrix6::from_diagonal(&Vector6::new(
        1.0,
        1.0,
        1.0,
        1.0 / size,
        1.0 / size,
        1.0 / size,
    ));
    let scaled = alike * information * alike;
    let least = scaled.symmetric_eigenvalues().min();
    if least.is_nan() || least <= 1e-9 * spots.len() as f64 {
        return None;
    }
    let inverse = alike * scaled.try_inverse()? * alike;
    let pulled = |m: &DMatrix<f64>, which: usize, column: usize| -> Vector6<f64> {
        rows.iter()
            .enumerate()
            .map(|(i, r)| r[which] * m[(i, column)])
            .sum()
    };
    let (gaps, flushes) = (spread.gap.ncols(), spread.flush.ncols());
    let shared = spread.shared.min(gaps).min(flushes);
    let mut factors: Vec<Vector6<f64>> = Vec::with_capacity(gaps + flushes);
    factors.extend((0..gaps - shared).map(|c| pulled(&spread.gap, 0, c)));
    factors.extend((0..flushes - shared).map(|c| pulled(&spread.flush, 1, c)));
    factors.extend((0..shared).map(|c| {
        pulled(&spread.gap, 0, gaps - shared + c) + pulled(&spread.flush, 1, flushes - shared + c)
    }));
    let sum: Matrix6<f64> = factors
        .iter()
        .map(|f| {
            let q = inverse * f;
            q * q.transpose()
        })
        .sum();
    Some(sum)
}

/// A covariance of part axes in axes turned by `rotation`.
pub(super) fn turned(c: &Matrix6<f64>, rotation: &nalgebra::UnitQuaternion<f64>) -> Matrix6<f64> {
    let r = rotation.to_rotation_matrix();
    let mut both = Matrix6::zeros();
    both.fixed_view_mut::<3, 3>(0, 0).copy_from(r.matrix());
    both.fixed_view_mut::<3, 3>(3, 3).copy_from(r.matrix());
    both * c * both.transpose()
}
