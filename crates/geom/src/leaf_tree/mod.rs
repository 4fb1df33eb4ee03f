//! Points packed for many searches: leaves of sixteen, side by side, under an implicit tree of boxes.
//!
//! [`crate::Blocks`] is what a scan is kept in: drawn, cropped, picked. This is what is made from a few million points
//! that are searched a million times at once and then thrown away: a leaf is `x[16] y[16] z[16]` in single precision
//! about its own corner, three cache lines and one vector pass. Distances are right to about 1e-7 of the distance and
//! of the size of the leaf, wherever the points lie.

#![allow(
    clippy::inline_always,
    reason = "instruction sets are chosen at run time for what is inlined there"
)]

mod nearest;
mod nearest_k;
#[cfg(test)]
mod tests;
mod within;

pub use nearest::NearPoint;
pub(crate) use nearest_k::{KNearest, Near};

use rayon::prelude::*;

use crate::Point;
use crate::curve_order::Cube;
use crate::wide_boxes::{SmallBox, WideBoxes};

/// Points of a leaf.
pub(crate) const LEAF: usize = 16;
/// Queries handled by one task; fixed, so that nothing depends on the number of threads.
const QUERIES: usize = 2048;

/// Sixteen points about the corner of their box; places past the last point are infinitely far.
#[derive(Clone, Debug)]
#[repr(align(64))]
pub(crate) struct Leaf {
    pub x: [f32; LEAF],
    pub y: [f32; LEAF],
    pub z: [f32; LEAF],
}

/// Points made ready for searches. See the module.
#[derive(Clone, Debug)]
pub struct LeafTree {
    /// Middle of everything, mm; all single-precision coordinates are about it.
    centre: [f64; 3],
    cube: Option<Cube>,
    leaves: Vec<Leaf>,
    /// Low corners of the boxes of the leaves, exact.
    corners: Vec<[f32; 3]>,
    /// Place in the input, by slot.
    order: Vec<u32>,
    /// How many points were given.
    given: usize,
    boxes: WideBoxes,
}

impl LeafTree {
    /// Sorts and packs `points` (mm). Points that are not finite are never found. At most 2^32 - 1 points.
    ///
    /// Cost: a counting sort along the curve and one pass; 17 bytes a point.
    pub fn new(points: &[Point]) -> Self {
        assert!(
            points.len() < u32::MAX as usize,
            "more points than 32-bit numbers"
        );
        let Some(cube) = Cube::over(points) else {
            return Self {
                centre: [0.0; 3],
                cube: None,
                leaves: Vec::new(),
                corners: Vec::new(),
                order: Vec::new(),
                given: points.len(),
                boxes: WideBoxes::over(&[], 0.0),
            };
        };
        let order = cube.order(points);
        let centre = [0, 1, 2].map(|i| 0.5 * (cube.low[i] + cube.high[i]));
        let reach = (0..3).map(|i| cube.high[i] - centre[i]).fold(0.0, f64::max);
        let (leaves, boxes): (Vec<Leaf>, Vec<SmallBox>) = order
            .par_chunks(LEAF)
            .with_min_len(64)
            .map(|slots| pack(points, slots, centre))
            .unzip();
        Self {
            centre,
            cube: Some(cube),
            leaves,
            corners: boxes.iter().map(|b| b.low).collect(),
            order,
            given: points.len(),
            boxes: WideBoxes::over(&boxes, reach as f32),
        }
    }

    /// How many points can be found.
    pub fn len(&self) -> usize {
        self.order.len()
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.order.is_empty()
    }

    /// What was worked out by slot, in the order of the points given; `missing` for those that are not finite.
    pub(crate) fn as_given<T: Copy>(&self, by_slot: &[T], missing: T) -> Vec<T> {
        let mut out = vec![missing; self.given];
        for (&i, value) in self.order.iter().zip(by_slot) {
            out[i as usize] = *value;
        }
        out
    }

    /// `p` about the centre.
    #[inline(always)]
    fn about_centre(&self, p: &Point) -> [f64; 3] {
        [0, 1, 2].map(|i| p[i] - self.centre[i])
    }

    /// The place of a slot about the centre, mm.
    #[inline(always)]
    fn place(&self, slot: usize) -> [f64; 3] {
        let (leaf, lane) = (slot / LEAF, slot % LEAF);
        let (l, c) = (&self.leaves[leaf], &self.corners[leaf]);
        [
            f64::from(l.x[lane]) + f64::from(c[0]),
            f64::from(l.y[lane]) + f64::from(c[1]),
            f64::from(l.z[lane]) + f64::from(c[2]),
        ]
    }

    /// Offsets of the sixteen points of a leaf from `q` (about the centre), and their squares summed.
    #[inline(always)]
    fn offsets(&self, leaf: usize, q: &[f64; 3]) -> ([[f32; LEAF]; 3], [f32; LEAF]) {
        let (l, c) = (&self.leaves[leaf], &self.corners[leaf]);
        let q = [0, 1, 2].map(|i| (q[i] - f64::from(c[i])) as f32);
        let mut d = [[0.0; LEAF]; 3];
        let mut d2 = [0.0; LEAF];
        for k in 0..LEAF {
            d[0][k] = l.x[k] - q[0];
            d[1][k] = l.y[k] - q[1];
            d[2][k] = l.z[k] - q[2];
            d2[k] = d[0][k] * d[0][k] + d[1][k] * d[1][k] + d[2][k] * d[2][k];
        }
        (d, d2)
    }
}

/// The leaf of these points and its box.
fn pack(points: &[Point], slots: &[u32], centre: [f64; 3]) -> (Leaf, SmallBox) {
    let mut places = [[0.0_f64; 3]; LEAF];
    let mut bounds = SmallBox::EMPTY;
    for (place, &i) in places.iter_mut().zip(slots) {
        let p = &points[i as usize];
        *place = [0, 1, 2].map(|i| p[i] - centre[i]);
        bounds.add(place.map(|x| x as f32));
    }
    let mut leaf = Leaf {
        x: [f32::INFINITY; LEAF],
        y: [f32::INFINITY; LEAF],
        z: [f32::INFINITY; LEAF],
    };
    for (k, place) in places.iter().take(slots.len()).enumerate() {
        leaf.x[k] = (place[0] - f64::from(bounds.low[0])) as f32;
        leaf.y[k] = (place[1] - f64::from(bounds.low[1])) as f32;
        leaf.z[k] = (place[2] - f64::from(bounds.low[2])) as f32;
    }
    (leaf, bounds)
}
