//! Two jobs made one, or one made ready to be taken into the other.

use record::{Job, PartId};

/// Both jobs as one: the second's names get its car in front, parts of one name are one part, and what is allowed is what the
/// first says. Paths stay as they are.
///
/// `cars`: what the two are called; visits of either then belong to that car.
pub fn together(first: &Job, second: &Job, cars: [&str; 2]) -> Job {
    let mut out = first.clone();
    for v in &mut out.visits {
        cars[0].clone_into(&mut v.car);
    }
    out.cars.truncate(1);
    for c in &mut out.cars {
        cars[0].clone_into(&mut c.name);
    }
    let mut second = named_apart(second, first, cars[1]);
    second.cars.truncate(1);
    for c in &mut second.cars {
        cars[1].clone_into(&mut c.name);
    }
    for v in &mut second.visits {
        cars[1].clone_into(&mut v.car);
    }
    out.cars.extend(second.cars);
    out.visits.extend(second.visits);
    out.scans.extend(second.scans);
    out.hand.extend(second.hand);
    out.openings.extend(second.openings);
    out.compares.extend(second.compares);
    out.choices.parts.extend(second.choices.parts);
    // Joins, places, sections and what hangs on them are asked for by other commands.
    out.joins.clear();
    out.taped.clear();
    out.places.clear();
    out.places_table = None;
    out.gaps.clear();
    out.hinges.clear();
    out.body_work.clear();
    out
}

/// The second job under names that do not meet those of the first: each gets `before` and a colon in front. Of its parts only
/// those are left that the first does not have, by name or else by id; its comparisons are for the first's parts where it does.
/// Cars keep their names; joins, places, gaps, hinges and body work are left out.
pub fn named_apart(second: &Job, first: &Job, before: &str) -> Job {
    let tag = |name: &str| format!("{before}: {name}");
    let mut out = Job {
        title: second.title.clone(),
        cars: second.cars.clone(),
        visits: second.visits.clone(),
        scans: second.scans.clone(),
        hand: second.hand.clone(),
        openings: second.openings.clone(),
        compares: second.compares.clone(),
        ..Job::default()
    };
    for v in &mut out.visits {
        v.id.0 = tag(&v.id.0);
    }
    for s in &mut out.scans {
        s.id.0 = tag(&s.id.0);
        s.visit.0 = tag(&s.visit.0);
    }
    for h in &mut out.hand {
        h.id.0 = tag(&h.id.0);
        h.visit.0 = tag(&h.visit.0);
    }
    for o in &mut out.openings {
        o.id.0 = tag(&o.id.0);
        o.scan.0 = tag(&o.scan.0);
        if let Some(r) = &mut o.repeat_of {
            r.0 = tag(&r.0);
        }
    }
    // A part is known by its name, then by its id.
    let part_of = |id: &PartId| -> PartId {
        let theirs = second.choices.parts.iter().find(|p| p.id == *id);
        let ours = theirs.and_then(|t| first.choices.parts.iter().find(|p| p.name == t.name));
        let by_id = || first.choices.parts.iter().find(|p| p.id == *id);
        ours.or_else(by_id)
            .map_or_else(|| PartId(tag(&id.0)), |p| p.id.clone())
    };
    for c in &mut out.compares {
        c.id.0 = tag(&c.id.0);
        c.a.0 = tag(&c.a.0);
        if let Some(b) = &mut c.b {
            b.0 = tag(&b.0);
        }
        c.part = part_of(&c.part);
    }
    out.choices.parts = second
        .choices
        .parts
        .iter()
        .filter(|p| part_of(&p.id).0 == tag(&p.id.0))
        .map(|p| record::Part {
            id: PartId(tag(&p.id.0)),
            ..p.clone()
        })
        .collect();
    out
}
