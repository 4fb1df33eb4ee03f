//! Prepares scans, measures them and decides.

mod compare;
mod measure;
pub mod prepare;
pub mod regions;

pub use measure::{Kept, measure};
pub use prepare::prepare;

pub mod fit;
