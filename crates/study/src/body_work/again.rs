//! The openings after beside those before, with the comparisons they take part in.

use record::{
    BodyWork, Compare, CompareId, Job, Opening, OpeningAfter, OpeningId, PartId, Relation, Scans,
    WorkFound,
};

use crate::propose::{Across, carried};

/// The comparison of an opening with itself after the work.
pub(super) fn twin_id(before: &OpeningId) -> CompareId {
    CompareId(format!("{before}, before and after"))
}

/// The opening of the scan from after that is called like one of the scan from before.
fn twin<'j>(job: &'j Job, work: &BodyWork, before: &Opening) -> Option<&'j Opening> {
    job.openings.iter().find(|o| {
        o.scan == work.after
            && o.side == before.side
            && o.name == before.name
            && o.repeat_of.is_none()
    })
}

/// The openings that the scan from before shows.
fn shown<'j>(job: &'j Job, work: &'j BodyWork) -> impl Iterator<Item = &'j Opening> {
    let all = job.openings.iter();
    all.filter(|o| o.scan == work.before && o.repeat_of.is_none())
}

/// Parts made for an opening; none where it stands in no comparison.
fn parts_of(job: &Job, id: &OpeningId) -> Vec<PartId> {
    let mut parts: Vec<PartId> = Vec::new();
    for c in &job.compares {
        if (c.a == *id || c.b.as_ref() == Some(id)) && !parts.contains(&c.part) {
            parts.push(c.part.clone());
        }
    }
    parts
}

/// Adds the comparison of each opening picked in both scans with itself: it tells how the scans lie.
pub(super) fn compare_twins(job: &mut Job, work: &BodyWork) {
    let found: Vec<Compare> = shown(job, work)
        .filter_map(|o| {
            let after = twin(job, work, o)?;
            Some(Compare {
                id: twin_id(&o.id),
                a: o.id.clone(),
                b: Some(after.id.clone()),
                relation: Relation::Same,
                part: parts_of(job, &o.id).into_iter().next()?,
            })
        })
        .collect();
    job.compares.extend(found);
}

/// The job with every opening after the work, picked or carried over, and its comparisons; the openings that were added.
pub(super) fn with_openings_after(
    job: &Job,
    scans: &Scans,
    works: &mut [WorkFound],
) -> (Job, Vec<Opening>) {
    let mut wider = job.clone();
    let mut added = Vec::new();
    for found in works.iter_mut() {
        let work = found.work.clone();
        for before in shown(job, &work) {
            let mut after = OpeningAfter {
                before: before.id.clone(),
                after: None,
                name: before.name.clone(),
                carried: false,
                lost: Vec::new(),
                touched: false,
                same: Vec::new(),
                again: Vec::new(),
            };
            if let Some(laid) = &found.laid {
                let reached = |t: &record::Touched| t.opening == before.id;
                after.touched = laid.areas.iter().any(|a| a.touches.iter().any(reached));
                let across = Across::rigid(&laid.before_from_after.inverse(), 0.9);
                if let Some(own) = twin(job, &work, before) {
                    after.after = Some(own.id.clone());
                } else if let Some(scan) = scans.get(&work.after) {
                    let made = carried(before, &across, Relation::Same, (&work.after, scan));
                    after.carried = true;
                    after.lost = made.lost;
                    let o = Opening {
                        id: OpeningId(format!("{}, after", before.id)),
                        sureness: None,
                        ..made.opening
                    };
                    if before.edge.is_none() || o.edge.is_some() {
                        after.after = Some(o.id.clone());
                        wider.openings.push(o.clone());
                        added.push(o);
                    }
                }
            }
            if let Some(id) = after.after.clone() {
                compare_again(job, &mut wider, before, &id, &mut after);
            }
            found.openings.push(after);
        }
    }
    name_apart(job, &mut wider, works);
    (wider, added)
}

/// Before against after for every part, and every comparison once more with the opening after.
fn compare_again(
    job: &Job,
    wider: &mut Job,
    before: &Opening,
    id: &OpeningId,
    after: &mut OpeningAfter,
) {
    for (k, part) in parts_of(job, &before.id).into_iter().enumerate() {
        let mut name = twin_id(&before.id);
        if k > 0 {
            name.0 += &format!(", {part}");
        }
        after.same.push(name.clone());
        wider.compares.push(Compare {
            id: name,
            a: before.id.clone(),
            b: Some(id.clone()),
            relation: Relation::Same,
            part,
        });
    }
    for c in &job.compares {
        let is_a = c.a == before.id;
        if !is_a && c.b.as_ref() != Some(&before.id) || c.relation == Relation::Same {
            continue;
        }
        let name = CompareId(format!("{}, after", c.id));
        after.again.push([c.id.clone(), name.clone()]);
        let (a, b) = if is_a {
            (id.clone(), c.b.clone())
        } else {
            (c.a.clone(), Some(id.clone()))
        };
        // Both sides may have been worked: the later one takes the place of the earlier in what is there.
        match wider.compares.iter_mut().find(|w| w.id == name) {
            Some(w) if is_a => w.a = a,
            Some(w) => w.b = b,
            None => wider.compares.push(Compare {
                id: name,
                a,
                b,
                ..c.clone()
            }),
        }
    }
}

/// Openings before and after are called so, or both would be one in sentences.
fn name_apart(job: &Job, wider: &mut Job, works: &[WorkFound]) {
    for after in works.iter().flat_map(|w| &w.openings) {
        let Some(id) = &after.after else { continue };
        for o in &mut wider.openings {
            let own = job.openings.iter().find(|j| j.id == o.id);
            let name = own.map_or(&after.name, |j| &j.name);
            if o.id == after.before {
                o.name = format!("{name} before");
            } else if o.id == *id {
                o.name = format!("{name} after");
            }
        }
    }
}
