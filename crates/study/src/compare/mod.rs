//! Comparing: one opening laid on the other, and what differs.

mod lay;
mod modes;
mod pair;
mod place_name;

pub use pair::compare;
