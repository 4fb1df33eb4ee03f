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
        let mut in_use = vec![false; of.rows()];
        let mut taken = Vec::new();
        let mut shared = Vec::new();
        for (unknown, column) in of.columns.iter().enumerate() {
            let mut seen = column
                .iter()
                .enumerate()
                .filter(|(_, v)| **v != 0.0)
                .map(|(i, v)| (i, *v));
            let rows: Vec<(usize, f64)> = seen.by_ref().take(SEEN_BY).collect();
            let private = seen.next().is_none() && rows.iter().all(|r| !in_use[r.0]);
            if private {
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
        let mut reduced = Self {
            of,
            problem: Minimax::new(shared.len()),
            shared,
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
        let g: Vec<f64> = self
            .shared
            .iter()
            .map(|&j| total(&self.of.columns[j]))
            .collect();
        let (bound, slack) = (total(&self.of.bound), total(&self.of.slack));
        if bound >= 0.0 && slack >= 0.0 && g.iter().all(|v| *v == 0.0) {
            return;
        }
        self.problem.at_most(&g, bound, slack);
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
            let sum: f64 = self
                .shared
                .iter()
                .map(|&j| self.of.columns[j][i] * x[j])
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

    /// Largest amount by which a row is exceeded, in units of the length of its factors of shared unknowns and s.
    fn worst(&self, x: &[f64], s: f64) -> f64 {
        let mut excess: Vec<f64> = self.of.bound.iter().map(|b| -b).collect();
        let mut square: Vec<f64> = self.of.slack.iter().map(|v| v * v).collect();
        for &j in &self.shared {
            for ((e, q), v) in excess.iter_mut().zip(&mut square).zip(&self.of.columns[j]) {
                *e += v * x[j];
                *q += v * v;
            }
        }
        for private in &self.taken {
            for (i, v) in &private.rows {
                excess[*i] += v * x[private.unknown];
                square[*i] += v * v;
            }
        }
        excess
            .iter()
            .zip(&square)
            .zip(&self.of.slack)
            .map(|((e, q), slack)| (e - slack * s) / if *q > 0.0 { q.sqrt() } else { 1.0 })
            .fold(0.0, f64::max)
    }
}
