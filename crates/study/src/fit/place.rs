//! Finds the best placement: linearise, solve, move the part exactly, cut its edge again, until nothing improves.

use geom::{Optimum, Outcome, Point, Rigid, Vector};
use nalgebra::{Translation3, UnitQuaternion};

use super::program::{Aim, Held, Linear, LinearFastener, LinearStation, Over, Spot, Starts, build};
use super::{FitProblem, Seat};

/// The best placement of a part.
#[derive(Clone, Debug, PartialEq)]
pub struct Fit {
    /// Share of what is allowed that is used, `>= 0`; fits at 1 and below.
    pub share: f64,
    /// The move of the part.
    pub pose: Rigid,
    /// Errors after the move.
    pub starts: Starts,
    /// The rows about the pose.
    pub linear: Linear,
    /// Rows that hold the share up, with multipliers: raising the error at one by one mm raises the share by as much.
    pub holding: Vec<(Spot, f64)>,
    /// Rounds of linearising.
    pub rounds: usize,
}

/// Why there is no placement.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct NoFit {
    /// Least addition to the radius of play of every fastener with which they can be started, mm; infinite where the
    /// stand-off, not the play, is what cannot be met.
    pub least_oversize: f64,
}

/// A part at a pose, cut by the section planes.
#[derive(Clone, Debug, PartialEq)]
pub struct Placed {
    /// Errors.
    pub starts: Starts,
    /// How they change.
    pub linear: Linear,
    /// Which piece of the curve each station was cut on.
    pub(super) pieces: Vec<usize>,
}

/// Rounds after which the search stops wherever it is.
const ROUNDS: usize = 40;
/// Farthest that the farthest point may move in the first round, mm.
const FIRST_STEP: f64 = 20.0;
/// Improvement of the share not worth another round.
const ENOUGH: f64 = 1e-10;

/// Cuts the posed part at every station.
pub(super) fn cut(
    problem: &FitProblem,
    pose: &Rigid,
    middle: &Point,
    before: Option<&[usize]>,
) -> Placed {
    let back = pose.inverse();
    let at_start: Vec<usize> = match (&problem.curve, before) {
        (Some(c), None) => c.nearest(&problem.stations.iter().map(|s| s.part).collect::<Vec<_>>()),
        (_, b) => b.map(<[usize]>::to_vec).unwrap_or_default(),
    };
    let n = problem.stations.len();
    let mut placed = Placed {
        starts: Starts {
            gap: Vec::with_capacity(n),
            flush: Vec::with_capacity(n),
            holes: Vec::new(),
        },
        linear: Linear {
            middle: *middle,
            stations: Vec::with_capacity(n),
            fasteners: Vec::new(),
        },
        pieces: at_start,
    };
    for (i, s) in problem.stations.iter().enumerate() {
        let (at, along) = if let Some(c) = &problem.curve {
            let normal = back.rotation * s.tangent.into_inner();
            let cut = c.cut(placed.pieces[i], &(back * s.opening), &normal);
            placed.pieces[i] = cut.piece;
            (pose * cut.at, pose.rotation * cut.along)
        } else {
            let (p, d) = (pose * s.part, pose.rotation * s.tangent.into_inner());
            let ahead = s.tangent.dot(&(p - s.opening)) / s.tangent.dot(&d);
            (p - d * ahead, d)
        };
        let off = at - s.opening;
        let arm = at - middle;
        // The cut slides along the part's edge so as to stay in the section plane.
        let held = s.tangent.dot(&along);
        let direction = |v: &Vector| -> [f64; 6] {
            let slide = if held.abs() > 1e-3 * along.norm() {
                v.dot(&along) / held
            } else {
                0.0
            };
            motions(&(v - s.tangent.into_inner() * slide), &arm)
        };
        placed.starts.gap.push(s.gap_dir.dot(&off));
        placed.starts.flush.push(s.flush_dir.dot(&off));
        placed.linear.stations.push(LinearStation {
            gap: direction(&s.gap_dir),
            flush: direction(&s.flush_dir),
        });
    }
    for f in &problem.fasteners {
        let at = pose * f.part;
        let (off, arm) = (at - f.body, at - middle);
        let [x, y] = f.across();
        placed
            .starts
            .holes
            .push([x.dot(&off), y.dot(&off), f.axis.dot(&off)]);
        placed.linear.fasteners.push(LinearFastener {
            rows: [x, y, f.axis].map(|d| motions(&d, &arm)),
        });
    }
    placed
}

/// Change of the coordinate along `d` of a point at `arm` with three shifts and three turns.
fn motions(d: &Vector, arm: &Vector) -> [f64; 6] {
    let turn = arm.cross(d);
    [d.x, d.y, d.z, turn.x, turn.y, turn.z]
}

/// The pose after six small motions about `middle`, the rotation exact.
pub(super) fn moved(pose: &Rigid, q: &[f64], middle: &Point) -> Rigid {
    let turn = UnitQuaternion::from_scaled_axis(Vector::new(q[3], q[4], q[5]));
    let about = Rigid::from_parts(
        Translation3::from(middle.coords - turn * middle.coords),
        turn,
    );
    Translation3::new(q[0], q[1], q[2]) * about * pose
}

/// The share that errors use where they stand, and by how much the hard limits are exceeded, mm. `travel` is the
/// slot travel by fastener.
pub(super) fn used(problem: &FitProblem, held: &[Held], starts: &Starts) -> (f64, f64) {
    let l = &problem.limits;
    let ratio = |e: f64, low: f64, high: f64| {
        let limit = if e < 0.0 { low } else { high };
        if e == 0.0 { 0.0 } else { e.abs() / limit }
    };
    let mut share = 0.0_f64;
    for (g, f) in starts.gap.iter().zip(&starts.flush) {
        share = share
            .max(ratio(*g, l.tight, l.wide))
            .max(ratio(*f, l.shy, l.proud));
    }
    let mut over = 0.0_f64;
    for (h, d) in held.iter().zip(&starts.holes) {
        let mut at = [d[0], d[1]];
        if let Some((s, extra)) = h.slot {
            let t = (at[0] * s[0] + at[1] * s[1]).clamp(-0.5 * extra, 0.5 * extra);
            at = [at[0] - t * s[0], at[1] - t * s[1]];
        }
        over = over.max(at[0].hypot(at[1]) - h.play);
        match h.seat {
            Seat::Bare => share = share.max(ratio(d[2], l.shy, l.proud)),
            Seat::Range(low, high) => over = over.max(low - d[2]).max(d[2] - high),
        }
    }
    (share, over)
}

/// Adds limits on the six motions of one round.
fn fence(p: &mut geom::Minimax, step: f64, reach: f64) {
    for m in 0..6 {
        let mut g = [0.0; 6];
        g[m] = if m < 3 { 1.0 } else { reach };
        p.at_most(&g, step, 0.0);
        g[m] = -g[m];
        p.at_most(&g, step, 0.0);
    }
}

/// The best placement, iterated until neither the pose nor the share changes.
///
/// # Errors
/// [`NoFit`] where the fasteners cannot be started in any placement.
pub fn place(problem: &FitProblem) -> Result<Fit, NoFit> {
    place_within(problem, ENOUGH)
}

/// The best placement of the linear problem about the start: one round, nothing cut again.
///
/// # Errors
/// [`NoFit`] where the fasteners cannot be started in any placement.
pub fn place_once(problem: &FitProblem) -> Result<Fit, NoFit> {
    let middle = problem.middle();
    let placed = cut(problem, &Rigid::identity(), &middle, None);
    let held: Vec<Held> = problem.fasteners.iter().map(Held::from).collect();
    let (p, spots) = build(
        &placed.linear,
        &placed.starts,
        &problem.limits,
        &held,
        Aim::Share,
    );
    match p.solve() {
        Outcome::Optimal(o) => {
            let pose = moved(&Rigid::identity(), &o.x, &middle);
            let starts = shifted(&placed, &o.x);
            Ok(finish(Placed { starts, ..placed }, pose, &o, &spots, 1))
        }
        Outcome::Infeasible(_) => Err(no_fit(&placed, &held)),
    }
}

/// Errors after six motions, to first order.
fn shifted(placed: &Placed, q: &[f64]) -> Starts {
    let add =
        |start: f64, row: &[f64; 6]| start + row.iter().zip(q).map(|(a, b)| a * b).sum::<f64>();
    let l = &placed.linear;
    let s = &placed.starts;
    Starts {
        gap: s
            .gap
            .iter()
            .zip(&l.stations)
            .map(|(e, r)| add(*e, &r.gap))
            .collect(),
        flush: s
            .flush
            .iter()
            .zip(&l.stations)
            .map(|(e, r)| add(*e, &r.flush))
            .collect(),
        holes: s
            .holes
            .iter()
            .zip(&l.fasteners)
            .map(|(e, r)| [0, 1, 2].map(|k| add(e[k], &r.rows[k])))
            .collect(),
    }
}

/// [`place`], but ends once a further round could lower the share by no more than `enough` (relative to `1 + share`).
///
/// # Errors
/// [`NoFit`] where the fasteners cannot be started in any placement.
pub fn place_within(problem: &FitProblem, enough: f64) -> Result<Fit, NoFit> {
    place_from(problem, &Rigid::identity(), enough)
}

/// [`place_within`] from a pose that is thought to be near: the fewer rounds the nearer it is.
///
/// # Errors
/// [`NoFit`] where the fasteners cannot be started in any placement.
pub fn place_from(problem: &FitProblem, start: &Rigid, enough: f64) -> Result<Fit, NoFit> {
    let middle = problem.middle();
    let reach = problem.reach(&middle);
    let held: Vec<Held> = problem.fasteners.iter().map(Held::from).collect();
    let mut pose = *start;
    let mut placed = cut(problem, &pose, &middle, None);
    // Hard limits weigh so much that meeting them always comes first.
    let merit = |s: &Starts| {
        let (share, over) = used(problem, &held, s);
        share + 1e3 * (over - 1e-9).max(0.0)
    };
    let mut now = merit(&placed.starts);
    let mut step = FIRST_STEP;
    let mut round = 0;
    loop {
        round += 1;
        let program = || {
            build(
                &placed.linear,
                &placed.starts,
                &problem.limits,
                &held,
                Aim::Share,
            )
        };
        let (mut fenced, spots) = program();
        fence(&mut fenced, step, reach);
        let o = match fenced.solve() {
            Outcome::Optimal(o) => o,
            // Too far away for one round, or impossible: without the fence it shows.
            Outcome::Infeasible(_) => match program().0.solve() {
                Outcome::Optimal(o) => o,
                Outcome::Infeasible(_) => return Err(no_fit(&placed, &held)),
            },
        };
        let gain = now - o.value;
        if gain <= enough * (1.0 + o.value) || round >= ROUNDS {
            return Ok(finish(placed, pose, &o, &spots, round));
        }
        let went = (0..6).fold(0.0_f64, |m, k| {
            m.max(o.x[k].abs() * if k < 3 { 1.0 } else { reach })
        });
        let try_at = |part: f64| {
            let q: Vec<f64> = o.x.iter().map(|v| v * part).collect();
            let to = moved(&pose, &q, &middle);
            let there = cut(problem, &to, &middle, Some(&placed.pieces));
            (merit(&there.starts), part, to, there)
        };
        let mut best = try_at(1.0);
        if now - best.0 < 0.25 * gain {
            // The rows bend over this way: the least lies on it (halving by the golden section).
            let (mut low, mut high) = (0.0, 1.0);
            for _ in 0..8 {
                let (one, two) = (
                    try_at(low + 0.382 * (high - low)),
                    try_at(low + 0.618 * (high - low)),
                );
                if one.0 < two.0 {
                    high = two.1;
                } else {
                    low = one.1;
                }
                for t in [one, two] {
                    if t.0 < best.0 {
                        best = t;
                    }
                }
            }
            step = 0.5 * went;
        } else if went > 0.99 * step {
            step *= 2.0;
        }
        if best.0 >= now {
            step = 0.1 * went;
            if step < 1e-9 {
                return Ok(finish(placed, pose, &o, &spots, round));
            }
        } else {
            (now, _, pose, placed) = best;
        }
    }
}

fn finish(placed: Placed, pose: Rigid, o: &Optimum, spots: &[Spot], rounds: usize) -> Fit {
    Fit {
        share: o.value,
        pose,
        starts: placed.starts,
        linear: placed.linear,
        holding: o
            .active
            .iter()
            .filter_map(|a| spots.get(a.row).map(|s| (*s, a.multiplier)))
            .collect(),
        rounds,
    }
}

fn no_fit(placed: &Placed, held: &[Held]) -> NoFit {
    let every = vec![true; held.len()];
    // With the share free the allowances never stand in the way: only the fasteners speak.
    let wide = super::Limits::even(1e6, 1e6);
    let (p, _) = build(
        &placed.linear,
        &placed.starts,
        &wide,
        held,
        Aim::Oversize(&every),
    );
    NoFit {
        least_oversize: match p.solve() {
            Outcome::Optimal(o) => o.value,
            Outcome::Infeasible(_) => f64::INFINITY,
        },
    }
}

impl Fit {
    /// Change of the share per mm of gap error at each station (a list as long as the stations).
    pub fn pull(&self) -> Pull {
        let n = self.linear.stations.len();
        let mut pull = Pull {
            gap: vec![0.0; n],
            flush: vec![0.0; n],
            holes: vec![[0.0; 3]; self.linear.fasteners.len()],
        };
        let sign = |o: Over| if o == Over::Above { 1.0 } else { -1.0 };
        for (spot, y) in &self.holding {
            match *spot {
                Spot::Gap(i, o) => pull.gap[i] += y * sign(o),
                Spot::Flush(i, o) => pull.flush[i] += y * sign(o),
                Spot::Seat(j, o) => pull.holes[j][2] += y * sign(o),
                Spot::Play(j, k) => {
                    let d = super::program::side(k);
                    pull.holes[j][0] += y * d[0];
                    pull.holes[j][1] += y * d[1];
                }
                Spot::Travel(_) | Spot::Taper(..) => {}
            }
        }
        pull
    }
}

/// Change of the share with the errors: its derivative at the optimum.
#[derive(Clone, Debug, PartialEq)]
pub struct Pull {
    /// Per mm of gap error.
    pub gap: Vec<f64>,
    /// Per mm of flush error.
    pub flush: Vec<f64>,
    /// Per mm of hole place: across, across, along the axis.
    pub holes: Vec<[f64; 3]>,
}

/// The rows and errors of a problem where its part lies.
pub fn about_start(problem: &FitProblem) -> (Linear, Starts) {
    let placed = cut(problem, &Rigid::identity(), &problem.middle(), None);
    (placed.linear, placed.starts)
}
