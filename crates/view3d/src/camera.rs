//! From where a picture is taken, and how that is moved.
//!
//! View axes: x to the right, y up, z towards the viewer; the origin is [`Camera::centre`].

use geom::{Aabb, Point, Unit, Vector, any_perpendicular};
use nalgebra::{Matrix3, Rotation3, UnitQuaternion};

use crate::View;

/// How depth shows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Lens {
    /// Lines of sight are parallel: equal lengths look equal, as on a drawing.
    Parallel,
    /// Lines of sight meet in an eye that lies `eye_px` pixels before the centre (1,500 is calm, 800 is close).
    Perspective {
        /// Distance of the eye from the centre, in pixels of the picture.
        eye_px: f64,
    },
}

/// Directions of sight in car axes (X rearward, Y to the car's right, Z up). Names say where the viewer stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stand {
    /// Before the nose, looking rearward.
    Front,
    /// Behind the car, looking forward.
    Rear,
    /// On the car's left.
    Left,
    /// On the car's right.
    Right,
    /// Above, nose up: the car's left is on the left of the picture.
    Above,
    /// Below, nose up: the car's left is on the right of the picture.
    Below,
}

/// From where a picture is taken.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Camera {
    /// The place in the middle of the picture, world, mm.
    pub centre: Point,
    /// Turns world directions into view directions (x right, y up, z towards the viewer).
    pub view_from_world: UnitQuaternion<f64>,
    /// Length of a pixel at the centre, mm.
    pub mm_per_px: f64,
    /// How depth shows.
    pub lens: Lens,
}

impl Camera {
    /// Looks along `direction` at `centre` with `up` upright in the picture, 1 mm per pixel, parallel. Where `up` runs
    /// along the direction some perpendicular stands in for it; a direction without length counts as downward.
    pub fn along(centre: Point, direction: &Vector, up: &Vector) -> Self {
        let back = Unit::try_new(-direction, 1e-12).unwrap_or_else(Vector::z_axis);
        let right = Unit::try_new(up.cross(&back), 1e-9 * up.norm().max(1e-300))
            .unwrap_or_else(|| any_perpendicular(&back));
        let up = back.cross(&right);
        let world_from_view = Matrix3::from_columns(&[right.into_inner(), up, back.into_inner()]);
        let turn = Rotation3::from_matrix_unchecked(world_from_view.transpose());
        Self {
            centre,
            view_from_world: UnitQuaternion::from_rotation_matrix(&turn),
            mm_per_px: 1.0,
            lens: Lens::Parallel,
        }
    }

    /// One of the plain views of a car.
    pub fn standing(stand: Stand, centre: Point) -> Self {
        let (x, y, z) = (Vector::x(), Vector::y(), Vector::z());
        match stand {
            Stand::Front => Self::along(centre, &x, &z),
            Stand::Rear => Self::along(centre, &-x, &z),
            Stand::Left => Self::along(centre, &y, &z),
            Stand::Right => Self::along(centre, &-y, &z),
            Stand::Above => Self::along(centre, &-z, &-x),
            Stand::Below => Self::along(centre, &z, &-x),
        }
    }

    /// Whether every number is finite and the pixel has a length; a picture by a camera that is not is empty.
    pub fn is_sound(&self) -> bool {
        let lens = match self.lens {
            Lens::Parallel => true,
            Lens::Perspective { eye_px } => eye_px.is_finite() && eye_px > 0.0,
        };
        lens && self.mm_per_px.is_finite()
            && self.mm_per_px > 0.0
            && self.centre.iter().all(|x| x.is_finite())
            && self.view_from_world.coords.iter().all(|x| x.is_finite())
    }

    /// The direction of sight at the centre, world, length one.
    pub fn forward(&self) -> Vector {
        self.view_from_world.inverse() * -Vector::z()
    }

    /// The direction that points right in the picture, world.
    pub fn right(&self) -> Vector {
        self.view_from_world.inverse() * Vector::x()
    }

    /// The direction that points up in the picture, world.
    pub fn up(&self) -> Vector {
        self.view_from_world.inverse() * Vector::y()
    }

    /// Pushes the picture by so many pixels to the right and down (what is at the centre depth follows the pointer).
    #[must_use]
    pub fn panned(&self, right_px: f64, down_px: f64) -> Self {
        let m = self.mm_per_px;
        let by = self.right() * (-right_px * m) + self.up() * (down_px * m);
        Self {
            centre: self.centre + by,
            ..*self
        }
    }

    /// Enlarges by `factor` (2: twice as large) and keeps what is at the centre depth `right_px`, `down_px` from the
    /// middle of the picture where it is. A factor that is not finite or not above zero changes nothing.
    #[must_use]
    pub fn zoomed(&self, factor: f64, right_px: f64, down_px: f64) -> Self {
        if !factor.is_finite() || factor <= 0.0 {
            return *self;
        }
        let m = self.mm_per_px / factor;
        let shift = self.mm_per_px - m;
        Self {
            centre: self.centre + self.right() * (right_px * shift) - self.up() * (down_px * shift),
            mm_per_px: m,
            ..*self
        }
    }

    /// Turns what is seen about `pivot`, which stays where it is in the picture: `right` (radians) about the axis `up`
    /// as on a turntable, following the pointer to the right; `down` (radians) tips the top towards the viewer. `up`
    /// never turns upside down.
    #[must_use]
    pub fn turned(&self, right: f64, down: f64, pivot: &Point, up: &Unit) -> Self {
        let up_in_view = self.view_from_world * up.into_inner();
        // Above the horizon up leans towards the viewer. The angle in the y-z plane is measured from y.
        let lean = up_in_view.z.atan2(up_in_view.y.max(0.0));
        let half = std::f64::consts::FRAC_PI_2;
        let tip = (lean + down).clamp(-half, half) - lean;
        let tipped = UnitQuaternion::from_axis_angle(&Vector::x_axis(), tip);
        let spun = UnitQuaternion::from_axis_angle(up, right);
        let view_from_world =
            UnitQuaternion::new_normalize((tipped * self.view_from_world * spun).into_inner());
        let offset = self.view_from_world * (self.centre - pivot);
        Self {
            centre: pivot + view_from_world.inverse() * offset,
            view_from_world,
            ..*self
        }
    }

    /// The same direction with all `points` in a picture of `width` x `height` pixels, `margin_px` from its sides.
    /// Fewer than one point, or points that are not finite: unchanged. One place only: centred, scale kept.
    #[must_use]
    pub fn fitted(
        &self,
        points: impl IntoIterator<Item = Point>,
        (width, height): (u32, u32),
        margin_px: f64,
    ) -> Self {
        let seen: Vec<Vector> = points
            .into_iter()
            .filter(|p| p.iter().all(|x| x.is_finite()))
            .map(|p| self.view_from_world * (p - self.centre))
            .collect();
        if seen.is_empty() {
            return *self;
        }
        let places: Vec<Point> = seen.iter().map(|v| Point::from(*v)).collect();
        let bounds = Aabb::of(&places);
        let middle = bounds.centre().coords;
        let free = |px: u32| (f64::from(px) - 2.0 * margin_px).max(1.0);
        let half = (0.5 * free(width), 0.5 * free(height));
        // A place v is inside if |v.x| <= half.x * (m - v.z / eye): m is bounded from below by each place alone.
        let per_depth = match self.lens {
            Lens::Parallel => 0.0,
            Lens::Perspective { eye_px } => 1.0 / eye_px,
        };
        let mut m: f64 = 0.0;
        for v in &seen {
            let d = v - middle;
            m = m.max((d.x.abs() / half.0).max(d.y.abs() / half.1) + d.z * per_depth);
        }
        Self {
            centre: self.centre + self.view_from_world.inverse() * middle,
            mm_per_px: if m > 0.0 && m.is_finite() {
                m
            } else {
                self.mm_per_px
            },
            ..*self
        }
    }

    /// The same direction with a box in the picture; see [`Self::fitted`].
    #[must_use]
    pub fn fitted_to(&self, bounds: &Aabb, size: (u32, u32), margin_px: f64) -> Self {
        if bounds.is_empty() {
            return *self;
        }
        self.fitted(corners(bounds), size, margin_px)
    }

    /// Zooms to a box drawn on the picture from (`x0`, `y0`) to (`x1`, `y1`), pixels. A box without area changes
    /// nothing.
    #[must_use]
    pub fn zoomed_to(&self, view: &View, (x0, y0): (f64, f64), (x1, y1): (f64, f64)) -> Self {
        let (w, h) = ((x1 - x0).abs(), (y1 - y0).abs());
        if w.is_nan() || h.is_nan() || w < 1.0 || h < 1.0 {
            return *self;
        }
        let (width, height) = (f64::from(view.width), f64::from(view.height));
        let (right, down) = (
            0.5 * (x0 + x1) - 0.5 * width,
            0.5 * (y0 + y1) - 0.5 * height,
        );
        let factor = (width / w).min(height / h);
        self.panned(-right, -down).zoomed(factor, 0.0, 0.0)
    }

    /// On the way to another camera: this one at `t` 0, the other at 1. Directions turn evenly, the scale grows
    /// evenly by ratio, the lens changes at the start.
    #[must_use]
    pub fn towards(&self, other: &Self, t: f64) -> Self {
        let t = if t > 0.0 { t.min(1.0) } else { 0.0 };
        let turn = self
            .view_from_world
            .try_slerp(&other.view_from_world, t, 1e-9)
            .unwrap_or(other.view_from_world);
        Self {
            centre: self.centre + (other.centre - self.centre) * t,
            view_from_world: turn,
            mm_per_px: self.mm_per_px.powf(1.0 - t) * other.mm_per_px.powf(t),
            lens: other.lens,
        }
    }
}

/// The eight corners of a box.
pub(crate) fn corners(b: &Aabb) -> [Point; 8] {
    let (l, h) = (b.low, b.high);
    [0, 1, 2, 3, 4, 5, 6, 7].map(|i: u8| {
        let pick = |bit: u8, k: usize| if i >> bit & 1 == 1 { h[k] } else { l[k] };
        Point::new(pick(0, 0), pick(1, 1), pick(2, 2))
    })
}
