//! Points in space-filling order, in blocks: one structure to search, pick, draw and crop.

mod build;
mod octahedral;
mod parts;
mod search;
#[cfg(test)]
mod tests;

pub use build::GoOn;
pub use parts::BlocksParts;

use crate::{Aabb, Point, Vector};

/// Most points in a block.
const BLOCK: usize = 4096;
/// Points in a leaf.
const LEAF: usize = 32;
/// Leaves that share a group box.
const GROUP: usize = 8;
/// Points of the coarse level of a block.
const COARSE: usize = 64;
/// Children of a box of the tree over the blocks.
const FAN: usize = 8;

/// Coordinates as a file has them.
#[derive(Clone, Debug, PartialEq)]
pub enum RawPoints {
    /// Single precision, exact as in the file.
    F32(Vec<[f32; 3]>),
    /// Double precision.
    F64(Vec<[f64; 3]>),
}

impl RawPoints {
    /// How many.
    pub fn len(&self) -> usize {
        match self {
            Self::F32(v) => v.len(),
            Self::F64(v) => v.len(),
        }
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// The i-th, in the unit of the file.
    pub fn get(&self, i: usize) -> Point {
        match self {
            Self::F32(v) => Point::from(v[i].map(f64::from)),
            Self::F64(v) => Point::from(v[i]),
        }
    }
}

/// One block: up to 4,096 neighbouring points about a common origin. Its first points (see [`Blocks::coarse`])
/// are spread over all of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Block {
    /// Origin, mm: whole millimetres near its middle point.
    pub origin: Point,
    /// Box of its points, mm.
    pub bounds: Aabb,
    /// First slot.
    pub first: u32,
    /// Number of points.
    pub len: u32,
    /// First leaf box.
    leaf: u32,
    /// First group box.
    group: u32,
}

impl Block {
    fn coarse_len(&self) -> usize {
        (self.len as usize).min(COARSE)
    }

    fn leaves(&self) -> usize {
        (self.len as usize - self.coarse_len()).div_ceil(LEAF)
    }
}

/// A box about a block origin: low and high corners.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Small {
    low: [f32; 3],
    high: [f32; 3],
}

impl Small {
    const EMPTY: Self = Self {
        low: [f32::INFINITY; 3],
        high: [f32::NEG_INFINITY; 3],
    };

    fn add(&mut self, p: [f32; 3]) {
        for (i, x) in p.into_iter().enumerate() {
            self.low[i] = self.low[i].min(x);
            self.high[i] = self.high[i].max(x);
        }
    }

    fn join(&mut self, other: &Self) {
        for i in 0..3 {
            self.low[i] = self.low[i].min(other.low[i]);
            self.high[i] = self.high[i].max(other.high[i]);
        }
    }

    fn distance2(&self, q: &[f64; 3]) -> f64 {
        let mut sum = 0.0;
        for (i, x) in q.iter().enumerate() {
            let d = (f64::from(self.low[i]) - x)
                .max(x - f64::from(self.high[i]))
                .max(0.0);
            sum += d * d;
        }
        sum
    }
}

/// Points in blocks: f64 block origin + f32 offsets. A point is named by its slot (place in this order).
///
/// 16 bytes a point with its place in the file, 3 more with colours, 4 more with normals, about 1 for the boxes.
/// The order depends on the points alone, never on the number of threads.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Blocks {
    list: Vec<Block>,
    offsets: Vec<[f32; 3]>,
    colours: Vec<[u8; 3]>,
    normals: Vec<u32>,
    indices: Vec<u32>,
    leaves: Vec<Small>,
    groups: Vec<Small>,
    /// Boxes of eight neighbours each, level by level; the first level holds blocks.
    levels: Vec<Vec<Aabb>>,
    bounds: Option<Aabb>,
    /// The block of every 2,048th slot.
    starts: Vec<u32>,
}

impl Blocks {
    /// How many points.
    pub fn len(&self) -> usize {
        self.offsets.len()
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.offsets.is_empty()
    }

    /// The blocks.
    pub fn blocks(&self) -> &[Block] {
        &self.list
    }

    /// Places of the points in the file, by slot.
    pub fn indices(&self) -> &[u32] {
        &self.indices
    }

    /// The block a slot lies in, as an index into [`Self::blocks`]. Constant cost: all blocks but the last are at
    /// least half full.
    pub fn block_of(&self, slot: u32) -> usize {
        let mut b = self.starts[slot as usize / (BLOCK / 2)] as usize;
        while self.list.get(b + 1).is_some_and(|next| next.first <= slot) {
            b += 1;
        }
        b
    }

    /// The point in a slot, mm.
    pub fn point(&self, slot: u32) -> Point {
        self.at(&self.list[self.block_of(slot)], slot)
    }

    fn at(&self, block: &Block, slot: u32) -> Point {
        let o = self.offsets[slot as usize];
        Point::new(
            block.origin.x + f64::from(o[0]),
            block.origin.y + f64::from(o[1]),
            block.origin.z + f64::from(o[2]),
        )
    }

    /// Slots and points of one block, in order.
    pub fn points_of(&self, block: usize) -> impl Iterator<Item = (u32, Point)> + '_ {
        let b = &self.list[block];
        (b.first..b.first + b.len).map(move |s| (s, self.at(b, s)))
    }

    /// Slots and points of everything, in order.
    pub fn iter(&self) -> impl Iterator<Item = (u32, Point)> + '_ {
        (0..self.list.len()).flat_map(move |b| self.points_of(b))
    }

    /// Offsets of a block's points from its origin, mm: what a drawing routine wants.
    pub fn offsets_of(&self, block: usize) -> &[[f32; 3]] {
        let b = &self.list[block];
        &self.offsets[b.first as usize..(b.first + b.len) as usize]
    }

    /// Slots of a block's coarse level: up to 64 points spread over the block.
    pub fn coarse(&self, block: usize) -> std::ops::Range<u32> {
        let b = &self.list[block];
        b.first..b.first + b.coarse_len() as u32
    }

    /// The unit normal in a slot, towards the facing side; `None` if there is none.
    pub fn normal(&self, slot: u32) -> Option<Vector> {
        self.normals
            .get(slot as usize)
            .and_then(|&n| octahedral::unpack(n))
    }

    /// Whether points have normals.
    pub fn has_normals(&self) -> bool {
        !self.normals.is_empty()
    }

    /// The colour in a slot.
    pub fn colour(&self, slot: u32) -> Option<[u8; 3]> {
        self.colours.get(slot as usize).copied()
    }

    /// Whether points have colours.
    pub fn has_colours(&self) -> bool {
        !self.colours.is_empty()
    }

    /// The box of everything, mm; the empty box if there is nothing.
    pub fn bounds(&self) -> Aabb {
        self.bounds.unwrap_or_else(Aabb::empty)
    }

    /// Memory held, bytes.
    pub fn bytes(&self) -> usize {
        use std::mem::size_of;
        self.list.capacity() * size_of::<Block>()
            + self.offsets.capacity() * 12
            + self.colours.capacity() * 3
            + self.normals.capacity() * 4
            + (self.indices.capacity() + self.starts.capacity()) * 4
            + (self.leaves.capacity() + self.groups.capacity()) * size_of::<Small>()
            + self
                .levels
                .iter()
                .map(|l| l.capacity() * size_of::<Aabb>())
                .sum::<usize>()
    }
}
