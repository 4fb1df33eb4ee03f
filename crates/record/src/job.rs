//! The job: everything typed or clicked.

use crate::{
    BodyWork, Car, Centreline, CompareId, GapPick, HandTable, HingePick, Join, Opening, OpeningId,
    OptionKind, Part, PartId, Place, PlacesTable, ScanRef, SectionPlan, TapedLength, Visit,
    VisitId,
};

/// How lengths are shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum LengthDisplay {
    /// Millimetres.
    #[default]
    Millimetre,
    /// Decimal inches.
    Inch,
}

/// How numbers are shown; nothing inside depends on it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub struct DisplayUnits {
    /// Lengths.
    pub length: LengthDisplay,
    /// Decimal comma instead of a dot.
    pub decimal_comma: bool,
}

/// What is compared with what.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Relation {
    /// Left against mirrored right.
    Mirrored,
    /// Like against like: before and after, car and car, opening and part.
    Same,
    /// A centre opening against its own mirror image.
    Itself,
}

/// A comparison of two openings. For [`Relation::Mirrored`] `a` is the left one.
#[derive(Clone, Debug, PartialEq)]
pub struct Compare {
    /// Its name.
    pub id: CompareId,
    /// One opening; all figures are "a minus b".
    pub a: OpeningId,
    /// The other; `None`: not measured, or [`Relation::Itself`].
    pub b: Option<OpeningId>,
    /// How they relate.
    pub relation: Relation,
    /// The part that is to fit.
    pub part: PartId,
}

/// What is decided with: the parts and what was chosen. Deciding sees no points.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Choices {
    /// Parts with what is allowed.
    pub parts: Vec<Part>,
    /// Option chosen per comparison, with the reason.
    pub chosen: Vec<(CompareId, OptionKind, String)>,
}

/// A job. It holds no scan points and is the undo step and the file.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Job {
    /// Title.
    pub title: String,
    /// Free words.
    pub note: String,
    /// Seed of every random draw.
    pub seed: u64,
    /// How numbers are shown.
    pub units: DisplayUnits,
    /// Cars.
    pub cars: Vec<Car>,
    /// Visits.
    pub visits: Vec<Visit>,
    /// Scan files.
    pub scans: Vec<ScanRef>,
    /// Tables of what was measured by hand.
    pub hand: Vec<HandTable>,
    /// Named places of the body that stand in the job; see [`Job::every_place`].
    pub places: Vec<Place>,
    /// A table of further places beside the job.
    pub places_table: Option<PlacesTable>,
    /// How scans are joined to one set of axes.
    pub joins: Vec<Join>,
    /// Lengths taped between places.
    pub taped: Vec<TapedLength>,
    /// Sides scanned before and after body work.
    pub body_work: Vec<BodyWork>,
    /// How the centreline is wanted.
    pub centreline: Centreline,
    /// Openings.
    pub openings: Vec<Opening>,
    /// Comparisons.
    pub compares: Vec<Compare>,
    /// How sections across the edges are cut.
    pub sections: SectionPlan,
    /// Gaps to neighbouring panels.
    pub gaps: Vec<GapPick>,
    /// Hinges.
    pub hinges: Vec<HingePick>,
    /// Parts and choices.
    pub choices: Choices,
}

impl Job {
    /// The places that stand in the job, then those of the table beside it.
    pub fn every_place(&self) -> impl Iterator<Item = &Place> {
        let beside = self.places_table.iter().flat_map(|t| &t.places);
        self.places.iter().chain(beside)
    }

    /// The places picked in both scans of a join that it may rest on: in the joined one, in the one it is joined to.
    pub fn places_in_both<'j>(&'j self, join: &'j Join) -> impl Iterator<Item = [&'j Place; 2]> {
        let named = |p: &&Place| join.places.is_empty() || join.places.contains(&p.name);
        let twin = |p: &'j Place| {
            self.every_place()
                .find(|q| q.scan == join.to && q.name == p.name && q.side == p.side)
        };
        self.every_place()
            .filter(|p| p.scan == join.scan)
            .filter(named)
            .filter_map(move |p| Some([p, twin(p)?]))
    }

    /// The visit in which an opening was measured, by its scan or its hand table.
    pub fn visit_of(&self, opening: &Opening) -> Option<&VisitId> {
        let scans = self.scans.iter().map(|s| (&s.id, &s.visit));
        let hand = self.hand.iter().map(|h| (&h.id, &h.visit));
        scans
            .chain(hand)
            .find(|(id, _)| **id == opening.scan)
            .map(|(_, visit)| visit)
    }

    /// The hand table an opening was measured in, if it was measured by hand.
    pub fn hand_of(&self, opening: &Opening) -> Option<&HandTable> {
        self.hand.iter().find(|h| h.id == opening.scan)
    }
}
