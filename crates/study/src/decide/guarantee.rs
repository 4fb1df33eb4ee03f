//! Parts that carry load or safety: a verdict for all places at once instead of a chance.
//!
//! The band of a side reaches q standard uncertainties to either side at every place, hole and angle together; q is the
//! 95 % point of the largest |z| of all of them, drawn from their joint doubt. The part fits if it does so with every
//! error at the end of the band that hurts; it will not fit if it does not even with all at the other end.

use geom::{Outcome, t_quantile};
use nalgebra::DMatrix;
use rayon::prelude::*;
use record::{OptionResult, Verdict};

use super::chance::{CHUNK, normal, scale, stream};
use super::options::Plan;
use super::pairing::Pairing;
use super::task::Task;
use crate::fit::{Spot, bounds};

/// Share of the bands that hold the truth in all places at once.
const SURE: f64 = 0.95;

/// Puts the band and the verdict by it into the options of a part that carries load; others stay as they are.
pub(super) fn guarantee(
    p: &Pairing<'_>,
    plan: &Plan,
    results: &mut [OptionResult],
    seed: u64,
    draws: u32,
) {
    if !p.part.load_bearing || !p.measured {
        return;
    }
    let q = reach(p, seed, draws);
    for r in results {
        let Some(o) = plan.options.iter().find(|o| o.kind == r.kind) else {
            continue;
        };
        let tasks = || o.tasks.iter().map(|&t| &plan.tasks[t]);
        if o.tasks.is_empty() {
            continue;
        }
        let share = |q: f64| tasks().map(|t| with_band(p, t, q)).fold(0.0, f64::max);
        let (least, most) = (share(-q), share(q));
        r.band_percent = Some([100.0 * least, 100.0 * most]);
        r.verdict = if most <= 1.0 {
            Verdict::Fits
        } else if least > 1.0 {
            Verdict::WillNotFit
        } else {
            Verdict::NotProven
        };
    }
}

/// The share of a placement with every error moved by `q` standard uncertainties: + the way that hurts, - the way that
/// helps. Infinite where the fasteners cannot be started.
fn with_band(p: &Pairing<'_>, task: &Task, q: f64) -> f64 {
    let doubt = &p.doubt[task.side];
    let mut limits = Vec::new();
    bounds(&task.starts, &task.held, &mut limits);
    for (limit, spot) in limits.iter_mut().zip(&task.spots) {
        let u = match *spot {
            Spot::Gap(k, _) => doubt.gap_u[k].hypot(p.bias),
            Spot::Flush(k, _) => doubt.flush_u[k],
            Spot::Play(j, _) | Spot::Seat(j, _) => p.hole_u(j, task.side),
            Spot::Travel(_) | Spot::Taper(..) => 0.0,
        };
        *limit -= q * u;
    }
    let edge = match task.solver.clone().solve(&limits) {
        Outcome::Optimal(o) => o.value,
        Outcome::Infeasible(_) => f64::INFINITY,
    };
    task.angles
        .iter()
        .zip(&p.angles)
        .map(|(e, a)| ((e.abs() + q * a.u[task.side].0) / task.allowed_deg).max(0.0))
        .fold(edge, f64::max)
}

/// The 95 % point of the largest |z| over all places, holes and angles of both sides. Without draws Bonferroni's bound.
fn reach(p: &Pairing<'_>, seed: u64, draws: u32) -> f64 {
    let singles = |side: usize| -> usize {
        2 * p.doubt[side].gap.nrows() + 3 * p.holes.len() + p.angles.len()
    };
    if draws == 0 {
        let all = (singles(0) + singles(1)).max(1) as f64;
        let angles = p.angles.iter().flat_map(|a| a.u).map(|u| u.1);
        let nu = p.doubt.iter().map(|d| d.nu).chain(angles);
        return t_quantile(
            1.0 - 0.5 * (1.0 - SURE) / all,
            nu.fold(f64::INFINITY, f64::min),
        );
    }
    let chunks: Vec<Vec<f64>> = (0..draws.div_ceil(CHUNK))
        .into_par_iter()
        .map(|c| {
            let mut rng = stream(seed ^ 0x0000_6261_6E64, u64::from(c));
            let count = CHUNK.min(draws - c * CHUNK) as usize;
            let mut most = vec![0.0_f64; count];
            for (side, doubt) in p.doubt.iter().enumerate() {
                let mut z = DMatrix::zeros(doubt.gap.ncols(), count);
                for mut column in z.column_iter_mut() {
                    let s = scale(&mut rng, doubt.nu);
                    column.apply(|v| *v = s * normal(&mut rng));
                }
                let edge = [
                    (&doubt.gap, &doubt.gap_u, p.bias),
                    (&doubt.flush, &doubt.flush_u, 0.0),
                ];
                for (of, us, bias) in edge {
                    let moved = of * &z;
                    for (k, column) in moved.column_iter().enumerate() {
                        let common = bias * normal(&mut rng);
                        for (u, v) in us.iter().zip(column.iter()) {
                            let u = u.hypot(bias);
                            if u > 0.0 {
                                most[k] = most[k].max((v + common).abs() / u);
                            }
                        }
                    }
                }
                for m in &mut most {
                    for _ in 0..3 * p.holes.len() {
                        *m = m.max(normal(&mut rng).abs());
                    }
                    for a in &p.angles {
                        *m = m.max((scale(&mut rng, a.u[side].1) * normal(&mut rng)).abs());
                    }
                }
            }
            most
        })
        .collect();
    let mut most: Vec<f64> = chunks.into_iter().flatten().collect();
    most.sort_by(f64::total_cmp);
    most[((SURE * most.len() as f64) as usize).min(most.len() - 1)]
}
