//! The structs of the job file, schema 1. Lengths in mm, angles in degrees, films in micrometres.

use serde::{Deserialize, Serialize};

use super::body_work_wire::BodyWork;
use super::panel_wire::{Gap, Hinge, Sections};

/// A position or direction in the axes of a scan.
pub(super) type Three = [f64; 3];

pub(super) fn is_default<T: Default + PartialEq>(value: &T) -> bool {
    *value == T::default()
}

fn yes() -> bool {
    true
}

/// By reference, as serde asks for it.
#[allow(clippy::trivially_copy_pass_by_ref)]
fn is_yes(value: &bool) -> bool {
    *value
}

/// An enum of plain words, tied one to one to one of `record`.
macro_rules! words {
    ($(#[$doc:meta])* $wire:ident = $record:path { $($name:ident = $word:literal),+ $(,)? } $(usual $usual:ident)?) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
        pub(super) enum $wire {
            $(#[serde(rename = $word)] $name),+
        }

        impl From<$record> for $wire {
            fn from(value: $record) -> Self {
                use $record as R;
                match value { $(R::$name => Self::$name),+ }
            }
        }

        impl From<$wire> for $record {
            fn from(value: $wire) -> Self {
                use $record as R;
                match value { $($wire::$name => R::$name),+ }
            }
        }

        $(impl Default for $wire {
            fn default() -> Self {
                Self::$usual
            }
        })?
    };
}

words! { LengthDisplay = record::LengthDisplay { Millimetre = "mm", Inch = "in" } usual Millimetre }
words! { LengthUnit = record::LengthUnit {
    Millimetre = "mm", Centimetre = "cm", Metre = "m", Inch = "in", Foot = "ft",
} }
words! { Mounting = record::Mounting {
    NotNoted = "not_noted", OnMounts = "on_mounts", OnStands = "on_stands",
} usual NotNoted }
words! { Surface = record::Surface {
    NotNoted = "not_noted", Bare = "bare", Primed = "primed", Painted = "painted",
} usual NotNoted }
words! { Side = record::Side { Left = "left", Right = "right", Centre = "centre", NotSaid = "not_said" } usual NotSaid }
words! { EdgeKind = record::EdgeKind { Auto = "auto", Free = "free", Bend = "bend" } usual Auto }
words! { Through = record::Through { Material = "material", Air = "air" } usual Material }
words! { HoleKind = record::HoleKind { Hole = "hole", Stud = "stud" } usual Hole }
words! { Relation = record::Relation { Mirrored = "mirrored", Same = "same", Itself = "itself" } usual Mirrored }
words! { Fixing = record::Fixing { Fixed = "fixed", Floating = "floating" } usual Floating }
words! { OptionKind = record::OptionKind {
    OneShape = "one_shape",
    MirrorA = "mirror_a",
    MirrorB = "mirror_b",
    Midway = "midway",
    OneShapeWithSlots = "one_shape_with_slots",
    OneShapeWithShims = "one_shape_with_shims",
    MirrorAWithSlots = "mirror_a_with_slots",
    MidwayWithSlots = "midway_with_slots",
    MirrorAWithShims = "mirror_a_with_shims",
    MidwayWithShims = "midway_with_shims",
    TwoHands = "two_hands",
} }

/// The whole file.
#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Job {
    pub schema: u32,
    #[serde(default)]
    pub title: String,
    #[serde(default, skip_serializing_if = "is_default")]
    pub note: String,
    #[serde(default)]
    pub seed: u64,
    #[serde(default, skip_serializing_if = "is_default")]
    pub display: Display,
    #[serde(default, skip_serializing_if = "is_default")]
    pub cars: Vec<Car>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub visits: Vec<Visit>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub scans: Vec<Scan>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub hand: Vec<Hand>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub places: Vec<Place>,
    /// A table of places beside the job.
    #[serde(default, skip_serializing_if = "is_default")]
    pub places_file: Option<String>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub joins: Vec<Join>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub taped: Vec<Taped>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub body_work: Vec<BodyWork>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub centreline: Centreline,
    #[serde(default, skip_serializing_if = "is_default")]
    pub openings: Vec<Opening>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub parts: Vec<Part>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub compares: Vec<Compare>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub sections: Sections,
    #[serde(default, skip_serializing_if = "is_default")]
    pub gaps: Vec<Gap>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub hinges: Vec<Hinge>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub chosen: Vec<Chosen>,
}

#[derive(Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Display {
    #[serde(default)]
    pub length: LengthDisplay,
    #[serde(default)]
    pub decimal_comma: bool,
}

#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Car {
    pub name: String,
    #[serde(default, skip_serializing_if = "is_default")]
    pub note: String,
}

#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Visit {
    pub id: String,
    /// Left out: the only car of the job, if there is one only.
    #[serde(default)]
    pub car: Option<String>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub date: String,
    #[serde(default, skip_serializing_if = "is_default")]
    pub operator: String,
    #[serde(default, skip_serializing_if = "is_default")]
    pub instrument: String,
    /// The floor of every face figure: never assumed.
    pub flatness_mm: f64,
    #[serde(default, skip_serializing_if = "is_default")]
    pub body: Body,
    #[serde(default, skip_serializing_if = "is_default")]
    pub note: String,
}

/// A named place of the body.
#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Place {
    pub name: String,
    /// Never assumed.
    pub side: Side,
    /// Left out: the only scan of the job, if there is one only.
    #[serde(default)]
    pub scan: Option<String>,
    pub at_mm: Three,
    /// Never assumed.
    pub sigma_mm: f64,
    #[serde(default, skip_serializing_if = "is_default")]
    pub note: String,
}

/// That one scan lies in the axes of another.
#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Join {
    pub scan: String,
    pub to: String,
    /// Left out: all that are in both scans.
    #[serde(default, skip_serializing_if = "is_default")]
    pub places: Vec<String>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub start: Option<Pose>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub refine: bool,
    #[serde(default, skip_serializing_if = "is_default")]
    pub note: String,
}

/// A turn about an axis through the origin, then a shift.
#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Pose {
    #[serde(default, skip_serializing_if = "is_default")]
    pub axis: Three,
    #[serde(default, skip_serializing_if = "is_default")]
    pub turn_deg: f64,
    #[serde(default, skip_serializing_if = "is_default")]
    pub shift_mm: Three,
    #[serde(default, skip_serializing_if = "is_default")]
    pub within_mm: Option<f64>,
}

/// A length taped between two named places.
#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Taped {
    pub from: PlaceName,
    pub to: PlaceName,
    pub length_mm: f64,
    /// Give-or-take of the tape: never assumed.
    pub u95_mm: f64,
    #[serde(default, skip_serializing_if = "is_default")]
    pub note: String,
}

#[derive(Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Centreline {
    #[serde(default)]
    pub way: CentrelineWay,
    #[serde(default, skip_serializing_if = "is_default")]
    pub front: Option<String>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub rear: Option<String>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub image_of: Option<String>,
}

#[derive(Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub(super) enum CentrelineWay {
    #[default]
    Pairs,
    CentrePlaces,
    OwnImage,
    ThreeTwoOne {
        level: [PlaceName; 3],
        line: [PlaceName; 2],
        start: PlaceName,
    },
    None,
}

#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct PlaceName {
    pub name: String,
    pub side: Side,
}

/// A table of hand readings: beside the job, or its rows in it.
#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Hand {
    pub id: String,
    /// Left out: the only visit of the job, if there is one only.
    #[serde(default)]
    pub visit: Option<String>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub path: Option<String>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub flat: bool,
    /// Only in journals: hash of that file, and why it could not be read.
    #[serde(default, skip_serializing_if = "is_default")]
    pub hash: Option<String>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub unread: Option<[String; 2]>,
    /// Heads first, columns between semicolons; not used where `path` is given, but in journals.
    #[serde(default, skip_serializing_if = "is_default")]
    pub rows: Vec<String>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub instruments: Vec<Instrument>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub note: String,
}

/// An instrument by its give-or-take: mm, or degrees where it reads angles.
#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Instrument {
    pub name: String,
    pub reading: f64,
    pub own: f64,
    #[serde(default, skip_serializing_if = "is_default")]
    pub own_per_m: f64,
    #[serde(default, skip_serializing_if = "is_default")]
    pub source: String,
}

#[derive(Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Body {
    #[serde(default, skip_serializing_if = "is_default")]
    pub mounting: Mounting,
    #[serde(default, skip_serializing_if = "is_default")]
    pub left: Surface,
    #[serde(default, skip_serializing_if = "is_default")]
    pub right: Surface,
    #[serde(default, skip_serializing_if = "is_default")]
    pub left_film_um: Option<f64>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub right_film_um: Option<f64>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub left_film_u95_um: Option<f64>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub right_film_u95_um: Option<f64>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub doors_hung: Option<bool>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub temperature_c: Option<f64>,
}

#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Scan {
    pub id: String,
    /// Left out: the only visit of the job, if there is one only.
    #[serde(default)]
    pub visit: Option<String>,
    pub path: String,
    #[serde(default, skip_serializing_if = "is_default")]
    pub blake3: Option<String>,
    /// Never assumed.
    pub unit: LengthUnit,
    #[serde(default, skip_serializing_if = "is_default")]
    pub unit_source: UnitSource,
    /// Left out: not said.
    #[serde(default, skip_serializing_if = "is_default")]
    pub side: Side,
    #[serde(default, skip_serializing_if = "is_default")]
    pub keep: Vec<Region>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub aside: Vec<Region>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub largest_piece_only: bool,
    #[serde(default, skip_serializing_if = "is_default")]
    pub note: String,
}

#[derive(Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub(super) enum UnitSource {
    #[default]
    Stated,
    Guessed,
    Checked {
        from_mm: Three,
        to_mm: Three,
        taped_mm: f64,
    },
}

#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Region {
    pub shape: RegionShape,
    #[serde(default, skip_serializing_if = "is_default")]
    pub note: String,
}

#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub(super) enum RegionShape {
    Box {
        low_mm: Three,
        high_mm: Three,
    },
    Lasso {
        origin_mm: Three,
        right: Three,
        up: Three,
        corners_mm: Vec<[f64; 2]>,
    },
}

#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Opening {
    pub id: String,
    /// Left out: the id.
    #[serde(default)]
    pub name: Option<String>,
    pub scan: String,
    /// Never assumed.
    pub side: Side,
    /// The opening of which this is a further reading.
    #[serde(default, skip_serializing_if = "is_default")]
    pub repeat_of: Option<String>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub sureness: Option<f64>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub edge: Option<Edge>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub top_mm: Option<Three>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub outward: Option<Three>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub faces: Vec<Face>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub junctions: Vec<Junction>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub holes: Vec<Hole>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub note: String,
}

#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Edge {
    /// May be left out where `by_hand_mm` is given: its first point.
    #[serde(default)]
    pub near_mm: Option<Three>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub kind: EdgeKind,
    #[serde(default, skip_serializing_if = "is_default")]
    pub by_hand_mm: Vec<Three>,
    #[serde(default = "yes", skip_serializing_if = "is_yes")]
    pub closed: bool,
}

#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Face {
    pub id: String,
    pub near_mm: Three,
    #[serde(default, skip_serializing_if = "is_default")]
    pub facing: Option<Three>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub reach_mm: Option<f64>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub band_mm: Option<f64>,
}

#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Junction {
    pub id: String,
    pub a: String,
    pub b: String,
    pub start_mm: Three,
    /// Left out: "start".
    #[serde(default = "start")]
    pub start_name: String,
    /// Left out: "end".
    #[serde(default = "end")]
    pub end_name: String,
    #[serde(default, skip_serializing_if = "is_default")]
    pub through: Through,
    #[serde(default, skip_serializing_if = "is_default")]
    pub stations: Stations,
    #[serde(default, skip_serializing_if = "is_default")]
    pub drawn_deg: Option<f64>,
}

fn start() -> String {
    "start".to_owned()
}

fn end() -> String {
    "end".to_owned()
}

#[derive(Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub(super) enum Stations {
    #[default]
    Quarters,
    Every {
        spacing_mm: f64,
    },
}

#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Hole {
    pub id: String,
    pub near_mm: Three,
    #[serde(default, skip_serializing_if = "is_default")]
    pub kind: HoleKind,
    #[serde(default, skip_serializing_if = "is_default")]
    pub diameter_mm: Option<f64>,
}

#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Compare {
    pub id: String,
    #[serde(default)]
    pub relation: Relation,
    pub a: String,
    #[serde(default, skip_serializing_if = "is_default")]
    pub b: Option<String>,
    pub part: String,
}

#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Chosen {
    pub compare: String,
    pub option: OptionKind,
    #[serde(default)]
    pub reason: String,
}

#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Part {
    pub id: String,
    /// Left out: the id.
    #[serde(default)]
    pub name: Option<String>,
    pub gap_mm: f64,
    /// The verdict hangs on it: never assumed.
    pub allowed: Allowed,
    #[serde(default, skip_serializing_if = "is_default")]
    pub evenness: Option<Evenness>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub fasteners: Vec<Fastener>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub gasket: Option<Gasket>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub finish: Finish,
    /// Left out: 3 mm, a cutter of 6 mm.
    #[serde(default = "cutter")]
    pub cutter_radius_mm: f64,
    #[serde(default, skip_serializing_if = "is_default")]
    pub load_bearing: bool,
    #[serde(default, skip_serializing_if = "is_default")]
    pub must_not_mirror: Vec<String>,
    #[serde(default = "yes", skip_serializing_if = "is_yes")]
    pub seen_together: bool,
    /// Shares of the length from the nose and of the half width from the middle.
    #[serde(default, skip_serializing_if = "is_default")]
    pub place: Option<[f64; 2]>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub note: String,
}

fn cutter() -> f64 {
    3.0
}

#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Allowed {
    pub tight_mm: f64,
    pub wide_mm: f64,
    pub proud_mm: f64,
    pub shy_mm: f64,
    pub angle_deg: f64,
}

#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Evenness {
    pub within_mm: f64,
    /// Over 100 mm.
    pub taper_mm: f64,
}

#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
// Diameters are told apart by whose they are.
#[allow(clippy::struct_field_names)]
pub(super) struct Fastener {
    pub hole: String,
    pub fastener_mm: f64,
    pub part_hole_mm: f64,
    #[serde(default, skip_serializing_if = "is_default")]
    pub body_hole_mm: f64,
    #[serde(default)]
    pub fixing: Fixing,
    #[serde(default, skip_serializing_if = "is_default")]
    pub slot: Option<Slot>,
    /// Least and most.
    #[serde(default, skip_serializing_if = "is_default")]
    pub shim_mm: (f64, f64),
}

#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Slot {
    pub along: [f64; 2],
    pub extra_mm: f64,
}

#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Gasket {
    pub thickness_mm: f64,
    pub least_share: f64,
    pub most_share: f64,
}

#[derive(Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Finish {
    #[serde(default)]
    pub name: String,
    #[serde(default)]
    pub part_mm: f64,
    #[serde(default)]
    pub body_mm: f64,
}
