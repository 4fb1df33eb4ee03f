//! The open job with what is known of it: pure data, read by the window.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use record::{
    Finding, Job, LengthUnit, Prepared, ScanId, Scans, Sections, Severity, Study, UnitSource,
};

use crate::event::{Lane, Notice, Work};
use crate::history::History;
use crate::lanes::sections::SectionsKey;
use crate::lanes::two::{Two, TwoFound, TwoKey};
use crate::offer::{Offer, Remark};
use crate::recovery::Recovery;
use crate::tags::{Freshness, Subject, Tags};

/// How far a scan of the job is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ScanState {
    /// It waits or is being read.
    Waiting,
    /// It is in [`Document::scans`] as the job asks for it.
    Ready,
    /// What is in [`Document::scans`] is an earlier cut of it; the new one is being made.
    BeingCut,
    /// It could not be read.
    NotRead {
        /// What was wrong.
        says: String,
        /// What to do.
        hint: String,
    },
}

/// What the person is asked about the unit of a scan: "the scan is about so long".
#[derive(Clone, Debug, PartialEq)]
pub struct UnitQuestion {
    /// The unit the job takes until it is said.
    pub taken: LengthUnit,
    /// Why, in words.
    pub reason: String,
    /// How long the scan is at its largest in each unit, mm.
    pub longest_mm: Vec<(LengthUnit, f64)>,
}

/// A scan with the key of what it was made from.
#[derive(Clone, Debug)]
pub(crate) struct ScanHeld {
    pub key: String,
    pub prepared: Arc<Prepared>,
}

/// The open job: everything the window shows, without view state and preferences.
#[derive(Debug)]
pub struct Document {
    pub(crate) history: History,
    pub(crate) path: Option<PathBuf>,
    pub(crate) saved: Arc<Job>,
    pub(crate) held: BTreeMap<ScanId, ScanHeld>,
    pub(crate) scans: Scans,
    pub(crate) states: BTreeMap<ScanId, ScanState>,
    /// Why the unit of a file was guessed, by the hash of the file.
    pub(crate) unit_reasons: BTreeMap<String, String>,
    pub(crate) incoming: Vec<PathBuf>,
    pub(crate) coarse: BTreeMap<PathBuf, Arc<Prepared>>,
    pub(crate) study: Arc<Study>,
    pub(crate) study_tags: Tags,
    pub(crate) chances: bool,
    /// Sections by what they came from, the latest first.
    pub(crate) sections: Vec<(SectionsKey, Arc<Sections>)>,
    /// What sections of the job as it is come from; `None` while it is being measured.
    pub(crate) sections_now: Option<SectionsKey>,
    /// What came of two visits and of two cars, by what it came from, the latest first.
    pub(crate) two: Vec<(TwoKey, TwoFound)>,
    /// What measuring the job as it is comes from; `None` while it is being measured.
    pub(crate) two_basis: Option<formats::Key>,
    /// Whether the study is what came of the newest wish: also of what no figure hangs on, as a note.
    pub(crate) newest: bool,
    pub(crate) now: Tags,
    pub(crate) work: BTreeMap<Lane, Work>,
    pub(crate) notices: Vec<Notice>,
    pub(crate) recovery: Option<Recovery>,
    pub(crate) offers: Vec<Offer>,
    pub(crate) remarks: Vec<Remark>,
}

impl Document {
    pub(crate) fn new(job: Arc<Job>, path: Option<PathBuf>) -> Self {
        Self {
            history: History::new(Arc::clone(&job)),
            path,
            saved: job,
            held: BTreeMap::new(),
            scans: Scans::new(),
            states: BTreeMap::new(),
            unit_reasons: BTreeMap::new(),
            incoming: Vec::new(),
            coarse: BTreeMap::new(),
            study: Arc::new(Study::default()),
            study_tags: Tags::default(),
            chances: false,
            sections: Vec::new(),
            sections_now: None,
            two: Vec::new(),
            two_basis: None,
            newest: false,
            now: Tags::default(),
            work: BTreeMap::new(),
            notices: Vec::new(),
            recovery: None,
            offers: Vec::new(),
            remarks: Vec::new(),
        }
    }

    /// The job: everything typed or clicked. Paths of scans are full ones while it is open.
    pub fn job(&self) -> &Arc<Job> {
        self.history.now()
    }

    /// The job as it stands in its file: paths of scans as seen from there.
    pub fn as_written(&self) -> Job {
        crate::paths::from_folder(self.job(), self.path().and_then(Path::parent))
    }

    /// The job file; `None` before it was saved the first time.
    pub fn path(&self) -> Option<&Path> {
        self.path.as_deref()
    }

    /// Whether the job file holds the job as it is.
    pub fn is_saved(&self) -> bool {
        self.path.is_some() && *self.saved == **self.job()
    }

    /// The prepared scans, cut to what is used of them.
    pub fn scans(&self) -> &Scans {
        &self.scans
    }

    /// How far a scan of the job is.
    pub fn scan_state(&self, scan: &ScanId) -> ScanState {
        self.states.get(scan).cloned().unwrap_or(ScanState::Waiting)
    }

    /// Files that were brought in and are not scans of the job yet, in order.
    pub fn incoming(&self) -> &[PathBuf] {
        &self.incoming
    }

    /// The first, thinned cloud of a file that is still being put in order, by its full path.
    pub fn coarse(&self, file: &Path) -> Option<&Arc<Prepared>> {
        self.coarse.get(file)
    }

    /// The question about the unit of a scan that nobody stated or checked; `None` where there is none or the scan is not
    /// there yet. The size is that of the whole file as it was read, or of what is used of it.
    pub fn unit_question(&self, scan: &ScanId) -> Option<UnitQuestion> {
        let said = self.job().scans.iter().find(|s| s.id == *scan)?;
        if said.unit_source != UnitSource::Guessed {
            return None;
        }
        let bounds = self.scans.get(scan)?.blocks.bounds();
        let in_file = bounds.size() / said.unit.in_mm();
        let known = said.hash.as_ref().and_then(|h| self.unit_reasons.get(h));
        let reason = known.cloned().unwrap_or_else(|| {
            format!("taken as {} when the file was brought in", said.unit.word())
        });
        let longest = in_file.amax();
        Some(UnitQuestion {
            taken: said.unit,
            reason,
            longest_mm: LengthUnit::ALL
                .into_iter()
                .map(|u| (u, longest * u.in_mm()))
                .collect(),
        })
    }

    /// The study on show. Figures of it that wait for new ones are told by [`Document::freshness`].
    pub fn study(&self) -> &Arc<Study> {
        &self.study
    }

    /// The sections on show: those of the job as it is if they are there, else the latest that were cut.
    pub fn sections(&self) -> Option<&Arc<Sections>> {
        let now = self.sections_now.as_ref();
        let fresh = self.sections.iter().find(|(k, _)| now == Some(k));
        fresh.or(self.sections.first()).map(|(_, s)| s)
    }

    /// Whether [`Document::sections`] are those of the job as it is.
    pub fn sections_are_fresh(&self) -> bool {
        let now = self.sections_now.as_ref();
        self.newest && self.sections.iter().any(|(k, _)| now == Some(k))
    }

    /// What came of two visits or two cars held against each other, and whether that is of the job as it is; else it is the
    /// latest that was worked out.
    pub fn two(&self, of: &Two) -> Option<(&TwoFound, bool)> {
        let job = self.job();
        let basis = self.two_basis.filter(|_| self.newest);
        let now = basis.map(|measured| TwoKey::of(job, of, measured));
        let mut all = self.two.iter();
        let fresh = all.find(|(k, _)| now.as_ref() == Some(k));
        let latest = || self.two.iter().find(|(k, _)| k.of == *of);
        fresh
            .map(|(_, found)| (found, true))
            .or_else(|| latest().map(|(_, found)| (found, false)))
    }

    /// Whether the chances in the study are drawn for all comparisons.
    pub fn chances_are_drawn(&self) -> bool {
        self.chances
    }

    /// Whether what the study says about a subject is what the job says now.
    pub fn freshness(&self, subject: &Subject) -> Freshness {
        self.study_tags.freshness(&self.now, subject)
    }

    /// Whether the study on show is that of the job as it is, measured and decided, every figure fresh and nothing missing.
    /// Chances may still be drawn.
    pub fn is_fresh(&self) -> bool {
        self.newest
            && self
                .now
                .subjects()
                .all(|s| self.freshness(s) == Freshness::Fresh)
            && self.incoming.is_empty()
            && self.job().scans.iter().all(|s| {
                matches!(
                    self.states.get(&s.id),
                    Some(ScanState::Ready | ScanState::NotRead { .. })
                )
            })
    }

    /// What is being worked at, one entry a lane.
    pub fn work(&self) -> impl Iterator<Item = &Work> {
        self.work.values()
    }

    /// Notices that were not put away, oldest first.
    pub fn notices(&self) -> &[Notice] {
        &self.notices
    }

    /// Picks that wait to be kept or skipped, oldest first: [`crate::Editor::keep_offer`], [`crate::Editor::skip_offer`].
    /// Openings proposed by the search are in the job instead, with their sureness set.
    pub fn offers(&self) -> &[Offer] {
        &self.offers
    }

    /// What the last search for openings had to say.
    pub fn remarks(&self) -> &[Remark] {
        &self.remarks
    }

    /// Changes that were made and never saved, as after a crash: [`crate::Editor::recover`] takes them,
    /// [`crate::Editor::leave_recovery`] leaves them.
    pub fn recovery(&self) -> Option<&Recovery> {
        self.recovery.as_ref()
    }

    /// Names of the steps that can be taken back, the next first.
    pub fn undo_names(&self) -> impl Iterator<Item = &str> {
        self.history.undo_names()
    }

    /// Names of the steps that can be done again, the next first.
    pub fn redo_names(&self) -> impl Iterator<Item = &str> {
        self.history.redo_names()
    }

    /// Every finding of the study that weighs at least `least`, the gravest first, each once.
    pub fn findings(&self, least: Severity) -> Vec<&Finding> {
        let m = &self.study.measured;
        let of_openings = m.openings.iter().flat_map(|o| {
            o.findings
                .iter()
                .chain(o.faces.iter().flat_map(|f| &f.findings))
                .chain(o.junctions.iter().flat_map(|j| &j.findings))
                .chain(o.holes.iter().flat_map(|h| &h.findings))
        });
        let mut all: Vec<&Finding> = Vec::new();
        for f in m
            .findings
            .iter()
            .chain(of_openings)
            .chain(m.compares.iter().flat_map(|c| &c.findings))
            .chain(self.study.decided.compares.iter().flat_map(|c| &c.findings))
            .chain(self.study.drawings.iter().flat_map(|d| &d.findings))
        {
            if f.severity >= least && !all.contains(&f) {
                all.push(f);
            }
        }
        all.sort_by_key(|f| std::cmp::Reverse(f.severity));
        all
    }
}
