//! How the nodes of a weave are joined.

use super::{Kind, Weave};

impl Weave<'_> {
    /// A node by patch, row (0 = the seam, if it has one) and column.
    pub(super) fn id(&self, patch: usize, row: u32, col: u32) -> u32 {
        let p = &self.patches[patch];
        if let Kind::Plain { low, cells } = &p.kind {
            let (i, j) = (col.cast_signed(), row.cast_signed());
            return if i == 0 || j == 0 || i == cells[0] || j == cells[1] {
                self.border[&[low[0] + i, low[1] + j]]
            } else {
                p.first + (j as u32 - 1) * p.cols + i as u32 - 1
            };
        }
        let c = col % p.cols;
        if p.seam.is_empty() {
            p.first + row * p.cols + c
        } else if row == 0 {
            p.seam[c as usize]
        } else {
            p.first + (row - 1) * p.cols + c
        }
    }

    /// Rows and columns of cells of a patch.
    fn cells(&self, patch: usize) -> (u32, u32) {
        let p = &self.patches[patch];
        match &p.kind {
            Kind::Border(_) => (0, 0),
            Kind::Plain { cells, .. } => (cells[1] as u32, cells[0] as u32),
            _ => (
                if p.seam.is_empty() {
                    p.rows - 1
                } else {
                    p.rows
                },
                if p.cyclic { p.cols } else { p.cols - 1 },
            ),
        }
    }

    /// Patch and row of every row of cells.
    pub fn cell_rows(&self) -> Vec<(usize, u32)> {
        (0..self.patches.len())
            .flat_map(|k| (0..self.cells(k).0).map(move |r| (k, r)))
            .collect()
    }

    /// The triangles of a row of cells, counter-clockwise seen from the facing side (in side axes).
    pub fn triangles(&self, patch: usize, row: u32, out: &mut Vec<[u32; 3]>) {
        let p = &self.patches[patch];
        let cuts: &[[u32; 4]] = if let Kind::Ring(r) = &p.kind {
            &r.cuts
        } else {
            &[]
        };
        for c in 0..self.cells(patch).1 {
            let cut = cuts.iter().any(|&[c0, c1, j0, j1]| {
                let within = (c + p.cols - c0) % p.cols < (c1 + p.cols - c0) % p.cols;
                within && row >= j0 && row < j1
            });
            if cut {
                continue;
            }
            let (a, b) = (self.id(patch, row, c), self.id(patch, row, c + 1));
            let (e, d) = (self.id(patch, row + 1, c), self.id(patch, row + 1, c + 1));
            let pair = if (row + c).is_multiple_of(2) {
                [[a, b, d], [a, d, e]]
            } else {
                [[a, b, e], [b, d, e]]
            };
            for [x, y, z] in pair {
                out.push(if p.turned { [x, z, y] } else { [x, y, z] });
            }
        }
    }

    /// Finds which way round the triangles of each patch have to run.
    pub(super) fn set_turns(&mut self) {
        for k in 0..self.patches.len() {
            let (rows, cols) = self.cells(k);
            if rows == 0 || cols == 0 {
                continue;
            }
            let (r, c) = (rows / 2, cols / 2);
            let at = |row, col| self.spot_of(self.id(k, row, col));
            let (a, b, e) = (at(r, c), at(r, c + 1), at(r + 1, c));
            let n = (b.p - a.p).cross(&(e.p - a.p));
            self.patches[k].turned = n.dot(&(a.n + b.n + e.n)) < 0.0;
        }
    }
}
