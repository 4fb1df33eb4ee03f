//! Sections across an opening edge and the panel round it, one side against the other.
//!
//! Nothing here needs a centreline: the other side is mirrored and laid on this one by the opening edge itself.

use geom::{Point, Unit};

use crate::{CompareId, Figure, Finding, JointVerdict, OpeningId, Relation, Side};

/// How sections are cut.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SectionPlan {
    /// How far from the edge the panel is looked at, mm.
    pub width_mm: f64,
    /// Length of a step along a section, mm.
    pub step_mm: f64,
    /// Distance of the sections along the edge, mm; a section takes in half of it to either side.
    pub every_mm: f64,
}

impl Default for SectionPlan {
    /// 40 mm wide, a figure every 5 mm, a section every 10 mm.
    fn default() -> Self {
        Self {
            width_mm: 40.0,
            step_mm: 5.0,
            every_mm: 10.0,
        }
    }
}

/// Which sheet a profile runs over.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum SheetKind {
    /// The panel, from the edge away from the opening.
    Panel,
    /// The return flange, from the edge into the body.
    Flange,
}

/// Directions of a profile in its section plane, part axes of a.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SheetAxes {
    /// From the edge along the sheet.
    pub along: Unit,
    /// Out of the metal.
    pub out: Unit,
}

/// A section plane: through `edge`, normal to `tangent`; a's part axes, mm.
#[derive(Clone, Debug, PartialEq)]
pub struct Section {
    /// What the place is called: "upper inner corner".
    pub place: String,
    /// Share of a's edge, 0 to 1.
    pub share: f64,
    /// Length along a's edge from its start, mm.
    pub along_mm: f64,
    /// a's edge.
    pub edge: Point,
    /// Along the edge.
    pub tangent: Unit,
    /// Over the panel: away from the opening, and outward.
    pub panel: SheetAxes,
    /// Down the return flange of a, if it was seen: into the body, and towards the inside of the opening.
    pub flange: Option<SheetAxes>,
}

impl Section {
    /// The directions of a sheet; those of the panel where no flange was seen.
    pub fn axes(&self, sheet: SheetKind) -> SheetAxes {
        match sheet {
            SheetKind::Panel => self.panel,
            SheetKind::Flange => self.flange.unwrap_or(self.panel),
        }
    }
}

/// A step of a section, seen on one side or both.
#[derive(Clone, Debug, PartialEq)]
pub struct SectionStep {
    /// Which of the sections.
    pub section: usize,
    /// Which sheet.
    pub sheet: SheetKind,
    /// Middle of the step from the edge along the sheet, mm.
    pub from_edge_mm: f64,
    /// Height of a out of the section's own axes.
    pub a: Option<Figure>,
    /// Height of b, laid on a.
    pub b: Option<Figure>,
    /// a minus b normal to the surface, + where a stands further out. The doubt of laying b on a is in it.
    pub difference: Option<Figure>,
    /// Whether the difference is proven among all of its pair; stricter than being larger than its give-or-take.
    pub proven: bool,
}

/// The place where the panel differs most.
#[derive(Clone, Debug, PartialEq)]
pub struct WorstPanel {
    /// What the place on the edge is called.
    pub place: String,
    /// Which of the sections.
    pub section: usize,
    /// Distance from the edge, mm.
    pub from_edge_mm: f64,
    /// Size of the area it is the mean of, along the edge and away from it, mm.
    pub over_mm: [f64; 2],
    /// a minus b.
    pub difference: Figure,
    /// Whether it is left once the whole panels are laid on each other: a local bulge or dent. Else the panels stand as the
    /// edges lay them.
    pub local: bool,
    /// Whether it is proven among all figures of the pair.
    pub proven: bool,
}

/// A flat band of the map of differences.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PanelBand {
    /// Least difference in it, mm.
    pub from_mm: f64,
    /// Greatest difference in it, mm.
    pub to_mm: f64,
    /// Share of the compared panel in it, 0 to 1.
    pub share: f64,
    /// Share of the compared panel that is in it and proven, 0 to 1.
    pub proven_share: f64,
}

/// The panel round a pair of openings.
#[derive(Clone, Debug, PartialEq)]
pub struct PairPanel {
    /// The comparison.
    pub compare: CompareId,
    /// What the openings are called.
    pub name: String,
    /// How they relate.
    pub relation: Relation,
    /// Sides of a and b.
    pub sides: [Side; 2],
    /// How it was cut; sections stand farther apart than asked for where the edge is long.
    pub plan: SectionPlan,
    /// Whether the edge closes, so that the last section is beside the first.
    pub closed: bool,
    /// Sections in order along a's edge.
    pub sections: Vec<Section>,
    /// Their steps, section by section, the panel from the edge outwards before the flange.
    pub steps: Vec<SectionStep>,
    /// Where the panel differs most; `None` where nothing was seen on both sides.
    pub worst: Option<WorstPanel>,
    /// All differences weighed together; `None` without draws.
    pub joint: Option<JointVerdict>,
    /// The map in a few flat bands, from the lowest.
    pub bands: Vec<PanelBand>,
    /// Share of the panel that was not seen on both sides, 0 to 1.
    pub not_seen: f64,
}

/// A station of a gap.
#[derive(Clone, Debug, PartialEq)]
pub struct GapStation {
    /// Share of the length from the named start, 0 to 1.
    pub share: f64,
    /// Length from the start, mm.
    pub from_start_mm: f64,
    /// Width of the gap; `None` where its walls were not seen.
    pub gap: Option<Figure>,
    /// First panel less second, + where the first stands proud; `None` where one of them was not seen.
    pub flush: Option<Figure>,
    /// Whether the gap is between walls (return flanges); else between where the panels end, known only as finely as the scan.
    pub by_walls: bool,
    /// Middle of the gap, scan axes, mm.
    pub at: Point,
}

/// A station of a gap on both sides.
#[derive(Clone, Debug, PartialEq)]
pub struct GapDifference {
    /// Share of the length from the named start, 0 to 1.
    pub share: f64,
    /// Left gap less right gap, + where the left is wider.
    pub gap: Option<Figure>,
    /// Left flush less right.
    pub flush: Option<Figure>,
    /// Whether gap and flush are proven among all of this gap.
    pub proven: [bool; 2],
}

/// A gap to a neighbour, by station.
#[derive(Clone, Debug, PartialEq)]
pub struct PanelGap {
    /// What it is called.
    pub name: String,
    /// What the panels are called.
    pub panels: [String; 2],
    /// Stations on the left; empty where it was not measured.
    pub left: Vec<GapStation>,
    /// Stations on the right.
    pub right: Vec<GapStation>,
    /// Left minus right, by share of the length.
    pub differences: Vec<GapDifference>,
}

/// A barrel or pin of a hinge, scan axes, mm.
#[derive(Clone, Debug, PartialEq)]
pub struct HingeBarrel {
    /// Its name.
    pub name: String,
    /// Middle of its axis.
    pub middle: Point,
    /// Direction of its axis, from the first barrel to the last.
    pub axis: Unit,
    /// Its diameter.
    pub diameter: Figure,
    /// Arc of its wall that was seen, degrees.
    pub arc_deg: f64,
}

/// Two neighbouring barrels against each other.
#[derive(Clone, Debug, PartialEq)]
pub struct HingeStep {
    /// Their names.
    pub between: [String; 2],
    /// How far their axes miss each other halfway between them.
    pub offset: Figure,
    /// Angle between their axes.
    pub angle: Figure,
    /// Whether offset and angle are proven among all of this hinge.
    pub proven: [bool; 2],
}

/// How near the edge of what swings comes to the edge that stays.
#[derive(Clone, Debug, PartialEq)]
pub struct Swing {
    /// The opening whose edge swings.
    pub part: OpeningId,
    /// How far it was turned, degrees.
    pub open_deg: f64,
    /// The nearest the two edges come.
    pub nearest: Figure,
    /// At which angle, degrees.
    pub at_deg: f64,
    /// Length along the swinging edge from its start, mm.
    pub along_mm: f64,
    /// Where, scan axes of the hinge, mm, shut.
    pub at: Point,
    /// The nearest while shut.
    pub shut: Figure,
}

/// Pins that are to lie on one line.
#[derive(Clone, Debug, PartialEq)]
pub struct MeasuredHinge {
    /// What it is called.
    pub name: String,
    /// Barrels found.
    pub barrels: Vec<HingeBarrel>,
    /// Neighbours against each other.
    pub steps: Vec<HingeStep>,
    /// What swings, if it was asked for and found.
    pub swing: Option<Swing>,
}

/// All sections of a job.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Sections {
    /// Pairs, in the order of the comparisons.
    pub pairs: Vec<PairPanel>,
    /// Gaps to neighbours, in the order of the job.
    pub gaps: Vec<PanelGap>,
    /// Hinges, in the order of the job.
    pub hinges: Vec<MeasuredHinge>,
    /// Findings about them.
    pub findings: Vec<Finding>,
}
