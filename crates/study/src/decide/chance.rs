//! Draws of the two bodies, and the share of every task in each.

use nalgebra::DMatrix;
use rand::SeedableRng;
use rand::distr::Distribution;
use rand_chacha::ChaCha8Rng;
use rand_distr::{ChiSquared, StandardNormal};
use rayon::prelude::*;

use super::pairing::Pairing;
use super::task::{Moved, Room, Task};

/// Shares by task, then by draw.
pub(super) type Drawn = Vec<Vec<Share>>;

/// The share of one task in one draw.
#[derive(Clone, Copy, Debug)]
pub(super) struct Share {
    /// What it uses; infinite where the fasteners cannot be started.
    pub uses: f64,
    /// The same by its derivative alone: its mean over all bodies is the share as read, so that the difference shows
    /// the rise by the noise with far less scatter than the draws themselves.
    pub straight: f64,
}

/// Draws that are worked out together: the result does not depend on how they are spread over threads.
pub(crate) const CHUNK: u32 = 64;

/// `draws` pairs of bodies within their doubts.
pub(super) fn draw(p: &Pairing<'_>, tasks: &[Task], seed: u64, draws: u32) -> Drawn {
    let chunks: Vec<Vec<Vec<Share>>> = (0..draws.div_ceil(CHUNK))
        .into_par_iter()
        .map(|c| {
            let mut rng = stream(seed, u64::from(c));
            let mut tasks = tasks.to_vec();
            let mut room = Room::default();
            let count = CHUNK.min(draws - c * CHUNK) as usize;
            let bodies = Bodies::draw(p, &mut rng, count);
            (0..count)
                .map(|k| bodies.shares(&mut tasks, k, &mut room))
                .collect()
        })
        .collect();
    let mut out = vec![Vec::with_capacity(draws as usize); tasks.len()];
    for shares in chunks.into_iter().flatten() {
        for (o, s) in out.iter_mut().zip(shares) {
            o.push(s);
        }
    }
    out
}

/// A stream of random numbers of its own.
pub(crate) fn stream(seed: u64, number: u64) -> ChaCha8Rng {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    rng.set_stream(number);
    rng
}

pub(crate) fn normal(rng: &mut ChaCha8Rng) -> f64 {
    StandardNormal.sample(rng)
}

/// Factor that turns normal draws into Student's with `nu` degrees of freedom.
pub(crate) fn scale(rng: &mut ChaCha8Rng, nu: f64) -> f64 {
    if nu.is_finite() && nu < 1e6 {
        // ChiSquared refuses only nu that is not positive; then nothing is known and the draw is left as it is.
        ChiSquared::new(nu).map_or(1.0, |c| (nu / c.sample(rng)).sqrt())
    } else {
        1.0
    }
}

/// A number of pairs of bodies, drawn together: one product of matrices moves all stations of a side in all draws.
struct Bodies {
    sides: [Side; 2],
}

/// One side in all draws.
struct Side {
    /// Move of the gap by station, a column a draw, mm.
    gap: DMatrix<f64>,
    flush: DMatrix<f64>,
    holes: Vec<Vec<[f64; 3]>>,
    angles: Vec<Vec<f64>>,
}

impl Bodies {
    fn draw(p: &Pairing<'_>, rng: &mut ChaCha8Rng, count: usize) -> Self {
        let mut factors =
            [0, 1].map(|side: usize| DMatrix::zeros(p.doubt[side].gap.ncols(), count));
        let mut common = vec![0.0; count];
        let mut holes = [vec![Vec::new(); count], vec![Vec::new(); count]];
        let mut angles = [vec![Vec::new(); count], vec![Vec::new(); count]];
        for k in 0..count {
            common[k] = p.bias * normal(rng);
            for side in 0..2 {
                let s = scale(rng, p.doubt[side].nu);
                for z in factors[side].column_mut(k).iter_mut() {
                    *z = s * normal(rng);
                }
                holes[side][k] = (0..p.holes.len())
                    .map(|j| [0; 3].map(|_| p.hole_u(j, side) * normal(rng)))
                    .collect();
                angles[side][k] = p
                    .angles
                    .iter()
                    .map(|a| {
                        let (u, nu) = a.u[side];
                        u * scale(rng, nu) * normal(rng)
                    })
                    .collect();
            }
        }
        let [holes_a, holes_b] = holes;
        let [angles_a, angles_b] = angles;
        let side = |side: usize, holes, angles| {
            let d = &p.doubt[side];
            let mut gap = &d.gap * &factors[side];
            for (mut column, c) in gap.column_iter_mut().zip(&common) {
                column.add_scalar_mut(*c);
            }
            Side {
                gap,
                flush: &d.flush * &factors[side],
                holes,
                angles,
            }
        };
        Self {
            sides: [side(0, holes_a, angles_a), side(1, holes_b, angles_b)],
        }
    }

    /// Share of every task in draw `k`.
    fn shares(&self, tasks: &mut [Task], k: usize, room: &mut Room) -> Vec<Share> {
        tasks
            .iter_mut()
            .map(|t| {
                let s = &self.sides[t.side];
                let (gap, flush) = (s.gap.column(k), s.flush.column(k));
                let moved = Moved {
                    gap: gap.as_slice(),
                    flush: flush.as_slice(),
                    holes: &s.holes[k],
                    angles: &s.angles[k],
                };
                Share {
                    uses: t.share_of(&moved, room),
                    straight: t.straight_share(&moved),
                }
            })
            .collect()
    }
}

/// What the draws say of an option: the share it uses once the noise of the readings is taken out, and the chance
/// that it fits. Both from the same draws, so that one cannot speak against the other.
///
/// A share is convex in the errors, so noise in a reading raises it on average, once in the reading and once more in
/// the draws. With `own` the part of the shape that is this side's own reading, the draws are above the truth by
/// `2 (1 - own)` times the mean rise. What is left are the shares that the bodies may have; the largest of the tasks
/// counts. `decides` is the task that uses most as read.
pub(super) fn odds(tasks: &[Task], drawn: &Drawn, which: &[usize], decides: usize) -> Odds {
    let draws = drawn.first().map_or(0, Vec::len);
    let less: Vec<f64> = which
        .iter()
        .map(|&t| 2.0 * (1.0 - tasks[t].own) * rise(&drawn[t]))
        .collect();
    let left = |k: usize| {
        which
            .iter()
            .zip(&less)
            .map(|(&t, l)| drawn[t][k].uses - l)
            .fold(f64::NEG_INFINITY, f64::max)
    };
    let mut shares: Vec<f64> = (0..draws).map(left).collect();
    let fits = shares.iter().filter(|s| **s <= 1.0).count();
    let offs = shares.iter().zip(&drawn[decides]);
    let share = tasks[decides].share() + mean(offs.map(|(s, d)| s - d.straight));
    shares.sort_by(f64::total_cmp);
    let at = |q: f64| shares[((draws - 1) as f64 * q).round() as usize];
    let spread = if draws > 0 && at(0.975).is_finite() {
        0.5 * (at(0.975) - at(0.025))
    } else {
        f64::INFINITY
    };
    Odds {
        share: share.max(0.0),
        spread,
        fits: fits as f64 / draws.max(1) as f64,
    }
}

/// What [`odds`] found.
pub(super) struct Odds {
    /// Mean share of what is allowed.
    pub share: f64,
    /// Half the width of the range that holds 95 of 100 draws; infinite where it is not known.
    pub spread: f64,
    /// Share of the draws that fit.
    pub fits: f64,
}

/// How much noise of the size of one reading raises the share, on average.
fn rise(drawn: &[Share]) -> f64 {
    mean(drawn.iter().map(|d| d.uses - d.straight))
}

/// Mean of the finite ones; 0 without any.
fn mean(values: impl Iterator<Item = f64>) -> f64 {
    let (sum, n) = values
        .filter(|v| v.is_finite())
        .fold((0.0, 0_u32), |(sum, n), v| (sum + v, n + 1));
    sum / f64::from(n.max(1))
}
