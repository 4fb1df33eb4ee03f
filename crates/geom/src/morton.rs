//! Space-filling order: interleaved coordinate bits, and a sort that can be called off.
//!
//! Source: G. M. Morton, "A computer oriented geodetic data base", IBM 1966. Bits are spread by the usual
//! masks-and-shifts; the sort is a most-significant-bit exchange sort that hands small runs to the standard one.

/// Bits per axis.
const BITS: u32 = 21;
/// Runs up to this many are sorted in one go (a few milliseconds).
const SMALL: usize = 1 << 15;
/// How many elements are moved between two questions whether to go on.
const STRIDE: usize = 1 << 16;

/// A key with the index it belongs to: high half, low half, index. Ordered as an array, so ties go by index.
pub(crate) type Keyed = [u32; 3];

/// Key of something that is to stand behind everything else.
pub(crate) const LAST: u64 = u64::MAX;

/// Puts two zero bits after each of the lower 21 bits.
fn spread(x: u64) -> u64 {
    let mut x = x & 0x1f_ffff;
    x = (x | (x << 32)) & 0x001f_0000_0000_ffff;
    x = (x | (x << 16)) & 0x001f_0000_ff00_00ff;
    x = (x | (x << 8)) & 0x100f_00f0_0f00_f00f;
    x = (x | (x << 4)) & 0x10c3_0c30_c30c_30c3;
    (x | (x << 2)) & 0x1249_2492_4924_9249
}

/// The grid of a cube that holds everything.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Grid {
    low: [f64; 3],
    per_unit: f64,
}

impl Grid {
    /// The grid over `low..high`, the same step in every axis.
    pub(crate) fn over(low: [f64; 3], high: [f64; 3]) -> Self {
        let side = (0..3).map(|i| high[i] - low[i]).fold(0.0, f64::max);
        let cells = f64::from(1_u32 << BITS);
        Self {
            low,
            per_unit: if side > 0.0 && side.is_finite() {
                cells / side
            } else {
                0.0
            },
        }
    }

    /// The key of a position inside the grid; [`LAST`] if it is not finite.
    pub(crate) fn key(&self, p: [f64; 3]) -> u64 {
        if p.iter().any(|x| !x.is_finite()) {
            return LAST;
        }
        let top = f64::from((1_u32 << BITS) - 1);
        let cell = |i: usize| ((p[i] - self.low[i]) * self.per_unit).clamp(0.0, top) as u64;
        spread(cell(0)) << 2 | spread(cell(1)) << 1 | spread(cell(2))
    }
}

/// Joins key and index.
pub(crate) fn keyed(key: u64, index: u32) -> Keyed {
    [(key >> 32) as u32, key as u32, index]
}

/// The key of a joined one.
pub(crate) fn key_of(k: &Keyed) -> u64 {
    u64::from(k[0]) << 32 | u64::from(k[1])
}

/// Sorts ascending by key, then index. The result does not depend on the number of threads.
/// `None` if `go_on` said no; the slice is then in some order.
pub(crate) fn sort(keys: &mut [Keyed], go_on: &(dyn Fn() -> bool + Sync)) -> Option<()> {
    if !go_on() {
        return None;
    }
    if keys.len() <= SMALL {
        keys.sort_unstable();
        return Some(());
    }
    let first = key_of(&keys[0]);
    let mut differing = 0;
    for chunk in keys.chunks(STRIDE) {
        if !go_on() {
            return None;
        }
        differing |= chunk.iter().fold(0, |d, k| d | (key_of(k) ^ first));
    }
    if differing == 0 {
        return sort_by_index(keys, go_on);
    }
    let bit = differing.ilog2();
    let at = partition(keys, |k| key_of(k) >> bit & 1 == 0, go_on)?;
    let (zeros, ones) = keys.split_at_mut(at);
    let (a, b) = rayon::join(|| sort(zeros, go_on), || sort(ones, go_on));
    a.and(b)
}

/// Sorts by index where all keys are equal: the same exchange on the bits of the index.
fn sort_by_index(keys: &mut [Keyed], go_on: &(dyn Fn() -> bool + Sync)) -> Option<()> {
    if !go_on() {
        return None;
    }
    if keys.len() <= SMALL {
        keys.sort_unstable();
        return Some(());
    }
    let first = keys[0][2];
    let differing = keys.iter().fold(0, |d, k| d | (k[2] ^ first));
    if differing == 0 {
        return Some(());
    }
    let bit = differing.ilog2();
    let at = partition(keys, |k| k[2] >> bit & 1 == 0, go_on)?;
    let (zeros, ones) = keys.split_at_mut(at);
    let (a, b) = rayon::join(
        || sort_by_index(zeros, go_on),
        || sort_by_index(ones, go_on),
    );
    a.and(b)
}

/// Moves those for which `front` holds to the front; how many they are.
fn partition(
    keys: &mut [Keyed],
    front: impl Fn(&Keyed) -> bool,
    go_on: &(dyn Fn() -> bool + Sync),
) -> Option<usize> {
    let (mut i, mut j) = (0, keys.len());
    let mut until_question = STRIDE;
    while i < j {
        if front(&keys[i]) {
            i += 1;
        } else {
            j -= 1;
            keys.swap(i, j);
        }
        until_question -= 1;
        if until_question == 0 {
            if !go_on() {
                return None;
            }
            until_question = STRIDE;
        }
    }
    Some(i)
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{RngExt, SeedableRng};

    #[test]
    fn spread_keeps_every_bit_apart() {
        for b in 0..BITS {
            assert_eq!(spread(1 << b), 1 << (3 * b));
        }
        assert_eq!(spread(0x1f_ffff), 0x1249_2492_4924_9249);
    }

    #[test]
    fn sorts_like_the_standard_sort() {
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(5);
        for mask in [u64::MAX >> 1, 7, 0] {
            let mut a: Vec<Keyed> = (0..200_000)
                .map(|i| keyed(rng.random::<u64>() & mask, (i * 7919) % 200_000))
                .collect();
            let mut b = a.clone();
            b.sort_unstable();
            assert!(sort(&mut a, &|| true).is_some());
            assert!(a == b);
        }
    }

    #[test]
    fn stops_when_told() {
        let mut a: Vec<Keyed> = (0..200_000).map(|i| keyed(i, 0)).collect();
        assert!(sort(&mut a, &|| false).is_none());
    }

    #[test]
    fn not_finite_comes_last() {
        let g = Grid::over([0.0; 3], [1.0; 3]);
        assert_eq!(g.key([f64::NAN, 0.0, 0.0]), LAST);
        assert!(g.key([1.0; 3]) < LAST);
        assert_eq!(Grid::over([2.0; 3], [2.0; 3]).key([2.0; 3]), 0);
    }
}
