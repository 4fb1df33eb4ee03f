//! What a picture is drawn into, and objects made ready for it.
//!
//! Every pixel is one word: depth in the upper half, number of the point or triangle in the lower. The least word
//! stays, whatever the order of writing, so the result is the same for any number of threads.

use std::sync::atomic::{AtomicU64, Ordering};

use geom::{Aabb, Improper, Point, Vector};
use nalgebra::Matrix3;
use rayon::prelude::*;

use crate::picture::{DepthScale, EMPTY};
use crate::{Lens, Scene, View};

/// Nearest distance from the eye that is drawn, as a share of the eye's distance from the centre.
const NEAREST: f64 = 0.01;

/// An object's map into view axes (x right, y up, z towards the viewer, mm, origin at the camera's centre).
#[derive(Clone, Copy, Debug)]
pub(crate) struct Placed {
    pub turn: Matrix3<f64>,
    pub shift: Vector,
    /// Whether right hands become left hands.
    pub flips: bool,
}

impl Placed {
    pub fn new(view: &View, world_from_object: &Improper) -> Self {
        let c = &view.camera;
        let to_view = |v: Vector| c.view_from_world * world_from_object.vector(&v);
        Self {
            turn: Matrix3::from_columns(&[
                to_view(Vector::x()),
                to_view(Vector::y()),
                to_view(Vector::z()),
            ]),
            shift: c.view_from_world * (world_from_object.point(&Point::origin()) - c.centre),
            flips: world_from_object.flips(),
        }
    }

    /// A place in view axes.
    pub fn place(&self, p: &Point) -> Vector {
        self.turn * p.coords + self.shift
    }

    /// Back from view axes to object coordinates.
    pub fn back(&self, v: &Vector) -> Point {
        Point::from(self.turn.transpose() * (v - self.shift))
    }
}

/// The words of a picture while it is drawn.
#[derive(Debug)]
pub(crate) struct Raster {
    /// The picture asked for.
    pub view: View,
    /// Pixels of the picture per pixel here.
    pub coarseness: u32,
    pub width: u32,
    pub height: u32,
    /// The middle, pixels here.
    pub middle: (f64, f64),
    /// Length of a pixel here at the centre, mm.
    pub mm_per_px: f64,
    /// Distance of the eye before the centre, mm and pixels here; `None` for parallel sight.
    pub eye: Option<(f64, f64)>,
    pub scale: DepthScale,
    pub words: Vec<AtomicU64>,
}

/// A box as seen, pixels and depth in mm.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Extent {
    pub low: (f64, f64),
    pub high: (f64, f64),
    pub near: f64,
    pub far: f64,
}

impl Raster {
    pub fn new() -> Self {
        let camera = crate::Camera::along(Point::origin(), &Vector::x(), &Vector::z());
        Self {
            view: View {
                camera,
                width: 0,
                height: 0,
            },
            coarseness: 1,
            width: 0,
            height: 0,
            middle: (0.0, 0.0),
            mm_per_px: 1.0,
            eye: None,
            scale: DepthScale::over(0.0, 0.0),
            words: Vec::new(),
        }
    }

    /// Makes it ready for a view of a scene: sized, emptied, depths scaled.
    pub fn begin(&mut self, view: View, coarseness: u32, scene: &Scene) {
        let k = f64::from(coarseness);
        self.view = view;
        self.coarseness = coarseness;
        self.width = view.width.div_ceil(coarseness);
        self.height = view.height.div_ceil(coarseness);
        let (x, y) = view.middle();
        self.middle = (x / k, y / k);
        self.mm_per_px = view.camera.mm_per_px * k;
        self.eye = match view.camera.lens {
            Lens::Parallel => None,
            Lens::Perspective { eye_px } => Some((eye_px * view.camera.mm_per_px, eye_px / k)),
        };
        let n = self.width as usize * self.height as usize;
        self.words.resize_with(n, || AtomicU64::new(EMPTY));
        self.words.par_chunks_mut(1 << 16).for_each(|chunk| {
            for w in chunk {
                *w.get_mut() = EMPTY;
            }
        });
        let (mut near, mut far) = (f64::INFINITY, f64::NEG_INFINITY);
        for object in &scene.objects {
            let placed = Placed::new(&view, &object.world_from_object);
            object.each_extent(&mut |p| {
                let depth = -placed.place(&p).z;
                near = near.min(depth);
                far = far.max(depth);
            });
        }
        if let Some((eye_mm, _)) = self.eye {
            near = near.max(eye_mm * (NEAREST - 1.0));
        }
        self.scale = DepthScale::over(near, far);
    }

    /// Least depth that is drawn, mm; minus infinity for parallel sight.
    pub fn nearest(&self) -> f64 {
        self.eye
            .map_or(f64::NEG_INFINITY, |(mm, _)| mm * (NEAREST - 1.0))
    }

    /// Pixels per mm at a depth not nearer than [`Self::nearest`].
    pub fn px_per_mm(&self, depth: f64) -> f64 {
        match self.eye {
            None => 1.0 / self.mm_per_px,
            Some((mm, px)) => px / (mm + depth),
        }
    }

    /// Where a place in view axes is seen: x, y in pixels. Only for depths not nearer than [`Self::nearest`].
    pub fn pixel(&self, v: &Vector) -> (f64, f64) {
        let s = self.px_per_mm(-v.z);
        (self.middle.0 + v.x * s, self.middle.1 - v.y * s)
    }

    /// The place in view axes seen at x, y pixels at a depth.
    pub fn unpixel(&self, x: f64, y: f64, depth: f64) -> Vector {
        let s = 1.0 / self.px_per_mm(depth);
        Vector::new((x - self.middle.0) * s, (self.middle.1 - y) * s, -depth)
    }

    /// How a box is seen. `None` if no part of it is in the picture. A box that reaches behind the eye counts as
    /// filling the picture.
    pub fn extent(&self, placed: &Placed, bounds: &Aabb) -> Option<Extent> {
        if bounds.is_empty() {
            return None;
        }
        let inf = f64::INFINITY;
        let mut e = Extent {
            low: (inf, inf),
            high: (-inf, -inf),
            near: inf,
            far: -inf,
        };
        let mut behind = false;
        for c in crate::camera::corners(bounds) {
            let v = placed.place(&c);
            let depth = -v.z;
            e.near = e.near.min(depth);
            e.far = e.far.max(depth);
            if depth < self.nearest() {
                behind = true;
                continue;
            }
            let (x, y) = self.pixel(&v);
            e.low = (e.low.0.min(x), e.low.1.min(y));
            e.high = (e.high.0.max(x), e.high.1.max(y));
        }
        if e.far < self.nearest() {
            return None;
        }
        let (w, h) = (f64::from(self.width), f64::from(self.height));
        if behind {
            e.low = (0.0, 0.0);
            e.high = (w, h);
        }
        // Points are drawn as squares of up to 16 pixels about their place.
        let edge = 8.0;
        let seen = e.low.0 < w + edge && e.low.1 < h + edge && e.high.0 > -edge && e.high.1 > -edge;
        seen.then_some(e)
    }

    /// Writes a word where it is less than what stands there.
    pub fn put(&self, i: usize, word: u64) {
        let cell = &self.words[i];
        if word < cell.load(Ordering::Relaxed) {
            cell.fetch_min(word, Ordering::Relaxed);
        }
    }

    /// What stands in a pixel.
    pub fn word(&self, i: usize) -> u64 {
        self.words[i].load(Ordering::Relaxed)
    }
}

/// First number of each object, and one more; objects that do not fit any more get none.
pub(crate) fn starts(scene: &Scene) -> Vec<u32> {
    let mut starts = vec![0];
    let mut next: u32 = 0;
    for object in &scene.objects {
        let end = u32::try_from(object.count())
            .ok()
            .and_then(|n| next.checked_add(n))
            .filter(|end| *end < u32::MAX);
        next = end.unwrap_or(next);
        starts.push(next);
    }
    starts
}
