//! Seeds for every place where something is left to chance.

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;

/// A number spread evenly over 64 bits that depends on every part (the finaliser of SplitMix64, folded).
pub(crate) fn hash(parts: &[u64]) -> u64 {
    let mut h = 0x9e37_79b9_7f4a_7c15u64;
    for &p in parts {
        h = (h ^ p).wrapping_add(0x9e37_79b9_7f4a_7c15);
        h = (h ^ (h >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        h = (h ^ (h >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        h ^= h >> 31;
    }
    h
}

/// A generator that depends on every part.
pub(crate) fn dice(parts: &[u64]) -> ChaCha8Rng {
    ChaCha8Rng::seed_from_u64(hash(parts))
}
