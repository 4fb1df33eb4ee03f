//! What the program has to say about the data besides figures.

use crate::Quantity;

/// How much a finding weighs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Severity {
    /// Worth knowing.
    Note,
    /// A figure or verdict is less sure than it looks.
    Doubt,
    /// Figures that would mislead have been withdrawn until this is settled.
    Stop,
}

macro_rules! codes {
    ($($(#[$doc:meta])+ $name:ident = $word:literal),+ $(,)?) => {
        /// The kinds of finding. Each is described in `docs/findings.md`.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
        pub enum Code { $($(#[$doc])+ $name),+ }

        impl Code {
            /// Every code there is.
            pub const ALL: &'static [Self] = &[$(Self::$name),+];

            /// The word that stands in files and on screens.
            pub fn word(self) -> &'static str {
                match self { $(Self::$name => $word),+ }
            }
        }
    };
}

codes! {
    /// Most of the doubt of a face comes from waves as long as the face: a longer base or a second scan is needed.
    FaceCannotTell = "face-cannot-tell",
    /// Fewer than four faces in the visit: the noise model rests on too little and the instrument's floor is used.
    FewFaces = "few-faces",
    /// The face is curved more than is allowed; its tangent is reported.
    CurvedFace = "curved-face",
    /// The figure changes more with the place of the face than its give-or-take.
    PlaceSensitive = "place-sensitive",
    /// A circle or corner was seen over less than 60 degrees.
    ShortArc = "short-arc",
    /// Too few points for what was asked.
    FewPoints = "few-points",
    /// The two sides look swapped.
    SideLooksSwapped = "side-looks-swapped",
    /// Neither shape nor axes can tell left from right: the side is as named.
    SideAsNamed = "side-as-named",
    /// The unit of a scan was guessed and not checked against a taped length.
    UnitDoubt = "unit-doubt",
    /// The edge was not seen over some length.
    EdgeGap = "edge-gap",
    /// A hole in the scan, not in the metal.
    ScannerHole = "scanner-hole",
    /// The part carries load or safety: no mirror short cut.
    LoadBearing = "load-bearing-part",
    /// An inside corner is tighter than the cutter.
    InsideCornerBelowCutter = "inside-corner-below-cutter",
    /// The two sides were measured in unlike body states.
    UnlikeBodyStates = "unlike-body-states",
    /// Openings were read more than once: the scatter between the readings stands behind the give-or-take.
    Repeats = "repeats",
    /// The other side was not measured.
    OtherSideNotMeasured = "other-side-not-measured",
    /// A pick did not lead to what it should be.
    PickNotFound = "pick-not-found",
    /// The ruled and the local angles of a junction disagree; the local ones are given.
    JunctionNotRuled = "junction-not-ruled",
    /// The two edges are too unlike to be laid on each other.
    PlacementPoor = "placement-poor",
    /// A scan could not be read; what hangs on it was left out.
    ScanNotRead = "scan-not-read",
    /// The scan file has changed since it was picked in.
    ScanChanged = "scan-changed",
    /// Something in the file was passed over while reading.
    ReadingNote = "reading-note",
    /// The holes found on the two sides do not match.
    HolesDoNotMatch = "holes-do-not-match",
    /// The scan is coarse against what is asked of it.
    CoarseScan = "coarse-scan",
    /// One reading by hand contradicts all others: it was set aside.
    HandReadingWrong = "hand-reading-wrong",
    /// The readings by hand contradict each other, and which is wrong cannot be told.
    HandReadingsDisagree = "hand-readings-disagree",
    /// Points by hand have too few ties: they are loose, or nothing checks them.
    HandTooFewTies = "hand-too-few-ties",
    /// The ties by hand leave a point two places.
    HandTwoPlaces = "hand-two-places",
    /// A row of a hand table could not be used.
    HandRowNotUsed = "hand-row-not-used",
    /// No centreline could be laid.
    CentrelineNotLaid = "centreline-not-laid",
    /// Fewer than six pairs and places on the centre hold the centreline.
    FewPairs = "few-pairs",
    /// All places lie close together along the car, away from an opening.
    PlacesBunched = "places-bunched",
    /// A place does not go with the others: it was set aside.
    OddPlace = "odd-place",
    /// A place has no partner on the other side.
    PlaceWithoutPartner = "place-without-partner",
    /// Places or openings are in several scans, which are not joined.
    ScansNotJoined = "scans-not-joined",
    /// Two scans could not be joined as the job asks for.
    JoinNotMade = "join-not-made",
    /// Three or four places hold a join: they bend to fit almost any error out of their plane.
    JoinFewPlaces = "join-few-places",
    /// The surfaces that two scans both show hold their join weakly, or not at all, in some way.
    JoinWeak = "join-weak",
    /// Little of the scan lies on a surface of the one it is joined to.
    JoinLittleOverlap = "join-little-overlap",
    /// The places and the surfaces join two scans differently.
    JoinDisagrees = "join-disagrees",
    /// A taped length and the joined scans disagree by more than their give-or-take.
    TapeDisagrees = "tape-disagrees",
    /// The body as a whole is not its own mirror image.
    WholeBody = "whole-body",
    /// A position changes its verdict with the centreline.
    HangsOnCentreline = "hangs-on-centreline",
    /// Much of the panel beside an opening edge was not seen on both sides.
    PanelNotSeen = "panel-not-seen",
    /// A gap to a neighbour, or one of its panels, was not seen at some stations.
    GapNotSeen = "gap-not-seen",
    /// The scan from after body work could not be laid on the one from before.
    VisitsNotLaid = "visits-not-laid",
    /// Metal moved outside what was said to be worked.
    ChangedOutsideWorked = "changed-outside-worked",
    /// So much was worked or moved that it is open which part stayed.
    MuchChanged = "much-changed",
    /// Pins or barrels of a hinge do not lie on one line.
    PinsNotOnOneLine = "pins-not-on-one-line",
}

/// A number that belongs to a finding.
#[derive(Clone, Debug, PartialEq)]
pub struct Number {
    /// What it is, in words.
    pub name: String,
    /// The value in the unit of `quantity`.
    pub value: f64,
    /// What it is a number of; `None` for a plain count.
    pub quantity: Option<Quantity>,
}

/// Something to know before believing a figure.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// The kind.
    pub code: Code,
    /// How much it weighs.
    pub severity: Severity,
    /// What it is about, by name: a scan, an opening, a face, a pair.
    pub subject: String,
    /// One sentence that says what was found.
    pub says: String,
    /// One sentence that says what to do about it; empty where nothing is to be done.
    pub advice: String,
    /// The numbers behind it.
    pub numbers: Vec<Number>,
}
