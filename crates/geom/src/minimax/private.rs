//! Unknowns that only a few rows see, taken out before the problem is solved.
//!
//! A problem of hundreds of stations with an unknown of its own at each has hundreds of unknowns, but those of one station
//! occur in its own rows only. Such an unknown can be taken out exactly: whatever bounds it from above must not lie below
//! what bounds it from below, pair by pair (J. B. J. Fourier 1826; see H. P. Williams, "Fourier's method of linear
//! programming and its dual", American Mathematical Monthly 93, 1986). What is left has few unknowns; every new row is a sum
//! of old ones with positive weights, so the proof of the optimum carries over to the old rows.

use super::{Active, Minimax, Optimum, Outcome};

/// Below so many unknowns the problem is solved as it is.
const FEW: usize = 24;
/// Rows in which a private unknown may occur.
const SEEN_BY: usize = 8;

/// A problem without its private unknowns.
pub(super) struct Reduced<'a> {
    of: &'a Minimax,
    problem: Minimax,
    /// Unknowns that stayed, in order.
    shared: Vec<usize>,
    /// Where each unknown stands among those.
    place: Vec<Option<usize>>,
    /// A row on its way.
    sums: Vec<f64>,
    /// Of each row of `problem`: the rows it is the sum of, and their weights.
    parts: Vec<[(usize, f64); 2]>,
    taken: Vec<Private>,
}

/// An unknown taken out, with the rows that see it and its factor there.
struct Private {
    unknown: usize,
    rows: Vec<(usize, f64)>,
}

impl<'a> Reduced<'a> {
    /// The problem without private unknowns; `None` if that is not worth it: few unknowns, or few of them private.
    pub fn of(of: &'a Minimax) -> Option<Self> {
        if of.unknowns <= FEW {
            return None;
        }
        let mut seen_by = vec![0_usize; of.unknowns];
        for (j, _) in &of.entries {
            seen_by[*j as usize] += 1;
        }
        if 2 * seen_by.iter().filter(|n| **n <= SEEN_BY).count() <= of.unknowns {
            return None;
        }
        let mut rows_of: Vec<Vec<(usize, f64)>> = vec![Vec::new(); of.unknowns];
        for i in 0..of.rows() {
            for (j, v) in of.row(i) {
                if seen_by[*j as usize] <= SEEN_BY {
                    rows_of[*j as usize].push((i, *v));
                }
            }
        }
        let mut in_use = vec![false; of.rows()];
        let mut taken = Vec::new();
        let mut shared = Vec::new();
        for (unknown, rows) in rows_of.into_iter().enumerate() {
            if seen_by[unknown] <= SEEN_BY && rows.iter().all(|r| !in_use[r.0]) {
                for (i, _) in &rows {
                    in_use[*i] = true;
                }
                taken.push(Private { unknown, rows });
            } else {
                shared.push(unknown);
            }
        }
        if 2 * taken.len() <= of.unknowns {
            return None;
        }
        let mut place = vec![None; of.unknowns];
        for (k, &j) in shared.iter().enumerate() {
            place[j] = Some(k);
        }
        let mut reduced = Self {
            of,
            problem: Minimax::new(shared.len()),
            sums: vec![0.0; shared.len()],
            shared,
            place,
            parts: Vec::new(),
            taken: Vec::new(),
        };
        for i in (0..of.rows()).filter(|&i| !in_use[i]) {
            reduced.sum([(i, 1.0), (i, 0.0)]);
        }
        for private in &taken {
            let side = |sign: f64| private.rows.iter().filter(move |r| r.1 * sign > 0.0);
            for above in side(1.0) {
                for below in side(-1.0) {
                    reduced.sum([(above.0, 1.0 / above.1), (below.0, -1.0 / below.1)]);
                }
            }
        }
        reduced.taken = taken;
        Some(reduced)
    }

    /// Adds the sum of two rows with these weights, unless it holds for every s.
    fn sum(&mut self, parts: [(usize, f64); 2]) {
        let total = |of: &[f64]| parts.iter().map(|(i, w)| w * of[*i]).sum::<f64>();
        let (bound, slack) = (total(&self.of.bound), total(&self.of.slack));
        self.sums.fill(0.0);
        for (i, w) in parts.iter().filter(|p| p.1 != 0.0) {
            for (j, v) in self.of.row(*i) {
                if let Some(k) = self.place[*j as usize] {
                    self.sums[k] += w * v;
                }
            }
        }
        if bound >= 0.0 && slack >= 0.0 && self.sums.iter().all(|v| *v == 0.0) {
            return;
        }
        self.problem.at_most(&self.sums, bound, slack);
        self.parts.push(parts);
    }

    /// Solves, and puts the private unknowns and the old rows back.
    pub fn solve(self) -> Outcome {
        match self.problem.solve() {
            Outcome::Infeasible(rows) => Outcome::Infeasible(self.old_rows(&rows)),
            Outcome::Optimal(found) => {
                let mut x = vec![0.0; self.of.unknowns];
                for (&j, v) in self.shared.iter().zip(&found.x) {
                    x[j] = *v;
                }
                for private in &self.taken {
                    x[private.unknown] = self.between(private, &x, found.value);
                }
                Outcome::Optimal(Optimum {
                    violation: self.worst(&x, found.value),
                    active: self.old_rows(&found.active),
                    value: found.value,
                    exchanges: found.exchanges,
                    x,
                })
            }
        }
    }

    /// The value nearest to 0 that its rows leave a private unknown; the middle where rounding leaves none.
    fn between(&self, private: &Private, x: &[f64], s: f64) -> f64 {
        let (mut low, mut high) = (f64::NEG_INFINITY, f64::INFINITY);
        for &(i, factor) in &private.rows {
            let others = self.of.row(i).iter().map(|(j, v)| (*j as usize, v));
            let sum: f64 = others
                .filter(|(j, _)| *j != private.unknown)
                .map(|(j, v)| v * x[j])
                .sum();
            let limit = (self.of.bound[i] + self.of.slack[i] * s - sum) / factor;
            if factor > 0.0 {
                high = high.min(limit);
            } else {
                low = low.max(limit);
            }
        }
        if low > high {
            return 0.5 * (low + high);
        }
        0.0_f64.clamp(low, high)
    }

    fn old_rows(&self, rows: &[Active]) -> Vec<Active> {
        let mut old: Vec<Active> = rows
            .iter()
            .flat_map(|a| {
                self.parts[a.row].map(|(row, weight)| Active {
                    row,
                    multiplier: weight * a.multiplier,
                })
            })
            .filter(|a| a.multiplier > 0.0)
            .collect();
        old.sort_by_key(|a| a.row);
        old.dedup_by(|b, a| {
            let same = a.row == b.row;
            if same {
                a.multiplier += b.multiplier;
            }
            same
        });
        old
    }

    /// Largest amount by which a row is exceeded, in units of the row's length.
    fn worst(&self, x: &[f64], s: f64) -> f64 {
        (0..self.of.rows())
            .map(|i| {
                let slack = self.of.slack[i];
                let squares = self.of.row(i).iter().map(|(_, v)| v * v);
                let length = (slack * slack + squares.sum::<f64>()).sqrt();
                let excess = self.of.excess(i, x) - slack * s;
                if length > 0.0 {
                    excess / length
                } else {
                    excess
                }
            })
            .fold(0.0, f64::max)
    }
}
