//! One scan as seen in the part axes of the opening that stays where it is.

use geom::{Improper, NoiseModel, Point, Unit, Vector};
use record::{SheetAxes, VisitId, VisitNoise};

use crate::measure::{Film, StripNoise, Surface};

/// A normal belongs to a sheet within this cosine of its direction at the edge.
const FACING: f64 = 0.5;

/// A scan, the map by which it is seen, and what is known of its noise.
pub(super) struct View<'a> {
    surface: Surface<'a>,
    /// a's part axes from its own scan axes.
    map: Improper,
    /// What is taken off the metal.
    pub film: Film,
    /// Noise of its visit.
    pub noise: &'a NoiseModel,
    /// The same for cells.
    pub cells: StripNoise,
    /// The visit.
    pub visit: &'a VisitId,
}

impl<'a> View<'a> {
    pub(super) fn new(
        surface: Surface<'a>,
        map: Improper,
        film: Film,
        noise: &'a VisitNoise,
    ) -> Self {
        Self {
            surface,
            map,
            film,
            noise: &noise.model,
            cells: StripNoise::new(&noise.model),
            visit: &noise.visit,
        }
    }

    /// Median distance between neighbouring points, mm.
    pub(super) fn spacing(&self) -> f64 {
        self.surface.spacing()
    }

    fn back(&self, p: &Point) -> Point {
        let p = self.map.rigid.inverse() * p;
        self.map.mirror.map_or(p, |m| m.point(&p))
    }

    fn back_direction(&self, v: &Vector) -> Vector {
        let v = self.map.rigid.rotation.inverse() * v;
        self.map.mirror.map_or(v, |m| m.vector(&v))
    }

    /// The points of a sheet near a section plane, as (along the edge, from the edge along the sheet, out of it), mm, in a
    /// fixed order: those within `half` of the plane, from `from` to `to` along the sheet, that face as it does. The film is
    /// taken off.
    pub(super) fn strip(
        &self,
        edge: &Point,
        tangent: &Unit,
        axes: &SheetAxes,
        half: f64,
        [from, to]: [f64; 2],
    ) -> Vec<[f64; 3]> {
        let reach = (to - from) / 2.0;
        let middle = edge + axes.along.into_inner() * (from + reach);
        let radius = reach.hypot(half) + 0.25 * reach + 2.0;
        let wanted = Unit::new_normalize(self.back_direction(&axes.out));
        let mut found = Vec::new();
        self.surface
            .in_ball(&self.back(&middle), radius, |slot, q| {
                let d = self.map.point(&q) - edge;
                let (s, t) = (d.dot(tangent), d.dot(&axes.along));
                let faces =
                    || self.surface.agreement(&self.surface.normal(slot), &wanted) >= FACING;
                if s.abs() <= half && t >= from && t < to && faces() {
                    found.push([s, t, d.dot(&axes.out) - self.film.mm]);
                }
            });
        found
    }
}
