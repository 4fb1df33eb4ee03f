//! Positions on the car as JSON.

use record::{BodyWay, LaidBy, PairPosition, PositionKind, PositionRow, Positions, RivalName};
use serde_json::{Value, json};

use super::{figure, findings};

pub(crate) fn kind_word(kind: PositionKind) -> &'static str {
    match kind {
        PositionKind::SetBack => "set_back",
        PositionKind::Out => "out",
        PositionKind::Height => "height",
        PositionKind::Toe => "toe",
        PositionKind::Camber => "camber",
        PositionKind::Level => "level",
    }
}

fn rival_word(name: &RivalName) -> String {
    match name {
        RivalName::All => "all".to_owned(),
        RivalName::GoTogether => "go_together".to_owned(),
        RivalName::FrontOnly => "front_only".to_owned(),
        RivalName::RearOnly => "rear_only".to_owned(),
        RivalName::MidpointsOnly => "midpoints_only".to_owned(),
        RivalName::CentreOnly => "centre_only".to_owned(),
        RivalName::OwnImage => "own_image".to_owned(),
        RivalName::Without(place) => format!("without {place}"),
    }
}

/// The object: the centreline, its places, rivals, and every figure that hangs on it.
pub(crate) fn positions(p: &Positions) -> Value {
    let laid = p.laid.as_ref().map(|l| {
        let t = l.car_from_scan.translation.vector;
        let q = l.car_from_scan.rotation.quaternion();
        json!({
            "scan": l.scan.0,
            "joined": l.joined.iter().map(|s| &s.0).collect::<Vec<_>>(),
            "laid_by": match l.by {
                LaidBy::Pairs => "pairs",
                LaidBy::CentrePlaces => "centre_places",
                LaidBy::ThreeTwoOne => "three_two_one",
                LaidBy::OwnImage => "own_image",
            },
            "car_axes": "X rearward, Y to the right, Z up, origin at the middle of the places",
            "car_from_scan": { "shift_mm": [t.x, t.y, t.z], "turn_wxyz": [q.w, q.i, q.j, q.k] },
            "level_named": l.level_named,
            "turn": figure(&l.yaw),
            "lean": figure(&l.lean),
            "shift": figure(&l.shift),
            "known": l.known.iter().map(|k| json!({
                "along_mm": k.along_mm,
                "aside": figure(&k.aside),
            })).collect::<Vec<_>>(),
            "places": l.places.iter().map(|r| json!({
                "name": r.name,
                "centre": r.centre,
                "middle_mm": [r.middle.x, r.middle.y, r.middle.z],
                "half_mm": r.half_mm,
                "left_minus_mirrored_right_mm": r.misfit_mm,
                "kept": r.kept,
                "chance": r.chance,
            })).collect::<Vec<_>>(),
            "body": l.body.iter().map(|b| json!({
                "way": match b.way {
                    BodyWay::Back => "left_further_back",
                    BodyWay::High => "left_higher",
                    BodyWay::Twisted => "twisted",
                    BodyWay::Bowed => "bowed_to_the_right",
                },
                "amount": figure(&b.amount),
                "proven": b.proven,
            })).collect::<Vec<_>>(),
            "own_image": l.image.as_ref().map(|i| json!({
                "scan": i.scan.0,
                "share": i.share,
                "left_mm": i.left_mm,
                "next_best_mm": i.next_best_mm.is_finite().then_some(i.next_best_mm),
            })),
            "rivals": l.rivals.iter().map(|r| json!({
                "name": rival_word(&r.name),
                "yaw_deg": r.yaw_deg,
                "lean_deg": r.lean_deg,
                "shift_mm": r.shift_mm,
            })).collect::<Vec<_>>(),
            "pairs": l.pairs.iter().map(pair).collect::<Vec<_>>(),
            "central": l.central.iter().map(|c| json!({
                "opening": c.opening.0,
                "name": c.name,
                "right_of_centreline": figure(&c.off),
                "proven": c.proven,
                "over_rivals": c.over_rivals,
                "survives": c.survives,
            })).collect::<Vec<_>>(),
        })
    });
    json!({ "centreline": laid, "findings": findings(&p.findings) })
}

fn pair(p: &PairPosition) -> Value {
    let row = |r: &PositionRow| {
        json!({
            "kind": kind_word(r.kind),
            "left": figure(&r.left),
            "right": figure(&r.right),
            "difference": figure(&r.difference),
            "proven": r.proven,
            "over_rivals": r.over_rivals,
            "survives": r.survives,
        })
    };
    json!({
        "compare": p.compare.0,
        "name": p.name,
        "rows": p.rows.iter().map(row).collect::<Vec<_>>(),
    })
}
