//! The centre plane of a body: from pairs of points on its left and right and from points on its middle.
//!
//! Which plane is "the" middle of a body that is not symmetric is a judgement. What can be told is how well each way of
//! laying it is determined, which place does not go with the others, and what changes from one way to the next.

mod body_modes;
mod landmark;
mod mid_plane;
mod odd_one;
mod own_image;
mod plane_doubt;
mod rivals;
mod rows;
#[cfg(test)]
mod simulation;
#[cfg(test)]
mod tests;
mod three_two_one;

pub use body_modes::{BodyMode, BodyModeKind, body_modes};
pub use landmark::Landmark;
pub use mid_plane::{MidPlane, NoMidPlane, fit_mid_plane, fit_midpoints_only};
pub use odd_one::{OddOnes, Suspect, odd_ones};
pub use own_image::{NoOwnImage, OwnImage, own_image};
pub use plane_doubt::PlaneDoubt;
pub use rivals::{Rival, RivalKind, rivals};
pub use three_two_one::{ThreeTwoOne, three_two_one};
