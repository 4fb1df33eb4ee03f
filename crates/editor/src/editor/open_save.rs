//! Opening, saving, and what is offered after a crash.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use formats::{JournalWriter, journal_path};
use record::Job;

use super::{Editor, Settings};
use crate::event::Lane;
use crate::history::History;
use crate::paths;
use crate::recovery::{Recovery, names, replay};

/// Why a job was not opened.
#[derive(Debug)]
pub enum NotOpened {
    /// Another window has it open.
    InUse(PathBuf),
    /// It cannot be read: path, place and remedy.
    Unread(formats::Error),
}

impl NotOpened {
    /// What to do.
    pub fn hint(&self) -> &str {
        match self {
            Self::InUse(_) => "go on in the other window, or close it first",
            Self::Unread(error) => error.hint(),
        }
    }
}

impl From<formats::Error> for NotOpened {
    fn from(error: formats::Error) -> Self {
        Self::Unread(error)
    }
}

impl std::fmt::Display for NotOpened {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::InUse(path) => write!(f, "\"{}\" is open in another window", path.display()),
            Self::Unread(error) => error.fmt(f),
        }
    }
}

impl std::error::Error for NotOpened {}

/// Why a job was not saved.
#[derive(Debug)]
pub enum NotSaved {
    /// It has no file yet.
    NoName,
    /// The disk, with path and remedy.
    Disk(formats::Error),
}

impl From<formats::Error> for NotSaved {
    fn from(error: formats::Error) -> Self {
        Self::Disk(error)
    }
}

impl std::fmt::Display for NotSaved {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::NoName => f.write_str("the job has no file yet"),
            Self::Disk(error) => error.fmt(f),
        }
    }
}

impl std::error::Error for NotSaved {}

impl Editor {
    /// A new job without a file.
    pub fn new_job(settings: Settings) -> Self {
        let job = Arc::new(Job {
            title: "New job".to_owned(),
            seed: 1,
            ..Job::default()
        });
        let folder = settings.unsaved_folder.clone();
        let mut editor = Self::start(Arc::clone(&job), None, settings);
        match folder.map(|f| unsaved_journal(&f)) {
            Some(Ok(journal)) => editor.journal.write_into(journal, Some(job)),
            Some(Err(error)) => editor.no_journal(&error),
            None => {}
        }
        editor.job_changed();
        editor
    }

    /// Opens a job file; its scans are read in the background. Changes that were made and never saved, as after a
    /// crash, are offered by [`crate::Document::recovery`].
    ///
    /// # Errors
    /// If the file cannot be read as a job, with file, line and remedy, or is open in another window.
    pub fn open(path: &Path, settings: Settings) -> Result<Self, NotOpened> {
        let job = formats::read_job(path)?;
        let path = std::path::absolute(path).unwrap_or_else(|_| path.to_owned());
        let job = Arc::new(paths::full(job, path.parent()));
        let journal = journal_path(&path);
        let mut editor = Self::start(Arc::clone(&job), Some(path.clone()), settings);
        match JournalWriter::take(&journal) {
            Ok(Some(journal)) => editor.begin_journal(journal),
            Ok(None) => return Err(NotOpened::InUse(path)),
            Err(error) => editor.no_journal(&error),
        }
        let kept = formats::kept_figures_path(&formats::kept_folder(&path));
        editor.expects_kept = formats::are_kept_figures(&kept, study::ENGINE);
        editor.job_changed();
        Ok(editor)
    }

    /// Opens a job that never had a file from the journal it left behind; see [`crate::left_over`].
    ///
    /// # Errors
    /// If the journal cannot be read or is in use.
    pub fn open_left_over(journal: &Path, settings: Settings) -> Result<Self, NotOpened> {
        let mut writer =
            JournalWriter::take(journal)?.ok_or_else(|| NotOpened::InUse(journal.to_owned()))?;
        let entries = writer.entries()?;
        let (history, start) = replay(&entries).unwrap_or_else(|| {
            let job = Job::default();
            (History::new(Arc::new(job.clone())), job)
        });
        let mut editor = Self::start(Arc::new(start), None, settings);
        editor.document.history = history;
        editor.journal.write_into(writer, None);
        editor.job_changed();
        Ok(editor)
    }

    /// Goes on with a journal, and offers what is in it.
    pub(super) fn begin_journal(&mut self, mut journal: JournalWriter) {
        let job = Arc::clone(self.document.job());
        let entries = match journal.entries() {
            Ok(entries) => entries,
            Err(error) => return self.no_journal(&error),
        };
        match replay(&entries) {
            Some((history, start)) if **history.now() != *job => {
                self.document.recovery = Some(Recovery {
                    names: names(&history),
                    same_file: start == *job,
                });
                self.recovered = Some(history);
                self.journal.write_into(journal, None);
            }
            _ => self.journal.write_into(journal, Some(job)),
        }
    }

    pub(super) fn no_journal(&mut self, error: &formats::Error) {
        self.notice(
            Lane::Journal,
            format!("Changes are not kept safe until the job is saved: {error}."),
            error.hint().to_owned(),
        );
    }

    /// Takes the changes offered by [`crate::Document::recovery`]: they are steps of undo again.
    pub fn recover(&mut self) {
        if let Some(history) = self.recovered.take() {
            self.document.recovery = None;
            self.document.history = history;
            self.job_changed();
        }
    }

    /// What was offered and not taken is put aside, never lost, once the job goes another way.
    pub(super) fn settle_recovery(&mut self) {
        if self.document.recovery.take().is_some() {
            self.recovered = None;
            self.journal.aside(Arc::clone(self.document.job()));
        }
    }

    /// Leaves the changes offered by [`crate::Document::recovery`]. They stay in a file beside the job, named like its journal
    /// with ".before" behind it, until the next ones are left.
    pub fn leave_recovery(&mut self) {
        self.settle_recovery();
    }

    /// Saves the job under its own name, whole or not at all, with the ten versions before it kept.
    ///
    /// # Errors
    /// [`NotSaved::NoName`] for a job that has no file yet: use [`Editor::save_as`]; else with the path and a remedy.
    pub fn save(&mut self) -> Result<(), NotSaved> {
        match self.document.path.clone() {
            Some(path) => Ok(self.save_as(&path)?),
            None => Err(NotSaved::NoName),
        }
    }

    /// Saves the job under a name, which it then has. Paths of scans are written relative to it where they lie below.
    ///
    /// # Errors
    /// With the path and a remedy; the job keeps its former name then.
    pub fn save_as(&mut self, path: &Path) -> Result<(), formats::Error> {
        let path = std::path::absolute(path).unwrap_or_else(|_| path.to_owned());
        formats::write_job(
            &paths::from_folder(self.document.job(), path.parent()),
            &path,
        )?;
        let job = Arc::clone(self.document.job());
        self.document.saved = Arc::clone(&job);
        self.document.recovery = None;
        self.recovered = None;
        if self.document.path.as_ref() == Some(&path) {
            self.journal.begin(job);
            return Ok(());
        }
        self.journal.remove();
        match JournalWriter::take(&journal_path(&path)) {
            Ok(Some(journal)) => self.journal.write_into(journal, Some(job)),
            Ok(None) => self.notice(
                Lane::Journal,
                "Changes are not kept safe until the job is saved: it is open in another window."
                    .to_owned(),
                "Close the other window.".to_owned(),
            ),
            Err(error) => self.no_journal(&error),
        }
        self.document.path = Some(path);
        Ok(())
    }

    /// Closes without saving: nothing will be offered when the job is opened again. Without this, what was not saved is.
    pub fn close_unsaved(mut self) {
        self.document.saved = Arc::clone(self.document.job());
        self.leave = true;
    }
}

impl Drop for Editor {
    fn drop(&mut self) {
        // What was not saved, and what was offered and not decided on, stays for the next time.
        let nothing_new = self.document.is_saved() || self.document.undo_names().next().is_none();
        if self.leave || (nothing_new && self.document.recovery.is_none()) {
            self.journal.remove();
        }
        self.journal.close();
        self.read.close();
        self.measure.close();
        self.decide.close();
        self.chances.close();
        self.probe.close();
        self.find.close();
        self.cutting.wishes.close();
        self.holding.wishes.close();
        self.hand_over = None;
        self.keep = None;
        for thread in self.threads.drain(..) {
            // A lane catches its own panics; one that still died has nothing left to put away.
            let _ = thread.join();
        }
    }
}

/// A journal for a job without a file, under the first free number.
fn unsaved_journal(folder: &Path) -> Result<JournalWriter, formats::Error> {
    formats::make_folder(folder)?;
    let mut number = 1_u32;
    loop {
        let path = folder.join(format!("unsaved-{number}.journal"));
        if !path.exists()
            && let Some(journal) = JournalWriter::take(&path)?
        {
            return Ok(journal);
        }
        number += 1;
    }
}
