//! A strip of sheet along an edge, fitted as a whole: at length s and distance t from the edge its height is
//! A(s) + B(s) t + C(s) t^2, with A, B, C cubic splines of growing coarseness.

use geom::{Envelope, EnvelopeFactor, Spline, SplineBasis, SplinePolynomials};
use nalgebra::{DMatrix, DVector};

use super::strip_noise::StripNoise;

/// Knot distances of A, B and C, mm.
const KNOTS: [f64; 3] = [4.0, 22.0, 55.0];
/// The same for a less stiff sheet.
const YIELDING: [f64; 3] = [4.0, 14.0, 26.0];
/// Side of the cells in which points are averaged, mm.
const CELL: f64 = 3.0;
/// Points farther than this many scales are left out (standard deviation then needs the factor 0.997).
const CUT: f64 = 3.5;

/// A reading beside the edge: along, across, height, mm.
#[derive(Clone, Copy, Debug)]
pub struct Reading {
    /// Along the edge.
    pub s: f64,
    /// Across, >= 0.
    pub t: f64,
    /// Height.
    pub h: f64,
}

/// What kind of sheet a strip is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sheet {
    /// Curved across.
    Panel,
    /// Straight across.
    Flange,
}

impl Sheet {
    fn orders(self) -> usize {
        match self {
            Self::Panel => 3,
            Self::Flange => 2,
        }
    }
}

/// Most entries of a row.
const ROW: usize = 4 * 3;

/// The entries of a reading in the equations: which unknown, how much of it.
#[derive(Clone, Copy, Debug)]
struct Row {
    all: [(usize, f64); ROW],
    n: usize,
}

impl Row {
    const EMPTY: Self = Self {
        all: [(0, 0.0); ROW],
        n: 0,
    };

    /// Four more, of the spline whose first unknown is `first`.
    fn push(&mut self, first: usize, four: [(usize, f64); 4], times: f64) {
        for (i, v) in four {
            self.all[self.n] = (first + i, v * times);
            self.n += 1;
        }
    }

    fn entries(&self) -> &[(usize, f64)] {
        &self.all[..self.n]
    }
}

/// How the height hangs on the unknowns.
#[derive(Clone, Debug)]
struct Terms {
    basis: [SplineBasis; 3],
    sheet: Sheet,
}

impl Terms {
    fn splines(&self) -> &[SplineBasis] {
        &self.basis[..self.sheet.orders()]
    }

    fn unknowns(&self) -> usize {
        self.splines().iter().map(SplineBasis::size).sum()
    }

    fn row(&self, s: f64, t: f64) -> Row {
        let mut row = Row::EMPTY;
        let (mut first, mut power) = (0, 1.0);
        for b in self.splines() {
            row.push(first, b.row(s, 0), power);
            first += b.size();
            power *= t;
        }
        row
    }

    /// Each spline with its first unknown and what its square is worth: columns of higher order hold powers of a distance of
    /// about 10 mm.
    fn each(&self) -> impl Iterator<Item = (usize, &SplineBasis, f64)> {
        let (mut first, mut worth) = (0, 1.0);
        self.splines().iter().map(move |b| {
            let each = (first, b, worth / b.size() as f64);
            first += b.size();
            worth *= 100.0;
            each
        })
    }
}

#[derive(Clone, Copy, Debug, Default)]
struct Cell {
    n: f64,
    s: f64,
    t: f64,
    h: f64,
}

/// A fitted strip.
#[derive(Clone, Debug)]
pub struct StripFit {
    terms: Terms,
    coefficients: DVector<f64>,
    normal: EnvelopeFactor,
    cells: Vec<Cell>,
    /// Half of what a less stiff sheet would say otherwise, in the coefficients of A, mm. How stiff the sheet is taken to
    /// be is a judgement: what another one would say is doubt as well.
    judged: DVector<f64>,
    /// Scale of single points about the strip, mm.
    pub scatter: f64,
    length: f64,
    closed: bool,
}

impl StripFit {
    /// Fits a strip of `length`. `None` with too few readings.
    pub fn new(readings: &[Reading], length: f64, closed: bool, sheet: Sheet) -> Option<Self> {
        if readings.len() < 40 {
            return None;
        }
        let terms = Terms {
            basis: KNOTS.map(|k| SplineBasis::every(length, k, closed)),
            sheet,
        };
        let grid = Grid::of(readings, length);
        let mut keep = vec![true; readings.len()];
        let mut fit: Option<Self> = None;
        for round in 0..4 {
            let cells = grid.average(readings, &keep, round == 0);
            let mut next = solve(terms.clone(), cells, length, closed)?;
            let heights = next.heights();
            let mut residuals: Vec<f64> = readings
                .iter()
                .map(|r| r.h - heights.at(r.s, r.t))
                .collect();
            next.scatter = scale(&residuals).max(1e-4);
            let limit = CUT * next.scatter;
            let mut changed = false;
            for (k, r) in keep.iter_mut().zip(residuals.drain(..)) {
                let now = r.abs() <= limit;
                changed |= *k != now;
                *k = now;
            }
            fit = Some(next);
            // The first round's medians only find what lies apart.
            if round > 0 && !changed {
                break;
            }
        }
        let mut fit = fit?;
        let yielding = Terms {
            basis: YIELDING.map(|k| SplineBasis::every(length, k, closed)),
            sheet,
        };
        let other = solve(yielding, fit.cells.clone(), length, closed)?;
        let k = fit.terms.basis[0].size();
        fit.judged = (other.coefficients.rows(0, k) - fit.coefficients.rows(0, k)) / 2.0;
        Some(fit)
    }

    fn heights(&self) -> Heights {
        let of = |(first, basis, _): (usize, &SplineBasis, f64)| {
            let coefficients = &self.coefficients.as_slice()[first..first + basis.size()];
            let coefficients = coefficients.iter().map(|c| [*c].into()).collect();
            let basis = *basis;
            Spline {
                basis,
                coefficients,
            }
            .polynomials()
        };
        Heights(self.terms.each().map(of).collect())
    }

    /// A(s): the height at the edge, mm.
    pub fn at_edge(&self, s: f64) -> f64 {
        self.terms.basis[0]
            .row(s, 0)
            .iter()
            .map(|(i, v)| v * self.coefficients[*i])
            .sum()
    }

    /// B(s): the slope at the edge.
    pub fn slope(&self, s: f64) -> f64 {
        let first = self.terms.basis[0].size();
        self.terms.basis[1]
            .row(s, 0)
            .iter()
            .map(|(i, v)| v * self.coefficients[first + *i])
            .sum()
    }

    /// Number of points per mm of edge within `half` of `s`.
    pub fn density(&self, s: f64, half: f64) -> f64 {
        let n: f64 = self
            .cells
            .iter()
            .filter(|c| self.apart(c.s, s) <= half)
            .map(|c| c.n)
            .sum();
        n / (2.0 * half)
    }

    fn apart(&self, a: f64, b: f64) -> f64 {
        let d = (a - b).abs();
        if self.closed {
            d.min(self.length - d)
        } else {
            d
        }
    }

    /// The basis of the spline A.
    pub fn basis(&self) -> SplineBasis {
        self.terms.basis[0]
    }

    /// B(s) where each coefficient of A acts most.
    pub fn slopes(&self) -> DVector<f64> {
        let basis = self.basis();
        let (from, to) = basis.range();
        DVector::from_fn(basis.size(), |i, _| {
            let s = from + basis.step() * (i as f64 - 1.0);
            self.slope(if self.closed {
                s.rem_euclid(self.length)
            } else {
                s.clamp(from, to)
            })
        })
    }

    /// The joint covariance of the coefficients of the spline A, for the noise of the visit, mm2.
    pub fn covariance(&self, noise: &StripNoise) -> DMatrix<f64> {
        let k = self.terms.basis[0].size();
        let unknowns = self.coefficients.len();
        // X'V X with V = white/n on the diagonal + covariance between cells, cut off where it is spent.
        let n = self.cells.len();
        let mut order: Vec<usize> = (0..n).collect();
        order.sort_by(|a, b| self.cells[*a].s.total_cmp(&self.cells[*b].s));
        let total: f64 = self.cells.iter().map(|c| c.n).sum();
        let noise = noise.of_cells(CELL, total / n as f64);
        let reach = noise.reach;
        // One column a cell, so that what is added up below lies side by side.
        let mut vx = DMatrix::<f64>::zeros(unknowns, n);
        let rows: Vec<Row> = self
            .cells
            .iter()
            .map(|c| self.terms.row(c.s, c.t))
            .collect();
        let mut add = |i: usize, j: usize, v: f64| {
            let w = v * self.cells[j].n;
            for (c, x) in rows[j].entries() {
                vx[(*c, i)] += w * x;
            }
        };
        for i in 0..n {
            let c = &self.cells[i];
            add(i, i, noise.own(c.n));
        }
        for (place, &i) in order.iter().enumerate() {
            for step in 1..n {
                if place + step >= n && !self.closed {
                    break;
                }
                let j = order[(place + step) % n];
                let (a, b) = (&self.cells[i], &self.cells[j]);
                let ds = self.apart(a.s, b.s);
                if ds > reach || step > n / 2 {
                    break;
                }
                let v = noise.between(ds.hypot(a.t - b.t));
                add(i, j, v);
                add(j, i, v);
            }
        }
        let mut xvx = DMatrix::<f64>::zeros(unknowns, unknowns);
        for (i, r) in rows.iter().enumerate() {
            let w = self.cells[i].n;
            for (c, x) in r.entries() {
                xvx.column_mut(*c).axpy(w * x, &vx.column(i), 1.0);
            }
        }
        // Symmetric: its rows are its columns.
        self.normal.solve_rows(&mut xvx);
        let mut half = xvx.transpose().rows(0, k).into_owned();
        self.normal.solve_rows(&mut half);
        let cov = half.columns(0, k);
        (cov + cov.transpose()) * 0.5 + &self.judged * self.judged.transpose()
    }
}

/// A + B t + C t^2, for many readings.
struct Heights(Vec<SplinePolynomials<1>>);

impl Heights {
    fn at(&self, s: f64, t: f64) -> f64 {
        let highest_first = self.0.iter().rev();
        highest_first.fold(0.0, |sum, of| sum * t + of.at(s).x)
    }
}

/// Cells along and across the edge, and in which of them each reading lies.
struct Grid {
    cells: usize,
    of: Vec<u32>,
}

impl Grid {
    fn of(readings: &[Reading], length: f64) -> Self {
        let t = readings.iter().map(|r| r.t).fold(0.0, f64::max);
        let columns = (length / CELL).ceil().max(1.0) as usize;
        let rows = (t / CELL).floor() as usize + 1;
        let index = |r: &Reading| {
            let i = ((r.s / length * columns as f64) as usize).min(columns - 1);
            let j = ((r.t / CELL) as usize).min(rows - 1);
            (i * rows + j) as u32
        };
        Self {
            cells: columns * rows,
            of: readings.iter().map(index).collect(),
        }
    }

    /// Cell means (medians of height in the first round) in the order of the cells.
    fn average(&self, readings: &[Reading], keep: &[bool], median: bool) -> Vec<Cell> {
        let mut cells = vec![Cell::default(); self.cells];
        for ((r, at), k) in readings.iter().zip(&self.of).zip(keep) {
            if *k {
                let c = &mut cells[*at as usize];
                c.n += 1.0;
                c.s += r.s;
                c.t += r.t;
                c.h += r.h;
            }
        }
        for c in cells.iter_mut().filter(|c| c.n > 0.0) {
            c.s /= c.n;
            c.t /= c.n;
            c.h /= c.n;
        }
        if median {
            self.medians(readings, &mut cells);
        }
        cells.retain(|c| c.n > 0.0);
        cells
    }

    fn medians(&self, readings: &[Reading], cells: &mut [Cell]) {
        let mut ends = vec![0; cells.len()];
        for k in &self.of {
            ends[*k as usize] += 1;
        }
        let mut sum = 0;
        for end in &mut ends {
            (*end, sum) = (sum, sum + *end);
        }
        let mut heights = vec![0.0; readings.len()];
        for (r, k) in readings.iter().zip(&self.of) {
            let end = &mut ends[*k as usize];
            heights[*end] = r.h;
            *end += 1;
        }
        let mut rest = heights.as_mut_slice();
        let mut first = 0;
        for (c, end) in cells.iter_mut().zip(ends) {
            let (own, behind) = rest.split_at_mut(end - first);
            (rest, first) = (behind, end);
            if !own.is_empty() {
                let middle = own.len() / 2;
                c.h = *own.select_nth_unstable_by(middle, f64::total_cmp).1;
            }
        }
    }
}

fn solve(terms: Terms, cells: Vec<Cell>, length: f64, closed: bool) -> Option<StripFit> {
    let unknowns = terms.unknowns();
    let rows: Vec<Row> = cells.iter().map(|c| terms.row(c.s, c.t)).collect();
    // A faint wish to bend little decides where no metal was seen, and nothing elsewhere.
    let total: f64 = cells.iter().map(|c| c.n).sum();
    let bent: Vec<(Row, f64)> = terms
        .each()
        .flat_map(|(first, basis, worth)| {
            basis.bending().map(move |(four, w)| {
                let mut row = Row::EMPTY;
                row.push(first, four, 1.0);
                (row, 2e-4 * total * worth * basis.step().powi(3) * w)
            })
        })
        .collect();
    let all = rows.iter().chain(bent.iter().map(|(row, _)| row));
    let groups = all.map(|row| row.entries().iter().map(|e| e.0));
    let mut m = Envelope::of_groups(unknowns, groups);
    let mut b = DMatrix::<f64>::zeros(unknowns, 1);
    for (c, row) in cells.iter().zip(&rows) {
        for (i, x) in row.entries() {
            b[*i] += c.n * x * c.h;
        }
        m.add_square(row.entries(), c.n);
    }
    for (row, weight) in &bent {
        m.add_square(row.entries(), *weight);
    }
    for (first, basis, worth) in terms.each() {
        for i in first..first + basis.size() {
            m.add(i, i, 1e-7 * total * worth);
        }
    }
    let normal = m.cholesky()?;
    normal.solve_columns(&mut b);
    let coefficients = b.column(0).into_owned();
    Some(StripFit {
        terms,
        coefficients,
        normal,
        cells,
        judged: DVector::zeros(0),
        scatter: 0.0,
        length,
        closed,
    })
}

fn scale(residuals: &[f64]) -> f64 {
    let mut a: Vec<f64> = residuals.iter().map(|r| r.abs()).collect();
    let k = a.len() / 2;
    let (_, m, _) = a.select_nth_unstable_by(k, f64::total_cmp);
    1.4826 * *m
}

#[cfg(test)]
mod tests;
