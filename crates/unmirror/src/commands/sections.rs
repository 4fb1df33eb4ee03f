//! `sections`: profiles across the edges and the panel round them, one side against the other.

use std::path::{Path, PathBuf};

use record::{Sections, Study};

use crate::outcome::Outcome;
use crate::progress::Bar;
use crate::{load, printer};

/// Arguments of `sections`.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Job file
    job: PathBuf,
    /// Write tables, JSON, DXF and STEP of the sections into this folder
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Print JSON instead of sentences
    #[arg(long)]
    json: bool,
    /// How many times the readings are drawn anew to weigh all differences together
    #[arg(long, value_name = "N", default_value_t = super::compare::DRAWS, value_parser = clap::value_parser!(u32).range(100..=1_000_000))]
    draws: u32,
}

impl Args {
    /// Cuts the sections and prints what differs.
    ///
    /// # Errors
    /// If the job cannot be read, files cannot be written, or it was called off.
    pub fn run(self) -> anyhow::Result<Outcome> {
        let job = formats::read_job(&self.job)?;
        let of_this = |place: &str| {
            ["sections", "gap \"", "hinge \""]
                .iter()
                .any(|w| place.starts_with(w))
        };
        if let Some(problem) = formats::check_job(&job)
            .into_iter()
            .find(|p| of_this(&p.place))
        {
            anyhow::bail!("{problem}; {}", problem.hint);
        }
        let folder = self.job.parent().unwrap_or(Path::new("."));
        let bar = Bar::new()?;
        let loaded = load::scans(&job, folder, &bar)?;
        let mut study = study::run(&job, &loaded.scans, &mut study::Kept::default(), 0, &bar)?;
        study.provenance.job_hash = formats::job_hash(&job)?;
        let mut sections = study::sections(&job, &loaded.scans, &study.measured, self.draws, &bar)?;
        sections.findings.splice(0..0, loaded.findings);
        if let Some(out) = &self.out {
            write(&study, &sections, out)?;
        }
        if self.json {
            printer::plain(&formats::sections_json(&study, &sections))?;
        } else {
            printer::plain(&report::sections_text(&study, &sections, printer::look()))?;
        }
        Ok(Outcome::Done)
    }
}

/// Writes everything of the sections into `out`. What cannot be drawn soundly is not written, and said.
fn write(study: &Study, sections: &Sections, out: &Path) -> anyhow::Result<()> {
    formats::make_folder(out)?;
    for (name, table) in formats::section_tables(study, sections)? {
        formats::atomic_write(&out.join(name), &table.bytes)?;
    }
    for table in formats::gap_and_hinge_tables(study, sections)? {
        formats::atomic_write(&out.join(format!("{}.csv", table.name)), &table.bytes)?;
    }
    let json = formats::sections_json(study, sections);
    formats::atomic_write(&out.join("sections.json"), json.as_bytes())?;
    let program = format!("unmirror {}", study.provenance.version);
    for pair in &sections.pairs {
        let dxf = formats::section_dxf_bytes(pair, study.units.length);
        let step = formats::section_step_text(pair, &program).map(String::into_bytes);
        for (ending, file) in [("dxf", dxf), ("step", step)] {
            let name = formats::file_name(&format!("{}, sections.{ending}", pair.compare));
            match file {
                Ok(bytes) => formats::atomic_write(&out.join(name), &bytes)?,
                Err(refused) => printer::aside(&format!("unmirror: {name}: {refused}")),
            }
        }
    }
    Ok(())
}
