//! How well a centre plane is known.

use nalgebra::{DMatrix, Matrix3, RowVector3, Vector3};

use super::odd_one::LEAN;
use super::rows::{Row, Sums};
use crate::{Uncertain, Vector};

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
    /// Relative covariance of the three variances.
    spread: Matrix3<f64>,
    /// Covariance of theta of each.
    parts: [Matrix3<f64>; 3],
}

/// Scatter per component of a reading of weight one, and the relative covariance of the three variances.
///
/// What is left over in one component also holds what the others did to the plane: E q_k = sum_j A_kj s_j^2 with
/// A_kj = sum of M_ij^2 over the readings of both, M = I - X (X'X)^-1 X'. That system is solved for the variances
/// (Rao's quadratic estimates with equal weights; a negative one is 0). `None` if nothing is left over across.
fn components(rows: &[Row]) -> Option<([f64; 3], Matrix3<f64>)> {
    let one = Vector3::repeat(1.0);
    let sums = rows
        .iter()
        .fold(Sums::NONE, |s, r| s.with(&Sums::of(r, &one)));
    let inverse = sums.inverse()?;
    let theta = -(inverse * sums.pull);
    let readings: Vec<(usize, Vector3<f64>, f64)> = rows
        .iter()
        .flat_map(|r| {
            let left = r.v + r.h * theta;
            let root = r.weight.sqrt();
            (0..3)
                .filter(|&k| r.speaks(k))
                .map(move |k| (k, r.h.row(k).transpose() * root, left[k] * root))
        })
        .collect();
    let n = readings.len();
    let m = DMatrix::from_fn(n, n, |i, j| {
        let own = if i == j { 1.0 } else { 0.0 };
        own - readings[i].1.dot(&(inverse * readings[j].1))
    });
    let (mut squares, mut free) = (Vector3::zeros(), Vector3::<f64>::zeros());
    let mut mixed = Matrix3::<f64>::zeros();
    for i in 0..n {
        let k = readings[i].0;
        squares[k] += readings[i].2 * readings[i].2;
        free[k] += m[(i, i)];
        for j in 0..n {
            mixed[(k, readings[j].0)] += m[(i, j)] * m[(i, j)];
        }
    }
    // Nothing left over across, and the plane would look exact.
    if free[1] < 0.5 {
        return None;
    }
    // What each says of its own scatter leans on all together, for the freedom only: a ratio of two scatters known by
    // one or two degrees of freedom would make it jump.
    let pooled = squares.sum() / free.sum().max(1e-9);
    // A component that nothing speaks of stays out of the system.
    for k in 0..3 {
        if free[k] <= 1e-6 {
            mixed.row_mut(k).fill(0.0);
            mixed.column_mut(k).fill(0.0);
            mixed[(k, k)] = 1.0;
            squares[k] = 0.0;
        }
    }
    let unmix = mixed.try_inverse()?;
    let solved = unmix * squares;
    let variance = solved.map(|x| x.max(0.0));
    let leant = Vector3::from_fn(|k, _| (free[k] * variance[k] + LEAN * pooled) / (free[k] + LEAN));
    // Var of y'Qy = 2 tr(Q S Q S); the estimates are sums of q_k = y' M D_k M y.
    let parts: Vec<DMatrix<f64>> = (0..3)
        .map(|k| {
            let own: Vec<usize> = (0..n).filter(|&i| readings[i].0 == k).collect();
            let half = m.select_rows(&own);
            half.tr_mul(&half)
        })
        .collect();
    let of_sums = Matrix3::from_fn(|k, l| {
        let mut sum = 0.0;
        for j in 0..n {
            for i in 0..n {
                let both = leant[readings[i].0] * leant[readings[j].0];
                sum += parts[k][(i, j)] * parts[l][(i, j)] * both;
            }
        }
        2.0 * sum
    });
    let covariance = unmix * of_sums * unmix.transpose();
    let spread = Matrix3::from_fn(|k, l| {
        let both = leant[k] * leant[l];
        if both > 0.0 {
            covariance[(k, l)] / both
        } else {
            0.0
        }
    });
    Some((variance.map(f64::sqrt).into(), spread))
}

impl PlaneDoubt {
    /// `None` if there are fewer than four places, or too few that speak across.
    pub(super) fn of(rows: &[Row]) -> Option<Self> {
        if rows.len() < 4 {
            return None;
        }
        let (scatter, spread) = components(rows)?;
        Self::with_spread(rows, scatter, spread)
    }

    /// The doubt if misfits of weight one scatter by `scatter` (along, across, up, mm), known with `nu` degrees of freedom.
    #[cfg(test)]
    pub(super) fn with_scatter(rows: &[Row], scatter: [f64; 3], nu: [f64; 3]) -> Option<Self> {
        let spread = Matrix3::from_diagonal(&Vector3::from(nu.map(|n| 2.0 / n)));
        Self::with_spread(rows, scatter, spread)
    }

    /// As `with_scatter`; `spread` is the relative covariance of the three variances.
    fn with_spread(rows: &[Row], scatter: [f64; 3], spread: Matrix3<f64>) -> Option<Self> {
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
        Some(Self {
            scatter,
            nu: [0, 1, 2].map(|k| 2.0 / spread[(k, k)].max(1e-12)),
            spread,
            parts,
        })
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
        let parts = Vector3::from_fn(|k, _| (g * self.parts[k] * g.transpose())[0].max(0.0));
        let var = parts.sum();
        let of_var = (parts.transpose() * self.spread * parts)[0];
        let nu = if of_var > 0.0 {
            2.0 * var * var / of_var
        } else {
            f64::INFINITY
        };
        Uncertain::new(var.sqrt(), nu)
    }

    /// Of turn . g: `g` is how a figure changes per rad of the turn about up (normal along), per rad of the turn about along
    /// (normal up) and per mm of the shift to the right.
    pub fn of_motion(&self, g: [f64; 3]) -> Uncertain {
        self.of_functional(&RowVector3::from(g))
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
