//! What became of the joins of a job.

use geom::{Point, PoseDoubt, Rigid, Unit};

use crate::{Figure, Finding, OpeningId, ScanId, Side};

/// What a join rests on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum JoinedBy {
    /// Places picked in both scans.
    Places,
    /// Surfaces that both show.
    Surfaces,
    /// Both, each as well as it is known.
    PlacesAndSurfaces,
}

/// A place picked in both scans.
#[derive(Clone, Debug, PartialEq)]
pub struct JoinedPlaceRow {
    /// Its name.
    pub name: String,
    /// Its side.
    pub side: Side,
    /// Joined minus target, axes of the target scan, mm.
    pub off: [Figure; 3],
    /// Whether it bears on the join; else it is an odd one and was set aside.
    pub kept: bool,
    /// Chance that a sound place lies so far from the others, if it was tested.
    pub chance: Option<f64>,
}

/// The surfaces that two scans both show.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Overlap {
    /// Share of the points of the joined scan that lie on a surface of the other, 0 to 1.
    pub share: f64,
    /// Root of the mean squared distance between the two surfaces there, mm: the noise of both.
    pub left_mm: f64,
    /// Patches whose disagreement among each other stands behind the give-or-take.
    pub patches: usize,
}

/// A way in which the surfaces hold a join weakly or not at all.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WeakWay {
    /// A turn; else a slide.
    pub turns: bool,
    /// Along which direction, or about which axis, axes of the target scan.
    pub direction: Unit,
    /// A place on the axis of a turn; of a slide, the middle of what both show.
    pub through: Point,
    /// How well the surfaces hold it against the same points held in all directions, 0 to 1.
    pub held: f64,
    /// How far it may go, places counted in: mm or degrees; `None` if nothing holds it.
    pub goes: Option<Figure>,
}

/// How well a join is known at an opening.
#[derive(Clone, Debug, PartialEq)]
pub struct JoinAt {
    /// The opening; `None`: the middle of what the join rests on.
    pub opening: Option<OpeningId>,
    /// What it is called.
    pub name: String,
    /// Value 0 with the give-or-take of the shift in the worst direction, mm; not a number where nothing holds it.
    pub shift: Figure,
    /// The same of the turn about the worst axis, degrees.
    pub turn: Figure,
}

/// A scan that was joined to another.
#[derive(Clone, Debug, PartialEq)]
pub struct JoinedScan {
    /// The scan.
    pub scan: ScanId,
    /// The scan in whose axes it lies.
    pub to: ScanId,
    /// What it rests on.
    pub by: JoinedBy,
    /// Axes of `to` from those of `scan`.
    pub to_from: Rigid,
    /// How well that is known.
    pub doubt: PoseDoubt,
    /// The places in both.
    pub places: Vec<JoinedPlaceRow>,
    /// Scatter of a coordinate of the places kept, mm; with fewer than four places it says little.
    pub scatter_mm: Option<f64>,
    /// The surfaces in both.
    pub overlap: Option<Overlap>,
    /// Ways in which the surfaces hold it weakly.
    pub weak: Vec<WeakWay>,
    /// How well it is known at the openings of the scan.
    pub at: Vec<JoinAt>,
}

/// A taped length against the same in the joined scans.
#[derive(Clone, Debug, PartialEq)]
pub struct TapedRow {
    /// One end, with its side where it has one.
    pub from: String,
    /// Other end.
    pub to: String,
    /// The scans in which the two ends were picked.
    pub scans: [ScanId; 2],
    /// What the tape said, mm.
    pub taped: Figure,
    /// Scans minus tape, mm, with the give-or-take of the tape, the picks and the joins between them.
    pub off: Figure,
}

/// The joins of a job.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Joined {
    /// Those that could be made.
    pub joins: Vec<JoinedScan>,
    /// Taped lengths.
    pub lengths: Vec<TapedRow>,
    /// What has to be said about them.
    pub findings: Vec<Finding>,
}
