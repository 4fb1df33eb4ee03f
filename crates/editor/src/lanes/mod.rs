//! Work beside the window: each lane is a thread with a mailbox in which the newest wish replaces the one before.

pub(crate) mod chances;
pub(crate) mod decide;
pub(crate) mod find;
pub(crate) mod hand_over;
pub(crate) mod journal;
pub(crate) mod keep;
pub(crate) mod measure;
mod newest;
pub(crate) mod probe;
pub(crate) mod progress;
pub(crate) mod read;
pub(crate) mod sections;
pub(crate) mod two;

use std::any::Any;
use std::path::PathBuf;
use std::sync::mpsc::Sender;
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};

use record::{LengthUnit, Measured, Prepared, ScanId, Study};

use crate::event::{Lane, Work};
use crate::tags::Tags;

/// Called from any thread when there is something to drain.
pub(crate) type Wake = Arc<dyn Fn() + Send + Sync>;

/// What a lane tells the editor.
pub(crate) enum Told {
    Working(Work),
    Rests(Lane),
    Coarse {
        path: PathBuf,
        cloud: Arc<Prepared>,
    },
    BroughtIn {
        path: PathBuf,
        facts: Result<FileFacts, Unread>,
    },
    Scan {
        scan: ScanId,
        key: String,
        read: Result<Arc<Prepared>, Unread>,
    },
    Measured {
        measured: Arc<Measured>,
        serial: u64,
        tags: Tags,
    },
    Study {
        study: Arc<Study>,
        tags: Tags,
        number: u64,
        chances: bool,
    },
    JournalFailed {
        says: String,
        hint: String,
    },
    HandedOver(hand_over::HandedOver),
    NotHandedOver {
        says: String,
        hint: String,
    },
    Found(find::Found),
    Sections {
        key: Box<sections::SectionsKey>,
        sections: Arc<record::Sections>,
    },
    Two {
        key: Box<two::TwoKey>,
        found: two::TwoFound,
    },
    Probed(Arc<probe::ProbeAnswer>),
    Panicked {
        lane: Lane,
        says: String,
    },
}

/// What a file said of itself.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct FileFacts {
    pub hash: String,
    pub unit: LengthUnit,
    /// Whether the file states its unit.
    pub stated: bool,
    /// Why the unit was taken, where it was guessed.
    pub reason: Option<String>,
}

/// Why a file could not be read, and what to do.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Unread {
    pub says: String,
    pub hint: String,
}

/// The way from the lanes to the editor.
#[derive(Clone)]
pub(crate) struct Teller {
    pub to: Sender<Told>,
    pub wake: Wake,
}

impl Teller {
    pub fn tell(&self, told: Told) {
        // The editor is gone only while everything is being put away.
        if self.to.send(told).is_ok() {
            (self.wake)();
        }
    }

    /// Runs `work`; a panic in it is told and gives `None`.
    pub fn guarded<T>(&self, lane: Lane, work: impl FnOnce() -> T) -> Option<T> {
        match std::panic::catch_unwind(std::panic::AssertUnwindSafe(work)) {
            Ok(done) => Some(done),
            Err(panic) => {
                let says = words_of(panic.as_ref());
                self.tell(Told::Panicked { lane, says });
                None
            }
        }
    }
}

fn words_of(panic: &(dyn Any + Send)) -> String {
    panic
        .downcast_ref::<&str>()
        .map(|s| (*s).to_owned())
        .or_else(|| panic.downcast_ref::<String>().cloned())
        .unwrap_or_else(|| "no reason was given".to_owned())
}

/// A place for one wish; the newest replaces the one before.
pub(crate) struct Mailbox<T> {
    inside: Mutex<Inside<T>>,
    bell: Condvar,
}

struct Inside<T> {
    wish: Option<T>,
    closed: bool,
}

impl<T> Mailbox<T> {
    pub fn new() -> Arc<Self> {
        Arc::new(Self {
            inside: Mutex::new(Inside {
                wish: None,
                closed: false,
            }),
            bell: Condvar::new(),
        })
    }

    fn lock(&self) -> MutexGuard<'_, Inside<T>> {
        // Nothing is left half done inside: a wish is put or taken whole.
        self.inside.lock().unwrap_or_else(PoisonError::into_inner)
    }

    pub fn put(&self, wish: T) {
        self.lock().wish = Some(wish);
        self.bell.notify_all();
    }

    /// Waits for a wish; `None` once closed.
    pub fn take(&self) -> Option<T> {
        let mut inside = self.lock();
        loop {
            if inside.closed {
                return None;
            }
            if let Some(wish) = inside.wish.take() {
                return Some(wish);
            }
            inside = self
                .bell
                .wait(inside)
                .unwrap_or_else(PoisonError::into_inner);
        }
    }

    /// Whether a newer wish waits, or no more will come.
    pub fn wants_attention(&self) -> bool {
        let inside = self.lock();
        inside.closed || inside.wish.is_some()
    }

    pub fn is_closed(&self) -> bool {
        self.lock().closed
    }

    pub fn close(&self) {
        self.lock().closed = true;
        self.bell.notify_all();
    }
}
