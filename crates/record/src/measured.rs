//! What was measured. Everything a decision needs is here, and no scan point.

use geom::{Improper, NoiseModel, Plane, Point, Rigid, Unit};
use nalgebra::DMatrix;

use crate::{
    CompareId, EdgeKind, FaceId, Figure, Finding, HoleId, HoleKind, JunctionId, OpeningId, PartId,
    Relation, Side, Through, VisitId,
};

/// The noise of a visit.
#[derive(Clone, Debug)]
pub struct VisitNoise {
    /// The visit.
    pub visit: VisitId,
    /// What its faces say together.
    pub model: NoiseModel,
    /// How many faces spoke.
    pub faces: usize,
}

/// A fitted face, scan axes, mm.
#[derive(Clone, Debug, PartialEq)]
pub struct MeasuredFace {
    /// Its name.
    pub id: FaceId,
    /// Best plane; the normal points away from the metal.
    pub plane: Plane,
    /// Middle of the seen part.
    pub centre: Point,
    /// Longer and shorter side of the seen part, mm.
    pub size_mm: [f64; 2],
    /// Number of points.
    pub points: usize,
    /// Share of its outline that was seen, 0 to 1.
    pub seen: f64,
    /// Standard deviation of the points about the surface, mm.
    pub scatter_mm: f64,
    /// Height of the bow over the face, mm.
    pub sag: Figure,
    /// Radius of curvature where it is curved, mm.
    pub radius_mm: Option<f64>,
    /// Turn of the normal per mm of shift of the face, deg.
    pub turn_deg_per_mm: f64,
    /// Findings about it.
    pub findings: Vec<Finding>,
}

/// An angle at a station of a junction.
#[derive(Clone, Debug, PartialEq)]
pub struct StationAngle {
    /// What the place is called: "top", "1/4", "120 mm".
    pub place: String,
    /// Share of the length from the named start, 0 to 1.
    pub share: f64,
    /// Length from the named start, mm.
    pub from_start_mm: f64,
    /// The angle as the job asks for it (through the metal or the air).
    pub angle: Figure,
    /// Where it is, scan axes, mm.
    pub at: Point,
}

/// A measured junction.
#[derive(Clone, Debug, PartialEq)]
pub struct MeasuredJunction {
    /// Its name.
    pub id: JunctionId,
    /// Where the angle is taken.
    pub through: Through,
    /// Start of the junction line, scan axes, mm.
    pub start: Point,
    /// End of the junction line.
    pub end: Point,
    /// Length seen, mm.
    pub length_mm: f64,
    /// Angles by station.
    pub stations: Vec<StationAngle>,
    /// Twist rate.
    pub twist: Figure,
    /// How far the more twisted face is from the best flat one, mm.
    pub flat_error: Figure,
    /// Whether two ruled faces describe it; else the local angles are given.
    pub ruled: bool,
    /// p-value of the local angles scattering about the ruled ones by chance.
    pub ruled_p: f64,
    /// Widths of the two faces across the junction, mm.
    pub widths_mm: [f64; 2],
    /// Findings about it.
    pub findings: Vec<Finding>,
}

/// One station of an opening edge, part axes, mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct EdgeStation {
    /// Length along the edge from its start, mm.
    pub along_mm: f64,
    /// The smoothed edge.
    pub at: Point,
    /// Direction along the edge.
    pub tangent: Unit,
    /// In the panel surface towards the inside of the opening.
    pub gap_dir: Unit,
    /// Normal to the panel, outward.
    pub flush_dir: Unit,
    /// Standard uncertainty along `gap_dir`, mm.
    pub gap_u_mm: f64,
    /// Standard uncertainty along `flush_dir`, mm.
    pub flush_u_mm: f64,
    /// Whether the edge was seen here.
    pub seen: bool,
}

/// A length of edge that was not seen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct EdgeGap {
    /// Where it begins, mm along the edge.
    pub from_mm: f64,
    /// Its length, mm.
    pub length_mm: f64,
}

/// A rounded corner of an edge.
#[derive(Clone, Debug, PartialEq)]
pub struct CornerRadius {
    /// What the place is called: "upper outer corner".
    pub place: String,
    /// Radius.
    pub radius: Figure,
    /// Arc seen, degrees.
    pub arc_deg: f64,
    /// Middle of the arc, mm along the edge.
    pub along_mm: f64,
}

/// A named size.
#[derive(Clone, Debug, PartialEq)]
pub struct Dimension {
    /// What it is called: "width", "diagonal, upper outer to lower inner".
    pub name: String,
    /// Its value.
    pub figure: Figure,
}

/// A measured opening edge, part axes, mm.
#[derive(Clone, Debug, PartialEq)]
pub struct MeasuredEdge {
    /// Which line it is; never [`EdgeKind::Auto`].
    pub kind: EdgeKind,
    /// Whether it closes.
    pub closed: bool,
    /// Stations in order, evenly spaced along the edge, running counter-clockwise seen from outside (+Z).
    pub stations: Vec<EdgeStation>,
    /// Lengths not seen.
    pub gaps: Vec<EdgeGap>,
    /// Lines and arcs that describe it in the flat of the part (XY).
    pub pieces: geom::ArcPath,
    /// Farthest distance of the smoothed edge from `pieces`, mm.
    pub pieces_error_mm: f64,
    /// Width, height, diagonals, perimeter, area, twist.
    pub dimensions: Vec<Dimension>,
    /// Corners.
    pub corners: Vec<CornerRadius>,
    /// Part of the doubt common to all stations (rounding of the edge), mm, half-width.
    pub edge_bias_mm: f64,
    /// How the stations move together: the truth is `at + gap_dir * (gap y) + flush_dir * (flush z)`, y and z standard
    /// normal.
    pub spread: EdgeSpread,
}

/// Joint uncertainty of stations as independent factors: rows = stations, columns = factors, mm. Gap and flush have
/// factors of their own, but for the last `shared` columns of both, which are the same factors.
#[derive(Clone, Debug, PartialEq)]
pub struct EdgeSpread {
    /// Along the gap directions.
    pub gap: DMatrix<f64>,
    /// Along the flush directions.
    pub flush: DMatrix<f64>,
    /// How many of the last columns are the same factors in both (a film that was taken off).
    pub shared: usize,
    /// Degrees of freedom of the scale.
    pub nu: f64,
}

/// A measured hole or stud, part axes, mm.
#[derive(Clone, Debug, PartialEq)]
pub struct MeasuredHole {
    /// Its name.
    pub id: HoleId,
    /// What it is.
    pub kind: HoleKind,
    /// Middle, on the panel surface.
    pub centre: Point,
    /// Its axis, outward.
    pub axis: Unit,
    /// Give-or-take of the middle in the panel surface, per direction.
    pub centre_u95: Figure,
    /// Diameter.
    pub diameter: Figure,
    /// Arc of the rim that was seen, degrees.
    pub arc_deg: f64,
    /// Findings about it.
    pub findings: Vec<Finding>,
}

/// A measured opening.
#[derive(Clone, Debug, PartialEq)]
pub struct MeasuredOpening {
    /// Its name in the job.
    pub id: OpeningId,
    /// What it is called.
    pub name: String,
    /// Its side.
    pub side: Side,
    /// Part axes from scan axes: flat of the part = XY, +Y = top, +Z outward, origin in the middle of the opening.
    pub part_from_scan: Rigid,
    /// Its edge, if it has one and it was found.
    pub edge: Option<MeasuredEdge>,
    /// Faces found.
    pub faces: Vec<MeasuredFace>,
    /// Junctions found.
    pub junctions: Vec<MeasuredJunction>,
    /// Holes found.
    pub holes: Vec<MeasuredHole>,
    /// Findings about it.
    pub findings: Vec<Finding>,
}

/// A station of a pair: a's edge and where b's edge crosses the plane normal to it, in a's part axes.
#[derive(Clone, Debug, PartialEq)]
pub struct PairStation {
    /// What the place is called: "upper inner corner", "top edge", "station 8".
    pub place: String,
    /// Share of a's edge, 0 to 1.
    pub share: f64,
    /// a's edge, mm.
    pub a: Point,
    /// b's edge laid on a (mirrored where the relation says so), mm.
    pub b: Point,
    /// Along the edge.
    pub tangent: Unit,
    /// Towards the inside of the opening.
    pub gap_dir: Unit,
    /// Outward from the panel.
    pub flush_dir: Unit,
    /// Gap of a minus gap of b: + where a's opening is the wider.
    pub gap: Figure,
    /// + where a stands proud of b.
    pub flush: Figure,
    /// Whether both edges were seen here.
    pub seen: bool,
}

/// Ways in which one opening differs from the other as a whole.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum ModeKind {
    /// a is wider.
    Width,
    /// a is higher.
    Height,
    /// a is sheared: its top lies further along +X.
    Shear,
    /// a is twisted out of its flat over its height, degrees.
    Twist,
    /// a is bowed out across its width.
    BowAcross,
    /// a is bowed out over its height.
    BowUp,
}

/// One named way of differing with its amount.
#[derive(Clone, Debug, PartialEq)]
pub struct ShapeMode {
    /// Which.
    pub kind: ModeKind,
    /// a minus b.
    pub amount: Figure,
}

/// What is left of the difference once placement and modes are taken out.
#[derive(Clone, Debug, PartialEq)]
pub struct LocalRest {
    /// Root mean square, mm.
    pub rms_mm: f64,
    /// The worst place.
    pub place: String,
    /// Amount there.
    pub worst: Figure,
}

/// One rung of the ladder of angles.
#[derive(Clone, Debug, PartialEq)]
pub struct AngleRow {
    /// The junction.
    pub junction: JunctionId,
    /// What the place is called.
    pub place: String,
    /// Share of the length, 0 at the named start.
    pub share: f64,
    /// Where the angle is taken.
    pub through: Through,
    /// On a.
    pub a: Option<Figure>,
    /// On b.
    pub b: Option<Figure>,
    /// a minus b.
    pub difference: Option<Figure>,
    /// What it was drawn with, degrees.
    pub drawn_deg: Option<f64>,
    /// Whether it counts for the joint odds (both ends of a ruled junction; inner stations follow from them).
    pub independent: bool,
}

/// A hole and its partner, in a's part axes after the edges were laid on each other.
#[derive(Clone, Debug, PartialEq)]
pub struct HolePair {
    /// Its name.
    pub id: HoleId,
    /// a's middle, mm.
    pub a: Point,
    /// b's middle laid on a, mm.
    pub b: Point,
    /// a's axis.
    pub axis: Unit,
    /// a minus b along part X.
    pub right: Figure,
    /// a minus b along part Y.
    pub up: Figure,
    /// Standard uncertainty of a's middle, each direction, mm.
    pub a_u_mm: f64,
    /// Standard uncertainty of b's middle, each direction, mm.
    pub b_u_mm: f64,
    /// Diameter on a.
    pub a_diameter: Figure,
    /// Diameter on b.
    pub b_diameter: Figure,
    /// What is left after the patterns themselves are laid on each other, mm.
    pub pattern_rest_mm: f64,
}

/// What was measured of a comparison.
#[derive(Clone, Debug, PartialEq)]
pub struct MeasuredCompare {
    /// Its name.
    pub id: CompareId,
    /// How the two relate.
    pub relation: Relation,
    /// The part.
    pub part: PartId,
    /// One opening.
    pub a: OpeningId,
    /// The other, if measured.
    pub b: Option<OpeningId>,
    /// Sides of a and b.
    pub sides: [Side; 2],
    /// a's part axes from b's scan axes, if both edges could be laid on each other.
    pub b_on_a: Option<Improper>,
    /// Stations; empty without two edges.
    pub stations: Vec<PairStation>,
    /// a's uncertainty at the stations.
    pub a_spread: Option<EdgeSpread>,
    /// b's uncertainty at the stations.
    pub b_spread: Option<EdgeSpread>,
    /// a's edge, dense and in order, a's part axes, mm.
    pub a_curve: Vec<Point>,
    /// b's edge laid on a, dense and in order, mm.
    pub b_curve: Vec<Point>,
    /// Whether the edges close.
    pub closed: bool,
    /// Named ways of differing.
    pub modes: Vec<ShapeMode>,
    /// The rest.
    pub rest: Option<LocalRest>,
    /// The ladder of angles.
    pub angles: Vec<AngleRow>,
    /// Holes on both sides.
    pub holes: Vec<HolePair>,
    /// Findings about it.
    pub findings: Vec<Finding>,
}

/// Everything measured.
#[derive(Clone, Debug, Default)]
pub struct Measured {
    /// Noise per visit.
    pub noise: Vec<VisitNoise>,
    /// Openings.
    pub openings: Vec<MeasuredOpening>,
    /// Comparisons.
    pub compares: Vec<MeasuredCompare>,
    /// Scans joined to one set of axes; only positions rest on it.
    pub joined: crate::Joined,
    /// A scan on its own mirror image, where that was asked for; only positions rest on it.
    pub own_image: Option<crate::ImageOf>,
    /// Findings that belong to no opening or pair.
    pub findings: Vec<Finding>,
}
