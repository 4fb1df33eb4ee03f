//! How far apart points are.

use geom::Blocks;
use rayon::prelude::*;

/// Points looked at.
const SAMPLE: usize = 2000;

/// Median distance to the nearest point in another place over a fixed sample of 2,000 points, mm; 0 where there are
/// no two places.
pub fn median_spacing(blocks: &Blocks) -> f64 {
    let n = blocks.len();
    let count = n.min(SAMPLE);
    let mut distances: Vec<f64> = (0..count)
        .into_par_iter()
        .filter_map(|i| nearest_other(blocks, (i as u64 * n as u64 / count as u64) as u32))
        .collect();
    distances.sort_by(f64::total_cmp);
    distances.get(distances.len() / 2).copied().unwrap_or(0.0)
}

/// Distance to the nearest point that is not in the same place, mm.
fn nearest_other(blocks: &Blocks, slot: u32) -> Option<f64> {
    let p = blocks.point(slot);
    let mut found = Vec::new();
    for k in [4, 64] {
        blocks.k_nearest(&p, k, f64::INFINITY, &mut found);
        if let Some(f) = found.iter().find(|f| f.0 > 0.0) {
            return Some(f.0);
        }
    }
    None
}
