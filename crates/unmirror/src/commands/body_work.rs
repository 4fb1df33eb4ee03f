//! `body-work`: what body work changed between two visits, and what of the earlier answer stands.

use std::path::{Path, PathBuf};

use geom::Point;
use record::{BodyWork, Region, RegionShape, WorkStudy};

use crate::outcome::Outcome;
use crate::progress::Bar;
use crate::{load, printer};

/// Arguments of `body-work`.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Job file with body_work
    job: PathBuf,
    /// Scan from before, where the job states no body work
    #[arg(long, value_name = "SCAN", requires = "after")]
    before: Option<String>,
    /// Scan from after
    #[arg(long, value_name = "SCAN", requires = "before")]
    after: Option<String>,
    /// What was worked: a box in axes of the scan from before, mm (may be given several times)
    #[arg(long, value_name = "X,Y,Z,X,Y,Z", value_parser = boxed, allow_hyphen_values = true)]
    worked: Vec<Region>,
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
        let mut job = formats::read_job(&self.job)?;
        if let (Some(before), Some(after)) = (&self.before, &self.after) {
            job.body_work = vec![BodyWork {
                name: format!("{before} to {after}"),
                before: before.as_str().into(),
                after: after.as_str().into(),
                worked: Vec::new(),
                start: None,
                most_mm: BodyWork::MOST_MM,
                note: String::new(),
            }];
        }
        if !self.worked.is_empty() {
            let [one] = job.body_work.as_mut_slice() else {
                anyhow::bail!(
                    "--worked goes with one piece of body work, the job states {}; name it with --before and --after",
                    job.body_work.len()
                );
            };
            one.worked.clone_from(&self.worked);
        }
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
        found.study.measured.findings.splice(0..0, loaded.findings);
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

/// A box by two of its corners.
fn boxed(text: &str) -> Result<Region, String> {
    let numbers: Vec<f64> = text
        .split(',')
        .map(|n| n.trim().parse::<f64>())
        .collect::<Result<_, _>>()
        .map_err(|_| format!("\"{text}\" is not six numbers with commas between"))?;
    let [a, b, c, d, e, f] = numbers.as_slice() else {
        return Err(format!(
            "{} numbers, expected 6: two corners",
            numbers.len()
        ));
    };
    if numbers.iter().any(|n| !n.is_finite()) {
        return Err("a number is not finite".to_owned());
    }
    Ok(Region {
        shape: RegionShape::Box {
            low: Point::new(a.min(*d), b.min(*e), c.min(*f)),
            high: Point::new(a.max(*d), b.max(*e), c.max(*f)),
        },
        note: String::new(),
    })
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
