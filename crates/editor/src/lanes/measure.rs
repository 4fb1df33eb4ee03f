//! The measuring lane: the newest wish wins, and what is under way is called off for it.

use std::path::PathBuf;
use std::sync::Arc;

use formats::Key;
use record::{Cancelled, Job, Measured, Scans};
use study::Kept;

use super::decide::{SharedDecisions, take_in};
use super::progress::LaneProgress;
use super::{Mailbox, Teller, Told};
use crate::event::Lane;
use crate::tags::Tags;

/// What is to be measured.
pub(crate) struct MeasureWish {
    pub job: Arc<Job>,
    pub scans: Scans,
    pub tags: Tags,
    pub serial: u64,
    /// Where an answer may be kept, and the key of this one.
    pub kept: Option<(PathBuf, Key)>,
}

impl MeasureWish {
    /// What was measured of the very same thing before, if it was kept; what was decided of it goes to `shared`.
    fn kept_answer(&self, shared: &SharedDecisions) -> Option<Measured> {
        let (path, key) = self.kept.as_ref()?;
        let kept = formats::read_kept_figures(path, study::ENGINE, key)?;
        take_in(shared, self.serial, kept.decided);
        Some(kept.measured)
    }
}

pub(crate) fn start(
    wishes: Arc<Mailbox<MeasureWish>>,
    shared: SharedDecisions,
    teller: Teller,
) -> std::thread::JoinHandle<()> {
    std::thread::spawn(move || {
        let mut kept = Kept::default();
        while let Some(wish) = wishes.take() {
            let stop = || wishes.wants_attention();
            let at = LaneProgress::new(&teller, Lane::Measure, "", &stop);
            let done = teller.guarded(Lane::Measure, || {
                if let Some(measured) = wish.kept_answer(&shared) {
                    return Ok(measured);
                }
                study::measure(&wish.job, &wish.scans, &mut kept, &at)
            });
            match done {
                Some(Ok(measured)) => teller.tell(Told::Measured {
                    measured: Arc::new(measured),
                    serial: wish.serial,
                    tags: wish.tags,
                }),
                Some(Err(Cancelled)) => {}
                // What was kept may be half made.
                None => kept = Kept::default(),
            }
            if !wishes.wants_attention() {
                teller.tell(Told::Rests(Lane::Measure));
            }
        }
    })
}
