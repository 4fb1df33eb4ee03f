//! Where the nodes of a weave are.

use crate::chance::hash;
use crate::edge::Station;
use crate::numbers as no;
use crate::surface::Spot;

use super::{Back, Bolt, Kind, Ring, Weave, graded, mix};

/// Largest shift of a node from its regular place, in cells.
const SHIFT: f64 = 0.22;

impl Weave<'_> {
    /// A shift of a node, -SHIFT to SHIFT cells.
    pub(super) fn shift(&self, patch: u64, row: u32, col: u32, axis: u64) -> f64 {
        let h = hash(&[self.seed, patch, u64::from(row), u64::from(col), axis]);
        SHIFT * (2.0 * (h as f64 / u64::MAX as f64) - 1.0)
    }

    /// (u, v) on a ring's panel, row 0 = border of the tile, last row = start of the bend.
    pub(super) fn ring_uv(&self, ring: &Ring, col: f64, row: f64) -> [f64; 2] {
        let tau = ring.tau(col);
        let edge = &self.body.openings[ring.opening].edge;
        let b = edge.bend_start(&edge.at(tau), 0.0);
        mix(
            ring.rectangle(tau),
            b,
            graded(row / f64::from(ring.rows[0])),
        )
    }

    fn ring_col(&self, patch: usize, row: u32, col: u32) -> f64 {
        f64::from(col) + self.shift(patch as u64, row, col, 0)
    }

    pub(super) fn ring_node_uv(&self, patch: usize, ring: &Ring, col: u32, row: u32) -> [f64; 2] {
        let along = if row < ring.rows[0] {
            self.shift(patch as u64, row, col, 1)
        } else {
            0.0
        };
        self.ring_uv(ring, self.ring_col(patch, row, col), f64::from(row) + along)
    }

    fn on_panel(&self, uv: [f64; 2]) -> Spot {
        let j = self.body.panel.at(uv[0], uv[1]);
        Spot { p: j.p, n: j.n }
    }

    /// The place of a node of a patch.
    pub fn spot(&self, patch: usize, row: u32, col: u32) -> Spot {
        let p = &self.patches[patch];
        match &p.kind {
            Kind::Border(list) => self.on_panel(self.uv(list[col as usize])),
            Kind::Plain { low, .. } => {
                let uv = self.uv([
                    low[0] + 1 + col.cast_signed(),
                    low[1] + 1 + row.cast_signed(),
                ]);
                let (du, dv) = (
                    self.shift(patch as u64, row, col, 0),
                    self.shift(patch as u64, row, col, 1),
                );
                self.on_panel([uv[0] + du * self.step[0], uv[1] + dv * self.step[1]])
            }
            Kind::Ring(r) => self.ring_spot(patch, r, row + 1, col),
            Kind::Bolt(b) => self.bolt_spot(b, row + 1, col),
            Kind::Back(b) => self.back_spot(patch, b, row, col, p.cols),
            Kind::Cheek(rows) => self.cheek_spot(patch, *rows, row + 1, col, p.cols),
            Kind::Stand(s) => s.spot(row, col, p.rows, p.cols),
        }
    }

    fn ring_spot(&self, patch: usize, r: &Ring, row: u32, col: u32) -> Spot {
        let [panel, bend, flange] = r.rows;
        if row <= panel {
            return self.on_panel(self.ring_node_uv(patch, r, col, row));
        }
        let edge = &self.body.openings[r.opening].edge;
        let s: Station = edge.at(r.tau(self.ring_col(patch, row, col)));
        if row <= panel + bend {
            return edge.on_bend(&s, f64::from(row - panel) / f64::from(bend));
        }
        let last = row == panel + bend + flange;
        let k = f64::from(row - panel - bend)
            + if last {
                0.0
            } else {
                self.shift(patch as u64, row, col, 1)
            };
        let start = edge.bend.tangent();
        edge.on_flange(
            &s,
            start + (edge.bend.depth - start) * k / f64::from(flange),
        )
    }

    fn bolt_spot(&self, b: &Bolt, row: u32, col: u32) -> Spot {
        let h = &self.body.openings[b.opening].holes[b.hole];
        let angle = b.angle[col as usize];
        let rim = self.body.on_hole(h, angle);
        if row < b.rows[0] {
            return self.on_panel(mix(
                b.outer[col as usize],
                rim,
                f64::from(row) / f64::from(b.rows[0]),
            ));
        }
        let at = self.on_panel(rim);
        if row == b.rows[0] {
            return at;
        }
        let depth = no::HOLE_WALL * f64::from(row - b.rows[0]) / f64::from(b.rows[1]);
        Spot {
            p: at.p - h.axis * depth,
            n: -(h.across[0] * angle.cos() + h.across[1] * angle.sin()),
        }
    }

    fn back_spot(&self, patch: usize, b: &Back, row: u32, col: u32, cols: u32) -> Spot {
        let edge = &self.body.openings[b.opening].edge;
        let inner = col > 0 && col + 1 < cols;
        let c = f64::from(col)
            + if inner {
                self.shift(patch as u64, row, col, 0)
            } else {
                0.0
            };
        let s = edge.at(b.tau[0] + (b.tau[1] - b.tau[0]) * c / f64::from(cols - 1));
        let [flange, bend, strip] = b.rows;
        let start = edge.bend.tangent();
        let front = if row < flange {
            let k = f64::from(row) / f64::from(flange);
            edge.on_flange(&s, edge.bend.depth + (start - edge.bend.depth) * k)
        } else if row < flange + bend {
            edge.on_bend(&s, 1.0 - f64::from(row - flange) / f64::from(bend))
        } else {
            let further = no::BACK_STRIP * f64::from(row - flange - bend) / f64::from(strip);
            self.on_panel(edge.bend_start(&s, further))
        };
        Spot {
            p: front.p - front.n * edge.bend.thickness,
            n: -front.n,
        }
    }

    fn cheek_spot(&self, patch: usize, rows: [u32; 2], row: u32, col: u32, cols: u32) -> Spot {
        let Some(trim) = &self.body.trim else {
            return self.on_panel([0.0, 0.0]);
        };
        let inner = col > 0 && col + 1 < cols;
        let last = row == rows[0] + rows[1];
        let dv = if inner {
            self.shift(patch as u64, row, col, 0)
        } else {
            0.0
        };
        let v = self.origin[1] + self.step[1] * (f64::from(col) + dv);
        if row <= rows[0] {
            return trim.on_bend(v, f64::from(row) / f64::from(rows[0]));
        }
        let k = f64::from(row - rows[0])
            + if last {
                0.0
            } else {
                self.shift(patch as u64, row, col, 1)
            };
        let start = trim.tangent(v);
        trim.on_side_cheek(
            v,
            start + (no::CHEEK_WIDTH - start) * k / f64::from(rows[1]),
        )
    }

    /// The place of a node by its number.
    pub fn spot_of(&self, id: u32) -> Spot {
        let k = self.patches.partition_point(|p| p.first <= id) - 1;
        let p = &self.patches[k];
        let off = id - p.first;
        self.spot(k, off / p.cols, off % p.cols)
    }
}
