//! Changes of openings.

use std::collections::BTreeSet;

use record::{FaceId, HoleId, Job, JunctionId, Opening, OpeningId};

use super::{free, panels, place, rename_free};
use crate::command::{FaceChange, HoleChange, JunctionChange, OpeningChange};
use crate::refused::Refused;

pub(super) fn remove(job: &mut Job, id: &OpeningId) -> Result<(), Refused> {
    let at = opening_at(job, id)?;
    let gone: Vec<_> = job
        .compares
        .iter()
        .filter(|c| c.a == *id)
        .map(|c| c.id.clone())
        .collect();
    job.compares.retain(|c| c.a != *id);
    job.choices.chosen.retain(|c| !gone.contains(&c.0));
    for c in job.compares.iter_mut().filter(|c| c.b.as_ref() == Some(id)) {
        c.b = None;
    }
    job.openings.remove(at);
    panels::remove_opening(job, id);
    repeats_stand_alone(job, id);
    drop_loose_fasteners(job);
    Ok(())
}

/// Of the repeats of an opening that is gone the first stands in its place.
fn repeats_stand_alone(job: &mut Job, gone: &OpeningId) {
    let mut first: Option<OpeningId> = None;
    for o in &mut job.openings {
        if o.repeat_of.as_ref() == Some(gone) {
            o.repeat_of.clone_from(&first);
            first.get_or_insert_with(|| o.id.clone());
        }
    }
}

fn opening_at(job: &Job, id: &OpeningId) -> Result<usize, Refused> {
    let known = job.openings.iter().map(|o| o.id.0.as_str());
    place("opening", &id.0, known)
}

/// Fasteners whose hole is in no opening of their part any more, where the part is compared at all.
fn drop_loose_fasteners(job: &mut Job) {
    let (compares, openings) = (&job.compares, &job.openings);
    for part in &mut job.choices.parts {
        let mine: Vec<_> = compares.iter().filter(|c| c.part == part.id).collect();
        if mine.is_empty() {
            continue;
        }
        let ids: Vec<&OpeningId> = mine
            .iter()
            .flat_map(|c| std::iter::once(&c.a).chain(&c.b))
            .collect();
        let holes: BTreeSet<&HoleId> = openings
            .iter()
            .filter(|o| ids.contains(&&o.id))
            .flat_map(|o| o.holes.iter().map(|h| &h.id))
            .collect();
        part.fasteners.retain(|f| holes.contains(&f.hole));
    }
}

pub(super) fn change(job: &mut Job, id: &OpeningId, change: &OpeningChange) -> Result<(), Refused> {
    let at = opening_at(job, id)?;
    match change {
        OpeningChange::Rename(to) => {
            let known = job.openings.iter().map(|o| o.id.0.as_str());
            rename_free("opening", &id.0, &to.0, known)?;
            for c in &mut job.compares {
                for o in std::iter::once(&mut c.a).chain(&mut c.b) {
                    if o == id {
                        *o = to.clone();
                    }
                }
            }
            panels::rename_opening(job, id, to);
            let repeats = job.openings.iter_mut().filter_map(|o| o.repeat_of.as_mut());
            for first in repeats.filter(|o| *o == id) {
                first.clone_from(to);
            }
            job.openings[at].id = to.clone();
        }
        OpeningChange::Skip => return remove(job, id),
        OpeningChange::RemoveHole(hole) => {
            let o = &mut job.openings[at];
            let k = hole_at(o, hole)?;
            o.holes.remove(k);
            drop_loose_fasteners(job);
        }
        OpeningChange::Hole {
            hole,
            change: HoleChange::Rename(to),
        } => {
            hole_at(&job.openings[at], hole)?;
            rename_hole(job, id, hole, to)?;
        }
        OpeningChange::Junction {
            junction,
            change: JunctionChange::Rename(to),
        } => {
            junction_at(&job.openings[at], junction)?;
            rename_junction(job, id, junction, to)?;
        }
        other => within(&mut job.openings[at], other)?,
    }
    Ok(())
}

/// This opening and those it is compared with.
fn partners(job: &Job, id: &OpeningId) -> BTreeSet<OpeningId> {
    let mut all = BTreeSet::from([id.clone()]);
    for c in &job.compares {
        let of: Vec<&OpeningId> = std::iter::once(&c.a).chain(&c.b).collect();
        if of.contains(&id) {
            all.extend(of.into_iter().cloned());
        }
    }
    all
}

fn rename_hole(job: &mut Job, id: &OpeningId, from: &HoleId, to: &HoleId) -> Result<(), Refused> {
    let together = partners(job, id);
    for o in job.openings.iter_mut().filter(|o| together.contains(&o.id)) {
        let Ok(k) = hole_at(o, from) else { continue };
        let known = o.holes.iter().map(|h| h.id.0.as_str());
        rename_free("hole", &from.0, &to.0, known)?;
        o.holes[k].id = to.clone();
    }
    let parts: BTreeSet<_> = job
        .compares
        .iter()
        .filter(|c| together.contains(&c.a))
        .map(|c| c.part.clone())
        .collect();
    let parts = job
        .choices
        .parts
        .iter_mut()
        .filter(|p| parts.contains(&p.id));
    for f in parts.flat_map(|p| &mut p.fasteners) {
        if f.hole == *from {
            f.hole = to.clone();
        }
    }
    Ok(())
}

fn rename_junction(
    job: &mut Job,
    id: &OpeningId,
    from: &JunctionId,
    to: &JunctionId,
) -> Result<(), Refused> {
    let together = partners(job, id);
    for o in job.openings.iter_mut().filter(|o| together.contains(&o.id)) {
        let Ok(k) = junction_at(o, from) else {
            continue;
        };
        let known = o.junctions.iter().map(|j| j.id.0.as_str());
        rename_free("junction", &from.0, &to.0, known)?;
        o.junctions[k].id = to.clone();
    }
    Ok(())
}

fn face_at(o: &Opening, id: &FaceId) -> Result<usize, Refused> {
    place("face", &id.0, o.faces.iter().map(|f| f.id.0.as_str()))
}

fn hole_at(o: &Opening, id: &HoleId) -> Result<usize, Refused> {
    place("hole", &id.0, o.holes.iter().map(|h| h.id.0.as_str()))
}

fn junction_at(o: &Opening, id: &JunctionId) -> Result<usize, Refused> {
    let known = o.junctions.iter().map(|j| j.id.0.as_str());
    place("junction", &id.0, known)
}

/// Changes that touch one opening only.
fn within(o: &mut Opening, change: &OpeningChange) -> Result<(), Refused> {
    match change {
        OpeningChange::Name(to) => o.name.clone_from(to),
        OpeningChange::Side(to) => o.side = *to,
        OpeningChange::Edge(to) => o.edge.clone_from(to),
        OpeningChange::Top(to) => o.top = *to,
        OpeningChange::Outward(to) => o.outward = *to,
        OpeningChange::AddFace(new) => {
            free("face", &new.id.0, o.faces.iter().map(|f| f.id.0.as_str()))?;
            o.faces.push(new.clone());
        }
        OpeningChange::RemoveFace(face) => {
            let k = face_at(o, face)?;
            o.faces.remove(k);
            o.junctions.retain(|j| j.a != *face && j.b != *face);
        }
        OpeningChange::Face { face, change } => {
            let k = face_at(o, face)?;
            match change {
                FaceChange::Rename(to) => {
                    let known = o.faces.iter().map(|f| f.id.0.as_str());
                    rename_free("face", &face.0, &to.0, known)?;
                    for side in o.junctions.iter_mut().flat_map(|j| [&mut j.a, &mut j.b]) {
                        if side == face {
                            *side = to.clone();
                        }
                    }
                    o.faces[k].id = to.clone();
                }
                FaceChange::Near(to) => o.faces[k].near = *to,
                FaceChange::Facing(to) => o.faces[k].facing = *to,
                FaceChange::Reach(to) => o.faces[k].reach_mm = *to,
                FaceChange::Band(to) => o.faces[k].band_mm = *to,
            }
        }
        OpeningChange::AddJunction(new) => {
            let known = o.junctions.iter().map(|j| j.id.0.as_str());
            free("junction", &new.id.0, known)?;
            o.junctions.push(new.clone());
        }
        OpeningChange::RemoveJunction(id) => {
            let k = junction_at(o, id)?;
            o.junctions.remove(k);
        }
        OpeningChange::Junction { junction, change } => {
            let k = junction_at(o, junction)?;
            let j = &mut o.junctions[k];
            match change {
                JunctionChange::Rename(to) => j.id = to.clone(),
                JunctionChange::Faces(a, b) => (j.a, j.b) = (a.clone(), b.clone()),
                JunctionChange::Start(to) => j.start = *to,
                JunctionChange::EndNames(a, b) => {
                    (j.start_name, j.end_name) = (a.clone(), b.clone());
                }
                JunctionChange::Through(to) => j.through = *to,
                JunctionChange::Stations(to) => j.stations = *to,
                JunctionChange::Drawn(to) => j.drawn_deg = *to,
            }
        }
        OpeningChange::AddHole(new) => {
            free("hole", &new.id.0, o.holes.iter().map(|h| h.id.0.as_str()))?;
            o.holes.push(new.clone());
        }
        OpeningChange::RemoveHole(id) => {
            let k = hole_at(o, id)?;
            o.holes.remove(k);
        }
        OpeningChange::Hole { hole, change } => {
            let k = hole_at(o, hole)?;
            let h = &mut o.holes[k];
            match change {
                HoleChange::Rename(to) => h.id = to.clone(),
                HoleChange::Near(to) => h.near = *to,
                HoleChange::Kind(to) => h.kind = *to,
                HoleChange::Diameter(to) => h.diameter_mm = *to,
            }
        }
        OpeningChange::Keep => o.sureness = None,
        OpeningChange::Note(to) => o.note.clone_from(to),
        // These touch more than the opening and are carried out above.
        OpeningChange::Rename(_) | OpeningChange::Skip => {}
    }
    Ok(())
}
