//! What the window hears from the editor.

use std::path::PathBuf;
use std::sync::Arc;

use record::{ScanId, Stage};

use crate::lanes::hand_over::HandedOver;
use crate::lanes::probe::ProbeAnswer;

/// A line of work that goes on beside the window.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Lane {
    /// Files are read and put in order.
    Read,
    /// Figures are measured.
    Measure,
    /// Openings are looked for.
    Find,
    /// Verdicts are worked out.
    Decide,
    /// Chances are worked out.
    Chances,
    /// What is pointed at is looked at.
    Probe,
    /// Sections are cut.
    Sections,
    /// Two visits or two cars are held against each other.
    Two,
    /// Files are written.
    HandOver,
    /// Commands are put on disk.
    Journal,
}

/// How far long work has come.
#[derive(Clone, Debug, PartialEq)]
pub struct Work {
    /// Where.
    pub lane: Lane,
    /// At what: a file name; empty where the lane says it.
    pub what: String,
    /// Which step.
    pub stage: Stage,
    /// So much is done.
    pub done: usize,
    /// Of so much.
    pub total: usize,
    /// About so many seconds are left in this step, if that can be told yet.
    pub seconds_left: Option<f64>,
}

/// Something the person should know that no figure says.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Notice {
    /// Its number; grows.
    pub number: u64,
    /// Where it comes from.
    pub lane: Lane,
    /// One sentence.
    pub says: String,
    /// What to do; may be empty.
    pub advice: String,
}

/// Something happened. What it led to stands in the [`crate::Document`] already.
#[derive(Clone, Debug, PartialEq)]
pub enum Event {
    /// The job changed: by a command, undo, redo or recovery.
    JobChanged,
    /// A first, thinned cloud of a file is there: [`crate::Document::coarse`].
    Coarse(PathBuf),
    /// A file that was brought in is a scan of the job now.
    BroughtIn(ScanId),
    /// A scan is ready: [`crate::Document::scans`].
    ScanReady(ScanId),
    /// A file could not be read; a notice says why.
    NotRead(PathBuf),
    /// Work goes on: [`crate::Document::work`].
    Working(Work),
    /// A lane has nothing to do any more.
    Rests(Lane),
    /// The study on show is new. `chances`: whether chances are drawn in it, for all comparisons.
    Study {
        /// Whether every chance is there.
        chances: bool,
    },
    /// What was pointed at was looked at.
    Probed(Arc<ProbeAnswer>),
    /// The search for openings ended; what it found is in the job, proposed.
    Proposed {
        /// How many openings were found.
        openings: usize,
    },
    /// There are new sections: [`crate::Document::sections`].
    Sections,
    /// Two visits or two cars were held against each other: [`crate::Document::two`].
    Two,
    /// Files were handed over.
    HandedOver(HandedOver),
    /// There are new offers: [`crate::Document::offers`].
    Offered,
    /// There is a new notice.
    Notice(Notice),
}
