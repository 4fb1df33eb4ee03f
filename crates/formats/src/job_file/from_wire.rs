//! From the structs of the file to the types of `record`, with what was left out filled in.

use geom::{Point, Vector};
use record::{CompareId, FaceId, HoleId, JunctionId, OpeningId, PartId, ScanId, VisitId};

use super::panel_wire;
use super::wire::{self, Three};

fn vector(v: Three) -> Vector {
    Vector::new(v[0], v[1], v[2])
}

/// The job that the file holds.
pub(super) fn job(job: wire::Job) -> record::Job {
    let only_car = only(job.cars.iter().map(|c| &c.name));
    let only_visit = only(job.visits.iter().map(|v| &v.id));
    let only_scan = only(job.scans.iter().map(|s| &s.id));
    record::Job {
        title: job.title,
        note: job.note,
        seed: job.seed,
        units: record::DisplayUnits {
            length: job.display.length.into(),
            decimal_comma: job.display.decimal_comma,
        },
        cars: job
            .cars
            .into_iter()
            .map(|c| record::Car {
                name: c.name,
                note: c.note,
            })
            .collect(),
        visits: job
            .visits
            .into_iter()
            .map(|v| visit(v, &only_car))
            .collect(),
        scans: job
            .scans
            .into_iter()
            .map(|s| scan(s, &only_visit))
            .collect(),
        hand: job
            .hand
            .into_iter()
            .map(|h| hand_table(h, &only_visit))
            .collect(),
        places: job
            .places
            .into_iter()
            .map(|p| super::place_wire::place(p, &only_scan))
            .collect(),
        places_table: job.places_file.map(|path| record::PlacesTable {
            path: path.into(),
            hash: None,
            places: Vec::new(),
            unread: None,
        }),
        joins: job.joins.into_iter().map(super::join_wire::join).collect(),
        taped: job.taped.into_iter().map(super::join_wire::taped).collect(),
        body_work: job
            .body_work
            .into_iter()
            .map(super::body_work_wire::body_work)
            .collect(),
        centreline: super::place_wire::centreline(job.centreline),
        openings: job.openings.into_iter().map(opening).collect(),
        compares: job.compares.into_iter().map(compare).collect(),
        sections: panel_wire::plan(&job.sections),
        gaps: job
            .gaps
            .into_iter()
            .map(|g| panel_wire::gap(g, &only_scan))
            .collect(),
        hinges: job
            .hinges
            .into_iter()
            .map(|h| panel_wire::hinge(h, &only_scan))
            .collect(),
        choices: record::Choices {
            parts: job.parts.into_iter().map(part).collect(),
            chosen: job
                .chosen
                .into_iter()
                .map(|c| (CompareId(c.compare), c.option.into(), c.reason))
                .collect(),
        },
    }
}

/// The name of the only one; empty if there is none or more than one.
fn only<'n>(mut names: impl Iterator<Item = &'n String>) -> String {
    match (names.next(), names.next()) {
        (Some(name), None) => name.clone(),
        _ => String::new(),
    }
}

fn visit(v: wire::Visit, only_car: &str) -> record::Visit {
    record::Visit {
        id: VisitId(v.id),
        car: v.car.unwrap_or_else(|| only_car.to_owned()),
        date: v.date,
        operator: v.operator,
        instrument: v.instrument,
        flatness_mm: v.flatness_mm,
        state: record::BodyState {
            mounting: v.body.mounting.into(),
            left: v.body.left.into(),
            right: v.body.right.into(),
            left_film_um: v.body.left_film_um,
            right_film_um: v.body.right_film_um,
            left_film_u95_um: v.body.left_film_u95_um,
            right_film_u95_um: v.body.right_film_u95_um,
            doors_hung: v.body.doors_hung,
            temperature_c: v.body.temperature_c,
        },
        note: v.note,
    }
}

fn scan(s: wire::Scan, only_visit: &str) -> record::ScanRef {
    record::ScanRef {
        id: ScanId(s.id),
        visit: VisitId(s.visit.unwrap_or_else(|| only_visit.to_owned())),
        path: s.path.into(),
        hash: s.blake3,
        unit: s.unit.into(),
        unit_source: match s.unit_source {
            wire::UnitSource::Stated => record::UnitSource::Stated,
            wire::UnitSource::Guessed => record::UnitSource::Guessed,
            wire::UnitSource::Checked {
                from_mm,
                to_mm,
                taped_mm,
            } => record::UnitSource::Checked {
                from: from_mm.into(),
                to: to_mm.into(),
                taped_mm,
            },
        },
        side: s.side.into(),
        keep: s.keep.into_iter().map(region).collect(),
        aside: s.aside.into_iter().map(region).collect(),
        largest_piece_only: s.largest_piece_only,
        note: s.note,
    }
}

pub(super) fn region(r: wire::Region) -> record::Region {
    let shape = match r.shape {
        wire::RegionShape::Box { low_mm, high_mm } => record::RegionShape::Box {
            low: low_mm.into(),
            high: high_mm.into(),
        },
        wire::RegionShape::Lasso {
            origin_mm,
            right,
            up,
            corners_mm,
        } => record::RegionShape::Lasso {
            origin: origin_mm.into(),
            right: vector(right),
            up: vector(up),
            corners: corners_mm,
        },
    };
    record::Region {
        shape,
        note: r.note,
    }
}

fn opening(o: wire::Opening) -> record::Opening {
    record::Opening {
        name: o.name.unwrap_or_else(|| o.id.clone()),
        id: OpeningId(o.id),
        scan: ScanId(o.scan),
        side: o.side.into(),
        repeat_of: o.repeat_of.map(OpeningId),
        edge: o.edge.map(edge),
        top: o.top_mm.map(Point::from),
        outward: o.outward.map(vector),
        faces: o.faces.into_iter().map(face).collect(),
        junctions: o.junctions.into_iter().map(junction).collect(),
        holes: o.holes.into_iter().map(hole).collect(),
        sureness: o.sureness,
        note: o.note,
    }
}

fn edge(e: wire::Edge) -> record::EdgePick {
    // Without any point the place is not a number, which the check of the job names.
    let near = e
        .near_mm
        .or_else(|| e.by_hand_mm.first().copied())
        .unwrap_or([f64::NAN; 3]);
    record::EdgePick {
        near: near.into(),
        kind: e.kind.into(),
        by_hand: e.by_hand_mm.into_iter().map(Point::from).collect(),
        closed: e.closed,
    }
}

fn face(f: wire::Face) -> record::FacePick {
    record::FacePick {
        id: FaceId(f.id),
        near: f.near_mm.into(),
        facing: f.facing.map(vector),
        reach_mm: f.reach_mm,
        band_mm: f.band_mm,
    }
}

fn junction(j: wire::Junction) -> record::JunctionPick {
    record::JunctionPick {
        id: JunctionId(j.id),
        a: FaceId(j.a),
        b: FaceId(j.b),
        start: j.start_mm.into(),
        start_name: j.start_name,
        end_name: j.end_name,
        through: j.through.into(),
        stations: match j.stations {
            wire::Stations::Quarters => record::Stations::Quarters,
            wire::Stations::Every { spacing_mm } => record::Stations::Every(spacing_mm),
        },
        drawn_deg: j.drawn_deg,
    }
}

fn hole(h: wire::Hole) -> record::HolePick {
    record::HolePick {
        id: HoleId(h.id),
        near: h.near_mm.into(),
        kind: h.kind.into(),
        diameter_mm: h.diameter_mm,
    }
}

fn compare(c: wire::Compare) -> record::Compare {
    record::Compare {
        id: CompareId(c.id),
        a: OpeningId(c.a),
        b: c.b.map(OpeningId),
        relation: c.relation.into(),
        part: PartId(c.part),
    }
}

fn part(p: wire::Part) -> record::Part {
    let wire::Allowed {
        tight_mm,
        wide_mm,
        proud_mm,
        shy_mm,
        angle_deg,
    } = p.allowed;
    record::Part {
        name: p.name.unwrap_or_else(|| p.id.clone()),
        id: PartId(p.id),
        gap_mm: p.gap_mm,
        allowed: record::Allowed {
            tight_mm,
            wide_mm,
            proud_mm,
            shy_mm,
            angle_deg,
        },
        evenness: p.evenness.map(|e| record::Evenness {
            within_mm: e.within_mm,
            taper_mm: e.taper_mm,
        }),
        fasteners: p.fasteners.into_iter().map(fastener).collect(),
        gasket: p.gasket.map(|g| record::Gasket {
            thickness_mm: g.thickness_mm,
            least: g.least_share,
            most: g.most_share,
        }),
        finish: record::Finish {
            name: p.finish.name,
            part_mm: p.finish.part_mm,
            body_mm: p.finish.body_mm,
        },
        cutter_radius_mm: p.cutter_radius_mm,
        load_bearing: p.load_bearing,
        must_not_mirror: p.must_not_mirror,
        seen_together: p.seen_together,
        place: p.place,
        note: p.note,
    }
}

fn fastener(f: wire::Fastener) -> record::Fastener {
    record::Fastener {
        hole: HoleId(f.hole),
        fastener_mm: f.fastener_mm,
        part_hole_mm: f.part_hole_mm,
        body_hole_mm: f.body_hole_mm,
        fixing: f.fixing.into(),
        slot: f.slot.map(|s| record::Slot {
            along: s.along,
            extra_mm: s.extra_mm,
        }),
        shim_mm: f.shim_mm,
    }
}

fn hand_table(h: wire::Hand, only_visit: &str) -> record::HandTable {
    let path = h.path.map(std::path::PathBuf::from);
    let (readings, unread) = if h.rows.is_empty() || h.unread.is_some() {
        (Vec::new(), h.unread)
    } else {
        match crate::hand_from_str(&h.rows.join("\n")) {
            Ok(readings) => (readings, None),
            Err(e) => (Vec::new(), Some([e.to_string(), e.hint().to_owned()])),
        }
    };
    record::HandTable {
        id: ScanId(h.id),
        visit: VisitId(h.visit.unwrap_or_else(|| only_visit.to_owned())),
        path,
        hash: h.hash,
        flat: h.flat,
        readings,
        instruments: h
            .instruments
            .into_iter()
            .map(|i| record::HandInstrument {
                name: i.name,
                reading: i.reading,
                own: i.own,
                own_per_m: i.own_per_m,
                source: i.source,
            })
            .collect(),
        unread,
        note: h.note,
    }
}
