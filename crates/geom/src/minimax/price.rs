//! How far the rows are exceeded at a vertex, and which of them is to enter.

#![allow(
    clippy::inline_always,
    reason = "instruction sets are chosen at run time for what is inlined there"
)]

use pulp::NullaryFnOnce;

use super::basis::Basis;

/// Rows looked at together.
const LOT: usize = 64;

/// Works out all excesses `g.x - slack s - bound`; the row to enter, if any exceeds `tol` in units of its length: the worst,
/// or (`first`) the first. Each excess is summed up in the order of the unknowns, whatever the instruction set.
pub(super) struct Price<'a> {
    /// Column-major, as long as `excess` to a column.
    pub matrix: &'a [f64],
    /// 1 / length of each row.
    pub per_norm: &'a [f64],
    pub bound: &'a [f64],
    pub basis: &'a Basis,
    pub tol: f64,
    pub first: bool,
    pub excess: &'a mut [f64],
}

impl NullaryFnOnce for Price<'_> {
    type Output = Option<usize>;

    #[inline(always)]
    fn call(self) -> Option<usize> {
        for (e, b) in self.excess.iter_mut().zip(self.bound) {
            *e = -b;
        }
        // Two columns at a time: half as many passes over the excesses.
        let mut waiting: Option<(&[f64], f64)> = None;
        let columns = self.matrix.chunks_exact(self.excess.len().max(1));
        for (column, &z) in columns.zip(self.basis.vertex()) {
            if z == 0.0 {
                continue;
            }
            let Some((before, y)) = waiting.take() else {
                waiting = Some((column, z));
                continue;
            };
            for ((e, u), v) in self.excess.iter_mut().zip(before).zip(column) {
                *e = (*e + y * u) + z * v;
            }
        }
        if let Some((column, z)) = waiting {
            for (e, v) in self.excess.iter_mut().zip(column) {
                *e += z * v;
            }
        }
        let (mut best, mut enter) = (self.tol, None);
        let lots = self.excess.chunks(LOT).zip(self.per_norm.chunks(LOT));
        for (lot, (excess, per_norm)) in lots.enumerate() {
            let each = || excess.iter().zip(per_norm).map(|(e, n)| e * n);
            // Counting takes no branches; few lots hold one that is worse.
            if each().map(|v| u64::from(v > best)).sum::<u64>() == 0 {
                continue;
            }
            for (k, v) in each().enumerate() {
                if v > best && !self.basis.holds(lot * LOT + k) {
                    enter = Some(lot * LOT + k);
                    if self.first {
                        return enter;
                    }
                    best = v;
                }
            }
        }
        enter
    }
}
