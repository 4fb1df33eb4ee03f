//! Whether a point has enough others near by.

#![allow(
    clippy::inline_always,
    reason = "instruction sets are chosen at run time for what is inlined there"
)]

use pulp::NullaryFnOnce;
use rayon::prelude::*;

use super::{LEAF, LeafTree, QUERIES};
use crate::wide_boxes::{SLACK, Search};

impl LeafTree {
    /// For every point, in the order they were given, whether at least `others` other points lie within `radius` mm.
    /// `false` for points that are not finite. Counting stops when the answer is known.
    pub fn have_near(&self, others: usize, radius: f64) -> Vec<bool> {
        let r2 = if radius >= 0.0 {
            (radius * radius) as f32
        } else {
            -1.0
        };
        let arch = pulp::Arch::new();
        let by_slot: Vec<bool> = self
            .order
            .par_chunks(QUERIES)
            .enumerate()
            .flat_map_iter(|(chunk, slots)| {
                let first = chunk * QUERIES;
                arch.dispatch(Counting {
                    tree: self,
                    slots: first..first + slots.len(),
                    r2,
                    needed: others + 1,
                })
            })
            .collect();
        self.as_given(&by_slot, false)
    }
}

struct Counting<'a> {
    tree: &'a LeafTree,
    slots: std::ops::Range<usize>,
    r2: f32,
    needed: usize,
}

impl NullaryFnOnce for Counting<'_> {
    type Output = Vec<bool>;

    #[inline(always)]
    fn call(self) -> Vec<bool> {
        self.slots
            .map(|slot| {
                let q = self.tree.place(slot);
                let mut search = Count {
                    tree: self.tree,
                    q,
                    r2: self.r2,
                    seen: 0,
                    needed: self.needed,
                    own: usize::MAX,
                };
                search.leaf(slot / LEAF);
                search.own = slot / LEAF;
                if search.seen < self.needed {
                    self.tree.boxes.walk(&q.map(|x| x as f32), &mut search);
                }
                search.seen >= self.needed
            })
            .collect()
    }
}

struct Count<'a> {
    tree: &'a LeafTree,
    q: [f64; 3],
    r2: f32,
    seen: usize,
    needed: usize,
    own: usize,
}

impl Search for Count<'_> {
    #[inline(always)]
    fn limit2(&self) -> f32 {
        if self.seen < self.needed {
            self.r2 * SLACK
        } else {
            -1.0
        }
    }

    #[inline(always)]
    fn leaf(&mut self, leaf: usize) {
        if leaf == self.own {
            return;
        }
        let (_, d2) = self.tree.offsets(leaf, &self.q);
        let mut inside = 0_u32;
        for d in d2 {
            inside += u32::from(d <= self.r2);
        }
        self.seen += inside as usize;
    }
}
