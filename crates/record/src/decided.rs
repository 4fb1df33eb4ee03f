//! What was decided from what was measured.

use crate::{CompareId, Figure, Finding, HoleId, PartId, Side};

/// A verdict.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Verdict {
    /// Chance of fitting at least 95 %.
    Fits,
    /// Neither proven.
    NotProven,
    /// Chance of fitting at most 5 %.
    WillNotFit,
    /// The other side was not measured.
    NotMeasured,
}

/// What can be made.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum OptionKind {
    /// One shape for both, as it is (like against like).
    OneShape,
    /// a's shape, mirrored for b.
    MirrorA,
    /// b's shape, mirrored for a.
    MirrorB,
    /// One midway shape, mirrored.
    Midway,
    /// a's shape mirrored, with slots or larger holes.
    MirrorAWithSlots,
    /// One shape for both, with slots or larger holes.
    OneShapeWithSlots,
    /// Midway shape with slots or larger holes.
    MidwayWithSlots,
    /// a's shape mirrored, with shims or a gasket.
    MirrorAWithShims,
    /// One shape for both, with shims or a gasket.
    OneShapeWithShims,
    /// Midway shape with shims or a gasket.
    MidwayWithShims,
    /// One design, two tables: each side drawn to itself.
    TwoHands,
}

/// Which way something is out at a station.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Direction {
    /// Gap tighter than agreed.
    Tight,
    /// Gap wider than agreed.
    Wide,
    /// Part stands proud.
    Proud,
    /// Part is shy.
    Shy,
    /// A junction angle is too large.
    AngleLarge,
    /// A junction angle is too small.
    AngleSmall,
}

/// The place that decides.
#[derive(Clone, Debug, PartialEq)]
pub struct WorstPlace {
    /// What it is called.
    pub place: String,
    /// On which side.
    pub side: Side,
    /// Which way.
    pub direction: Direction,
    /// How far out, after the best placement (>= 0); unit mm or degrees.
    pub amount: Figure,
    /// What is allowed there, same unit.
    pub allowed: f64,
    /// Station number in the pair, if it is a station.
    pub station: Option<usize>,
}

/// A chance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Chance {
    /// Share of the draws that fit, 0 to 1.
    pub fits: f64,
    /// Number of draws.
    pub draws: u32,
}

/// What an option asks for besides the part.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum NeedKind {
    /// Slot: overall length less width.
    SlotLength,
    /// Larger hole: addition to the radius.
    HoleRadius,
    /// Shim thickness.
    Shim,
    /// Gasket: range it has to take up.
    Gasket,
    /// Metal to take off the part.
    TakeOff,
}

/// One thing an option asks for.
#[derive(Clone, Debug, PartialEq)]
pub struct Need {
    /// What.
    pub kind: NeedKind,
    /// At which hole; `None` for all round.
    pub hole: Option<HoleId>,
    /// How much, mm.
    pub amount_mm: f64,
    /// In which direction of the flat of the part (X, Y), for slots.
    pub along: Option<[f64; 2]>,
}

/// How even the gap can be made, its width free.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct EvenGap {
    /// How much of what is allowed for evenness it uses in the placement that is best for the eye, percent.
    pub uses: Figure,
    /// How much wider than agreed the gap is there on average, mm; - tighter.
    pub wider_mm: f64,
}

/// What came out for one option.
#[derive(Clone, Debug, PartialEq)]
pub struct OptionResult {
    /// Which.
    pub kind: OptionKind,
    /// 100 t: how much of what is allowed it uses in the best placement, the noise of the readings taken out as in the
    /// chance (as read where nothing was drawn); `None` if the fasteners cannot be started.
    pub uses: Option<Figure>,
    /// The place that decides.
    pub worst: Option<WorstPlace>,
    /// How far the least deviation is everywhere else: largest gap error, mm.
    pub worst_gap_mm: Option<f64>,
    /// Chance that it fits.
    pub chance: Option<Chance>,
    /// How even the gap is on the worse side, where the part asks for evenness.
    pub even: Option<EvenGap>,
    /// For a part that carries load or safety: least and most share, percent, with all places, holes and angles at once within
    /// their doubt (95 %); the verdict then rests on it.
    pub band_percent: Option<[f64; 2]>,
    /// The verdict.
    pub verdict: Verdict,
    /// What it asks for.
    pub needs: Vec<Need>,
    /// Whether no slot, shim or larger hole would cure it.
    pub incurable: bool,
    /// Largest oversize on the radius without which the fasteners cannot be started, mm.
    pub least_oversize_mm: Option<f64>,
}

/// Whether a figure is bigger than what is allowed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Matters {
    /// Proven not to matter.
    Harmless,
    /// Neither proven.
    Open,
    /// Proven to matter.
    Matters,
}

/// A figure in the four boxes.
#[derive(Clone, Debug, PartialEq)]
pub struct Box4 {
    /// What it is called.
    pub name: String,
    /// The difference.
    pub difference: Figure,
    /// What is allowed, same unit.
    pub allowed: f64,
    /// Whether it is bigger than its give-or-take, all figures of the pair taken together (Holm at 5 %).
    pub real: bool,
    /// Whether it is bigger than what is allowed.
    pub matters: Matters,
    /// Probability of conforming, JCGM 106.
    pub conforming: f64,
}

/// Whether the two differ at all.
#[derive(Clone, Debug, PartialEq)]
pub struct JointVerdict {
    /// Whether a difference is proven (95 %, all figures together).
    pub proven: bool,
    /// Chance of so large a largest difference between two like openings.
    pub p: f64,
    /// Name of the figure that stands out most.
    pub largest: String,
    /// How many figures were weighed together.
    pub figures: usize,
    /// Half-width within which all differences of edge position are known, mm.
    pub within_mm: Option<f64>,
}

/// A way in which one opening, with its holes, differs from the other.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum WayOfDiffering {
    /// The holes lie to one side against the opening.
    Shift,
    /// The holes are turned in the flat of the part against the opening.
    Turn,
    /// The seats of the holes are tilted against the opening.
    Tilt,
    /// The seats of the holes lie deeper or higher against the opening.
    StandOff,
    /// One is wider.
    Width,
    /// One is higher.
    Height,
    /// One is sheared.
    Shear,
    /// One is twisted out of its flat.
    Twist,
    /// One is bowed out.
    Bow,
    /// A stretch of the edge differs.
    LocalWave,
    /// The holes lie otherwise to each other.
    HolePattern,
}

/// What cures a way of differing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum CureWay {
    /// Slots or larger holes.
    Slots,
    /// A shim that is thicker at one end.
    TaperedShim,
    /// Shims.
    Shims,
    /// A gasket that takes it up.
    Gasket,
    /// A wider flange on the part.
    WiderFlange,
    /// Bending the body true.
    Bend,
    /// Filing or filling the body.
    FileOrFill,
    /// Leaving stock on the part and scribing it at the fit.
    Scribe,
    /// Drilling the part from the body's own holes.
    TransferDrill,
    /// Each side drawn to itself.
    TwoHands,
}

/// One way in which the two differ, with what cures it.
#[derive(Clone, Debug, PartialEq)]
pub struct DiffersBy {
    /// Which way.
    pub way: WayOfDiffering,
    /// How much: a minus b where it has a sign, mm or degrees.
    pub amount: Figure,
    /// What is allowed of it alone, same unit.
    pub allowed: f64,
    /// Whether it is bigger than that.
    pub matters: Matters,
    /// Where, if it is in one place.
    pub place: Option<String>,
    /// What cures it, the simplest first.
    pub cures: Vec<CureWay>,
}

/// A reading that would help.
#[derive(Clone, Debug, PartialEq)]
pub struct NextReading {
    /// What to do, in words: "scan the right lamp opening once more, re-seated".
    pub what: String,
    /// Which side.
    pub side: Side,
    /// The option whose verdict it would settle.
    pub option: Option<OptionKind>,
    /// Share of the doubt that it would remove, 0 to 1.
    pub settles: f64,
}

/// What was decided of a comparison.
#[derive(Clone, Debug, PartialEq)]
pub struct DecidedCompare {
    /// Its name.
    pub id: CompareId,
    /// Name of the part.
    pub part: PartId,
    /// Options, best first.
    pub options: Vec<OptionResult>,
    /// Whether the two differ.
    pub joint: Option<JointVerdict>,
    /// Every figure in its box.
    pub boxes: Vec<Box4>,
    /// Ways in which they differ that are proven or matter, those that use most first.
    pub differs: Vec<DiffersBy>,
    /// Readings that would help, best first.
    pub next: Vec<NextReading>,
    /// Findings about the decision.
    pub findings: Vec<Finding>,
}

/// Everything decided.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Decided {
    /// Comparisons in the order of the job.
    pub compares: Vec<DecidedCompare>,
}
