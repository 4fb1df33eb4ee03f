//! Symmetric positive definite equations whose unknowns touch few others: of each row only what lies between its first
//! entry and the diagonal is held, and nothing outside ever fills.
//!
//! A. George and J. W. Liu, Computer Solution of Large Sparse Positive Definite Systems (1981), chapter 4.

use nalgebra::DMatrix;

/// The lower half of a symmetric matrix, row by row from the first entry to the diagonal.
#[derive(Clone, Debug)]
pub struct Envelope {
    /// Column of the first entry of each row.
    first: Vec<usize>,
    /// Where the rows begin among the values; one more at the end.
    start: Vec<usize>,
    values: Vec<f64>,
}

impl Envelope {
    /// Zero, with room for entries between any two unknowns of one of the `groups`, of `n` unknowns in all.
    pub fn of_groups<G>(n: usize, groups: impl IntoIterator<Item = G>) -> Self
    where
        G: IntoIterator<Item = usize>,
        G::IntoIter: Clone,
    {
        let mut first: Vec<usize> = (0..n).collect();
        for group in groups {
            let group = group.into_iter();
            let least = group.clone().min().unwrap_or(0);
            for i in group {
                first[i] = first[i].min(least);
            }
        }
        let mut start = vec![0];
        start.extend(first.iter().enumerate().scan(0, |sum, (i, f)| {
            *sum += i - f + 1;
            Some(*sum)
        }));
        Self {
            values: vec![0.0; start[n]],
            first,
            start,
        }
    }

    fn place(&self, i: usize, j: usize) -> usize {
        debug_assert!(j <= i && j >= self.first[i], "outside: {i} {j}");
        self.start[i] + j - self.first[i]
    }

    /// Adds `v` to the entry of `i` and `j` and, as one, to that of `j` and `i`. Both belong to a group.
    #[inline]
    pub fn add(&mut self, i: usize, j: usize, v: f64) {
        let place = self.place(i.max(j), i.min(j));
        self.values[place] += v;
    }

    /// Adds the square of a row of a group: to every pair of unknowns, which differ from each other, the product of their entries
    /// times `weight`.
    #[inline]
    pub fn add_square(&mut self, row: &[(usize, f64)], weight: f64) {
        for (a, (i, x)) in row.iter().enumerate() {
            self.add(*i, *i, weight * x * x);
            for (j, y) in &row[..a] {
                self.add(*i, *j, weight * x * y);
            }
        }
    }

    /// Sum of the diagonal.
    pub fn trace(&self) -> f64 {
        (0..self.first.len())
            .map(|i| self.values[self.place(i, i)])
            .sum()
    }

    /// Adds `scale` times another with the same groups.
    pub fn add_scaled(&mut self, other: &Self, scale: f64) {
        debug_assert_eq!(self.first, other.first);
        for (a, b) in self.values.iter_mut().zip(&other.values) {
            *a += scale * b;
        }
    }

    /// Lower factor L of L L'; `None` where the matrix is not positive definite.
    pub fn cholesky(mut self) -> Option<EnvelopeFactor> {
        for i in 0..self.first.len() {
            let (done, row) = self.values.split_at_mut(self.start[i]);
            let row = &mut row[..=i - self.first[i]];
            for j in self.first[i]..=i {
                let from = self.first[i].max(self.first[j]);
                let of_i = &row[from - self.first[i]..j - self.first[i]];
                if i == j {
                    let pivot = row[j - self.first[i]] - of_i.iter().map(|x| x * x).sum::<f64>();
                    if !pivot.is_finite() || pivot <= 0.0 {
                        return None;
                    }
                    row[j - self.first[i]] = pivot.sqrt();
                } else {
                    let at = self.start[j] - self.first[j];
                    let sum = dot(of_i, &done[at + from..at + j]);
                    let diagonal = done[at + j];
                    let entry = &mut row[j - self.first[i]];
                    *entry = (*entry - sum) / diagonal;
                }
            }
        }
        Some(EnvelopeFactor(self))
    }
}

/// Four sums side by side: one waits for itself.
#[inline]
fn dot(a: &[f64], b: &[f64]) -> f64 {
    let mut sums = [0.0; 4];
    let (x, y) = (a.chunks_exact(4), b.chunks_exact(4));
    let rest: f64 = x
        .remainder()
        .iter()
        .zip(y.remainder())
        .map(|(a, b)| a * b)
        .sum();
    for (x, y) in x.zip(y) {
        for k in 0..4 {
            sums[k] += x[k] * y[k];
        }
    }
    (sums[0] + sums[1]) + (sums[2] + sums[3]) + rest
}

/// The factor of an [`Envelope`].
#[derive(Clone, Debug)]
pub struct EnvelopeFactor(Envelope);

impl EnvelopeFactor {
    /// The row of L without its diagonal, where it begins, and the diagonal.
    fn row(&self, i: usize) -> (usize, &[f64], f64) {
        let m = &self.0;
        let row = &m.values[m.start[i]..m.start[i + 1]];
        (m.first[i], &row[..row.len() - 1], row[row.len() - 1])
    }

    /// The solution for every column, in place.
    pub fn solve_columns(&self, b: &mut DMatrix<f64>) {
        let n = self.0.first.len();
        for mut column in b.column_iter_mut() {
            let x = column.as_mut_slice();
            for i in 0..n {
                let (first, row, diagonal) = self.row(i);
                x[i] = (x[i] - dot(row, &x[first..i])) / diagonal;
            }
            for i in (0..n).rev() {
                let (first, row, diagonal) = self.row(i);
                x[i] /= diagonal;
                let by = x[i];
                for (x, l) in x[first..i].iter_mut().zip(row) {
                    *x -= by * l;
                }
            }
        }
    }

    /// The solution for every row: `b` is B' of as many columns as unknowns, in place (M^-1 B)'. Quicker for many.
    pub fn solve_rows(&self, b: &mut DMatrix<f64>) {
        let n = self.0.first.len();
        let height = b.nrows();
        let x = b.as_mut_slice();
        let divide = |all: &mut [f64], by: f64| {
            for v in all {
                *v /= by;
            }
        };
        let subtract = |to: &mut [f64], by: f64, of: &[f64]| {
            for (t, o) in to.iter_mut().zip(of) {
                *t -= by * o;
            }
        };
        for i in 0..n {
            let (first, row, diagonal) = self.row(i);
            let (before, at) = x.split_at_mut(i * height);
            let at = &mut at[..height];
            for (l, other) in row
                .iter()
                .zip(before[first * height..].chunks_exact(height))
            {
                subtract(at, *l, other);
            }
            divide(at, diagonal);
        }
        for i in (0..n).rev() {
            let (first, row, diagonal) = self.row(i);
            let (before, at) = x.split_at_mut(i * height);
            let at = &mut at[..height];
            divide(at, diagonal);
            for (l, other) in row
                .iter()
                .zip(before[first * height..].chunks_exact_mut(height))
            {
                subtract(other, *l, at);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    /// A ring of unknowns, each touching its next three, and two that touch many: as dense equations say.
    #[test]
    fn solves_as_the_dense_equations() {
        let n = 14;
        let mut groups: Vec<Vec<usize>> = (0..12)
            .map(|i| (0..4).map(|k| (i + k) % 12).collect())
            .collect();
        groups.push(vec![12, 3, 7]);
        groups.push(vec![13, 12, 5, 0]);
        let mut envelope = Envelope::of_groups(n, groups.iter().map(|g| g.iter().copied()));
        let mut dense = DMatrix::identity(n, n) * 0.3;
        for i in 0..n {
            envelope.add(i, i, 0.3);
        }
        for (g, group) in groups.iter().enumerate() {
            let row: Vec<(usize, f64)> = group
                .iter()
                .enumerate()
                .map(|(k, i)| (*i, (1.0 + g as f64 * 0.7 + k as f64 * 1.9).sin()))
                .collect();
            envelope.add_square(&row, 1.0 + g as f64);
            for (i, x) in &row {
                for (j, y) in &row {
                    dense[(*i, *j)] += (1.0 + g as f64) * x * y;
                }
            }
        }
        assert_relative_eq!(envelope.trace(), dense.trace(), max_relative = 1e-14);
        let factor = envelope.cholesky().unwrap();
        let b = DMatrix::from_fn(n, 5, |i, j| (i as f64 - 3.1 * j as f64).cos());
        let want = dense.cholesky().unwrap().solve(&b);
        let mut columns = b.clone();
        factor.solve_columns(&mut columns);
        assert_relative_eq!(columns, want, epsilon = 1e-12);
        let mut rows = b.transpose();
        factor.solve_rows(&mut rows);
        assert_relative_eq!(rows.transpose(), want, epsilon = 1e-12);
    }

    #[test]
    fn what_is_not_positive_definite_has_no_factor() {
        let mut m = Envelope::of_groups(2, [[0, 1]]);
        m.add_square(&[(0, 1.0), (1, 2.0)], 1.0);
        m.add(1, 1, -1e-9);
        assert!(m.clone().cholesky().is_none());
        m.add(1, 1, f64::NAN);
        assert!(m.cholesky().is_none());
    }
}
