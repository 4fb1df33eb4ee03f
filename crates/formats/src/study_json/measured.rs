//! What was measured, as JSON.

use record::{
    EdgeKind, HoleKind, MeasuredCompare, MeasuredEdge, MeasuredFace, MeasuredHole,
    MeasuredJunction, MeasuredOpening, ModeKind, Relation, Through,
};
use serde_json::{Value, json};

use super::{figure, findings, maybe, place, side, vector};

pub(super) fn opening(o: &MeasuredOpening) -> Value {
    json!({
        "id": o.id.0,
        "name": o.name,
        "side": side(o.side),
        "part_from_scan": matrix(&o.part_from_scan),
        "edge": o.edge.as_ref().map(edge),
        "faces": o.faces.iter().map(face).collect::<Vec<_>>(),
        "junctions": o.junctions.iter().map(junction).collect::<Vec<_>>(),
        "holes": o.holes.iter().map(hole).collect::<Vec<_>>(),
        "findings": findings(&o.findings),
    })
}

/// Rows of the 4 x 4 matrix, mm.
fn matrix(m: &geom::Rigid) -> Value {
    let h = m.to_homogeneous();
    (0..4)
        .map(|i| json!([h[(i, 0)], h[(i, 1)], h[(i, 2)], h[(i, 3)]]))
        .collect()
}

fn edge(e: &MeasuredEdge) -> Value {
    let kind = match e.kind {
        EdgeKind::Auto => "not told",
        EdgeKind::Free => "free edge",
        EdgeKind::Bend => "bend",
    };
    json!({
        "kind": kind,
        "closed": e.closed,
        "axes": "part axes of this opening",
        "edge_bias_mm": e.edge_bias_mm,
        "lines_and_arcs": super::drawn::path(&e.pieces),
        "lines_and_arcs_error_mm": e.pieces_error_mm,
        "dimensions": e.dimensions.iter().map(|d| json!({ "name": d.name, "figure": figure(&d.figure) }))
            .collect::<Vec<_>>(),
        "corners": e.corners.iter().map(|c| json!({
            "place": c.place,
            "radius": figure(&c.radius),
            "arc_deg": c.arc_deg,
            "along_mm": c.along_mm,
        })).collect::<Vec<_>>(),
        "not_seen": e.gaps.iter().map(|g| json!({ "from_mm": g.from_mm, "length_mm": g.length_mm }))
            .collect::<Vec<_>>(),
        "stations": e.stations.iter().map(|s| json!({
            "along_mm": s.along_mm,
            "at": place(&s.at),
            "gap_dir": vector(&s.gap_dir),
            "flush_dir": vector(&s.flush_dir),
            "gap_u_mm": s.gap_u_mm,
            "flush_u_mm": s.flush_u_mm,
            "seen": s.seen,
        })).collect::<Vec<_>>(),
    })
}

fn face(f: &MeasuredFace) -> Value {
    json!({
        "id": f.id.0,
        "axes": "scan axes",
        "normal": vector(&f.plane.normal),
        "centre": place(&f.centre),
        "size_mm": f.size_mm,
        "points": f.points,
        "seen_share": f.seen,
        "scatter_mm": f.scatter_mm,
        "sag": figure(&f.sag),
        "radius_mm": f.radius_mm,
        "turn_deg_per_mm": f.turn_deg_per_mm,
        "findings": findings(&f.findings),
    })
}

fn through(t: Through) -> &'static str {
    match t {
        Through::Material => "through the metal",
        Through::Air => "through the air",
    }
}

fn junction(j: &MeasuredJunction) -> Value {
    json!({
        "id": j.id.0,
        "axes": "scan axes",
        "angle_taken": through(j.through),
        "start": place(&j.start),
        "end": place(&j.end),
        "length_mm": j.length_mm,
        "widths_mm": j.widths_mm,
        "stations": j.stations.iter().map(|s| json!({
            "place": s.place,
            "share": s.share,
            "from_start_mm": s.from_start_mm,
            "angle": figure(&s.angle),
            "at": place(&s.at),
        })).collect::<Vec<_>>(),
        "twist": figure(&j.twist),
        "flat_error": figure(&j.flat_error),
        "ruled": j.ruled,
        "ruled_p": j.ruled_p,
        "findings": findings(&j.findings),
    })
}

fn hole(h: &MeasuredHole) -> Value {
    json!({
        "id": h.id.0,
        "kind": match h.kind { HoleKind::Hole => "hole", HoleKind::Stud => "stud" },
        "axes": "part axes of this opening",
        "centre": place(&h.centre),
        "axis": vector(&h.axis),
        "centre_give_or_take": figure(&h.centre_u95),
        "diameter": figure(&h.diameter),
        "arc_deg": h.arc_deg,
        "findings": findings(&h.findings),
    })
}

/// What a way of differing is called.
pub(crate) fn mode_word(kind: ModeKind) -> &'static str {
    match kind {
        ModeKind::Width => "width",
        ModeKind::Height => "height",
        ModeKind::Shear => "shear",
        ModeKind::Twist => "twist",
        ModeKind::BowAcross => "bow across",
        ModeKind::BowUp => "bow up",
    }
}

pub(super) fn compare(c: &MeasuredCompare, decided: &Value) -> Value {
    let relation = match c.relation {
        Relation::Mirrored => "mirrored",
        Relation::Same => "same",
        Relation::Itself => "itself",
    };
    json!({
        "id": c.id.0,
        "relation": relation,
        "part": c.part.0,
        "a": c.a.0,
        "b": c.b.as_ref().map(|b| b.0.clone()),
        "a_side": side(c.sides[0]),
        "b_side": side(c.sides[1]),
        "axes": "part axes of a",
        "angles": c.angles.iter().map(|r| json!({
            "junction": r.junction.0,
            "place": r.place,
            "share": r.share,
            "angle_taken": through(r.through),
            "a": maybe(r.a.as_ref()),
            "b": maybe(r.b.as_ref()),
            "difference": maybe(r.difference.as_ref()),
            "drawn_deg": r.drawn_deg,
        })).collect::<Vec<_>>(),
        "stations": c.stations.iter().map(|s| json!({
            "place": s.place,
            "share": s.share,
            "a": place(&s.a),
            "b": place(&s.b),
            "gap_dir": vector(&s.gap_dir),
            "flush_dir": vector(&s.flush_dir),
            "gap": figure(&s.gap),
            "flush": figure(&s.flush),
            "seen": s.seen,
        })).collect::<Vec<_>>(),
        "modes": c.modes.iter().map(|m| json!({ "name": mode_word(m.kind), "amount": figure(&m.amount) }))
            .collect::<Vec<_>>(),
        "local_rest": c.rest.as_ref().map(|r| json!({
            "spread_mm": r.rms_mm,
            "place": r.place,
            "worst": figure(&r.worst),
        })),
        "holes": c.holes.iter().map(|h| json!({
            "id": h.id.0,
            "a": place(&h.a),
            "b": place(&h.b),
            "right": figure(&h.right),
            "up": figure(&h.up),
            "a_diameter": figure(&h.a_diameter),
            "b_diameter": figure(&h.b_diameter),
            "pattern_rest_mm": h.pattern_rest_mm,
        })).collect::<Vec<_>>(),
        "decided": decided,
        "findings": findings(&c.findings),
    })
}
