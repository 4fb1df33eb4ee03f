//! Changes of the named places of the body, by which a centreline is laid.
//!
//! A place is told by its number: those of the job first, then those of the table beside it. Rows of the table are taken
//! into the job before one of them is changed: the file stays as it was.

use record::{CentrelineWay, Job, Place, PlaceName, ScanId};

use crate::refused::Refused;

fn at(job: &mut Job, number: usize) -> Result<usize, Refused> {
    if number >= job.places.len() {
        take_in(job);
    }
    if number < job.places.len() {
        Ok(number)
    } else {
        Err(Refused::NoSuch {
            what: "place",
            name: (number + 1).to_string(),
        })
    }
}

/// The rows of the table beside the job stand in the job from now on.
pub(super) fn take_in(job: &mut Job) {
    if let Some(table) = job.places_table.take() {
        job.places.extend(table.places);
    }
}

pub(super) fn change(job: &mut Job, number: usize, to: &Place) -> Result<(), Refused> {
    let at = at(job, number)?;
    let before = std::mem::replace(&mut job.places[at], to.clone());
    let was = name_of(&before);
    let there = |job: &Job, name: &PlaceName| job.every_place().any(|p| name_of(p) == *name);
    if !there(job, &was) {
        for end in named(job).filter(|n| **n == was) {
            *end = name_of(to);
        }
    }
    let gone = !job.places.iter().any(|p| p.name == before.name);
    if gone {
        for name in job.joins.iter_mut().flat_map(|j| &mut j.places) {
            if *name == before.name {
                name.clone_from(&to.name);
            }
        }
        // What is forward goes by names.
        for named in [&mut job.centreline.front, &mut job.centreline.rear] {
            if named.as_deref() == Some(before.name.as_str()) {
                *named = Some(to.name.clone());
            }
        }
    }
    Ok(())
}

pub(super) fn remove(job: &mut Job, number: usize) -> Result<(), Refused> {
    let at = at(job, number)?;
    job.places.remove(at);
    forget_gone(job);
    Ok(())
}

fn name_of(place: &Place) -> PlaceName {
    PlaceName {
        name: place.name.clone(),
        side: place.side,
    }
}

/// What goes by the name and side of a place: ends of taped lengths, and the six of a centreline.
fn named(job: &mut Job) -> impl Iterator<Item = &mut PlaceName> {
    let ends = job.taped.iter_mut().flat_map(|t| [&mut t.from, &mut t.to]);
    let six: Vec<&mut PlaceName> = match &mut job.centreline.way {
        CentrelineWay::ThreeTwoOne { level, line, start } => {
            level.iter_mut().chain(line).chain([start]).collect()
        }
        _ => Vec::new(),
    };
    ends.chain(six)
}

/// The places of a scan that is taken out go with it, and so does what names a place that is in no other scan.
pub(super) fn remove_those_of(job: &mut Job, scan: &ScanId) {
    let mut in_table = job.places_table.iter().flat_map(|t| &t.places);
    if in_table.any(|p| p.scan == *scan) {
        take_in(job);
    }
    job.places.retain(|p| p.scan != *scan);
    let known: Vec<PlaceName> = job.every_place().map(name_of).collect();
    job.taped
        .retain(|t| known.contains(&t.from) && known.contains(&t.to));
    let gone = |n: &PlaceName| !known.contains(n);
    let of_gone = match &job.centreline.way {
        CentrelineWay::ThreeTwoOne { level, line, start } => {
            level.iter().chain(line).chain([start]).any(gone)
        }
        _ => false,
    };
    if of_gone {
        job.centreline.way = CentrelineWay::default();
    }
    forget_gone(job);
}

/// The places of a scan, in the job: what happens to the scan happens to them.
pub(super) fn those_of<'j>(job: &'j mut Job, scan: &ScanId) -> impl Iterator<Item = &'j mut Place> {
    let mut in_table = job.places_table.iter().flat_map(|t| &t.places);
    if in_table.any(|p| p.scan == *scan) {
        take_in(job);
    }
    let scan = scan.clone();
    job.places.iter_mut().filter(move |p| p.scan == scan)
}

/// A front or a rear place that is not there any more says nothing; one alone does not either.
fn forget_gone(job: &mut Job) {
    let there = |name: &Option<String>| {
        name.as_ref()
            .is_none_or(|n| job.every_place().any(|p| p.name == *n))
    };
    if !there(&job.centreline.front) || !there(&job.centreline.rear) {
        job.centreline.front = None;
        job.centreline.rear = None;
    }
}
