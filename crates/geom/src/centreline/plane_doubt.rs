//! How well a centre plane is known.

use nalgebra::{Matrix3, RowVector3, Vector3};

use super::rows::{Row, Sums, scatter};
use crate::{Uncertain, Vector, welch_satterthwaite};

/// The doubt of a centre plane from the scatter of its own places, per component, and what it does to points.
///
/// Motions of the plane are theta = (turn about up, turn about along, both rad; shift, mm). The covariance is the sum of
/// three parts, one per component (along, across, up) of the misfits; each has a variance and degrees of freedom of its
/// own, so that a body whose scatter is not the same in all directions is not read too well or too badly
/// (equal variances would cover 83 % where the scatter across dominates).
#[derive(Clone, Debug, PartialEq)]
pub struct PlaneDoubt {
    /// Scatter of a misfit of weight one along, across and up, mm; 0 where nothing speaks.
    pub scatter: [f64; 3],
    /// Degrees of freedom of each.
    pub nu: [f64; 3],
    /// Covariance of theta of each.
    parts: [Matrix3<f64>; 3],
}

impl PlaneDoubt {
    /// `None` if there are fewer than four places, or too few that speak across.
    pub(super) fn of(rows: &[Row]) -> Option<Self> {
        if rows.len() < 4 {
            return None;
        }
        let one = Vector3::repeat(1.0);
        let (squares, free) = scatter(rows, &one)?;
        let scatter = Vector3::from_fn(|k, _| {
            if free[k] > 1e-6 {
                (squares[k] / free[k]).sqrt()
            } else {
                0.0
            }
        });
        // Nothing left over across, and the plane would look exact.
        if free[1] < 0.5 {
            return None;
        }
        Self::with_scatter(rows, scatter.into(), free.map(|f| f.max(1e-6)).into())
    }

    /// The doubt if misfits of weight one scatter by `scatter` (along, across, up, mm), known with `nu` degrees of freedom.
    pub(super) fn with_scatter(rows: &[Row], scatter: [f64; 3], nu: [f64; 3]) -> Option<Self> {
        let one = Vector3::repeat(1.0);
        let sums = rows
            .iter()
            .fold(Sums::NONE, |s, r| s.with(&Sums::of(r, &one)));
        let inverse = sums.inverse()?;
        let parts = [0, 1, 2].map(|k| {
            let middle: Matrix3<f64> = rows
                .iter()
                .filter(|r| r.speaks(k))
                .map(|r| {
                    let h = r.h.row(k).transpose();
                    h * h.transpose() * r.weight
                })
                .sum();
            inverse * middle * inverse * (scatter[k] * scatter[k])
        });
        Some(Self { scatter, nu, parts })
    }

    /// The same about the plane with normal and up reversed.
    pub(super) fn turned_over(mut self) -> Self {
        // theta_1 (normal along) and the shift change sign, theta_2 (normal towards up) does not.
        let signs = Matrix3::from_diagonal(&Vector3::new(-1.0, 1.0, -1.0));
        for part in &mut self.parts {
            *part = signs * *part * signs;
        }
        self
    }

    /// Covariance of (turn about up, turn about along, shift): rad2, rad mm, mm2.
    pub fn covariance(&self) -> Matrix3<f64> {
        self.parts.iter().sum()
    }

    /// Standard uncertainty of g . theta with its degrees of freedom (Welch-Satterthwaite over the components).
    pub(super) fn of_functional(&self, g: &RowVector3<f64>) -> Uncertain {
        let parts = [0, 1, 2].map(|k| {
            let var = (g * self.parts[k] * g.transpose())[0];
            (var.max(0.0).sqrt(), self.nu[k])
        });
        let (s, nu) = welch_satterthwaite(&parts);
        Uncertain::new(s, nu)
    }

    /// Of the turn about the upward axis (the nose to one side), rad.
    pub fn yaw(&self) -> Uncertain {
        self.of_functional(&RowVector3::new(1.0, 0.0, 0.0))
    }

    /// Of the turn about the axis along the body (the roof to one side), rad.
    pub fn roll(&self) -> Uncertain {
        self.of_functional(&RowVector3::new(0.0, 1.0, 0.0))
    }

    /// Of the shift to one side, mm.
    pub fn shift(&self) -> Uncertain {
        self.of_functional(&RowVector3::new(0.0, 0.0, 1.0))
    }

    /// How far the mirror image of a point moves along `direction` when the plane moves; the point and the direction
    /// in the axes of the plane (along, across, up, from its centre). Everything counts double across:
    /// J = [-2 (n x_k + T_k x_n), 2 n].
    pub(super) fn mirrored(&self, x: &Vector, direction: &Vector) -> Uncertain {
        self.of_functional(&RowVector3::new(
            -2.0 * (direction.y * x.x + direction.x * x.y),
            -2.0 * (direction.y * x.z + direction.z * x.y),
            2.0 * direction.y,
        ))
    }

    /// Of the distance of a point from the plane, mm.
    pub(super) fn distance(&self, x: &Vector) -> Uncertain {
        self.of_functional(&RowVector3::new(x.x, x.z, -1.0))
    }
}
