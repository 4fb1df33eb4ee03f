//! Joins of scans as JSON.

use record::{Joined, JoinedBy, JoinedScan, Study, TapedRow};
use serde_json::{Value, json};

use super::{figure, findings};
use crate::side_word;

/// The joins of a study alone as JSON text.
pub fn joins_json(study: &Study) -> String {
    format!("{:#}\n", joined(&study.measured.joined))
}

/// The object: joins, taped lengths, findings.
pub(crate) fn joined(j: &Joined) -> Value {
    json!({
        "joins": j.joins.iter().map(join).collect::<Vec<_>>(),
        "taped": j.lengths.iter().map(taped).collect::<Vec<_>>(),
        "findings": findings(&j.findings),
    })
}

fn join(j: &JoinedScan) -> Value {
    let t = j.to_from.translation.vector;
    let q = j.to_from.rotation.quaternion();
    json!({
        "scan": j.scan.0,
        "to": j.to.0,
        "by": match j.by {
            JoinedBy::Places => "places",
            JoinedBy::Surfaces => "surfaces",
            JoinedBy::PlacesAndSurfaces => "places_and_surfaces",
        },
        "to_from_scan": { "shift_mm": [t.x, t.y, t.z], "turn_wxyz": [q.w, q.i, q.j, q.k] },
        "known_at": j.at.iter().map(|a| json!({
            "opening": a.opening.as_ref().map(|o| &o.0),
            "name": a.name,
            "worst_shift": figure(&a.shift),
            "worst_turn": figure(&a.turn),
        })).collect::<Vec<_>>(),
        "places": j.places.iter().map(|p| json!({
            "name": p.name,
            "side": side_word(p.side),
            "joined_minus_target": p.off.iter().map(figure).collect::<Vec<_>>(),
            "kept": p.kept,
            "chance": p.chance,
        })).collect::<Vec<_>>(),
        "scatter_of_places_mm": j.scatter_mm,
        "overlap": j.overlap.map(|o| json!({
            "share": o.share,
            "spread_mm": o.left_mm,
            "patches": o.patches,
        })),
        "weak": j.weak.iter().map(|w| json!({
            "way": if w.turns { "turn" } else { "slide" },
            "direction": [w.direction.x, w.direction.y, w.direction.z],
            "through_mm": [w.through.x, w.through.y, w.through.z],
            "held": w.held,
            "goes": w.goes.as_ref().map(figure),
        })).collect::<Vec<_>>(),
    })
}

fn taped(r: &TapedRow) -> Value {
    json!({
        "from": r.from,
        "to": r.to,
        "scans": [r.scans[0].0, r.scans[1].0],
        "taped": figure(&r.taped),
        "scans_minus_tape": figure(&r.off),
    })
}
