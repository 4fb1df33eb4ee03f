//! Cubic B-splines over evenly spaced knots, open or periodic, fitted by least squares.
//!
//! Basis and recurrences: C. de Boor, A Practical Guide to Splines (1978), chapters IX-X, for even knots, where each
//! cubic piece is given in closed form.

use nalgebra::{DMatrix, DVector, SVector};

use crate::{Envelope, EnvelopeFactor, Vector};

/// Cubic B-splines over evenly spaced knots from `start` to `end`. The fitted curve is twice continuously
/// differentiable; a periodic one also across its join.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SplineBasis {
    start: f64,
    end: f64,
    spans: usize,
    periodic: bool,
}

impl SplineBasis {
    /// A basis of `spans` pieces (at least 1, periodic at least 4) over the parameter from `start` to `end > start`.
    pub fn new(start: f64, end: f64, spans: usize, periodic: bool) -> Self {
        debug_assert!(end > start);
        Self {
            start,
            end,
            spans: spans.max(if periodic { 4 } else { 1 }),
            periodic,
        }
    }

    /// A basis with one knot per `spacing` or a little less over `0..length`.
    pub fn every(length: f64, spacing: f64, periodic: bool) -> Self {
        Self::new(
            0.0,
            length,
            (length / spacing).ceil().max(1.0) as usize,
            periodic,
        )
    }

    /// Number of coefficients.
    pub fn size(&self) -> usize {
        if self.periodic {
            self.spans
        } else {
            self.spans + 3
        }
    }

    /// Number of polynomial pieces.
    pub fn spans(&self) -> usize {
        self.spans
    }

    /// First and last parameter.
    pub fn range(&self) -> (f64, f64) {
        (self.start, self.end)
    }

    /// Whether the ends are joined.
    pub fn periodic(&self) -> bool {
        self.periodic
    }

    /// Distance of neighbouring knots in the parameter.
    pub fn step(&self) -> f64 {
        (self.end - self.start) / self.spans as f64
    }

    /// The span that holds `t` and the place in it, 0 to 1. Outside an open basis the end pieces go on.
    fn locate(&self, t: f64) -> (usize, f64) {
        let mut x = (t - self.start) / self.step();
        // Most are within: a remainder would give the very same and takes long.
        if self.periodic && !(0.0..self.spans as f64).contains(&x) {
            x = x.rem_euclid(self.spans as f64);
        }
        let i = (x.floor().max(0.0) as usize).min(self.spans - 1);
        (i, x - i as f64)
    }

    /// Places of the four coefficients of a span.
    fn places(&self, span: usize) -> [usize; 4] {
        [0, 1, 2, 3].map(|k| {
            let place = span + k;
            if self.periodic && place >= self.spans {
                place - self.spans
            } else {
                place
            }
        })
    }

    /// The four basis functions that act at `t`, differentiated `order` times (0 to 3), with the places of their
    /// coefficients.
    pub fn row(&self, t: f64, order: u8) -> [(usize, f64); 4] {
        let (span, u) = self.locate(t);
        let places = self.places(span);
        let scale = match order {
            0 => 1.0,
            _ => self.step().powi(-i32::from(order)),
        };
        let v = 1.0 - u;
        let values = match order {
            0 => [
                v * v * v / 6.0,
                (3.0 * u * u * u - 6.0 * u * u + 4.0) / 6.0,
                (3.0 * v * v * v - 6.0 * v * v + 4.0) / 6.0,
                u * u * u / 6.0,
            ],
            1 => [
                -v * v / 2.0,
                (3.0 * u * u - 4.0 * u) / 2.0,
                -(3.0 * v * v - 4.0 * v) / 2.0,
                u * u / 2.0,
            ],
            2 => [v, 3.0 * u - 2.0, 3.0 * v - 2.0, u],
            3 => [-1.0, 3.0, -3.0, 1.0],
            _ => [0.0; 4],
        };
        [0, 1, 2, 3].map(|k| (places[k], values[k] * scale))
    }

    /// Basis functions (columns) at parameters (rows), differentiated `order` times.
    pub fn rows(&self, at: &[f64], order: u8) -> DMatrix<f64> {
        let mut m = DMatrix::zeros(at.len(), self.size());
        for (i, t) in at.iter().enumerate() {
            for (j, v) in self.row(*t, order) {
                m[(i, j)] += v;
            }
        }
        m
    }

    /// Coefficients that act together, span by span.
    pub fn spans_places(&self) -> impl Iterator<Item = [usize; 4]> + '_ {
        (0..self.spans).map(|span| self.places(span))
    }

    /// The integral of the square of the second derivative as a sum of weighted squares of rows: the sum of `weight`
    /// (row . c)^2 is the bending of the curve with coefficients c. Exact: second derivatives are linear in each span, so
    /// that Simpson's rule has no error.
    pub fn bending(&self) -> impl Iterator<Item = ([(usize, f64); 4], f64)> + '_ {
        let h3 = self.step().powi(3);
        self.spans_places().flat_map(move |places| {
            [(0.0, 1.0 / 6.0), (0.5, 4.0 / 6.0), (1.0, 1.0 / 6.0)].map(|(u, w)| {
                let v = 1.0 - u;
                let d = [v, 3.0 * u - 2.0, 3.0 * v - 2.0, u];
                ([0, 1, 2, 3].map(|k| (places[k], d[k])), w / h3)
            })
        })
    }
}

/// A curve of cubic pieces in D dimensions.
#[derive(Clone, Debug, PartialEq)]
pub struct Spline<const D: usize> {
    /// Its basis.
    pub basis: SplineBasis,
    /// One coefficient per basis function, in the unit of the values.
    pub coefficients: Vec<SVector<f64, D>>,
}

impl<const D: usize> Spline<D> {
    /// Value at `t`.
    pub fn at(&self, t: f64) -> SVector<f64, D> {
        self.derivative(t, 0)
    }

    /// Derivative of the given order (0 to 3) by the parameter.
    pub fn derivative(&self, t: f64, order: u8) -> SVector<f64, D> {
        let mut sum = SVector::zeros();
        for (j, v) in self.basis.row(t, order) {
            sum += self.coefficients[j] * v;
        }
        sum
    }

    /// The same curve with each piece as a polynomial of the place in it: quicker at many places.
    pub fn polynomials(&self) -> SplinePolynomials<D> {
        let pieces = self.basis.spans_places().map(|places| {
            let [a, b, c, d] = places.map(|j| self.coefficients[j]);
            [
                (a + b * 4.0 + c) / 6.0,
                (c - a) / 2.0,
                (a - b * 2.0 + c) / 2.0,
                (d - a + (b - c) * 3.0) / 6.0,
            ]
        });
        SplinePolynomials {
            basis: self.basis,
            pieces: pieces.collect(),
        }
    }

    /// The pieces as cubics in the form of Bezier: four control points per span, the last of one equal to the first
    /// of the next. The form every CAD program reads.
    pub fn bezier(&self) -> Vec<[SVector<f64, D>; 4]> {
        (0..self.basis.spans)
            .map(|span| {
                let [a, b, c, d] = self.basis.places(span).map(|j| self.coefficients[j]);
                [
                    (a + b * 4.0 + c) / 6.0,
                    (b * 2.0 + c) / 3.0,
                    (b + c * 2.0) / 3.0,
                    (b + c * 4.0 + d) / 6.0,
                ]
            })
            .collect()
    }

    /// Control points of the same curve over knots that are repeated four times at both ends (one knot per span
    /// between), which begin and end on the curve: the form in which exchange files hold open and closed curves.
    /// One more than the number of spans plus two.
    pub fn clamped(&self) -> Vec<SVector<f64, D>> {
        let pieces = self.bezier();
        let spans = self.basis.spans;
        let (first, last) = (pieces[0], pieces[spans - 1]);
        let mut poles = vec![first[0], first[1]];
        // Between the ends the values of the polar form at three following knots are the coefficients themselves.
        poles.extend((2..=spans).map(|i| self.coefficients[self.basis.places(i - 2)[2]]));
        poles.extend([last[2], last[3]]);
        poles
    }
}

/// A [`Spline`] piece by piece as polynomials of the place in the piece, 0 to 1.
#[derive(Clone, Debug)]
pub struct SplinePolynomials<const D: usize> {
    basis: SplineBasis,
    pieces: Vec<[SVector<f64, D>; 4]>,
}

impl<const D: usize> SplinePolynomials<D> {
    /// Value at `t`.
    #[inline]
    pub fn at(&self, t: f64) -> SVector<f64, D> {
        let (span, u) = self.basis.locate(t);
        let [c0, c1, c2, c3] = self.pieces[span];
        ((c3 * u + c2) * u + c1) * u + c0
    }
}

impl Spline<3> {
    /// Curvature vector at `t`, 1/mm: towards the middle of the osculating circle, length 1/radius. Zero where the
    /// curve stands still.
    pub fn curvature(&self, t: f64) -> Vector {
        let (d1, d2) = (self.derivative(t, 1), self.derivative(t, 2));
        let n2 = d1.norm_squared();
        if n2 == 0.0 {
            return Vector::zeros();
        }
        (d2 - d1 * (d1.dot(&d2) / n2)) / n2
    }
}

/// The least-squares fit of a basis to values at given parameters: a fixed linear map from values to coefficients,
/// so that it is solved once for all coordinates and for their uncertainty.
#[derive(Clone, Debug)]
pub struct SplineFit {
    basis: SplineBasis,
    /// The basis at every parameter.
    rows: Vec<[(usize, f64); 4]>,
    weights: Vec<f64>,
    solved: EnvelopeFactor,
}

impl SplineFit {
    /// Prepares the fit at parameters `at` with weights (inverse variances up to a factor; empty: all one).
    ///
    /// Minimises sum w (y - c'B)^2 + `bending` integral of the second derivative squared. With `bending` = 0 a
    /// bending weight of 1e-9 of the data's is kept: where no data are, the curve then bends least, and elsewhere
    /// nothing changes that could be seen. `None` without data, with a parameter or weight that is not finite, or
    /// when fewer than two different parameters (four for an open basis of one span) are left.
    pub fn new(basis: SplineBasis, at: &[f64], weights: &[f64], bending: f64) -> Option<Self> {
        let all_finite = at.iter().chain(weights).all(|x| x.is_finite());
        if at.is_empty() || !(weights.is_empty() || weights.len() == at.len()) || !all_finite {
            return None;
        }
        let weights = if weights.is_empty() {
            vec![1.0; at.len()]
        } else {
            weights.to_vec()
        };
        let rows: Vec<_> = at.iter().map(|t| basis.row(*t, 0)).collect();
        let mut normal = Envelope::of_groups(basis.size(), basis.spans_places());
        let mut bend = normal.clone();
        for (row, w) in rows.iter().zip(&weights) {
            normal.add_square(row, *w);
        }
        for (row, w) in basis.bending() {
            bend.add_square(&row, w);
        }
        let ridge = bending.max(1e-9 * normal.trace() / bend.trace().max(f64::MIN_POSITIVE));
        normal.add_scaled(&bend, ridge);
        let solved = normal.cholesky()?;
        Some(Self {
            basis,
            rows,
            weights,
            solved,
        })
    }

    /// The basis.
    pub fn basis(&self) -> SplineBasis {
        self.basis
    }

    /// Coefficients (rows) for values (rows = parameters, one column per coordinate or per factor). The same map
    /// takes a factor F of the covariance F F' of the values to a factor of the covariance of the coefficients.
    pub fn coefficients(&self, values: &DMatrix<f64>) -> DMatrix<f64> {
        let mut sums = DMatrix::zeros(self.basis.size(), values.ncols());
        for (mut sum, value) in sums.column_iter_mut().zip(values.column_iter()) {
            for ((row, w), y) in self.rows.iter().zip(&self.weights).zip(&value) {
                for (j, x) in row {
                    sum[*j] += w * x * y;
                }
            }
        }
        self.solved.solve_columns(&mut sums);
        sums
    }

    /// The curve through values in D dimensions.
    pub fn curve<const D: usize>(&self, values: &[SVector<f64, D>]) -> Spline<D> {
        let y = DMatrix::from_fn(values.len(), D, |i, j| values[i][j]);
        let c = self.coefficients(&y);
        Spline {
            basis: self.basis,
            coefficients: (0..c.nrows())
                .map(|i| SVector::from_fn(|j, _| c[(i, j)]))
                .collect(),
        }
    }

    /// The curve through plain numbers.
    pub fn function(&self, values: &[f64]) -> Spline<1> {
        let values: Vec<_> = values.iter().map(|v| SVector::<f64, 1>::new(*v)).collect();
        self.curve(&values)
    }

    /// Factor G of the covariance G G' of the coefficients for values of covariance `covariance`, see
    /// [`covariance_factor`].
    pub fn spread(&self, covariance: &DMatrix<f64>) -> DMatrix<f64> {
        self.coefficients(&covariance_factor(covariance))
    }

    /// Factor of the covariance of the coefficients for independent values of standard deviations `sd`.
    pub fn spread_independent(&self, sd: &[f64]) -> DMatrix<f64> {
        self.coefficients(&DMatrix::from_diagonal(&DVector::from_column_slice(sd)))
    }

    /// Degrees of freedom used up: trace of the map from values to fitted values.
    pub fn used(&self) -> f64 {
        let mut inverse = DMatrix::identity(self.basis.size(), self.basis.size());
        self.solved.solve_rows(&mut inverse);
        let through = |row: &[(usize, f64); 4]| -> f64 {
            let pairs = row.iter().flat_map(|a| row.iter().map(move |b| (a, b)));
            pairs.map(|(a, b)| a.1 * b.1 * inverse[(a.0, b.0)]).sum()
        };
        let each = self.rows.iter().zip(&self.weights);
        each.map(|(row, w)| w * through(row)).sum()
    }
}

/// A factor F with F F' = `covariance` (positive semi-definite), Cholesky's with columns of no weight left out: those whose
/// pivot is below 1e-12 of the largest entry. Where `covariance` is not what it should be (some of its entries taken from
/// tables), the one from its positive eigenvalues.
pub fn covariance_factor(covariance: &DMatrix<f64>) -> DMatrix<f64> {
    cholesky_columns(covariance).unwrap_or_else(|| eigen_columns(covariance))
}

/// `None` where a row without a pivot still goes together with others.
fn cholesky_columns(covariance: &DMatrix<f64>) -> Option<DMatrix<f64>> {
    let n = covariance.nrows();
    let largest = covariance
        .diagonal()
        .iter()
        .fold(0.0, |m: f64, v| m.max(*v));
    let mut rest = covariance.clone();
    let mut kept = 0;
    for k in 0..n {
        let pivot = rest[(k, k)];
        let below = rest.view((k, k), (n - k, 1));
        if pivot.is_nan() || pivot <= 1e-12 * largest {
            if below.iter().any(|v| v.abs() > 1e-6 * largest) {
                return None;
            }
            continue;
        }
        let mut column = nalgebra::DVector::zeros(n);
        column.rows_mut(k, n - k).copy_from(&(below / pivot.sqrt()));
        for j in k + 1..n {
            let by = column[j];
            if by != 0.0 {
                let mut of_rest = rest.view_mut((j, j), (n - j, 1));
                of_rest.column_mut(0).axpy(-by, &column.rows(j, n - j), 1.0);
            }
        }
        // Columns found are kept at the front, where none is needed any more.
        rest.set_column(kept, &column);
        kept += 1;
    }
    Some(rest.columns(0, kept).into_owned())
}

fn eigen_columns(covariance: &DMatrix<f64>) -> DMatrix<f64> {
    let eigen = covariance.clone().symmetric_eigen();
    let largest = eigen.eigenvalues.max().max(0.0);
    let mut order: Vec<usize> = (0..eigen.eigenvalues.len())
        .filter(|i| eigen.eigenvalues[*i] > 1e-12 * largest)
        .collect();
    order.sort_by(|a, b| eigen.eigenvalues[*b].total_cmp(&eigen.eigenvalues[*a]));
    DMatrix::from_fn(covariance.nrows(), order.len(), |i, k| {
        eigen.eigenvectors[(i, order[k])] * eigen.eigenvalues[order[k]].sqrt()
    })
}

#[cfg(test)]
mod tests;
