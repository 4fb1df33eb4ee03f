//! Right-handed axes on a patch of surface.

use crate::{FitError, Point, Rigid, Unit, Vector, any_perpendicular};

/// Right-handed axes at a place of a surface: `u` and `v` along it, `n` out of it; heights h are along `n`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LocalAxes {
    /// Where u = v = h = 0.
    pub origin: Point,
    /// First direction along the surface.
    pub u: Unit,
    /// Second direction along the surface, `n` x `u`.
    pub v: Unit,
    /// Direction of heights.
    pub n: Unit,
}

impl LocalAxes {
    /// Axes with `n` as given and `u` as near to `along` as `n` allows. `FitError::Degenerate` if `along` is zero or
    /// parallel to `n` (within 1e-9).
    pub fn along(origin: Point, along: &Vector, n: Unit) -> Result<Self, FitError> {
        let flat = along - n.into_inner() * n.dot(along);
        let length = flat.norm();
        if !length.is_finite() {
            return Err(FitError::NotFinite);
        }
        if length <= 1e-9 * along.norm() {
            return Err(FitError::Degenerate);
        }
        let u = Unit::new_unchecked(flat / length);
        Ok(Self {
            origin,
            u,
            v: Unit::new_normalize(n.cross(&u)),
            n,
        })
    }

    /// Axes with `n` as given and `u` chosen by the fixed rule of [`any_perpendicular`].
    pub fn about(origin: Point, n: Unit) -> Self {
        let u = any_perpendicular(&n);
        Self {
            origin,
            u,
            v: Unit::new_normalize(n.cross(&u)),
            n,
        }
    }

    /// The coordinates (u, v, h) of a position, mm.
    #[inline]
    pub fn local(&self, p: &Point) -> [f64; 3] {
        let d = p - self.origin;
        [self.u.dot(&d), self.v.dot(&d), self.n.dot(&d)]
    }

    /// The position with the coordinates (u, v, h), mm.
    pub fn point(&self, u: f64, v: f64, h: f64) -> Point {
        self.origin + self.vector(u, v, h)
    }

    /// The displacement with the components (u, v, h).
    pub fn vector(&self, u: f64, v: f64, h: f64) -> Vector {
        self.u.into_inner() * u + self.v.into_inner() * v + self.n.into_inner() * h
    }

    /// The same axes in other coordinates.
    #[must_use]
    pub fn moved(&self, a_from_b: &Rigid) -> Self {
        Self {
            origin: a_from_b * self.origin,
            u: a_from_b.rotation * self.u,
            v: a_from_b.rotation * self.v,
            n: a_from_b.rotation * self.n,
        }
    }
}
