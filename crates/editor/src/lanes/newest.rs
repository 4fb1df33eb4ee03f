//! The loop of a lane in which the newest wish calls off what is under way.

use std::sync::Arc;
use std::thread::JoinHandle;

use record::Cancelled;

use super::progress::LaneProgress;
use super::{Mailbox, Teller, Told};
use crate::event::Lane;

/// Works at one wish after the other, the newest first, and tells what comes of it; where nothing newer waits, that it rests.
/// A wish that only calls off what was under way gives `None`.
pub(crate) fn start<W: Send + 'static>(
    lane: Lane,
    wishes: Arc<Mailbox<W>>,
    teller: Teller,
    work: impl Fn(W, &LaneProgress) -> Result<Option<Told>, Cancelled> + Send + 'static,
) -> JoinHandle<()> {
    std::thread::spawn(move || {
        while let Some(wish) = wishes.take() {
            let stop = || wishes.wants_attention();
            let at = LaneProgress::new(&teller, lane, "", &stop);
            if let Some(Ok(Some(told))) = teller.guarded(lane, || work(wish, &at)) {
                teller.tell(told);
            }
            if !wishes.wants_attention() {
                teller.tell(Told::Rests(lane));
            }
        }
    })
}
