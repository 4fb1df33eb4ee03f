//! Connected pieces of a scan.

use rayon::prelude::*;
use record::{Cancelled, Prepared};

use super::Watch;

/// Points of a cloud belong together if their cells of so many spacings touch.
const CELL_SPACINGS: f64 = 5.0;

/// Which slots belong to the largest connected piece: by triangles for a mesh (points without a triangle belong to
/// none), by touching cells of five spacings for a cloud. Largest by number of points; of equals the one with the
/// lowest slot.
pub(crate) fn largest(scan: &Prepared, watch: &Watch) -> Result<Vec<bool>, Cancelled> {
    if scan.triangles.is_empty() {
        largest_of_cloud(scan, watch)
    } else {
        largest_of_mesh(scan, watch)
    }
}

/// Disjoint sets; the root of a set is its lowest member.
struct Sets(Vec<u32>);

impl Sets {
    fn new(n: usize) -> Self {
        Self((0..n as u32).collect())
    }

    fn root(&mut self, mut i: u32) -> u32 {
        while self.0[i as usize] != i {
            let up = self.0[self.0[i as usize] as usize];
            self.0[i as usize] = up;
            i = up;
        }
        i
    }

    fn join(&mut self, a: u32, b: u32) {
        let (a, b) = (self.root(a), self.root(b));
        self.0[a.max(b) as usize] = a.min(b);
    }
}

/// The index of the greatest; the first of equals.
fn first_greatest(counts: &[u32]) -> Option<u32> {
    let top = counts.iter().max()?;
    counts.iter().position(|c| c == top).map(|i| i as u32)
}

fn largest_of_mesh(scan: &Prepared, watch: &Watch) -> Result<Vec<bool>, Cancelled> {
    let n = scan.blocks.len();
    let mut sets = Sets::new(n);
    for chunk in scan.triangles.chunks(1 << 16) {
        watch.check()?;
        for t in chunk {
            sets.join(t[0], t[1]);
            sets.join(t[1], t[2]);
        }
    }
    let mut counts = vec![0_u32; n];
    for i in 0..n as u32 {
        counts[sets.root(i) as usize] += 1;
    }
    let best = first_greatest(&counts);
    Ok((0..n as u32).map(|i| Some(sets.root(i)) == best).collect())
}

fn largest_of_cloud(scan: &Prepared, watch: &Watch) -> Result<Vec<bool>, Cancelled> {
    let blocks = &scan.blocks;
    let low = blocks.bounds().low;
    // 2^20 cells an axis at most, so that three cell numbers fit one key.
    let side =
        (CELL_SPACINGS * scan.spacing_mm).max(blocks.bounds().size().amax() / f64::from(1 << 20));
    if blocks.is_empty() || side.is_nan() || side <= 0.0 {
        return Ok(vec![true; blocks.len()]);
    }
    let keys: Vec<u64> = (0..blocks.blocks().len())
        .into_par_iter()
        .flat_map_iter(|b| {
            blocks.points_of(b).map(|(_, p)| {
                let c = (p - low) / side;
                key([c.x as u64, c.y as u64, c.z as u64])
            })
        })
        .collect();
    watch.check()?;
    let mut cells = keys.clone();
    cells.par_sort_unstable();
    cells.dedup();
    watch.check()?;
    let mut sets = Sets::new(cells.len());
    for (i, &c) in cells.iter().enumerate() {
        for n in lower_neighbours(c) {
            if let Ok(j) = cells.binary_search(&n) {
                sets.join(i as u32, j as u32);
            }
        }
        if i % 4096 == 0 {
            watch.check()?;
        }
    }
    let mut counts = vec![0_u32; cells.len()];
    let places: Vec<u32> = keys
        .par_iter()
        .map(|k| cells.binary_search(k).map_or(0, |i| i as u32))
        .collect();
    for &p in &places {
        counts[sets.root(p) as usize] += 1;
    }
    let best = first_greatest(&counts);
    Ok(places.iter().map(|&p| Some(sets.root(p)) == best).collect())
}

/// Cell numbers in one key, with room for a step to either side.
fn key(c: [u64; 3]) -> u64 {
    (c[0] + 1) << 42 | (c[1] + 1) << 21 | (c[2] + 1)
}

/// The 13 of the 26 neighbours that have lower keys.
fn lower_neighbours(k: u64) -> impl Iterator<Item = u64> {
    let steps = [-1_i64, 0, 1];
    steps
        .into_iter()
        .flat_map(move |x| {
            steps
                .into_iter()
                .flat_map(move |y| steps.into_iter().map(move |z| (x, y, z)))
        })
        .take(13)
        .map(move |(x, y, z)| k.wrapping_add_signed((x << 42) + (y << 21) + z))
}
