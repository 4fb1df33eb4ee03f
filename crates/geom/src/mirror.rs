//! Mirrors, and rigid maps with one mirror in them.

use crate::{Plane, Point, Rigid, Unit, Vector};

/// The reflection I - 2nn' about a plane.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mirror {
    /// The plane that stays where it is.
    pub plane: Plane,
}

impl Mirror {
    /// The mirror about the plane Y = 0.
    pub fn y() -> Self {
        Self {
            plane: Plane {
                normal: Unit::new_unchecked(Vector::y()),
                offset: 0.0,
            },
        }
    }

    /// The mirror about the plane through `p` with normal `n`.
    pub fn through(p: &Point, n: Unit) -> Self {
        Self {
            plane: Plane::through(p, n),
        }
    }

    /// The same mirror in other coordinates.
    #[must_use]
    pub fn moved(&self, a_from_b: &Rigid) -> Self {
        Self {
            plane: self.plane.moved(a_from_b),
        }
    }

    /// The image of a position.
    pub fn point(&self, p: &Point) -> Point {
        p - self.plane.normal.into_inner() * (2.0 * self.plane.distance(p))
    }

    /// The image of a direction or displacement.
    pub fn vector(&self, v: &Vector) -> Vector {
        v - self.plane.normal.into_inner() * (2.0 * self.plane.normal.dot(v))
    }
}

/// A length-keeping map: an optional mirror first, then a proper rigid map. It never leaves the program as a
/// matrix of negative determinant; meshes that pass through it get their winding rewritten.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Improper {
    /// Applied first, if any.
    pub mirror: Option<Mirror>,
    /// Applied second.
    pub rigid: Rigid,
}

impl Improper {
    /// A proper map.
    pub fn proper(rigid: Rigid) -> Self {
        Self {
            mirror: None,
            rigid,
        }
    }

    /// A mirror about Y = 0, then `rigid`.
    pub fn mirrored(rigid: Rigid) -> Self {
        Self {
            mirror: Some(Mirror::y()),
            rigid,
        }
    }

    /// The image of a position.
    pub fn point(&self, p: &Point) -> Point {
        self.rigid * self.mirror.map_or(*p, |m| m.point(p))
    }

    /// The image of a direction or displacement.
    pub fn vector(&self, v: &Vector) -> Vector {
        self.rigid.rotation * self.mirror.map_or(*v, |m| m.vector(v))
    }

    /// Whether right hands become left hands.
    pub fn flips(&self) -> bool {
        self.mirror.is_some()
    }
}
