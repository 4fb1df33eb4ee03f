//! A part to be made and what is allowed of it.

use crate::{HoleId, PartId};

/// What is allowed, per direction, added worst-case. All are distances from the agreed gap or flush, >= 0.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Allowed {
    /// How much tighter than agreed the gap may be, mm.
    pub tight_mm: f64,
    /// How much wider, mm.
    pub wide_mm: f64,
    /// How far the part may stand proud, mm.
    pub proud_mm: f64,
    /// How far it may be shy, mm.
    pub shy_mm: f64,
    /// How far a junction angle may be off, degrees.
    pub angle_deg: f64,
}

/// What the eye asks of the gap, whatever its width: that it is the same all round and does not taper.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Evenness {
    /// How far the gap may be off its own mean, mm.
    pub within_mm: f64,
    /// How much it may change over 100 mm of edge, mm.
    pub taper_mm: f64,
}

/// How a fastener is held.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Fixing {
    /// Tapped body or stud: play on the part only, (H - F)/2.
    Fixed,
    /// Bolt and nut: play in both, (H_part - F)/2 + (H_body - F)/2.
    Floating,
}

/// A slot instead of a round hole.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Slot {
    /// Direction in the flat of the part (part X, part Y).
    pub along: [f64; 2],
    /// Overall length less width, mm.
    pub extra_mm: f64,
}

/// A gasket under a fastener or all round.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gasket {
    /// Free thickness, mm.
    pub thickness_mm: f64,
    /// Least compression at which it seals, 0 to 1.
    pub least: f64,
    /// Most compression it stands, 0 to 1.
    pub most: f64,
}

/// A fastener of the part.
#[derive(Clone, Debug, PartialEq)]
pub struct Fastener {
    /// The hole it goes through, by the name it has in the openings.
    pub hole: HoleId,
    /// Diameter of the fastener, mm.
    pub fastener_mm: f64,
    /// Hole in the part, mm.
    pub part_hole_mm: f64,
    /// Hole in the body, mm; not used when fixed.
    pub body_hole_mm: f64,
    /// How it is held.
    pub fixing: Fixing,
    /// Slot in the part, if any.
    pub slot: Option<Slot>,
    /// Least and most stand-off made up by shims, mm.
    pub shim_mm: (f64, f64),
}

/// Film on the part and on the body.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Finish {
    /// What it is called.
    pub name: String,
    /// Growth of the part outward per face, mm.
    pub part_mm: f64,
    /// Film still to come on the body per face, mm.
    pub body_mm: f64,
}

/// A part.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// Its name in the job.
    pub id: PartId,
    /// What it is called in sentences: "Lamp surround".
    pub name: String,
    /// Agreed gap between part and opening edge, mm.
    pub gap_mm: f64,
    /// What is allowed.
    pub allowed: Allowed,
    /// How even the gap has to be, where the eye rules.
    pub evenness: Option<Evenness>,
    /// Its fasteners.
    pub fasteners: Vec<Fastener>,
    /// A gasket all round, if any.
    pub gasket: Option<Gasket>,
    /// Its finish.
    pub finish: Finish,
    /// Radius of the cutter for inside corners, mm.
    pub cutter_radius_mm: f64,
    /// Whether it carries load or safety (hinge, latch, lamp aim, belts): no mirror short cut is offered.
    pub load_bearing: bool,
    /// What must not be mirrored: text, threads, drain, bulb-up mark.
    pub must_not_mirror: Vec<String>,
    /// Whether the pair is seen together.
    pub seen_together: bool,
    /// Where on the body it sits, for the plan: share of the length from the nose, share of the half width from the middle,
    /// both 0 to 1. A convenience: no figure hangs on it. `None`: not said.
    pub place: Option<[f64; 2]>,
    /// Free words.
    pub note: String,
}
