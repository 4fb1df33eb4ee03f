//! What was measured by hand: tape, trammel, protractor, feelers.

use std::path::PathBuf;

use crate::{Opening, ScanId, Side, VisitId};

macro_rules! kinds {
    ($($(#[$doc:meta])+ $name:ident = $word:literal),+ $(,)?) => {
        /// What a row of a hand table is.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
        pub enum HandKind { $($(#[$doc])+ $name),+ }

        impl HandKind {
            /// Every kind.
            pub const ALL: &'static [Self] = &[$(Self::$name),+];

            /// The word that stands in tables.
            pub fn word(self) -> &'static str {
                match self { $(Self::$name => $word),+ }
            }
        }
    };
}

kinds! {
    /// Length from point to point, straight.
    Length = "length",
    /// Length along a bar held at right angles to its two pointers, whose lengths are given.
    Tram = "tram",
    /// Length along a level bar: as seen from above.
    Level = "level",
    /// Height of a point above the floor or a level line.
    Height = "height",
    /// Height of the second point over the first.
    Rise = "rise",
    /// Distance of a point from a string or straightedge between two others.
    FromString = "string",
    /// Distance of a point from the plane of three others: + on the side from which they run counter-clockwise.
    FromPlane = "plane",
    /// Angle at a point between two others, by protractor or bevel.
    CornerAngle = "corner-angle",
    /// Angle of a junction at a station, by protractor.
    Angle = "angle",
    /// Diameter of a hole whose middle is a point.
    Hole = "hole",
    /// Diameter of a stud whose middle is a point.
    Stud = "stud",
    /// Gap at a point or station, by feeler or gauge.
    Gap = "gap",
    /// Step at a point or station: + stands proud.
    Flush = "flush",
    /// Radius of a corner, by radius gauge.
    Radius = "radius",
    /// The points of the opening edge in order.
    Edge = "edge",
    /// The point, or the two points, that are the top.
    Top = "top",
    /// A point known to lie on the outer side of the flat of the opening, or on the inner.
    Raised = "raised",
}

impl HandKind {
    /// Whether its value is an angle (degrees); else it is a length (mm).
    pub fn is_angle(self) -> bool {
        matches!(self, Self::Angle | Self::CornerAngle)
    }

    /// Whether it has no value.
    pub fn is_word(self) -> bool {
        matches!(self, Self::Edge | Self::Top | Self::Raised)
    }

    /// How many points it names before and after "to": fewest and most of each.
    pub fn points(self) -> [(usize, usize); 2] {
        match self {
            Self::Length | Self::Tram | Self::Level | Self::Rise => [(1, 1), (1, 1)],
            Self::FromString | Self::CornerAngle => [(1, 1), (2, 2)],
            Self::FromPlane => [(1, 1), (3, 3)],
            Self::Height
            | Self::Hole
            | Self::Stud
            | Self::Radius
            | Self::Raised
            | Self::Gap
            | Self::Flush => [(1, 1), (0, 0)],
            // Through the metal unless "air" is said.
            Self::Angle => [(1, 1), (0, 1)],
            Self::Edge => [(3, usize::MAX), (0, 0)],
            Self::Top => [(1, 2), (0, 0)],
        }
    }
}

/// One row of a hand table. Lengths mm, angles degrees.
#[derive(Clone, Debug, PartialEq)]
pub struct HandReading {
    /// The opening it belongs to, by name or side; empty: every opening of the table.
    pub opening: String,
    /// What it is.
    pub kind: HandKind,
    /// The point it starts from; for a height, hole or the like its point; for an angle the junction; for the edge all its
    /// points in order.
    pub from: Vec<String>,
    /// The point it goes to; for a string its two ends, for a plane its three points, for a corner angle the ends of its legs.
    pub to: Vec<String>,
    /// What was read.
    pub value: f64,
    /// Its give-or-take (95 %) if said; else that of the instrument.
    pub give_or_take: Option<f64>,
    /// With what it was read; empty: the usual one for the kind.
    pub instrument: String,
    /// Who read it.
    pub operator: String,
    /// Where along a junction: "top", "1/4", "120 mm". For an edge "clockwise" or "counter-clockwise" as seen from outside,
    /// and "open" if it does not close. For a raised point "outward" or "inward".
    pub station: String,
    /// Lengths of the two pointers of a tram bar, mm.
    pub pointers_mm: Option<[f64; 2]>,
    /// As it was written: "3' 4 1/2".
    pub written: String,
    /// Its line in the table, from one.
    pub line: u32,
    /// Free words.
    pub note: String,
}

impl HandReading {
    /// Whether it is of an opening: by its name, its side, or because it names none.
    pub fn is_of(&self, opening: &Opening) -> bool {
        let said = self.opening.to_lowercase();
        let side = match opening.side {
            Side::Left => ["left", "l"],
            Side::Right => ["right", "r"],
            Side::Centre => ["centre", "c"],
            Side::NotSaid => ["", ""],
        };
        said.is_empty()
            || said == opening.id.0.to_lowercase()
            || said == opening.name.to_lowercase()
            || side.contains(&said.as_str())
    }
}

/// An instrument of a hand table: its give-or-take has a part that stays when a reading is repeated, and one that does not.
#[derive(Clone, Debug, PartialEq)]
pub struct HandInstrument {
    /// Its name, as rows name it.
    pub name: String,
    /// Give-or-take (95 %) of one reading against the next, mm or degrees.
    pub reading: f64,
    /// Largest error of the instrument itself, mm or degrees; any value up to it is as likely.
    pub own: f64,
    /// What is added to that for every metre or part of a metre, mm.
    pub own_per_m: f64,
    /// Where the figures are from.
    pub source: String,
}

impl HandInstrument {
    /// Standard uncertainty of the instrument itself at `value` mm (or degrees): rectangular within its largest error.
    pub fn own_sd(&self, value: f64) -> f64 {
        let metres = (value.abs() / 1000.0).ceil();
        (self.own + self.own_per_m * metres) / 3f64.sqrt()
    }

    /// Standard uncertainty of one reading against the next.
    pub fn reading_sd(&self) -> f64 {
        self.reading / 1.96
    }

    /// The instruments that are known without being said. All figures can be changed in the job.
    pub fn usual() -> Vec<Self> {
        let one = |name: &str, reading: f64, own: f64, own_per_m: f64, source: &str| Self {
            name: name.to_owned(),
            reading,
            own,
            own_per_m,
            source: source.to_owned(),
        };
        vec![
            one(
                "tape",
                1.0,
                0.3,
                0.2,
                "steel tape class II: OIML R 35-1, its figures from memory; reading: common practice",
            ),
            one("rule", 0.5, 0.1, 0.1, "steel rule, common practice"),
            one("trammel", 0.8, 0.3, 0.0, "trammel, common practice"),
            one("caliper", 0.1, 0.05, 0.0, "caliper, common practice"),
            one(
                "protractor",
                0.2,
                0.1,
                0.0,
                "digital protractor, common practice",
            ),
            one("bevel", 0.5, 0.3, 0.0, "sliding bevel, common practice"),
            one("feeler", 0.1, 0.02, 0.0, "feeler gauges, common practice"),
            one(
                "plumb",
                1.0,
                0.5,
                0.0,
                "plumb bob and rule, common practice",
            ),
            one(
                "radius-gauge",
                1.0,
                0.1,
                0.0,
                "radius gauges in steps of 1 mm, common practice",
            ),
        ]
    }

    /// The instrument a kind is usually read with.
    pub fn usual_for(kind: HandKind) -> &'static str {
        match kind {
            HandKind::Tram | HandKind::Level => "trammel",
            HandKind::Height | HandKind::Rise => "plumb",
            HandKind::FromString | HandKind::FromPlane | HandKind::Flush => "rule",
            HandKind::CornerAngle | HandKind::Angle => "protractor",
            HandKind::Hole | HandKind::Stud => "caliper",
            HandKind::Gap => "feeler",
            HandKind::Radius => "radius-gauge",
            HandKind::Length | HandKind::Edge | HandKind::Top | HandKind::Raised => "tape",
        }
    }
}

/// A table of readings taken by hand: what a scan file is for a scan. Openings name it as the scan they are in.
#[derive(Clone, Debug, PartialEq)]
pub struct HandTable {
    /// Its name, among those of the scans.
    pub id: ScanId,
    /// The visit it belongs to.
    pub visit: VisitId,
    /// The table beside the job, relative to it where possible; `None`: the rows stand in the job.
    pub path: Option<PathBuf>,
    /// BLAKE3 of that file as it was read, hex.
    pub hash: Option<String>,
    /// Whether all points lie in one plane: heights out of it were not measured.
    pub flat: bool,
    /// The rows.
    pub readings: Vec<HandReading>,
    /// Instruments other than the usual ones, or with other figures.
    pub instruments: Vec<HandInstrument>,
    /// Why the table could not be read, and what to do: two sentences.
    pub unread: Option<[String; 2]>,
    /// Free words.
    pub note: String,
}

impl HandTable {
    /// The instrument of a name: the table's own before the usual ones.
    pub fn instrument(&self, name: &str) -> Option<HandInstrument> {
        let named = |i: &&HandInstrument| i.name.eq_ignore_ascii_case(name);
        self.instruments
            .iter()
            .find(named)
            .cloned()
            .or_else(|| HandInstrument::usual().iter().find(named).cloned())
    }
}
