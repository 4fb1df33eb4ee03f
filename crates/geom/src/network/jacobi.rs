//! Singular values by one-sided Jacobi rotations.
//!
//! Columns are turned against each other until all are at right angles: A V = U S. Free motions are singular vectors of
//! singular value zero, and methods that first bring the matrix to two diagonals lose digits or the factors altogether
//! where several are zero at once; this one keeps V orthogonal and every column relatively exact (J. Demmel, K. Veselic
//! (1992) SIAM J. Matrix Anal. Appl. 13, 1204; Golub & Van Loan, Matrix Computations, 8.6.3).

use nalgebra::DMatrix;

/// Most rounds over all pairs; ten are hardly ever needed.
const ROUNDS: usize = 60;
/// Columns are at right angles below this cosine.
const RIGHT: f64 = 1e-15;

/// Columns `u` of length one (zero where the singular value is), singular values, and the orthogonal `v`, in no particular
/// order but always the same. Any shape. Cost O(n^2 m) a round.
pub struct Jacobi {
    /// m x n.
    pub u: DMatrix<f64>,
    /// n.
    pub values: Vec<f64>,
    /// n x n.
    pub v: DMatrix<f64>,
}

impl Jacobi {
    /// Takes a matrix of finite numbers apart. One with many rows is brought to a triangle first.
    pub fn new(a: DMatrix<f64>) -> Self {
        if a.nrows() > a.ncols() + a.ncols() / 8 && a.ncols() > 0 {
            let qr = a.qr();
            let small = Self::of(qr.r());
            return Self {
                u: qr.q() * small.u,
                ..small
            };
        }
        Self::of(a)
    }

    fn of(mut a: DMatrix<f64>) -> Self {
        let n = a.ncols();
        let mut v = DMatrix::identity(n, n);
        let largest = a.column_iter().map(|c| c.norm()).fold(0.0, f64::max);
        for _ in 0..ROUNDS {
            let mut turned = false;
            for p in 0..n {
                for q in p + 1..n {
                    turned |= turn(&mut a, &mut v, p, q, largest);
                }
            }
            if !turned {
                break;
            }
        }
        let values: Vec<f64> = a.column_iter().map(|c| c.norm()).collect();
        for (k, s) in values.iter().enumerate() {
            if *s > 0.0 {
                a.column_mut(k).scale_mut(1.0 / s);
            }
        }
        Self { u: a, values, v }
    }

    /// The largest singular value.
    pub fn largest(&self) -> f64 {
        self.values.iter().copied().fold(0.0, f64::max)
    }
}

/// Turns columns p and q to right angles; whether that was needed.
fn turn(a: &mut DMatrix<f64>, v: &mut DMatrix<f64>, p: usize, q: usize, largest: f64) -> bool {
    let (alpha, beta) = (a.column(p).norm_squared(), a.column(q).norm_squared());
    let gamma = a.column(p).dot(&a.column(q));
    // Columns that are nothing against the rest have no direction to speak of.
    let nothing = (f64::EPSILON * largest).powi(2);
    if gamma.abs() <= RIGHT * (alpha * beta).sqrt() || alpha < nothing || beta < nothing {
        return false;
    }
    let zeta = (beta - alpha) / (2.0 * gamma);
    let t = 1.0_f64.copysign(zeta) / (zeta.abs() + zeta.hypot(1.0));
    let c = 1.0 / t.hypot(1.0);
    let s = c * t;
    for m in [a, v] {
        for i in 0..m.nrows() {
            let (x, y) = (m[(i, p)], m[(i, q)]);
            m[(i, p)] = c * x - s * y;
            m[(i, q)] = s * x + c * y;
        }
    }
    true
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn factors_multiply_to_the_matrix_whatever_its_rank() {
        for (m, n, rank) in [(6, 8, 5), (12, 8, 8), (20, 9, 3), (4, 4, 0)] {
            let wave = |rows: usize, columns: usize, f: f64| {
                DMatrix::from_fn(rows, columns, |i, k| {
                    (f * ((1 + i) * (2 + k * k)) as f64).sin()
                })
            };
            let a = if rank == 0 {
                DMatrix::zeros(m, n)
            } else {
                wave(m, rank, 1.7) * wave(rank, n, 0.9)
            };
            let j = Jacobi::new(a.clone());
            let s = DMatrix::from_diagonal(&nalgebra::DVector::from_vec(j.values.clone()));
            assert!((&j.u * s * j.v.transpose() - &a).norm() < 1e-13 * (1.0 + a.norm()));
            assert!((j.v.tr_mul(&j.v) - DMatrix::identity(n, n)).norm() < 1e-13);
            let kept = j
                .values
                .iter()
                .filter(|s| **s > 1e-12 * j.largest())
                .count();
            assert_eq!(kept, rank);
        }
    }
}
