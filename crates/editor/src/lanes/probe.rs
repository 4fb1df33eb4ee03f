//! The lane that looks at what is pointed at: one look at a time, the newest wish kept.

use std::sync::{Arc, Weak};

use geom::NoiseModel;
use record::{EdgePick, FacePick, HolePick, MeasuredHole, Prepared, ScanId};
use study::probe::{EdgeNear, FaceAt, Normals, NotFound, Probe};

use super::{Mailbox, Teller, Told};
use crate::event::Lane;

/// A place to look at.
#[derive(Clone, Debug, PartialEq)]
pub enum ProbeAt {
    /// Grow a face.
    Face(FacePick),
    /// Trace an edge.
    Edge(EdgePick),
    /// Fit a hole or stud; with the edge of its opening, which tells the outside.
    Hole(HolePick, Option<EdgePick>),
}

/// What was found at a place; the same, bit for bit, as measuring the pick gives.
#[derive(Clone, Debug, PartialEq)]
pub enum Probed {
    /// A face.
    Face(FaceAt),
    /// An edge.
    Edge(EdgeNear),
    /// A hole or stud, scan axes.
    Hole(MeasuredHole),
}

/// The answer to [`crate::Editor::probe`].
#[derive(Clone, Debug, PartialEq)]
pub struct ProbeAnswer {
    /// The number that [`crate::Editor::probe`] gave.
    pub number: u64,
    /// The scan.
    pub scan: ScanId,
    /// The place.
    pub at: ProbeAt,
    /// What is there.
    pub found: Result<Probed, NotFound>,
}

pub(crate) struct ProbeWish {
    pub number: u64,
    pub scan: ScanId,
    pub prepared: Arc<Prepared>,
    pub at: ProbeAt,
    pub noise: Option<NoiseModel>,
}

pub(crate) fn start(
    wishes: Arc<Mailbox<ProbeWish>>,
    teller: Teller,
    pool: Option<Arc<rayon::ThreadPool>>,
) -> std::thread::JoinHandle<()> {
    std::thread::spawn(move || {
        let mut looked_at: Vec<LookedAt> = Vec::new();
        while let Some(w) = wishes.take() {
            let known = looked_at
                .iter()
                .position(|l| Weak::ptr_eq(&l.prepared, &Arc::downgrade(&w.prepared)));
            let probe = match known {
                Some(k) => Probe::with_normals(&w.prepared, Arc::clone(&looked_at[k].normals)),
                None => Probe::new(&w.prepared),
            };
            let look = || {
                super::decide::in_pool(pool.as_deref(), || look(&probe, &w.at, w.noise.as_ref()))
            };
            let found = teller.guarded(Lane::Probe, look);
            let latest = match known {
                Some(k) => looked_at.remove(k),
                None => LookedAt {
                    prepared: Arc::downgrade(&w.prepared),
                    normals: probe.normals(),
                },
            };
            looked_at.push(latest);
            if looked_at.len() > REMEMBERED {
                looked_at.remove(0);
            }
            if let Some(found) = found {
                teller.tell(Told::Probed(Arc::new(ProbeAnswer {
                    number: w.number,
                    scan: w.scan,
                    at: w.at,
                    found,
                })));
            }
        }
    })
}

/// A scan that was looked at, with the normals worked out for it: they serve the next look.
struct LookedAt {
    /// As long as this is held, no other scan has its place in memory.
    prepared: Weak<Prepared>,
    normals: Arc<Normals>,
}

/// So many scans are remembered, those looked at last.
const REMEMBERED: usize = 4;

fn look(probe: &Probe, at: &ProbeAt, noise: Option<&NoiseModel>) -> Result<Probed, NotFound> {
    match at {
        ProbeAt::Face(pick) => probe.face_at(pick, noise).map(Probed::Face),
        ProbeAt::Edge(pick) => probe.edge_near(pick).map(Probed::Edge),
        ProbeAt::Hole(pick, edge) => {
            let found = probe.hole_near(pick, edge.as_ref(), noise);
            found.map(Probed::Hole)
        }
    }
}
