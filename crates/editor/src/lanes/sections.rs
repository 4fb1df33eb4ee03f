//! The lane that cuts sections: the newest wish wins, and what is under way is called off for it.

use std::sync::Arc;

use formats::Key;
use record::{GapPick, HingePick, Job, Measured, Scans, SectionPlan};

use super::{Mailbox, Teller, Told, newest};
use crate::event::Lane;

/// What sections come from: what was measured, and what of the job only they look at.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct SectionsKey {
    pub measured: Key,
    pub seed: u64,
    pub plan: SectionPlan,
    pub gaps: Vec<GapPick>,
    pub hinges: Vec<HingePick>,
}

impl SectionsKey {
    pub fn of(job: &Job, measured: Key) -> Self {
        Self {
            measured,
            seed: job.seed,
            plan: job.sections,
            gaps: job.gaps.clone(),
            hinges: job.hinges.clone(),
        }
    }
}

/// What is to be cut.
pub(crate) struct SectionsWish {
    pub key: SectionsKey,
    pub job: Arc<Job>,
    pub scans: Scans,
    pub measured: Arc<Measured>,
    pub draws: u32,
}

/// `None` in the mailbox calls off what is under way.
pub(crate) fn start(
    wishes: Arc<Mailbox<Option<SectionsWish>>>,
    teller: Teller,
) -> std::thread::JoinHandle<()> {
    newest::start(
        Lane::Sections,
        wishes,
        teller,
        |wish: Option<SectionsWish>, at| {
            let Some(w) = wish else {
                return Ok(None);
            };
            let sections = study::sections(&w.job, &w.scans, &w.measured, w.draws, at)?;
            Ok(Some(Told::Sections {
                key: Box::new(w.key),
                sections: Arc::new(sections),
            }))
        },
    )
}
