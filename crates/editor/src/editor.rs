//! The open job and the lanes that work for it.

mod bring_in;
mod brought;
mod by_hand;
mod faces;
mod figures;
mod joins;
mod open_save;
mod pairing;
mod places;
mod proposals;
mod sections;
mod two;

use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Mutex};
use std::thread::JoinHandle;

use formats::{JournalKind, Key};
use record::{Job, Measured, ScanId};

pub use brought::BroughtIn;
pub use joins::{TypedLength, TypedStart};
pub use open_save::{NotOpened, NotSaved};
pub use places::TypedPlace;

use crate::apply::apply;
use crate::command::Command;
use crate::document::Document;
use crate::event::{Event, Lane, Notice};
use crate::history::{History, Stepped};
use crate::lanes::decide::{DecideWish, Decisions};
use crate::lanes::find::FindWish;
use crate::lanes::hand_over::HandOverWish;
use crate::lanes::journal::JournalLane;
use crate::lanes::keep::KeepWish;
use crate::lanes::measure::MeasureWish;
use crate::lanes::probe::{ProbeAt, ProbeWish};
use crate::lanes::read::ReadLane;
use crate::lanes::{
    Mailbox, Teller, Told, Wake, chances, decide, find, hand_over, keep, measure, probe,
    sections as sections_lane, two as two_lane,
};
use crate::refused::Refused;
use crate::tags::Tags;
use sections::Cutting;
use two::Holding;

/// Draws per chance unless said otherwise: a chance of 95 % is then known to about 1 %.
pub const DRAWS: u32 = 2000;

/// How an editor works.
pub struct Settings {
    /// Draws per chance; 0: no chances.
    pub draws: u32,
    /// Folder for the journals of jobs that have no file yet; `None`: such jobs are not kept safe.
    pub unsaved_folder: Option<PathBuf>,
    /// Called from any thread when there is something to drain, so that the window can be painted anew.
    pub wake: Box<dyn Fn() + Send + Sync>,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            draws: DRAWS,
            unsaved_folder: None,
            wake: Box::new(|| {}),
        }
    }
}

/// What was measured last.
struct Basis {
    measured: Arc<Measured>,
    serial: u64,
    tags: Tags,
}

/// An open job. Commands go in, events come out; nothing here waits for a lane.
pub struct Editor {
    document: Document,
    draws: u32,
    inbox: Receiver<Told>,
    read: ReadLane,
    measure: Arc<Mailbox<MeasureWish>>,
    decide: Arc<Mailbox<DecideWish>>,
    chances: Arc<Mailbox<DecideWish>>,
    probe: Arc<Mailbox<ProbeWish>>,
    probes: u64,
    find: Arc<Mailbox<FindWish>>,
    cutting: Cutting,
    holding: Holding,
    offers: u64,
    hand_over: Option<Sender<HandOverWish>>,
    keep: Option<Sender<KeepWish>>,
    journal: JournalLane,
    /// The steps behind [`Document::recovery`].
    recovered: Option<History>,
    /// Closed on purpose without saving.
    leave: bool,
    threads: Vec<JoinHandle<()>>,
    events: Vec<Event>,
    basis: Option<Basis>,
    /// What was sent to be measured last.
    asked: Option<Key>,
    /// An answer lies beside the job and was not asked for yet.
    expects_kept: bool,
    /// The answer shown that was looked at last, whether it is to be kept.
    kept: u64,
    serial: u64,
    number: u64,
    shown: u64,
    notices: u64,
}

impl Editor {
    fn start(job: Arc<Job>, path: Option<PathBuf>, settings: Settings) -> Self {
        let (to, inbox) = channel();
        let wake: Wake = Arc::from(settings.wake);
        let teller = Teller { to, wake };
        let measure = Mailbox::new();
        let decide = Mailbox::new();
        let chances = Mailbox::new();
        let probe = Mailbox::new();
        let find = Mailbox::new();
        let cutting = Cutting::new();
        let holding = Holding::new();
        let (hand_over, to_hand_over) = channel();
        let (keep, to_keep) = channel();
        let shared = Arc::new(Mutex::new(Decisions::default()));
        // Deciding has threads of its own, so that it answers while a scan is being read or measured.
        let pool = rayon::ThreadPoolBuilder::new().build().ok().map(Arc::new);
        let journal = JournalLane::start(teller.clone());
        let (read, reader) = ReadLane::start(teller.clone());
        let threads = vec![
            reader,
            measure::start(Arc::clone(&measure), Arc::clone(&shared), teller.clone()),
            decide::start(
                Arc::clone(&decide),
                Arc::clone(&chances),
                Arc::clone(&shared),
                teller.clone(),
                pool.clone(),
            ),
            chances::start(Arc::clone(&chances), shared, teller.clone(), None),
            probe::start(Arc::clone(&probe), teller.clone(), pool),
            find::start(Arc::clone(&find), teller.clone()),
            sections_lane::start(Arc::clone(&cutting.wishes), teller.clone()),
            two_lane::start(Arc::clone(&holding.wishes), teller.clone()),
            hand_over::start(to_hand_over, teller.clone()),
            keep::start(to_keep, teller),
        ];
        Self {
            document: Document::new(job, path),
            draws: settings.draws,
            inbox,
            read,
            measure,
            decide,
            chances,
            probe,
            probes: 0,
            find,
            cutting,
            holding,
            offers: 0,
            hand_over: Some(hand_over),
            keep: Some(keep),
            journal,
            recovered: None,
            leave: false,
            threads,
            events: Vec::new(),
            basis: None,
            asked: None,
            expects_kept: false,
            kept: 0,
            serial: 0,
            number: 0,
            shown: 0,
            notices: 0,
        }
    }

    /// The open job with what is known of it.
    pub fn document(&self) -> &Document {
        &self.document
    }

    /// Carries out a command as one step of undo.
    ///
    /// # Errors
    /// If the job does not allow it; the job is then as it was.
    pub fn apply(&mut self, command: &Command) -> Result<(), Refused> {
        self.commit(command, None)
    }

    /// Carries out a command as a part of a gesture: while a thing is dragged or a field typed in, all commands for the
    /// same thing are one step of undo. [`Editor::settle`] ends the gesture, and so does any other command.
    ///
    /// # Errors
    /// As [`Editor::apply`].
    pub fn apply_live(&mut self, command: &Command) -> Result<(), Refused> {
        self.commit(command, Some(crate::gesture::key(command)))
    }

    /// Ends a gesture of [`Editor::apply_live`].
    pub fn settle(&mut self) {
        self.document.history.settle();
    }

    fn commit(&mut self, command: &Command, gesture: Option<String>) -> Result<(), Refused> {
        let before = Arc::clone(self.document.job());
        let after = apply(&before, command)?;
        let name = command.name(&before);
        self.settle_recovery();
        let kind = match self.document.history.step(name.clone(), after, gesture) {
            Stepped::Nothing => return Ok(()),
            Stepped::New => JournalKind::Step,
            Stepped::Joined => JournalKind::Joined,
        };
        self.note(kind, name);
        self.job_changed();
        Ok(())
    }

    /// Puts the job as it is into the journal.
    fn note(&self, kind: JournalKind, name: String) {
        self.journal
            .entry(kind, name, Arc::clone(self.document.job()));
    }

    /// Takes the last step back; its name.
    ///
    /// # Errors
    /// [`Refused::NothingToUndo`].
    pub fn undo(&mut self) -> Result<String, Refused> {
        let name = self.document.history.undo().ok_or(Refused::NothingToUndo)?;
        self.note(JournalKind::Undo, name.clone());
        self.job_changed();
        Ok(name)
    }

    /// Does the step last taken back again; its name.
    ///
    /// # Errors
    /// [`Refused::NothingToRedo`].
    pub fn redo(&mut self) -> Result<String, Refused> {
        let name = self.document.history.redo().ok_or(Refused::NothingToRedo)?;
        self.note(JournalKind::Redo, name.clone());
        self.job_changed();
        Ok(name)
    }

    /// Looks at a place of a scan, beside everything else; the answer comes as [`Event::Probed`] with the number given
    /// here. While one look is under way only the newest further wish is kept. `None`: the scan is not there yet.
    pub fn probe(&mut self, scan: &ScanId, at: ProbeAt) -> Option<u64> {
        let prepared = Arc::clone(self.document.scans.get(scan)?);
        let job = self.document.job();
        let visit = job.scans.iter().find(|s| s.id == *scan).map(|s| &s.visit);
        let noise = self
            .document
            .study
            .measured
            .noise
            .iter()
            .find(|n| Some(&n.visit) == visit)
            .map(|n| n.model.clone());
        self.probes += 1;
        self.probe.put(ProbeWish {
            number: self.probes,
            scan: scan.clone(),
            prepared,
            at,
            noise,
        });
        Some(self.probes)
    }

    /// Writes the files to hand over into a folder, in the background, from the study on show; ends with
    /// [`Event::HandedOver`] or a notice. `figures` is what is said in them, by name: it is kept in the folder, so that the
    /// next time what has changed since can be told.
    ///
    /// # Errors
    /// While figures or chances are still being worked out: nothing stale is handed over.
    pub fn hand_over(
        &mut self,
        folder: &Path,
        figures: Vec<(String, String)>,
    ) -> Result<(), Refused> {
        if !self.document.is_fresh() || !self.document.chances {
            return Err(Refused::NotMeasured {
                says: "Figures are still being worked out".to_owned(),
                hint: "Wait until none of them is grey.".to_owned(),
            });
        }
        let wish = HandOverWish {
            study: Arc::clone(&self.document.study),
            folder: folder.to_owned(),
            figures,
        };
        if let Some(to) = &self.hand_over {
            // The lane ends only after this door is shut.
            let _ = to.send(wish);
        }
        Ok(())
    }

    /// Puts a notice away.
    pub fn put_away(&mut self, notice: u64) {
        self.document.notices.retain(|n| n.number != notice);
    }

    /// What happened since the last call, oldest first. The document is up to date with all of it.
    pub fn drain(&mut self) -> impl Iterator<Item = Event> + use<> {
        while let Ok(told) = self.inbox.try_recv() {
            self.hear(told);
            self.mark_newest();
        }
        self.keep_answer();
        std::mem::take(&mut self.events).into_iter()
    }

    fn hear(&mut self, told: Told) {
        match told {
            Told::Working(work) => {
                self.document.work.insert(work.lane, work.clone());
                self.events.push(Event::Working(work));
            }
            Told::Rests(lane) => {
                self.document.work.remove(&lane);
                self.events.push(Event::Rests(lane));
            }
            Told::Coarse { path, cloud } => {
                self.document.coarse.insert(path.clone(), cloud);
                self.events.push(Event::Coarse(path));
            }
            Told::BroughtIn { path, facts } => self.brought_in(&path, facts),
            Told::Scan { scan, key, read } => self.scan_came(&scan, key, read),
            Told::Measured {
                measured,
                serial,
                tags,
            } => {
                self.basis = Some(Basis {
                    measured,
                    serial,
                    tags,
                });
                self.wish_decision();
                self.wish_sections();
                self.wish_two();
            }
            Told::Study {
                study,
                tags,
                number,
                chances,
            } => {
                if number >= self.shown {
                    self.shown = number;
                    self.document.study = study;
                    self.document.study_tags = tags;
                    self.document.chances = chances;
                    self.events.push(Event::Study { chances });
                }
            }
            Told::JournalFailed { says, hint } => self.notice(
                Lane::Journal,
                format!("Changes are not kept safe: {says}."),
                hint,
            ),
            Told::HandedOver(done) => self.events.push(Event::HandedOver(done)),
            Told::NotHandedOver { says, hint } => self.notice(
                Lane::HandOver,
                format!("Nothing more was handed over: {says}."),
                hint,
            ),
            Told::Found(found) => self.found(found),
            Told::Sections { key, sections } => self.sections_came(*key, sections),
            Told::Two { key, found } => self.two_came(*key, found),
            Told::Probed(answer) => self.events.push(Event::Probed(answer)),
            Told::Panicked { lane, says } => {
                self.document.work.remove(&lane);
                if lane == Lane::Sections {
                    self.cutting.broke();
                }
                if lane == Lane::Two {
                    self.holding.broke();
                }
                if lane == Lane::Measure {
                    // The next change asks anew.
                    self.asked = None;
                }
                let again = match lane {
                    Lane::Sections | Lane::Two => "Have it worked out again on its page",
                    _ => "Change something about it to have it tried again",
                };
                self.notice(
                    lane,
                    format!("A fault stopped this work: {says}."),
                    format!("The job is as it was. {again}; save a copy and report the fault."),
                );
            }
        }
    }

    fn notice(&mut self, lane: Lane, says: String, advice: String) {
        self.notices += 1;
        let notice = Notice {
            number: self.notices,
            lane,
            says,
            advice,
        };
        self.document.notices.push(notice.clone());
        self.events.push(Event::Notice(notice));
    }
}
