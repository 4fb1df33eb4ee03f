//! `field-sheet`: what to measure by hand, as pages to fill in and as empty tables.

use std::path::{Path, PathBuf};

use anyhow::bail;
use record::{FieldPlan, Job, Relation, Side};
use report::Theme;
use report::sheet::{field_sheets, pdf_bytes};

use super::compare::study_of;
use crate::outcome::Outcome;
use crate::printer;

/// Arguments of `field-sheet`.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Job file; without one, sheets for any opening, left and right
    job: Option<PathBuf>,
    /// PDF to write; with the ending .svg, a file per page. The empty tables go beside it
    #[arg(long, value_name = "FILE")]
    out: PathBuf,
}

impl Args {
    /// Writes the sheets and the tables.
    ///
    /// # Errors
    /// If the job cannot be read, has nothing to compare, or files cannot be written.
    pub fn run(self) -> anyhow::Result<Outcome> {
        let (job, measured) = match &self.job {
            Some(path) => {
                let job = formats::read_job(path)?;
                let folder = path.parent().unwrap_or(Path::new("."));
                let study = study_of(&job, folder, 0)?;
                (job, study.measured)
            }
            None => (any_job(), record::Measured::default()),
        };
        let plans = study::field_plans(&job, &measured);
        if plans.is_empty() {
            bail!(
                "the job compares nothing; add a comparison, or leave the job out for a sheet of any opening"
            );
        }
        let sheets: Vec<report::Sheet> = plans
            .iter()
            .flat_map(|p| field_sheets(p, &job.title))
            .collect();
        let svg = self
            .out
            .extension()
            .is_some_and(|e| e.eq_ignore_ascii_case("svg"));
        let mut written = Vec::new();
        if svg {
            for (k, sheet) in sheets.iter().enumerate() {
                let path = beside(&self.out, &format!("-{}", k + 1), "svg");
                formats::atomic_write(&path, sheet.svg(Theme::Paper).as_bytes())?;
                written.push(path);
            }
        } else {
            formats::atomic_write(&self.out, &pdf_bytes(&sheets, "field sheet"))?;
            written.push(self.out.clone());
        }
        let mut out = String::new();
        for path in &written {
            out += &format!("{}\n", path.display());
        }
        for plan in &plans {
            let path = beside(&self.out, &format!("-{}", stem(plan)), "csv");
            if path.exists() {
                out += &format!("{}: is there already and was left alone\n", path.display());
                continue;
            }
            formats::atomic_write(&path, formats::blank_hand_table(plan)?.as_bytes())?;
            out += &format!(
                "{}: {} readings to fill in\n",
                path.display(),
                plan.boxes.len()
            );
        }
        printer::plain(&out)?;
        Ok(Outcome::Done)
    }
}

/// A job with one comparison and no opening yet.
fn any_job() -> Job {
    Job {
        compares: vec![record::Compare {
            id: "opening".into(),
            a: "left".into(),
            b: Some("right".into()),
            relation: Relation::Mirrored,
            part: "part".into(),
        }],
        ..Job::default()
    }
}

fn stem(plan: &FieldPlan) -> String {
    let side = match plan.side {
        Side::Left => "left",
        Side::Right => "right",
        Side::Centre => "centre",
        Side::NotSaid => "opening",
    };
    match &plan.opening {
        Some(id) => formats::file_name(&id.0),
        None => side.to_owned(),
    }
}

/// "lamp.pdf" with "-left" becomes "lamp-left.csv".
fn beside(path: &Path, more: &str, ending: &str) -> PathBuf {
    let stem = path.file_stem().map_or_else(
        || "field-sheet".to_owned(),
        |s| s.to_string_lossy().into_owned(),
    );
    path.with_file_name(format!("{stem}{more}.{ending}"))
}
