//! Named places of the body, and how the centreline is wanted.

use std::path::PathBuf;

use geom::Point;

use crate::{ScanId, Side};

/// A named place of the body seen in one scan.
///
/// What it is kept for follows from its likes: the same name on the left and on the right is a pair, the same name on
/// the same side in two scans is one place seen twice, by which the scans can be joined.
#[derive(Clone, Debug, PartialEq)]
pub struct Place {
    /// What it is called, without its side: "sill end".
    pub name: String,
    /// Its side of the car; [`Side::NotSaid`] only joins scans.
    pub side: Side,
    /// The scan it was picked in.
    pub scan: ScanId,
    /// Where it is, scan coordinates, mm.
    pub at: Point,
    /// Standard uncertainty of the pick per coordinate, mm, > 0.
    pub sigma_mm: f64,
    /// Free words.
    pub note: String,
}

/// A table of places that stands beside the job.
#[derive(Clone, Debug, PartialEq)]
pub struct PlacesTable {
    /// The table, relative to the job where possible.
    pub path: PathBuf,
    /// BLAKE3 of the file as it was read, hex.
    pub hash: Option<String>,
    /// Its rows.
    pub places: Vec<Place>,
    /// Why it could not be read, and what to do: two sentences.
    pub unread: Option<[String; 2]>,
}

/// A place by its name and side.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct PlaceName {
    /// Its name.
    pub name: String,
    /// Its side.
    pub side: Side,
}

/// How the centreline is laid.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub enum CentrelineWay {
    /// By the pairs, places on the centre included.
    #[default]
    Pairs,
    /// By the places on the centre alone.
    CentrePlaces,
    /// By the scan's own mirror image, see [`Centreline::image_of`].
    OwnImage,
    /// By six named places: three are level, two lie along, one is where lengths begin.
    ThreeTwoOne {
        /// Three places that are level.
        level: [PlaceName; 3],
        /// Two places on the centreline, front and rear.
        line: [PlaceName; 2],
        /// Where lengths along the car begin.
        start: PlaceName,
    },
    /// None is wanted: no figure of position on the car.
    None,
}

/// The centreline that is wanted.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Centreline {
    /// How it is laid.
    pub way: CentrelineWay,
    /// Name of a place at the front; with `rear` it says what is forward and level along the car. A pair or a place on
    /// the centre.
    pub front: Option<String>,
    /// Name of a place at the rear.
    pub rear: Option<String>,
    /// A scan of the whole body that is laid on its own mirror image: the centreline for [`CentrelineWay::OwnImage`], a rival to it
    /// for every other way. `None`: not looked at.
    pub image_of: Option<ScanId>,
}
