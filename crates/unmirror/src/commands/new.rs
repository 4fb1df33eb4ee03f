//! `new`: a job from scan files and tables of hand readings.

mod by_hand;

use std::path::{Path, PathBuf};

use anyhow::bail;
use record::{BodyState, Cancelled, Job, LengthUnit, OpeningId, ScanRef, Scans, UnitSource, Visit};

use crate::outcome::Outcome;
use crate::progress::Bar;
use crate::{load, printer};

/// Arguments of `new`.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Scan files (STL, PLY, OBJ, OFF, PCD, E57, XYZ, CSV and other tables of points)
    #[arg(required_unless_present = "by_hand", value_name = "SCAN")]
    scans: Vec<PathBuf>,
    /// Tables of hand readings, one an opening; "left" or "right" in the name of the file says its side
    #[arg(long, value_name = "TABLE", num_args = 1..)]
    by_hand: Vec<PathBuf>,
    /// Job file to write; never over one that is there
    #[arg(long, value_name = "JOB")]
    out: PathBuf,
    /// Unit of all scans, where it is known: mm, cm, m, in, ft
    #[arg(long, value_name = "UNIT", value_parser = unit)]
    unit: Option<LengthUnit>,
}

/// The one visit of a new job.
const VISIT: &str = "first visit";

impl Args {
    /// Reads the scans, looks for openings, writes the job.
    ///
    /// # Errors
    /// If the job is there already, no scan can be read, the job cannot be written, or it was called off.
    pub fn run(self) -> anyhow::Result<Outcome> {
        if self.out.exists() {
            bail!(
                "\"{}\" is there already; move it away or choose another name",
                self.out.display()
            );
        }
        let folder = self.out.parent().unwrap_or(Path::new("")).to_owned();
        if self.scans.is_empty() {
            let mut job = by_hand::empty_job(visit());
            let said = by_hand::add(&mut job, &self.by_hand, |p| relative(p, &folder))?;
            formats::write_job(&job, &self.out)?;
            printer::plain(&(self.text(&job, &[], &said)))?;
            return Ok(Outcome::Done);
        }
        let bar = Bar::new()?;
        let mut job = Job {
            visits: vec![visit()],
            ..Job::default()
        };
        let mut unread = Vec::new();
        for path in &self.scans {
            match self.scan_ref(path, &folder, &job.scans, &bar)? {
                Ok(scan) => job.scans.push(scan),
                Err(error) => unread.push(error),
            }
        }
        let loaded = load::scans(&job, &folder, &bar)?;
        if loaded.scans.is_empty() {
            for error in &unread {
                printer::aside(&format!(
                    "unmirror: {error}\n  what to do: {}",
                    error.hint()
                ));
            }
            bail!("none of the scans could be read; no job was written");
        }
        let proposal = study::propose(&job.scans, &loaded.scans, &bar)?;
        drop(bar);
        let mut made = proposal.job;
        if made.visits.is_empty() {
            made.visits = job.visits;
        }
        made.scans = with_hashes(made.scans, &loaded.scans);
        let said = by_hand::add(&mut made, &self.by_hand, |p| relative(p, &folder))?;
        let comments: Vec<(OpeningId, String)> = proposal
            .comments
            .iter()
            .map(|c| (OpeningId(c.about.clone()), c.says.clone()))
            .collect();
        formats::write_starter_job(&made, &comments, &self.out)?;
        printer::plain(&self.text(&made, &proposal.comments, &said))?;
        for error in &unread {
            printer::aside(&format!(
                "unmirror: left out: {error}\n  what to do: {}",
                error.hint()
            ));
        }
        Ok(Outcome::Done)
    }

    /// A scan as the job names it, with its unit; a file that cannot be read is handed back as an error of its own.
    fn scan_ref(
        &self,
        path: &Path,
        folder: &Path,
        before: &[ScanRef],
        bar: &Bar,
    ) -> Result<Result<ScanRef, formats::Error>, Cancelled> {
        let raw = match formats::read_scan(path, bar) {
            Ok(raw) => raw,
            Err(error) if error.is_cancelled() => return Err(Cancelled),
            Err(error) => return Ok(Err(error)),
        };
        let (unit, unit_source, note) = match (self.unit, raw.unit) {
            (Some(unit), _) | (None, Some(unit)) => (unit, UnitSource::Stated, String::new()),
            (None, None) => {
                let guess = formats::guess_unit(&raw.points);
                let note = format!("unit guessed: {}", guess.reason);
                (guess.unit, UnitSource::Guessed, note)
            }
        };
        let stem = path
            .file_stem()
            .map_or_else(|| "scan".into(), |s| s.to_string_lossy().into_owned());
        let taken = |id: &str| before.iter().any(|s| s.id.0 == id);
        // One more name than there are scans: one of them is free.
        let id = (1..=before.len() + 1)
            .map(|n| {
                if n == 1 {
                    stem.clone()
                } else {
                    format!("{stem}-{n}")
                }
            })
            .find(|id| !taken(id));
        Ok(Ok(ScanRef {
            id: id.unwrap_or(stem).as_str().into(),
            visit: VISIT.into(),
            path: relative(path, folder),
            hash: Some(raw.hash),
            unit,
            unit_source,
            side: record::Side::NotSaid,
            keep: Vec::new(),
            aside: Vec::new(),
            largest_piece_only: false,
            note,
        }))
    }

    /// What is said about the new job.
    fn text(&self, job: &Job, comments: &[study::propose::Comment], by_hand: &[String]) -> String {
        let mut out = format!(
            "{}: {} scans, {}{} openings, {} comparisons\n",
            self.out.display(),
            job.scans.len(),
            if job.hand.is_empty() {
                String::new()
            } else {
                format!("{} hand tables, ", job.hand.len())
            },
            job.openings.len(),
            job.compares.len()
        );
        for scan in job
            .scans
            .iter()
            .filter(|s| s.unit_source == UnitSource::Guessed)
        {
            out += &format!(
                "  unit of {}: {}, a guess; tape one length to be sure\n",
                scan.id,
                scan.unit.word()
            );
            if !scan.note.is_empty() {
                out += &format!("    {}\n", scan.note);
            }
        }
        for comment in comments {
            out += &format!("  {}: {}\n", comment.about, comment.says);
        }
        for says in by_hand {
            out += &format!("  {says}\n");
        }
        out.push_str("Nothing is taken for granted: open the file, check names, sides, tops and what you allow. Then:\n");
        out += &format!("  unmirror compare {}\n", self.out.display());
        out
    }
}

fn visit() -> Visit {
    Visit {
        id: VISIT.into(),
        car: String::new(),
        date: String::new(),
        operator: String::new(),
        instrument: String::new(),
        flatness_mm: 0.05,
        state: BodyState::default(),
        note: String::new(),
    }
}

fn with_hashes(mut refs: Vec<ScanRef>, scans: &Scans) -> Vec<ScanRef> {
    for scan in &mut refs {
        if let Some(prepared) = scans.get(&scan.id) {
            scan.hash = Some(prepared.hash.clone());
        }
    }
    refs
}

/// `path` as seen from `folder`, where it lies below it; else from the root, so that the job finds it from anywhere.
fn relative(path: &Path, folder: &Path) -> PathBuf {
    let full = |p: &Path| {
        std::path::absolute(if p.as_os_str().is_empty() {
            Path::new(".")
        } else {
            p
        })
    };
    match (full(path), full(folder)) {
        (Ok(path), Ok(folder)) => path
            .strip_prefix(&folder)
            .map_or(path.clone(), Path::to_owned),
        _ => path.to_owned(),
    }
}

pub fn unit(text: &str) -> Result<LengthUnit, String> {
    LengthUnit::ALL
        .into_iter()
        .find(|u| u.word() == text)
        .ok_or_else(|| format!("\"{text}\" is no unit; write mm, cm, m, in or ft"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn scans_beside_the_job_are_named_from_there() {
        assert_eq!(
            relative(Path::new("coach/left.ply"), Path::new("coach")),
            PathBuf::from("left.ply")
        );
        assert_eq!(
            relative(Path::new("left.ply"), Path::new("")),
            PathBuf::from("left.ply")
        );
        assert!(relative(Path::new("a/left.ply"), Path::new("b")).is_absolute());
    }

    #[test]
    fn units_by_their_words() {
        assert_eq!(unit("in"), Ok(LengthUnit::Inch));
        assert!(unit("inch").unwrap_err().contains("mm, cm, m, in or ft"));
    }
}
