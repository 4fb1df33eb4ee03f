//! Two visits and two cars: the job of the other one taken in, and both held against each other while somebody looks.

use std::path::Path;
use std::sync::Arc;

use record::{BodyWork, Car, Job, ScanId, ScanRef, Side, Visit};

use super::Editor;
use super::brought::BroughtIn;
use crate::command::{Command, ScanChange, VisitChange};
use crate::event::{Event, Lane};
use crate::lanes::Mailbox;
use crate::lanes::two::{Two, TwoFound, TwoKey, TwoWish};
use crate::paths;
use crate::refused::Refused;

/// So many answers are kept, the latest: what is undone, or looked at in turn, is there at once.
const KEPT: usize = 6;

/// What is wanted of the lane, and what is on its way.
pub(super) struct Holding {
    pub wishes: Arc<Mailbox<Option<TwoWish>>>,
    /// What somebody looks at.
    wanted: Option<Two>,
    called_off: bool,
    asked: Option<TwoKey>,
}

impl Holding {
    pub(super) fn new() -> Self {
        Self {
            wishes: Mailbox::new(),
            wanted: None,
            called_off: false,
            asked: None,
        }
    }

    /// The lane ended in the midst of it: nothing is worked out until it is asked for again.
    pub(super) fn broke(&mut self) {
        self.wanted = None;
        self.asked = None;
        self.called_off = true;
    }
}

impl Editor {
    /// Says what is looked at, or that nothing is any more. While something is, it is worked out whenever the job changed; it comes as
    /// [`Event::Two`] and stands in [`crate::Document::two`].
    pub fn want_two(&mut self, wanted: Option<Two>) {
        if wanted.is_none() && self.holding.asked.take().is_some() {
            // Nobody looks at what is under way any more.
            self.holding.wishes.put(None);
            self.document.work.remove(&Lane::Two);
        }
        self.holding.wanted = wanted;
        self.holding.called_off = false;
        self.wish_two();
    }

    /// Calls off what is under way; nothing is worked out until [`Editor::want_two`].
    pub fn call_off_two(&mut self) {
        self.holding.wanted = None;
        self.holding.called_off = true;
        self.holding.asked = None;
        self.holding.wishes.put(None);
        self.document.work.remove(&Lane::Two);
    }

    /// What is looked at, as said last.
    pub fn wanted_two(&self) -> Option<&Two> {
        self.holding.wanted.as_ref()
    }

    /// Whether it was called off and nothing came since.
    pub fn two_is_called_off(&self) -> bool {
        self.holding.called_off
    }

    /// Whether something was asked for and did not come yet.
    pub fn two_is_coming(&self) -> bool {
        self.holding.asked.is_some()
    }

    /// Asks for what is wanted, if it is not there and not on its way.
    pub(super) fn wish_two(&mut self) {
        let basis = self.basis.as_ref().filter(|b| b.serial == self.serial);
        let measured = basis.and(self.asked);
        self.document.two_basis = measured;
        let job = Arc::clone(self.document.job());
        for (_, found) in &mut self.document.two {
            found.show_in(job.units);
        }
        let (Some(measured), Some(of)) = (measured, &self.holding.wanted) else {
            return;
        };
        let key = TwoKey::of(&job, of, measured);
        let nothing = *of == Two::Visits && job.body_work.is_empty();
        let here = self.document.two.iter().any(|(k, _)| *k == key);
        if nothing || here || self.holding.asked.as_ref() == Some(&key) {
            return;
        }
        self.holding.asked = Some(key.clone());
        self.holding.wishes.put(Some(TwoWish {
            key,
            job,
            scans: self.document.scans.clone(),
            findings: self.reading_findings(),
            draws: self.draws,
        }));
    }

    pub(super) fn two_came(&mut self, key: TwoKey, mut found: TwoFound) {
        if self.holding.asked.as_ref() == Some(&key) {
            self.holding.asked = None;
        }
        found.show_in(self.document.job().units);
        let held = &mut self.document.two;
        held.retain(|(k, _)| *k != key);
        held.insert(0, (key, found));
        held.truncate(KEPT);
        self.events.push(Event::Two);
    }

    /// Takes the job of another car into this one: its visits, scans, openings, comparisons, and the parts this one does not
    /// have, and what else it says of its scans. What is allowed for a part of one name is what this job says. One step of undo.
    ///
    /// # Errors
    /// If the job cannot be read, holds several cars, or has nothing in it.
    pub fn bring_in_car(&mut self, path: &Path) -> Result<BroughtIn, Refused> {
        let theirs = read_other(path)?;
        let ours = Arc::clone(self.document.job());
        let stem = stem_of(path);
        let other = match theirs.cars.as_slice() {
            [] => stem.clone(),
            [one] => one.name.clone(),
            _ => {
                return Err(Refused::NotRead {
                    says: format!("{stem} holds {} cars", theirs.cars.len()),
                    hint: "Bring in a job of one car.".to_owned(),
                });
            }
        };
        let mut commands = Vec::new();
        // This job's own car gets a name, if it has none: the two must be told apart.
        if ours.cars.is_empty() {
            let own = self.document.path().map(stem_of);
            let own = own.unwrap_or_else(|| "first car".to_owned());
            commands.push(Command::AddCar(car(&own)));
        }
        let own = ours.cars.first().map(|c| c.name.clone());
        let own = own.or_else(|| self.document.path().map(stem_of));
        let own = own.unwrap_or_else(|| "first car".to_owned());
        for v in ours.visits.iter().filter(|v| v.car.is_empty()) {
            commands.push(Command::visit(v.id.clone(), VisitChange::Car(own.clone())));
        }
        let taken = |name: &str| name == own || ours.cars.iter().any(|c| c.name == name);
        let other = free_name(&[&other, &stem], &taken);
        commands.push(Command::AddCar(car(&other)));
        let mut coming = study::named_apart(&theirs, &ours, &other);
        for v in &mut coming.visits {
            v.car.clone_from(&other);
        }
        commands.extend(visits_of(&coming));
        commands.extend(openings_of(&coming));
        let parts = coming.choices.parts.iter().cloned();
        commands.extend(parts.map(|p| Command::AddPart(Box::new(p))));
        commands.extend(coming.compares.into_iter().map(Command::AddCompare));
        let chosen = theirs.choices.chosen.iter();
        commands.extend(chosen.map(|(compare, option, note)| Command::Choose {
            compare: format!("{other}: {compare}").as_str().into(),
            option: *option,
            note: note.clone(),
        }));
        let mut beside = super::brought::beside(&theirs, &ours, &other);
        commands.append(&mut beside.commands);
        commands.push(Command::BodyWork(beside.works));
        self.apply(&Command::Several {
            name: format!("bring in the car {other}"),
            commands,
        })?;
        Ok(BroughtIn {
            called: other,
            together: 0,
            with: beside.with,
            left_out: beside.left_out,
        })
    }

    /// Takes the job of another visit to the same car into this one: its visit, scans and openings, and what else it says of its
    /// scans. A scan of a side that this job shows, too, is said to be that side after body work, and this job's latest to be the one
    /// before. One step of undo.
    ///
    /// # Errors
    /// If the job cannot be read, is of another car, or has nothing in it.
    pub fn bring_in_visit(&mut self, path: &Path) -> Result<BroughtIn, Refused> {
        let theirs = read_other(path)?;
        let ours = Arc::clone(self.document.job());
        let stem = stem_of(path);
        let car = ours
            .visits
            .last()
            .map(|v| v.car.clone())
            .unwrap_or_default();
        let their_car = theirs.visits.first().map(|v| v.car.clone());
        let their_car = their_car.unwrap_or_default();
        if !car.is_empty() && !their_car.is_empty() && car != their_car {
            return Err(Refused::NotRead {
                says: format!("{stem} is of \"{their_car}\", this job of \"{car}\""),
                hint: "Bring it in as the other car, or call the car by one name in both."
                    .to_owned(),
            });
        }
        let taken = |name: &str| ours.visits.iter().any(|v| v.id.0 == name);
        let called = match theirs.visits.as_slice() {
            [one] => one.id.0.clone(),
            _ => stem.clone(),
        };
        let called = free_name(&[&called, &stem], &taken);
        let mut coming = study::named_apart(&theirs, &ours, &called);
        if let [one] = coming.visits.as_mut_slice() {
            let was = std::mem::replace(&mut one.id, called.as_str().into());
            let scans = coming.scans.iter_mut().map(|s| &mut s.visit);
            let hand = coming.hand.iter_mut().map(|h| &mut h.visit);
            for visit in scans.chain(hand).filter(|v| **v == was) {
                visit.clone_from(&one.id);
            }
        }
        for v in &mut coming.visits {
            v.car.clone_from(&car);
        }
        let mut beside = super::brought::beside(&theirs, &ours, &called);
        let works = &mut beside.works;
        let before = works.len();
        for after in &coming.scans {
            let side = side_of(&coming, after);
            let of_car = |s: &&ScanRef| {
                let visit = ours.visits.iter().find(|v| v.id == s.visit);
                visit.is_some_and(|v| v.car == car)
            };
            let mut latest_first = ours.scans.iter().rev().filter(of_car);
            let earlier = latest_first.find(|s| side != Side::NotSaid && side_of(&ours, s) == side);
            if let Some(earlier) = earlier {
                let both = work(works, side, &earlier.id, &after.id);
                works.push(both);
            }
        }
        let together = works.len() - before;
        if !theirs.compares.is_empty() {
            beside.left_out.push(
                "Its comparisons and choices were left out: the answer is that of this job, before and after.".to_owned(),
            );
        }
        let mut commands: Vec<Command> = visits_of(&coming).collect();
        commands.extend(openings_of(&coming));
        commands.append(&mut beside.commands);
        commands.push(Command::BodyWork(beside.works));
        self.apply(&Command::Several {
            name: format!("bring in the visit {called}"),
            commands,
        })?;
        Ok(BroughtIn {
            called,
            together,
            with: beside.with,
            left_out: beside.left_out,
        })
    }

    /// Says that two scans show one side, before and after body work. Where both are of one visit, the later one gets a visit of its
    /// own, with the state of the body still to be said.
    ///
    /// # Errors
    /// If the job does not allow it, as for one scan twice or two cars.
    pub fn put_together(&mut self, before: &ScanId, after: &ScanId) -> Result<(), Refused> {
        let job = Arc::clone(self.document.job());
        let scan = |id: &ScanId| job.scans.iter().find(|s| s.id == *id);
        let (Some(a), Some(b)) = (scan(before), scan(after)) else {
            return Err(Refused::NoSuch {
                what: "scan",
                name: after.0.clone(),
            });
        };
        let mut commands = Vec::new();
        if a.visit == b.visit && before != after {
            let taken = |name: &str| job.visits.iter().any(|v| v.id.0 == name);
            let visit = Visit {
                id: free_name(&["second visit", "later visit"], &taken)
                    .as_str()
                    .into(),
                car: job
                    .visits
                    .iter()
                    .find(|v| v.id == a.visit)
                    .map(|v| v.car.clone())
                    .unwrap_or_default(),
                ..super::bring_in::first_visit()
            };
            let to = ScanChange::Visit(visit.id.clone());
            commands.push(Command::AddVisit(Box::new(visit)));
            commands.push(Command::scan(after.clone(), to));
        }
        let side = side_of(&job, a);
        let mut works = job.body_work.clone();
        works.push(work(&works, side, before, after));
        commands.push(Command::BodyWork(works));
        self.apply(&Command::Several {
            name: format!("{before} before, {after} after"),
            commands,
        })
    }
}

fn car(name: &str) -> Car {
    Car {
        name: name.to_owned(),
        note: String::new(),
    }
}

fn stem_of(path: &Path) -> String {
    path.file_stem().map_or_else(
        || path.display().to_string(),
        |s| s.to_string_lossy().into_owned(),
    )
}

/// The first of the names that is free; else the last with a number behind it.
fn free_name(names: &[&str], taken: &dyn Fn(&str) -> bool) -> String {
    let plain = names.iter().map(|n| (*n).to_owned());
    let last = names.last().copied().unwrap_or_default();
    let numbered = (2..).map(|k| format!("{last} {k}"));
    let mut all = plain.chain(numbered);
    all.find(|n| !n.is_empty() && !taken(n)).unwrap_or_default()
}

/// The other job, with paths as seen from here.
fn read_other(path: &Path) -> Result<Job, Refused> {
    let is_job = path
        .extension()
        .is_some_and(|e| e.eq_ignore_ascii_case("ron"));
    if !is_job && !path.is_dir() && path.exists() {
        return Err(Refused::NotRead {
            says: format!("{} is no job file", path.display()),
            hint: "Give the file the other job was saved to; it ends in .ron. A scan comes in on the page Bring in, once this job has its visit.".to_owned(),
        });
    }
    if path.is_dir() {
        return Err(Refused::NotRead {
            says: format!("{} is a folder", path.display()),
            hint: "Give the job file in it, which ends in .ron.".to_owned(),
        });
    }
    let job = formats::read_job(path).map_err(|e| Refused::NotRead {
        says: e.to_string(),
        hint: e.hint().to_owned(),
    })?;
    if let Some(problem) = formats::check_job(&job).into_iter().next() {
        return Err(Refused::Wrong(problem));
    }
    if job.openings.is_empty() && job.scans.is_empty() {
        return Err(Refused::NotRead {
            says: format!("{} holds no scan and no opening", stem_of(path)),
            hint: "Bring scans into it and name its openings first.".to_owned(),
        });
    }
    let path = std::path::absolute(path).unwrap_or_else(|_| path.to_owned());
    Ok(paths::full(job, path.parent()))
}

fn visits_of(coming: &Job) -> impl Iterator<Item = Command> + '_ {
    let visits = coming.visits.iter().cloned();
    let scans = coming.scans.iter().cloned();
    let hand = coming.hand.iter().cloned();
    visits
        .map(|v| Command::AddVisit(Box::new(v)))
        .chain(scans.map(|s| Command::AddScan(Box::new(s))))
        .chain(hand.map(|h| Command::AddHand(Box::new(h))))
}

fn openings_of(coming: &Job) -> impl Iterator<Item = Command> + '_ {
    let all = coming.openings.iter().cloned();
    all.map(|o| Command::AddOpening(Box::new(o)))
}

/// The side a scan shows: as said, or that of all openings named in it.
fn side_of(job: &Job, scan: &ScanRef) -> Side {
    if scan.side != Side::NotSaid {
        return scan.side;
    }
    let mut sides = job.openings.iter().filter(|o| o.scan == scan.id);
    let first = sides.next().map_or(Side::NotSaid, |o| o.side);
    if sides.all(|o| o.side == first) {
        first
    } else {
        Side::NotSaid
    }
}

/// A piece of body work between two scans, called by its side.
fn work(known: &[BodyWork], side: Side, before: &ScanId, after: &ScanId) -> BodyWork {
    let side = match side {
        Side::Left => "left side",
        Side::Right => "right side",
        Side::Centre => "middle",
        Side::NotSaid => "body work",
    };
    let taken = |name: &str| known.iter().any(|w| w.name == name);
    BodyWork {
        name: free_name(&[side, &format!("{before} to {after}")], &taken),
        before: before.clone(),
        after: after.clone(),
        worked: Vec::new(),
        start: None,
        most_mm: BodyWork::MOST_MM,
        note: String::new(),
    }
}
