//! Blocks taken apart and put together again, for keeping them.

use rayon::prelude::*;

use super::build::Room;
use super::{BLOCK, Block, Blocks, GROUP, Small};
use crate::{Aabb, Point};

/// All that blocks are made of; the rest (boxes, levels) follows from it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct BlocksParts {
    /// Origin (mm) and number of points of each block, in order.
    pub blocks: Vec<(Point, u32)>,
    /// Offsets of the points from the origins of their blocks, mm, by slot.
    pub offsets: Vec<[f32; 3]>,
    /// Colours by slot, or empty.
    pub colours: Vec<[u8; 3]>,
    /// Packed normals by slot as [`Blocks::packed_normals`] gives them, or empty.
    pub normals: Vec<u32>,
    /// Places of the points in the file, by slot.
    pub indices: Vec<u32>,
}

impl Blocks {
    /// Offsets of all points from the origins of their blocks, mm, by slot.
    pub fn offsets(&self) -> &[[f32; 3]] {
        &self.offsets
    }

    /// Colours by slot; empty if there are none.
    pub fn colours(&self) -> &[[u8; 3]] {
        &self.colours
    }

    /// Normals by slot as they are kept, one word each; empty if there are none.
    pub fn packed_normals(&self) -> &[u32] {
        &self.normals
    }

    /// Puts parts together: the very blocks they were taken from. `None` if they do not belong together: lengths that
    /// differ, blocks of a size that is never made, offsets that are no finite number. Cost: O(n), a pass over the offsets.
    pub fn from_parts(parts: BlocksParts) -> Option<Self> {
        let n = parts.offsets.len();
        let fits = |len: usize| len == 0 || len == n;
        let sum: u64 = parts.blocks.iter().map(|b| u64::from(b.1)).sum();
        let last = parts.blocks.len().saturating_sub(1);
        let sizes = parts.blocks.iter().enumerate().all(|(i, (origin, len))| {
            let least = if i == last { 1 } else { BLOCK / 2 };
            (least..=BLOCK).contains(&(*len as usize)) && origin.iter().all(|x| x.is_finite())
        });
        let finite = |o: &[f32; 3]| o.iter().all(|x| x.is_finite());
        if sum != n as u64
            || parts.indices.len() != n
            || !fits(parts.colours.len())
            || !fits(parts.normals.len())
            || !sizes
            || !parts.offsets.par_iter().all(finite)
        {
            return None;
        }
        let mut out = Self {
            offsets: parts.offsets,
            colours: parts.colours,
            normals: parts.normals,
            indices: parts.indices,
            ..Self::default()
        };
        let (mut first, mut leaf, mut group) = (0, 0, 0);
        for (origin, len) in parts.blocks {
            let block = Block {
                origin,
                bounds: Aabb::empty(),
                first,
                len,
                leaf: leaf as u32,
                group: group as u32,
            };
            first += len;
            leaf += block.leaves();
            group += block.leaves().div_ceil(GROUP);
            out.list.push(block);
        }
        out.leaves = vec![Small::EMPTY; leaf];
        out.groups = vec![Small::EMPTY; group];
        out.rooms().into_par_iter().for_each(|mut r| r.boxes());
        out.finish();
        Some(out)
    }
}

impl Room<'_> {
    /// The boxes of a block whose origin and offsets are there.
    pub(super) fn boxes(&mut self) {
        let origin = self.block.origin;
        let coarse = self.block.coarse_len();
        for (j, offset) in self.offsets.iter().enumerate() {
            let o = offset.map(f64::from);
            self.block.bounds.add(&Point::new(
                origin.x + o[0],
                origin.y + o[1],
                origin.z + o[2],
            ));
            if j >= coarse {
                self.leaves[(j - coarse) / super::LEAF].add(*offset);
            }
        }
        for (j, leaf) in self.leaves.iter().enumerate() {
            self.groups[j / GROUP].join(leaf);
        }
    }
}
