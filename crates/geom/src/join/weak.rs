//! In which ways surfaces hold a pose, and in which they do not.
//!
//! The information of the heights, A = sum w J J' with J = (n, p x n), is held against that of the same points moved freely,
//! B = sum over x, y, z of the same with n replaced by the axis. A v = l B v has l between 0 and 1 whatever the unit, the middle
//! or the lever arm: 1 where the surface holds a motion as if every coordinate of its points were known, 0 where points only
//! slide along the surface. A flat plate has exactly 0, 0, 0, 1, 1, 1.

use nalgebra::{DMatrix, DVector, Matrix6, SymmetricEigen, Vector6};

use super::matches::Normal;

/// The six ways, the weakest first.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Ways {
    /// l of each, 0 to 1.
    pub held: [f64; 6],
    /// Motions with v' B v = 1.
    pub motions: Matrix6<f64>,
    /// B, to tell how much of each way a motion has: y = ways' B motion.
    pub free: Matrix6<f64>,
}

impl Ways {
    /// `None` if all points lie on one line or in one place.
    pub fn of(sums: &Normal) -> Option<Self> {
        let symmetric = |m: &Matrix6<f64>| (m + m.transpose()) * 0.5;
        // Turns made as long as shifts first, so that the decomposition is sound.
        let size = ((sums.free[(3, 3)] + sums.free[(4, 4)] + sums.free[(5, 5)])
            / (2.0 * sums.weight.max(f64::MIN_POSITIVE)))
        .sqrt();
        if !(size > 0.0 && size.is_finite()) {
            return None;
        }
        let s = Matrix6::from_diagonal(&Vector6::new(
            1.0,
            1.0,
            1.0,
            1.0 / size,
            1.0 / size,
            1.0 / size,
        ));
        let free = SymmetricEigen::new(symmetric(&(s * sums.free * s)));
        let (most, least) = (free.eigenvalues.max(), free.eigenvalues.min());
        if least <= 1e-12 * most {
            return None;
        }
        let root = free.eigenvectors
            * Matrix6::from_diagonal(&free.eigenvalues.map(|v| v.sqrt().recip()))
            * free.eigenvectors.transpose();
        let whitened = symmetric(&(root * s * sums.information * s * root));
        let eigen = SymmetricEigen::new(whitened);
        let mut order = [0, 1, 2, 3, 4, 5];
        order.sort_by(|&a, &b| eigen.eigenvalues[a].total_cmp(&eigen.eigenvalues[b]));
        let columns = order.map(|k| s * root * eigen.eigenvectors.column(k));
        Some(Self {
            held: order.map(|k| eigen.eigenvalues[k].clamp(0.0, 1.0)),
            motions: Matrix6::from_columns(&columns),
            free: sums.free,
        })
    }

    /// The motion that takes out the heights by least squares, in the ways from `first` on.
    pub fn step(&self, pull: &Vector6<f64>, first: usize) -> Vector6<f64> {
        let pull = self.motions.transpose() * pull;
        (first..6)
            .map(|k| -self.motions.column(k) * (pull[k] / self.held[k]))
            .sum()
    }

    /// How much of each way a motion has.
    pub fn shares(&self, motion: &Vector6<f64>) -> Vector6<f64> {
        self.motions.transpose() * self.free * motion
    }

    /// Says the first `count` ways, which nothing holds and of which any mixture is one too, as slides and turns along the axes
    /// where that can be.
    pub fn in_plain_words(&mut self, count: usize) {
        if count < 2 {
            return;
        }
        let group = DMatrix::from_fn(6, count, |i, j| self.motions[(i, j)]);
        // Shares of slides: about the middle of the points shifts and turns do not mix in B.
        let shifts = group.rows(0, 3);
        let slides = shifts.transpose() * self.free.view((0, 0), (3, 3)) * shifts;
        let eigen = SymmetricEigen::new((&slides + slides.transpose()) * 0.5);
        let mut order: Vec<usize> = (0..count).collect();
        order.sort_by(|&a, &b| eigen.eigenvalues[b].total_cmp(&eigen.eigenvalues[a]));
        let split = order
            .iter()
            .filter(|&&k| eigen.eigenvalues[k] > 0.5)
            .count();
        let columns = |part: &[usize]| {
            DMatrix::from_columns(
                &part
                    .iter()
                    .map(|&k| &group * eigen.eigenvectors.column(k))
                    .collect::<Vec<DVector<f64>>>(),
            )
        };
        let mut at = 0;
        for (part, first) in [(&order[..split], 0), (&order[split..], 3)] {
            if part.is_empty() {
                continue;
            }
            let aligned = self.along_axes(&columns(part), first);
            for c in aligned.column_iter() {
                for i in 0..6 {
                    self.motions[(i, at)] = c[i];
                }
                at += 1;
            }
        }
    }

    /// The same span with its members as near as can be to the motions `first..first + 3`, the nearest first.
    fn along_axes(&self, group: &DMatrix<f64>, first: usize) -> DMatrix<f64> {
        let m = group.ncols();
        let free = DMatrix::from_fn(6, 6, |i, j| self.free[(i, j)]);
        let mut left: Vec<DVector<f64>> = (first..first + 3)
            .map(|k| {
                let size = self.free[(k, k)].max(f64::MIN_POSITIVE).sqrt();
                group.transpose() * free.column(k) / size
            })
            .collect();
        let mut chosen: Vec<DVector<f64>> = Vec::new();
        for _ in 0..m {
            let Some(best) = left.iter().enumerate().fold(
                None,
                |best: Option<(usize, f64)>, (k, v)| match best {
                    Some(b) if b.1 >= v.norm() - 1e-9 => Some(b),
                    _ => Some((k, v.norm())),
                },
            ) else {
                break;
            };
            let Some(unit) = left.swap_remove(best.0).try_normalize(1e-6) else {
                break;
            };
            for v in &mut left {
                *v -= &unit * unit.dot(v);
            }
            chosen.push(unit);
        }
        if chosen.len() < m {
            return group.clone();
        }
        group * DMatrix::from_columns(&chosen)
    }
}
