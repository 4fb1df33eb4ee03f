//! Gaps to a neighbour and hinges: what a person points at for them.

use geom::{Point, Vector};

use crate::{OpeningId, ScanId};

/// A gap between two panels on one side of the car.
#[derive(Clone, Debug, PartialEq)]
pub struct GapTrack {
    /// The scan it is picked in.
    pub scan: ScanId,
    /// Points along the gap from its named start, two at least, scan coordinates, mm.
    pub along: Vec<Point>,
    /// A point on the first panel, near the start.
    pub on_first: Point,
    /// Towards the outside, scan axes, if the scan does not say it itself.
    pub outward: Option<Vector>,
}

/// A gap between two panels, left and right.
#[derive(Clone, Debug, PartialEq)]
pub struct GapPick {
    /// What it is called: "door to wing".
    pub name: String,
    /// What the first panel is called: "door".
    pub first: String,
    /// What the second is called: "wing".
    pub second: String,
    /// On the left, if it was measured.
    pub left: Option<GapTrack>,
    /// On the right.
    pub right: Option<GapTrack>,
    /// Distance of the stations, mm.
    pub every_mm: f64,
    /// How far from the gap the panels are looked at, mm.
    pub reach_mm: f64,
}

/// The barrel of a hinge or a pin: part of a round wall.
#[derive(Clone, Debug, PartialEq)]
pub struct BarrelPick {
    /// Its name: "upper".
    pub name: String,
    /// A point on its wall near one end, scan coordinates, mm.
    pub from: Point,
    /// One near its other end.
    pub to: Point,
    /// Its diameter as far as known, mm.
    pub diameter_mm: Option<f64>,
}

/// What swings about the pins, and past what.
#[derive(Clone, Debug, PartialEq)]
pub struct SwingPick {
    /// The opening whose edge is that of the part that swings, in the scan of the hinge.
    pub part: OpeningId,
    /// The opening whose edge stays, in the same scan.
    pub body: OpeningId,
    /// How far it is turned, outward, degrees.
    pub open_deg: f64,
}

/// Pins that are to lie on one line.
#[derive(Clone, Debug, PartialEq)]
pub struct HingePick {
    /// What it is called: "left door hinges".
    pub name: String,
    /// The scan it is picked in.
    pub scan: ScanId,
    /// Its barrels in order.
    pub barrels: Vec<BarrelPick>,
    /// What swings, if that is asked for.
    pub swing: Option<SwingPick>,
}
