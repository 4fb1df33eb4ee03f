//! `open`: the window, which this build has not.

use std::path::PathBuf;

use crate::outcome::Outcome;

/// Arguments of `open`.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Job file
    job: PathBuf,
}

impl Args {
    /// Says that there is no window and what does the same.
    ///
    /// # Errors
    /// Always.
    pub fn run(self) -> anyhow::Result<Outcome> {
        let job = self.job.display();
        anyhow::bail!(
            "the window is not in this build; the same answer, with one picture per pair, is written by: unmirror compare {job} --out answer"
        )
    }
}
