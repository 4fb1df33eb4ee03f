//! A job, or a pair of openings, that begins with tape and protractor.

use std::path::Path;

use record::{
    Compare, CompareId, HandKind, HandReading, HandTable, Measured, Opening, OpeningId, PartId,
    Relation, ScanId, Side, VisitId,
};
use study::propose::starting_part;

use super::Editor;
use super::bring_in::{FIRST_VISIT, first_visit};
use crate::command::Command;
use crate::names::free_name;
use crate::refused::Refused;

impl Editor {
    /// Begins a left and a right opening measured by hand, as one step of undo: their tables with the points of a field sheet
    /// of any opening, the comparison, and a part of starting values. Gives the table of the left one.
    ///
    /// # Errors
    /// If the job does not allow it.
    pub fn begin_by_hand(&mut self) -> Result<ScanId, Refused> {
        let job = self.document.job();
        let taken = |n: &str| {
            let tables = job.hand.iter().map(|h| &h.id.0);
            let scans = job.scans.iter().map(|s| &s.id.0);
            let openings = job.openings.iter().map(|o| &o.id.0);
            tables.chain(scans).chain(openings).any(|k| k == n)
        };
        let part = free_name("part", |n| job.choices.parts.iter().any(|p| p.id.0 == n));
        let number = job.choices.parts.len() + 1;
        let ids = ["left", "right"].map(|side| free_name(&format!("{side}-by-hand"), taken));
        let compare = Compare {
            id: CompareId(free_name("opening", |n| {
                job.compares.iter().any(|c| c.id.0 == n)
            })),
            a: OpeningId(ids[0].clone()),
            b: Some(OpeningId(ids[1].clone())),
            relation: Relation::Mirrored,
            part: PartId(part.clone()),
        };
        let mut any = record::Job {
            compares: vec![compare.clone()],
            ..record::Job::default()
        };
        let sides = [Side::Left, Side::Right];
        for (id, side) in ids.iter().zip(sides) {
            let name = format!("Opening, {}", word(side));
            any.openings.push(opening(id, &name, side));
        }
        let plans = study::field_plans(&any, &Measured::default());
        let (visit, mut commands) = self.visit_for_hand();
        for (o, plan) in any.openings.iter().zip(&plans) {
            commands.push(Command::AddHand(Box::new(table(
                &o.id.0,
                &visit,
                formats::hand_words(plan),
            ))));
            commands.push(Command::AddOpening(Box::new(o.clone())));
        }
        let part_name = format!("Part {number}");
        commands.push(Command::AddPart(Box::new(starting_part(
            PartId(part),
            part_name,
        ))));
        commands.push(Command::AddCompare(compare));
        let name = "begin by hand".to_owned();
        self.apply(&Command::Several { name, commands })?;
        Ok(ScanId(ids[0].clone()))
    }

    /// Takes a file in as a table of readings by hand, with an opening of its own, as one step of undo. A lone opening of
    /// the other side becomes its partner.
    ///
    /// # Errors
    /// If the table cannot be read, or the job does not allow it.
    pub(super) fn bring_in_by_hand(&mut self, file: &Path) -> Result<ScanId, Refused> {
        let unread = |e: formats::Error| Refused::NotRead {
            says: e.to_string(),
            hint: e.hint().to_owned(),
        };
        let readings = formats::read_hand(file).map_err(unread)?;
        let hash = formats::file_hash(file, &|| true).map_err(unread)?;
        let job = self.document.job();
        let stem = file.file_stem().map_or_else(
            || "by-hand".to_owned(),
            |s| s.to_string_lossy().into_owned(),
        );
        let taken = |n: &str| {
            let tables = job.hand.iter().map(|h| &h.id.0);
            let scans = job.scans.iter().map(|s| &s.id.0);
            let openings = job.openings.iter().map(|o| &o.id.0);
            tables.chain(scans).chain(openings).any(|k| k == n)
        };
        let id = free_name(&stem, taken);
        let side = side_of(&stem, &readings);
        let new = opening(&id, &id.replace(['-', '_'], " "), side);
        let (visit, mut commands) = self.visit_for_hand();
        commands.push(Command::AddHand(Box::new(HandTable {
            path: Some(file.to_owned()),
            hash,
            ..table(&id, &visit, readings)
        })));
        // The only opening of the other side that stands alone is its partner.
        let other = match side {
            Side::Left => Some(Side::Right),
            Side::Right => Some(Side::Left),
            Side::Centre | Side::NotSaid => None,
        };
        let compared = |o: &Opening| {
            let both = |c: &Compare| c.b.is_some() && (c.a == o.id || c.b.as_ref() == Some(&o.id));
            job.compares.iter().any(both)
        };
        let mut alone = job
            .openings
            .iter()
            .filter(|o| Some(o.side) == other && !compared(o));
        let partner = alone.next().filter(|_| alone.next().is_none());
        let pair = partner.map(|p| super::pairing::of(job, p, &new));
        commands.push(Command::AddOpening(Box::new(new)));
        commands.extend(pair.into_iter().flatten());
        let name = format!("bring in {id}");
        self.apply(&Command::Several { name, commands })?;
        Ok(ScanId(id))
    }

    /// The visit readings by hand belong to, and what adds it where there is none.
    fn visit_for_hand(&self) -> (VisitId, Vec<Command>) {
        let job = self.document.job();
        if let Some(last) = job.visits.last() {
            return (last.id.clone(), Vec::new());
        }
        let add = Command::AddVisit(Box::new(first_visit()));
        (FIRST_VISIT.into(), vec![add])
    }
}

fn word(side: Side) -> &'static str {
    match side {
        Side::Left => "left",
        Side::Right => "right",
        Side::Centre => "across",
        Side::NotSaid => "side not said",
    }
}

fn table(id: &str, visit: &VisitId, readings: Vec<HandReading>) -> HandTable {
    HandTable {
        id: ScanId(id.to_owned()),
        visit: visit.clone(),
        path: None,
        hash: None,
        flat: false,
        readings,
        instruments: Vec::new(),
        unread: None,
        note: String::new(),
    }
}

fn opening(id: &str, name: &str, side: Side) -> Opening {
    Opening {
        name: name.to_owned(),
        ..Opening::unpicked(id.into(), id.into(), side)
    }
}

/// By the name of the file, or by what all rows say.
fn side_of(stem: &str, readings: &[HandReading]) -> Side {
    let lower = stem.to_lowercase();
    let words: Vec<&str> = lower.split(|c: char| !c.is_alphanumeric()).collect();
    let values = || readings.iter().filter(|r| r.kind != HandKind::Edge);
    let says = |w: &str| {
        words.contains(&w)
            || values().next().is_some() && values().all(|r| r.opening.eq_ignore_ascii_case(w))
    };
    if says("left") {
        Side::Left
    } else if says("right") {
        Side::Right
    } else if says("centre") || says("center") {
        Side::Centre
    } else {
        Side::NotSaid
    }
}
