//! The order of points along a space-filling curve, by counting.
//!
//! Keys of 10 bits an axis (Morton 1966, see [`crate::morton`]) are sorted by three counting passes from the lowest
//! digit up, each stable, so the order is by key, then by index, whatever the number of threads. Neighbours in this
//! order are mostly neighbours in space: what one search has loaded, the next finds in the cache.

#![allow(
    clippy::inline_always,
    reason = "instruction sets are chosen at run time for what is inlined there"
)]

use std::sync::atomic::{AtomicU64, Ordering};

use rayon::prelude::*;

use crate::Point;

/// Bits of an axis.
const AXIS: u32 = 10;
/// Values of a digit.
const DIGIT: usize = 1 << AXIS;
/// Points handled by one task; fixed, so that nothing depends on the number of threads.
const CHUNK: usize = 1 << 14;

/// Puts two zero bits after each of the lower 10 bits.
#[inline(always)]
fn spread(x: u32) -> u32 {
    let x = (x | (x << 16)) & 0x0300_00ff;
    let x = (x | (x << 8)) & 0x0300_f00f;
    let x = (x | (x << 4)) & 0x030c_30c3;
    (x | (x << 2)) & 0x0924_9249
}

/// The cube that the keys divide: its low corner and cells per mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Cube {
    pub low: [f64; 3],
    pub high: [f64; 3],
    per_unit: f64,
}

impl Cube {
    /// The cube over all points. Points that are not finite do not count; `None` if no point is finite.
    pub fn over(points: &[Point]) -> Option<Self> {
        let join = |a: [[f64; 3]; 2], b: [[f64; 3]; 2]| {
            let mut out = a;
            for i in 0..3 {
                out[0][i] = a[0][i].min(b[0][i]);
                out[1][i] = a[1][i].max(b[1][i]);
            }
            out
        };
        let none = [[f64::INFINITY; 3], [f64::NEG_INFINITY; 3]];
        let [low, high] = points
            .par_chunks(CHUNK)
            .map(|chunk| {
                let mut out = none;
                for p in chunk {
                    if (p.x + p.y + p.z).is_finite() {
                        for i in 0..3 {
                            // Plain comparisons: one instruction each.
                            out[0][i] = if p[i] < out[0][i] { p[i] } else { out[0][i] };
                            out[1][i] = if p[i] > out[1][i] { p[i] } else { out[1][i] };
                        }
                    }
                }
                out
            })
            .reduce(|| none, join);
        (low[0] <= high[0]).then(|| {
            let side = (0..3).map(|i| high[i] - low[i]).fold(0.0, f64::max);
            let per_unit = if side > 0.0 { DIGIT as f64 / side } else { 0.0 };
            Self {
                low,
                high,
                per_unit: if per_unit.is_finite() { per_unit } else { 0.0 },
            }
        })
    }

    /// The key of a place; places outside count as the nearest of the cube.
    #[inline(always)]
    pub fn key(&self, p: &Point) -> u32 {
        let top = DIGIT as f64 - 1.0;
        let cell = |i: usize| {
            let x = (p[i] - self.low[i]) * self.per_unit;
            let x = if x > 0.0 { x } else { 0.0 };
            (if x < top { x } else { top }) as u32
        };
        spread(cell(0)) << 2 | spread(cell(1)) << 1 | spread(cell(2))
    }

    /// Indices of the points along the curve. Those that are not finite are left out.
    pub fn order(&self, points: &[Point]) -> Vec<u32> {
        order_by(points.len(), |i| {
            let p = &points[i];
            (p.x + p.y + p.z).is_finite().then(|| self.key(p))
        })
    }
}

/// Indices 0..count by the key that `key` gives, then by index; those without a key are left out.
fn order_by(count: usize, key: impl Fn(usize) -> Option<u32> + Sync) -> Vec<u32> {
    let keyed = |i: usize| match key(i) {
        Some(k) => u64::from(k) << 32 | i as u64,
        None => u64::MAX,
    };
    let mut keys: Vec<AtomicU64> = (0..count)
        .into_par_iter()
        .with_min_len(CHUNK)
        .map(|i| AtomicU64::new(keyed(i)))
        .collect();
    let odd = keys
        .par_iter()
        .with_min_len(CHUNK)
        .filter(|k| k.load(Ordering::Relaxed) == u64::MAX)
        .count();
    if odd > 0 {
        keys.retain(|k| k.load(Ordering::Relaxed) != u64::MAX);
    }
    sort(&mut keys);
    keys.par_iter()
        .with_min_len(CHUNK)
        .map(|k| k.load(Ordering::Relaxed) as u32)
        .collect()
}

/// Sorts by the upper half of each number, which must be below 2^30; equal ones stay in order.
fn sort(keys: &mut Vec<AtomicU64>) {
    // The atomics are plain moves; they let several threads write to places that are known to be different.
    let mut other: Vec<AtomicU64> = (0..keys.len())
        .into_par_iter()
        .with_min_len(CHUNK)
        .map(|_| AtomicU64::new(0))
        .collect();
    let share = keys.len().div_ceil(rayon::current_num_threads()).max(CHUNK);
    for pass in 0..3 {
        let shift = 32 + pass * AXIS;
        let digit = |k: &AtomicU64| (k.load(Ordering::Relaxed) >> shift) as usize & (DIGIT - 1);
        let mut counts: Vec<Vec<u32>> = keys
            .par_chunks(share)
            .map(|chunk| {
                let mut count = vec![0_u32; DIGIT];
                for k in chunk {
                    count[digit(k)] += 1;
                }
                count
            })
            .collect();
        let mut sum = 0;
        for d in 0..DIGIT {
            for count in &mut counts {
                sum += std::mem::replace(&mut count[d], sum);
            }
        }
        keys.par_chunks(share)
            .zip(counts)
            .for_each(|(chunk, mut at)| {
                for k in chunk {
                    let place = &mut at[digit(k)];
                    other[*place as usize].store(k.load(Ordering::Relaxed), Ordering::Relaxed);
                    *place += 1;
                }
            });
        std::mem::swap(keys, &mut other);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{RngExt, SeedableRng};

    #[test]
    fn spread_keeps_every_bit_apart() {
        for b in 0..AXIS {
            assert_eq!(spread(1 << b), 1 << (3 * b));
        }
        assert_eq!(spread(0x3ff), 0x0924_9249);
    }

    #[test]
    fn orders_by_key_then_index_and_leaves_out_what_is_no_number() {
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(5);
        let mut points: Vec<Point> = (0..60_000)
            .map(|_| {
                Point::new(
                    rng.random(),
                    rng.random(),
                    f64::from(rng.random::<u8>() % 3),
                )
            })
            .collect();
        points[77].y = f64::NAN;
        points[40_000].x = f64::INFINITY;
        let cube = Cube::over(&points).unwrap();
        let order = cube.order(&points);
        assert_eq!(order.len(), points.len() - 2);
        assert!(order.windows(2).all(|w| {
            (cube.key(&points[w[0] as usize]), w[0]) < (cube.key(&points[w[1] as usize]), w[1])
        }));
        assert!(!order.contains(&77) && !order.contains(&40_000));
    }

    #[test]
    fn one_place_and_no_place() {
        let same = vec![Point::new(3.0, 4.0, 5.0); 5];
        assert_eq!(Cube::over(&same).unwrap().order(&same), [0, 1, 2, 3, 4]);
        assert!(Cube::over(&[]).is_none());
        assert!(Cube::over(&[Point::new(f64::NAN, 0.0, 0.0)]).is_none());
    }
}
