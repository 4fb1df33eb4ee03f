//! Changes of parts.

use record::{Job, PartId};

use super::{free, place, rename_free};
use crate::command::{FastenerChange, PartChange};
use crate::refused::Refused;

pub(super) fn remove(job: &mut Job, id: &PartId) -> Result<(), Refused> {
    let at = part_at(job, id)?;
    let gone: Vec<_> = job
        .compares
        .iter()
        .filter(|c| c.part == *id)
        .map(|c| c.id.clone())
        .collect();
    job.compares.retain(|c| c.part != *id);
    job.choices.chosen.retain(|c| !gone.contains(&c.0));
    job.choices.parts.remove(at);
    Ok(())
}

fn part_at(job: &Job, id: &PartId) -> Result<usize, Refused> {
    let known = job.choices.parts.iter().map(|p| p.id.0.as_str());
    place("part", &id.0, known)
}

pub(super) fn change(job: &mut Job, id: &PartId, change: &PartChange) -> Result<(), Refused> {
    let at = part_at(job, id)?;
    if let PartChange::Rename(to) = change {
        let known = job.choices.parts.iter().map(|p| p.id.0.as_str());
        rename_free("part", &id.0, &to.0, known)?;
        for c in job.compares.iter_mut().filter(|c| c.part == *id) {
            c.part = to.clone();
        }
    }
    let part = &mut job.choices.parts[at];
    let fastener = |part: &record::Part, hole: &record::HoleId| {
        let known = part.fasteners.iter().map(|f| f.hole.0.as_str());
        place("fastener", &hole.0, known)
    };
    match change {
        PartChange::Rename(to) => part.id = to.clone(),
        PartChange::Name(to) => part.name.clone_from(to),
        PartChange::Gap(to) => part.gap_mm = *to,
        PartChange::Tight(to) => part.allowed.tight_mm = *to,
        PartChange::Wide(to) => part.allowed.wide_mm = *to,
        PartChange::Proud(to) => part.allowed.proud_mm = *to,
        PartChange::Shy(to) => part.allowed.shy_mm = *to,
        PartChange::Angle(to) => part.allowed.angle_deg = *to,
        PartChange::AddFastener(new) => {
            let known = part.fasteners.iter().map(|f| f.hole.0.as_str());
            free("fastener", &new.hole.0, known)?;
            part.fasteners.push(new.clone());
        }
        PartChange::RemoveFastener(hole) => {
            let k = fastener(part, hole)?;
            part.fasteners.remove(k);
        }
        PartChange::Fastener { hole, change } => {
            let k = fastener(part, hole)?;
            let f = &mut part.fasteners[k];
            match change {
                FastenerChange::Diameter(to) => f.fastener_mm = *to,
                FastenerChange::PartHole(to) => f.part_hole_mm = *to,
                FastenerChange::BodyHole(to) => f.body_hole_mm = *to,
                FastenerChange::Fixing(to) => f.fixing = *to,
                FastenerChange::Slot(to) => f.slot = *to,
                FastenerChange::Shim(least, most) => f.shim_mm = (*least, *most),
            }
        }
        PartChange::Gasket(to) => part.gasket = *to,
        PartChange::Finish(to) => part.finish = to.clone(),
        PartChange::CutterRadius(to) => part.cutter_radius_mm = *to,
        PartChange::LoadBearing(to) => part.load_bearing = *to,
        PartChange::MustNotMirror(to) => part.must_not_mirror.clone_from(to),
        PartChange::SeenTogether(to) => part.seen_together = *to,
        PartChange::Place(to) => part.place = *to,
        PartChange::Note(to) => part.note.clone_from(to),
    }
    Ok(())
}
