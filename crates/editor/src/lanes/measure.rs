//! The measuring lane: the newest wish wins, and what is under way is called off for it.

use std::sync::Arc;

use record::{Cancelled, Job, Scans};
use study::Kept;

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
}

pub(crate) fn start(
    wishes: Arc<Mailbox<MeasureWish>>,
    teller: Teller,
) -> std::thread::JoinHandle<()> {
    std::thread::spawn(move || {
        let mut kept = Kept::default();
        while let Some(wish) = wishes.take() {
            let stop = || wishes.wants_attention();
            let at = LaneProgress::new(&teller, Lane::Measure, "", &stop);
            let done = teller.guarded(Lane::Measure, || {
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
