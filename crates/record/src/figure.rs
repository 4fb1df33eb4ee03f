//! A number with what is known of it.

/// What a figure is a number of; it fixes the unit in which [`Figure::value`] is stored.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Quantity {
    /// A length, mm.
    Length,
    /// An angle, degrees (figures are for people and files; inside the engine angles are radians).
    Angle,
    /// Change of angle along a junction, degrees per 100 mm.
    TwistRate,
    /// An area, mm2.
    Area,
    /// A share of what is allowed, percent.
    Percent,
}

impl Quantity {
    /// The unit in which figures of this quantity are stored and written to files.
    pub fn unit(self) -> &'static str {
        match self {
            Self::Length => "mm",
            Self::Angle => "deg",
            Self::TwistRate => "deg/100 mm",
            Self::Area => "mm2",
            Self::Percent => "%",
        }
    }
}

/// What the doubt about a figure mostly comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Source {
    /// Scatter of the readings, its correlation included.
    Noise,
    /// Where on a curved face the face was taken.
    Place,
    /// Scatter between repeats.
    Repeats,
    /// The centreline.
    Centreline,
    /// The instrument's scale or flatness.
    Instrument,
    /// How well an edge is seen: spacing of the points and rounding of the edge.
    EdgeSight,
    /// How well the scans are joined.
    Join,
}

impl Source {
    /// The word that stands in files.
    pub fn word(self) -> &'static str {
        match self {
            Self::Noise => "noise",
            Self::Place => "place of the face",
            Self::Repeats => "repeats",
            Self::Centreline => "centreline",
            Self::Instrument => "instrument",
            Self::EdgeSight => "sight of the edge",
            Self::Join => "joining of the scans",
        }
    }
}

/// A value with its 95 % give-or-take: the truth lies within `value +- u95` in 95 of 100 cases.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Figure {
    /// The value, in the unit of `quantity`.
    pub value: f64,
    /// Half-width of the 95 % interval, same unit, >= 0: t(0.975, nu) times the standard uncertainty.
    pub u95: f64,
    /// Degrees of freedom of the standard uncertainty; infinite where it is known.
    pub nu: f64,
    /// What the doubt mostly comes from.
    pub source: Source,
    /// What it is a number of.
    pub quantity: Quantity,
}
