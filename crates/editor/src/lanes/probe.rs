//! The lane that looks at what is pointed at: one look at a time, the newest wish kept.

use std::sync::Arc;

use geom::NoiseModel;
use record::{EdgePick, FacePick, HolePick, MeasuredHole, Prepared, ScanId};
use study::probe::{EdgeNear, FaceAt, NotFound, Probe};

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
        let mut next = wishes.take();
        while let Some(first) = next {
            // Normals worked out for one look serve the next, as long as the scan stays the same.
            let prepared = Arc::clone(&first.prepared);
            let probe = Probe::new(&prepared);
            let mut wish = Some(first);
            next = loop {
                if let Some(w) = wish.take() {
                    let look = || {
                        super::decide::in_pool(pool.as_deref(), || {
                            look(&probe, &w.at, w.noise.as_ref())
                        })
                    };
                    if let Some(found) = teller.guarded(Lane::Probe, look) {
                        teller.tell(Told::Probed(Arc::new(ProbeAnswer {
                            number: w.number,
                            scan: w.scan,
                            at: w.at,
                            found,
                        })));
                    }
                }
                match wishes.take() {
                    Some(w) if Arc::ptr_eq(&w.prepared, &prepared) => wish = Some(w),
                    other => break other,
                }
            };
        }
    })
}

fn look(probe: &Probe, at: &ProbeAt, noise: Option<&NoiseModel>) -> Result<Probed, NotFound> {
    match at {
        ProbeAt::Face(pick) => probe.face_at(pick, noise).map(Probed::Face),
        ProbeAt::Edge(pick) => probe.edge_near(pick).map(Probed::Edge),
        ProbeAt::Hole(pick, edge) => probe.hole_near(pick, edge.as_ref()).map(Probed::Hole),
    }
}
