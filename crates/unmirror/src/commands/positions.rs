//! `positions`: where the openings sit on the car.

use std::path::{Path, PathBuf};

use super::compare::study_of;
use crate::outcome::Outcome;
use crate::printer;

/// Arguments of `positions`.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Job file with places of the body, or with the name of a table of them
    job: PathBuf,
    /// Table of places to use instead of the one the job names: name;side;scan;x;y;z;sigma
    #[arg(long, value_name = "CSV")]
    places: Option<PathBuf>,
    /// Write positions.csv, places.csv and positions.json into this folder
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Print JSON instead of sentences
    #[arg(long)]
    json: bool,
}

impl Args {
    /// Lays the centreline and prints what hangs on it.
    ///
    /// # Errors
    /// If the job or the table cannot be read, files cannot be written, or it was called off.
    pub fn run(self) -> anyhow::Result<Outcome> {
        let job = match &self.places {
            None => formats::read_job(&self.job)?,
            Some(table) => formats::read_job_with_places(&self.job, table)?,
        };
        if let Some(problem) = formats::check_job(&job)
            .into_iter()
            .find(|p| super::join::bears(&p.place))
        {
            anyhow::bail!("{problem}; {}", problem.hint);
        }
        let folder = self.job.parent().unwrap_or(Path::new("."));
        let study = study_of(&job, folder, 0)?;
        if let Some(out) = &self.out {
            formats::make_folder(out)?;
            for table in formats::position_tables(&study)? {
                let path = out.join(format!("{}.csv", table.name));
                formats::atomic_write(&path, &table.bytes)?;
            }
            let path = out.join("positions.json");
            formats::atomic_write(&path, formats::positions_json(&study).as_bytes())?;
        }
        if self.json {
            printer::plain(&formats::positions_json(&study))?;
        } else {
            let text = report::positions_text(&study, printer::look());
            let none = || format!("{}\n", report::positions::NO_PLACES);
            printer::plain(&text.unwrap_or_else(none))?;
        }
        Ok(Outcome::Done)
    }
}
