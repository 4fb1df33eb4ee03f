//! Changes of hand tables.

use record::{HandReading, HandTable, Job, OpeningId, ScanId};

use super::{free, opening, place};
use crate::by_hand::{HandBox, places};
use crate::command::HandChange;
use crate::refused::Refused;

pub(super) fn add(job: &mut Job, new: &HandTable) -> Result<(), Refused> {
    free(
        "scan or hand table",
        &new.id.0,
        job.scans
            .iter()
            .map(|s| s.id.0.as_str())
            .chain(job.hand.iter().map(|h| h.id.0.as_str())),
    )?;
    job.hand.push(new.clone());
    Ok(())
}

fn at(job: &Job, id: &ScanId) -> Result<usize, Refused> {
    let known = job.hand.iter().map(|h| h.id.0.as_str());
    place("hand table", &id.0, known)
}

pub(super) fn remove(job: &mut Job, id: &ScanId) -> Result<(), Refused> {
    let at = at(job, id)?;
    let here = job.openings.iter().filter(|o| o.scan == *id);
    let openings: Vec<OpeningId> = here.map(|o| o.id.clone()).collect();
    for o in &openings {
        opening::remove(job, o)?;
    }
    job.hand.remove(at);
    Ok(())
}

pub(super) fn change(job: &mut Job, id: &ScanId, change: &HandChange) -> Result<(), Refused> {
    let at = at(job, id)?;
    match change {
        HandChange::Reading {
            opening,
            of,
            written,
        } => reading(job, at, opening, of, written)?,
        HandChange::Flat(to) => job.hand[at].flat = *to,
        HandChange::RemoveInstrument(name) => remove_instrument(&mut job.hand[at], name)?,
        HandChange::RemoveOperator(name) => remove_operator(&mut job.hand[at], name)?,
        HandChange::Note(to) => job.hand[at].note.clone_from(to),
    }
    Ok(())
}

fn remove_instrument(table: &mut HandTable, name: &str) -> Result<(), Refused> {
    let own = table.instruments.iter().map(|i| i.name.as_str());
    let at = place("instrument", name, own)?;
    table.instruments.remove(at);
    if table.instrument(name).is_none() {
        let named = |r: &&mut HandReading| r.instrument.eq_ignore_ascii_case(name);
        for r in table.readings.iter_mut().filter(named) {
            r.instrument.clear();
        }
        stand_in_job(table);
    }
    Ok(())
}

fn remove_operator(table: &mut HandTable, name: &str) -> Result<(), Refused> {
    let known = table.readings.iter().map(|r| r.operator.as_str());
    place("operator", name, known)?;
    for r in table.readings.iter_mut().filter(|r| r.operator == name) {
        r.operator.clear();
    }
    stand_in_job(table);
    Ok(())
}

/// The rows are those of the job from now on: a file they came from stays as it is.
fn stand_in_job(table: &mut HandTable) {
    (table.path, table.hash) = (None, None);
    for (k, r) in table.readings.iter_mut().enumerate() {
        // The heads stand in the first line.
        r.line = k as u32 + 2;
    }
}

/// Puts what was written into its box. The rows are those of the job from then on: a file they came from stays as it is.
fn reading(
    job: &mut Job,
    at: usize,
    opening: &OpeningId,
    of: &HandBox,
    written: &str,
) -> Result<(), Refused> {
    let known = job.openings.iter().map(|o| o.id.0.as_str());
    let opening = &job.openings[place("opening", &opening.0, known)?];
    let table = &mut job.hand[at];
    if let Some([says, hint]) = &table.unread {
        return Err(Refused::NotRead {
            says: format!("hand table {} was not read: {says}", table.id),
            hint: hint.clone(),
        });
    }
    let held = places(table, opening, of);
    let there = held.get(of.time).copied();
    if written.trim().is_empty() {
        let Some(k) = there else { return Ok(()) };
        table.readings.remove(k);
    } else {
        let (value, written) =
            formats::hand_written(written, None, of.kind).map_err(|e| Refused::NotRead {
                says: e.to_string(),
                hint: e.hint().to_owned(),
            })?;
        if let Some(k) = there {
            let r = &mut table.readings[k];
            if r.value == value && r.written == written {
                return Ok(());
            }
            (r.value, r.written) = (value, written);
        } else {
            let several = table.readings.iter().any(|r| !r.opening.is_empty());
            let new = HandReading {
                opening: if several {
                    opening.id.0.clone()
                } else {
                    String::new()
                },
                kind: of.kind,
                from: of.from.clone(),
                to: of.to.clone(),
                value,
                give_or_take: None,
                instrument: String::new(),
                operator: String::new(),
                station: of.station.clone(),
                pointers_mm: None,
                written,
                line: 0,
                note: String::new(),
            };
            // Beside its repeats, else at the end.
            let next = held.last().map_or(table.readings.len(), |k| k + 1);
            table.readings.insert(next, new);
        }
    }
    stand_in_job(table);
    Ok(())
}
