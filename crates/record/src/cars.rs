//! Parts of one car in the openings of another.

use crate::{CompareId, OpeningId, OptionKind, PartId, Side, Study};

/// A part drawn to an opening of one car, tried in an opening of another.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CarFit {
    /// The comparison in the study.
    pub compare: CompareId,
    /// The part.
    pub part: PartId,
    /// The opening it was drawn to.
    pub drawn: OpeningId,
    /// The opening it is tried in.
    pub tried: OpeningId,
    /// Their sides.
    pub sides: [Side; 2],
    /// Whether it is turned over for that, being tried on the other side.
    pub mirrored: bool,
}

impl CarFit {
    /// The choice that is the drawn part as it is.
    pub fn kind(&self) -> OptionKind {
        if self.mirrored {
            OptionKind::MirrorA
        } else {
            OptionKind::OneShape
        }
    }
}

/// Parts of one car in the openings of another.
#[derive(Clone, Debug)]
pub struct CarsStudy {
    /// The car the parts were drawn for, and the one they are tried on.
    pub cars: [String; 2],
    /// The study of both.
    pub study: Study,
    /// What was tried, part by part, its own side first.
    pub fits: Vec<CarFit>,
    /// Openings of the first car with a part for which the second has no opening, by name.
    pub without: Vec<String>,
}
