//! `hand-over`: what each receiver needs, in a folder of its own, with a letter that says what has changed.

use std::path::{Path, PathBuf};

use clap::ValueEnum;
use formats::{HandOver, HandedFile, OutputFile, OutputKind};
use record::Study;
use report::Pair;
use report::hand_over::{Named, Paper, Receiver, changes, figures, forbidden, letter};

use super::compare;
use crate::outcome::Outcome;
use crate::printer;

/// Arguments of `hand-over`.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Job file
    job: PathBuf,
    /// Folder of the hand-overs; each gets a folder of its own in it, which is never written again
    #[arg(long, value_name = "DIR")]
    out: PathBuf,
    /// Who is to get something; everybody if not given
    #[arg(long = "for", value_name = "WHO", num_args = 1..)]
    receivers: Vec<Who>,
    /// How many times the readings are drawn anew for a chance
    #[arg(long, value_name = "N", default_value_t = compare::DRAWS, value_parser = clap::value_parser!(u32).range(100..=1_000_000))]
    draws: u32,
}

/// A receiver as a word of the command line.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Who {
    /// STEP, true-size sheets, tables
    Machinist,
    /// DXF, true-size sheets
    Cutter,
    /// True-size sheets, what must not be mirrored, the finish
    Finisher,
    /// One page per part
    Client,
    /// Tables, one page per part, true-size sheets
    Inspector,
}

impl Who {
    fn receiver(self) -> Receiver {
        match self {
            Self::Machinist => Receiver::Machinist,
            Self::Cutter => Receiver::Cutter,
            Self::Finisher => Receiver::Finisher,
            Self::Client => Receiver::Client,
            Self::Inspector => Receiver::Inspector,
        }
    }
}

/// A file of the hand-over with what it is.
struct Ready {
    paper: Paper,
    file: OutputFile,
}

impl Args {
    /// Compares, and hands over.
    ///
    /// # Errors
    /// If the job cannot be read, a stop stands, a file was refused or cannot be written, or it was called off.
    pub fn run(self) -> anyhow::Result<Outcome> {
        let job = formats::read_job(&self.job)?;
        let folder = self.job.parent().unwrap_or(Path::new("."));
        let mut log = formats::read_hand_overs(&self.out)?;
        let study = compare::study_of(&job, folder, self.draws)?;
        if let Some((title, why)) = forbidden(&study) {
            let of = if title.is_empty() {
                String::new()
            } else {
                format!("{title}: ")
            };
            anyhow::bail!(
                "nothing was handed over: {of}{}\n  what to do: {}",
                why.says,
                why.advice
            );
        }
        let ready = ready(&study)?;
        let receivers = self.receivers();
        let revision = log.next_revision();
        let mark = format!(", rev {revision}");
        let figures = figures(&study);
        let names = |mark: &str| -> Vec<String> {
            let of = |r: &Receiver| {
                let word = r.word();
                let all = ready.iter().filter(|f| r.papers().contains(&f.paper));
                all.map(|f| format!("{word}/{}", f.file.name(mark)))
                    .collect::<Vec<_>>()
            };
            receivers.iter().flat_map(of).collect()
        };
        let said = log.done.last().map(|last| {
            let before = without_mark(&last.files, &format!(", rev {}", last.revision));
            changes((&last.figures, &before), (&figures, &names("")))
        });
        let here = self.out.join(format!("rev {revision}"));
        let mut files = Vec::new();
        let mut rows = Vec::new();
        for receiver in &receivers {
            let theirs = here.join(receiver.word());
            formats::make_folder(&theirs)?;
            let mut named = Vec::new();
            for f in ready
                .iter()
                .filter(|f| receiver.papers().contains(&f.paper))
            {
                let name = f.file.name(&mark);
                formats::atomic_write(&theirs.join(&name), &f.file.bytes)?;
                files.push(HandedFile::new(
                    format!("{}/{name}", receiver.word()),
                    &f.file.bytes,
                ));
                named.push(Named {
                    name,
                    says: f.file.says.clone(),
                    off_mm: f.file.off_mm,
                });
            }
            let text = letter(&study, *receiver, &revision, &named, said.as_deref());
            formats::atomic_write(&theirs.join("read this.txt"), text.as_bytes())?;
            rows.push(report::hand_over::row(&study, *receiver, &named));
        }
        log.done.push(HandOver {
            revision: revision.clone(),
            job_blake3: study.provenance.job_hash.clone(),
            figures,
            files,
        });
        formats::write_hand_overs(&log, &self.out)?;
        let head = format!("Revision {revision} in {}\n", here.display());
        let told = report::hand_over::told(said.as_deref(), printer::look());
        printer::plain(&format!("{head}{}{told}", rows.concat()))?;
        Ok(Outcome::Done)
    }

    /// Those asked for, each once, in the order of the work.
    fn receivers(&self) -> Vec<Receiver> {
        let asked = |r: &Receiver| {
            self.receivers.is_empty() || self.receivers.iter().any(|w| w.receiver() == *r)
        };
        Receiver::ALL.into_iter().filter(asked).collect()
    }
}

/// Everything that may be handed over; an error where something was refused: half a set is worse than none.
fn ready(study: &Study) -> anyhow::Result<Vec<Ready>> {
    let (made, refused) = formats::outputs(study, &formats::OutputOptions::of(study));
    if let Some((name, why)) = refused.first() {
        anyhow::bail!("nothing was handed over: {name}: {why}");
    }
    let mut ready: Vec<Ready> = made
        .into_iter()
        .filter_map(|file| {
            let paper = match file.kind {
                OutputKind::Step => Paper::Step,
                OutputKind::Dxf => Paper::Dxf,
                OutputKind::Csv => Paper::Tables,
                // The study names the scan files; pages for paper are not made there.
                OutputKind::StudyJson | OutputKind::Pdf => return None,
            };
            Some(Ready { paper, file })
        })
        .collect();
    for pair in Pair::all(study) {
        for (paper, file) in compare::papers(study, &pair) {
            ready.push(Ready { paper, file });
        }
    }
    Ok(ready)
}

/// Names of files without the mark of their revision.
fn without_mark(files: &[HandedFile], mark: &str) -> Vec<String> {
    files.iter().map(|f| f.name.replacen(mark, "", 1)).collect()
}
