//! What a person points at in a scan.

use geom::{Point, Vector};

use crate::{FaceId, HoleId, JunctionId, OpeningId, ScanId};

/// Side of the car, seated facing forward.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Side {
    /// Left, seated facing forward.
    Left,
    /// Right, seated facing forward.
    Right,
    /// Across the centre.
    Centre,
    /// Not said.
    NotSaid,
}

/// The form of a region.
#[derive(Clone, Debug, PartialEq)]
pub enum RegionShape {
    /// A box along the scan axes; corners in scan coordinates, mm.
    Box {
        /// Smallest coordinates.
        low: Point,
        /// Largest coordinates.
        high: Point,
    },
    /// A closed polygon seen along a direction, reaching through everything.
    Lasso {
        /// A point of the picture plane, scan coordinates, mm.
        origin: Point,
        /// Direction to the right of the picture.
        right: Vector,
        /// Direction up the picture.
        up: Vector,
        /// Corners (right, up), mm from `origin`.
        corners: Vec<[f64; 2]>,
    },
}

/// A part of space whose points are kept or put aside.
#[derive(Clone, Debug, PartialEq)]
pub struct Region {
    /// Its form.
    pub shape: RegionShape,
    /// Why.
    pub note: String,
}

/// Which line of the metal the opening edge is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum EdgeKind {
    /// The bend if there is a return flange, else the free edge.
    #[default]
    Auto,
    /// The free edge of the sheet.
    Free,
    /// The sharp line in which panel skin and return flange would meet.
    Bend,
}

/// Where the opening edge is.
#[derive(Clone, Debug, PartialEq)]
pub struct EdgePick {
    /// A point near the edge, scan coordinates, mm.
    pub near: Point,
    /// Which line is meant.
    pub kind: EdgeKind,
    /// Points of the edge in order, if it was measured by hand; then `near` is not used.
    pub by_hand: Vec<Point>,
    /// Whether hand points close on themselves.
    pub closed: bool,
}

/// A seed from which a face is grown.
#[derive(Clone, Debug, PartialEq)]
pub struct FacePick {
    /// Its name.
    pub id: FaceId,
    /// A point on it, scan coordinates, mm.
    pub near: Point,
    /// Towards which side it faces, scan axes; tells front from back of thin metal. `None`: as the scan says.
    pub facing: Option<Vector>,
    /// How far from the seed the face may reach, mm.
    pub reach_mm: Option<f64>,
    /// Width left out beside its junctions, mm.
    pub band_mm: Option<f64>,
}

/// On which side of the two faces the angle is taken. The two sum to 360 degrees.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum Through {
    /// Through the metal.
    #[default]
    Material,
    /// Through the air.
    Air,
}

/// Where along a junction angles are given.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub enum Stations {
    /// Start, 1/4, 1/2, 3/4 and end.
    #[default]
    Quarters,
    /// Every so many mm from the start.
    Every(f64),
}

/// Two faces that meet.
#[derive(Clone, Debug, PartialEq)]
pub struct JunctionPick {
    /// Its name.
    pub id: JunctionId,
    /// One face.
    pub a: FaceId,
    /// The other face.
    pub b: FaceId,
    /// A point near the end at which it starts, scan coordinates, mm.
    pub start: Point,
    /// What the start is called: "top".
    pub start_name: String,
    /// What the other end is called: "bottom".
    pub end_name: String,
    /// Where the angle is taken.
    pub through: Through,
    /// Where along it.
    pub stations: Stations,
    /// The angle it was drawn with, degrees, if any.
    pub drawn_deg: Option<f64>,
}

/// What kind of round thing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum HoleKind {
    /// A round hole through the metal.
    #[default]
    Hole,
    /// A stud or pin standing on it.
    Stud,
}

/// Where a hole or stud is.
#[derive(Clone, Debug, PartialEq)]
pub struct HolePick {
    /// Its name.
    pub id: HoleId,
    /// A point near its middle, scan coordinates, mm.
    pub near: Point,
    /// What it is.
    pub kind: HoleKind,
    /// Its diameter as far as known, mm.
    pub diameter_mm: Option<f64>,
}

/// An opening with all that belongs to it, in one scan. `edge` may be absent where only faces are compared.
#[derive(Clone, Debug, PartialEq)]
pub struct Opening {
    /// Its name.
    pub id: OpeningId,
    /// What it is called in sentences: "Lamp opening".
    pub name: String,
    /// The scan it is picked in.
    pub scan: ScanId,
    /// Its side of the car.
    pub side: Side,
    /// Its edge.
    pub edge: Option<EdgePick>,
    /// The point that is "up" from its middle, scan coordinates, mm; a nearly round opening has none of its own.
    pub top: Option<Point>,
    /// A second direction where the edge itself cannot tell (faces only): towards the outside of the car.
    pub outward: Option<Vector>,
    /// Faces.
    pub faces: Vec<FacePick>,
    /// Junctions of the faces.
    pub junctions: Vec<JunctionPick>,
    /// Holes and studs.
    pub holes: Vec<HolePick>,
    /// The opening of which this is a further reading: the same metal, scanned once more in the same visit.
    pub repeat_of: Option<OpeningId>,
    /// How sure a proposal is, 0 to 1; `None` once a person has looked at it.
    pub sureness: Option<f64>,
    /// Free words.
    pub note: String,
}

impl Opening {
    /// One in which nothing is picked yet, called like its name.
    pub fn unpicked(id: OpeningId, scan: ScanId, side: Side) -> Self {
        Self {
            name: id.0.clone(),
            id,
            scan,
            side,
            edge: None,
            top: None,
            outward: None,
            faces: Vec::new(),
            junctions: Vec::new(),
            holes: Vec::new(),
            repeat_of: None,
            sureness: None,
            note: String::new(),
        }
    }
}
