//! `compare`: the answer to a job.

use std::path::{Path, PathBuf};

use formats::{OutputFile, OutputKind};
use record::{Job, Study};
use report::hand_over::Paper;
use report::sheet::{pdf_bytes, printed_pair, true_size};
use report::{Pair, Sheet, Theme};

use crate::condition::Condition;
use crate::outcome::Outcome;
use crate::progress::Bar;
use crate::{load, printer};

/// Arguments of `compare`.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Job file
    job: PathBuf,
    /// Write tables, curves for CAD and one picture per pair into this folder
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Print the whole study as JSON instead of sentences
    #[arg(long)]
    json: bool,
    /// Exit with 1 unless this holds: fits, cure, decided, no-stop, no-doubt; NAME:WORD for one comparison
    #[arg(long, value_name = "CONDITION")]
    fail_unless: Vec<Condition>,
    /// How many times the readings are drawn anew for a chance
    #[arg(long, value_name = "N", default_value_t = DRAWS, value_parser = clap::value_parser!(u32).range(100..=1_000_000))]
    draws: u32,
    /// Number of threads; the answer does not depend on it
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1024))]
    threads: Option<u16>,
}

/// Draws per chance unless said otherwise: a chance of 95 % is then known to about 1 %.
pub const DRAWS: u32 = 2000;

impl Args {
    /// Compares and prints.
    ///
    /// # Errors
    /// If the job cannot be read, files cannot be written, or it was called off.
    pub fn run(self) -> anyhow::Result<Outcome> {
        set_threads(self.threads)?;
        let job = formats::read_job(&self.job)?;
        let folder = self.job.parent().unwrap_or(Path::new("."));
        let study = study_of(&job, folder, self.draws)?;
        if let Some(out) = &self.out {
            write(&study, out)?;
        }
        if self.json {
            printer::plain(&formats::study_json(&study))?;
        } else {
            printer::plain(&report::terminal_text(&study, printer::look()))?;
        }
        let unmet: Vec<String> = self
            .fail_unless
            .iter()
            .flat_map(|c| c.unmet(&study))
            .collect();
        Ok(if unmet.is_empty() {
            Outcome::Done
        } else {
            Outcome::Unmet(unmet)
        })
    }
}

/// Reads the scans of a job and runs it; what could not be read stands in the findings of the study.
pub fn study_of(job: &Job, folder: &Path, draws: u32) -> anyhow::Result<Study> {
    let bar = Bar::new()?;
    let loaded = load::scans(job, folder, &bar)?;
    let mut study = study::run(job, &loaded.scans, &mut study::Kept::default(), draws, &bar)?;
    study.provenance.job_hash = formats::job_hash(job)?;
    study.measured.findings.splice(0..0, loaded.findings);
    Ok(study)
}

/// Writes all files of a study into `out`: tables, JSON, DXF, STEP, and per comparison a picture and its pages for
/// paper. What cannot be drawn soundly is not written, and said.
pub fn write(study: &Study, out: &Path) -> anyhow::Result<()> {
    let outputs = formats::write_outputs(study, out, &formats::OutputOptions::of(study))?;
    for (name, refused) in &outputs.refused {
        printer::aside(&format!("unmirror: {name}: {refused}"));
    }
    for pair in Pair::all(study) {
        let sheet = report::pair_sheet(&pair);
        let name = formats::file_name(&format!("{}.svg", pair.measured.id.0));
        formats::atomic_write(&out.join(name), sheet.svg(Theme::Paper).as_bytes())?;
        for (_, file) in papers(study, &pair) {
            formats::atomic_write(&out.join(file.name("")), &file.bytes)?;
        }
    }
    Ok(())
}

/// The pages for paper of a comparison: one that says what fits and why, and per side the edge and the angles at true
/// size, where they go on a sheet of paper.
pub fn papers(study: &Study, pair: &Pair) -> Vec<(Paper, OutputFile)> {
    let names = formats::output_names(study);
    let id = &pair.measured.id;
    let name = names.get(id).map_or(id.0.as_str(), String::as_str);
    let file = |stem: String, says: &str, sheet: Sheet| OutputFile {
        bytes: pdf_bytes(&[sheet], &stem),
        says: format!("{name}: {says}"),
        stem,
        ending: "pdf",
        kind: OutputKind::Pdf,
        compare: Some(id.clone()),
        off_mm: None,
    };
    let page = file(
        name.to_owned(),
        "what fits and why, one page",
        printed_pair(pair),
    );
    let mut papers = vec![(Paper::PairPage, page)];
    for drawing in study.drawings.iter().filter(|d| d.compare == *id) {
        if let Some(sheet) = true_size(pair, drawing) {
            let side = report::words::side(drawing.side);
            let stem = format!("{name}, {side}, true size");
            let says = format!("{side}, edge and angles at true size, print at 100 %");
            papers.push((Paper::TrueSize, file(stem, &says, sheet)));
        }
    }
    papers
}

/// Sets the number of threads of the engine.
fn set_threads(threads: Option<u16>) -> anyhow::Result<()> {
    let Some(threads) = threads else {
        return Ok(());
    };
    rayon::ThreadPoolBuilder::new()
        .num_threads(usize::from(threads))
        .build_global()?;
    Ok(())
}
