//! Weighted least squares for up to six unknowns on centred, scaled columns.

use super::SurfaceOrder;

/// Normal equations of h = sum b_k row_k; only sound for columns of about unit size that are not nearly dependent,
/// which centring and scaling of u and v sees to (condition below 100 on a filled square).
#[derive(Clone, Debug, Default)]
pub(super) struct NormalEquations {
    a: [[f64; 6]; 6],
    y: [f64; 6],
}

/// Values of 1, u, v, u^2, uv, v^2 at a place, or their means over a cell.
pub(super) type Row = [f64; 6];

/// The row at (u, v).
#[inline]
pub(super) fn row(u: f64, v: f64) -> Row {
    [1.0, u, v, u * u, u * v, v * v]
}

/// The height of the surface `b` at a row.
#[inline]
pub(super) fn height(b: &Row, r: &Row) -> f64 {
    // Small terms first; the order is part of the result.
    b[0] + (b[1] * r[1] + b[2] * r[2]) + (b[3] * r[3] + b[4] * r[4] + b[5] * r[5])
}

impl NormalEquations {
    #[inline]
    pub(super) fn add(&mut self, order: SurfaceOrder, r: &Row, h: f64, w: f64) {
        match order {
            SurfaceOrder::Plane => self.add_first::<3>(r, h, w),
            SurfaceOrder::Quadric => self.add_first::<6>(r, h, w),
        }
    }

    /// The square of the first N of a row; above the diagonal what comes along is not read.
    #[inline]
    fn add_first<const N: usize>(&mut self, r: &Row, h: f64, w: f64) {
        for i in 0..N {
            let wr = w * r[i];
            self.y[i] += wr * h;
            for (a, x) in self.a[i].iter_mut().zip(r) {
                *a += wr * x;
            }
        }
    }

    /// The coefficients, zero beyond the order; `None` if the rows leave them undetermined.
    pub(super) fn solve(&self, order: SurfaceOrder) -> Option<Row> {
        let n = order.unknowns();
        let l = self.cholesky(n)?;
        let mut b = [0.0; 6];
        for i in 0..n {
            let done: f64 = (0..i).map(|k| l[i][k] * b[k]).sum();
            b[i] = (self.y[i] - done) / l[i][i];
        }
        for i in (0..n).rev() {
            let done: f64 = (i + 1..n).map(|k| l[k][i] * b[k]).sum();
            b[i] = (b[i] - done) / l[i][i];
        }
        Some(b)
    }

    /// Lower factor of the matrix; `None` where a pivot keeps less than 1e-10 of its diagonal.
    fn cholesky(&self, n: usize) -> Option<[[f64; 6]; 6]> {
        let mut l = [[0.0; 6]; 6];
        for i in 0..n {
            for j in 0..=i {
                let done: f64 = (0..j).map(|k| l[i][k] * l[j][k]).sum();
                let left = self.a[i][j] - done;
                if i == j {
                    if !left.is_finite() || left <= 1e-10 * self.a[i][i] {
                        return None;
                    }
                    l[i][i] = left.sqrt();
                } else {
                    l[i][j] = left / l[j][j];
                }
            }
        }
        Some(l)
    }
}
