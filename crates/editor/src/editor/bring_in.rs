//! Files become scans of the job.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use record::{BodyState, Job, Prepared, ScanId, ScanRef, Side, UnitSource, Visit};

use super::{Editor, NotSaved};
use crate::command::Command;
use crate::document::{ScanHeld, ScanState};
use crate::event::{Event, Lane};
use crate::lanes::read::scan_key;
use crate::lanes::{FileFacts, Unread};

/// The visit of a job that has none yet.
pub(super) const FIRST_VISIT: &str = "first visit";

impl Editor {
    /// Brings files in: each is read in the background and becomes a scan of the job by itself, its unit as it states
    /// or as its size suggests (then "not checked", until a person says). A table of readings by hand is taken in at once, with
    /// an opening of its own. A file that cannot be read becomes a notice.
    pub fn bring_in(&mut self, files: impl IntoIterator<Item = PathBuf>) {
        for f in files {
            let full = std::path::absolute(&f).unwrap_or(f);
            if formats::is_hand_table(&full) {
                match self.bring_in_by_hand(&full) {
                    Ok(id) => self.events.push(Event::BroughtIn(id)),
                    Err(refused) => {
                        let hint = refused.hint().to_owned();
                        self.notice(Lane::Read, refused.says(), hint);
                    }
                }
                continue;
            }
            if !self.document.incoming.contains(&full) {
                self.document.incoming.push(full);
            }
        }
        self.wish_reads();
    }

    /// Brings in a pasted table of points: it is written beside the job file under a name of its own and read from there,
    /// so that it stays with the job. Its path.
    ///
    /// # Errors
    /// [`NotSaved::NoName`] as long as the job has no file to put it beside; else if it cannot be written.
    pub fn paste(&mut self, table: &str) -> Result<PathBuf, NotSaved> {
        let folder = self.document.path().and_then(Path::parent);
        let folder = folder.ok_or(NotSaved::NoName)?;
        let mut number = 1_u32;
        let mut path = folder.join("pasted-1.csv");
        while path.exists() {
            number += 1;
            path = folder.join(format!("pasted-{number}.csv"));
        }
        formats::atomic_write(&path, table.as_bytes())?;
        self.bring_in([path.clone()]);
        Ok(path)
    }

    /// Calls off reading a file that was brought in.
    pub fn call_off(&mut self, file: &Path) {
        self.document.incoming.retain(|f| f != file);
        self.document.coarse.remove(file);
        self.wish_reads();
    }

    pub(super) fn brought_in(&mut self, path: &Path, facts: Result<FileFacts, Unread>) {
        if !self.document.incoming.iter().any(|f| f == path) {
            return;
        }
        self.document.incoming.retain(|f| f != path);
        match facts {
            Ok(facts) => {
                if let Some(reason) = &facts.reason {
                    let reasons = &mut self.document.unit_reasons;
                    reasons.insert(facts.hash.clone(), reason.clone());
                }
                let scan = self.new_scan(path, facts);
                let id = scan.id.clone();
                match self.commit(&with_visit(self.document.job(), scan), None) {
                    Ok(()) => self.events.push(Event::BroughtIn(id)),
                    Err(refused) => {
                        let hint = refused.hint().to_owned();
                        self.notice(Lane::Read, refused.says(), hint);
                    }
                }
            }
            Err(unread) => {
                self.document.coarse.remove(path);
                self.notice(Lane::Read, unread.says, unread.hint);
                self.events.push(Event::NotRead(path.to_owned()));
                self.wish_reads();
            }
        }
    }

    /// The scan a file becomes: named by the file, in the last visit.
    pub(super) fn new_scan(&self, path: &Path, facts: FileFacts) -> ScanRef {
        let job = self.document.job();
        let stem = path
            .file_stem()
            .map_or_else(|| "scan".to_owned(), |s| s.to_string_lossy().into_owned());
        let taken = |id: &str| job.scans.iter().any(|s| s.id.0 == id);
        // One more name than there are scans: one of them is free.
        let id = (1..=job.scans.len() + 1)
            .map(|n| {
                if n == 1 {
                    stem.clone()
                } else {
                    format!("{stem}-{n}")
                }
            })
            .find(|id| !taken(id))
            .unwrap_or(stem);
        let visit = job
            .visits
            .last()
            .map_or_else(|| FIRST_VISIT.into(), |v| v.id.clone());
        ScanRef {
            id: ScanId(id),
            visit,
            path: path.to_owned(),
            hash: Some(facts.hash),
            unit: facts.unit,
            unit_source: if facts.stated {
                UnitSource::Stated
            } else {
                UnitSource::Guessed
            },
            side: Side::NotSaid,
            keep: Vec::new(),
            aside: Vec::new(),
            largest_piece_only: false,
            note: String::new(),
        }
    }

    pub(super) fn scan_came(
        &mut self,
        id: &ScanId,
        key: String,
        read: Result<Arc<Prepared>, Unread>,
    ) {
        let Some(scan) = self.document.job().scans.iter().find(|s| s.id == *id) else {
            return;
        };
        let path = scan.path.clone();
        match read {
            Ok(prepared) => {
                let wanted = scan_key(scan, &prepared.hash);
                let state = if wanted == key {
                    ScanState::Ready
                } else {
                    ScanState::BeingCut
                };
                self.document.coarse.remove(&path);
                self.document
                    .scans
                    .insert(id.clone(), Arc::clone(&prepared));
                self.document
                    .held
                    .insert(id.clone(), ScanHeld { key, prepared });
                self.document.states.insert(id.clone(), state);
                self.events.push(Event::ScanReady(id.clone()));
            }
            Err(unread) => {
                self.document.coarse.remove(&path);
                self.document.scans.remove(id);
                self.document.held.remove(id);
                self.document.states.insert(
                    id.clone(),
                    ScanState::NotRead {
                        says: unread.says.clone(),
                        hint: unread.hint.clone(),
                    },
                );
                self.notice(Lane::Read, unread.says, unread.hint);
                self.events.push(Event::NotRead(path));
            }
        }
        self.figures_wanted();
    }
}

/// Adds a scan, and its visit if the job has none.
fn with_visit(job: &Job, scan: ScanRef) -> Command {
    let name = format!("bring in {}", scan.id);
    let add = Command::AddScan(Box::new(scan));
    if !job.visits.is_empty() {
        return add;
    }
    let visit = first_visit();
    Command::Several {
        name,
        commands: vec![Command::AddVisit(Box::new(visit)), add],
    }
}

/// The visit of a job that has none yet: nothing of it is noted.
pub(super) fn first_visit() -> Visit {
    Visit {
        id: FIRST_VISIT.into(),
        car: String::new(),
        date: String::new(),
        operator: String::new(),
        instrument: String::new(),
        flatness_mm: 0.05,
        state: BodyState::default(),
        note: String::new(),
    }
}
