//! `open`: the window.

use std::path::PathBuf;

use crate::outcome::Outcome;

/// Arguments of `open`.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Job file
    job: PathBuf,
}

impl Args {
    /// Opens the window on a job.
    ///
    /// # Errors
    /// If the job is not there, or there is no window.
    pub fn run(self) -> anyhow::Result<Outcome> {
        // A wrong name is said in the terminal it was typed in.
        formats::read_job(&self.job)?;
        window(Some(self.job))
    }
}

/// Opens the window, on a job or on the empty sheet.
///
/// # Errors
/// If there is none; with the command that does the same without.
#[cfg(feature = "window")]
pub fn window(job: Option<PathBuf>) -> anyhow::Result<Outcome> {
    let instead = instead(job.as_deref());
    let start = job.map_or(app::Start::Empty, app::Start::Job);
    match app::run(start) {
        Ok(()) => Ok(Outcome::Done),
        Err(why) => anyhow::bail!("{why}; {instead}"),
    }
}

/// As with the window, which this build has not.
///
/// # Errors
/// Always.
#[cfg(not(feature = "window"))]
pub fn window(job: Option<PathBuf>) -> anyhow::Result<Outcome> {
    anyhow::bail!(
        "the window is not in this build; {}",
        instead(job.as_deref())
    )
}

fn instead(job: Option<&std::path::Path>) -> String {
    job.map_or_else(
        || "without one, start with: unmirror demo, or unmirror new left.ply right.ply --out lamp.ron".to_owned(),
        |job| {
            format!(
                "the same answer, with one picture per pair, is written by: unmirror compare {} --out answer",
                job.display()
            )
        },
    )
}
