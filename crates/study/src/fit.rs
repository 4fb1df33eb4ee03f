//! The best placement of a known part in an opening: how much of what is allowed it uses, and what would cure it.
//!
//! At each station the gap error is `gap_dir . (part - opening)` (+ too wide) and the flush error
//! `flush_dir . (part - opening)` (+ proud), where the part's edge is cut by the plane of the station after the part
//! has been moved. The share `t` is the least number with `-t tight <= gap <= t wide` and `-t shy <= flush <= t proud`
//! at every station, while every fastener stays within its play. One shape for two sides needs no second unknown
//! pose: a place serves both exactly where the two edges differ by no more than both together are allowed.

mod cure;
mod curve;
mod place;
mod problem;
mod program;

pub use cure::{Which, least_oversize, least_shim, least_slot};
pub use curve::EdgeCurve;
pub use place::{
    Fit, NoFit, Placed, Pull, about_start, place, place_from, place_once, place_within,
};
pub use problem::{FitFastener, FitProblem, FitSlot, FitStation, Limits, Seat};
pub use program::{
    Even, Held, Linear, LinearFastener, LinearStation, Spot, Starts, bounds, evenness, program,
};
