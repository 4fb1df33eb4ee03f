//! What a changed job asks of the lanes: only what hangs on the change.

use std::collections::BTreeMap;
use std::sync::Arc;

use record::{Code, Finding, OpeningId, ScanId, ScanRef, Severity, Side, UnitSource};

use super::Editor;
use crate::command::Command;
use crate::document::ScanState;
use crate::event::Event;
use crate::lanes::decide::DecideWish;
use crate::lanes::keep::KeepWish;
use crate::lanes::measure::MeasureWish;
use crate::lanes::read::{ReadWish, ScanWish, scan_key};
use crate::tags::{Tags, measure_key};

impl Editor {
    /// The job is another one now: everything that hangs on it is asked for anew, and only what changed.
    pub(super) fn job_changed(&mut self) {
        let job = Arc::clone(self.document.job());
        let known = |id: &ScanId| job.scans.iter().find(|s| s.id == *id);
        self.document.scans.retain(|id, _| known(id).is_some());
        self.document.held.retain(|id, _| known(id).is_some());
        self.document.states.retain(|id, _| known(id).is_some());
        for (id, held) in &self.document.held {
            let fits = known(id).is_some_and(|s| scan_key(s, &held.prepared.hash) == held.key);
            let state = if fits {
                ScanState::Ready
            } else {
                ScanState::BeingCut
            };
            self.document.states.insert(id.clone(), state);
        }
        let here = |id: &OpeningId| job.openings.iter().any(|o| o.id == *id);
        self.document.offers.retain(|o| match &o.command {
            Command::Opening { opening, .. } => here(opening),
            _ => true,
        });
        self.events.push(Event::JobChanged);
        self.wish_reads();
        self.figures_wanted();
    }

    pub(super) fn wish_reads(&mut self) {
        let scans = self
            .document
            .job()
            .scans
            .iter()
            .map(|s| ScanWish {
                hash: s.hash.clone(),
                asked: 0,
                // Only what reading hangs on, so that other words about a scan do not call it off.
                scan: ScanRef {
                    note: String::new(),
                    side: Side::NotSaid,
                    unit_source: UnitSource::Stated,
                    hash: None,
                    visit: "".into(),
                    ..s.clone()
                },
            })
            .collect();
        self.read.wish(ReadWish {
            scans,
            incoming: self.document.incoming.clone(),
            kept: self.document.path().map(formats::kept_folder),
        });
    }

    /// Asks for what the job wants measured and decided, if that is not on its way already.
    pub(super) fn figures_wanted(&mut self) {
        let job = Arc::clone(self.document.job());
        let keys: BTreeMap<ScanId, String> = self
            .document
            .held
            .iter()
            .map(|(id, h)| (id.clone(), h.key.clone()))
            .collect();
        // What the job asks for: a scan that is being cut anew has another key than the one at hand.
        let wanted: BTreeMap<ScanId, String> = job
            .scans
            .iter()
            .filter_map(|s| {
                let held = self.document.held.get(&s.id)?;
                Some((s.id.clone(), scan_key(s, &held.prepared.hash)))
            })
            .collect();
        self.document.now = Tags::of(&job, &wanted);
        let key = measure_key(&job, &keys);
        // Of a job of which no scan is there yet nothing can be said.
        let coming = job
            .scans
            .iter()
            .any(|s| self.document.scan_state(&s.id) == ScanState::Waiting);
        // Where an answer is kept, nothing is measured of some of the scans before it is known whether it counts.
        let waits = coming && (keys.is_empty() || self.expects_kept);
        if self.asked != Some(key) && keys == wanted && !waits {
            self.asked = Some(key);
            self.serial += 1;
            let kept = std::mem::take(&mut self.expects_kept)
                .then(|| self.document.path().map(formats::kept_folder))
                .flatten();
            self.measure.put(MeasureWish {
                tags: Tags::of(&job, &keys),
                job,
                scans: self.document.scans.clone(),
                serial: self.serial,
                kept: kept.map(|folder| (formats::kept_figures_path(&folder), key)),
            });
        }
        self.wish_decision();
        self.wish_sections();
        self.wish_two();
        self.mark_newest();
    }

    /// Keeps the answer of the saved job beside it once all of it is there.
    pub(super) fn keep_answer(&mut self) {
        let d = &self.document;
        if self.kept == self.shown || !d.chances || !d.is_saved() || !d.is_fresh() {
            return;
        }
        self.kept = self.shown;
        let (Some(to), Some(basis), Some(path), Some(key)) =
            (&self.keep, &self.basis, d.path(), self.asked)
        else {
            return;
        };
        // The lane ends only after this door is shut.
        let _ = to.send(KeepWish {
            folder: formats::kept_folder(path),
            key,
            job: Arc::clone(d.job()),
            measured: Arc::clone(&basis.measured),
            study: Arc::clone(&d.study),
            draws: self.draws,
        });
    }

    /// Notes whether what is on show came of the newest wishes.
    pub(super) fn mark_newest(&mut self) {
        let measured = self.basis.as_ref().map(|b| b.serial);
        self.document.newest = self.shown == self.number && measured == Some(self.serial);
    }

    pub(super) fn wish_decision(&mut self) {
        let Some(basis) = &self.basis else {
            return;
        };
        self.number += 1;
        let wish = DecideWish {
            job: Arc::new(self.document.as_written()),
            scans: self.document.scans.clone(),
            measured: Arc::clone(&basis.measured),
            serial: basis.serial,
            tags: basis.tags.with_decided_of(&self.document.now),
            findings: self.reading_findings(),
            draws: self.draws,
            number: self.number,
        };
        self.decide.put(wish);
    }

    /// What is to be said of scans that were not read, or whose file is another one now.
    pub(super) fn reading_findings(&self) -> Vec<Finding> {
        let job = self.document.as_written();
        job.scans
            .iter()
            .filter_map(|s| {
                if let ScanState::NotRead { says, hint } = self.document.states.get(&s.id)? {
                    Some(Finding {
                        code: Code::ScanNotRead,
                        severity: Severity::Stop,
                        subject: s.id.0.clone(),
                        says: format!("scan {} was not read: {says}", s.id),
                        advice: hint.clone(),
                        numbers: Vec::new(),
                    })
                } else {
                    let held = self.document.held.get(&s.id)?;
                    let hash = s.hash.as_ref()?;
                    (*hash != held.prepared.hash).then(|| Finding {
                        code: Code::ScanChanged,
                        severity: Severity::Doubt,
                        subject: s.id.0.clone(),
                        says: format!(
                            "{} is not the file the picks of scan {} were made in",
                            s.path.display(),
                            s.id
                        ),
                        advice: "look at the picks again, or bring the former file back".to_owned(),
                        numbers: Vec::new(),
                    })
                }
            })
            .collect()
    }
}
