//! What a journal holds that the job file does not.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use formats::{JournalEntry, JournalKind, JournalWriter, read_journal};
use record::Job;

use crate::history::History;

/// Changes that were made and never saved, offered when the job is opened again.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Recovery {
    /// The changes by name, oldest first.
    pub names: Vec<String>,
    /// Whether the job file is still the one they were made on. If not, taking them back leads to the former one.
    pub same_file: bool,
}

/// A journal of a job that never had a file.
#[derive(Clone, Debug, PartialEq)]
pub struct LeftOver {
    /// The journal.
    pub path: PathBuf,
    /// Title of the job.
    pub title: String,
    /// The changes by name, oldest first.
    pub names: Vec<String>,
}

/// The job with its steps, as the entries tell; `None` without a beginning.
pub(crate) fn replay(entries: &[JournalEntry]) -> Option<(History, Job)> {
    const GESTURE: &str = "gesture";
    let (first, rest) = entries.split_first()?;
    let mut history = History::new(Arc::new(first.job.clone()));
    for e in rest {
        match e.kind {
            JournalKind::Start => history = History::new(Arc::new(e.job.clone())),
            JournalKind::Undo => {
                history.undo();
            }
            JournalKind::Redo => {
                history.redo();
            }
            JournalKind::Step => {
                history.settle();
                history.step(e.name.clone(), e.job.clone(), Some(GESTURE.to_owned()));
            }
            JournalKind::Joined => {
                history.step(e.name.clone(), e.job.clone(), Some(GESTURE.to_owned()));
            }
        }
        if **history.now() != e.job {
            // The steps were not as told; the job itself is what counts.
            history.settle();
            history.step(e.name.clone(), e.job.clone(), None);
        }
    }
    history.settle();
    Some((history, first.job.clone()))
}

/// Names of the steps, oldest first.
pub(crate) fn names(history: &History) -> Vec<String> {
    let mut names: Vec<String> = history.undo_names().map(str::to_owned).collect();
    names.reverse();
    names
}

/// Journals in `folder` of jobs that never had a file and that no other window has open.
pub fn left_over(folder: &Path) -> Vec<LeftOver> {
    let Ok(files) = std::fs::read_dir(folder) else {
        return Vec::new();
    };
    let mut out: Vec<LeftOver> = files
        .filter_map(|f| Some(f.ok()?.path()))
        .filter(|p| p.extension().is_some_and(|e| e == "journal"))
        .filter_map(|path| {
            // Taken for a moment only: a journal in use is not left over.
            JournalWriter::take(&path).ok()??;
            let (history, _) = replay(&read_journal(&path).ok()?)?;
            let names = names(&history);
            (!names.is_empty()).then(|| LeftOver {
                title: history.now().title.clone(),
                path,
                names,
            })
        })
        .collect();
    out.sort_by(|a, b| a.path.cmp(&b.path));
    out
}
