//! The job file: a [`record::Job`] as text in RON, schema 1.
//!
//! The structs of the file are apart from those of `record`, so that either can change without the other. Field names
//! say their unit (`near_mm`, `drawn_deg`, `left_film_um`). What equals its usual value is not written, so a job typed
//! by hand can be short too; the usual values stand beside the fields in `wire.rs`.
//!
//! - `wire`: the structs of the file, one to one with the text.
//! - `to_wire`, `from_wire`: to and from the types of `record`.
//! - `read`: text to job, with errors that name line, field and the nearest known name.
//! - `write`: job to text, to disk, with comments for a starter job.
//! - `check`: what a job that can be read may still have wrong.

mod body_work_wire;
mod check;
mod check_body_work;
mod check_joins;
mod check_panels;
mod check_places;
mod from_wire;
mod join_wire;
mod nearest;
mod panel_wire;
mod place_wire;
mod read;
mod to_wire;
mod wire;
mod write;

#[cfg(test)]
mod tests;

pub use check::{Problem, check_job};
pub use read::{job_from_str, read_job, read_job_with_places};
pub use write::{
    job_hash, job_to_string, job_to_string_with_tables, starter_job_to_string, write_job,
    write_starter_job,
};

/// The schema that is written, and the latest that is read.
pub(crate) const SCHEMA: u32 = 1;
