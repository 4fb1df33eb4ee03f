//! Points in space-filling order, in blocks.

use crate::{Aabb, Point};

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

/// One block: up to 4,096 neighbouring points about a common origin.
#[derive(Clone, Debug, PartialEq)]
pub struct Block {
    /// Origin, mm.
    pub origin: Point,
    /// Box of its points, mm.
    pub bounds: Aabb,
    /// First slot.
    pub first: u32,
    /// Number of points.
    pub len: u32,
}

/// Points in blocks: f64 block origin + f32 offsets. A point is named by its slot (place in this order).
#[derive(Clone, Debug, Default)]
pub struct Blocks {
    pub(crate) blocks: Vec<Block>,
    pub(crate) offsets: Vec<[f32; 3]>,
    pub(crate) colours: Vec<[u8; 3]>,
    pub(crate) normals: Vec<u32>,
    pub(crate) indices: Vec<u32>,
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
        &self.blocks
    }

    /// Places of the points in the file, by slot.
    pub fn indices(&self) -> &[u32] {
        &self.indices
    }
}
