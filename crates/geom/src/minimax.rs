//! Minimax placement: the smallest `s >= 0` with which every row `g.x <= bound + slack s` holds.
//!
//! Rows with `slack > 0` give way as `s` grows (tolerances scaled by a common share); rows with `slack = 0` are hard
//! (a bolt in its hole). There are few unknowns (6 to 30) and hundreds of rows, so the dual simplex method keeps a
//! dense inverse of the active rows only. One pass over all rows finds the worst of them; the exchanges after it look among
//! those only, until none of them is exceeded (multiple pricing). The multipliers of a vertex do not
//! depend on the bounds, so after a change of bounds the last active set is still a legal start (Chvatal, Linear
//! Programming, 1983, chapter 10).

mod basis;
mod price;
mod private;

#[cfg(test)]
mod tests;

use basis::Basis;
use price::Price;

/// A problem: minimise `s >= 0` subject to `g.x <= bound + slack s` for every row; `x` is free.
#[derive(Clone, Debug, PartialEq)]
pub struct Minimax {
    unknowns: usize,
    /// Row after row: the unknowns that occur in it, ascending, with their factors.
    entries: Vec<(u32, f64)>,
    /// Where each row ends in `entries`.
    ends: Vec<usize>,
    bound: Vec<f64>,
    slack: Vec<f64>,
}

/// An active row with its multiplier: raising the row's bound by one lowers `s` by the multiplier.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Active {
    /// The row.
    pub row: usize,
    /// Its multiplier, > 0.
    pub multiplier: f64,
}

/// A solution with its certificate.
#[derive(Clone, Debug, PartialEq)]
pub struct Optimum {
    /// The least `s`.
    pub value: f64,
    /// Unknowns at which it is reached. Directions that no row sees stay 0.
    pub x: Vec<f64>,
    /// Rows that hold the value up. `value = -sum multiplier * bound` proves that nothing smaller exists.
    pub active: Vec<Active>,
    /// Largest amount by which a row is exceeded (rounding), in units of the row's length.
    pub violation: f64,
    /// Exchanges of active rows that were needed.
    pub exchanges: usize,
}

/// What a solve ends with.
#[derive(Clone, Debug, PartialEq)]
pub enum Outcome {
    /// The least value was found.
    Optimal(Optimum),
    /// No `x` satisfies the hard rows. The combination of these rows with these positive weights reads
    /// `0 <= negative`, which proves it.
    Infeasible(Vec<Active>),
}

impl Minimax {
    /// No rows yet.
    pub fn new(unknowns: usize) -> Self {
        Self {
            unknowns,
            entries: Vec::new(),
            ends: Vec::new(),
            bound: Vec::new(),
            slack: Vec::new(),
        }
    }

    /// No rows yet, but room for so many of so many factors each.
    pub fn with_room(unknowns: usize, rows: usize, factors: usize) -> Self {
        Self {
            unknowns,
            entries: Vec::with_capacity(rows * factors.min(unknowns)),
            ends: Vec::with_capacity(rows),
            bound: Vec::with_capacity(rows),
            slack: Vec::with_capacity(rows),
        }
    }

    /// How many unknowns.
    pub fn unknowns(&self) -> usize {
        self.unknowns
    }

    /// How many rows.
    pub fn rows(&self) -> usize {
        self.bound.len()
    }

    /// Adds `g.x <= bound + slack s` and returns its place. `g` may be shorter than the unknowns: the rest is 0.
    pub fn at_most(&mut self, g: &[f64], bound: f64, slack: f64) -> usize {
        self.push(g, 1.0, bound, slack)
    }

    fn push(&mut self, g: &[f64], sign: f64, bound: f64, slack: f64) -> usize {
        let all = (0_u32..).zip(g).take(self.unknowns);
        self.entries
            .extend(all.filter(|(_, v)| **v != 0.0).map(|(j, v)| (j, sign * v)));
        self.ends.push(self.entries.len());
        self.bound.push(bound);
        self.slack.push(slack);
        self.bound.len() - 1
    }

    /// Adds `-low s <= g.x + start <= high s` as two rows, the upper one first, and returns the place of the upper.
    pub fn within(&mut self, g: &[f64], start: f64, low: f64, high: f64) -> usize {
        let up = self.at_most(g, -start, high);
        self.push(g, -1.0, start, low);
        up
    }

    /// The bounds, in order of the rows.
    pub fn bounds(&self) -> &[f64] {
        &self.bound
    }

    /// The value of `g.x - bound` of a row.
    pub fn excess(&self, row: usize, x: &[f64]) -> f64 {
        self.row(row)
            .iter()
            .map(|(j, v)| v * x[*j as usize])
            .sum::<f64>()
            - self.bound[row]
    }

    /// Adds `low <= x_j <= high` as two hard rows, the upper one first, and returns the place of the upper.
    pub fn between(&mut self, j: usize, low: f64, high: f64) -> usize {
        let up = self.rows();
        for (factor, bound) in [(1.0, high), (-1.0, -low)] {
            if j < self.unknowns {
                self.entries.push((j as u32, factor));
            }
            self.ends.push(self.entries.len());
            self.bound.push(bound);
            self.slack.push(0.0);
        }
        up
    }

    /// The unknowns that occur in a row, with their factors.
    fn row(&self, row: usize) -> &[(u32, f64)] {
        let start = if row == 0 { 0 } else { self.ends[row - 1] };
        &self.entries[start..self.ends[row]]
    }

    /// Solves from scratch. Where most of more than two dozen unknowns occur in a few rows each, they are taken out first and
    /// put back afterwards; the answer and its proof are about the rows given.
    pub fn solve(&self) -> Outcome {
        if let Some(reduced) = private::Reduced::of(self) {
            return reduced.solve();
        }
        Solver::new(self).solve(&self.bound)
    }

    /// The least common amount that has to be added to the bounds of the hard rows before any `x` satisfies them;
    /// 0 where they can be satisfied as they are.
    pub fn least_violation(&self) -> f64 {
        let mut hard = Self::new(self.unknowns);
        let mut g = vec![0.0; self.unknowns];
        for i in (0..self.rows()).filter(|&i| self.slack[i] == 0.0) {
            g.fill(0.0);
            for (j, v) in self.row(i) {
                g[*j as usize] = *v;
            }
            hard.at_most(&g, self.bound[i], 1.0);
        }
        match hard.solve() {
            Outcome::Optimal(o) => o.value,
            // Every row gives way, so this cannot be reached; an infinite violation would be seen at once.
            Outcome::Infeasible(_) => f64::INFINITY,
        }
    }
}

/// A problem made ready for many solves with different bounds.
#[derive(Clone, Debug)]
pub struct Solver {
    rows: usize,
    /// Unknowns with `s` as the last.
    width: usize,
    /// Column-major `rows x width`, columns scaled to a largest entry from 1 to 2; the last is `-slack`.
    matrix: Vec<f64>,
    /// `x_scaled = x * scale`.
    scale: Vec<f64>,
    /// 1 / length of the scaled rows.
    per_norm: Vec<f64>,
    start: Basis,
    excess: Vec<f64>,
    /// Rows that were exceeded when all were last looked at: the next to enter is mostly one of them.
    near: Vec<usize>,
    /// Those rows, one after the other.
    lines: Vec<f64>,
}

/// Share of the size of the numbers below which an excess is rounding.
const ROUNDING: f64 = 2e-14;
/// Exchanges without progress after which the rule that cannot cycle (Bland 1977) takes over.
const PATIENCE: usize = 60;
/// So many rows, each exceeded by at least this share of the worst, are looked at before all are looked at again.
const NEAR: usize = 24;
const AS_BAD: f64 = 0.2;
/// Exchanges between fresh factorisations.
const FRESH_AFTER: usize = 40;

impl Solver {
    /// Scales the problem; the first solve starts from scratch.
    pub fn new(problem: &Minimax) -> Self {
        let rows = problem.rows();
        let width = problem.unknowns + 1;
        let mut matrix = vec![0.0; rows * width];
        for i in 0..rows {
            for (j, v) in problem.row(i) {
                matrix[*j as usize * rows + i] = *v;
            }
            matrix[problem.unknowns * rows + i] = -problem.slack[i];
        }
        let mut scale = Vec::with_capacity(width);
        let mut square = vec![0.0; rows];
        for column in matrix.chunks_exact_mut(rows.max(1)) {
            let largest = column.iter().fold(0.0_f64, |m, v| m.max(v.abs()));
            let unit = power_of_two(largest);
            let per_unit = 1.0 / unit;
            scale.push(unit);
            for (v, s) in column.iter_mut().zip(&mut square) {
                *v *= per_unit;
                *s += *v * *v;
            }
        }
        scale.resize(width, 1.0);
        let per_norm = square
            .iter()
            .map(|s| if *s > 0.0 { 1.0 / s.sqrt() } else { 1.0 })
            .collect();
        Self {
            rows,
            width,
            matrix,
            scale,
            per_norm,
            start: Basis::new(rows, width),
            excess: vec![0.0; rows],
            near: Vec::with_capacity(NEAR),
            lines: Vec::with_capacity(NEAR * width),
        }
    }

    /// Solves with these bounds from the remembered start. The result depends on the start only in the last bits.
    pub fn solve(&mut self, bound: &[f64]) -> Outcome {
        let mut basis = self.start.clone();
        self.run(&mut basis, bound)
    }

    /// Solves with these bounds and remembers the active rows as the start of later solves.
    pub fn solve_and_keep(&mut self, bound: &[f64]) -> Outcome {
        let mut basis = self.start.clone();
        let outcome = self.run(&mut basis, bound);
        if matches!(outcome, Outcome::Optimal(_)) {
            self.start = basis;
        }
        outcome
    }

    fn run(&mut self, basis: &mut Basis, bound: &[f64]) -> Outcome {
        let largest = bound.iter().fold(0.0_f64, |m, v| m.max(v.abs()));
        let cap = 50 * (self.rows + self.width);
        let mut exchanges = 0;
        let mut stalled = 0;
        let mut since_fresh = 0;
        let mut last = f64::NEG_INFINITY;
        let mut row = vec![0.0; self.width];
        basis.place(bound);
        self.near.clear();
        loop {
            let tol = ROUNDING * (1.0 + largest + basis.size());
            let first = stalled > PATIENCE;
            let near = if first {
                None
            } else {
                self.price_near(basis, bound, tol)
            };
            let worst = near.or_else(|| self.price(basis, bound, tol, first));
            let Some(enter) = worst.filter(|_| exchanges < cap) else {
                if since_fresh == 0 || exchanges >= cap {
                    return Outcome::Optimal(self.optimum(basis, exchanges));
                }
                self.refresh(basis, bound);
                since_fresh = 0;
                continue;
            };
            self.line(enter, &mut row);
            basis.express(&row);
            let Some(leave) = basis.leaving(first) else {
                return Outcome::Infeasible(contradiction(basis, enter));
            };
            basis.exchange(leave, enter, self.excess[enter]);
            exchanges += 1;
            since_fresh += 1;
            if since_fresh >= FRESH_AFTER {
                self.refresh(basis, bound);
                since_fresh = 0;
            }
            let value = basis.value();
            stalled = if value > last + ROUNDING {
                0
            } else {
                stalled + 1
            };
            last = last.max(value);
        }
    }

    /// Works out all excesses and which rows are near; the row to enter, if any exceeds `tol`: the worst, or the first.
    fn price(&mut self, basis: &Basis, bound: &[f64], tol: f64, first: bool) -> Option<usize> {
        let enter = pulp::Arch::new().dispatch(Price {
            matrix: &self.matrix,
            per_norm: &self.per_norm,
            bound,
            basis,
            tol,
            first,
            excess: &mut self.excess,
        });
        self.near.clear();
        if let Some(worst) = enter.filter(|_| !first) {
            let limit = tol.max(AS_BAD * self.excess[worst] * self.per_norm[worst]);
            let each = self.excess.iter().zip(&self.per_norm).enumerate();
            let bad = each.filter(|(_, (e, n))| *e * *n > limit);
            self.near.extend(bad.map(|(i, _)| i).take(NEAR));
        }
        self.lines.resize(self.near.len() * self.width, 0.0);
        for (line, &i) in self.lines.chunks_exact_mut(self.width).zip(&self.near) {
            for (v, column) in line.iter_mut().zip(self.matrix.chunks_exact(self.rows)) {
                *v = column[i];
            }
        }
        enter
    }

    /// Writes a row over `out`.
    fn line(&self, row: usize, out: &mut [f64]) {
        for (v, column) in out.iter_mut().zip(self.matrix.chunks_exact(self.rows)) {
            *v = column[row];
        }
    }

    /// The worst of the near rows, with its excess worked out, if any exceeds `tol`.
    fn price_near(&mut self, basis: &Basis, bound: &[f64], tol: f64) -> Option<usize> {
        let (mut best, mut enter) = (tol, None);
        for (&i, line) in self.near.iter().zip(self.lines.chunks_exact(self.width)) {
            let terms = line.iter().zip(basis.vertex());
            let excess = terms.fold(-bound[i], |e, (v, z)| e + z * v);
            let v = excess * self.per_norm[i];
            if v > best && !basis.holds(i) {
                (best, enter) = (v, Some(i));
                self.excess[i] = excess;
            }
        }
        enter
    }

    fn refresh(&self, basis: &mut Basis, bound: &[f64]) {
        basis.refactor(|row, out| self.line(row, out));
        basis.place(bound);
    }

    fn optimum(&self, basis: &Basis, exchanges: usize) -> Optimum {
        let unit = self.scale[self.width - 1];
        let z = basis.vertex();
        let violation = self
            .excess
            .iter()
            .zip(&self.per_norm)
            .fold(0.0_f64, |m, (e, n)| m.max(e * n));
        Optimum {
            value: (z[self.width - 1] / unit).max(0.0),
            x: z.iter()
                .zip(&self.scale)
                .take(self.width - 1)
                .map(|(v, s)| v / s)
                .collect(),
            active: basis
                .multipliers()
                .filter(|(_, y)| *y > 1e-12)
                .map(|(row, y)| Active {
                    row,
                    multiplier: y / unit,
                })
                .collect(),
            violation,
            exchanges,
        }
    }
}

/// The power of two at or below a size, so that dividing by it rounds nothing; 1 for 0.
fn power_of_two(size: f64) -> f64 {
    /// All bits of the exponent.
    const EXPONENT: u64 = 0x7FF0_0000_0000_0000;
    let unit = f64::from_bits(size.to_bits() & EXPONENT);
    if unit > 0.0 && (1.0 / unit).is_normal() {
        unit
    } else {
        1.0
    }
}

/// Rows of the problem that cannot all be met, with their weights.
fn contradiction(basis: &Basis, enter: usize) -> Vec<Active> {
    let mut rows = vec![Active {
        row: enter,
        multiplier: 1.0,
    }];
    let small = 1e-10 * basis.expressed().fold(1.0_f64, |m, (_, w)| m.max(w.abs()));
    rows.extend(
        basis
            .expressed()
            .filter(|(_, w)| *w < -small)
            .map(|(row, w)| Active {
                row,
                multiplier: -w,
            }),
    );
    rows
}
