//! Commands carried out on a job: pure, whole or not at all.

mod hand;
mod opening;
mod panels;
mod part;
mod place;
pub(crate) mod scan;

use std::collections::BTreeMap;

use formats::{Problem, check_job};
use record::{Job, Relation};

use crate::command::{Command, CompareChange};
use crate::refused::Refused;

/// The job after `command`; nothing else depends on anything but the two.
///
/// # Errors
/// If a name leads nowhere or is taken, or if the job would have something wrong that it did not have before.
pub(crate) fn apply(before: &Job, command: &Command) -> Result<Job, Refused> {
    let mut job = before.clone();
    carry_out(&mut job, command)?;
    match new_problem(before, &job) {
        Some(problem) => Err(Refused::Wrong(problem)),
        None => Ok(job),
    }
}

/// The first thing wrong with `after` that was not wrong with `before`.
fn new_problem(before: &Job, after: &Job) -> Option<Problem> {
    let mut known: BTreeMap<(String, String), usize> = BTreeMap::new();
    for p in check_job(before) {
        *known.entry((p.place, p.says)).or_default() += 1;
    }
    check_job(after).into_iter().find(
        |p| match known.get_mut(&(p.place.clone(), p.says.clone())) {
            Some(left) if *left > 0 => {
                *left -= 1;
                false
            }
            _ => true,
        },
    )
}

fn carry_out(job: &mut Job, command: &Command) -> Result<(), Refused> {
    match command {
        Command::Title(to) => job.title.clone_from(to),
        Command::Note(to) => job.note.clone_from(to),
        Command::Seed(to) => job.seed = *to,
        Command::Show(to) => job.units = *to,
        Command::AddCar(car) => {
            free("car", &car.name, job.cars.iter().map(|c| c.name.as_str()))?;
            job.cars.push(car.clone());
        }
        Command::RemoveCar(name) => {
            let at = place("car", name, job.cars.iter().map(|c| c.name.as_str()))?;
            job.cars.remove(at);
        }
        Command::AddVisit(visit) => {
            free(
                "visit",
                &visit.id.0,
                job.visits.iter().map(|v| v.id.0.as_str()),
            )?;
            job.visits.push((**visit).clone());
        }
        Command::RemoveVisit(id) => {
            let at = place("visit", &id.0, job.visits.iter().map(|v| v.id.0.as_str()))?;
            job.visits.remove(at);
        }
        Command::Visit { visit, change } => scan::change_visit(job, visit, change)?,
        Command::AddScan(new) => {
            // Openings are in scans and hand tables alike.
            let scans = job.scans.iter().map(|s| s.id.0.as_str());
            let known = scans.chain(job.hand.iter().map(|h| h.id.0.as_str()));
            free("scan", &new.id.0, known)?;
            job.scans.push((**new).clone());
        }
        Command::RemoveScan(id) => scan::remove(job, id)?,
        Command::Scan { scan, change } => scan::change(job, scan, change)?,
        Command::AddHand(new) => hand::add(job, new)?,
        Command::RemoveHand(id) => hand::remove(job, id)?,
        Command::Hand { table, change } => hand::change(job, table, change)?,
        Command::AddPlaces(new) => job.places.extend(new.iter().cloned()),
        Command::ChangePlace { number, to } => place::change(job, *number, to)?,
        Command::RemovePlace(number) => place::remove(job, *number)?,
        Command::Joins(joins) => job.joins.clone_from(joins),
        Command::Taped(all) => job.taped.clone_from(all),
        Command::Gaps(all) => job.gaps.clone_from(all),
        Command::Hinges(all) => job.hinges.clone_from(all),
        Command::BodyWork(works) => job.body_work.clone_from(works),
        Command::Centreline(to) => job.centreline = (**to).clone(),
        Command::AddOpening(new) => {
            free(
                "opening",
                &new.id.0,
                job.openings.iter().map(|o| o.id.0.as_str()),
            )?;
            job.openings.push((**new).clone());
        }
        Command::RemoveOpening(id) => opening::remove(job, id)?,
        Command::Opening { opening, change } => opening::change(job, opening, change)?,
        Command::AddCompare(new) => {
            free(
                "comparison",
                &new.id.0,
                job.compares.iter().map(|c| c.id.0.as_str()),
            )?;
            job.compares.push(new.clone());
        }
        Command::RemoveCompare(id) => {
            let at = compare_at(job, id)?;
            job.compares.remove(at);
            job.choices.chosen.retain(|c| c.0 != *id);
        }
        Command::Compare { compare, change } => change_compare(job, compare, change)?,
        Command::AddPart(new) => {
            let known = job.choices.parts.iter().map(|p| p.id.0.as_str());
            free("part", &new.id.0, known)?;
            job.choices.parts.push((**new).clone());
        }
        Command::RemovePart(id) => part::remove(job, id)?,
        Command::Part { part, change } => part::change(job, part, change)?,
        Command::Choose {
            compare,
            option,
            note,
        } => {
            compare_at(job, compare)?;
            let chosen = (compare.clone(), *option, note.clone());
            match job.choices.chosen.iter_mut().find(|c| c.0 == *compare) {
                Some(before) => *before = chosen,
                None => job.choices.chosen.push(chosen),
            }
        }
        Command::Unchoose(id) => {
            compare_at(job, id)?;
            job.choices.chosen.retain(|c| c.0 != *id);
        }
        Command::Several { commands, .. } => {
            for c in commands {
                carry_out(job, c)?;
            }
        }
    }
    Ok(())
}

fn compare_at(job: &Job, id: &record::CompareId) -> Result<usize, Refused> {
    let known = job.compares.iter().map(|c| c.id.0.as_str());
    place("comparison", &id.0, known)
}

fn change_compare(
    job: &mut Job,
    id: &record::CompareId,
    change: &CompareChange,
) -> Result<(), Refused> {
    let at = compare_at(job, id)?;
    if let CompareChange::Rename(to) = change {
        let known = job.compares.iter().map(|c| c.id.0.as_str());
        rename_free("comparison", &id.0, &to.0, known)?;
        for c in job.choices.chosen.iter_mut().filter(|c| c.0 == *id) {
            c.0 = to.clone();
        }
    }
    let compare = &mut job.compares[at];
    match change {
        CompareChange::Rename(to) => compare.id = to.clone(),
        CompareChange::Openings(a, b) => (compare.a, compare.b) = (a.clone(), b.clone()),
        CompareChange::Relation(to, b) => {
            compare.relation = *to;
            compare.b = if *to == Relation::Itself {
                None
            } else {
                b.clone()
            };
        }
        CompareChange::Part(part) => compare.part = part.clone(),
    }
    Ok(())
}

/// The place of a name in a list.
fn place<'n>(
    what: &'static str,
    name: &str,
    mut known: impl Iterator<Item = &'n str>,
) -> Result<usize, Refused> {
    known
        .position(|k| k == name)
        .ok_or_else(|| Refused::NoSuch {
            what,
            name: name.to_owned(),
        })
}

/// Refuses a name that is taken.
fn free<'n>(
    what: &'static str,
    name: &str,
    mut known: impl Iterator<Item = &'n str>,
) -> Result<(), Refused> {
    if known.any(|k| k == name) {
        return Err(Refused::NameTaken {
            what,
            name: name.to_owned(),
        });
    }
    Ok(())
}

/// Refuses a new name that is taken by another.
fn rename_free<'n>(
    what: &'static str,
    from: &str,
    to: &str,
    known: impl Iterator<Item = &'n str>,
) -> Result<(), Refused> {
    if from == to {
        return Ok(());
    }
    free(what, to, known)
}
