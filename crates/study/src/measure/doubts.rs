//! Doubts that come from the job and from the scan as a whole, not from a fit.

use record::{
    Code, Compare, Finding, Job, LengthUnit, Number, Opening, Quantity, Relation, ScanRef,
    Severity, Side, Surface, UnitSource,
};

use super::edge_fit::FittedEdge;
use super::films::{Cover, Film, state_of};
use super::hole_fit::FittedHole;
use super::surface;

/// Loops in the mesh up to this length count as holes of the scan, mm.
const LONGEST_HOLE: f64 = 150.0;
/// Holes of the scan that reach within this of the edge are told, mm.
const NEAR_EDGE: f64 = 20.0;
/// A loop within this of a picked hole is that hole, mm.
const IS_HOLE: f64 = 8.0;

/// Units that nobody stated or checked.
pub fn units(job: &Job) -> Vec<Finding> {
    let guessed = |s: &&ScanRef| s.unit_source == UnitSource::Guessed;
    job.scans
        .iter()
        .filter(guessed)
        .map(|s| Finding {
            code: Code::UnitDoubt,
            severity: Severity::Doubt,
            subject: format!("scan {}", s.id),
            says: format!("its unit was guessed ({}) and not checked", s.unit.word()),
            advice: "state the unit, or tape one length on the body and enter it".to_owned(),
            numbers: Vec::new(),
        })
        .chain(job.scans.iter().filter_map(taped))
        .collect()
}

/// A taped length that disagrees with the stated unit.
fn taped(scan: &ScanRef) -> Option<Finding> {
    let UnitSource::Checked { from, to, taped_mm } = &scan.unit_source else {
        return None;
    };
    let seen = (to - from).norm();
    let ratio = seen / taped_mm;
    if (0.98..1.02).contains(&ratio) {
        return None;
    }
    let better = LengthUnit::ALL.into_iter().find(|u| {
        let r = ratio * u.in_mm() / scan.unit.in_mm();
        (0.98..1.02).contains(&r)
    });
    let length = |name: &str, value| Number {
        name: name.to_owned(),
        value,
        quantity: Some(Quantity::Length),
    };
    Some(Finding {
        code: Code::UnitDoubt,
        severity: Severity::Stop,
        subject: format!("scan {}", scan.id),
        says: format!("the taped length is {taped_mm:.1} mm, the scan says {seen:.1} mm"),
        advice: better.map_or_else(
            || "check the tape and both points".to_owned(),
            |u| format!("the unit is probably {}", u.word()),
        ),
        numbers: vec![length("taped", *taped_mm), length("in the scan", seen)],
    })
}

/// Unlike states of the two sides of a comparison, and what was taken off because of them.
pub fn body_states(
    job: &Job,
    compare: &Compare,
    a: &Opening,
    b: Option<&Opening>,
) -> Option<Finding> {
    let b = b?;
    let (sa, sb) = (state_of(job, a)?, state_of(job, b)?);
    let mut unlike = Vec::new();
    if sa.mounting != sb.mounting {
        unlike.push("one stood on its mounts, the other did not".to_owned());
    }
    if sa.doors_hung != sb.doors_hung {
        unlike.push("the doors were hung for one only".to_owned());
    }
    let (ca, cb) = (Cover::of(sa, a), Cover::of(sb, b));
    let names = if a.side == b.side {
        [a.name.clone(), b.name.clone()]
    } else {
        [side_or_name(a), side_or_name(b)]
    };
    let mut numbers = Vec::new();
    let mut advice = "measure both in one state";
    if !ca.alike(&cb) {
        let sides = [(&names[0], ca, ca.film()), (&names[1], cb, cb.film())];
        unlike.push(covers(&sides));
        if sides.iter().any(|s| !s.2.known) {
            advice = "measure the film on both sides and enter it with its give-or-take";
        } else if unlike.len() == 1 {
            advice = "all figures are those of bare metal: enter in the finish what is still to come on it";
        }
        for (name, _, film) in sides {
            let length = |name: String, value| Number {
                name,
                value,
                quantity: Some(Quantity::Length),
            };
            numbers.push(length(format!("taken off the {name}"), film.mm));
            numbers.push(length(
                format!("give or take of the film on the {name}"),
                film.u95_mm(),
            ));
        }
    }
    if unlike.is_empty() {
        return None;
    }
    Some(Finding {
        code: Code::UnlikeBodyStates,
        severity: Severity::Doubt,
        subject: compare.id.to_string(),
        says: format!(
            "the two were measured in unlike states: {}",
            unlike.join("; ")
        ),
        advice: advice.to_owned(),
        numbers,
    })
}

/// Left, right, or the name where both may be of one side.
fn side_or_name(o: &Opening) -> String {
    match o.side {
        Side::Left => "left".to_owned(),
        Side::Right => "right".to_owned(),
        Side::Centre | Side::NotSaid => o.name.clone(),
    }
}

/// "left is primed, right is bare; 0.15 mm was taken off the left (give or take 0.03)".
fn covers(sides: &[(&String, Cover, Film)]) -> String {
    let of = |s: &(&String, Cover, Film)| format!("{} is {}", s.0, word(s.1.surface));
    let states: Vec<String> = sides.iter().map(of).collect();
    let mut parts = vec![states.join(", ")];
    let mm = |v: f64| format!("{v:.3}").trim_end_matches('0').to_owned();
    for (name, _, film) in sides {
        if film.known && film.mm > 0.0 {
            let give = film.u95_mm();
            // No more digits than the give-or-take carries.
            let digits = if give >= 0.02 { 2 } else { 3 };
            parts.push(format!(
                "{:.digits$} mm was taken off the {name} (give or take {give:.digits$})",
                film.mm
            ));
        } else if !film.known {
            parts.push(format!(
                "how thick the film on the {name} is was not said: nothing was taken off, and {} mm more doubt stands in every \
                 place of its edge",
                mm((film.u95_mm() * 100.0).ceil() / 100.0)
            ));
        }
    }
    parts.join("; ")
}

fn word(s: Surface) -> &'static str {
    match s {
        Surface::NotNoted => "not noted",
        Surface::Bare => "bare",
        Surface::Primed => "primed",
        Surface::Painted => "painted",
    }
}

/// That the sides are as named: two loose scans carry no axes of the car.
pub fn side_as_named(compare: &Compare, a: &Opening) -> Option<Finding> {
    (compare.relation == Relation::Mirrored && a.outward.is_none()).then(|| Finding {
        code: Code::SideAsNamed,
        severity: Severity::Note,
        subject: a.name.clone(),
        says: "neither shape nor axes can tell left from right: the side is as you named it"
            .to_owned(),
        advice: "check the names of the scans".to_owned(),
        numbers: Vec::new(),
    })
}

/// Holes of the scan, not of the metal, beside an edge.
pub fn scanner_holes(
    surface: &surface::Surface,
    name: &str,
    edge: &FittedEdge,
    holes: &[&FittedHole],
) -> Option<Finding> {
    let prepared = surface.prepared();
    let stations: Vec<geom::Point> = (0..128)
        .map(|k| edge.station(f64::from(k) / 128.0).p)
        .collect();
    let count = prepared
        .loops
        .iter()
        .filter(|l| l.closed && l.slots.len() > 3)
        .filter(|l| {
            let points: Vec<geom::Point> =
                l.slots.iter().map(|s| prepared.blocks.point(*s)).collect();
            let length: f64 = points
                .iter()
                .zip(points.iter().cycle().skip(1))
                .map(|(a, b)| (b - a).norm())
                .sum();
            if length > LONGEST_HOLE {
                return false;
            }
            let b = geom::Aabb::of(&points);
            let middle = b.centre();
            let near =
                |p: &geom::Point, within: f64| (p - middle).norm() < within + b.size().norm() / 2.0;
            stations.iter().any(|p| near(p, NEAR_EDGE))
                && !holes.iter().any(|h| (h.centre - middle).norm() < IS_HOLE)
        })
        .count();
    (count > 0).then(|| Finding {
        code: Code::ScannerHole,
        severity: Severity::Note,
        subject: name.to_owned(),
        says: format!(
            "{count} holes of the scan, not of the metal, lie beside this edge; nothing was filled"
        ),
        advice: String::new(),
        numbers: vec![Number {
            name: "holes of the scan".to_owned(),
            value: count as f64,
            quantity: None,
        }],
    })
}
