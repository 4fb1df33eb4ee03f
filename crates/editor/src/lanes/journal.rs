//! The journal lane: every committed command goes to disk at once, a gesture only as far as it has come.

use std::sync::Arc;
use std::sync::mpsc::{Receiver, Sender, channel};
use std::thread::JoinHandle;

use formats::{JournalEntry, JournalKind, JournalWriter};
use record::Job;

use super::{Teller, Told};
use crate::event::Lane;

/// What is to be written.
enum Wish {
    /// From now on into this journal; with the job to begin it with, unless what is in it stays.
    Into(Box<JournalWriter>, Option<Arc<Job>>),
    /// What is in the journal is put aside, and it begins anew.
    Aside(Arc<Job>),
    /// The journal begins anew: the job was saved or opened like this.
    Begin(Arc<Job>),
    /// Something was done.
    Entry(JournalKind, String, Arc<Job>),
    /// Nothing is left to be told: the journal goes.
    Remove,
}

/// The door to the lane.
pub(crate) struct JournalLane {
    to: Option<Sender<Wish>>,
    thread: Option<JoinHandle<()>>,
}

impl JournalLane {
    pub fn start(teller: Teller) -> Self {
        let (to, from) = channel();
        let thread = std::thread::spawn(move || run(&from, &teller));
        Self {
            to: Some(to),
            thread: Some(thread),
        }
    }

    fn send(&self, wish: Wish) {
        if let Some(to) = &self.to {
            // The lane ends only after this door is shut.
            let _ = to.send(wish);
        }
    }

    pub fn write_into(&self, journal: JournalWriter, begin: Option<Arc<Job>>) {
        self.send(Wish::Into(Box::new(journal), begin));
    }

    pub fn aside(&self, job: Arc<Job>) {
        self.send(Wish::Aside(job));
    }

    pub fn begin(&self, job: Arc<Job>) {
        self.send(Wish::Begin(job));
    }

    pub fn entry(&self, kind: JournalKind, name: String, job: Arc<Job>) {
        self.send(Wish::Entry(kind, name, job));
    }

    pub fn remove(&self) {
        self.send(Wish::Remove);
    }

    /// Waits until everything is on disk.
    pub fn close(&mut self) {
        self.to = None;
        if let Some(thread) = self.thread.take() {
            // It catches its own panics.
            let _ = thread.join();
        }
    }
}

struct Writing {
    journal: Option<JournalWriter>,
    /// A write failed: the next one begins the journal anew, so that nothing is missing in its middle.
    broken: bool,
}

fn run(from: &Receiver<Wish>, teller: &Teller) {
    let mut lane = Writing {
        journal: None,
        broken: false,
    };
    while let Ok(first) = from.recv() {
        let mut wishes = vec![first];
        wishes.extend(from.try_iter());
        let done = teller.guarded(Lane::Journal, || lane.carry_out(wishes));
        match done {
            Some(Ok(())) => {}
            Some(Err(error)) => {
                // Told once, until it works again.
                if !std::mem::replace(&mut lane.broken, true) {
                    teller.tell(Told::JournalFailed {
                        says: error.to_string(),
                        hint: error.hint().to_owned(),
                    });
                }
            }
            None => lane.broken = true,
        }
    }
}

impl Writing {
    fn carry_out(&mut self, wishes: Vec<Wish>) -> Result<(), formats::Error> {
        let mut entries: Vec<JournalEntry> = Vec::new();
        for wish in wishes {
            match wish {
                Wish::Entry(kind, name, job) => {
                    if kind == JournalKind::Joined
                        && let Some(last) = entries.last_mut()
                        && matches!(last.kind, JournalKind::Step | JournalKind::Joined)
                    {
                        // Only how far a gesture has come is worth the disk.
                        (last.name, last.job) = (name, Job::clone(&job));
                    } else {
                        entries.push(JournalEntry {
                            kind,
                            name,
                            job: Job::clone(&job),
                        });
                    }
                }
                other => {
                    self.write(&std::mem::take(&mut entries))?;
                    self.turn(other)?;
                }
            }
        }
        self.write(&entries)
    }

    fn turn(&mut self, wish: Wish) -> Result<(), formats::Error> {
        match wish {
            Wish::Into(journal, begin) => {
                let journal = self.journal.insert(*journal);
                if let Some(job) = begin {
                    journal.begin(&job)?;
                    self.broken = false;
                }
            }
            Wish::Aside(job) => {
                if let Some(journal) = &mut self.journal {
                    journal.set_aside()?;
                    journal.begin(&job)?;
                    self.broken = false;
                }
            }
            Wish::Begin(job) => {
                if let Some(journal) = &mut self.journal {
                    journal.begin(&job)?;
                    self.broken = false;
                }
            }
            Wish::Remove => {
                if let Some(journal) = self.journal.take() {
                    let path = journal.path().to_owned();
                    drop(journal);
                    // A journal that stays behind holds nothing that is not saved.
                    let _ = std::fs::remove_file(path);
                }
            }
            Wish::Entry(..) => {}
        }
        Ok(())
    }

    fn write(&mut self, entries: &[JournalEntry]) -> Result<(), formats::Error> {
        let (Some(journal), Some(last)) = (&mut self.journal, entries.last()) else {
            return Ok(());
        };
        if self.broken {
            journal.begin(&last.job)?;
            self.broken = false;
            return Ok(());
        }
        journal.append(entries)
    }
}
