//! Two jobs made one.

use record::{Job, PartId};

/// Both jobs as one: the second's names get its car in front, parts of one name are one part, and what is allowed is what the
/// first says. Paths stay as they are.
///
/// `cars`: what the two are called; visits of either then belong to that car.
pub fn together(first: &Job, second: &Job, cars: [&str; 2]) -> Job {
    let mut out = first.clone();
    let tag = |name: &str| format!("{}: {name}", cars[1]);
    for v in &mut out.visits {
        cars[0].clone_into(&mut v.car);
    }
    out.cars.truncate(1);
    for c in &mut out.cars {
        cars[0].clone_into(&mut c.name);
    }
    let mut second = second.clone();
    second.cars.truncate(1);
    for c in &mut second.cars {
        cars[1].clone_into(&mut c.name);
    }
    for v in &mut second.visits {
        v.id.0 = tag(&v.id.0);
        cars[1].clone_into(&mut v.car);
    }
    for s in &mut second.scans {
        s.id.0 = tag(&s.id.0);
        s.visit.0 = tag(&s.visit.0);
    }
    for h in &mut second.hand {
        h.id.0 = tag(&h.id.0);
        h.visit.0 = tag(&h.visit.0);
    }
    for o in &mut second.openings {
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
    let mut compares = second.compares.clone();
    for c in &mut compares {
        c.id.0 = tag(&c.id.0);
        c.a.0 = tag(&c.a.0);
        if let Some(b) = &mut c.b {
            b.0 = tag(&b.0);
        }
        c.part = part_of(&c.part);
    }
    let own: Vec<record::Part> = second
        .choices
        .parts
        .iter()
        .filter(|p| part_of(&p.id).0 == tag(&p.id.0))
        .map(|p| record::Part {
            id: PartId(tag(&p.id.0)),
            ..p.clone()
        })
        .collect();
    out.cars.extend(second.cars);
    out.visits.extend(second.visits);
    out.scans.extend(second.scans);
    out.hand.extend(second.hand);
    out.openings.extend(second.openings);
    out.compares.extend(compares);
    out.choices.parts.extend(own);
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
