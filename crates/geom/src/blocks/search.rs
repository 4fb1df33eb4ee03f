//! Looking for points.

use super::{Block, Blocks, FAN, GROUP, LEAF};
use crate::{Aabb, Point};

/// Boxes are passed over only if they are farther than this times the radius: rounding never loses a point.
const SLACK: f64 = 1.0 + 1e-9;

impl Blocks {
    /// Calls `f` with slot and point of everything inside `bounds` or on its surface, in slot order.
    pub fn in_box(&self, bounds: &Aabb, mut f: impl FnMut(u32, Point)) {
        self.each_block(&|b| b.meets(bounds), &mut |block| {
            let inside = bounds.holds(&block.bounds.low) && bounds.holds(&block.bounds.high);
            let q_low: [f64; 3] = (bounds.low - block.origin).map(|x| x - 1e-9).into();
            let q_high: [f64; 3] = (bounds.high - block.origin).map(|x| x + 1e-9).into();
            self.each_run(
                block,
                &|s| {
                    inside
                        || (0..3).all(|i| {
                            f64::from(s.low[i]) <= q_high[i] && q_low[i] <= f64::from(s.high[i])
                        })
                },
                &mut |slots| {
                    for s in slots {
                        let p = self.at(block, s);
                        if inside || bounds.holds(&p) {
                            f(s, p);
                        }
                    }
                },
            );
        });
    }

    /// Calls `f` with slot, point and squared distance (mm2) of everything within `r` mm of `c`, in slot order.
    pub fn in_ball(&self, c: &Point, r: f64, f: impl FnMut(u32, Point, f64)) {
        self.in_ball_every(c, r, 1, f);
    }

    /// The same of every so many points: which ones does not hang on the ball. A leaf keeps at least its first, so that
    /// beyond one in 16 nothing gets fewer. `every` 0 counts as 1.
    pub fn in_ball_every(
        &self,
        c: &Point,
        r: f64,
        every: usize,
        mut f: impl FnMut(u32, Point, f64),
    ) {
        if r.is_nan() || r < 0.0 {
            return;
        }
        let every = every.max(1);
        let (r2, far2) = (r * r, r * r * SLACK + 1e-18);
        self.each_block(&|b| b.distance2(c) <= far2, &mut |block| {
            let q: [f64; 3] = (c - block.origin).into();
            self.each_run(block, &|s| s.distance2(&q) <= far2, &mut |slots| {
                for s in slots.step_by(every) {
                    let p = self.at(block, s);
                    let d2 = (p - c).norm_squared();
                    if d2 <= r2 {
                        f(s, p, d2);
                    }
                }
            });
        });
    }

    /// The nearest point within `within` mm: its slot and its distance, mm. Of equally near ones the lowest slot.
    pub fn nearest(&self, c: &Point, within: f64) -> Option<(u32, f64)> {
        let mut best = Best::new(1, within, Vec::with_capacity(1));
        self.closest(c, &mut best);
        best.found.first().map(|&(d2, s)| (s, d2.sqrt()))
    }

    /// The `k` nearest points within `within` mm as (distance in mm, slot), ascending. `out` is emptied first and
    /// keeps its memory. Of equally near ones the lowest slots.
    pub fn k_nearest(&self, c: &Point, k: usize, within: f64, out: &mut Vec<(f64, u32)>) {
        out.clear();
        if k == 0 {
            return;
        }
        let mut best = Best::new(k, within, std::mem::take(out));
        self.closest(c, &mut best);
        *out = best.found;
        for (d, _) in out {
            *d = d.sqrt();
        }
    }

    /// Calls `f` with every block whose box and boxes above pass `open`, in order.
    fn each_block(&self, open: &dyn Fn(&Aabb) -> bool, f: &mut dyn FnMut(&Block)) {
        if self.levels.is_empty() {
            for b in self.list.iter().filter(|b| open(&b.bounds)) {
                f(b);
            }
        } else {
            self.each_below(self.levels.len() - 1, 0, open, f);
        }
    }

    fn each_below(
        &self,
        level: usize,
        i: usize,
        open: &dyn Fn(&Aabb) -> bool,
        f: &mut dyn FnMut(&Block),
    ) {
        if !open(&self.levels[level][i]) {
            return;
        }
        let first = i * FAN;
        if level == 0 {
            let end = self.list.len().min(first + FAN);
            for b in self.list[first..end].iter().filter(|b| open(&b.bounds)) {
                f(b);
            }
        } else {
            for j in first..self.levels[level - 1].len().min(first + FAN) {
                self.each_below(level - 1, j, open, f);
            }
        }
    }

    /// Calls `f` with the coarse slots and with every leaf whose boxes pass `open`, in slot order.
    fn each_run(
        &self,
        block: &Block,
        open: &dyn Fn(&super::Small) -> bool,
        f: &mut dyn FnMut(std::ops::Range<u32>),
    ) {
        let (coarse, leaves) = (block.coarse_len() as u32, block.leaves());
        f(block.first..block.first + coarse);
        for g in 0..leaves.div_ceil(GROUP) {
            if !open(&self.groups[block.group as usize + g]) {
                continue;
            }
            for l in g * GROUP..leaves.min((g + 1) * GROUP) {
                if open(&self.leaves[block.leaf as usize + l]) {
                    f(leaf_slots(block, l));
                }
            }
        }
    }

    fn closest(&self, c: &Point, best: &mut Best) {
        if best.far2.is_nan() {
            return;
        }
        if self.levels.is_empty() {
            for b in &self.list {
                self.closest_in(b, c, best);
            }
        } else {
            self.closest_below(self.levels.len() - 1, 0, c, best);
        }
    }

    fn closest_below(&self, level: usize, i: usize, c: &Point, best: &mut Best) {
        let first = i * FAN;
        let count = if level == 0 {
            self.list.len()
        } else {
            self.levels[level - 1].len()
        };
        let mut order = [(f64::INFINITY, 0); FAN];
        let n = count.min(first + FAN) - first;
        for (j, o) in order[..n].iter_mut().enumerate() {
            let b = if level == 0 {
                &self.list[first + j].bounds
            } else {
                &self.levels[level - 1][first + j]
            };
            *o = (b.distance2(c), first + j);
        }
        order[..n].sort_unstable_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        for &(d2, j) in &order[..n] {
            if d2 > best.far2 {
                break;
            }
            if level == 0 {
                self.closest_in(&self.list[j], c, best);
            } else {
                self.closest_below(level - 1, j, c, best);
            }
        }
    }

    fn closest_in(&self, block: &Block, c: &Point, best: &mut Best) {
        let q: [f64; 3] = (c - block.origin).into();
        let scan = |slots: std::ops::Range<u32>, best: &mut Best| {
            for s in slots {
                best.offer((self.at(block, s) - c).norm_squared(), s);
            }
        };
        scan(block.first..block.first + block.coarse_len() as u32, best);
        let leaves = block.leaves();
        let mut groups = [(f64::INFINITY, 0); super::BLOCK / LEAF / GROUP];
        let n = leaves.div_ceil(GROUP);
        for (g, o) in groups[..n].iter_mut().enumerate() {
            *o = (self.groups[block.group as usize + g].distance2(&q), g);
        }
        groups[..n].sort_unstable_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        for &(d2, g) in &groups[..n] {
            if d2 > best.far2 {
                break;
            }
            let mut near = [(f64::INFINITY, 0); GROUP];
            let m = leaves.min((g + 1) * GROUP) - g * GROUP;
            for (l, o) in near[..m].iter_mut().enumerate() {
                let l = g * GROUP + l;
                *o = (self.leaves[block.leaf as usize + l].distance2(&q), l);
            }
            near[..m].sort_unstable_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
            for &(d2, l) in &near[..m] {
                if d2 > best.far2 {
                    break;
                }
                scan(leaf_slots(block, l), best);
            }
        }
    }
}

fn leaf_slots(block: &Block, l: usize) -> std::ops::Range<u32> {
    let first = block.first + block.coarse_len() as u32 + (l * LEAF) as u32;
    first..(block.first + block.len).min(first + LEAF as u32)
}

/// The best so far, ascending by (squared distance, slot).
struct Best {
    k: usize,
    /// Farther than this is out, mm2.
    limit2: f64,
    /// A box farther than this holds nothing wanted, mm2.
    far2: f64,
    found: Vec<(f64, u32)>,
}

impl Best {
    fn new(k: usize, within: f64, found: Vec<(f64, u32)>) -> Self {
        let limit2 = if within < 0.0 {
            f64::NAN
        } else {
            within * within
        };
        Self {
            k,
            limit2,
            far2: limit2 * SLACK + 1e-18,
            found,
        }
    }

    fn offer(&mut self, d2: f64, slot: u32) {
        if d2.is_nan() || d2 > self.limit2 {
            return;
        }
        let full = self.found.len() == self.k;
        if full && self.found.last().is_some_and(|w| (d2, slot) >= *w) {
            return;
        }
        let at = self.found.partition_point(|f| *f < (d2, slot));
        if full {
            self.found.pop();
        }
        self.found.insert(at, (d2, slot));
        if self.found.len() == self.k
            && let Some(w) = self.found.last()
        {
            self.limit2 = w.0;
            self.far2 = w.0 * SLACK + 1e-18;
        }
    }
}
