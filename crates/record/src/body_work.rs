//! One side of a car before and after body work: what the job states of it, and what was found.

use geom::{ChangeCell, PoseDoubt, Rigid, Unit};

use crate::{
    CompareId, Figure, Finding, Opening, OpeningId, Overlap, Region, ScanId, StartPose, Study,
};

/// That one scan shows what another shows, after body work.
#[derive(Clone, Debug, PartialEq)]
pub struct BodyWork {
    /// What it is called: "flange dressed".
    pub name: String,
    /// The scan from before.
    pub before: ScanId,
    /// The scan from after, of the same side of the same car.
    pub after: ScanId,
    /// What was worked, axes of `before`; empty: not said, and looked for.
    pub worked: Vec<Region>,
    /// About where `after` lies, axes of `before` from its own, where no join and no opening picked in both says so.
    pub start: Option<StartPose>,
    /// How far metal may have moved, mm.
    pub most_mm: f64,
    /// Free words.
    pub note: String,
}

impl BodyWork {
    /// Metal may have moved this far unless said otherwise, mm.
    pub const MOST_MM: f64 = 6.0;
}

/// What says about where the scan from after lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LaidFrom {
    /// A join of the job.
    Join,
    /// The start stated in the job.
    Start,
    /// Openings picked in both scans under one name and side.
    Openings,
    /// Nothing: as if both had the same axes.
    SameAxes,
}

/// Something named that an area reaches.
#[derive(Clone, Debug, PartialEq)]
pub struct Touched {
    /// The opening.
    pub opening: OpeningId,
    /// What it is called.
    pub name: String,
    /// What of it: "edge", "face panel above", "hole upper", "junction inner side".
    pub what: String,
    /// Where on it: "bottom edge, middle to lower outer corner"; empty where there is no more to say.
    pub place: String,
    /// From where to where along it, mm from its start.
    pub along_mm: Option<[f64; 2]>,
    /// How many of its stations, of how many.
    pub stations: [usize; 2],
    /// Of an edge: the mean move of the area towards the inside of the opening, and outward from the panel.
    pub moved: Option<[Figure; 2]>,
}

/// An area that moved; axes of the scan from before.
#[derive(Clone, Debug, PartialEq)]
pub struct WorkedArea {
    /// Middle of its core, mm. The core is what moved at least half as far as the most.
    pub centre: geom::Point,
    /// Which way the metal faces there.
    pub normal: Unit,
    /// Direction in which it is longest.
    pub along: Unit,
    /// Mean move of the core along the normals, + outward.
    pub mean: Figure,
    /// Mean move of its level part: of what moved at least 0.8 times as far as the most.
    pub most: Figure,
    /// Length of the core.
    pub length: Figure,
    /// Width of the core.
    pub width: Figure,
    /// Whether its ends were seen: along, across; else it goes on where one of the scans shows nothing.
    pub ends_seen: [bool; 2],
    /// Whether it lies in what was said to be worked; true where nothing was said.
    pub as_said: bool,
    /// What it reaches; empty: panel away from everything named.
    pub touches: Vec<Touched>,
}

/// An opening of the scan from before, and what of it stands.
#[derive(Clone, Debug, PartialEq)]
pub struct OpeningAfter {
    /// The opening before.
    pub before: OpeningId,
    /// The same after; `None` where the scan from after does not show it.
    pub after: Option<OpeningId>,
    /// What it is called.
    pub name: String,
    /// Whether its picks were carried over by the program.
    pub carried: bool,
    /// What could not be carried.
    pub lost: Vec<String>,
    /// Whether an area reaches it.
    pub touched: bool,
    /// Before against after: does the part drawn before still fit?
    pub same: Vec<CompareId>,
    /// Comparisons it takes part in: as they were, and with the opening after.
    pub again: Vec<[CompareId; 2]>,
}

/// A scan from after laid on the one from before.
#[derive(Clone, Debug, PartialEq)]
pub struct LaidWork {
    /// What said about where it lies.
    pub from: LaidFrom,
    /// Axes of before from those of after.
    pub before_from_after: Rigid,
    /// How well that is known.
    pub doubt: PoseDoubt,
    /// The surfaces in both.
    pub overlap: Overlap,
    /// Films taken off before and after, mm: not 0 only where the two were covered otherwise.
    pub films_mm: [f64; 2],
    /// Share of the points that were set aside as worked or moved, 0 to 1.
    pub aside: f64,
    /// Width of the patches that were looked at, mm.
    pub patch_mm: f64,
    /// A move of a patch is found in 95 of 100 cases from here on, mm.
    pub found_from_mm: f64,
    /// Areas that moved, the largest move first.
    pub areas: Vec<WorkedArea>,
    /// The map: every cell.
    pub cells: Vec<ChangeCell>,
}

/// What came out for one piece of body work.
#[derive(Clone, Debug, PartialEq)]
pub struct WorkFound {
    /// As the job states it.
    pub work: BodyWork,
    /// What was found; `None` where the scans could not be laid on each other.
    pub laid: Option<LaidWork>,
    /// Openings of the scan from before.
    pub openings: Vec<OpeningAfter>,
    /// What has to be said of it.
    pub findings: Vec<Finding>,
}

/// All body work of a job.
#[derive(Clone, Debug)]
pub struct WorkStudy {
    /// The study with the openings after beside those before.
    pub study: Study,
    /// What was found, in the order of the job.
    pub works: Vec<WorkFound>,
    /// Openings that were added to the job for it, with carried picks.
    pub added: Vec<Opening>,
}
