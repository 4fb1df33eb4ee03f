//! A prepared scan as the measuring code sees it: points with a facing direction.

use std::sync::atomic::{AtomicU32, Ordering};
use std::sync::{Arc, OnceLock};

use geom::{Point, Unit, Vector};
use nalgebra::{Matrix3, SymmetricEigen};
use record::Prepared;

/// Neighbours from which a missing normal is taken.
const NEIGHBOURS: usize = 16;

/// Points between two looks at the wish to stop: about a millisecond where normals are worked out.
const STRETCH: u32 = 1024;

/// Normals of a scan that has none, point by point where they were asked for: what only finds its way asks for few.
#[derive(Debug, Default)]
pub struct Normals {
    /// One list a block, made when the first of it is asked for; bits of an `f32` each.
    blocks: Vec<OnceLock<Box<[[AtomicU32; 3]]>>>,
}

/// No number that comes of working one out.
const NOT_YET: u32 = u32::MAX;

impl Normals {
    fn none_yet(prepared: &Prepared) -> Self {
        let oriented = is_oriented(prepared);
        let count = if oriented {
            0
        } else {
            prepared.blocks.blocks().len()
        };
        Self {
            blocks: (0..count).map(|_| OnceLock::new()).collect(),
        }
    }

    /// The normal at place `k` of a block of `len` points; `None`: there is no such block.
    fn at(
        &self,
        block: usize,
        len: u32,
        k: u32,
        work_out: impl FnOnce() -> [f32; 3],
    ) -> Option<[f32; 3]> {
        let list = self.blocks.get(block)?.get_or_init(|| {
            let not_yet = || [const { AtomicU32::new(NOT_YET) }; 3];
            (0..len).map(|_| not_yet()).collect()
        });
        let [x, y, z] = list.get(k as usize)?;
        // The last word is written last and read first: where it is there, so are the others.
        let last = z.load(Ordering::Acquire);
        if last != NOT_YET {
            let bits = [x.load(Ordering::Relaxed), y.load(Ordering::Relaxed), last];
            return Some(bits.map(f32::from_bits));
        }
        // Who comes at the same time works out the very same.
        let found = work_out();
        x.store(found[0].to_bits(), Ordering::Relaxed);
        y.store(found[1].to_bits(), Ordering::Relaxed);
        z.store(found[2].to_bits(), Ordering::Release);
        Some(found)
    }
}

fn is_oriented(prepared: &Prepared) -> bool {
    !prepared.blocks.is_empty() && prepared.blocks.normal(0).is_some()
}

/// A scan with a normal at every point. Normals that the scan lacks are worked out where they are asked for; their sign
/// is then unknown.
pub struct Surface<'a> {
    prepared: &'a Prepared,
    normals: Arc<Normals>,
    /// Whether the normals point out of the metal (known from triangles or from the file).
    pub oriented: bool,
    /// Says whether the work was called off.
    stopped: Option<&'a (dyn Fn() -> bool + Sync)>,
}

impl<'a> Surface<'a> {
    /// Wraps a prepared scan; costs nothing yet.
    pub fn new(prepared: &'a Prepared) -> Self {
        Self::with_normals(prepared, Arc::new(Normals::none_yet(prepared)))
    }

    /// The same with the normals that were worked out of this very scan before.
    pub fn with_normals(prepared: &'a Prepared, normals: Arc<Normals>) -> Self {
        Self {
            prepared,
            normals,
            oriented: is_oriented(prepared),
            stopped: None,
        }
    }

    /// The normals worked out so far, to be used again.
    pub fn normals(&self) -> &Arc<Normals> {
        &self.normals
    }

    /// The same, able to be called off: once `stopped` says so no more points are found, so that whatever walks over the
    /// scan ends at once. What it gives then is worth nothing.
    pub fn watched(prepared: &'a Prepared, stopped: &'a (dyn Fn() -> bool + Sync)) -> Self {
        Self {
            stopped: Some(stopped),
            ..Self::new(prepared)
        }
    }

    /// Whether the work was called off: what is found from then on is worth nothing.
    pub fn is_stopped(&self) -> bool {
        self.stopped.is_some_and(|stopped| stopped())
    }

    /// The scan behind it.
    pub fn prepared(&self) -> &'a Prepared {
        self.prepared
    }

    /// Median distance between neighbouring points, mm.
    pub fn spacing(&self) -> f64 {
        self.prepared.spacing_mm
    }

    /// Calls `f` with slot and position of every point within `r` of `c`, in a fixed order. Normals are asked for by slot, as
    /// late as can be: they are unpacked or worked out each by itself.
    pub fn in_ball(&self, c: &Point, r: f64, f: impl FnMut(u32, Point)) {
        self.some_in_ball(c, r, 0.0, f);
    }

    /// The same of points that are on average no nearer to each other than `apart`, mm, or of all where the scan is
    /// coarser: enough for whatever finds its way before all points are weighed.
    pub fn some_in_ball(&self, c: &Point, r: f64, apart: f64, mut f: impl FnMut(u32, Point)) {
        let every = self.every(apart);
        let (mut told, mut stopped) = (0_u32, false);
        self.prepared
            .blocks
            .in_ball_every(c, r, every, |slot, p, _| {
                // The walk itself goes on to its end, which is soon reached once nothing is done on the way.
                stopped = stopped || (told.is_multiple_of(STRETCH) && self.is_stopped());
                told = told.wrapping_add(1);
                if !stopped {
                    f(slot, p);
                }
            });
    }

    /// One in so many points is about `apart` mm from the next; 1 where no point has to be left out.
    pub fn every(&self, apart: f64) -> usize {
        ((apart / self.spacing()).powi(2) as usize).max(1)
    }

    /// The normal at a slot of the scan; its sign means something only if [`Surface::oriented`].
    pub fn normal(&self, slot: u32) -> Vector {
        if let Some(n) = self.prepared.blocks.normal(slot) {
            return n;
        }
        let blocks = &self.prepared.blocks;
        let b = blocks.block_of(slot);
        let block = &blocks.blocks()[b];
        let work_out = || self.local_normal(slot).map(|x| x as f32).into();
        let found = self.normals.at(b, block.len, slot - block.first, work_out);
        found.map_or_else(Vector::z, |n| Vector::from(n.map(f64::from)))
    }

    /// How well a direction agrees with `wanted`: the cosine, its absolute value where signs are unknown.
    pub fn agreement(&self, normal: &Vector, wanted: &Unit) -> f64 {
        let c = normal.dot(wanted);
        if self.oriented { c } else { c.abs() }
    }

    fn local_normal(&self, slot: u32) -> Vector {
        let mut near = Vec::with_capacity(2 * NEIGHBOURS);
        let p = self.prepared.blocks.point(slot);
        let reach = (self.prepared.spacing_mm * 8.0).max(1e-6);
        self.prepared
            .blocks
            .k_nearest(&p, NEIGHBOURS, reach, &mut near);
        let mut mean = Vector::zeros();
        for (_, s) in &near {
            mean += self.prepared.blocks.point(*s) - p;
        }
        mean /= near.len().max(1) as f64;
        let mut m = Matrix3::zeros();
        for (_, s) in &near {
            let d = self.prepared.blocks.point(*s) - p - mean;
            m += d * d.transpose();
        }
        let eigen = SymmetricEigen::new(m);
        let smallest = eigen.eigenvalues.imin();
        eigen.eigenvectors.column(smallest).into_owned()
    }
}
