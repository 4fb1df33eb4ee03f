//! Body work between two visits: its struct in the file, and to and from it.

use record::ScanId;
use serde::{Deserialize, Serialize};

use super::join_wire::{pose, to_pose};
use super::wire::{Pose, Region, is_default};
use super::{from_wire, to_wire};

/// One side before and after.
#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct BodyWork {
    pub name: String,
    pub before: String,
    pub after: String,
    /// Left out: it is looked for.
    #[serde(default, skip_serializing_if = "is_default")]
    pub worked: Vec<Region>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub start: Option<Pose>,
    #[serde(default = "most", skip_serializing_if = "is_most")]
    pub most_mm: f64,
    #[serde(default, skip_serializing_if = "is_default")]
    pub note: String,
}

fn most() -> f64 {
    record::BodyWork::MOST_MM
}

/// By reference, as serde asks for it.
#[allow(clippy::trivially_copy_pass_by_ref, clippy::float_cmp)]
fn is_most(value: &f64) -> bool {
    *value == most()
}

pub(super) fn body_work(w: BodyWork) -> record::BodyWork {
    record::BodyWork {
        name: w.name,
        before: ScanId(w.before),
        after: ScanId(w.after),
        worked: w.worked.into_iter().map(from_wire::region).collect(),
        start: w.start.map(|p| pose(&p)),
        most_mm: w.most_mm,
        note: w.note,
    }
}

pub(super) fn to_body_work(work: &record::BodyWork) -> BodyWork {
    let record::BodyWork {
        name,
        before,
        after,
        worked,
        start,
        most_mm,
        note,
    } = work;
    BodyWork {
        name: name.clone(),
        before: before.0.clone(),
        after: after.0.clone(),
        worked: worked.iter().map(to_wire::region).collect(),
        start: start.as_ref().map(to_pose),
        most_mm: *most_mm,
        note: note.clone(),
    }
}
