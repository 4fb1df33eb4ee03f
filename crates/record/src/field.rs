//! What a field sheet asks for: the points of an opening and the readings to take.

use crate::{HandKind, OpeningId, Side};

/// What a point of a field sheet is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum PlanRole {
    /// A point of the opening edge.
    Edge,
    /// The middle of a hole or stud.
    Hole,
    /// A mark on the panel beside the opening.
    Panel,
    /// A mark raised off the panel: on a stand, a bracket, a bar clamped across.
    Raised,
}

/// A point of a field sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct PlanPoint {
    /// Its name, as rows of a hand table name it.
    pub name: String,
    /// Where it is drawn: to the right and up as seen from outside, mm.
    pub at: [f64; 2],
    /// What it is.
    pub role: PlanRole,
}

/// A reading to take: a numbered row with an empty box for each time.
#[derive(Clone, Debug, PartialEq)]
pub struct PlanBox {
    /// What is read.
    pub kind: HandKind,
    /// As in a row of a hand table.
    pub from: Vec<String>,
    /// As in a row of a hand table.
    pub to: Vec<String>,
    /// As in a row of a hand table.
    pub station: String,
    /// How many times, 1 to 3.
    pub times: u8,
}

/// The field sheet of one opening. Left and right have the same boxes in the same order; the sketch of one is the mirror
/// image of the other.
#[derive(Clone, Debug, PartialEq)]
pub struct FieldPlan {
    /// The opening, if it is in the job already.
    pub opening: Option<OpeningId>,
    /// What it is called.
    pub name: String,
    /// Its side.
    pub side: Side,
    /// Outline, to the right and up as seen from outside, mm; closed.
    pub outline: Vec<[f64; 2]>,
    /// Whether the outline is that of a measured opening; else it is any opening.
    pub measured: bool,
    /// Points, those of the edge in order.
    pub points: Vec<PlanPoint>,
    /// Whether the points of the edge run clockwise as seen from outside.
    pub clockwise: bool,
    /// The point that is the top.
    pub top: Option<String>,
    /// Readings to take.
    pub boxes: Vec<PlanBox>,
    /// One line that says what the sheet is for.
    pub says: String,
}
