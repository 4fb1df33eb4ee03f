//! Triangles of a scan: from places in the file to slots, welded at their borders, with normals at their corners.

use std::collections::BTreeMap;

use geom::{Blocks, Boundaries};
use rayon::prelude::*;
use record::Cancelled;

use super::Watch;

/// Triangles handled between two questions whether to go on.
const CHUNK: usize = 1 << 16;

/// Rewrites places in the file as slots; triangles with a corner that is not in `blocks` go.
pub(super) fn to_slots(
    triangles: &mut Vec<[u32; 3]>,
    blocks: &Blocks,
    points_in_file: usize,
    watch: &Watch,
) -> Result<(), Cancelled> {
    let mut slot_of = vec![u32::MAX; points_in_file];
    for (c, some) in blocks.indices().chunks(CHUNK).enumerate() {
        watch.check()?;
        for (k, &i) in some.iter().enumerate() {
            slot_of[i as usize] = (c * CHUNK + k) as u32;
        }
    }
    rewrite(triangles, &slot_of, watch)
}

/// Rewrites corners by a table; triangles with a corner beyond it or mapped to `u32::MAX` go.
pub(crate) fn rewrite(
    triangles: &mut Vec<[u32; 3]>,
    new_of: &[u32],
    watch: &Watch,
) -> Result<(), Cancelled> {
    triangles.par_chunks_mut(CHUNK).try_for_each(|chunk| {
        for v in chunk.iter_mut().flatten() {
            *v = new_of.get(*v as usize).copied().unwrap_or(u32::MAX);
        }
        watch.check()
    })?;
    watch.check()?;
    // Nearly always all stay: look first, in parallel.
    if triangles.par_iter().any(|t| t.contains(&u32::MAX)) {
        triangles.retain(|t| !t.contains(&u32::MAX));
    }
    watch.check()
}

/// Makes border vertices that lie in exactly the same place one: files often repeat a vertex along seams. Whether
/// any was found. Cost: a sort of the border vertices.
pub(super) fn weld_borders(
    triangles: &mut [[u32; 3]],
    blocks: &Blocks,
    found: &Boundaries,
) -> bool {
    let mut border: Vec<([u64; 3], u32)> = found
        .chains
        .iter()
        .flat_map(|c| &c.vertices)
        .map(|&s| {
            // + 0.0 makes the two zeros one.
            let p = blocks.point(s).map(|x| (x + 0.0).to_bits());
            ([p.x, p.y, p.z], s)
        })
        .collect();
    border.par_sort_unstable();
    border.dedup();
    let mut one: BTreeMap<u32, u32> = BTreeMap::new();
    for same in border.chunk_by(|a, b| a.0 == b.0) {
        for other in &same[1..] {
            one.insert(other.1, same[0].1);
        }
    }
    if one.is_empty() {
        return false;
    }
    triangles.par_iter_mut().flatten().for_each(|v| {
        if let Some(&s) = one.get(v) {
            *v = s;
        }
    });
    true
}

/// Sum of the cross products of all triangles at each slot: area-weighted normals of any length.
pub(super) fn vertex_normals(
    triangles: &[[u32; 3]],
    blocks: &Blocks,
    watch: &Watch,
) -> Result<Vec<[f32; 3]>, Cancelled> {
    let mut sums = vec![[0.0_f32; 3]; blocks.len()];
    for chunk in triangles.chunks(CHUNK) {
        watch.check()?;
        let crosses: Vec<[f32; 3]> = chunk
            .par_iter()
            .map(|t| {
                let [a, b, c] = t.map(|s| blocks.point(s));
                let n = (b - a).cross(&(c - a));
                [n.x as f32, n.y as f32, n.z as f32]
            })
            .collect();
        // In the order of the file, whatever the threads.
        for (t, n) in chunk.iter().zip(crosses) {
            for &v in t {
                for (s, x) in sums[v as usize].iter_mut().zip(n) {
                    *s += x;
                }
            }
        }
    }
    Ok(sums)
}
