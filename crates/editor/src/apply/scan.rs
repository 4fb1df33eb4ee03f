//! Changes of visits and scans.

use geom::Point;
use record::{
    CentrelineWay, Job, Opening, Region, RegionShape, ScanId, ScanRef, Side, UnitSource, VisitId,
};

use super::{opening, panels, place, rename_free};
use crate::command::{ScanChange, VisitChange};
use crate::refused::Refused;

pub(super) fn change_visit(
    job: &mut Job,
    id: &VisitId,
    change: &VisitChange,
) -> Result<(), Refused> {
    let at = place("visit", &id.0, job.visits.iter().map(|v| v.id.0.as_str()))?;
    if let VisitChange::Rename(to) = change {
        let known = job.visits.iter().map(|v| v.id.0.as_str());
        rename_free("visit", &id.0, &to.0, known)?;
        for s in job.scans.iter_mut().filter(|s| s.visit == *id) {
            s.visit = to.clone();
        }
        for h in job.hand.iter_mut().filter(|h| h.visit == *id) {
            h.visit = to.clone();
        }
    }
    let visit = &mut job.visits[at];
    let state = &mut visit.state;
    match change {
        VisitChange::Rename(to) => visit.id = to.clone(),
        VisitChange::Car(to) => visit.car.clone_from(to),
        VisitChange::Date(to) => visit.date.clone_from(to),
        VisitChange::Operator(to) => visit.operator.clone_from(to),
        VisitChange::Instrument(to) => visit.instrument.clone_from(to),
        VisitChange::Flatness(to) => visit.flatness_mm = *to,
        VisitChange::Mounting(to) => state.mounting = *to,
        VisitChange::Surface { side, surface } => match side {
            Side::Left => state.left = *surface,
            Side::Right => state.right = *surface,
            Side::Centre | Side::NotSaid => {}
        },
        VisitChange::Film { side, film_um } => match side {
            Side::Left => state.left_film_um = *film_um,
            Side::Right => state.right_film_um = *film_um,
            Side::Centre | Side::NotSaid => {}
        },
        VisitChange::DoorsHung(to) => state.doors_hung = *to,
        VisitChange::Temperature(to) => state.temperature_c = *to,
        VisitChange::Note(to) => visit.note.clone_from(to),
    }
    Ok(())
}

pub(crate) fn remove(job: &mut Job, id: &ScanId) -> Result<(), Refused> {
    let at = place("scan", &id.0, job.scans.iter().map(|s| s.id.0.as_str()))?;
    let here = job.openings.iter().filter(|o| o.scan == *id);
    let openings: Vec<_> = here.map(|o| o.id.clone()).collect();
    for o in &openings {
        opening::remove(job, o)?;
    }
    panels::remove_those_of(job, id);
    place::remove_those_of(job, id);
    job.joins.retain(|j| j.scan != *id && j.to != *id);
    job.body_work.retain(|w| w.before != *id && w.after != *id);
    if job.centreline.image_of.as_ref() == Some(id) {
        job.centreline.image_of = None;
        if job.centreline.way == CentrelineWay::OwnImage {
            job.centreline.way = CentrelineWay::default();
        }
    }
    job.scans.remove(at);
    Ok(())
}

pub(super) fn change(job: &mut Job, id: &ScanId, change: &ScanChange) -> Result<(), Refused> {
    let at = place("scan", &id.0, job.scans.iter().map(|s| s.id.0.as_str()))?;
    match change {
        ScanChange::Rename(to) => {
            let known = job.scans.iter().map(|s| s.id.0.as_str());
            rename_free("scan", &id.0, &to.0, known)?;
            for o in job.openings.iter_mut().filter(|o| o.scan == *id) {
                o.scan = to.clone();
            }
            for p in place::those_of(job, id) {
                p.scan = to.clone();
            }
            for scan in panels::scans(job).filter(|s| *s == id) {
                scan.clone_from(to);
            }
            let joins = job.joins.iter_mut().flat_map(|j| [&mut j.scan, &mut j.to]);
            let works = job.body_work.iter_mut();
            let works = works.flat_map(|w| [&mut w.before, &mut w.after]);
            let named = joins.chain(works).chain(&mut job.centreline.image_of);
            for scan in named.filter(|s| **s == *id) {
                scan.clone_from(to);
            }
            job.scans[at].id = to.clone();
        }
        ScanChange::Unit { unit, source } => {
            let scan = &mut job.scans[at];
            let factor = unit.in_mm() / scan.unit.in_mm();
            scan.unit = *unit;
            if factor != 1.0 {
                scale_scan(scan, factor);
                for o in job.openings.iter_mut().filter(|o| o.scan == *id) {
                    scale_opening(o, factor);
                }
                for p in place::those_of(job, id) {
                    scale(&mut p.at, factor);
                }
                panels::scale_those_of(job, id, factor);
                let works = job.body_work.iter_mut().filter(|w| w.before == *id);
                for r in works.flat_map(|w| &mut w.worked) {
                    scale_region(r, factor);
                }
            }
            // What the person measured on the body is given in the new unit already.
            job.scans[at].unit_source = source.clone();
        }
        ScanChange::Side(to) => job.scans[at].side = *to,
        ScanChange::Visit(to) => {
            place("visit", &to.0, job.visits.iter().map(|v| v.id.0.as_str()))?;
            job.scans[at].visit = to.clone();
        }
        ScanChange::Path(to) => job.scans[at].path.clone_from(to),
        ScanChange::Hash(to) => job.scans[at].hash.clone_from(to),
        ScanChange::Keep(region) => job.scans[at].keep.push(region.clone()),
        ScanChange::PutAside(region) => job.scans[at].aside.push(region.clone()),
        ScanChange::RemoveRegion { kept, index } => {
            let scan = &mut job.scans[at];
            let list = if *kept {
                &mut scan.keep
            } else {
                &mut scan.aside
            };
            if *index >= list.len() {
                return Err(Refused::NoSuch {
                    what: "region",
                    name: (index + 1).to_string(),
                });
            }
            list.remove(*index);
        }
        ScanChange::LargestPieceOnly(on) => job.scans[at].largest_piece_only = *on,
        ScanChange::Note(to) => job.scans[at].note.clone_from(to),
    }
    Ok(())
}

pub(super) fn scale(p: &mut Point, factor: f64) {
    p.coords *= factor;
}

fn scale_scan(scan: &mut ScanRef, factor: f64) {
    for r in scan.keep.iter_mut().chain(&mut scan.aside) {
        scale_region(r, factor);
    }
    if let UnitSource::Checked { from, to, .. } = &mut scan.unit_source {
        scale(from, factor);
        scale(to, factor);
    }
}

fn scale_region(region: &mut Region, factor: f64) {
    match &mut region.shape {
        RegionShape::Box { low, high } => {
            scale(low, factor);
            scale(high, factor);
        }
        RegionShape::Lasso {
            origin, corners, ..
        } => {
            scale(origin, factor);
            for c in corners.iter_mut().flatten() {
                *c *= factor;
            }
        }
    }
}

/// Places only: reaches, bands and diameters were given in true mm.
fn scale_opening(o: &mut Opening, factor: f64) {
    if let Some(edge) = &mut o.edge {
        scale(&mut edge.near, factor);
        for p in &mut edge.by_hand {
            scale(p, factor);
        }
    }
    for p in o
        .top
        .iter_mut()
        .chain(o.faces.iter_mut().map(|f| &mut f.near))
        .chain(o.junctions.iter_mut().map(|j| &mut j.start))
        .chain(o.holes.iter_mut().map(|h| &mut h.near))
    {
        scale(p, factor);
    }
}
