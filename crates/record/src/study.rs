//! The study: all that any output shows.

use crate::{Choices, Decided, DisplayUnits, Drawing, Measured, OpeningId, Positions};

/// One scan a study rests on.
#[derive(Clone, Debug, PartialEq)]
pub struct ScanProvenance {
    /// Its name in the job.
    pub id: String,
    /// File name.
    pub file: String,
    /// What the file was.
    pub format: String,
    /// BLAKE3 of the file, hex.
    pub hash: String,
    /// Number of points.
    pub points: usize,
    /// Unit, and how it is known, in words: "mm, not checked".
    pub unit: String,
}

/// What a study was made from.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Provenance {
    /// Version of the program.
    pub version: String,
    /// BLAKE3 of the job as written, hex.
    pub job_hash: String,
    /// Seed of the draws.
    pub seed: u64,
    /// Number of draws per chance.
    pub draws: u32,
    /// Scans.
    pub scans: Vec<ScanProvenance>,
}

/// An opening of which nothing could be measured, with the reason.
#[derive(Clone, Debug, PartialEq)]
pub struct OpeningNotMeasured {
    /// Its name.
    pub id: OpeningId,
    /// Why.
    pub why: String,
}

/// A whole study.
#[derive(Clone, Debug, Default)]
pub struct Study {
    /// Title of the job.
    pub title: String,
    /// How numbers are to be shown.
    pub units: DisplayUnits,
    /// Parts and choices.
    pub choices: Choices,
    /// What was measured.
    pub measured: Measured,
    /// Positions on the car; `None` where no centreline was asked for.
    pub positions: Option<Positions>,
    /// What was decided.
    pub decided: Decided,
    /// What is drawn per side, in the order of the comparisons; from `study::draw`.
    pub drawings: Vec<Drawing>,
    /// Openings of which nothing could be measured.
    pub not_measured: Vec<OpeningNotMeasured>,
    /// What it was made from.
    pub provenance: Provenance,
}
