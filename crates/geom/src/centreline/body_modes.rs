//! Ways in which a body as a whole is not its own mirror image.

use nalgebra::{DMatrix, DVector};

use super::odd_one::{LEAN, ROUNDING};
use super::{Landmark, MidPlane};
use crate::{Uncertain, Vector};

/// A way of the whole body, after the centre plane was laid as well as it goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum BodyModeKind {
    /// The right side sits further along than the left, mm. The midpoints and the chords then disagree on the turn of
    /// the plane about the upward axis by this over the width.
    Shear,
    /// The right side sits higher than the left, mm.
    Lean,
    /// The plane of the front is turned about the axis along against that of the back, rad over the length seen.
    Twist,
    /// The middle of the body lies to the right of the line through its ends, mm.
    Bow,
}

impl BodyModeKind {
    /// Every kind.
    pub const ALL: [Self; 4] = [Self::Shear, Self::Lean, Self::Twist, Self::Bow];
}

/// A way with its amount.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BodyMode {
    /// Which.
    pub kind: BodyModeKind,
    /// Amount: mm, for [`BodyModeKind::Twist`] rad.
    pub amount: f64,
    /// Its doubt.
    pub doubt: Uncertain,
}

impl BodyMode {
    /// Whether it is proven: four ways are looked at, so each is asked for a quarter of the 5 % of one.
    pub fn is_real(&self) -> bool {
        let share = 0.05 / (2 * BodyModeKind::ALL.len()) as f64;
        self.doubt.s > 0.0 && crate::t_sf(self.amount.abs() / self.doubt.s, self.doubt.nu) < share
    }
}

/// The whole-body ways of `landmarks`, fitted together with the motions of `plane` that they would otherwise pass for.
/// With xi from -1 to 1 over the length of the places: shear moves misfits along by a, lean up by a, bow across by
/// 2 a (1 - xi^2), twist turns the plane by a xi / 2. Weights of the components are those of the scatter left.
///
/// Empty where there are too few places for it (8 readings beyond the unknowns are asked) or where they cannot tell the
/// ways apart.
pub fn body_modes(plane: &MidPlane, landmarks: &[Landmark]) -> Vec<BodyMode> {
    let rows = plane.rows(landmarks);
    let places: Vec<Vector> = landmarks
        .iter()
        .map(|l| plane.local(&l.midpoint()))
        .collect();
    let low = places.iter().map(|m| m.x).fold(f64::INFINITY, f64::min);
    let high = places.iter().map(|m| m.x).fold(f64::NEG_INFINITY, f64::max);
    let half = 0.5 * (high - low);
    let readings: usize = rows
        .iter()
        .map(|r| (0..3).filter(|&k| r.speaks(k)).count())
        .sum();
    // 2 turns, shift, 4 ways. Shear and the turn about up differ only where midpoints are spread along.
    let unknowns = 7;
    if readings < unknowns + 8 || half <= 0.0 {
        return Vec::new();
    }
    let widest = landmarks
        .iter()
        .map(|l| l.weight.sqrt() * (l.chord().norm() + half))
        .fold(0.0, f64::max);
    let rounding = (ROUNDING * widest).powi(2);
    let mut scale = [1.0; 3];
    let mut found = Vec::new();
    for _ in 0..3 {
        let mut a = DMatrix::zeros(readings, unknowns);
        let mut y = DVector::zeros(readings);
        let mut component = Vec::with_capacity(readings);
        for (row, m) in rows.iter().zip(&places) {
            let xi = (m.x - 0.5 * (low + high)) / half;
            for k in (0..3).filter(|&k| row.speaks(k)) {
                let w = row.weight.sqrt() / scale[k];
                let i = component.len();
                y[i] = row.v[k] * w;
                // What the ways make of the misfit; the plane's own turn takes the opposite sign.
                let turn = -0.5 * xi * row.h[(k, 1)];
                let terms = [
                    -row.h[(k, 0)],
                    -row.h[(k, 1)],
                    -row.h[(k, 2)],
                    f64::from(u8::from(k == 0)),
                    f64::from(u8::from(k == 2)),
                    turn,
                    if k == 1 { 2.0 * (1.0 - xi * xi) } else { 0.0 },
                ];
                for (j, t) in terms.into_iter().enumerate() {
                    a[(i, j)] = t * w;
                }
                component.push(k);
            }
        }
        let lengths: Vec<f64> = a.column_iter().map(|c| c.norm()).collect();
        if lengths.iter().any(|l| *l <= 0.0) {
            return Vec::new();
        }
        for (mut c, l) in a.column_iter_mut().zip(&lengths) {
            c /= *l;
        }
        let normal = a.transpose() * &a;
        if normal.clone().symmetric_eigenvalues().min() < 1e-8 {
            return Vec::new();
        }
        let Some(inverse) = normal.try_inverse() else {
            return Vec::new();
        };
        let gain = &inverse * a.transpose();
        let x = &gain * &y;
        let left = &y - &a * &x;
        let (mut squares, mut free) = ([0.0; 3], [0.0; 3]);
        for i in 0..readings {
            let k = component[i];
            squares[k] += left[i] * left[i];
            free[k] += 1.0 - (a.row(i) * gain.column(i))[0];
        }
        found = (0..4)
            .map(|j| {
                let parts: Vec<(f64, f64)> = (0..3)
                    .map(|k| {
                        let g: f64 = (0..readings)
                            .filter(|&i| component[i] == k)
                            .map(|i| gain[(j + 3, i)].powi(2))
                            .sum();
                        let var = if free[k] > 1e-6 {
                            squares[k] / free[k]
                        } else {
                            0.0
                        };
                        ((g * var).sqrt() / lengths[j + 3], free[k].max(1e-6))
                    })
                    .collect();
                let (s, nu) = crate::welch_satterthwaite(&parts);
                BodyMode {
                    kind: BodyModeKind::ALL[j],
                    amount: x[j + 3] / lengths[j + 3],
                    doubt: Uncertain::new(s, nu),
                }
            })
            .collect();
        // Each component leans on all together: one that is met by chance, or exactly, must not drown the others.
        for k in 0..3 {
            squares[k] *= scale[k] * scale[k];
        }
        let pooled = squares.iter().sum::<f64>() / free.iter().sum::<f64>().max(1e-9);
        if pooled <= rounding {
            break;
        }
        scale = [0, 1, 2].map(|k| ((squares[k] + LEAN * pooled) / (free[k] + LEAN)).sqrt());
    }
    found
}
