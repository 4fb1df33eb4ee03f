//! Every change the window can make to a job.

use std::path::PathBuf;

use geom::{Point, Vector};
use record::{
    BodyWork, Car, Centreline, Compare, CompareId, DisplayUnits, EdgePick, FaceId, FacePick,
    Fastener, Finish, Fixing, GapPick, Gasket, HandTable, HingePick, HoleId, HoleKind, HolePick,
    Job, Join, JunctionId, JunctionPick, LengthUnit, Mounting, Opening, OpeningId, OptionKind,
    Part, PartId, Place, Region, Relation, ScanId, ScanRef, Side, Slot, Stations, Surface,
    TapedLength, Through, UnitSource, Visit, VisitId,
};

use crate::by_hand::HandBox;

/// A change of the job. Lengths mm, angles degrees, places and directions in the axes of the scan.
///
/// Carried out by [`crate::Editor::apply`]; its name in words ([`Command::name`]) stands in the lists of undo and redo.
#[derive(Clone, Debug, PartialEq)]
pub enum Command {
    /// Title of the job.
    Title(String),
    /// Free words about the job.
    Note(String),
    /// Seed of every random draw.
    Seed(u64),
    /// How numbers are shown.
    Show(DisplayUnits),
    /// Adds a car.
    AddCar(Car),
    /// Removes a car; visits that name it keep their word.
    RemoveCar(String),
    /// Adds a visit.
    AddVisit(Box<Visit>),
    /// Removes a visit that no scan belongs to.
    RemoveVisit(VisitId),
    /// Changes a visit.
    Visit {
        /// Which.
        visit: VisitId,
        /// How.
        change: VisitChange,
    },
    /// Adds a scan. Files dropped on the window go through [`crate::Editor::bring_in`], which adds them once they are read.
    AddScan(Box<ScanRef>),
    /// Removes a scan with everything picked in it.
    RemoveScan(ScanId),
    /// Changes a scan.
    Scan {
        /// Which.
        scan: ScanId,
        /// How.
        change: ScanChange,
    },
    /// Adds a table of readings by hand.
    AddHand(Box<HandTable>),
    /// Removes a hand table with the openings measured in it.
    RemoveHand(ScanId),
    /// Changes a hand table.
    Hand {
        /// Which.
        table: ScanId,
        /// How.
        change: HandChange,
    },
    /// Adds places of the body.
    AddPlaces(Vec<Place>),
    /// Changes a place of the body. Rows of the table beside the job stand in the job from then on.
    ChangePlace {
        /// Its number among those of the job and then of the table beside it, from 0.
        number: usize,
        /// What it is now.
        to: Box<Place>,
    },
    /// Removes a place of the body, told as for [`Command::ChangePlace`].
    RemovePlace(usize),
    /// Which scans are joined to which, all of them.
    Joins(Vec<Join>),
    /// Lengths taped between places, all of them.
    Taped(Vec<TapedLength>),
    /// Gaps to neighbouring panels, all of them.
    Gaps(Vec<GapPick>),
    /// Hinges, all of them.
    Hinges(Vec<HingePick>),
    /// Which scan shows the same side before and which after body work, all of it.
    BodyWork(Vec<BodyWork>),
    /// How the centreline is laid.
    Centreline(Box<Centreline>),
    /// Adds an opening.
    AddOpening(Box<Opening>),
    /// Removes an opening; comparisons of it go too, or lose their other side.
    RemoveOpening(OpeningId),
    /// Changes an opening.
    Opening {
        /// Which.
        opening: OpeningId,
        /// How.
        change: OpeningChange,
    },
    /// Adds a comparison.
    AddCompare(Compare),
    /// Removes a comparison with what was chosen for it.
    RemoveCompare(CompareId),
    /// Changes a comparison.
    Compare {
        /// Which.
        compare: CompareId,
        /// How.
        change: CompareChange,
    },
    /// Adds a part.
    AddPart(Box<Part>),
    /// Removes a part with its comparisons.
    RemovePart(PartId),
    /// Changes a part.
    Part {
        /// Which.
        part: PartId,
        /// How.
        change: PartChange,
    },
    /// Chooses an option, with the reason.
    Choose {
        /// For which comparison.
        compare: CompareId,
        /// Which option.
        option: OptionKind,
        /// Why; may be empty.
        note: String,
    },
    /// Takes a choice back.
    Unchoose(CompareId),
    /// Several changes as one step.
    Several {
        /// What they are together, in words.
        name: String,
        /// The changes, in order.
        commands: Vec<Command>,
    },
}

/// A change of a visit.
#[derive(Clone, Debug, PartialEq)]
pub enum VisitChange {
    /// Its name; scans follow.
    Rename(VisitId),
    /// The car.
    Car(String),
    /// The date as written.
    Date(String),
    /// Who measured.
    Operator(String),
    /// With what.
    Instrument(String),
    /// How flat the instrument sees a flat face, mm.
    Flatness(f64),
    /// What the body stood on.
    Mounting(Mounting),
    /// What covered a side; `side` is left or right.
    Surface {
        /// Left or right; others change nothing.
        side: Side,
        /// What covered it.
        surface: Surface,
    },
    /// Film thickness of a side, micrometres.
    Film {
        /// Left or right; others change nothing.
        side: Side,
        /// `None`: not measured.
        film_um: Option<f64>,
    },
    /// Whether the doors were hung; `None`: not noted.
    DoorsHung(Option<bool>),
    /// Degrees Celsius; `None`: not noted.
    Temperature(Option<f64>),
    /// Free words.
    Note(String),
}

/// A change of a scan.
#[derive(Clone, Debug, PartialEq)]
pub enum ScanChange {
    /// Its name; openings follow.
    Rename(ScanId),
    /// Its unit. Places picked in the scan are scaled with it, so they stay on the metal.
    Unit {
        /// The unit.
        unit: LengthUnit,
        /// How it is known.
        source: UnitSource,
    },
    /// The side of the car it shows.
    Side(Side),
    /// The visit it belongs to.
    Visit(VisitId),
    /// Where the file is now.
    Path(PathBuf),
    /// The file as it is now is the right one: its hash.
    Hash(Option<String>),
    /// Only points within this (and within others kept) are used.
    Keep(Region),
    /// Points within this are not used.
    PutAside(Region),
    /// Takes a region back.
    RemoveRegion {
        /// One of the kept ones; else one of those put aside.
        kept: bool,
        /// Its place in the list.
        index: usize,
    },
    /// Whether only the largest connected piece is used.
    LargestPieceOnly(bool),
    /// Free words.
    Note(String),
}

/// A change of a table of readings by hand. Its rows stand in the job from the first reading typed on: a file they came from
/// stays as it was, and taking the reading back names it again.
#[derive(Clone, Debug, PartialEq)]
pub enum HandChange {
    /// What stands in a box of the field sheet.
    Reading {
        /// Whose.
        opening: OpeningId,
        /// Which box.
        of: HandBox,
        /// As it was written: "412,5", "3/16 in", "3' 4 1/2\"", "89° 15'". Blank: not measured.
        written: String,
    },
    /// Whether all points lie in one plane.
    Flat(bool),
    /// Takes an instrument of the table's own out; its readings are those of the usual instrument of that name, or of their
    /// kind.
    RemoveInstrument(String),
    /// Takes an operator out: nobody is named for the readings any more.
    RemoveOperator(String),
    /// Free words.
    Note(String),
}

/// A change of an opening. Any change but [`OpeningChange::Skip`] of a proposed opening leaves it proposed until
/// [`OpeningChange::Keep`].
#[derive(Clone, Debug, PartialEq)]
pub enum OpeningChange {
    /// Its name in the job; comparisons follow.
    Rename(OpeningId),
    /// What it is called in sentences.
    Name(String),
    /// Its side.
    Side(Side),
    /// Its edge.
    Edge(Option<EdgePick>),
    /// The point that is up from its middle.
    Top(Option<Point>),
    /// Towards the outside of the car, for openings of faces only.
    Outward(Option<Vector>),
    /// Adds a face.
    AddFace(FacePick),
    /// Removes a face and its junctions.
    RemoveFace(FaceId),
    /// Changes a face.
    Face {
        /// Which.
        face: FaceId,
        /// How.
        change: FaceChange,
    },
    /// Adds a junction.
    AddJunction(JunctionPick),
    /// Removes a junction.
    RemoveJunction(JunctionId),
    /// Changes a junction.
    Junction {
        /// Which.
        junction: JunctionId,
        /// How.
        change: JunctionChange,
    },
    /// Adds a hole or stud.
    AddHole(HolePick),
    /// Removes a hole; a fastener whose last hole it was goes too.
    RemoveHole(HoleId),
    /// Changes a hole.
    Hole {
        /// Which.
        hole: HoleId,
        /// How.
        change: HoleChange,
    },
    /// Keeps a proposed opening: a person has looked at it.
    Keep,
    /// Skips a proposed opening: it goes as with [`Command::RemoveOpening`].
    Skip,
    /// Free words.
    Note(String),
}

/// A change of a face.
#[derive(Clone, Debug, PartialEq)]
pub enum FaceChange {
    /// Its name; junctions follow.
    Rename(FaceId),
    /// The point on it.
    Near(Point),
    /// Towards which side it faces.
    Facing(Option<Vector>),
    /// How far it may reach, mm; `None`: as far as the engine lets it.
    Reach(Option<f64>),
    /// Width left out beside its junctions, mm.
    Band(Option<f64>),
}

/// A change of a junction.
#[derive(Clone, Debug, PartialEq)]
pub enum JunctionChange {
    /// Its name, here and on the other sides of the comparisons: the same name is its partner.
    Rename(JunctionId),
    /// Its faces.
    Faces(FaceId, FaceId),
    /// A point near the end at which it starts.
    Start(Point),
    /// What its ends are called, start first.
    EndNames(String, String),
    /// Where the angle is taken.
    Through(Through),
    /// Where along it angles are given.
    Stations(Stations),
    /// The angle it was drawn with, degrees.
    Drawn(Option<f64>),
}

/// A change of a hole.
#[derive(Clone, Debug, PartialEq)]
pub enum HoleChange {
    /// Its name, here, on the other sides of the comparisons, and in fasteners.
    Rename(HoleId),
    /// A point near its middle.
    Near(Point),
    /// What it is.
    Kind(HoleKind),
    /// Its diameter as far as known, mm.
    Diameter(Option<f64>),
}

/// A change of a comparison.
#[derive(Clone, Debug, PartialEq)]
pub enum CompareChange {
    /// Its name; choices follow.
    Rename(CompareId),
    /// The two openings.
    Openings(OpeningId, Option<OpeningId>),
    /// How they relate, with the other opening where one is needed.
    Relation(Relation, Option<OpeningId>),
    /// The part.
    Part(PartId),
}

/// A change of a part.
#[derive(Clone, Debug, PartialEq)]
pub enum PartChange {
    /// Its name in the job; comparisons follow.
    Rename(PartId),
    /// What it is called in sentences.
    Name(String),
    /// Agreed gap, mm.
    Gap(f64),
    /// How much tighter the gap may be, mm.
    Tight(f64),
    /// How much wider, mm.
    Wide(f64),
    /// How far it may stand proud, mm.
    Proud(f64),
    /// How far it may be shy, mm.
    Shy(f64),
    /// How far a junction angle may be off, degrees.
    Angle(f64),
    /// Adds a fastener.
    AddFastener(Fastener),
    /// Removes the fastener of a hole.
    RemoveFastener(HoleId),
    /// Changes the fastener of a hole.
    Fastener {
        /// Of which hole.
        hole: HoleId,
        /// How.
        change: FastenerChange,
    },
    /// The gasket all round.
    Gasket(Option<Gasket>),
    /// The finish.
    Finish(Finish),
    /// Radius of the cutter, mm.
    CutterRadius(f64),
    /// Whether it carries load or safety.
    LoadBearing(bool),
    /// What must not be mirrored.
    MustNotMirror(Vec<String>),
    /// Whether the pair is seen together.
    SeenTogether(bool),
    /// Where on the body it sits: shares of the length from the nose and of the half width from the middle.
    Place(Option<[f64; 2]>),
    /// Free words.
    Note(String),
}

/// A change of a fastener.
#[derive(Clone, Debug, PartialEq)]
pub enum FastenerChange {
    /// Its diameter, mm.
    Diameter(f64),
    /// Hole in the part, mm.
    PartHole(f64),
    /// Hole in the body, mm.
    BodyHole(f64),
    /// How it is held.
    Fixing(Fixing),
    /// Slot in the part.
    Slot(Option<Slot>),
    /// Least and most stand-off made up by shims, mm.
    Shim(f64, f64),
}

impl Command {
    /// Its name in words, as it stands in the lists of undo and redo: "gap 3.0", "side of nose-left: left". `before` is
    /// the job it is applied to; with more than one part the part is named too.
    pub fn name(&self, before: &Job) -> String {
        crate::command_name::name(self, before)
    }

    /// A change of an opening.
    pub fn opening(opening: impl Into<OpeningId>, change: OpeningChange) -> Self {
        Self::Opening {
            opening: opening.into(),
            change,
        }
    }

    /// A change of a face of an opening.
    pub fn face(
        opening: impl Into<OpeningId>,
        face: impl Into<FaceId>,
        change: FaceChange,
    ) -> Self {
        Self::Opening {
            opening: opening.into(),
            change: OpeningChange::Face {
                face: face.into(),
                change,
            },
        }
    }

    /// A change of a part.
    pub fn part(part: impl Into<PartId>, change: PartChange) -> Self {
        Self::Part {
            part: part.into(),
            change,
        }
    }

    /// A change of a scan.
    pub fn scan(scan: impl Into<ScanId>, change: ScanChange) -> Self {
        Self::Scan {
            scan: scan.into(),
            change,
        }
    }

    /// A change of a visit.
    pub fn visit(visit: impl Into<VisitId>, change: VisitChange) -> Self {
        Self::Visit {
            visit: visit.into(),
            change,
        }
    }
}
