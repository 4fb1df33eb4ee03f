//! Checks of the whole program and of the repository's own rules.

mod coverage;
mod demo_truth;
mod reference_data;
mod reference_least_squares;
mod tidy;
