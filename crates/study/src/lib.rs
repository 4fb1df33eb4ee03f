//! Prepares scans, measures them and decides.

pub mod prepare;
pub mod regions;

pub use prepare::prepare;
