//! A plane with a side.

use crate::{Point, Rigid, Unit};

/// The plane of all p with `normal . p = offset`; the positive side is where `normal` points.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Plane {
    /// Unit normal.
    pub normal: Unit,
    /// Distance of the plane from the origin along `normal`, mm.
    pub offset: f64,
}

impl Plane {
    /// The plane through `p` with normal `n`.
    pub fn through(p: &Point, n: Unit) -> Self {
        Self {
            normal: n,
            offset: n.dot(&p.coords),
        }
    }

    /// Signed distance of `p`, mm, positive on the side of the normal.
    pub fn distance(&self, p: &Point) -> f64 {
        self.normal.dot(&p.coords) - self.offset
    }

    /// The foot of the perpendicular from `p`.
    pub fn foot(&self, p: &Point) -> Point {
        p - self.normal.into_inner() * self.distance(p)
    }

    /// The same plane in other coordinates.
    #[must_use]
    pub fn moved(&self, a_from_b: &Rigid) -> Self {
        let foot = Point::from(self.normal.into_inner() * self.offset);
        Self::through(
            &(a_from_b * foot),
            Unit::new_normalize(a_from_b.rotation * self.normal.into_inner()),
        )
    }
}
