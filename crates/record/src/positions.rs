//! Where things are on the car. Every figure here hangs on the centreline; none of the other figures does.

use geom::{Point, Rigid};

use crate::{CompareId, Figure, Finding, OpeningId, ScanId};

/// How the centreline was laid.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum LaidBy {
    /// By pairs, places on the centre included.
    Pairs,
    /// By places on the centre alone.
    CentrePlaces,
    /// By three, two and one named places.
    ThreeTwoOne,
    /// By a scan's own mirror image.
    OwnImage,
}

/// A pair of places, or one on the centre, against the centreline.
#[derive(Clone, Debug, PartialEq)]
pub struct PlaceRow {
    /// Its name.
    pub name: String,
    /// Whether it lies on the centre; else it is a pair.
    pub centre: bool,
    /// The point half-way, car axes, mm.
    pub middle: Point,
    /// Half the distance from left to right across the car, mm; 0 on the centre.
    pub half_mm: f64,
    /// Left minus mirrored right: further back, further out, higher, mm. Of a place on the centre: to the left, twice.
    pub misfit_mm: [f64; 3],
    /// Whether it goes with the others; one set aside does not bear on the centreline.
    pub kept: bool,
    /// Chance that a sound place lies so far off, if it was tested.
    pub chance: Option<f64>,
}

/// A way of the whole body.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum BodyWay {
    /// The left side sits further back than the right.
    Back,
    /// The left side sits higher.
    High,
    /// The body is twisted from front to rear.
    Twisted,
    /// The middle of the body is bowed to the right.
    Bowed,
}

/// A way of the whole body with its amount.
#[derive(Clone, Debug, PartialEq)]
pub struct BodyFigure {
    /// Which.
    pub way: BodyWay,
    /// Amount, mm; degrees over the length for the twist.
    pub amount: Figure,
    /// Whether it is proven; stricter than being larger than its give-or-take, because four ways are looked at.
    pub proven: bool,
}

/// What the centreline was laid by in a rival way.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum RivalName {
    /// All places, the odd ones too.
    All,
    /// The places that go together.
    GoTogether,
    /// The front half.
    FrontOnly,
    /// The rear half.
    RearOnly,
    /// The points half-way between the pairs alone.
    MidpointsOnly,
    /// The places on the centre alone.
    CentreOnly,
    /// By a scan's own mirror image.
    OwnImage,
    /// Without one place.
    Without(String),
}

/// A scan of the whole body laid on its own mirror image.
#[derive(Clone, Debug, PartialEq)]
pub struct ImageOf {
    /// The scan.
    pub scan: ScanId,
    /// What came out, in scan axes, mm and rad.
    pub laid: Option<geom::OwnImage>,
    /// Why nothing did.
    pub findings: Vec<Finding>,
}

/// How well a scan lies on its own mirror image.
#[derive(Clone, Debug, PartialEq)]
pub struct ImageFit {
    /// The scan.
    pub scan: ScanId,
    /// Share of the smaller half that lies on the other, 0 to 1.
    pub share: f64,
    /// Spread of what is left between the halves, mm, one standard deviation.
    pub left_mm: f64,
    /// The same of the next best other plane, mm; infinite where there is none.
    pub next_best_mm: f64,
}

/// A rival centreline against the one used.
#[derive(Clone, Debug, PartialEq)]
pub struct RivalLine {
    /// How it is laid.
    pub name: RivalName,
    /// Turned by, seen from above, degrees: + its front lies further to the left.
    pub yaw_deg: f64,
    /// Leaning by, seen from behind, degrees: + its top lies further to the left.
    pub lean_deg: f64,
    /// Moved to the right by, at the middle of the places, mm.
    pub shift_mm: f64,
}

/// What a position figure is of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum PositionKind {
    /// Rearward, mm from the middle of the places.
    SetBack,
    /// Distance from the centreline, mm.
    Out,
    /// Height, mm from the middle of the places.
    Height,
    /// Seen from above, the face turned outward from straight ahead, degrees.
    Toe,
    /// The face turned up, degrees.
    Camber,
    /// Turned about its own outward direction, its top outward (on a flank: rearward), degrees.
    Level,
}

impl PositionKind {
    /// Every kind, in the order of tables.
    pub const ALL: [Self; 6] = [
        Self::Height,
        Self::SetBack,
        Self::Out,
        Self::Toe,
        Self::Camber,
        Self::Level,
    ];
}

/// A position figure of a left and a right opening.
#[derive(Clone, Debug, PartialEq)]
pub struct PositionRow {
    /// Of what.
    pub kind: PositionKind,
    /// On the left.
    pub left: Figure,
    /// On the right, mirrored.
    pub right: Figure,
    /// Left minus mirrored right.
    pub difference: Figure,
    /// Whether the difference is proven among the figures of its pair; stricter than being larger than its give-or-take.
    pub proven: bool,
    /// Least and greatest difference over all centrelines.
    pub over_rivals: [f64; 2],
    /// Whether every rival centreline says the same: proven with this sign, or not proven.
    pub survives: bool,
}

/// Positions of a left and a right opening.
#[derive(Clone, Debug, PartialEq)]
pub struct PairPosition {
    /// The comparison.
    pub compare: CompareId,
    /// What the openings are called.
    pub name: String,
    /// Figures.
    pub rows: Vec<PositionRow>,
}

/// An opening across the centre: is it central?
#[derive(Clone, Debug, PartialEq)]
pub struct CentralRow {
    /// The opening.
    pub opening: OpeningId,
    /// What it is called.
    pub name: String,
    /// Its middle to the right of the centreline, mm.
    pub off: Figure,
    /// Whether that is larger than its give-or-take.
    pub proven: bool,
    /// Least and greatest over all centrelines, mm.
    pub over_rivals: [f64; 2],
    /// Whether every rival centreline says the same.
    pub survives: bool,
}

/// How well the centreline is known at one place along the car.
#[derive(Clone, Debug, PartialEq)]
pub struct LineKnown {
    /// Rearward of the middle of the places, mm.
    pub along_mm: f64,
    /// To one side, at the height of the middle of the places: value 0 with its give-or-take, mm.
    pub aside: Figure,
}

/// A centreline and what hangs on it.
#[derive(Clone, Debug, PartialEq)]
pub struct Laid {
    /// The scan in whose axes it lies.
    pub scan: ScanId,
    /// The scans that are joined to it.
    pub joined: Vec<ScanId>,
    /// How it was laid.
    pub by: LaidBy,
    /// Car axes: X rearward, Y to the right, Z up, origin at the middle of the places.
    pub car_from_scan: Rigid,
    /// Whether a front and a rear place, or level ones, were named; else what is level along the car is the run of the places.
    pub level_named: bool,
    /// Turn about the upright axis: value 0 with its give-or-take, degrees.
    pub yaw: Figure,
    /// Turn about the axis along the car, degrees.
    pub lean: Figure,
    /// Shift to one side at the middle of the places, mm.
    pub shift: Figure,
    /// How far it may lie to one side, evenly from the foremost to the rearmost place that counts.
    pub known: Vec<LineKnown>,
    /// Places.
    pub places: Vec<PlaceRow>,
    /// Ways of the whole body.
    pub body: Vec<BodyFigure>,
    /// The scan's own mirror image, where it was looked at and found.
    pub image: Option<ImageFit>,
    /// Rival centrelines.
    pub rivals: Vec<RivalLine>,
    /// Left and right openings.
    pub pairs: Vec<PairPosition>,
    /// Openings across the centre.
    pub central: Vec<CentralRow>,
}

/// What can be said of positions on the car.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Positions {
    /// The centreline, if one could be laid.
    pub laid: Option<Laid>,
    /// Findings about it.
    pub findings: Vec<Finding>,
}
