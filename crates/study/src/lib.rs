//! Prepares scans, measures them and decides.

mod body_work;
mod cars;
mod compare;
mod decide;
mod draw;
mod field_plan;
pub mod fit;
mod join;
mod look;
mod measure;
mod positions;
pub mod prepare;
pub mod probe;
pub mod propose;
pub mod regions;
mod run;
mod sections;

pub use body_work::body_work;
pub use cars::{cars, named_apart, together};
pub use decide::{decide, decide_one};
pub use draw::draw;
pub use field_plan::field_plans;
pub use join::joined;
pub use look::{Look, LookNoise, LookOpening, look};
pub use measure::{Kept, measure};
pub use positions::positions;
pub use prepare::prepare;
pub use propose::propose;
pub use run::{assemble, run};
pub use sections::sections;

/// Names this very engine: another text as soon as anything changes that a figure could hang on, in this crate or below
/// it. Figures kept on disk count only under the name of the engine that made them.
pub const ENGINE: &str = env!("UNMIRROR_ENGINE");
