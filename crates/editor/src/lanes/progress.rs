//! Progress of a lane: told a few times a second, and able to call the work off.

use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

use record::{Cancelled, Progress, Stage};

use super::{Teller, Told};
use crate::event::{Lane, Work};

/// Told at most so often.
const EVERY: Duration = Duration::from_millis(100);
/// Before this nothing is said about how long it takes.
const EARLY: Duration = Duration::from_millis(400);

/// Passes progress on. What is worked out never depends on the clock in it; it only decides when something is told.
pub(crate) struct LaneProgress<'a> {
    teller: &'a Teller,
    lane: Lane,
    what: String,
    stop: &'a (dyn Fn() -> bool + Sync),
    began: Instant,
    /// When something was told last, ms since `began`.
    told: AtomicU64,
    stage: Mutex<(Option<Stage>, Instant)>,
}

impl<'a> LaneProgress<'a> {
    pub fn new(
        teller: &'a Teller,
        lane: Lane,
        what: impl Into<String>,
        stop: &'a (dyn Fn() -> bool + Sync),
    ) -> Self {
        let now = Instant::now();
        Self {
            teller,
            lane,
            what: what.into(),
            stop,
            began: now,
            told: AtomicU64::new(0),
            stage: Mutex::new((None, now)),
        }
    }

    fn in_stage(&self, stage: Stage) -> Duration {
        let mut state = self.stage.lock().unwrap_or_else(PoisonError::into_inner);
        if state.0 != Some(stage) {
            *state = (Some(stage), Instant::now());
        }
        state.1.elapsed()
    }
}

impl Progress for LaneProgress<'_> {
    fn at(&self, stage: Stage, done: usize, total: usize) -> Result<(), Cancelled> {
        if (self.stop)() {
            return Err(Cancelled);
        }
        let now = self.began.elapsed().as_millis() as u64;
        let last = self.told.load(Ordering::Relaxed);
        let due = now >= last + EVERY.as_millis() as u64;
        if due
            && self
                .told
                .compare_exchange(last, now, Ordering::Relaxed, Ordering::Relaxed)
                .is_ok()
        {
            let spent = self.in_stage(stage);
            let left = (done > 0 && done <= total && spent >= EARLY)
                .then(|| spent.as_secs_f64() * (total - done) as f64 / done as f64);
            self.teller.tell(Told::Working(Work {
                lane: self.lane,
                what: self.what.clone(),
                stage,
                done,
                total,
                seconds_left: left,
            }));
        }
        Ok(())
    }
}
