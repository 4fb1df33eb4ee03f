//! Body work between two visits: an edge dressed over a stretch, a panel worked over an area.

use record::Side;

use crate::body::Place;
use crate::edge::EdgeStretch;
use crate::numbers as no;
use crate::surface::{Dent, HALF};

/// A stretch of an opening edge that was dressed: the return flange moved, with the bend it hangs on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FlangeWork {
    /// The opening, by the stem of its name: "lamp".
    pub opening: &'static str,
    /// Its middle, as in [`crate::TrueOpening::edge_at`].
    pub share: f64,
    /// Its length between the places where half was taken, mm.
    pub length_mm: f64,
    /// How far, mm, + where the opening is larger afterwards.
    pub amount_mm: f64,
}

/// An area of the panel that was worked.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PanelWork {
    /// Its middle against that of the opening, along and up the panel, mm.
    pub at_mm: [f64; 2],
    /// The opening, by the stem of its name.
    pub opening: &'static str,
    /// Its size between the places that moved half as far as the middle, mm.
    pub size_mm: [f64; 2],
    /// How far its middle moved, mm, + outward.
    pub amount_mm: f64,
}

/// What was worked on one side of the coach.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Work {
    /// The side.
    pub side: Side,
    /// An edge.
    pub flange: Option<FlangeWork>,
    /// A panel.
    pub panel: Option<PanelWork>,
}

impl Work {
    /// The flange of the lamp opening of the right side dressed back by 1.5 mm over 80 mm, in the middle of its lower edge.
    pub const DRESSED: Self = Self {
        side: Side::Right,
        flange: Some(FlangeWork {
            opening: "lamp",
            share: 0.125,
            length_mm: 80.0,
            amount_mm: 1.5,
        }),
        panel: None,
    };

    pub(crate) fn at(&self, place: Place) -> bool {
        matches!(
            (self.side, place),
            (Side::Left, Place::Left) | (Side::Right, Place::Right) | (Side::Centre, Place::Centre)
        )
    }

    pub(crate) fn dent(&self) -> Option<Dent> {
        let w = self.panel.as_ref()?;
        let o = no::SIDE_OPENINGS.iter().find(|o| o.stem == w.opening)?;
        Some(Dent::Level {
            centre: [o.centre[0] + w.at_mm[0], o.centre[1] + w.at_mm[1]],
            reach: w.size_mm.map(|s| 0.5 * s / HALF),
            amount: w.amount_mm,
        })
    }

    pub(crate) fn stretch(&self, stem: &str) -> Option<EdgeStretch> {
        let w = self.flange.as_ref().filter(|w| w.opening == stem)?;
        Some(EdgeStretch {
            tau: 4.0 * w.share,
            length: w.length_mm,
            amount: w.amount_mm,
        })
    }
}
