//! Axis-aligned boxes.

use crate::Point;

/// A box with edges along the axes; `low <= high` in every axis unless it is empty.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Aabb {
    /// Smallest coordinates, mm.
    pub low: Point,
    /// Largest coordinates, mm.
    pub high: Point,
}

impl Aabb {
    /// The box that holds nothing.
    pub fn empty() -> Self {
        Self {
            low: Point::from([f64::INFINITY; 3]),
            high: Point::from([f64::NEG_INFINITY; 3]),
        }
    }

    /// The box of all points within `r` of `c` in every axis.
    pub fn around(c: &Point, r: f64) -> Self {
        Self {
            low: c.map(|x| x - r),
            high: c.map(|x| x + r),
        }
    }

    /// The smallest box that holds all points.
    pub fn of<'a>(points: impl IntoIterator<Item = &'a Point>) -> Self {
        let mut b = Self::empty();
        for p in points {
            b.add(p);
        }
        b
    }

    /// Grows to hold `p`.
    pub fn add(&mut self, p: &Point) {
        self.low = Point::from(self.low.coords.inf(&p.coords));
        self.high = Point::from(self.high.coords.sup(&p.coords));
    }

    /// Whether nothing is inside.
    pub fn is_empty(&self) -> bool {
        (0..3).any(|i| self.low[i] > self.high[i])
    }

    /// Whether `p` is inside or on the boundary.
    pub fn holds(&self, p: &Point) -> bool {
        (0..3).all(|i| self.low[i] <= p[i] && p[i] <= self.high[i])
    }

    /// Whether the boxes share a point.
    pub fn meets(&self, other: &Self) -> bool {
        (0..3).all(|i| self.low[i] <= other.high[i] && other.low[i] <= self.high[i])
    }

    /// Squared distance from `p` to the box, 0 inside, mm2.
    pub fn distance2(&self, p: &Point) -> f64 {
        (0..3)
            .map(|i| {
                let d = (self.low[i] - p[i]).max(p[i] - self.high[i]).max(0.0);
                d * d
            })
            .sum()
    }

    /// The middle.
    pub fn centre(&self) -> Point {
        nalgebra::center(&self.low, &self.high)
    }

    /// Edge lengths, mm.
    pub fn size(&self) -> crate::Vector {
        self.high - self.low
    }
}
