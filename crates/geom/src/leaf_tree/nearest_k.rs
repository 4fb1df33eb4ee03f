//! The k nearest points of every point, as a set: who they are and how far the last one is, not in which order.

#![allow(
    clippy::inline_always,
    reason = "instruction sets are chosen at run time for what is inlined there"
)]

use super::{LEAF, LeafTree};
use crate::wide_boxes::{SLACK, Search, larger, smaller};

/// Candidates kept at a time.
const ROOM: usize = 160;
/// The most neighbours that can be asked for.
pub(crate) const MOST: usize = ROOM - 2 * LEAF;

/// Candidates around a place: offsets from it and squared distances. What lies past `len` is infinitely far.
pub(crate) struct KNearest<'a> {
    tree: &'a LeafTree,
    k: usize,
    q: [f64; 3],
    limit2: f32,
    len: usize,
    x: [f32; ROOM],
    y: [f32; ROOM],
    z: [f32; ROOM],
    d2: [f32; ROOM],
    /// The place searched last and the distance of its last neighbour.
    before: Option<([f64; 3], f32)>,
}

/// The k nearest: all candidates closer than the last one, and those just as far, which share what is left of k.
pub(crate) struct Near<'a> {
    /// Offsets from the place, mm, in lots of eight; past the candidates zero.
    pub x: &'a [f32],
    pub y: &'a [f32],
    pub z: &'a [f32],
    /// Squared distances, mm2; past the candidates infinite.
    pub d2: &'a [f32],
    /// Squared distance of the last of the k, mm2.
    pub last2: f32,
    /// Weight of those at exactly this distance, 0 < w <= 1; closer ones have weight 1.
    pub share: f32,
    /// How many there are: k, or all points if there are fewer.
    pub count: usize,
}

impl Near<'_> {
    /// Weight of a candidate.
    #[inline(always)]
    pub fn weight(&self, d2: f32) -> f32 {
        let at_last = if d2 == self.last2 { self.share } else { 0.0 };
        if d2 < self.last2 { 1.0 } else { at_last }
    }
}

impl<'a> KNearest<'a> {
    /// A search for `k` neighbours, 1 to [`MOST`].
    pub fn new(tree: &'a LeafTree, k: usize) -> Self {
        Self {
            tree,
            k: k.clamp(1, MOST),
            q: [0.0; 3],
            limit2: 0.0,
            len: 0,
            x: [0.0; ROOM],
            y: [0.0; ROOM],
            z: [0.0; ROOM],
            d2: [f32::INFINITY; ROOM],
            before: None,
        }
    }

    /// The nearest points of the point in `slot`, itself among them.
    #[inline(always)]
    pub fn of_slot(&mut self, slot: usize) -> Near<'_> {
        self.at(self.tree.place(slot))
    }

    /// The nearest points of a place about the centre of the tree.
    #[inline(always)]
    pub fn at(&mut self, q: [f64; 3]) -> Near<'_> {
        // The k neighbours of the place before lie within its reach and the step from there: a bound to start from.
        self.limit2 = match self.before {
            Some((p, reach)) => {
                let step = (0..3).map(|i| (q[i] - p[i]) * (q[i] - p[i])).sum::<f64>();
                let bound = reach + step.sqrt() as f32;
                bound * bound * SLACK * SLACK
            }
            None => f32::INFINITY,
        };
        self.q = q;
        self.len = 0;
        let single = q.map(|x| x as f32);
        let tree = self.tree;
        tree.boxes.walk(&single, self);
        let (last2, share) = self.cut();
        self.before = (self.len >= self.k).then(|| (q, last2.sqrt()));
        let lots = self.len.next_multiple_of(8);
        Near {
            x: &self.x[..lots],
            y: &self.y[..lots],
            z: &self.z[..lots],
            d2: &self.d2[..lots],
            last2,
            share,
            count: self.k.min(self.len),
        }
    }

    /// Finds the distance of the k-th candidate: by false position, since on a surface the number within grows with
    /// the square of the distance; halving the bits where that is slow. Pads the last lot.
    #[inline(always)]
    fn cut(&mut self) -> (f32, f32) {
        let (n, k) = (self.len, self.k);
        for j in n..n.next_multiple_of(8) {
            self.d2[j] = f32::INFINITY;
            self.x[j] = 0.0;
            self.y[j] = 0.0;
            self.z[j] = 0.0;
        }
        if n <= k {
            return (f32::MAX, 1.0);
        }
        let d2 = &self.d2[..n.next_multiple_of(8)];
        let mut greatest = 0.0;
        for d in &d2[..n] {
            greatest = larger(greatest, *d);
        }
        let (mut low, mut few) = (-1.0_f32, 0);
        let (mut high, mut many) = (greatest, n);
        let mut round = 0;
        while many > k {
            let mut t = low.max(0.0)
                + (high - low.max(0.0)) * ((k - few) as f32 + 0.5) / ((many - few) as f32 + 1.0);
            if round >= 5 || t <= low || t >= high {
                let below = if low < 0.0 { 0 } else { low.to_bits() };
                let middle = below + (high.to_bits() - below) / 2;
                t = f32::from_bits(middle);
                if t <= low || t >= high {
                    break;
                }
            }
            round += 1;
            let mut count = 0_u32;
            for d in d2 {
                count += u32::from(*d <= t);
            }
            if (count as usize) < k {
                (low, few) = (t, count as usize);
            } else {
                (high, many) = (t, count as usize);
            }
        }
        if many == k {
            // Between two candidates; the weight of those at the bound is 1.
            return (high, 1.0);
        }
        // `high` itself is the k-th, with others just as far.
        let mut closer = 0;
        for d in &d2[..n] {
            closer += usize::from(*d < high);
        }
        (high, (k - closer) as f32 / (many - closer) as f32)
    }

    /// Drops candidates that are out, to make room.
    #[inline(never)]
    fn shrink(&mut self) {
        let (last2, _) = self.cut();
        let n = self.len;
        self.limit2 = smaller(self.limit2, last2 * SLACK);
        let mut to = 0;
        for from in 0..n {
            if self.d2[from] <= last2 {
                self.x[to] = self.x[from];
                self.y[to] = self.y[from];
                self.z[to] = self.z[from];
                self.d2[to] = self.d2[from];
                to += 1;
            }
        }
        self.len = to;
        // So many points at one distance that there is no room: those past the k-th are dropped in order.
        if self.len > ROOM - LEAF {
            self.len = ROOM - LEAF;
        }
    }
}

impl Search for KNearest<'_> {
    #[inline(always)]
    fn limit2(&self) -> f32 {
        self.limit2
    }

    #[inline(always)]
    fn leaf(&mut self, leaf: usize) {
        let (d, d2) = self.tree.offsets(leaf, &self.q);
        let limit2 = smaller(self.limit2, f32::MAX);
        let mut inside = 0_u32;
        for (k, d) in d2.iter().enumerate() {
            inside |= u32::from(*d <= limit2) << k;
        }
        while inside != 0 {
            let lane = inside.trailing_zeros() as usize;
            inside &= inside - 1;
            let to = self.len;
            self.x[to] = d[0][lane];
            self.y[to] = d[1][lane];
            self.z[to] = d[2][lane];
            self.d2[to] = d2[lane];
            self.len += 1;
        }
        if self.len > ROOM - LEAF {
            self.shrink();
        }
    }
}
