//! A camera with the size of its picture: from the world to pixels and back.

use geom::{Point, Vector};

use crate::{Camera, Lens};

/// A line of sight.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ray {
    /// Where it begins, world, mm. For parallel sight: in the plane through the camera's centre (depth 0); what is
    /// nearer lies at negative distances. In perspective: the eye.
    pub from: Point,
    /// Where it runs, world, length one.
    pub direction: Vector,
}

impl Ray {
    /// The place `distance` mm along the ray.
    pub fn at(&self, distance: f64) -> Point {
        self.from + self.direction * distance
    }
}

/// A place in a picture.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Seen {
    /// Pixels from the left side.
    pub x: f64,
    /// Pixels from the top.
    pub y: f64,
    /// Depth behind the plane through the camera's centre, along the direction of sight at the centre, mm.
    pub depth: f64,
}

/// A camera and the size of its picture. Pixel (0, 0) is the upper left one and reaches from 0 to 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct View {
    /// From where it is taken.
    pub camera: Camera,
    /// Pixels across.
    pub width: u32,
    /// Pixels down.
    pub height: u32,
}

impl View {
    /// The middle of the picture, pixels.
    pub fn middle(&self) -> (f64, f64) {
        (0.5 * f64::from(self.width), 0.5 * f64::from(self.height))
    }

    /// Where a place of the world is seen, whether inside the picture or not. `None` behind the eye.
    pub fn project(&self, p: &Point) -> Option<Seen> {
        let c = &self.camera;
        let v = c.view_from_world * (p - c.centre);
        let px_per_mm = self.px_per_mm(-v.z)?;
        let (x0, y0) = self.middle();
        Some(Seen {
            x: x0 + v.x * px_per_mm,
            y: y0 - v.y * px_per_mm,
            depth: -v.z,
        })
    }

    /// Pixels per mm across the line of sight at a depth (see [`Seen::depth`]). `None` at or behind the eye.
    pub fn px_per_mm(&self, depth: f64) -> Option<f64> {
        match self.camera.lens {
            Lens::Parallel => Some(1.0 / self.camera.mm_per_px),
            Lens::Perspective { eye_px } => {
                let away = eye_px * self.camera.mm_per_px + depth;
                (away > 0.0).then(|| eye_px / away)
            }
        }
    }

    /// The place seen at (`x`, `y`) pixels at a depth (see [`Seen::depth`]), world, mm.
    pub fn unproject(&self, seen: &Seen) -> Point {
        let c = &self.camera;
        let (x0, y0) = self.middle();
        let mm_per_px = match c.lens {
            Lens::Parallel => c.mm_per_px,
            Lens::Perspective { eye_px } => c.mm_per_px + seen.depth / eye_px,
        };
        let v = Vector::new(
            (seen.x - x0) * mm_per_px,
            (y0 - seen.y) * mm_per_px,
            -seen.depth,
        );
        c.centre + c.view_from_world.inverse() * v
    }

    /// The line of sight through (`x`, `y`) pixels.
    pub fn ray(&self, x: f64, y: f64) -> Ray {
        let c = &self.camera;
        let (x0, y0) = self.middle();
        let back = c.view_from_world.inverse();
        match c.lens {
            Lens::Parallel => Ray {
                from: self.unproject(&Seen { x, y, depth: 0.0 }),
                direction: back * -Vector::z(),
            },
            Lens::Perspective { eye_px } => Ray {
                from: c.centre + back * Vector::new(0.0, 0.0, eye_px * c.mm_per_px),
                direction: back * Vector::new(x - x0, y0 - y, -eye_px).normalize(),
            },
        }
    }
}
