//! Least-squares adjustment of small networks of lengths, offsets, heights and angles.
//!
//! Points in one, two or three dimensions; observations with known standard deviations; a free datum (inner
//! constraints over stated points) or fixed points. [`Network::adjust`] gives coordinates, covariances, redundancy
//! numbers, Baarda's w and the one observation that must be wrong, if and only if it can be told from all others.
//!
//! W. Baarda (1968), A testing procedure for use in geodetic networks; K.-R. Koch (1999), Parameter Estimation and
//! Hypothesis Testing in Linear Models, 4.2 (reliability), 3.5.6 (inner constraints).

mod adjust;
mod approximate;
mod blunder;
mod flips;
mod jacobi;
mod model;
mod observe;
mod rough;
mod solve;
#[cfg(test)]
mod tests;

pub use adjust::{Adjusted, GlobalTest};
pub use blunder::{Blunder, NewTie, WeakTie};
pub use flips::Flip;
pub use model::{NetPoint, Network, NetworkError, Observation, Observed};
