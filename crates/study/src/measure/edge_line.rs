//! A smooth line along an edge with directions at every place, and points described beside it.

use geom::{Point, Polyline, Spline, SplineBasis, SplineFit, Unit, Vector};
use nalgebra::SVector;
use rayon::prelude::*;

use super::edge_trace::Trace;
use super::surface::Surface;

/// Knot distance of the line itself, mm: fine enough for corner radii from about 10 mm.
const LINE_KNOTS: f64 = 4.0;
/// Knot distance of the way out of the panel, mm: that of the slopes of the strips laid beside the line. What a finer one
/// held of the noise of the first walk no strip would ever correct.
const OUT_KNOTS: f64 = 22.0;
/// Knot distance of the normal of the flange, which turns with every corner, mm.
const WALL_KNOTS: f64 = 12.0;
/// Distance of the cuts that share the points out, mm.
const CUT: f64 = 2.5;
/// What lies farther than this from the line both across and out is neither of the panel nor of the flange, mm.
pub const SHEETS: f64 = 3.5;
/// Slices searched at once.
const TOGETHER: usize = 8;

/// Place and directions on a line: along x inward x out is right-handed.
#[derive(Clone, Copy, Debug)]
pub struct Place {
    /// Position, mm.
    pub p: Point,
    /// Along the edge.
    pub along: Unit,
    /// In the panel, towards the inside of the opening.
    pub inward: Unit,
    /// Out of the panel.
    pub out: Unit,
    /// Normal of the flange.
    pub wall: Unit,
}

/// A smooth edge line.
#[derive(Clone, Debug)]
pub struct EdgeLine {
    curve: Spline<3>,
    out: Spline<3>,
    wall: Spline<3>,
    /// Length, mm; the parameter runs from 0 to it.
    pub length: f64,
    /// Whether it closes.
    pub closed: bool,
}

/// A point beside a line: length along it, and the coordinates across it.
#[derive(Clone, Copy, Debug)]
pub struct Beside {
    /// Along the line, mm.
    pub s: f64,
    /// Towards the inside of the opening, mm.
    pub x: f64,
    /// Out of the panel, mm.
    pub z: f64,
    /// Agreement of its normal with the panel.
    pub on_panel: f64,
    /// Agreement of its normal with the flange.
    pub on_wall: f64,
}

impl EdgeLine {
    /// Through the places of a walk.
    pub fn of_trace(trace: &Trace) -> Option<Self> {
        let places: Vec<(Point, Unit, Unit, f64)> = trace
            .points
            .iter()
            .map(|t| (t.p, t.out, t.wall, if t.seen { 1.0 } else { 0.05 }))
            .collect();
        Self::through(&places, trace.closed)
    }

    /// Through places with their directions and weights.
    pub fn through(places: &[(Point, Unit, Unit, f64)], closed: bool) -> Option<Self> {
        let chain = Polyline::new(places.iter().map(|p| p.0), closed)?;
        let at: Vec<f64> = (0..places.len()).map(|i| chain.arc_of(i)).collect();
        let weights: Vec<f64> = places.iter().map(|p| p.3).collect();
        let length = chain.length();
        let fit = SplineFit::new(
            SplineBasis::every(length, LINE_KNOTS, closed),
            &at,
            &weights,
            0.0,
        )?;
        let points: Vec<SVector<f64, 3>> = places.iter().map(|p| p.0.coords).collect();
        let directions = |knots| {
            SplineFit::new(
                SplineBasis::every(length, knots, closed),
                &at,
                &weights,
                0.0,
            )
        };
        let outs: Vec<Vector> = places.iter().map(|p| p.1.into_inner()).collect();
        let walls: Vec<Vector> = places.iter().map(|p| p.2.into_inner()).collect();
        Some(Self {
            curve: fit.curve(&points),
            out: directions(OUT_KNOTS)?.curve(&outs),
            wall: directions(WALL_KNOTS)?.curve(&walls),
            length,
            closed,
        })
    }

    /// Place and directions at `s`.
    pub fn at(&self, s: f64) -> Place {
        let tangent = self.curve.derivative(s, 1);
        let along = Unit::new_normalize(tangent);
        let rough = self.out.at(s);
        let out = Unit::new_normalize(rough - along.into_inner() * along.dot(&rough));
        let inward = Unit::new_normalize(out.cross(&along));
        let wall = Unit::new_normalize(self.wall.at(s));
        Place {
            p: Point::from(self.curve.at(s)),
            along,
            inward,
            out,
            wall,
        }
    }

    /// Every point of the scan within `reach` of the line (of those about `apart` mm from each other, if the scan is finer) that may
    /// be of either sheet, described beside it, in a fixed order. A point that lies beside two places of a bend counts for both.
    pub fn beside(&self, surface: &Surface, reach: f64, apart: f64) -> Vec<Beside> {
        let cuts = (self.length / CUT).ceil().max(4.0) as usize;
        let width = self.length / cuts as f64;
        let slices: Vec<Slice> = (0..cuts)
            .map(|k| {
                let end = if self.closed && k + 1 == cuts {
                    0
                } else {
                    k + 1
                };
                Slice {
                    from: self.at(width * k as f64),
                    to: self.at(width * end as f64),
                    middle: self.at(width * (k as f64 + 0.5)),
                    s: width * k as f64,
                    width,
                }
            })
            .collect();
        // A search takes in several slices: each alone would look at every point a dozen times.
        let search = |few: &[Slice]| {
            let mut found = Vec::new();
            let (first, last) = (few[0].from.p, few[few.len() - 1].to.p);
            let centre = nalgebra::center(&first, &last);
            let far = few
                .iter()
                .flat_map(|s| [s.from.p, s.middle.p, s.to.p])
                .map(|p| (p - centre).norm())
                .fold(0.0, f64::max);
            let planes = Planes::across(few, &centre);
            surface.some_in_ball(&centre, reach + far, apart, |slot, q| {
                let ahead = planes.ahead(&(q - centre));
                for (k, slice) in few.iter().enumerate() {
                    let (a, b) = (ahead[k], ahead[k + 1]);
                    if a >= 0.0 && b < 0.0 {
                        found.extend(slice.beside(surface, slot, &q, a / (a - b), reach));
                    }
                }
            });
            found
        };
        let found: Vec<Vec<Beside>> = slices.par_chunks(TOGETHER).map(search).collect();
        found.concat()
    }
}

/// The planes across the line at both ends of following slices, side by side: most points near several slices lie between
/// none of them.
struct Planes {
    normals: [[f64; TOGETHER + 1]; 3],
    offsets: [f64; TOGETHER + 1],
}

impl Planes {
    /// Of at most [`TOGETHER`] slices, each of which begins where the one before it ends; places are from `centre`.
    fn across(slices: &[Slice], centre: &Point) -> Self {
        let mut planes = Self {
            normals: [[0.0; TOGETHER + 1]; 3],
            offsets: [0.0; TOGETHER + 1],
        };
        let ends = slices.iter().map(|s| &s.from);
        let ends = ends.chain(slices.last().map(|s| &s.to));
        for (k, place) in ends.enumerate() {
            for (normals, x) in planes.normals.iter_mut().zip(place.along.iter()) {
                normals[k] = *x;
            }
            planes.offsets[k] = (place.p - centre).dot(&place.along);
        }
        planes
    }

    /// How far a place from the centre lies ahead of each plane, mm.
    #[inline]
    fn ahead(&self, d: &Vector) -> [f64; TOGETHER + 1] {
        let [x, y, z] = &self.normals;
        std::array::from_fn(|k| d.x * x[k] + d.y * y[k] + d.z * z[k] - self.offsets[k])
    }
}

/// A short piece of a line between two planes across it.
struct Slice {
    from: Place,
    to: Place,
    middle: Place,
    /// Length along the line at `from`, mm.
    s: f64,
    /// Its own length, mm.
    width: f64,
}

impl Slice {
    /// A point between its planes, at the share `f` of the way, described beside the line if it is near.
    fn beside(
        &self,
        surface: &Surface,
        slot: u32,
        q: &Point,
        f: f64,
        reach: f64,
    ) -> Option<Beside> {
        let (from, to, middle) = (&self.from, &self.to, &self.middle);
        let p = nalgebra::center(&from.p, &to.p);
        // The chord is short of the curve by its sag: put that back.
        let sag = (middle.p - p) * (4.0 * f * (1.0 - f));
        let d = q - (from.p + (to.p - from.p) * f + sag);
        if d.norm_squared() > reach * reach {
            return None;
        }
        let inward = from.inward.lerp(&to.inward, f);
        let out = from.out.lerp(&to.out, f);
        let (x, z) = (d.dot(&inward), d.dot(&out));
        if x.abs().min(z.abs()) > SHEETS {
            return None;
        }
        let normal = surface.normal(slot);
        Some(Beside {
            s: self.s + self.width * f,
            x,
            z,
            on_panel: surface.agreement(&normal, &middle.out),
            on_wall: surface.agreement(&normal, &middle.wall),
        })
    }
}
