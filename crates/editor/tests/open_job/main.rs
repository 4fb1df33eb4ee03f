//! The open job, driven without a window.

mod commands;
mod figures;
mod journal;
mod proposals;
mod reading;
mod stand;
