//! Why a fit has no answer.

use std::fmt;

/// The reasons for which a fit gives no answer. A fit that is possible but weak is not an error: its covariance
/// says so.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FitError {
    /// Fewer points (or observations, or cells) than the model has unknowns.
    TooFewPoints {
        /// The least number that could be fitted.
        needed: usize,
        /// The number that was there.
        got: usize,
    },
    /// The points leave the model undetermined: all in one place, on one line, equal columns and the like.
    Degenerate,
    /// The iteration did not settle within its limit.
    NoConvergence,
    /// A coordinate, weight or start value is infinite or not a number.
    NotFinite,
    /// The work was called off.
    CalledOff,
}

impl FitError {
    /// `Err(TooFewPoints)` unless at least `needed` are there.
    pub fn check_count(needed: usize, got: usize) -> Result<(), Self> {
        if got < needed {
            return Err(Self::TooFewPoints { needed, got });
        }
        Ok(())
    }
}

impl fmt::Display for FitError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::TooFewPoints { needed, got } => {
                write!(f, "too few points: {needed} needed, {got} given")
            }
            Self::Degenerate => write!(f, "the points do not determine the shape"),
            Self::NoConvergence => write!(f, "the fit did not settle"),
            Self::NotFinite => write!(f, "a value is infinite or not a number"),
            Self::CalledOff => write!(f, "the fit was called off"),
        }
    }
}

impl std::error::Error for FitError {}
