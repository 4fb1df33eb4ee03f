//! How well a pose is known.

use nalgebra::{Matrix6, SymmetricEigen, Vector6};

use crate::{Point, Rigid, Uncertain, Vector};

/// A motion by which a pose may be off: shift (mm) of `about`, then turn (rad) about it; axes of the target.
pub(super) fn motion(row: &Vector6<f64>) -> (Vector, Vector) {
    (
        Vector::new(row[0], row[1], row[2]),
        Vector::new(row[3], row[4], row[5]),
    )
}

/// How far place `p` moves along `direction` (any length) for each of the six motions about `about`.
pub(super) fn motion_row(p: &Point, direction: &Vector, about: &Point) -> Vector6<f64> {
    let turn = (p - about).cross(direction);
    Vector6::new(
        direction.x,
        direction.y,
        direction.z,
        turn.x,
        turn.y,
        turn.z,
    )
}

/// One source of doubt of a pose: independent motions of standard size one, each with its degrees of freedom.
#[derive(Clone, Debug, PartialEq)]
pub struct DoubtPart {
    /// Motions (shift of the middle in mm, turn about it in rad) by which the pose may be off, one standard uncertainty each.
    pub motions: Vec<Vector6<f64>>,
    /// Degrees of freedom of each; infinite where it is known.
    pub nu: Vec<f64>,
}

impl DoubtPart {
    /// From the covariance of the six motions, all with the same degrees of freedom. `size` (mm, > 0) is a lever arm
    /// that makes turns as long as shifts; it bears on rounding only.
    pub fn of_covariance(covariance: &Matrix6<f64>, size: f64, nu: f64) -> Self {
        let (motions, _) = principal(covariance, size);
        Self {
            nu: vec![nu; motions.len()],
            motions,
        }
    }

    fn of(&self, g: &Vector6<f64>) -> Uncertain {
        let (mut var, mut by_nu) = (0.0, 0.0);
        for (m, nu) in self.motions.iter().zip(&self.nu) {
            let one = g.dot(m).powi(2);
            var += one;
            by_nu += one / nu;
        }
        let nu = if by_nu > 0.0 {
            var / by_nu
        } else {
            f64::INFINITY
        };
        Uncertain::new(var.sqrt(), nu)
    }
}

/// Square roots of the variances along the principal motions (turns scaled by `size`), largest first, and these motions
/// at unit size.
pub(super) fn principal(
    covariance: &Matrix6<f64>,
    size: f64,
) -> (Vec<Vector6<f64>>, Vec<Vector6<f64>>) {
    let longer = Vector6::new(1.0, 1.0, 1.0, size, size, size);
    let scaled = Matrix6::from_fn(|i, j| covariance[(i, j)] * longer[i] * longer[j]);
    let eigen = SymmetricEigen::new((scaled + scaled.transpose()) * 0.5);
    let mut order: Vec<usize> = (0..6).collect();
    order.sort_by(|&a, &b| eigen.eigenvalues[b].total_cmp(&eigen.eigenvalues[a]));
    order
        .into_iter()
        .map(|k| {
            let unit: Vector6<f64> = eigen
                .eigenvectors
                .column(k)
                .into_owned()
                .component_div(&longer);
            (unit * eigen.eigenvalues[k].max(0.0).sqrt(), unit)
        })
        .unzip()
}

/// The doubt of a pose `to_from`: the true pose is the one given, then moved by small motions about `about` in the axes
/// of the target.
///
/// The doubt of a figure is that of its change by these motions. Sources are independent of each other and combine by
/// Welch-Satterthwaite; within a source the degrees of freedom are the harmonic mean, weighted by what each motion
/// contributes. A pose may also be free in some motions ([`Self::free`]): nothing then bounds a figure that they change.
#[derive(Clone, Debug, PartialEq)]
pub struct PoseDoubt {
    /// The middle of what the pose rests on, axes of the target, mm.
    pub about: Point,
    /// Sources.
    pub parts: Vec<DoubtPart>,
    /// Motions that nothing holds, of unit size when turns are scaled by a lever arm.
    pub free: Vec<Vector6<f64>>,
}

/// A free motion that changes a figure by less than this share of what it could is taken not to: its own direction is known no
/// better, because normals are wrong by about a degree.
const TOUCHED: f64 = 0.02;

impl PoseDoubt {
    /// Of a figure that changes by `g` per mm of each shift and rad of each turn about [`Self::about`]; `None` where a
    /// motion that nothing holds changes it.
    pub fn of(&self, g: &Vector6<f64>) -> Option<Uncertain> {
        let touched = |f: &Vector6<f64>| {
            let ((shift, turn), (by_shift, by_turn)) = (motion(f), motion(g));
            let most = shift.norm() * by_shift.norm() + turn.norm() * by_turn.norm();
            f.dot(g).abs() > TOUCHED * most.max(f64::MIN_POSITIVE)
        };
        if self.free.iter().any(touched) {
            return None;
        }
        let parts: Vec<Uncertain> = self.parts.iter().map(|p| p.of(g)).collect();
        Some(Uncertain::combined(&parts))
    }

    /// Of the coordinate along `direction` (made one long) of a place that is fixed in the scan, `p` in axes of the
    /// target, mm.
    pub fn at(&self, p: &Point, direction: &Vector) -> Option<Uncertain> {
        let d = direction.try_normalize(0.0)?;
        self.of(&motion_row(p, &d, &self.about))
    }

    /// Of the turn about `axis` (made one long), rad.
    pub fn turn(&self, axis: &Vector) -> Option<Uncertain> {
        let a = axis.try_normalize(0.0)?;
        self.of(&Vector6::new(0.0, 0.0, 0.0, a.x, a.y, a.z))
    }

    /// The worst of all directions at `p`: the largest [`Self::at`]; `None` where nothing holds one of them.
    pub fn worst_at(&self, p: &Point) -> Option<Uncertain> {
        self.worst(&|d| motion_row(p, d, &self.about))
    }

    /// The worst of all turns, rad.
    pub fn worst_turn(&self) -> Option<Uncertain> {
        self.worst(&|a| Vector6::new(0.0, 0.0, 0.0, a.x, a.y, a.z))
    }

    fn worst(&self, row: &dyn Fn(&Vector) -> Vector6<f64>) -> Option<Uncertain> {
        let axes = [Vector::x(), Vector::y(), Vector::z()].map(|d| row(&d));
        for a in &axes {
            self.of(a)?;
        }
        let spread = nalgebra::Matrix3::from_fn(|i, j| {
            self.parts
                .iter()
                .flat_map(|p| &p.motions)
                .map(|m| axes[i].dot(m) * axes[j].dot(m))
                .sum()
        });
        let eigen = SymmetricEigen::new(spread);
        let direction = eigen.eigenvectors.column(eigen.eigenvalues.imax());
        self.of(&row(&direction.into_owned()))
    }

    /// The doubt of `outer_from_to * to_from`, where this is that of `to_from` and `outer` that of `outer_from_to`.
    #[must_use]
    pub fn then(&self, outer_from_to: &Rigid, outer: &Self) -> Self {
        let mut all = self.seen_from(outer_from_to).taken_about(&outer.about);
        all.parts.extend(outer.parts.iter().cloned());
        all.free.extend(outer.free.iter().copied());
        all
    }

    /// The same motions in other axes.
    #[must_use]
    pub fn seen_from(&self, other_from_to: &Rigid) -> Self {
        let turned = |m: &Vector6<f64>| {
            let (shift, turn) = motion(m);
            let (shift, turn) = (other_from_to * shift, other_from_to * turn);
            Vector6::new(shift.x, shift.y, shift.z, turn.x, turn.y, turn.z)
        };
        self.mapped(other_from_to * self.about, &turned)
    }

    /// The same with the shifts taken at another middle.
    #[must_use]
    pub fn taken_about(&self, other: &Point) -> Self {
        let arm = other - self.about;
        let moved = |m: &Vector6<f64>| {
            let (shift, turn) = motion(m);
            let shift = shift + turn.cross(&arm);
            Vector6::new(shift.x, shift.y, shift.z, turn.x, turn.y, turn.z)
        };
        self.mapped(*other, &moved)
    }

    /// The doubt of the inverse pose `from_to`: motions in the axes of the scan.
    #[must_use]
    pub fn inverse(&self, to_from: &Rigid) -> Self {
        let back = self.seen_from(&to_from.inverse());
        back.mapped(back.about, &|m| -m)
    }

    fn mapped(&self, about: Point, f: &dyn Fn(&Vector6<f64>) -> Vector6<f64>) -> Self {
        Self {
            about,
            parts: self
                .parts
                .iter()
                .map(|p| DoubtPart {
                    motions: p.motions.iter().map(f).collect(),
                    nu: p.nu.clone(),
                })
                .collect(),
            free: self.free.iter().map(f).collect(),
        }
    }

    /// `pose` moved by a small motion about [`Self::about`], exact in the turn.
    pub fn moved(&self, pose: &Rigid, by: &Vector6<f64>) -> Rigid {
        let (shift, turn) = motion(by);
        let to = nalgebra::Translation3::from(self.about.coords + shift);
        let from = nalgebra::Translation3::from(-self.about.coords);
        to * nalgebra::UnitQuaternion::from_scaled_axis(turn) * from * pose
    }

    /// The sum of all parts' covariances.
    pub fn covariance(&self) -> Matrix6<f64> {
        self.parts
            .iter()
            .flat_map(|p| &p.motions)
            .map(|m| m * m.transpose())
            .sum()
    }
}
