//! The lane that holds two visits or two cars against each other: the newest wish wins, and what is under way is called
//! off for it.

use std::sync::Arc;

use formats::Key;
use record::{BodyWork, CarsStudy, DisplayUnits, Finding, Job, Part, Scans, WorkStudy};

use super::progress::LaneProgress;
use super::{Mailbox, Teller, Told, newest};
use crate::event::Lane;

/// What is held against what.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Two {
    /// Every side of which the job says which scan shows it before and which after body work.
    Visits,
    /// The parts drawn for the first car, and the openings of the second; names of cars in the job.
    Cars([String; 2]),
}

/// What came of it.
#[derive(Clone, Debug)]
pub enum TwoFound {
    /// Before and after body work.
    Visits(Arc<WorkStudy>),
    /// Parts of one car in the openings of another.
    Cars(Arc<CarsStudy>),
}

impl TwoFound {
    /// Has its numbers shown in another way.
    pub(crate) fn show_in(&mut self, units: DisplayUnits) {
        match self {
            Self::Visits(found) if found.study.units != units => {
                Arc::make_mut(found).study.units = units;
            }
            Self::Cars(found) if found.study.units != units => {
                Arc::make_mut(found).study.units = units;
            }
            Self::Visits(_) | Self::Cars(_) => {}
        }
    }
}

/// What it comes from: what was measured, and what of the job else bears on it.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct TwoKey {
    pub of: Two,
    pub measured: Key,
    pub seed: u64,
    pub parts: Vec<Part>,
    pub work: Vec<BodyWork>,
}

impl TwoKey {
    pub fn of(job: &Job, of: &Two, measured: Key) -> Self {
        Self {
            of: of.clone(),
            measured,
            seed: job.seed,
            parts: job.choices.parts.clone(),
            work: match of {
                Two::Visits => job.body_work.clone(),
                Two::Cars(_) => Vec::new(),
            },
        }
    }
}

/// What is to be held against each other.
pub(crate) struct TwoWish {
    pub key: TwoKey,
    pub job: Arc<Job>,
    pub scans: Scans,
    /// What is to be said of scans that were not read.
    pub findings: Vec<Finding>,
    pub draws: u32,
}

/// `None` in the mailbox calls off what is under way.
pub(crate) fn start(
    wishes: Arc<Mailbox<Option<TwoWish>>>,
    teller: Teller,
) -> std::thread::JoinHandle<()> {
    newest::start(Lane::Two, wishes, teller, |wish: Option<TwoWish>, at| {
        let Some(w) = wish else {
            return Ok(None);
        };
        let found = held(&w, at)?;
        let key = Box::new(w.key);
        Ok(Some(Told::Two { key, found }))
    })
}

fn held(w: &TwoWish, at: &LaneProgress) -> Result<TwoFound, record::Cancelled> {
    let before = w.findings.iter().cloned();
    match &w.key.of {
        Two::Visits => {
            let mut found = study::body_work(&w.job, &w.scans, w.draws, at)?;
            found.study.measured.findings.splice(0..0, before);
            Ok(TwoFound::Visits(Arc::new(found)))
        }
        Two::Cars([from, to]) => {
            let cars = [from.as_str(), to.as_str()];
            let mut found = study::cars(&w.job, cars, &w.scans, w.draws, at)?;
            found.study.measured.findings.splice(0..0, before);
            Ok(TwoFound::Cars(Arc::new(found)))
        }
    }
}
