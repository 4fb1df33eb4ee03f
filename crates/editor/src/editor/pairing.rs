//! Two openings become a pair: by hand, where no search proposed it.

use record::{Compare, CompareId, Job, Opening, OpeningId, PartId, Relation, Side};
use study::propose::starting_part;

use super::Editor;
use crate::command::{Command, CompareChange};
use crate::names::free_name;
use crate::refused::Refused;

impl Editor {
    /// Compares two openings as one step of undo. A comparison that has one of them and no other side yet takes the other
    /// in; else one begins, with a part of starting values whose note asks for the agreed ones. Left and right are
    /// compared mirrored, all else like with like; what stands alone until then stays as it is.
    ///
    /// # Errors
    /// If there is no such opening, both are one, or both are compared with each other already.
    pub fn pair(&mut self, one: &OpeningId, other: &OpeningId) -> Result<(), Refused> {
        let job = self.document.job();
        let find = |id: &OpeningId| {
            let found = job.openings.iter().find(|o| o.id == *id);
            found.ok_or_else(|| Refused::NoSuch {
                what: "opening",
                name: id.to_string(),
            })
        };
        let (one, other) = (find(one)?, find(other)?);
        let together = |c: &Compare| {
            c.b.as_ref()
                .is_some_and(|b| has(&c.a, b, &one.id, &other.id))
        };
        if one.id == other.id || job.compares.iter().any(together) {
            return Err(Refused::NotMeasured {
                says: format!("{} and {} are no new pair", one.id, other.id),
                hint: "Choose an opening that this one is not compared with.".to_owned(),
            });
        }
        let commands = of(job, one, other);
        let name = format!("compare {} with {}", one.id, other.id);
        self.apply(&Command::Several { name, commands })
    }
}

fn has(a: &OpeningId, b: &OpeningId, one: &OpeningId, other: &OpeningId) -> bool {
    (a, b) == (one, other) || (a, b) == (other, one)
}

/// The steps that make a pair of two openings of a job, the second perhaps not in it yet.
pub(super) fn of(job: &Job, one: &Opening, other: &Opening) -> Vec<Command> {
    let (a, b) = if one.side == Side::Right || other.side == Side::Left {
        (other, one)
    } else {
        (one, other)
    };
    let relation = match (a.side, b.side) {
        (Side::Left, Side::Right) => Relation::Mirrored,
        _ => Relation::Same,
    };
    // One that waits for its other side takes it; what waits for neither stays.
    let waiting = job
        .compares
        .iter()
        .find(|c| c.b.is_none() && c.relation != Relation::Itself && (c.a == a.id || c.a == b.id));
    if let Some(c) = waiting {
        let change = |change| Command::Compare {
            compare: c.id.clone(),
            change,
        };
        let pair = CompareChange::Openings(a.id.clone(), Some(b.id.clone()));
        let mut steps = vec![change(pair)];
        if c.relation != relation {
            steps.push(change(CompareChange::Relation(
                relation,
                Some(b.id.clone()),
            )));
        }
        return steps;
    }
    let part = free_name("part", |n| job.choices.parts.iter().any(|p| p.id.0 == n));
    let part = PartId(part);
    let id = free_name(&a.id.0, |n| job.compares.iter().any(|c| c.id.0 == n));
    vec![
        Command::AddPart(Box::new(starting_part(part.clone(), a.name.clone()))),
        Command::AddCompare(Compare {
            id: CompareId(id),
            a: a.id.clone(),
            b: Some(b.id.clone()),
            relation,
            part,
        }),
    ]
}
