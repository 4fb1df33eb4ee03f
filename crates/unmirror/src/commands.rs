//! The subcommands, one file each.

mod body_work;
mod cars;
mod compare;
mod demo;
mod field_sheet;
mod hand_over;
mod join;
mod look;
mod new;
mod open;
mod positions;
mod sections;

use std::path::PathBuf;

use clap::Subcommand;

use crate::outcome::Outcome;

/// What to do.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Write a made-up coach (scans, job) and show its answer
    Demo(demo::Args),
    /// Make a job from scan files, with the openings found in them
    New(new::Args),
    /// Say what is in scan or point files
    Look(look::Args),
    /// Compare the openings of a job: the answer, and files for CAD
    Compare(compare::Args),
    /// Join the scans of a body to common axes: how well they hold
    Join(join::Args),
    /// What body work changed between two visits, and what of the answer stands
    BodyWork(body_work::Args),
    /// Try the parts drawn for one car on another
    Cars(cars::Args),
    /// Height, set-back, toe, level on the car, by a centreline
    Positions(positions::Args),
    /// Profiles across the edges and the panel round them, left against right
    Sections(sections::Args),
    /// Hand over: what machinist, cutter, finisher, client and inspector need
    HandOver(hand_over::Args),
    /// Make sheets to fill in at the car, and the empty tables that go with them
    FieldSheet(field_sheet::Args),
    /// Open a job in the window
    Open(open::Args),
}

impl Command {
    /// Does it.
    pub fn run(self) -> anyhow::Result<Outcome> {
        match self {
            Self::Demo(args) => args.run(),
            Self::New(args) => args.run(),
            Self::Look(args) => args.run(),
            Self::Compare(args) => args.run(),
            Self::Join(args) => args.run(),
            Self::BodyWork(args) => args.run(),
            Self::Cars(args) => args.run(),
            Self::Positions(args) => args.run(),
            Self::Sections(args) => args.run(),
            Self::HandOver(args) => args.run(),
            Self::FieldSheet(args) => args.run(),
            Self::Open(args) => args.run(),
        }
    }
}

/// Opens the window on the empty sheet.
///
/// # Errors
/// If there is none.
pub fn window() -> anyhow::Result<Outcome> {
    open::window(None)
}

/// Opens the window on a job.
///
/// # Errors
/// If there is none.
pub fn window_on(job: PathBuf) -> anyhow::Result<Outcome> {
    open::window(Some(job))
}
