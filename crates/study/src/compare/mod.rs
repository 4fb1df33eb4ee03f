//! Comparing: one opening laid on the other, and what differs.

mod angle_rows;
mod hole_pairs;
mod lay;
mod modes;
mod pair;
mod place_name;
mod repeat;
mod smoother;

pub use pair::compare;
pub(crate) use place_name::{place_name, side_words};
pub(crate) use repeat::{Across, Again};
