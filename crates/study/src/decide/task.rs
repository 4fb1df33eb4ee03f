//! One known part on one side: the rows about its best placement, solved again for every draw.

use geom::{Outcome, Solver};
use nalgebra::DVector;

use super::pairing::Pairing;
use crate::fit::{Fit, Held, Linear, Pull, Seat, Spot, Starts, bounds, program};

/// One known part on one side.
#[derive(Clone, Debug)]
pub(super) struct Task {
    /// 0 for a, 1 for b.
    pub side: usize,
    /// How much of the part's shape is this side's own reading: 0 the other's, 1/2 midway, 1 its own.
    pub own: f64,
    /// Errors at the best placement.
    pub starts: Starts,
    pub held: Vec<Held>,
    /// Angle errors, degrees, + too large.
    pub angles: Vec<f64>,
    pub allowed_deg: f64,
    /// Share used by the edge and the fasteners; infinite where the fasteners cannot be started.
    pub edge_share: f64,
    /// How the share follows the errors.
    pub pull: Option<Pull>,
    pub solver: Solver,
    /// What the rows of the program stand for.
    pub spots: Vec<Spot>,
    /// The rows about the best placement.
    pub linear: Linear,
}

/// Share that an angle error uses.
fn angle_share(error: f64, allowed: f64) -> f64 {
    if error == 0.0 {
        0.0
    } else {
        error.abs() / allowed
    }
}

impl Task {
    pub(super) fn new(
        p: &Pairing<'_>,
        side: usize,
        own: f64,
        linear: Linear,
        starts: Starts,
        held: Vec<Held>,
        angles: Vec<f64>,
    ) -> Self {
        let (rows, spots) = program(&linear, &starts, &p.limits, &held);
        let mut solver = Solver::new(&rows);
        let (edge_share, pull) = match solver.solve_and_keep(rows.bounds()) {
            Outcome::Optimal(o) => {
                let fit = Fit {
                    share: o.value,
                    pose: geom::Rigid::identity(),
                    starts: starts.clone(),
                    linear: linear.clone(),
                    holding: o
                        .active
                        .iter()
                        .map(|a| (spots[a.row], a.multiplier))
                        .collect(),
                    rounds: 0,
                };
                (o.value, Some(fit.pull()))
            }
            Outcome::Infeasible(_) => (f64::INFINITY, None),
        };
        Self {
            side,
            own,
            starts,
            held,
            angles,
            allowed_deg: p.part.allowed.angle_deg,
            edge_share,
            pull,
            solver,
            spots,
            linear,
        }
    }

    /// The part drawn to this side itself.
    pub(super) fn own(p: &Pairing<'_>, side: usize) -> Self {
        let problem = p.problem(side, side);
        let (linear, starts) = crate::fit::about_start(&problem);
        let held = problem
            .fasteners
            .iter()
            .map(Held::from)
            .map(centred)
            .collect();
        Self::new(
            p,
            side,
            1.0,
            linear,
            starts,
            held,
            vec![0.0; p.angles.len()],
        )
    }

    /// The other side's shape, placed on this side by `fit`.
    pub(super) fn other(p: &Pairing<'_>, side: usize, fit: &Fit, held: Vec<Held>) -> Self {
        let sign = if side == 1 { 1.0 } else { -1.0 };
        let angles = p.angles.iter().map(|a| sign * a.d).collect();
        Self::new(
            p,
            side,
            0.0,
            fit.linear.clone(),
            fit.starts.clone(),
            held,
            angles,
        )
    }

    /// The midway shape on this side, from the fit of a's shape on b with what both allow. What lies between the two
    /// is shared so that both use the same share.
    pub(super) fn midway(p: &Pairing<'_>, side: usize, fit: &Fit, held: Vec<Held>) -> Self {
        let l = &p.limits;
        let part = |r: f64, low: f64, high: f64| {
            let sum = low + high;
            if r == 0.0 || sum <= 0.0 {
                return 0.5 * if side == 1 { r } else { -r };
            }
            // + : on b towards `high`, on a towards `low`.
            let (on_a, on_b) = if r > 0.0 { (low, high) } else { (high, low) };
            if side == 1 {
                r * on_b / sum
            } else {
                -r * on_a / sum
            }
        };
        let half = if side == 1 { 0.5 } else { -0.5 };
        let starts = Starts {
            gap: fit
                .starts
                .gap
                .iter()
                .map(|r| part(*r, l.tight, l.wide))
                .collect(),
            flush: fit
                .starts
                .flush
                .iter()
                .map(|r| part(*r, l.shy, l.proud))
                .collect(),
            holes: fit
                .starts
                .holes
                .iter()
                .map(|d| d.map(|v| half * v))
                .collect(),
        };
        let held = held.into_iter().map(centred).collect();
        let angles = p.angles.iter().map(|a| half * a.d).collect();
        Self::new(p, side, 0.5, fit.linear.clone(), starts, held, angles)
    }

    /// Share used by the angles.
    pub(super) fn angle_share(&self) -> f64 {
        self.angles
            .iter()
            .fold(0.0, |m, e| m.max(angle_share(*e, self.allowed_deg)))
    }

    /// Share used by everything.
    pub(super) fn share(&self) -> f64 {
        self.edge_share.max(self.angle_share())
    }

    /// Share once the side's edge, holes and angles are moved; infinite where the fasteners cannot be started.
    /// `room` is reused between calls.
    pub(super) fn share_of(&mut self, moved: &Moved<'_>, room: &mut Room) -> f64 {
        let less = |from: &[f64], what: &[f64], out: &mut Vec<f64>| {
            out.clear();
            out.extend(from.iter().zip(what).map(|(a, b)| a - b));
        };
        less(&self.starts.gap, moved.gap, &mut room.starts.gap);
        less(&self.starts.flush, moved.flush, &mut room.starts.flush);
        room.starts.holes.clear();
        room.starts.holes.extend(
            self.starts
                .holes
                .iter()
                .zip(moved.holes)
                .map(|(a, b)| [a[0] - b[0], a[1] - b[1], a[2] - b[2]]),
        );
        bounds(&room.starts, &self.held, &mut room.bounds);
        let edge = match self.solver.solve(&room.bounds) {
            Outcome::Optimal(o) => o.value,
            Outcome::Infeasible(_) => f64::INFINITY,
        };
        let angle = self
            .angles
            .iter()
            .zip(moved.angles)
            .fold(0.0_f64, |m, (e, z)| {
                m.max(angle_share(e - z, self.allowed_deg))
            });
        edge.max(angle)
    }

    /// Place of the angle that uses most, where an angle uses more than the edge.
    fn deciding_angle(&self) -> Option<usize> {
        if self.angle_share() <= self.edge_share {
            return None;
        }
        (0..self.angles.len())
            .max_by(|&i, &j| self.angles[i].abs().total_cmp(&self.angles[j].abs()))
    }

    /// The same by the derivative at the reading.
    pub(super) fn straight_share(&self, moved: &Moved<'_>) -> f64 {
        let slope = if let Some(k) = self.deciding_angle() {
            self.angles[k].signum() * moved.angles[k] / self.allowed_deg
        } else if let Some(pull) = &self.pull {
            let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(x, y)| x * y).sum::<f64>();
            let holes = pull.holes.iter().zip(moved.holes);
            dot(&pull.gap, moved.gap)
                + dot(&pull.flush, moved.flush)
                + holes.map(|(y, z)| dot(y, z)).sum::<f64>()
        } else {
            0.0
        };
        self.share() - slope
    }

    /// Standard uncertainty of the share by its derivative, with its degrees of freedom.
    pub(super) fn share_u(&self, p: &Pairing<'_>) -> (f64, f64) {
        if let Some(worst) = self.deciding_angle() {
            let (u, nu) = p.angles[worst].u[self.side];
            return (u / self.allowed_deg, nu);
        }
        let Some(pull) = &self.pull else {
            return (0.0, f64::INFINITY);
        };
        let doubt = &p.doubt[self.side];
        let edge = pulled(pull, doubt).norm();
        let bias = p.bias * pull.gap.iter().sum::<f64>();
        let holes: f64 = pull
            .holes
            .iter()
            .enumerate()
            .map(|(j, y)| {
                p.hole_u(j, self.side).powi(2) * (y[0] * y[0] + y[1] * y[1] + y[2] * y[2])
            })
            .sum();
        geom::welch_satterthwaite(&[
            (edge, doubt.nu),
            (bias.abs(), f64::INFINITY),
            (holes.sqrt(), f64::INFINITY),
        ])
    }
}

/// Share per standard normal factor of the edge.
pub(super) fn pulled(pull: &Pull, doubt: &super::pairing::Doubt) -> DVector<f64> {
    let gap = DVector::from_row_slice(&pull.gap);
    let flush = DVector::from_row_slice(&pull.flush);
    doubt.gap.tr_mul(&gap) + doubt.flush.tr_mul(&flush)
}

/// A part that is drawn anew has its seats in the middle of the range of stand-off.
fn centred(h: Held) -> Held {
    Held {
        seat: match h.seat {
            Seat::Bare => Seat::Bare,
            Seat::Range(low, high) => Seat::Range(0.5 * (low - high), 0.5 * (high - low)),
        },
        ..h
    }
}

/// How one side is moved in a draw.
pub(super) struct Moved<'a> {
    /// Gap by station, mm.
    pub gap: &'a [f64],
    /// Flush by station, mm.
    pub flush: &'a [f64],
    /// Holes, mm: across, across, along the axis.
    pub holes: &'a [[f64; 3]],
    /// Angles, degrees.
    pub angles: &'a [f64],
}

/// Space for one solve.
#[derive(Default)]
pub(super) struct Room {
    starts: Starts,
    bounds: Vec<f64>,
}
