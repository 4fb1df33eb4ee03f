//! An implicit tree of boxes, eight children to a node, over leaves that are already in space-filling order.
//!
//! Node i of the lowest level holds the boxes of leaves 8 i ... 8 i + 7, node i of the next those of nodes 8 i ... , so
//! nothing points anywhere and a node is 192 bytes: three cache lines, tested in one vector pass. Boxes are single
//! precision about a common centre and grown by the rounding, so a search never loses anything.
//! Idea: I. Wald et al., "Getting rid of packets: efficient SIMD single-ray traversal using multi-branching BVHs",
//! IEEE Interactive Ray Tracing 2008 (boxes of all children side by side).

#![allow(
    clippy::inline_always,
    reason = "instruction sets are chosen at run time for what is inlined there"
)]

use rayon::prelude::*;

/// Children of a node.
const FAN: usize = 8;
/// Bits of a place in a level; the level stands above.
const PLACE: u32 = 28;
/// A search that is to find what lies within a squared distance must open boxes within this times it.
pub(crate) const SLACK: f32 = 1.0 + 2e-6;
/// Room for 7 siblings on each of 10 levels and a full node.
const STACK: usize = 80;

/// Low and high corner about the centre, mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct SmallBox {
    pub low: [f32; 3],
    pub high: [f32; 3],
}

impl SmallBox {
    pub const EMPTY: Self = Self {
        low: [f32::INFINITY; 3],
        high: [f32::NEG_INFINITY; 3],
    };

    #[inline(always)]
    pub fn add(&mut self, p: [f32; 3]) {
        for (i, x) in p.into_iter().enumerate() {
            self.low[i] = smaller(self.low[i], x);
            self.high[i] = larger(self.high[i], x);
        }
    }
}

/// The boxes of eight children, coordinate by coordinate.
#[derive(Clone, Debug)]
#[repr(align(64))]
struct Node {
    low: [[f32; FAN]; 3],
    high: [[f32; FAN]; 3],
}

impl Node {
    fn over(children: &[SmallBox], grown: f32) -> (Self, SmallBox) {
        let mut node = Self {
            low: [[f32::INFINITY; FAN]; 3],
            high: [[f32::NEG_INFINITY; FAN]; 3],
        };
        let mut all = SmallBox::EMPTY;
        for (k, c) in children.iter().enumerate() {
            for i in 0..3 {
                node.low[i][k] = c.low[i] - grown;
                node.high[i][k] = c.high[i] + grown;
            }
            all.add(c.low);
            all.add(c.high);
        }
        (node, all)
    }

    /// Squared distances to the eight boxes; infinite for those that are not there.
    #[inline(always)]
    fn distances2(&self, q: &[f32; 3]) -> [f32; FAN] {
        let mut sum = [0.0; FAN];
        for ((low, high), q) in self.low.iter().zip(&self.high).zip(q) {
            for (k, s) in sum.iter_mut().enumerate() {
                let d = larger(larger(low[k] - q, q - high[k]), 0.0);
                *s += d * d;
            }
        }
        sum
    }
}

/// One instruction, unlike `f32::max`, which also cares for numbers that are none.
#[inline(always)]
pub(crate) fn larger(a: f32, b: f32) -> f32 {
    if a > b { a } else { b }
}

/// One instruction, unlike `f32::min`.
#[inline(always)]
pub(crate) fn smaller(a: f32, b: f32) -> f32 {
    if a < b { a } else { b }
}

/// What a search does in the leaves it comes to.
pub(crate) trait Search {
    /// Boxes farther than this (squared, mm2) hold nothing wanted; negative ends the search.
    fn limit2(&self) -> f32;
    /// Looks into a leaf.
    fn leaf(&mut self, leaf: usize);
}

/// The tree.
#[derive(Clone, Debug)]
pub(crate) struct WideBoxes {
    /// Level by level, the lowest first.
    nodes: Vec<Node>,
    /// First node of each level.
    starts: Vec<usize>,
}

impl WideBoxes {
    /// The tree over the boxes of leaves, whose coordinates are at most `reach` in size. At most 2^28 leaves.
    pub fn over(leaves: &[SmallBox], reach: f32) -> Self {
        assert!(leaves.len() < 1 << PLACE, "more leaves than 28-bit numbers");
        let grown = 4e-7 * reach;
        let mut nodes: Vec<Node> = Vec::new();
        let mut starts = Vec::new();
        let mut below = leaves.to_vec();
        loop {
            let (level, boxes): (Vec<Node>, Vec<SmallBox>) = below
                .par_chunks(FAN)
                .with_min_len(256)
                .map(|c| Node::over(c, grown))
                .unzip();
            starts.push(nodes.len());
            nodes.extend(level);
            if boxes.len() <= 1 {
                return Self { nodes, starts };
            }
            below = boxes;
        }
    }

    /// Shows `search` every leaf whose box is within its limit of `q`, nearer ones first where they are siblings.
    #[inline(always)]
    pub fn walk(&self, q: &[f32; 3], search: &mut impl Search) {
        // Places are counted from 1 level up: level 0 is a leaf.
        let mut stack = [(0.0_f32, 0_u32); STACK];
        let mut height = 0;
        if !self.nodes.is_empty() {
            stack[0] = (0.0, (self.starts.len() as u32) << PLACE);
            height = 1;
        }
        while height > 0 {
            height -= 1;
            let (d2, id) = stack[height];
            if d2 > search.limit2() {
                continue;
            }
            let (level, place) = ((id >> PLACE) as usize, (id & ((1 << PLACE) - 1)) as usize);
            if level == 0 {
                search.leaf(place);
                continue;
            }
            let d2 = self.nodes[self.starts[level - 1] + place].distances2(q);
            // Boxes that are not there are infinitely far, also where all is wanted.
            let limit2 = smaller(search.limit2(), f32::MAX);
            let mut open = 0_u32;
            for (k, d) in d2.iter().enumerate() {
                open |= u32::from(*d <= limit2) << k;
            }
            let first = height;
            while open != 0 {
                let k = open.trailing_zeros();
                open &= open - 1;
                let mine = (
                    d2[k as usize],
                    ((level as u32 - 1) << PLACE) | (place as u32 * FAN as u32 + k),
                );
                // Farther ones below.
                let mut at = height;
                while at > first && stack[at - 1].0 < mine.0 {
                    stack[at] = stack[at - 1];
                    at -= 1;
                }
                stack[at] = mine;
                height += 1;
            }
        }
    }
}
