//! Joins of scans and taped lengths, to and from the file.

use record::ScanId;

use super::place_wire::{named, to_named};
use super::wire;

pub(super) fn join(j: wire::Join) -> record::Join {
    record::Join {
        scan: ScanId(j.scan),
        to: ScanId(j.to),
        places: j.places,
        start: j.start.map(|p| pose(&p)),
        refine: j.refine,
        note: j.note,
    }
}

pub(super) fn to_join(join: &record::Join) -> wire::Join {
    let record::Join {
        scan,
        to,
        places,
        start,
        refine,
        note,
    } = join;
    wire::Join {
        scan: scan.0.clone(),
        to: to.0.clone(),
        places: places.clone(),
        start: start.as_ref().map(to_pose),
        refine: *refine,
        note: note.clone(),
    }
}

pub(super) fn pose(p: &wire::Pose) -> record::StartPose {
    record::StartPose {
        axis: p.axis.into(),
        turn_deg: p.turn_deg,
        shift: p.shift_mm.into(),
        within_mm: p.within_mm,
    }
}

pub(super) fn to_pose(pose: &record::StartPose) -> wire::Pose {
    let record::StartPose {
        axis,
        turn_deg,
        shift,
        within_mm,
    } = pose;
    wire::Pose {
        axis: (*axis).into(),
        turn_deg: *turn_deg,
        shift_mm: (*shift).into(),
        within_mm: *within_mm,
    }
}

pub(super) fn taped(t: wire::Taped) -> record::TapedLength {
    record::TapedLength {
        from: named(t.from),
        to: named(t.to),
        length_mm: t.length_mm,
        u95_mm: t.u95_mm,
        note: t.note,
    }
}

pub(super) fn to_taped(taped: &record::TapedLength) -> wire::Taped {
    let record::TapedLength {
        from,
        to,
        length_mm,
        u95_mm,
        note,
    } = taped;
    wire::Taped {
        from: to_named(from),
        to: to_named(to),
        length_mm: *length_mm,
        u95_mm: *u95_mm,
        note: note.clone(),
    }
}
