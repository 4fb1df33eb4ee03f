//! How far long work has come: a bar on standard error, if that is a terminal.

use std::sync::Arc;
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, Ordering};

use indicatif::{ProgressBar, ProgressStyle};
use record::{Cancelled, Progress, Stage};

/// Shows a bar and passes Ctrl-C on. Hidden by itself where standard error is not a terminal.
pub struct Bar {
    shown: ProgressBar,
    stage: Mutex<Option<Stage>>,
    cancel: Arc<AtomicBool>,
}

impl Bar {
    /// A bar that is not shown before the first step is reported.
    pub fn new() -> anyhow::Result<Self> {
        let style =
            ProgressStyle::with_template("{prefix:<34} {bar:30} {percent:>3} %  {eta:>4} left")?;
        Ok(Self {
            shown: ProgressBar::new(0).with_style(style),
            stage: Mutex::new(None),
            cancel: crate::cancel::flag()?,
        })
    }

    /// Takes the bar away.
    pub fn clear(&self) {
        self.shown.finish_and_clear();
    }
}

impl Drop for Bar {
    fn drop(&mut self) {
        self.clear();
    }
}

/// What a step is called.
fn name(stage: Stage) -> &'static str {
    match stage {
        Stage::Read => "reading",
        Stage::Prepare => "putting the points in order",
        Stage::Join => "joining scans",
        Stage::Find => "looking for openings",
        Stage::Measure => "measuring faces, edges and holes",
        Stage::Compare => "laying the sides on each other",
        Stage::Chances => "working out the chances",
        Stage::Write => "writing",
    }
}

impl Progress for Bar {
    fn at(&self, stage: Stage, done: usize, total: usize) -> Result<(), Cancelled> {
        if self.cancel.load(Ordering::Relaxed) {
            return Err(Cancelled);
        }
        // Several threads report; whichever comes first names the step. A poisoned lock only loses the name.
        if let Ok(mut last) = self.stage.try_lock()
            && *last != Some(stage)
        {
            *last = Some(stage);
            self.shown.reset();
            self.shown.set_prefix(name(stage));
        }
        self.shown.set_length(total as u64);
        self.shown.set_position(done as u64);
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_set_flag_stops_the_work_at_the_next_report() {
        let bar = Bar::new().unwrap();
        assert_eq!(bar.at(Stage::Read, 1, 2), Ok(()));
        let stopped = Bar {
            shown: ProgressBar::hidden(),
            stage: Mutex::new(None),
            cancel: Arc::new(AtomicBool::new(true)),
        };
        assert_eq!(stopped.at(Stage::Read, 1, 2), Err(Cancelled));
    }
}
