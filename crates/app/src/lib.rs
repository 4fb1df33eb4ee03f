//! The window: an open book of left and right.
//!
//! [`run()`] opens it. Each pass first takes in what happened ([`Window::advance`]), then shows everything
//! ([`Window::show`]): a page reads the open job and asks; it changes nothing itself. Colours, type and spacing come from
//! [`report::theme`]; sheets from [`report::sheet`], so that the screen equals the print; pictures of scans from `view3d`.

pub mod allowances;
mod around;
mod blit;
mod coach;
mod controls;
mod fields;
mod folder;
mod header;
mod keys;
mod lesson;
mod letter;
pub mod look;
mod page_keys;
pub mod pages;
mod paint;
mod panels;
mod preferences;
mod printing;
mod run;
mod scan_view;
mod shown;
pub mod state;
mod window;

#[cfg(test)]
mod tests;

pub use preferences::Preferences;
pub use printing::{Printing, Viewer};
pub use run::{NoWindow, Start, run};
pub use window::Window;
