//! Covers a body with nodes and triangles.
//!
//! Every tile of the panel has its corners on one lattice, so that neighbouring tiles share the nodes of their common
//! border. A tile with an opening is a ring: its columns run round, its rows go from the border of the tile to the
//! opening, over the bend and down the flange. A bolt hole is a smaller ring that takes the place of a block of it.

mod join;
mod place;

use std::collections::BTreeMap;

use crate::body::Body;
use crate::chance::hash;
use crate::numbers as no;
use crate::stand::StandPiece;

/// How much closer rows lie towards an opening: spacing goes from 1 + this to 1 - this.
const GRADING: f64 = 0.4;

/// A ring of panel, bend and flange round an opening.
pub(crate) struct Ring {
    pub opening: usize,
    /// Least u, least v of the tile, mm.
    low: [f64; 2],
    /// Size of the tile, mm.
    size: [f64; 2],
    /// Cells along u and along v.
    cells: [u32; 2],
    /// Rows on the panel, the last on the start of the bend; on the bend; on the flange.
    rows: [u32; 3],
    /// Blocks that bolt holes take the place of: columns from, to; rows from, to.
    cuts: Vec<[u32; 4]>,
}

/// The nodes round a bolt hole.
pub(crate) struct Bolt {
    opening: usize,
    hole: usize,
    /// Per column: a node of the ring, (u, v).
    outer: Vec<[f64; 2]>,
    /// Per column: angle about the hole's axis.
    angle: Vec<f64>,
    /// Rows on the panel (the last on the hole's edge), rows on its wall.
    rows: [u32; 2],
}

/// The back of the metal along part of an opening edge.
pub(crate) struct Back {
    opening: usize,
    /// First and last place along the edge, 0 to 4.
    tau: [f64; 2],
    /// Rows on the flange, on the bend, on the panel.
    rows: [u32; 3],
}

pub(crate) enum Kind {
    Border(Vec<[i32; 2]>),
    Plain {
        low: [i32; 2],
        cells: [i32; 2],
    },
    Ring(Ring),
    Bolt(Bolt),
    Back(Back),
    /// Bend and side cheek of the trim junction: rows on the bend, on the cheek.
    Cheek([u32; 2]),
    Stand(StandPiece),
}

/// A grid of nodes.
pub(crate) struct Patch {
    pub kind: Kind,
    /// Its first node.
    pub first: u32,
    pub rows: u32,
    pub cols: u32,
    /// Whether the last column is joined to the first.
    cyclic: bool,
    /// Nodes of other patches that come before its first row.
    seam: Vec<u32>,
    /// Whether its triangles run the other way round.
    turned: bool,
}

/// A body covered with nodes.
pub(crate) struct Weave<'a> {
    pub body: &'a Body,
    pub patches: Vec<Patch>,
    pub nodes: u32,
    /// (u, v) of the lattice's origin and its steps.
    origin: [f64; 2],
    step: [f64; 2],
    border: BTreeMap<[i32; 2], u32>,
    seed: u64,
}

fn graded(x: f64) -> f64 {
    x + GRADING * x * (1.0 - x)
}

/// Inverse of [`graded`].
fn ungraded(y: f64) -> f64 {
    let b = 1.0 + GRADING;
    (b - (b * b - 4.0 * GRADING * y).max(0.0).sqrt()) / (2.0 * GRADING)
}

fn steps(length: f64, step: f64, least: u32) -> u32 {
    ((length / step).ceil() as u32).max(least)
}

fn mix(a: [f64; 2], b: [f64; 2], f: f64) -> [f64; 2] {
    [a[0] + (b[0] - a[0]) * f, a[1] + (b[1] - a[1]) * f]
}

fn gap(a: [f64; 2], b: [f64; 2]) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1])
}

impl Ring {
    fn cols(&self) -> u32 {
        2 * (self.cells[0] + self.cells[1])
    }

    /// Place along the edge, 0 to 4, of a column.
    fn tau(&self, col: f64) -> f64 {
        let n = f64::from(self.cols());
        let mut c = col.rem_euclid(n);
        for side in 0..4u32 {
            let cells = f64::from(self.cells[side as usize % 2]);
            if c < cells {
                return f64::from(side) + c / cells;
            }
            c -= cells;
        }
        0.0
    }

    /// The border of the tile at a place along the edge.
    fn rectangle(&self, tau: f64) -> [f64; 2] {
        let side = tau.floor();
        let f = tau - side;
        let [w, h] = self.size;
        let (x, y) = match side as u32 % 4 {
            0 => (f * w, 0.0),
            1 => (w, f * h),
            2 => ((1.0 - f) * w, h),
            _ => (0.0, (1.0 - f) * h),
        };
        [self.low[0] + x, self.low[1] + y]
    }
}

impl<'a> Weave<'a> {
    /// Covers `body` with nodes about `step` mm apart.
    pub fn new(body: &'a Body, stand: &[StandPiece], step: f64, seed: u64) -> Self {
        let (origin, height) = if body.trim.is_some() {
            (
                [no::CHEEK_TILE[0], -no::JUNCTION_LENGTH / 2.0],
                no::JUNCTION_LENGTH,
            )
        } else {
            let t = body.openings[0].numbers.tile;
            ([t[0], t[2]], t[3] - t[2])
        };
        let mut w = Self {
            body,
            patches: Vec::new(),
            nodes: 0,
            origin,
            step: [step, height / (height / step).round()],
            border: BTreeMap::new(),
            seed,
        };
        w.borders();
        for tile in &body.plain {
            let (low, cells) = w.on_lattice(tile);
            let size = (cells[0].max(1) - 1, cells[1].max(1) - 1);
            w.add(
                Kind::Plain { low, cells },
                size.1 as u32,
                size.0 as u32,
                false,
                Vec::new(),
            );
        }
        for k in 0..body.openings.len() {
            w.ring(k, step);
        }
        for k in 0..body.openings.len() {
            w.back(k, step);
        }
        if body.trim.is_some() {
            w.cheek(step);
        }
        for s in stand {
            let (rows, cols) = s.grid(2.5 * step);
            w.add(Kind::Stand(s.clone()), rows, cols, s.cyclic(), Vec::new());
        }
        w.set_turns();
        w
    }

    fn add(&mut self, kind: Kind, rows: u32, cols: u32, cyclic: bool, seam: Vec<u32>) -> usize {
        self.patches.push(Patch {
            kind,
            first: self.nodes,
            rows,
            cols,
            cyclic,
            seam,
            turned: false,
        });
        self.nodes += rows * cols;
        self.patches.len() - 1
    }

    fn on_lattice(&self, tile: &[f64; 4]) -> ([i32; 2], [i32; 2]) {
        let i = |x: f64, axis: usize| ((x - self.origin[axis]) / self.step[axis]).round() as i32;
        let low = [i(tile[0], 0), i(tile[2], 1)];
        (low, [i(tile[1], 0) - low[0], i(tile[3], 1) - low[1]])
    }

    fn uv(&self, at: [i32; 2]) -> [f64; 2] {
        [
            self.origin[0] + self.step[0] * f64::from(at[0]),
            self.origin[1] + self.step[1] * f64::from(at[1]),
        ]
    }

    /// Numbers the nodes on the borders of all tiles.
    fn borders(&mut self) {
        let tiles: Vec<[f64; 4]> = self
            .body
            .plain
            .iter()
            .copied()
            .chain(self.body.openings.iter().map(|o| o.numbers.tile))
            .collect();
        for tile in &tiles {
            for at in around(self.on_lattice(tile)) {
                self.border.insert(at, 0);
            }
        }
        let list: Vec<[i32; 2]> = self.border.keys().copied().collect();
        for (k, id) in self.border.values_mut().enumerate() {
            *id = k as u32;
        }
        let n = list.len() as u32;
        self.add(Kind::Border(list), 1, n, false, Vec::new());
    }

    fn ring(&mut self, opening: usize, step: f64) {
        let o = &self.body.openings[opening];
        let (low, cells) = self.on_lattice(&o.numbers.tile);
        let seam: Vec<u32> = around((low, cells))
            .iter()
            .map(|at| self.border[at])
            .collect();
        let corner = self.uv(low);
        let far = self.uv([low[0] + cells[0], low[1] + cells[1]]);
        let mut ring = Ring {
            opening,
            low: corner,
            size: [far[0] - corner[0], far[1] - corner[1]],
            cells: [cells[0] as u32, cells[1] as u32],
            rows: [0; 3],
            cuts: Vec::new(),
        };
        let n = 400;
        let mean = (0..n)
            .map(|k| {
                let tau = 4.0 * f64::from(k) / f64::from(n);
                gap(o.edge.bend_start(&o.edge.at(tau), 0.0), ring.rectangle(tau))
            })
            .sum::<f64>()
            / f64::from(n);
        let bend = &o.edge.bend;
        ring.rows = [
            steps(mean, step, 6),
            steps(bend.arc(), 0.8 * step, 2),
            steps(bend.depth - bend.tangent(), step, 3),
        ];
        let blocks: Vec<[u32; 4]> = o
            .holes
            .iter()
            .map(|h| self.block(&ring, h.uv, h.diameter, step))
            .collect();
        ring.cuts.clone_from(&blocks);
        let (rows, cols) = (ring.rows.iter().sum(), ring.cols());
        let index = self.add(Kind::Ring(ring), rows, cols, true, seam);
        for (hole, block) in blocks.into_iter().enumerate() {
            self.bolt(index, hole, block, step);
        }
    }

    /// The block of a ring that a hole takes the place of.
    fn block(&self, ring: &Ring, hole: [f64; 2], diameter: f64, step: f64) -> [u32; 4] {
        let edge = &self.body.openings[ring.opening].edge;
        let mut best = (f64::INFINITY, 0u32, 0.0);
        for c in 0..ring.cols() {
            let tau = ring.tau(f64::from(c));
            let (q, b) = (ring.rectangle(tau), edge.bend_start(&edge.at(tau), 0.0));
            let along = [b[0] - q[0], b[1] - q[1]];
            let l = ((hole[0] - q[0]) * along[0] + (hole[1] - q[1]) * along[1])
                / (along[0] * along[0] + along[1] * along[1]);
            let d = gap(mix(q, b, l), hole);
            if (0.0..=1.0).contains(&l) && d < best.0 {
                best = (d, c, l);
            }
        }
        let m = ring.rows[0];
        let (c, j) = (best.1, (ungraded(best.2) * f64::from(m)).round() as u32);
        let at = |c: f64, j: f64| self.ring_uv(ring, c, j);
        let (cf, jf) = (f64::from(c), f64::from(j));
        let across = gap(at(cf + 1.0, jf), at(cf - 1.0, jf)) / 2.0;
        let inward = gap(at(cf, jf + 1.0), at(cf, jf - 1.0)) / 2.0;
        let half = diameter / 2.0 + (1.6 * step).max(2.0);
        let (dc, dj) = (steps(half, across, 2), steps(half, inward, 2));
        let n = ring.cols();
        [
            (c + n - dc) % n,
            (c + dc) % n,
            j.saturating_sub(dj).max(1),
            (j + dj).min(m - 1),
        ]
    }

    fn bolt(&mut self, ring_index: usize, hole: usize, block: [u32; 4], step: f64) {
        let Kind::Ring(ring) = &self.patches[ring_index].kind else {
            return;
        };
        let n = ring.cols();
        let [c0, c1, j0, j1] = block;
        let width = (c1 + n - c0) % n;
        let mut loop_: Vec<[u32; 2]> = Vec::new();
        loop_.extend((0..width).map(|k| [(c0 + k) % n, j0]));
        loop_.extend((j0..j1).map(|j| [c1, j]));
        loop_.extend((0..width).map(|k| [(c1 + n - k) % n, j1]));
        loop_.extend((0..j1 - j0).map(|k| [c0, j1 - k]));
        let outer: Vec<[f64; 2]> = loop_
            .iter()
            .map(|&[c, j]| self.ring_node_uv(ring_index, ring, c, j))
            .collect();
        let opening = ring.opening;
        let h = &self.body.openings[opening].holes[hole];
        let angle: Vec<f64> = outer
            .iter()
            .map(|uv| {
                let off = self.body.panel.at(uv[0], uv[1]).p - h.centre;
                off.dot(&h.across[1]).atan2(off.dot(&h.across[0]))
            })
            .collect();
        let mean = outer.iter().map(|uv| gap(*uv, h.uv)).sum::<f64>() / outer.len() as f64
            - h.diameter / 2.0;
        let rows = [
            steps(mean, 0.8 * step, 2),
            steps(no::HOLE_WALL, 0.5 * step, 1),
        ];
        let seam = loop_
            .iter()
            .map(|&[c, j]| self.id(ring_index, j, c))
            .collect();
        let cols = outer.len() as u32;
        self.add(
            Kind::Bolt(Bolt {
                opening,
                hole,
                outer,
                angle,
                rows,
            }),
            rows[0] + rows[1],
            cols,
            true,
            seam,
        );
    }

    /// The back of the metal is seen through an opening from aside: along two stretches of its edge.
    fn back(&mut self, opening: usize, step: f64) {
        let edge = &self.body.openings[opening].edge;
        for (k, (start, span)) in [(0.0, 1.5), (2.0, 0.9)].into_iter().enumerate() {
            let shift = hash(&[self.seed, 71, opening as u64, k as u64]) as f64 / u64::MAX as f64;
            let tau = [start + 0.4 * shift, start + 0.4 * shift + span];
            let n = 200;
            let length: f64 = (0..n)
                .map(|i| {
                    let t = |i: i32| tau[0] + (tau[1] - tau[0]) * f64::from(i) / f64::from(n);
                    (edge.at(t(i + 1)).p - edge.at(t(i)).p).norm()
                })
                .sum();
            let b = &edge.bend;
            let rows = [
                steps(b.depth - b.tangent(), step, 3),
                steps((b.radius - b.thickness) * b.turn, 0.8 * step, 2),
                steps(no::BACK_STRIP, step, 3),
            ];
            let cols = steps(length, 1.2 * step, 4) + 1;
            self.add(
                Kind::Back(Back { opening, tau, rows }),
                rows.iter().sum::<u32>() + 1,
                cols,
                false,
                Vec::new(),
            );
        }
    }

    fn cheek(&mut self, step: f64) {
        let (low, cells) = self.on_lattice(&no::CHEEK_TILE);
        let seam: Vec<u32> = (0..=cells[1])
            .map(|k| self.border[&[low[0], low[1] + k]])
            .collect();
        let rows = [
            steps(no::BEND_RADIUS * std::f64::consts::FRAC_PI_2, 0.8 * step, 2),
            steps(no::CHEEK_WIDTH - no::BEND_RADIUS, step, 4),
        ];
        let cols = seam.len() as u32;
        self.add(Kind::Cheek(rows), rows[0] + rows[1], cols, false, seam);
    }
}

/// The border of a rectangle of the lattice, counter-clockwise from its least corner.
fn around((low, cells): ([i32; 2], [i32; 2])) -> Vec<[i32; 2]> {
    let ([x, y], [w, h]) = (low, cells);
    let mut all = Vec::with_capacity(2 * (w + h) as usize);
    all.extend((0..w).map(|k| [x + k, y]));
    all.extend((0..h).map(|k| [x + w, y + k]));
    all.extend((0..w).map(|k| [x + w - k, y + h]));
    all.extend((0..h).map(|k| [x, y + h - k]));
    all
}
