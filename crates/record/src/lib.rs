//! The plain types of a job, of what was measured and of what was decided.
//!
//! No algorithm, no file and no clock lives here. A [`Job`] is everything typed or clicked; [`Scans`] stand
//! beside it; [`Measured`] and [`Decided`] make up the [`Study`] that every output shows.

mod body;
mod body_work;
mod cars;
mod decided;
mod drawing;
mod field;
mod figure;
mod finding;
mod hand;
mod id;
mod job;
mod join;
mod joined;
mod measured;
mod opening;
mod panel_picks;
mod part;
mod place;
mod positions;
mod progress;
mod scan;
mod sections;
mod study;

pub use body::{BodyState, Car, Mounting, ScanRef, Surface, UnitSource, Visit};
pub use body_work::{
    BodyWork, LaidFrom, LaidWork, OpeningAfter, Touched, WorkFound, WorkStudy, WorkedArea,
};
pub use cars::{CarFit, CarsStudy};
pub use decided::{
    Box4, Chance, CureWay, Decided, DecidedCompare, DiffersBy, Direction, EvenGap, JointVerdict,
    Matters, Need, NeedKind, NextReading, OptionKind, OptionResult, Verdict, WayOfDiffering,
    WorstPlace,
};
pub use drawing::{Drawing, DrawnFace, DrawnHole, DrawnJunction, DrawnStation};
pub use field::{FieldPlan, PlanBox, PlanPoint, PlanRole};
pub use figure::{Figure, Quantity, Source};
pub use finding::{Code, Finding, Number, Severity};
pub use hand::{HandInstrument, HandKind, HandReading, HandTable};
pub use id::{CompareId, FaceId, HoleId, JunctionId, OpeningId, PartId, ScanId, VisitId};
pub use job::{Choices, Compare, DisplayUnits, Job, LengthDisplay, Relation};
pub use join::{Join, StartPose, TapedLength};
pub use joined::{
    JoinAt, Joined, JoinedBy, JoinedPlaceRow, JoinedScan, Overlap, TapedRow, WeakWay,
};
pub use measured::{
    AngleRow, CornerRadius, Dimension, EdgeGap, EdgeSpread, EdgeStation, HolePair, LocalRest,
    Measured, MeasuredCompare, MeasuredEdge, MeasuredFace, MeasuredHole, MeasuredJunction,
    MeasuredOpening, ModeKind, PairStation, ShapeMode, StationAngle, VisitNoise,
};
pub use opening::{
    EdgeKind, EdgePick, FacePick, HoleKind, HolePick, JunctionPick, Opening, Region, RegionShape,
    Side, Stations, Through,
};
pub use panel_picks::{BarrelPick, GapPick, GapTrack, HingePick, SwingPick};
pub use part::{Allowed, Evenness, Fastener, Finish, Fixing, Gasket, Part, Slot};
pub use place::{Centreline, CentrelineWay, Place, PlaceName, PlacesTable};
pub use positions::{
    BodyFigure, BodyWay, CentralRow, ImageFit, ImageOf, Laid, LaidBy, LineKnown, PairPosition,
    PlaceRow, PositionKind, PositionRow, Positions, RivalLine, RivalName,
};
pub use progress::{Cancelled, Progress, Quiet, Stage};
pub use scan::{BoundaryLoop, LengthUnit, Prepared, RawScan, Scans};
pub use sections::{
    GapDifference, GapStation, HingeBarrel, HingeStep, MeasuredHinge, PairPanel, PanelBand,
    PanelGap, Section, SectionPlan, SectionStep, Sections, SheetAxes, SheetKind, Swing, WorstPanel,
};
pub use study::{OpeningNotMeasured, Provenance, ScanProvenance, Study};
