//! The pages: what is shown, one file each. A page reads and asks; it changes nothing itself.

pub mod answer;
pub mod bring_in;
pub mod by_hand;
pub mod centreline;
pub mod decide;
pub mod hand_over;
pub mod notice;
pub mod places;
pub mod sections;
pub mod start;
pub mod two;
