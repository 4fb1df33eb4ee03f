//! From the types of `record` to those of the file. Every field is named, so that a new one cannot be forgotten.

use geom::{Point, Vector};

use super::panel_wire;
use super::wire::{self, Three};
use crate::Error;
use crate::read_hand::{hand_rows, hand_rows_on_lines};

fn point(p: &Point) -> Three {
    [p.x, p.y, p.z]
}

fn vector(v: &Vector) -> Three {
    [v.x, v.y, v.z]
}

/// As [`job`], with the rows of tables that stand beside it.
pub(super) fn job_with_tables(all: &record::Job) -> Result<wire::Job, Error> {
    let mut wire = job(all)?;
    for (to, table) in wire.hand.iter_mut().zip(&all.hand) {
        to.rows = hand_rows_on_lines(&table.readings)?;
        to.hash.clone_from(&table.hash);
        to.unread.clone_from(&table.unread);
    }
    Ok(wire)
}

/// The job as it stands in the file; fails only where a scan path is no text.
pub(super) fn job(job: &record::Job) -> Result<wire::Job, Error> {
    let record::Job {
        title,
        note,
        seed,
        units,
        cars,
        visits,
        scans,
        hand,
        places,
        places_table,
        joins,
        taped,
        body_work,
        centreline,
        openings,
        compares,
        sections,
        gaps,
        hinges,
        choices,
    } = job;
    let record::Choices { parts, chosen } = choices;
    Ok(wire::Job {
        schema: super::SCHEMA,
        title: title.clone(),
        note: note.clone(),
        seed: *seed,
        display: wire::Display {
            length: units.length.into(),
            decimal_comma: units.decimal_comma,
        },
        cars: cars
            .iter()
            .map(|c| wire::Car {
                name: c.name.clone(),
                note: c.note.clone(),
            })
            .collect(),
        visits: visits.iter().map(visit).collect(),
        scans: scans.iter().map(scan).collect::<Result<_, _>>()?,
        hand: hand.iter().map(hand_table).collect::<Result<_, _>>()?,
        places: places.iter().map(super::place_wire::to_place).collect(),
        places_file: places_table
            .as_ref()
            .map(|t| path_text(&t.path, "a table of places"))
            .transpose()?,
        joins: joins.iter().map(super::join_wire::to_join).collect(),
        taped: taped.iter().map(super::join_wire::to_taped).collect(),
        body_work: body_work
            .iter()
            .map(super::body_work_wire::to_body_work)
            .collect(),
        centreline: super::place_wire::to_centreline(centreline),
        openings: openings.iter().map(opening).collect(),
        parts: parts.iter().map(part).collect(),
        compares: compares.iter().map(compare).collect(),
        sections: panel_wire::to_plan(sections),
        gaps: gaps.iter().map(panel_wire::to_gap).collect(),
        hinges: hinges.iter().map(panel_wire::to_hinge).collect(),
        chosen: chosen
            .iter()
            .map(|(id, kind, reason)| wire::Chosen {
                compare: id.0.clone(),
                option: (*kind).into(),
                reason: reason.clone(),
            })
            .collect(),
    })
}

fn visit(visit: &record::Visit) -> wire::Visit {
    let record::Visit {
        id,
        car,
        date,
        operator,
        instrument,
        flatness_mm,
        state,
        note,
    } = visit;
    let record::BodyState {
        mounting,
        left,
        right,
        left_film_um,
        right_film_um,
        left_film_u95_um,
        right_film_u95_um,
        doors_hung,
        temperature_c,
    } = state;
    wire::Visit {
        id: id.0.clone(),
        car: Some(car.clone()),
        date: date.clone(),
        operator: operator.clone(),
        instrument: instrument.clone(),
        flatness_mm: *flatness_mm,
        body: wire::Body {
            mounting: (*mounting).into(),
            left: (*left).into(),
            right: (*right).into(),
            left_film_um: *left_film_um,
            right_film_um: *right_film_um,
            left_film_u95_um: *left_film_u95_um,
            right_film_u95_um: *right_film_u95_um,
            doors_hung: *doors_hung,
            temperature_c: *temperature_c,
        },
        note: note.clone(),
    }
}

fn scan(scan: &record::ScanRef) -> Result<wire::Scan, Error> {
    let record::ScanRef {
        id,
        visit,
        path,
        hash,
        unit,
        unit_source,
        side,
        keep,
        aside,
        largest_piece_only,
        note,
    } = scan;
    let text = path.to_str().ok_or_else(|| {
        Error::malformed(format!(
            "the path \"{}\" of the scan \"{id}\" is not valid text",
            path.display()
        ))
        .hinting("rename the file or its folder")
    })?;
    Ok(wire::Scan {
        id: id.0.clone(),
        visit: Some(visit.0.clone()),
        path: if std::path::MAIN_SEPARATOR == '\\' {
            text.replace('\\', "/")
        } else {
            text.to_owned()
        },
        blake3: hash.clone(),
        unit: (*unit).into(),
        unit_source: match unit_source {
            record::UnitSource::Stated => wire::UnitSource::Stated,
            record::UnitSource::Guessed => wire::UnitSource::Guessed,
            record::UnitSource::Checked { from, to, taped_mm } => wire::UnitSource::Checked {
                from_mm: point(from),
                to_mm: point(to),
                taped_mm: *taped_mm,
            },
        },
        side: (*side).into(),
        keep: keep.iter().map(region).collect(),
        aside: aside.iter().map(region).collect(),
        largest_piece_only: *largest_piece_only,
        note: note.clone(),
    })
}

pub(super) fn region(region: &record::Region) -> wire::Region {
    let shape = match &region.shape {
        record::RegionShape::Box { low, high } => wire::RegionShape::Box {
            low_mm: point(low),
            high_mm: point(high),
        },
        record::RegionShape::Lasso {
            origin,
            right,
            up,
            corners,
        } => wire::RegionShape::Lasso {
            origin_mm: point(origin),
            right: vector(right),
            up: vector(up),
            corners_mm: corners.clone(),
        },
    };
    wire::Region {
        shape,
        note: region.note.clone(),
    }
}

fn opening(opening: &record::Opening) -> wire::Opening {
    let record::Opening {
        id,
        name,
        scan,
        side,
        edge,
        top,
        outward,
        faces,
        junctions,
        holes,
        repeat_of,
        sureness,
        note,
    } = opening;
    wire::Opening {
        id: id.0.clone(),
        name: Some(name.clone()),
        scan: scan.0.clone(),
        side: (*side).into(),
        repeat_of: repeat_of.as_ref().map(|id| id.0.clone()),
        sureness: *sureness,
        edge: edge.as_ref().map(edge_pick),
        top_mm: top.as_ref().map(point),
        outward: outward.as_ref().map(vector),
        faces: faces.iter().map(face).collect(),
        junctions: junctions.iter().map(junction).collect(),
        holes: holes.iter().map(hole).collect(),
        note: note.clone(),
    }
}

fn edge_pick(edge: &record::EdgePick) -> wire::Edge {
    let record::EdgePick {
        near,
        kind,
        by_hand,
        closed,
    } = edge;
    wire::Edge {
        near_mm: Some(point(near)),
        kind: (*kind).into(),
        by_hand_mm: by_hand.iter().map(point).collect(),
        closed: *closed,
    }
}

fn face(face: &record::FacePick) -> wire::Face {
    let record::FacePick {
        id,
        near,
        facing,
        reach_mm,
        band_mm,
    } = face;
    wire::Face {
        id: id.0.clone(),
        near_mm: point(near),
        facing: facing.as_ref().map(vector),
        reach_mm: *reach_mm,
        band_mm: *band_mm,
    }
}

fn junction(junction: &record::JunctionPick) -> wire::Junction {
    let record::JunctionPick {
        id,
        a,
        b,
        start,
        start_name,
        end_name,
        through,
        stations,
        drawn_deg,
    } = junction;
    wire::Junction {
        id: id.0.clone(),
        a: a.0.clone(),
        b: b.0.clone(),
        start_mm: point(start),
        start_name: start_name.clone(),
        end_name: end_name.clone(),
        through: (*through).into(),
        stations: match stations {
            record::Stations::Quarters => wire::Stations::Quarters,
            record::Stations::Every(spacing_mm) => wire::Stations::Every {
                spacing_mm: *spacing_mm,
            },
        },
        drawn_deg: *drawn_deg,
    }
}

fn hole(hole: &record::HolePick) -> wire::Hole {
    let record::HolePick {
        id,
        near,
        kind,
        diameter_mm,
    } = hole;
    wire::Hole {
        id: id.0.clone(),
        near_mm: point(near),
        kind: (*kind).into(),
        diameter_mm: *diameter_mm,
    }
}

fn compare(compare: &record::Compare) -> wire::Compare {
    let record::Compare {
        id,
        a,
        b,
        relation,
        part,
    } = compare;
    wire::Compare {
        id: id.0.clone(),
        relation: (*relation).into(),
        a: a.0.clone(),
        b: b.as_ref().map(|b| b.0.clone()),
        part: part.0.clone(),
    }
}

fn part(part: &record::Part) -> wire::Part {
    let record::Part {
        id,
        name,
        gap_mm,
        allowed,
        evenness,
        fasteners,
        gasket,
        finish,
        cutter_radius_mm,
        load_bearing,
        must_not_mirror,
        seen_together,
        place,
        note,
    } = part;
    let record::Allowed {
        tight_mm,
        wide_mm,
        proud_mm,
        shy_mm,
        angle_deg,
    } = *allowed;
    let record::Finish {
        name: finish_name,
        part_mm,
        body_mm,
    } = finish;
    wire::Part {
        id: id.0.clone(),
        name: Some(name.clone()),
        gap_mm: *gap_mm,
        allowed: wire::Allowed {
            tight_mm,
            wide_mm,
            proud_mm,
            shy_mm,
            angle_deg,
        },
        evenness: evenness.map(|e| wire::Evenness {
            within_mm: e.within_mm,
            taper_mm: e.taper_mm,
        }),
        fasteners: fasteners.iter().map(fastener).collect(),
        gasket: gasket.map(|g| wire::Gasket {
            thickness_mm: g.thickness_mm,
            least_share: g.least,
            most_share: g.most,
        }),
        finish: wire::Finish {
            name: finish_name.clone(),
            part_mm: *part_mm,
            body_mm: *body_mm,
        },
        cutter_radius_mm: *cutter_radius_mm,
        load_bearing: *load_bearing,
        must_not_mirror: must_not_mirror.clone(),
        seen_together: *seen_together,
        place: *place,
        note: note.clone(),
    }
}

fn fastener(fastener: &record::Fastener) -> wire::Fastener {
    let record::Fastener {
        hole,
        fastener_mm,
        part_hole_mm,
        body_hole_mm,
        fixing,
        slot,
        shim_mm,
    } = fastener;
    wire::Fastener {
        hole: hole.0.clone(),
        fastener_mm: *fastener_mm,
        part_hole_mm: *part_hole_mm,
        body_hole_mm: *body_hole_mm,
        fixing: (*fixing).into(),
        slot: slot.map(|s| wire::Slot {
            along: s.along,
            extra_mm: s.extra_mm,
        }),
        shim_mm: *shim_mm,
    }
}

fn path_text(path: &std::path::Path, of: &str) -> Result<String, Error> {
    let no_text = || {
        Error::malformed(format!("the path of {of} is not valid text"))
            .hinting("give the file and its folders names of plain letters")
    };
    let text = path.to_str().ok_or_else(no_text)?;
    Ok(text.replace('\\', "/"))
}

fn hand_table(table: &record::HandTable) -> Result<wire::Hand, Error> {
    let record::HandTable {
        id,
        visit,
        path,
        hash: _,
        flat,
        readings,
        instruments,
        unread: _,
        note,
    } = table;
    Ok(wire::Hand {
        hash: None,
        unread: None,
        id: id.0.clone(),
        visit: Some(visit.0.clone()),
        path: path
            .as_ref()
            .map(|p| path_text(p, "a hand table"))
            .transpose()?,
        flat: *flat,
        rows: if path.is_some() {
            Vec::new()
        } else {
            hand_rows(readings)?
        },
        instruments: instruments
            .iter()
            .map(|i| wire::Instrument {
                name: i.name.clone(),
                reading: i.reading,
                own: i.own,
                own_per_m: i.own_per_m,
                source: i.source.clone(),
            })
            .collect(),
        note: note.clone(),
    })
}
