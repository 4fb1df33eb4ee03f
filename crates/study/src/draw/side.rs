//! One side as it was measured, and its mirror image.

use geom::{Plane, Point, Polyline, Unit, Vector};
use nalgebra::Point2;
use record::{
    Drawing, DrawnFace, DrawnHole, DrawnJunction, DrawnStation, HoleId, MeasuredOpening, NeedKind,
    OpeningId, Slot,
};

use super::Pair;

/// The drawing of a (0) or b (1) in its own part axes, without a cut path. `None` where it was not measured or has no
/// edge.
pub(super) fn as_measured(pair: &Pair<'_>, which: usize) -> Option<Drawing> {
    let id = [Some(&pair.compare.a), pair.compare.b.as_ref()][which]?;
    let opening = pair.measured.openings.iter().find(|o| o.id == *id)?;
    let edge = opening.edge.as_ref()?;
    let mut drawing = blank(pair, which, id.clone());
    drawing.edge = dense_edge(pair, which, opening)
        .unwrap_or_else(|| edge.stations.iter().map(|s| s.at).collect());
    drawing.edge_closed = edge.closed;
    drawing.mark = Some(edge.pieces.clone()).filter(|p| !p.segments().is_empty());
    drawing.mark_error_mm = edge.pieces_error_mm;
    drawing.holes = opening
        .holes
        .iter()
        .map(|h| DrawnHole {
            kind: h.kind,
            ..hole(pair, &h.id, h.centre, h.axis, h.diameter.value)
        })
        .collect();
    add_lines(&mut drawing, opening);
    drawing.stations.extend(edge.corners.iter().filter_map(|c| {
        let near = edge.stations.iter().min_by(|x, y| {
            (x.along_mm - c.along_mm)
                .abs()
                .total_cmp(&(y.along_mm - c.along_mm).abs())
        })?;
        Some(DrawnStation {
            name: c.place.clone(),
            at: near.at,
        })
    }));
    place_reference(&mut drawing);
    Some(drawing)
}

/// A drawing with everything but its shapes.
pub(super) fn blank(pair: &Pair<'_>, which: usize, shape_of: OpeningId) -> Drawing {
    let part = pair.part;
    Drawing {
        compare: pair.compare.id.clone(),
        part: part.id.clone(),
        part_name: if part.name.is_empty() {
            part.id.0.clone()
        } else {
            part.name.clone()
        },
        side: pair.compare.sides[which],
        option: pair.option,
        chosen: pair.chosen,
        shape_of,
        mirrored: false,
        inset_mm: part.gap_mm + part.finish.part_mm + part.finish.body_mm,
        cut: None,
        mark: None,
        mark_error_mm: f64::INFINITY,
        edge: Vec::new(),
        edge_closed: false,
        holes: Vec::new(),
        junctions: Vec::new(),
        faces: Vec::new(),
        stations: Vec::new(),
        reference: [[-50.0, 0.0], [50.0, 0.0]],
        findings: Vec::new(),
    }
}

/// The dense edge kept with the comparison, taken back to the opening's own part axes, counter-clockwise.
fn dense_edge(pair: &Pair<'_>, which: usize, opening: &MeasuredOpening) -> Option<Vec<Point>> {
    let compare = pair.compare;
    let points: Vec<Point> = if which == 0 {
        compare.a_curve.clone()
    } else {
        let a_from_b = compare.b_on_a?;
        let back = a_from_b.rigid.inverse();
        let home = |p: &Point| {
            // A mirror is its own inverse.
            let p = back * p;
            opening.part_from_scan * a_from_b.mirror.map_or(p, |m| m.point(&p))
        };
        compare.b_curve.iter().map(home).collect()
    };
    let chain = Polyline::new(points, compare.closed)?;
    // A whole edge would be closed; a part of one is drawn from its own stations.
    let whole = opening
        .edge
        .as_ref()
        .is_some_and(|e| e.closed == chain.closed());
    let chain = if chain.area_xy() < 0.0 {
        chain.reversed()
    } else {
        chain
    };
    whole.then(|| chain.points().to_vec())
}

/// A hole with what is cut for its fastener: the hole of the part larger by the build-up all round, with the slot the
/// fastener has or the option asks for.
pub(super) fn hole(
    pair: &Pair<'_>,
    id: &HoleId,
    centre: Point,
    axis: Unit,
    body_diameter_mm: f64,
) -> DrawnHole {
    let fastener = pair.part.fasteners.iter().find(|f| f.hole == *id);
    let needs = |kind: NeedKind| {
        pair.needs
            .iter()
            .find(move |n| n.kind == kind && n.hole.as_ref() == Some(id))
    };
    let larger = needs(NeedKind::HoleRadius).map_or(0.0, |n| 2.0 * n.amount_mm);
    let cut = |hole_mm: f64| hole_mm + 2.0 * pair.part.finish.part_mm + larger;
    let asked = needs(NeedKind::SlotLength).and_then(|n| {
        n.along.map(|along| Slot {
            along,
            extra_mm: n.amount_mm,
        })
    });
    DrawnHole {
        id: id.clone(),
        kind: record::HoleKind::Hole,
        centre,
        axis,
        body_diameter_mm,
        cut_diameter_mm: fastener.map(|f| cut(f.part_hole_mm)),
        slot: fastener.and_then(|f| asked.or(f.slot)),
    }
}

/// Junction lines, their stations and faces, from scan axes.
fn add_lines(drawing: &mut Drawing, opening: &MeasuredOpening) {
    let part_from_scan = &opening.part_from_scan;
    for j in &opening.junctions {
        drawing.junctions.push(DrawnJunction {
            id: j.id.clone(),
            start: part_from_scan * j.start,
            end: part_from_scan * j.end,
        });
        drawing
            .stations
            .extend(j.stations.iter().map(|s| DrawnStation {
                name: format!("{}, {}", j.id, s.place),
                at: part_from_scan * s.at,
            }));
    }
    drawing
        .faces
        .extend(opening.faces.iter().map(|f| DrawnFace {
            id: f.id.clone(),
            plane: f.plane.moved(part_from_scan),
            centre: part_from_scan * f.centre,
            size_mm: f.size_mm,
        }));
}

/// Puts the line of 100 mm below everything drawn.
pub(super) fn place_reference(drawing: &mut Drawing) {
    let edge = drawing.edge.iter().map(|p| Point2::new(p.x, p.y));
    let holes = drawing
        .holes
        .iter()
        .map(|h| Point2::new(h.centre.x, h.centre.y - h.body_diameter_mm));
    let low = edge.chain(holes).map(|p| p.y).fold(0.0, f64::min);
    let y = low.floor() - 20.0;
    drawing.reference = [[-50.0, y], [50.0, y]];
}

/// The drawing of the other hand: everything mirrored about the middle of the part (X = 0), so that the top stays the
/// top and outward stays outward; outlines keep running counter-clockwise.
pub(super) fn mirrored(one: &Drawing) -> Drawing {
    let flip = |p: &Point| Point::new(-p.x, p.y, p.z);
    let turn = |v: &Unit| Unit::new_unchecked(Vector::new(-v.x, v.y, v.z));
    let mut other = one.clone();
    other.mirrored = !one.mirrored;
    other.cut = one.cut.as_ref().map(geom::ArcPath::mirrored_x);
    other.mark = one.mark.as_ref().map(geom::ArcPath::mirrored_x);
    other.edge = one.edge.iter().rev().map(flip).collect();
    for h in &mut other.holes {
        h.centre = flip(&h.centre);
        h.axis = turn(&h.axis);
        if let Some(slot) = &mut h.slot {
            slot.along[0] = -slot.along[0];
        }
    }
    for j in &mut other.junctions {
        j.start = flip(&j.start);
        j.end = flip(&j.end);
    }
    for f in &mut other.faces {
        f.centre = flip(&f.centre);
        f.plane = Plane {
            normal: turn(&f.plane.normal),
            offset: f.plane.offset,
        };
    }
    for s in &mut other.stations {
        s.at = flip(&s.at);
    }
    other
}
