//! `body-work`: what body work changed between two visits, and what of the earlier answer stands.

use std::path::{Path, PathBuf};

use record::WorkStudy;

use crate::outcome::Outcome;
use crate::progress::Bar;
use crate::{load, printer};

/// Arguments of `body-work`.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Job file with body_work
    job: PathBuf,
    /// Write tables and JSON of what changed, and the files of compare with the openings after, into this folder
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Print JSON instead of sentences
    #[arg(long)]
    json: bool,
    /// How many times the readings are drawn anew for a chance
    #[arg(long, value_name = "N", default_value_t = super::compare::DRAWS, value_parser = clap::value_parser!(u32).range(100..=1_000_000))]
    draws: u32,
}

impl Args {
    /// Lays the scans from after on those from before and prints what moved.
    ///
    /// # Errors
    /// If the job cannot be read, its body work leads nowhere, files cannot be written, or it was called off.
    pub fn run(self) -> anyhow::Result<Outcome> {
        let job = formats::read_job(&self.job)?;
        if let Some(problem) = formats::check_job(&job)
            .into_iter()
            .find(|p| p.place.starts_with("body work"))
        {
            anyhow::bail!("{problem}; {}", problem.hint);
        }
        let folder = self.job.parent().unwrap_or(Path::new("."));
        let bar = Bar::new()?;
        let loaded = load::scans(&job, folder, &bar)?;
        let mut found = study::body_work(&job, &loaded.scans, self.draws, &bar)?;
        found.study.provenance.job_hash = formats::job_hash(&job)?;
        found
            .study
            .measured
            .findings
            .splice(0..0, loaded.findings);
        if let Some(out) = &self.out {
            write(&found, out)?;
        }
        if self.json {
            printer::plain(&formats::body_work_json(&found))?;
        } else {
            printer::plain(&report::body_work_text(&found, printer::look()))?;
        }
        Ok(Outcome::Done)
    }
}

fn write(found: &WorkStudy, out: &Path) -> anyhow::Result<()> {
    super::compare::write(&found.study, out)?;
    for (name, table) in formats::body_work_tables(found)? {
        formats::atomic_write(&out.join(name), &table.bytes)?;
    }
    let json = formats::body_work_json(found);
    formats::atomic_write(&out.join("body-work.json"), json.as_bytes())?;
    Ok(())
}
