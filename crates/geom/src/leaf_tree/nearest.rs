//! The nearest point of many places at once.

#![allow(
    clippy::inline_always,
    reason = "instruction sets are chosen at run time for what is inlined there"
)]

use std::sync::atomic::{AtomicU64, Ordering};

use pulp::NullaryFnOnce;
use rayon::prelude::*;

use super::{LEAF, LeafTree, QUERIES};
use crate::Point;
use crate::wide_boxes::{SLACK, Search};

/// A point found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct NearPoint {
    /// Its place among the points given; `u32::MAX` if there is none within reach.
    pub index: u32,
    /// Its distance, mm; infinite if there is none.
    pub distance: f32,
}

impl NearPoint {
    fn bits(self) -> u64 {
        u64::from(self.index) << 32 | u64::from(self.distance.to_bits())
    }

    fn from_bits(bits: u64) -> Self {
        Self {
            index: (bits >> 32) as u32,
            distance: f32::from_bits(bits as u32),
        }
    }
}

impl LeafTree {
    /// The nearest point within `within` mm (infinity: any) of every query, in the order of the queries. Of points
    /// that are equally near in single precision, any one, always the same. Queries that are not finite find none.
    ///
    /// Queries are taken along the space-filling curve and each starts from the answer of the one before.
    pub fn nearest_of(&self, queries: &[Point], within: f64) -> Vec<NearPoint> {
        let nothing = NearPoint {
            index: u32::MAX,
            distance: f32::INFINITY,
        };
        let found: Vec<AtomicU64> = (0..queries.len())
            .into_par_iter()
            .with_min_len(QUERIES)
            .map(|_| AtomicU64::new(nothing.bits()))
            .collect();
        if let Some(cube) = &self.cube
            && within >= 0.0
        {
            let arch = pulp::Arch::new();
            cube.order(queries).par_chunks(QUERIES).for_each(|order| {
                arch.dispatch(Along {
                    tree: self,
                    queries,
                    order,
                    within2: (within * within) as f32,
                    found: &found,
                });
            });
        }
        found
            .into_iter()
            .map(|f| NearPoint::from_bits(f.into_inner()))
            .collect()
    }
}

/// The search along one stretch of the curve.
struct Along<'a> {
    tree: &'a LeafTree,
    queries: &'a [Point],
    order: &'a [u32],
    within2: f32,
    found: &'a [AtomicU64],
}

impl NullaryFnOnce for Along<'_> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        // Fetched beforehand: many are then on their way at once, and the searches wait for none.
        let places: Vec<[f64; 3]> = self
            .order
            .iter()
            .map(|&i| self.tree.about_centre(&self.queries[i as usize]))
            .collect();
        let mut seed = usize::MAX;
        for (&i, &q) in self.order.iter().zip(&places) {
            let mut one = One::new(self.tree, q, self.within2);
            one.search(seed);
            if one.slot != u32::MAX {
                seed = one.slot as usize / LEAF;
                let near = NearPoint {
                    index: self.tree.order[one.slot as usize],
                    distance: one.best2.sqrt(),
                };
                self.found[i as usize].store(near.bits(), Ordering::Relaxed);
            }
        }
    }
}

/// The search for the nearest point of one place.
pub(super) struct One<'a> {
    tree: &'a LeafTree,
    q: [f64; 3],
    /// Squared distance of the best so far, mm2.
    pub best2: f32,
    /// Its slot; `u32::MAX` if there is none.
    pub slot: u32,
    /// A leaf that was looked into beforehand.
    seed: usize,
}

impl<'a> One<'a> {
    #[inline(always)]
    pub fn new(tree: &'a LeafTree, q: [f64; 3], within2: f32) -> Self {
        Self {
            tree,
            q,
            best2: within2,
            slot: u32::MAX,
            seed: usize::MAX,
        }
    }

    /// Looks first into the leaf `seed` if it is one.
    #[inline(always)]
    pub fn search(&mut self, seed: usize) {
        if seed < self.tree.leaves.len() {
            self.leaf(seed);
            self.seed = seed;
        }
        let q = self.q.map(|x| x as f32);
        let tree = self.tree;
        tree.boxes.walk(&q, self);
    }
}

impl Search for One<'_> {
    #[inline(always)]
    fn limit2(&self) -> f32 {
        self.best2 * SLACK
    }

    #[inline(always)]
    fn leaf(&mut self, leaf: usize) {
        if leaf == self.seed {
            return;
        }
        let (_, d2) = self.tree.offsets(leaf, &self.q);
        let mut least = [f32::INFINITY; 8];
        for (k, l) in least.iter_mut().enumerate() {
            *l = crate::wide_boxes::smaller(d2[k], d2[k + 8]);
        }
        let best = least
            .iter()
            .fold(f32::INFINITY, |a, &b| crate::wide_boxes::smaller(a, b));
        let better = best < self.best2 || best == self.best2 && self.slot == u32::MAX;
        if better && let Some(lane) = d2.iter().position(|d| *d == best) {
            self.best2 = best;
            self.slot = (leaf * LEAF + lane) as u32;
        }
    }
}
