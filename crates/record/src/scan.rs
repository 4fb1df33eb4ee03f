//! Scans as read and as prepared.

use std::collections::BTreeMap;
use std::sync::Arc;

use geom::{Blocks, RawPoints};

use crate::{Finding, ScanId};

/// A unit of length of a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum LengthUnit {
    /// Millimetre.
    Millimetre,
    /// Centimetre.
    Centimetre,
    /// Metre.
    Metre,
    /// Inch of 25.4 mm.
    Inch,
    /// Foot of 304.8 mm.
    Foot,
}

impl LengthUnit {
    /// Every unit.
    pub const ALL: [Self; 5] = [
        Self::Millimetre,
        Self::Centimetre,
        Self::Metre,
        Self::Inch,
        Self::Foot,
    ];

    /// How many millimetres one of it is.
    pub fn in_mm(self) -> f64 {
        match self {
            Self::Millimetre => 1.0,
            Self::Centimetre => 10.0,
            Self::Metre => 1000.0,
            Self::Inch => 25.4,
            Self::Foot => 304.8,
        }
    }

    /// Its short name.
    pub fn word(self) -> &'static str {
        match self {
            Self::Millimetre => "mm",
            Self::Centimetre => "cm",
            Self::Metre => "m",
            Self::Inch => "in",
            Self::Foot => "ft",
        }
    }
}

/// A file as it was read: coordinates in the file's own unit and axes.
#[derive(Clone, Debug, PartialEq)]
pub struct RawScan {
    /// File name without folder.
    pub name: String,
    /// What the file was, for people: "binary STL", "ASCII PLY".
    pub format: String,
    /// BLAKE3 of the bytes, hex, taken while reading.
    pub hash: String,
    /// Size of the file, bytes.
    pub bytes: u64,
    /// Coordinates, file unit. Triangles of STL are welded already.
    pub points: RawPoints,
    /// Triangles as indices into `points`, counter-clockwise from the facing side; empty for a cloud.
    pub triangles: Vec<[u32; 3]>,
    /// Colour per point, or empty.
    pub colours: Vec<[u8; 3]>,
    /// Unit normal per point towards the scanner, or empty.
    pub normals: Vec<[f32; 3]>,
    /// Name per point for named point tables, or empty.
    pub names: Vec<String>,
    /// The unit the file itself states, if it does.
    pub unit: Option<LengthUnit>,
    /// What was passed over or looks odd.
    pub notes: Vec<Finding>,
}

/// A closed or open chain of edges that belong to one triangle only.
#[derive(Clone, Debug, PartialEq)]
pub struct BoundaryLoop {
    /// Slots of [`Blocks`], in order; the metal is on the left when seen from the facing side.
    pub slots: Vec<u32>,
    /// Whether the last is joined to the first.
    pub closed: bool,
}

/// A scan ready for search, picking, drawing and measuring; mm, scan axes. Made once per file.
#[derive(Clone, Debug)]
pub struct Prepared {
    /// File name without folder.
    pub name: String,
    /// What the file was.
    pub format: String,
    /// BLAKE3 of the file, hex: the key of everything made from it.
    pub hash: String,
    /// The points in space-filling order, mm.
    pub blocks: Blocks,
    /// Triangles as slots of `blocks`; empty for a cloud.
    pub triangles: Vec<[u32; 3]>,
    /// Boundary loops of the triangles; empty for a cloud.
    pub loops: Vec<BoundaryLoop>,
    /// Median distance between neighbouring points, mm.
    pub spacing_mm: f64,
    /// What was found while reading and preparing.
    pub notes: Vec<Finding>,
}

/// The prepared scans of a job, beside it.
pub type Scans = BTreeMap<ScanId, Arc<Prepared>>;
