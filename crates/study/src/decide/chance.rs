//! Draws of the two bodies, and the share of every task in each.

use nalgebra::DMatrix;
use rand::SeedableRng;
use rand::distr::Distribution;
use rand_chacha::ChaCha8Rng;
use rand_distr::{ChiSquared, StandardNormal};
use rayon::prelude::*;

use super::pairing::Pairing;
use super::task::{Room, Task};

/// Shares by task, then by draw.
pub(super) type Drawn = Vec<Vec<f64>>;

/// Draws that are worked out together: the result does not depend on how they are spread over threads.
pub(super) const CHUNK: u32 = 64;

/// `draws` pairs of bodies within their doubts.
pub(super) fn draw(p: &Pairing<'_>, tasks: &[Task], seed: u64, draws: u32) -> Drawn {
    let chunks: Vec<Vec<Vec<f64>>> = (0..draws.div_ceil(CHUNK))
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
pub(super) fn stream(seed: u64, number: u64) -> ChaCha8Rng {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    rng.set_stream(number);
    rng
}

pub(super) fn normal(rng: &mut ChaCha8Rng) -> f64 {
    StandardNormal.sample(rng)
}

/// Factor that turns normal draws into Student's with `nu` degrees of freedom.
pub(super) fn scale(rng: &mut ChaCha8Rng, nu: f64) -> f64 {
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
    fn shares(&self, tasks: &mut [Task], k: usize, room: &mut Room) -> Vec<f64> {
        tasks
            .iter_mut()
            .map(|t| {
                let s = &self.sides[t.side];
                t.share_of(
                    s.gap.column(k).as_slice(),
                    s.flush.column(k).as_slice(),
                    &s.holes[k],
                    &s.angles[k],
                    room,
                )
            })
            .collect()
    }
}

/// Chance that all of these tasks fit: share of the draws in which none exceeds 1.
///
/// A share is convex in the errors, so noise in a reading raises it on average, once in the reading and once more in
/// the draws. With `own` the part of the shape that is this side's own reading, the draws are above the truth by
/// `2 (1 - own)` times the mean rise.
pub(super) fn chance(tasks: &[Task], drawn: &Drawn, which: &[usize]) -> f64 {
    let draws = drawn.first().map_or(0, Vec::len);
    let less: Vec<f64> = which
        .iter()
        .map(|&t| {
            let finite: Vec<f64> = drawn[t].iter().copied().filter(|v| v.is_finite()).collect();
            if finite.is_empty() || !tasks[t].share().is_finite() {
                return 0.0;
            }
            let mean = finite.iter().sum::<f64>() / finite.len() as f64;
            2.0 * (1.0 - tasks[t].own) * (mean - tasks[t].share())
        })
        .collect();
    let fits = (0..draws)
        .filter(|&k| {
            which
                .iter()
                .zip(&less)
                .all(|(&t, l)| drawn[t][k] - l <= 1.0)
        })
        .count();
    fits as f64 / draws.max(1) as f64
}
