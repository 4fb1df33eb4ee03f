//! `cars`: the parts drawn for one car tried on another.

use std::path::{Path, PathBuf};

use record::Job;

use crate::outcome::Outcome;
use crate::progress::Bar;
use crate::{load, printer};

/// Arguments of `cars`.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Job file of the car the parts are drawn for
    job: PathBuf,
    /// Job file of the car they are tried on; left out where one job holds both cars
    other: Option<PathBuf>,
    /// The car the parts are drawn for, where one job holds both
    #[arg(long, value_name = "CAR")]
    from: Option<String>,
    /// The car they are tried on, where one job holds both
    #[arg(long, value_name = "CAR")]
    to: Option<String>,
    /// Write the table and JSON of what was tried into this folder
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
    /// Tries the parts and prints which fit.
    ///
    /// # Errors
    /// If a job cannot be read or does not say which car is which, files cannot be written, or it was called off.
    pub fn run(self) -> anyhow::Result<Outcome> {
        let first = with_paths(&self.job)?;
        let (job, cars) = if let Some(other) = &self.other {
            both(&first, &with_paths(other)?, &self.job, other)
        } else {
            let cars = named(&first, self.from.as_deref(), self.to.as_deref())?;
            (first, cars)
        };
        let bar = Bar::new()?;
        let loaded = load::scans(&job, Path::new(""), &bar)?;
        let names = [cars[0].as_str(), cars[1].as_str()];
        let mut found = study::cars(&job, names, &loaded.scans, self.draws, &bar)?;
        found.study.provenance.job_hash = formats::job_hash(&job)?;
        found.study.measured.findings.splice(0..0, loaded.findings);
        if let Some(out) = &self.out {
            formats::make_folder(out)?;
            let table = formats::cars_table(&found)?;
            formats::atomic_write(&out.join("cars.csv"), &table.bytes)?;
            let json = formats::cars_json(&found);
            formats::atomic_write(&out.join("cars.json"), json.as_bytes())?;
        }
        if self.json {
            printer::plain(&formats::cars_json(&found))?;
        } else {
            printer::plain(&report::cars_text(&found, printer::look()))?;
        }
        Ok(Outcome::Done)
    }
}

/// A job whose scan files are named from here.
fn with_paths(path: &Path) -> anyhow::Result<Job> {
    let mut job = formats::read_job(path)?;
    if let Some(problem) = formats::check_job(&job).into_iter().next() {
        anyhow::bail!("{}: {problem}; {}", path.display(), problem.hint);
    }
    let folder = path.parent().unwrap_or(Path::new("."));
    for scan in &mut job.scans {
        scan.path = folder.join(&scan.path);
    }
    Ok(job)
}

/// Two jobs as one. Cars are called as the jobs call them; where those are alike or say nothing, like the files.
fn both(first: &Job, second: &Job, a: &Path, b: &Path) -> (Job, [String; 2]) {
    let called = |job: &Job| match job.cars.as_slice() {
        [one] => one.name.clone(),
        _ => String::new(),
    };
    let file = |p: &Path| {
        p.file_stem().map_or_else(
            || p.display().to_string(),
            |s| s.to_string_lossy().into_owned(),
        )
    };
    let mut cars = [called(first), called(second)];
    if cars[0] == cars[1] || cars.iter().any(String::is_empty) {
        cars = [file(a), file(b)];
    }
    if cars[0] == cars[1] {
        cars[1] += " (second)";
    }
    let job = study::together(first, second, [&cars[0], &cars[1]]);
    (job, cars)
}

/// Which car is which in a job that holds both.
fn named(job: &Job, from: Option<&str>, to: Option<&str>) -> anyhow::Result<[String; 2]> {
    let known: Vec<&str> = job.cars.iter().map(|c| c.name.as_str()).collect();
    let list = known.join(", ");
    for name in [from, to].into_iter().flatten() {
        if !known.contains(&name) {
            anyhow::bail!("the job holds no car called \"{name}\"; its cars are: {list}");
        }
    }
    let other = |than: &str| known.iter().find(|k| **k != than).copied();
    let (from, to) = match (from, to) {
        (Some(f), Some(t)) => (f, t),
        (Some(f), None) if known.len() == 2 => (f, other(f).unwrap_or(f)),
        (None, Some(t)) if known.len() == 2 => (other(t).unwrap_or(t), t),
        (None, None) if known.len() == 2 => (known[0], known[1]),
        _ if known.len() < 2 => anyhow::bail!(
            "the job holds {} car; name the job of the other car as well, or add it to \"cars\" with visits of its own",
            known.len()
        ),
        _ => anyhow::bail!("say which car with --from and --to; the cars are: {list}"),
    };
    if from == to {
        anyhow::bail!("--from and --to name one car; its sides are compared by unmirror compare");
    }
    Ok([from.to_owned(), to.to_owned()])
}
