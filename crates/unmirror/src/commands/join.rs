//! `join`: how well the scans of a job lie in common axes.

use std::path::{Path, PathBuf};

use record::Study;

use crate::outcome::Outcome;
use crate::progress::Bar;
use crate::{load, printer};

/// Arguments of `join`.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Job file with joins
    job: PathBuf,
    /// Table of places to use instead of the one the job names: name;side;scan;x;y;z;sigma
    #[arg(long, value_name = "CSV")]
    places: Option<PathBuf>,
    /// Print JSON instead of sentences
    #[arg(long)]
    json: bool,
}

/// What stands first in the place of a problem that `join` and `positions` care about.
pub fn bears(place: &str) -> bool {
    ["place", "centreline", "join", "taped"]
        .iter()
        .any(|word| place.starts_with(word))
}

impl Args {
    /// Joins the scans and prints how well they are joined; openings are not measured.
    ///
    /// # Errors
    /// If the job or the table cannot be read, its joins lead nowhere, or it was called off.
    pub fn run(self) -> anyhow::Result<Outcome> {
        let job = match &self.places {
            None => formats::read_job(&self.job)?,
            Some(table) => formats::read_job_with_places(&self.job, table)?,
        };
        if let Some(problem) = formats::check_job(&job)
            .into_iter()
            .find(|p| bears(&p.place))
        {
            anyhow::bail!("{problem}; {}", problem.hint);
        }
        let folder = self.job.parent().unwrap_or(Path::new("."));
        let bar = Bar::new()?;
        // Places need no scan.
        let mut wanted = job.clone();
        wanted.scans.retain(|s| {
            job.joins
                .iter()
                .any(|j| j.refine && (j.scan == s.id || j.to == s.id))
        });
        let loaded = load::scans(&wanted, folder, &bar)?;
        let mut study = Study {
            title: job.title.clone(),
            units: job.units,
            ..Study::default()
        };
        study.measured.joined = study::joined(&job, &loaded.scans, &bar)?;
        study.measured.joined.findings.splice(0..0, loaded.findings);
        if self.json {
            printer::plain(&formats::joins_json(&study))?;
        } else {
            let text = report::joins_text(&study, printer::look());
            let none = || format!("{}\n", report::joins::NO_JOINS);
            printer::plain(&text.unwrap_or_else(none))?;
        }
        Ok(Outcome::Done)
    }
}
