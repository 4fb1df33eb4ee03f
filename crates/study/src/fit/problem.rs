//! A part, an opening and what is allowed between them.

use geom::{Point, Unit, Vector};
use record::Allowed;

use super::EdgeCurve;

/// One station: the opening edge, and where the part's edge crosses its section plane before the part is moved.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FitStation {
    /// The opening edge, mm.
    pub opening: Point,
    /// The part's edge, mm.
    pub part: Point,
    /// Along the edge: the normal of the section plane.
    pub tangent: Unit,
    /// Towards the inside of the opening.
    pub gap_dir: Unit,
    /// Outward from the panel.
    pub flush_dir: Unit,
}

/// What is allowed at every station, mm, >= 0.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limits {
    /// Gap tighter than agreed.
    pub tight: f64,
    /// Gap wider.
    pub wide: f64,
    /// Part proud.
    pub proud: f64,
    /// Part shy.
    pub shy: f64,
}

impl Limits {
    /// The same both ways.
    pub fn even(gap: f64, flush: f64) -> Self {
        Self {
            tight: gap,
            wide: gap,
            proud: flush,
            shy: flush,
        }
    }

    /// What two sides together allow between their edges.
    #[must_use]
    pub fn shared(&self) -> Self {
        Self::even(self.tight + self.wide, self.proud + self.shy)
    }
}

impl From<&Allowed> for Limits {
    fn from(a: &Allowed) -> Self {
        Self {
            tight: a.tight_mm,
            wide: a.wide_mm,
            proud: a.proud_mm,
            shy: a.shy_mm,
        }
    }
}

/// How the part stands off the body at a fastener.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Seat {
    /// Metal on metal: being off pulls the part out of flush, so it counts against what is allowed of flush.
    Bare,
    /// Shims or a gasket make up anything within this range, mm along the axis; nothing beyond.
    Range(f64, f64),
}

/// A slot in the part.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FitSlot {
    /// Direction in the plane of the hole.
    pub along: Vector,
    /// Overall length less width, mm.
    pub extra: f64,
}

/// A fastener: the part's hole and the body's before the part is moved.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FitFastener {
    /// Middle of the part's hole, mm.
    pub part: Point,
    /// Middle of the body's hole, mm.
    pub body: Point,
    /// Axis of the body's hole, outward.
    pub axis: Unit,
    /// Radius of the circle within which the part's hole may lie about the body's, mm.
    pub play: f64,
    /// Slot in the part.
    pub slot: Option<FitSlot>,
    /// Stand-off.
    pub seat: Seat,
}

impl FitFastener {
    /// Two unit directions in the plane of the hole: part X laid into the plane, and the one to its left.
    pub fn across(&self) -> [Unit; 2] {
        let flat = |v: Vector| v - self.axis.into_inner() * self.axis.dot(&v);
        let x = flat(Vector::x());
        let x = if x.norm() > 0.1 { x } else { flat(Vector::y()) };
        let x = Unit::new_normalize(x);
        [x, Unit::new_normalize(self.axis.cross(&x))]
    }
}

/// A part to be placed in an opening.
#[derive(Clone, Debug, PartialEq)]
pub struct FitProblem {
    /// Stations of the opening edge that were seen.
    pub stations: Vec<FitStation>,
    /// The part's edge; without it the edge is taken as straight about each station.
    pub curve: Option<EdgeCurve>,
    /// Fasteners.
    pub fasteners: Vec<FitFastener>,
    /// What is allowed.
    pub limits: Limits,
}

impl FitProblem {
    /// The problem whose least share is that of one midway shape for both sides: this problem lays one side on the
    /// other; between two sides lie the allowances of both, the play of both holes (the part's hole lies midway) and
    /// the stand-off of both seats.
    #[must_use]
    pub fn midway(&self) -> Self {
        let fasteners = self
            .fasteners
            .iter()
            .map(|f| FitFastener {
                play: 2.0 * f.play,
                slot: f.slot.map(|s| FitSlot {
                    extra: 2.0 * s.extra,
                    ..s
                }),
                seat: match f.seat {
                    Seat::Bare => Seat::Bare,
                    Seat::Range(low, high) => Seat::Range(low - high, high - low),
                },
                ..*f
            })
            .collect();
        Self {
            limits: self.limits.shared(),
            fasteners,
            ..self.clone()
        }
    }

    /// The same without fasteners.
    #[must_use]
    pub fn loose(&self) -> Self {
        Self {
            fasteners: Vec::new(),
            ..self.clone()
        }
    }

    /// Middle of the stations and holes: the point about which the part is turned.
    pub fn middle(&self) -> Point {
        let all = self
            .stations
            .iter()
            .map(|s| s.opening)
            .chain(self.fasteners.iter().map(|f| f.body));
        let (mut sum, mut n) = (Vector::zeros(), 0.0);
        for p in all {
            sum += p.coords;
            n += 1.0;
        }
        Point::from(if n > 0.0 { sum / n } else { sum })
    }

    /// Farthest station or hole from `c`, mm, at least 1.
    pub fn reach(&self, c: &Point) -> f64 {
        let all = self
            .stations
            .iter()
            .map(|s| s.opening)
            .chain(self.fasteners.iter().map(|f| f.body));
        all.map(|p| (p - c).norm()).fold(1.0, f64::max)
    }
}
