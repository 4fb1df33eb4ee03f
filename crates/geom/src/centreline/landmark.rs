//! A place on both sides of a body, or on its middle.

use nalgebra::center;

use crate::{Point, Vector};

/// A place on the left and its like on the right; a place on the middle has both in one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Landmark {
    /// The place on the left, mm.
    pub left: Point,
    /// The like place on the right, mm.
    pub right: Point,
    /// Weight, > 0: one over the squared scatter of `right` minus the mirrored `left`, up to a common factor.
    pub weight: f64,
}

impl Landmark {
    /// A pair of places, each read with the scatter `sigma` (> 0; only its ratio to the others' counts).
    pub fn pair(left: Point, right: Point, sigma: f64) -> Self {
        Self {
            left,
            right,
            weight: 1.0 / (sigma * sigma),
        }
    }

    /// A place on the middle, read with the scatter `sigma`. It weighs half of a pair: its one reading is doubled by
    /// the mirror, where a pair has two independent ones.
    pub fn centre(p: Point, sigma: f64) -> Self {
        Self {
            left: p,
            right: p,
            weight: 0.5 / (sigma * sigma),
        }
    }

    /// Whether it is a place on the middle.
    pub fn is_centre(&self) -> bool {
        self.left == self.right
    }

    /// The point half-way, mm.
    pub fn midpoint(&self) -> Point {
        center(&self.left, &self.right)
    }

    /// From left to right, mm.
    pub fn chord(&self) -> Vector {
        self.right - self.left
    }

    pub(super) fn is_finite(&self) -> bool {
        let finite = |p: &Point| p.iter().all(|x| x.is_finite());
        finite(&self.left) && finite(&self.right) && self.weight.is_finite() && self.weight > 0.0
    }
}
