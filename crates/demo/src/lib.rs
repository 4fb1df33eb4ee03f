//! A seeded touring coach front of known truth, and a virtual scanner that sees it.
//!
//! The coach is an invention with numbers of its own. Its left side is drawn, its right side is the mirror image with
//! stated [`Differences`]; three loose scans, each in its own axes, see both sides and the centre. What is true is in
//! [`Truth`], so that every figure measured on the scans can be checked.

mod body;
mod chance;
mod coach;
mod edge;
mod field;
mod job;
mod numbers;
mod one_scan;
mod placed;
mod scanner;
mod stand;
mod surface;
mod true_fit;
mod truth;
mod visits;
mod weave;
mod work;
mod write;

pub use coach::{Coach, DemoScan, Form};
pub use numbers::Differences;
pub use placed::{BENT, LEFT_SITS};
pub use scanner::{PlantedHole, Scanner};
pub use true_fit::TrueFit;
pub use truth::{TrueEdgePoint, TrueHole, TrueJunction, TrueOpening, Truth};
pub use visits::TwoCoaches;
pub use work::{FlangeWork, PanelWork, Work};
pub use write::{DemoFiles, write_demo};
