//! What is drawn for one side: the plain shapes that DXF, STEP and sheets show.

use geom::{ArcPath, Plane, Point, Unit};

use crate::{
    CompareId, FaceId, Finding, HoleId, HoleKind, JunctionId, OpeningId, OptionKind, PartId, Side,
    Slot,
};

/// Everything drawn for one side of a part, in the part axes of that side: flat of the part = XY, top = +Y,
/// outward = +Z, origin in the middle of the opening; mm.
#[derive(Clone, Debug, PartialEq)]
pub struct Drawing {
    /// The comparison it belongs to.
    pub compare: CompareId,
    /// The part, by name in the job.
    pub part: PartId,
    /// What the part is called.
    pub part_name: String,
    /// The side it is drawn for.
    pub side: Side,
    /// The option it follows.
    pub option: OptionKind,
    /// Whether a person chose that option; otherwise each side is drawn to itself.
    pub chosen: bool,
    /// The opening whose shape it has (a's for a midway shape).
    pub shape_of: OpeningId,
    /// Whether the shape is the mirror image of what was measured there.
    pub mirrored: bool,
    /// How far the cut path lies inside the opening edge: gap + film on the body + build-up on the part, mm.
    pub inset_mm: f64,
    /// Outline to cut, counter-clockwise seen from outside; `None` where no sound outline came out (see `findings`).
    pub cut: Option<ArcPath>,
    /// The opening edge as lines and arcs in the flat of the part.
    pub mark: Option<ArcPath>,
    /// Farthest distance between the smoothed edge and `mark`, both ways, mm.
    pub mark_error_mm: f64,
    /// The smoothed edge in space, dense and in order.
    pub edge: Vec<Point>,
    /// Whether the edge closes.
    pub edge_closed: bool,
    /// Holes and studs.
    pub holes: Vec<DrawnHole>,
    /// Junction lines.
    pub junctions: Vec<DrawnJunction>,
    /// Faces.
    pub faces: Vec<DrawnFace>,
    /// Named stations on the edge and on the junctions.
    pub stations: Vec<DrawnStation>,
    /// Ends of the 100 mm line that proves the scale of a print or a cut, in the flat of the part.
    pub reference: [[f64; 2]; 2],
    /// What to know before cutting.
    pub findings: Vec<Finding>,
}

/// A hole or stud as drawn.
#[derive(Clone, Debug, PartialEq)]
pub struct DrawnHole {
    /// Its name.
    pub id: HoleId,
    /// What it is on the body.
    pub kind: HoleKind,
    /// Middle.
    pub centre: Point,
    /// Axis, outward.
    pub axis: Unit,
    /// Diameter found on the body, mm.
    pub body_diameter_mm: f64,
    /// Diameter to cut in the part, growth of the finish taken off, mm; `None` without a fastener there.
    pub cut_diameter_mm: Option<f64>,
    /// Slot instead of a round hole in the part.
    pub slot: Option<Slot>,
}

/// A junction line as drawn, from its named start.
#[derive(Clone, Debug, PartialEq)]
pub struct DrawnJunction {
    /// Its name.
    pub id: JunctionId,
    /// Start.
    pub start: Point,
    /// End.
    pub end: Point,
}

/// The flat of a face as drawn.
#[derive(Clone, Debug, PartialEq)]
pub struct DrawnFace {
    /// Its name.
    pub id: FaceId,
    /// Its plane, normal away from the metal.
    pub plane: Plane,
    /// Middle of the seen part.
    pub centre: Point,
    /// Longer and shorter side of the seen part, mm.
    pub size_mm: [f64; 2],
}

/// A named place.
#[derive(Clone, Debug, PartialEq)]
pub struct DrawnStation {
    /// What it is called.
    pub name: String,
    /// Where it is.
    pub at: Point,
}
