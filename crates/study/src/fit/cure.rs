//! What would make a part fit: the least slot, larger hole or shim.
//!
//! Each search begins at `free`, the best placement without fasteners, of the problem itself or of one whose allowances
//! are all the same multiple of its own.

use geom::{Outcome, Rigid, Vector};

use super::place::{cut, moved, used};
use super::program::{Aim, Held, build, in_plane};
use super::{Fit, FitProblem, Seat};

/// Which fasteners are changed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Which {
    /// One, by place in the list.
    One(usize),
    /// All alike.
    All,
}

impl Which {
    fn marks(self, n: usize) -> Vec<bool> {
        (0..n)
            .map(|j| self == Self::All || self == Self::One(j))
            .collect()
    }
}

/// Rounds of cutting again; the amounts asked for settle long before.
const ROUNDS: usize = 6;

/// The least addition to the radius of play with which the share is at most 1, mm, and the places of the holes at that
/// placement (across, across, along the axis); `None`: none helps.
pub fn least_oversize(
    problem: &FitProblem,
    free: &Fit,
    which: Which,
) -> Option<(f64, Vec<[f64; 3]>)> {
    let marks = which.marks(problem.fasteners.len());
    least(problem, free, Aim::Oversize(&marks))
}

/// The least extra slot length, along these directions, with which the share is at most 1, mm; `None`: none helps.
/// Fasteners without a direction stay as they are.
pub fn least_slot(problem: &FitProblem, free: &Fit, along: &[Option<Vector>]) -> Option<f64> {
    let flat: Vec<_> = along
        .iter()
        .zip(&problem.fasteners)
        .map(|(d, f)| d.map(|d| in_plane(f, &d)))
        .collect();
    least(problem, free, Aim::Slot(&flat)).map(|(s, _)| s)
}

/// The least shim thickness with which the share is at most 1, mm: above the seats, or (`up` false) with seats cut
/// back by that much; `None`: none helps.
pub fn least_shim(problem: &FitProblem, free: &Fit, which: Which, up: bool) -> Option<f64> {
    let marks = which.marks(problem.fasteners.len());
    least(problem, free, Aim::Shim(&marks, up)).map(|(s, _)| s)
}

/// Minimises the amount with the share held at 1, from the placement without fasteners.
fn least(problem: &FitProblem, free: &Fit, aim: Aim<'_>) -> Option<(f64, Vec<[f64; 3]>)> {
    let held: Vec<Held> = problem.fasteners.iter().map(Held::from).collect();
    let middle = problem.middle();
    // Only where to begin: what is asked for settles below.
    let mut pose: Rigid = free.pose;
    let mut placed = cut(problem, &pose, &middle, None);
    // Where the edge alone asks for more than is allowed nothing done to the fasteners helps.
    if used(problem, &[], &placed.starts).0 > 1.0 + 1e-6 {
        return None;
    }
    let mut last = f64::INFINITY;
    for _ in 0..ROUNDS {
        let (p, _) = build(&placed.linear, &placed.starts, &problem.limits, &held, aim);
        let Outcome::Optimal(o) = p.solve() else {
            return None;
        };
        let moved_by = o.x[..6].iter().fold(0.0_f64, |m, v| m.max(v.abs()));
        pose = moved(&pose, &o.x, &middle);
        placed = cut(problem, &pose, &middle, Some(&placed.pieces));
        let done = (o.value - last).abs() <= 1e-9 || moved_by <= 1e-9;
        last = o.value;
        if done {
            break;
        }
    }
    Some((last, placed.starts.holes))
}

impl FitProblem {
    /// The same with slots of this extra length along these directions, where given.
    #[must_use]
    pub fn slotted(&self, along: &[Option<Vector>], extra: f64) -> Self {
        let mut p = self.clone();
        for (f, d) in p.fasteners.iter_mut().zip(along) {
            if let Some(d) = d {
                f.slot = Some(super::FitSlot { along: *d, extra });
            }
        }
        p
    }

    /// The same with holes larger by this much on the radius.
    #[must_use]
    pub fn oversized(&self, by: f64) -> Self {
        let mut p = self.clone();
        for f in &mut p.fasteners {
            f.play += by;
        }
        p
    }

    /// The same with shims up to this thickness, above the seats or (`up` false) with the seats cut back.
    #[must_use]
    pub fn shimmed(&self, thickness: f64, up: bool) -> Self {
        let mut p = self.clone();
        for f in &mut p.fasteners {
            let (low, high) = match f.seat {
                Seat::Bare => (0.0, 0.0),
                Seat::Range(low, high) => (low, high),
            };
            f.seat = if up {
                Seat::Range(low, high.max(thickness))
            } else {
                Seat::Range(low.min(-thickness), high)
            };
        }
        p
    }
}
