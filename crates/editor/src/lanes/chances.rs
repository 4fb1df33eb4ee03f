//! The lane of chances: comparison by comparison, the newest wish wins between two of them.

use std::sync::Arc;

use record::{Progress, Stage};

use super::decide::{DecideWish, SharedDecisions, decide_one, in_pool, study_of};
use super::progress::LaneProgress;
use super::{Mailbox, Teller, Told};
use crate::event::Lane;

pub(crate) fn start(
    wishes: Arc<Mailbox<DecideWish>>,
    shared: SharedDecisions,
    teller: Teller,
    pool: Option<Arc<rayon::ThreadPool>>,
) -> std::thread::JoinHandle<()> {
    std::thread::spawn(move || {
        while let Some(wish) = wishes.take() {
            let stop = || wishes.wants_attention();
            let at = LaneProgress::new(&teller, Lane::Chances, "", &stop);
            let total = wish.measured.compares.len();
            let done = teller.guarded(Lane::Chances, || {
                for i in 0..total {
                    if at.at(Stage::Chances, i, total).is_err() {
                        return None;
                    }
                    in_pool(pool.as_deref(), || decide_one(&wish, &shared, i, true));
                }
                Some(study_of(&wish, &shared))
            });
            if let Some(Some((study, chances))) = done {
                teller.tell(Told::Study {
                    study: Arc::new(study),
                    tags: wish.tags.clone(),
                    number: wish.number,
                    chances,
                });
            }
            if !wishes.wants_attention() {
                teller.tell(Told::Rests(Lane::Chances));
            }
        }
    })
}
