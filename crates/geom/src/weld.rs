//! Corners of triangles that are written once per triangle, joined again.
//!
//! [`Welder`] joins corners with the same bits while a file streams in; [`weld_within`] joins what lies closer than
//! a tolerance, as a later step. Both give the same answer for the same order of points, always.

use crate::Point;

const EMPTY: u32 = u32::MAX;
/// Triangles whose corners are looked up at once.
const LOT: usize = 32;
/// No corner of the triangle before.
const NONE: u8 = u8::MAX;

/// Numbers single-precision points; equal ones (bit by bit, with -0 taken as 0) get one number.
///
/// An open-addressing table of indices into the points themselves: 4 bytes per slot, at most 5/8 full (2/5 where the room was guessed well).
/// Not-a-number coordinates are joined with those of the same bits; readers refuse them before.
#[derive(Clone, Debug)]
pub struct Welder {
    points: Vec<[f32; 3]>,
    table: Vec<u32>,
    shift: u32,
}

impl Welder {
    /// A welder with room for about `points` different points.
    pub fn with_room(points: usize) -> Self {
        let bits = (points.max(8) * 5 / 2).next_power_of_two().trailing_zeros();
        Self {
            points: crate::room_for(points),
            table: empty(1 << bits),
            shift: 64 - bits,
        }
    }

    /// The number of `point`; a new one if it was not there. `None` when 2^32 - 1 points are numbered already.
    #[inline]
    pub fn add(&mut self, point: [f32; 3]) -> Option<u32> {
        let point = point.map(|c| c + 0.0);
        let mask = self.table.len() - 1;
        let mut slot = (hash(point) >> self.shift) as usize;
        loop {
            let found = self.table[slot];
            if found == EMPTY {
                break;
            }
            if same(self.points[found as usize], point) {
                return Some(found);
            }
            slot = (slot + 1) & mask;
        }
        self.insert(point, slot)
    }

    /// Adds the corners of triangles in order, as [`Self::add`] would one by one, and appends their numbers. `None` when
    /// 2^32 - 1 points are numbered already. Quicker, because the places of many corners are looked up at once, so that
    /// the memory is waited for once instead of once per corner.
    pub fn add_triangles(
        &mut self,
        triangles: &[[[f32; 3]; 3]],
        numbers: &mut Vec<[u32; 3]>,
    ) -> Option<()> {
        // Bits of the corners of the triangle before; a fourth word tells them from those of none.
        let mut before = [[u32::MAX; 4]; 3];
        let mut before_numbers = [EMPTY; 3];
        for lot in triangles.chunks(LOT) {
            // Triangles in a row mostly share corners: which corner of the one before each is, or none.
            let mut points = [[[0.0_f32; 3]; 3]; LOT];
            let mut like = [[NONE; 3]; LOT];
            let mut asked = [0_u8; 3 * LOT];
            let mut count = 0;
            for (k, corners) in lot.iter().enumerate() {
                let mut now = [[0_u32; 4]; 3];
                for (j, corner) in corners.iter().enumerate() {
                    let point = corner.map(|c| c + 0.0);
                    for (to, c) in now[j].iter_mut().zip(point) {
                        *to = c.to_bits();
                    }
                    let mut found = NONE;
                    for (i, other) in before.iter().enumerate() {
                        found = if *other == now[j] { i as u8 } else { found };
                    }
                    points[k][j] = point;
                    like[k][j] = found;
                    asked[count] = (3 * k + j) as u8;
                    count += usize::from(found == NONE);
                }
                before = now;
            }
            let flat = points.as_flattened();
            let asked = &asked[..count];
            // Each of these loops waits for the memory once, not once per corner.
            let mut found = [0_u32; 3 * LOT];
            for (slot, at) in found.iter_mut().zip(asked) {
                *slot = (hash(flat[*at as usize]) >> self.shift) as u32;
            }
            for slot in &mut found[..count] {
                *slot = self.table[*slot as usize];
            }
            let mut hit = [false; 3 * LOT];
            for ((hit, seen), at) in hit.iter_mut().zip(&found).zip(asked) {
                let there = self.points.get(*seen as usize);
                *hit = there.is_some_and(|p| same(*p, flat[*at as usize]));
            }
            let mut all = [[EMPTY; 3]; LOT];
            for ((hit, seen), at) in hit.iter().zip(&found).zip(asked) {
                // One that was not there before may have come in this lot.
                let number = if *hit {
                    *seen
                } else {
                    self.add(flat[*at as usize])?
                };
                all.as_flattened_mut()[*at as usize] = number;
            }
            for (now, like) in all[..lot.len()].iter_mut().zip(&like) {
                for (number, like) in now.iter_mut().zip(like) {
                    if let Some(same) = before_numbers.get(*like as usize) {
                        *number = *same;
                    }
                }
                before_numbers = *now;
            }
            numbers.extend_from_slice(&all[..lot.len()]);
        }
        Some(())
    }

    fn insert(&mut self, point: [f32; 3], slot: usize) -> Option<u32> {
        let number = u32::try_from(self.points.len())
            .ok()
            .filter(|&n| n != EMPTY)?;
        if self.points.len() == self.points.capacity() {
            self.points.reserve_exact(self.points.len() / 4 + 1024);
        }
        self.points.push(point);
        self.table[slot] = number;
        if self.points.len() > self.table.len() / 8 * 5 {
            self.grow();
        }
        Some(number)
    }

    #[cold]
    fn grow(&mut self) {
        let size = self.table.len() * 2;
        self.table = Vec::new();
        self.table = empty(size);
        self.shift -= 1;
        for (number, &point) in self.points.iter().enumerate() {
            let mut slot = (hash(point) >> self.shift) as usize;
            while self.table[slot] != EMPTY {
                slot = (slot + 1) & (size - 1);
            }
            self.table[slot] = number as u32;
        }
    }

    /// The different points in the order in which they came.
    pub fn points(&self) -> &[[f32; 3]] {
        &self.points
    }

    /// Gives the points away.
    pub fn into_points(self) -> Vec<[f32; 3]> {
        self.points
    }
}

/// A table of nothing.
fn empty(slots: usize) -> Vec<u32> {
    let mut table = crate::room_for(slots);
    table.resize(slots, EMPTY);
    table
}

#[inline]
fn same(a: [f32; 3], b: [f32; 3]) -> bool {
    a.map(f32::to_bits) == b.map(f32::to_bits)
}

/// Two rounds of multiply and fold over the bits; the high bits are used.
#[inline]
fn hash(p: [f32; 3]) -> u64 {
    let [x, y, z] = p.map(|c| u64::from(c.to_bits()));
    let folded = u128::from(x | y << 32).wrapping_mul(0x9e37_79b9_7f4a_7c15_f39c_c060_5ced_c835);
    let mixed = (folded >> 64) as u64 ^ folded as u64 ^ z.wrapping_mul(0xd6e8_feb8_6659_fd93);
    (mixed ^ mixed >> 32).wrapping_mul(0x9e37_79b9_7f4a_7c15)
}

/// What [`weld_within`] found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Welded {
    /// Places of the points that stay, in order.
    pub kept: Vec<u32>,
    /// For every point the place in `kept` of the one that stands for it.
    pub stands: Vec<u32>,
}

/// Joins points that lie within `tolerance` of an earlier one that stays; in order, so the answer is unique.
///
/// A point joins the earliest kept point within reach and is never moved, so nothing drifts along a chain: every point
/// lies within `tolerance` of the one that stands for it, and kept points lie further than `tolerance` apart.
/// `points` and `tolerance` share one unit. A tolerance that is not above zero joins equal points only.
/// Cost: a grid of cells two tolerances wide, eight looked at per point.
///
/// At most 2^32 - 2 points; more are a bug of the caller and panic.
pub fn weld_within(points: impl ExactSizeIterator<Item = Point> + Clone, tolerance: f64) -> Welded {
    assert!(
        points.len() < EMPTY as usize,
        "more points than 32-bit numbers"
    );
    let reach = if tolerance > 0.0 { tolerance } else { 0.0 };
    let width = if reach > 0.0 { 2.0 * reach } else { 1.0 };
    let mut grid = Grid::new(points.len());
    let mut welded = Welded {
        kept: Vec::new(),
        stands: Vec::with_capacity(points.len()),
    };
    let mut places: Vec<Point> = Vec::new();
    for (i, p) in points.enumerate() {
        let low = p.coords.map(|c| ((c - reach) / width).floor());
        let high = p.coords.map(|c| ((c + reach) / width).floor());
        let mut best = EMPTY;
        for corner in 0..8_u8 {
            if (0..3).any(|a| corner >> a & 1 == 1 && low[a] == high[a]) {
                continue;
            }
            let cell = [0, 1, 2].map(|a| {
                if corner >> a & 1 == 1 {
                    high[a]
                } else {
                    low[a]
                }
            });
            grid.each(cell, |k| {
                if k < best && (places[k as usize] - p).norm_squared() <= reach * reach {
                    best = k;
                }
            });
        }
        if best == EMPTY {
            best = places.len() as u32;
            grid.add(p.coords.map(|c| (c / width).floor()).into(), best);
            places.push(p);
            welded.kept.push(i as u32);
        }
        welded.stands.push(best);
    }
    welded
}

/// Cells of a grid, each with a chain of kept points.
struct Grid {
    heads: Vec<u32>,
    next: Vec<u32>,
    cells: Vec<[f64; 3]>,
}

impl Grid {
    fn new(points: usize) -> Self {
        Self {
            heads: vec![EMPTY; (points.max(8) * 2).next_power_of_two()],
            next: Vec::new(),
            cells: Vec::new(),
        }
    }

    fn slot(&self, cell: [f64; 3]) -> usize {
        let mut h = 0_u64;
        for c in cell {
            h = (h ^ (c + 0.0).to_bits()).wrapping_mul(0x9e37_79b9_7f4a_7c15);
            h ^= h >> 29;
        }
        (h >> 20) as usize & (self.heads.len() - 1)
    }

    fn add(&mut self, cell: [f64; 3], k: u32) {
        let slot = self.slot(cell);
        self.next.push(self.heads[slot]);
        self.cells.push(cell);
        self.heads[slot] = k;
    }

    fn each(&self, cell: [f64; 3], mut see: impl FnMut(u32)) {
        let mut k = self.heads[self.slot(cell)];
        while k != EMPTY {
            if self.cells[k as usize] == cell {
                see(k);
            }
            k = self.next[k as usize];
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use std::collections::HashMap;

    #[test]
    fn minus_zero_is_zero_and_neighbours_in_bits_are_not() {
        let mut w = Welder::with_room(0);
        let a = w.add([0.0, 1.0, 2.0]);
        assert_eq!(w.add([-0.0, 1.0, 2.0]), a);
        assert_ne!(w.add([f32::from_bits(1), 1.0, 2.0]), a);
        assert_eq!(w.points().len(), 2);
        assert!(w.into_points()[0][0].is_sign_positive());
    }

    #[test]
    fn a_plain_grid_of_triangles_shares_its_corners() {
        let mut w = Welder::with_room(10);
        let mut last = 0;
        for i in 0..200_i16 {
            for j in 0..200_i16 {
                for (a, b) in [(0, 0), (1, 0), (1, 1), (0, 0), (1, 1), (0, 1)] {
                    last = w
                        .add([f32::from(i + a) * 0.37, f32::from(j + b) * 0.37, 5.0])
                        .unwrap();
                }
            }
        }
        assert_eq!(w.points().len(), 201 * 201);
        assert!((last as usize) < w.points().len());
    }

    proptest! {
        #[test]
        fn welds_like_a_map_of_bits(points in prop::collection::vec(prop::array::uniform3(-3_i8..3), 0..400)) {
            let mut welder = Welder::with_room(4);
            let mut map = HashMap::new();
            for p in points {
                let p = p.map(f32::from);
                let new = map.len() as u32;
                let expected = *map.entry(p.map(f32::to_bits)).or_insert(new);
                prop_assert_eq!(welder.add(p), Some(expected));
            }
        }

        #[test]
        fn triangles_weld_like_their_corners(
            corners in prop::collection::vec(prop::array::uniform3(prop::array::uniform3(-4_i8..4)), 0..300),
        ) {
            let triangles: Vec<[[f32; 3]; 3]> = corners.iter().map(|t| t.map(|p| p.map(|c| -f32::from(c)))).collect();
            let (mut one, mut many) = (Welder::with_room(0), Welder::with_room(0));
            let expected: Vec<[u32; 3]> = triangles.iter().map(|t| t.map(|p| one.add(p).unwrap())).collect();
            let mut numbers = vec![[7; 3]];
            let (head, tail) = triangles.split_at(triangles.len() / 3);
            many.add_triangles(head, &mut numbers).unwrap();
            many.add_triangles(tail, &mut numbers).unwrap();
            prop_assert_eq!(&numbers[1..], expected);
            prop_assert_eq!(one.points(), many.points());
        }

        #[test]
        fn within_joins_like_the_slow_way(
            points in prop::collection::vec(prop::array::uniform3(-2.0..2.0_f64), 0..120), tolerance in 0.01..1.0_f64,
        ) {
            let points: Vec<Point> = points.into_iter().map(Point::from).collect();
            let fast = weld_within(points.iter().copied(), tolerance);
            let mut kept: Vec<u32> = Vec::new();
            let mut stands = Vec::new();
            for (i, p) in points.iter().enumerate() {
                let near = kept.iter().position(|&k| (points[k as usize] - p).norm_squared() <= tolerance * tolerance);
                stands.push(near.unwrap_or(kept.len()) as u32);
                if near.is_none() {
                    kept.push(i as u32);
                }
            }
            prop_assert_eq!(fast, Welded { kept, stands });
        }
    }

    #[test]
    fn no_tolerance_joins_equal_points_only() {
        let points = [
            Point::new(1.0, 2.0, 3.0),
            Point::new(1.0, 2.0, 3.0 + 1e-12),
            Point::new(1.0, 2.0, 3.0),
        ];
        for tolerance in [0.0, -1.0, f64::NAN] {
            let w = weld_within(points.iter().copied(), tolerance);
            assert_eq!(
                w,
                Welded {
                    kept: vec![0, 1],
                    stands: vec![0, 1, 0]
                }
            );
        }
    }
}
