//! How the scans of a body are joined to one set of axes, as the job states it.

use geom::{Rigid, Vector};

use crate::{PlaceName, ScanId};

/// A turn about an axis through the origin, then a shift.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StartPose {
    /// Direction of the axis, any length; it may be zero where there is no turn.
    pub axis: Vector,
    /// The turn, right-handed about it, degrees.
    pub turn_deg: f64,
    /// The shift, mm.
    pub shift: Vector,
    /// How far a place may be off by it, mm; `None`: a twentieth of the size of the scan.
    pub within_mm: Option<f64>,
}

impl StartPose {
    /// As a map; not a number where it is turned about no axis.
    pub fn pose(&self) -> Rigid {
        let turn = if self.turn_deg == 0.0 {
            Vector::zeros()
        } else {
            self.axis.normalize() * self.turn_deg.to_radians()
        };
        Rigid::new(self.shift, turn)
    }
}

/// That one scan is joined to another: it then lies in the other's axes.
///
/// It rests on the places of the same name and side that were picked in both, on the surfaces that both show, or on both.
#[derive(Clone, Debug, PartialEq)]
pub struct Join {
    /// The scan that is joined; at most once in a job.
    pub scan: ScanId,
    /// The scan in whose axes it is to lie. Joins may follow each other, never round in a ring.
    pub to: ScanId,
    /// Names of the places it rests on; empty: all that are in both.
    pub places: Vec<String>,
    /// About where it lies, axes of `to` from those of `scan`, where no three places say so.
    pub start: Option<StartPose>,
    /// Whether the surfaces that both show are laid on each other as well.
    pub refine: bool,
    /// Free words.
    pub note: String,
}

/// A length taped between two named places: it checks what is joined.
#[derive(Clone, Debug, PartialEq)]
pub struct TapedLength {
    /// One end.
    pub from: PlaceName,
    /// Other end.
    pub to: PlaceName,
    /// What the tape said, mm.
    pub length_mm: f64,
    /// Give-or-take (95 %) of the tape, mm, > 0.
    pub u95_mm: f64,
    /// Free words.
    pub note: String,
}
