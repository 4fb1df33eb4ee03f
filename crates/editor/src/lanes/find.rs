//! The lane that looks for openings, and for the other side of one; the newest wish wins.

use std::sync::Arc;

use record::{Cancelled, Opening, OpeningId, Prepared, ScanId, ScanRef, Scans};
use study::propose::{Carried, Proposal, find_across};

use super::progress::LaneProgress;
use super::{Mailbox, Teller, Told, newest};
use crate::event::Lane;

/// What is looked for.
pub(crate) enum FindWish {
    /// Openings in scans.
    Openings { refs: Vec<ScanRef>, scans: Scans },
    /// The other side of an opening, in each of the scans.
    Across {
        opening: Box<Opening>,
        own: Arc<Prepared>,
        others: Vec<(ScanId, Arc<Prepared>)>,
    },
}

/// What was found.
pub(crate) enum Found {
    Openings(Box<Proposal>),
    Across {
        of: OpeningId,
        carried: Option<Box<Carried>>,
    },
}

pub(crate) fn start(wishes: Arc<Mailbox<FindWish>>, teller: Teller) -> std::thread::JoinHandle<()> {
    newest::start(Lane::Find, wishes, teller, |wish, at| {
        look(wish, at).map(|found| Some(Told::Found(found)))
    })
}

fn look(wish: FindWish, at: &LaneProgress) -> Result<Found, Cancelled> {
    match wish {
        FindWish::Openings { refs, scans } => {
            let proposal = study::propose(&refs, &scans, at)?;
            Ok(Found::Openings(Box::new(proposal)))
        }
        FindWish::Across {
            opening,
            own,
            others,
        } => {
            let mut best: Option<Carried> = None;
            for (id, scan) in &others {
                let found = find_across(&opening, (&opening.scan, &own), (id, scan), at)?;
                let surer = |c: &Carried| {
                    best.as_ref()
                        .is_none_or(|b| b.opening.sureness < c.opening.sureness)
                };
                if let Some(c) = found.filter(surer) {
                    best = Some(c);
                }
            }
            Ok(Found::Across {
                of: opening.id.clone(),
                carried: best.map(Box::new),
            })
        }
    }
}
