//! A prepared scan as the measuring code sees it: points with a facing direction.

use std::sync::OnceLock;

use geom::{Point, Unit, Vector};
use nalgebra::{Matrix3, SymmetricEigen};
use record::Prepared;

/// Neighbours from which a missing normal is taken.
const NEIGHBOURS: usize = 16;

/// A scan with a normal at every point. Normals that the scan lacks are worked out block by block, and only in
/// the blocks that are asked for; their sign is then unknown.
pub struct Surface<'a> {
    prepared: &'a Prepared,
    normals: Vec<OnceLock<Vec<[f32; 3]>>>,
    /// Whether the normals point out of the metal (known from triangles or from the file).
    pub oriented: bool,
    /// Says whether the work was called off.
    stopped: Option<&'a (dyn Fn() -> bool + Sync)>,
}

impl<'a> Surface<'a> {
    /// Wraps a prepared scan; costs nothing yet.
    pub fn new(prepared: &'a Prepared) -> Self {
        let blocks = &prepared.blocks;
        let oriented = !blocks.is_empty() && blocks.normal(0).is_some();
        let cells = if oriented { 0 } else { blocks.blocks().len() };
        Self {
            prepared,
            normals: (0..cells).map(|_| OnceLock::new()).collect(),
            oriented,
            stopped: None,
        }
    }

    /// The same, able to be called off: once `stopped` says so no more points are found, so that whatever walks over the
    /// scan ends at once. What it gives then is worth nothing.
    pub fn watched(prepared: &'a Prepared, stopped: &'a (dyn Fn() -> bool + Sync)) -> Self {
        Self {
            stopped: Some(stopped),
            ..Self::new(prepared)
        }
    }

    /// The scan behind it.
    pub fn prepared(&self) -> &'a Prepared {
        self.prepared
    }

    /// Median distance between neighbouring points, mm.
    pub fn spacing(&self) -> f64 {
        self.prepared.spacing_mm
    }

    /// Calls `f` with slot, position and normal of every point within `r` of `c`, in a fixed order.
    pub fn in_ball(&self, c: &Point, r: f64, mut f: impl FnMut(u32, Point, Vector)) {
        if self.stopped.is_some_and(|stopped| stopped()) {
            return;
        }
        self.prepared
            .blocks
            .in_ball(c, r, |slot, p, _| f(slot, p, self.normal(slot)));
    }

    /// The same of points that are on average no nearer to each other than `apart`, mm, or of all where the scan is
    /// coarser: enough for whatever finds its way before all points are weighed.
    pub fn some_in_ball(
        &self,
        c: &Point,
        r: f64,
        apart: f64,
        mut f: impl FnMut(u32, Point, Vector),
    ) {
        if self.stopped.is_some_and(|stopped| stopped()) {
            return;
        }
        let every = self.every(apart);
        self.prepared
            .blocks
            .in_ball_every(c, r, every, |slot, p, _| f(slot, p, self.normal(slot)));
    }

    /// One in so many points is about `apart` mm from the next; 1 where no point has to be left out.
    pub fn every(&self, apart: f64) -> usize {
        ((apart / self.spacing()).powi(2) as usize).max(1)
    }

    /// The normal at a slot; its sign means something only if [`Surface::oriented`].
    pub fn normal(&self, slot: u32) -> Vector {
        if let Some(n) = self.prepared.blocks.normal(slot) {
            return n;
        }
        let blocks = self.prepared.blocks.blocks();
        let b = blocks
            .partition_point(|b| b.first <= slot)
            .saturating_sub(1);
        let Some(cell) = self.normals.get(b) else {
            return Vector::z();
        };
        let block = &blocks[b];
        let list = cell.get_or_init(|| {
            let mut near = Vec::new();
            (block.first..block.first + block.len)
                .map(|s| self.local_normal(s, &mut near).map(|x| x as f32).into())
                .collect()
        });
        Vector::from(list[(slot - block.first) as usize].map(f64::from))
    }

    /// How well a direction agrees with `wanted`: the cosine, its absolute value where signs are unknown.
    pub fn agreement(&self, normal: &Vector, wanted: &Unit) -> f64 {
        let c = normal.dot(wanted);
        if self.oriented { c } else { c.abs() }
    }

    fn local_normal(&self, slot: u32, near: &mut Vec<(f64, u32)>) -> Vector {
        let p = self.prepared.blocks.point(slot);
        let reach = (self.prepared.spacing_mm * 8.0).max(1e-6);
        self.prepared.blocks.k_nearest(&p, NEIGHBOURS, reach, near);
        let mut mean = Vector::zeros();
        for (_, s) in near.iter() {
            mean += self.prepared.blocks.point(*s) - p;
        }
        mean /= near.len().max(1) as f64;
        let mut m = Matrix3::zeros();
        for (_, s) in near.iter() {
            let d = self.prepared.blocks.point(*s) - p - mean;
            m += d * d.transpose();
        }
        let eigen = SymmetricEigen::new(m);
        let smallest = eigen.eigenvalues.imin();
        eigen.eigenvectors.column(smallest).into_owned()
    }
}
