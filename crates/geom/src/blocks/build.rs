//! Putting points into blocks.

use rayon::prelude::*;

use super::{BLOCK, Block, Blocks, COARSE, FAN, GROUP, LEAF, RawPoints, Small, octahedral};
use crate::morton::{self, Grid, Keyed};
use crate::{Aabb, Point};

/// Elements handled between two questions whether to go on.
const CHUNK: usize = 1 << 16;

/// Asked now and then, from any thread; `false` calls the work off.
pub type GoOn<'a> = &'a (dyn Fn() -> bool + Sync);

impl Blocks {
    /// Puts points in order. `in_mm` is the length of the file's unit; scaling and the shift to the block origin
    /// are done in f64, so large offsets cost nothing. Points with a coordinate that is no finite number are
    /// left out (compare [`Blocks::len`]). `colours` and `normals` are empty or as long as `points`; memory is given
    /// back as soon as it is not needed any more. `None` if `go_on` said no. Cost: O(n log n), about 17 bytes
    /// a point beside the input at the peak: what it holds in the end without colours and normals.
    pub fn build(
        points: RawPoints,
        in_mm: f64,
        colours: Vec<[u8; 3]>,
        normals: Vec<[f32; 3]>,
        go_on: GoOn,
    ) -> Option<Self> {
        let n = points.len();
        let mut keys = sorted_keys(&points, in_mm, go_on)?;
        let mut out = Self::lay_out(&keys, go_on)?;
        out.fill(&points, in_mm, &mut keys, go_on)?;
        drop(points);
        // Where the keys were their offsets are now: of the same size, so that the list stays where it is.
        let bits = keys.into_iter();
        out.offsets = bits.map(|k| k.map(f32::from_bits)).collect();
        out.offsets.shrink_to_fit();
        go_on().then_some(())?;
        out.rooms().into_par_iter().for_each(|mut r| r.boxes());
        out.finish();
        if colours.len() == n {
            out.colours = gathered(&out.indices, |i| colours[i], go_on)?;
        }
        drop(colours);
        if normals.len() == n {
            let packed = |i: usize| octahedral::pack(normals[i].map(f64::from));
            out.normals = gathered(&out.indices, packed, go_on)?;
        }
        drop(normals);
        Some(out)
    }

    /// Blocks of a few points, mm, without colours and normals.
    pub fn from_points(points: &[Point]) -> Self {
        let raw = RawPoints::F64(points.iter().map(|p| [p.x, p.y, p.z]).collect());
        Self::build(raw, 1.0, Vec::new(), Vec::new(), &|| true).unwrap_or_default()
    }

    /// Gives every slot a normal (any length; zero: none). Ignored unless there is one for each. `None` if `go_on` said
    /// no; there are then none.
    pub fn set_normals(&mut self, normals: &[[f32; 3]], go_on: GoOn) -> Option<()> {
        if normals.len() == self.len() {
            self.normals = Vec::new();
            let mut packed = vec![0; normals.len()];
            packed
                .par_chunks_mut(CHUNK)
                .zip(normals.par_chunks(CHUNK))
                .try_for_each(|(to, from)| {
                    for (t, v) in to.iter_mut().zip(from) {
                        *t = octahedral::pack(v.map(f64::from));
                    }
                    go_on().then_some(())
                })?;
            self.normals = packed;
        }
        Some(())
    }

    /// Only the slots for which `keep` holds, packed anew; their places in the file stay as they were.
    /// Also the new slot of every old one, `u32::MAX` where it is gone. `None` if `go_on` said no.
    pub fn filtered(
        &self,
        keep: &(dyn Fn(u32) -> bool + Sync),
        go_on: GoOn,
    ) -> Option<(Self, Vec<u32>)> {
        let old: Vec<u32> = (0..self.len() as u32)
            .into_par_iter()
            .filter(|&s| keep(s))
            .collect();
        let points: Vec<[f64; 3]> = old
            .par_iter()
            .map(|&s| self.point(s).coords.into())
            .collect();
        let mut out = Self::build(RawPoints::F64(points), 1.0, Vec::new(), Vec::new(), go_on)?;
        let mut new_of = vec![u32::MAX; self.len()];
        for (slot, &i) in out.indices.iter().enumerate() {
            new_of[old[i as usize] as usize] = slot as u32;
        }
        let from: Vec<u32> = out.indices.iter().map(|&i| old[i as usize]).collect();
        if self.has_colours() {
            out.colours = from.iter().map(|&s| self.colours[s as usize]).collect();
        }
        if self.has_normals() {
            out.normals = from.iter().map(|&s| self.normals[s as usize]).collect();
        }
        out.indices = from.iter().map(|&s| self.indices[s as usize]).collect();
        Some((out, new_of))
    }

    /// Room for everything but the offsets, with the blocks cut but not filled.
    fn lay_out(keys: &[Keyed], go_on: GoOn) -> Option<Self> {
        let mut out = Self {
            indices: vec![0; keys.len()],
            ..Self::default()
        };
        let (mut first, mut leaf, mut group) = (0, 0, 0);
        while first < keys.len() {
            if !go_on() {
                return None;
            }
            let len = cut(&keys[first..]);
            let block = Block {
                origin: Point::origin(),
                bounds: Aabb::empty(),
                first: first as u32,
                len: len as u32,
                leaf: leaf as u32,
                group: group as u32,
            };
            first += len;
            leaf += block.leaves();
            group += block.leaves().div_ceil(GROUP);
            out.list.push(block);
        }
        out.list.shrink_to_fit();
        out.leaves = vec![Small::EMPTY; leaf];
        out.groups = vec![Small::EMPTY; group];
        Some(out)
    }

    /// The parts of each block, to be filled side by side.
    pub(super) fn rooms(&mut self) -> Vec<Room<'_>> {
        let mut rooms = Vec::with_capacity(self.list.len());
        let mut offsets = &mut self.offsets[..];
        let (mut leaves, mut groups) = (&mut self.leaves[..], &mut self.groups[..]);
        for block in &mut self.list {
            let (len, n) = (block.len as usize, block.leaves());
            let room = Room {
                offsets: offsets.split_off_mut(..len).unwrap_or_default(),
                leaves: leaves.split_off_mut(..n).unwrap_or_default(),
                groups: groups
                    .split_off_mut(..n.div_ceil(GROUP))
                    .unwrap_or_default(),
                block,
            };
            rooms.push(room);
        }
        rooms
    }

    /// Orders the points of all blocks. The offset of each (its bits) takes the place of its key, so that there is never
    /// room for both.
    fn fill(
        &mut self,
        points: &RawPoints,
        in_mm: f64,
        keys: &mut [Keyed],
        go_on: GoOn,
    ) -> Option<()> {
        let mut parts = Vec::with_capacity(self.list.len());
        let (mut keys, mut indices) = (keys, &mut self.indices[..]);
        for block in &mut self.list {
            let len = block.len as usize;
            let keys = keys.split_off_mut(..len).unwrap_or_default();
            let indices = indices.split_off_mut(..len).unwrap_or_default();
            parts.push((block, keys, indices));
        }
        parts
            .into_par_iter()
            .try_for_each(|(block, keys, indices)| {
                block.origin = fill(points, in_mm, keys, indices);
                go_on().then_some(())
            })
    }

    /// Boxes above the blocks.
    pub(super) fn finish(&mut self) {
        let join = |boxes: &[Aabb]| {
            let mut all = Aabb::empty();
            for b in boxes {
                all.add(&b.low);
                all.add(&b.high);
            }
            all
        };
        let mut below: Vec<Aabb> = self.list.iter().map(|b| b.bounds).collect();
        while below.len() > 1 {
            let level: Vec<Aabb> = below.chunks(FAN).map(join).collect();
            self.levels.push(level.clone());
            below = level;
        }
        self.bounds = below.first().copied();
        let mut b = 0;
        for slot in (0..self.len()).step_by(BLOCK / 2) {
            while self
                .list
                .get(b + 1)
                .is_some_and(|next| next.first as usize <= slot)
            {
                b += 1;
            }
            self.starts.push(b as u32);
        }
    }
}

/// A value for each slot, from its place in the file.
fn gathered<T: Copy + Default + Send>(
    indices: &[u32],
    of: impl Fn(usize) -> T + Sync,
    go_on: GoOn,
) -> Option<Vec<T>> {
    let mut out = vec![T::default(); indices.len()];
    out.par_chunks_mut(CHUNK)
        .zip(indices.par_chunks(CHUNK))
        .try_for_each(|(chunk, from)| {
            for (o, &i) in chunk.iter_mut().zip(from) {
                *o = of(i as usize);
            }
            go_on().then_some(())
        })?;
    Some(out)
}

/// Keys of all finite points, ascending.
fn sorted_keys(points: &RawPoints, in_mm: f64, go_on: GoOn) -> Option<Vec<Keyed>> {
    let n = points.len();
    let at = |i: usize| -> [f64; 3] { (points.get(i).coords * in_mm).into() };
    let starts: Vec<usize> = (0..n).step_by(CHUNK).collect();
    let (low, high) = starts
        .par_iter()
        .map(|&s| {
            let (mut low, mut high) = ([f64::INFINITY; 3], [f64::NEG_INFINITY; 3]);
            for i in s..n.min(s + CHUNK) {
                let p = at(i);
                if p.iter().all(|x| x.is_finite()) {
                    for k in 0..3 {
                        low[k] = low[k].min(p[k]);
                        high[k] = high[k].max(p[k]);
                    }
                }
            }
            go_on().then_some((low, high))
        })
        .try_reduce(
            || ([f64::INFINITY; 3], [f64::NEG_INFINITY; 3]),
            |a, b| {
                let low = [0, 1, 2].map(|k| a.0[k].min(b.0[k]));
                let high = [0, 1, 2].map(|k| a.1[k].max(b.1[k]));
                Some((low, high))
            },
        )?;
    let grid = Grid::over(low, high);
    let mut keys = vec![[0; 3]; n];
    keys.par_chunks_mut(CHUNK)
        .enumerate()
        .try_for_each(|(c, chunk)| {
            for (j, k) in chunk.iter_mut().enumerate() {
                let i = c * CHUNK + j;
                *k = morton::keyed(grid.key(at(i)), i as u32);
            }
            go_on().then_some(())
        })?;
    morton::sort(&mut keys, go_on)?;
    let finite = keys.partition_point(|k| morton::key_of(k) != morton::LAST);
    keys.truncate(finite);
    Some(keys)
}

/// Length of the next block: the cut in the upper half of the legal lengths at which the order makes its widest
/// jump, so that blocks are compact.
fn cut(keys: &[Keyed]) -> usize {
    if keys.len() <= BLOCK {
        return keys.len();
    }
    let jump = |i: usize| morton::key_of(&keys[i - 1]) ^ morton::key_of(&keys[i]);
    (BLOCK / 2..=BLOCK)
        .max_by_key(|&i| 64 - jump(i).leading_zeros())
        .unwrap_or(BLOCK)
}

/// The parts of one block.
pub(super) struct Room<'a> {
    pub block: &'a mut Block,
    pub offsets: &'a mut [[f32; 3]],
    pub leaves: &'a mut [Small],
    pub groups: &'a mut [Small],
}

/// Orders the points of one block by `keys`, which become the bits of their offsets; returns its origin.
fn fill(points: &RawPoints, in_mm: f64, keys: &mut [Keyed], indices: &mut [u32]) -> Point {
    let at = |i: u32| Point::from(points.get(i as usize).coords * in_mm);
    let origin = at(keys[keys.len() / 2][2]).map(f64::round);
    let mut all: Vec<([f32; 3], u32)> = keys
        .iter()
        .map(|k| ((at(k[2]) - origin).map(|x| x as f32).into(), k[2]))
        .collect();
    let coarse = all.len().min(COARSE);
    for j in 0..coarse {
        // Ascending and distinct: each place is at or after the j already moved.
        all.swap(j, j * keys.len() / coarse);
    }
    let (spread, rest) = all.split_at_mut(coarse);
    spread.sort_unstable_by_key(|p| p.1);
    split(rest);
    for (j, (offset, index)) in all.iter().enumerate() {
        keys[j] = offset.map(f32::to_bits);
        indices[j] = *index;
    }
    origin
}

/// Reorders so that every run of [`LEAF`] is compact: halves along the longest side, again and again. Inside a leaf
/// points go by their place in the file.
fn split(points: &mut [([f32; 3], u32)]) {
    if points.len() <= LEAF {
        points.sort_unstable_by_key(|p| p.1);
        return;
    }
    let mut bounds = Small::EMPTY;
    for p in points.iter() {
        bounds.add(p.0);
    }
    let side = |i: usize| bounds.high[i] - bounds.low[i];
    let mut axis = 0;
    for i in 1..3 {
        if side(i) > side(axis) {
            axis = i;
        }
    }
    let middle = points.len().div_ceil(LEAF) / 2 * LEAF;
    points.select_nth_unstable_by(middle, |a, b| {
        a.0[axis].total_cmp(&b.0[axis]).then(a.1.cmp(&b.1))
    });
    let (low, high) = points.split_at_mut(middle);
    split(low);
    split(high);
}
