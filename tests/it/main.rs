//! Checks of the whole program.
