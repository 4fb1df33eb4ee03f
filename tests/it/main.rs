//! Checks of the whole program.

mod reference_data;
mod reference_least_squares;
