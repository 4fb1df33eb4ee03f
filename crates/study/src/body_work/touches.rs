//! Which named places an area reaches.

use std::collections::BTreeSet;

use geom::Point;
use record::{
    BodyWork, Figure, Job, LaidWork, Measured, MeasuredEdge, MeasuredOpening, Opening, Quantity,
    Source, Touched, WorkedArea,
};

use super::opening;
use crate::compare::{place_name, side_words};

/// An edge is made from the metal within this of it: the bend, the return flange and the panel beside it, mm.
const BESIDE_EDGE: f64 = 14.0;
/// A hole is made from the metal within this of its rim, mm.
const BESIDE_HOLE: f64 = 5.0;

/// Says of each area what it reaches.
pub(super) fn touches(job: &Job, measured: &Measured, work: &BodyWork, laid: &mut LaidWork) {
    let half = laid.patch_mm / 6.0;
    for k in 0..laid.areas.len() {
        let cells: Vec<Point> = laid
            .cells
            .iter()
            .filter(|c| c.area == Some(k))
            .map(|c| c.at)
            .collect();
        let area = laid.areas[k].clone();
        let near = |p: &Point, within: f64| {
            let r = (within + half).powi(2);
            cells.iter().any(|c| (c - p).norm_squared() <= r)
        };
        laid.areas[k].touches = job
            .openings
            .iter()
            .filter(|o| o.scan == work.before && o.repeat_of.is_none())
            .filter_map(|o| Some((o, opening(measured, &o.id)?)))
            .flat_map(|(o, m)| of_opening(o, m, &area, &near))
            .collect();
    }
}

fn of_opening(
    o: &Opening,
    m: &MeasuredOpening,
    area: &WorkedArea,
    near: &dyn Fn(&Point, f64) -> bool,
) -> Vec<Touched> {
    let plain = |what: String| Touched {
        opening: o.id.clone(),
        name: o.name.clone(),
        what,
        place: String::new(),
        along_mm: None,
        stations: [0; 2],
        moved: None,
    };
    let mut out = Vec::new();
    if let Some(edge) = &m.edge {
        out.extend(of_edge(o, m, edge, area, near));
    }
    for f in &m.faces {
        let reach = 0.5 * f.size_mm[1];
        if near(&f.centre, reach) {
            out.push(plain(format!("face {}", f.id)));
        }
    }
    for j in &m.junctions {
        let beside = j.widths_mm[0].max(j.widths_mm[1]);
        let hit: Vec<&record::StationAngle> =
            j.stations.iter().filter(|s| near(&s.at, beside)).collect();
        if !hit.is_empty() {
            let names: Vec<&str> = hit.iter().map(|s| s.place.as_str()).collect();
            out.push(Touched {
                place: names.join(", "),
                stations: [hit.len(), j.stations.len()],
                ..plain(format!("junction {}", j.id))
            });
        }
    }
    for h in &m.holes {
        if near(&h.centre, 0.5 * h.diameter.value + BESIDE_HOLE) {
            out.push(plain(format!("hole {}", h.id)));
        }
    }
    out
}

fn of_edge(
    o: &Opening,
    m: &MeasuredOpening,
    edge: &MeasuredEdge,
    area: &WorkedArea,
    near: &dyn Fn(&Point, f64) -> bool,
) -> Option<Touched> {
    let back = m.part_from_scan.inverse();
    let hit: Vec<bool> = edge
        .stations
        .iter()
        .map(|s| near(&(back * s.at), BESIDE_EDGE))
        .collect();
    let n = hit.len();
    let count = hit.iter().filter(|h| **h).count();
    if count == 0 {
        return None;
    }
    // The run begins after the longest stretch that is not reached.
    let first = longest_free(&hit, edge.closed);
    let run: Vec<usize> = (0..n)
        .map(|k| (first + k) % n)
        .filter(|&k| hit[k])
        .collect();
    let (from, to) = (*run.first()?, *run.last()?);
    let half = edge.stations.iter().fold((1e-9_f64, 1e-9_f64), |h, s| {
        (h.0.max(s.at.x.abs()), h.1.max(s.at.y.abs()))
    });
    let outward = o.outward.map(|v| m.part_from_scan.rotation * v);
    let words = side_words(outward, o.side);
    let mut seen = BTreeSet::new();
    let names: Vec<String> = run
        .iter()
        .map(|&k| place_name(&edge.stations[k].at, half, words))
        .filter(|name| seen.insert(name.clone()))
        .collect();
    let place = match names.as_slice() {
        [one] => one.clone(),
        [first, .., last] => format!("{first} to {last}"),
        [] => String::new(),
    };
    let middle = &edge.stations[run[run.len() / 2]];
    let way = m.part_from_scan.rotation * area.normal.into_inner();
    let part = |d: &geom::Unit| {
        let share = way.dot(d);
        Figure {
            value: share * area.mean.value,
            u95: share.abs() * area.mean.u95,
            nu: area.mean.nu,
            source: Source::Noise,
            quantity: Quantity::Length,
        }
    };
    Some(Touched {
        opening: o.id.clone(),
        name: o.name.clone(),
        what: "edge".to_owned(),
        place,
        along_mm: Some([edge.stations[from].along_mm, edge.stations[to].along_mm]),
        stations: [count, n],
        moved: Some([part(&middle.gap_dir), part(&middle.flush_dir)]),
    })
}

/// The station after the longest stretch that is not reached.
fn longest_free(hit: &[bool], closed: bool) -> usize {
    let n = hit.len();
    if !closed {
        return 0;
    }
    let (mut best, mut at, mut run) = (0, 0, 0);
    for k in 0..2 * n {
        if hit[k % n] {
            run = 0;
        } else {
            run += 1;
            if run > best && run <= n {
                (best, at) = (run, (k + 1) % n);
            }
        }
    }
    at
}
