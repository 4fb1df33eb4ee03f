//! What is drawn, as JSON: enough to check the DXF and STEP files against.

use geom::{ArcPath, Polyline};
use record::{Drawing, HoleKind};
use serde_json::{Value, json};

use super::decided::{option_word, slot};
use super::{findings, place, side, vector};

/// A path of lines and arcs with its sizes.
pub(super) fn path(p: &ArcPath) -> Value {
    json!({
        "closed": p.is_closed(),
        "length_mm": p.length(),
        "area_mm2": p.is_closed().then(|| p.area()),
        "pieces": p.segments().iter().map(|s| json!({
            "start": [s.start.x, s.start.y],
            "end": [s.end.x, s.end.y],
            "bulge": s.bulge,
        })).collect::<Vec<_>>(),
    })
}

pub(super) fn drawing(d: &Drawing) -> Value {
    let edge = Polyline::new(d.edge.iter().copied(), d.edge_closed);
    json!({
        "compare": d.compare.0,
        "part": d.part.0,
        "part_name": d.part_name,
        "side": side(d.side),
        "axes": "part axes of this side",
        "option": option_word(d.option),
        "chosen": d.chosen,
        "shape_of": d.shape_of.0,
        "mirrored": d.mirrored,
        "inset_mm": d.inset_mm,
        "cut": d.cut.as_ref().map(path),
        "mark": d.mark.as_ref().map(path),
        "mark_error_mm": d.mark_error_mm,
        "edge_length_mm": edge.map(|e| e.length()),
        "edge_closed": d.edge_closed,
        "holes": d.holes.iter().map(|h| json!({
            "id": h.id.0,
            "kind": match h.kind { HoleKind::Hole => "hole", HoleKind::Stud => "stud" },
            "centre": place(&h.centre),
            "axis": vector(&h.axis),
            "body_diameter_mm": h.body_diameter_mm,
            "cut_diameter_mm": h.cut_diameter_mm,
            "slot": h.slot.as_ref().map(slot),
        })).collect::<Vec<_>>(),
        "junctions": d.junctions.iter().map(|j| json!({
            "id": j.id.0, "start": place(&j.start), "end": place(&j.end),
        })).collect::<Vec<_>>(),
        "faces": d.faces.iter().map(|f| json!({
            "id": f.id.0, "normal": vector(&f.plane.normal), "centre": place(&f.centre), "size_mm": f.size_mm,
        })).collect::<Vec<_>>(),
        "stations": d.stations.iter().map(|s| json!({ "name": s.name, "at": place(&s.at) })).collect::<Vec<_>>(),
        "reference": d.reference,
        "findings": findings(&d.findings),
    })
}
