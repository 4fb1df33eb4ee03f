//! Watching for the wish to stop, from many threads.

use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

use record::{Cancelled, Progress, Stage};

/// Passes progress on and remembers whether the work was called off.
pub(crate) struct Watch<'a> {
    at: &'a dyn Progress,
    total: usize,
    done: AtomicUsize,
    stopped: AtomicBool,
}

impl<'a> Watch<'a> {
    pub(crate) fn new(at: &'a dyn Progress, total: usize) -> Self {
        Self {
            at,
            total,
            done: AtomicUsize::new(0),
            stopped: AtomicBool::new(false),
        }
    }

    /// Asks whether to go on; once it was no it stays no.
    pub(crate) fn go_on(&self) -> bool {
        if self.stopped.load(Ordering::Relaxed) {
            return false;
        }
        let on = self
            .at
            .at(
                Stage::Prepare,
                self.done.load(Ordering::Relaxed),
                self.total,
            )
            .is_ok();
        if !on {
            self.stopped.store(true, Ordering::Relaxed);
        }
        on
    }

    /// The same as a `Result`.
    pub(crate) fn check(&self) -> Result<(), Cancelled> {
        if self.go_on() { Ok(()) } else { Err(Cancelled) }
    }

    /// So many points are done.
    pub(crate) fn reached(&self, done: usize) -> Result<(), Cancelled> {
        self.done.store(done, Ordering::Relaxed);
        self.check()
    }
}
