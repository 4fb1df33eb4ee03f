//! Gaps to neighbours and hinges follow the scan they are picked in and the openings they name.

use record::{GapPick, GapTrack, HingePick, Job, OpeningId, ScanId};

use super::scan::scale;

fn tracks(gaps: &mut [GapPick]) -> impl Iterator<Item = &mut GapTrack> {
    gaps.iter_mut()
        .flat_map(|g| g.left.iter_mut().chain(&mut g.right))
}

/// The names of scans in them.
pub(super) fn scans(job: &mut Job) -> impl Iterator<Item = &mut ScanId> {
    let hinges = job.hinges.iter_mut().map(|h| &mut h.scan);
    tracks(&mut job.gaps).map(|t| &mut t.scan).chain(hinges)
}

/// What is picked in a scan that is taken out goes with it; a gap stays as long as one side of it does.
pub(super) fn remove_those_of(job: &mut Job, scan: &ScanId) {
    for gap in &mut job.gaps {
        gap.left.take_if(|t| t.scan == *scan);
        gap.right.take_if(|t| t.scan == *scan);
    }
    job.gaps.retain(|g| g.left.is_some() || g.right.is_some());
    job.hinges.retain(|h| h.scan != *scan);
}

/// Places in a scan whose unit was another; diameters, distances and reaches were given in true mm.
pub(super) fn scale_those_of(job: &mut Job, scan: &ScanId, factor: f64) {
    for t in tracks(&mut job.gaps).filter(|t| t.scan == *scan) {
        scale(&mut t.on_first, factor);
        t.along.iter_mut().for_each(|p| scale(p, factor));
    }
    let hinges = job.hinges.iter_mut().filter(|h| h.scan == *scan);
    for b in hinges.flat_map(|h| &mut h.barrels) {
        scale(&mut b.from, factor);
        scale(&mut b.to, factor);
    }
}

pub(super) fn rename_opening(job: &mut Job, from: &OpeningId, to: &OpeningId) {
    let swings = job.hinges.iter_mut().filter_map(|h| h.swing.as_mut());
    let named = swings.flat_map(|s| [&mut s.part, &mut s.body]);
    for opening in named.filter(|o| *o == from) {
        opening.clone_from(to);
    }
}

/// A hinge whose edges are gone is still a row of pins: only what swings is not asked for any more.
pub(super) fn remove_opening(job: &mut Job, id: &OpeningId) {
    for HingePick { swing, .. } in &mut job.hinges {
        swing.take_if(|s| s.part == *id || s.body == *id);
    }
}
