//! The open job, driven without a window.

mod by_hand;
mod commands;
mod faults;
mod figures;
mod follows;
mod journal;
mod kept_answer;
mod places;
mod proposals;
mod reading;
mod stand;
