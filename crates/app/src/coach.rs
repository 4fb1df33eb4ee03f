//! The worked example: a coach made up and scanned in the background, then opened.

use std::path::PathBuf;
use std::sync::mpsc::{Receiver, channel};
use std::sync::{Arc, Mutex, PoisonError};

use record::{Cancelled, Progress, Stage};

/// Points of all scans together: enough for every figure, quick to make.
const POINTS: usize = 200_000;
/// Every example is the same one.
const SEED: u64 = 1;

/// A coach in the making.
pub struct Making {
    done: Receiver<Result<PathBuf, String>>,
    at: Arc<Mutex<String>>,
}

struct Tell {
    at: Arc<Mutex<String>>,
    wake: egui::Context,
}

impl Progress for Tell {
    fn at(&self, _: Stage, done: usize, total: usize) -> Result<(), Cancelled> {
        let share = 100.0 * done as f64 / total.max(1) as f64;
        *self.at.lock().unwrap_or_else(PoisonError::into_inner) =
            format!("The coach is being built and scanned: {share:.0} %");
        self.wake.request_repaint();
        Ok(())
    }
}

impl Making {
    /// Starts making it, in a folder of its own below the home folder's data.
    pub fn start(wake: egui::Context) -> Self {
        let (to, done) = channel();
        let at = Arc::new(Mutex::new(
            "The coach is being built and scanned".to_owned(),
        ));
        let tell = Tell {
            at: Arc::clone(&at),
            wake,
        };
        std::thread::spawn(move || {
            let folder = crate::preferences::data_folder().join("coach");
            let made = demo::write_demo(&folder, POINTS, SEED, &tell)
                .map(|files| files.job_path)
                .map_err(|e| format!("{e}. {}", e.hint()));
            let wake = tell.wake.clone();
            // The window may be gone by now.
            let _ = to.send(made);
            wake.request_repaint();
        });
        Self { done, at }
    }

    /// The job file once it is there, or what went wrong.
    pub fn made(&mut self) -> Option<Result<PathBuf, String>> {
        self.done.try_recv().ok()
    }

    /// How far it is.
    pub fn says(&self) -> String {
        self.at
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .clone()
    }
}
