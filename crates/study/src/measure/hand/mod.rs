//! Openings measured by hand: readings pooled, tied to a network, adjusted, and turned into the figures that a scan gives.

mod angles;
mod edge;
mod net;
mod outline;
mod pool;
mod words;

use geom::{Point, Rigid, u95};
use record::{
    Code, Figure, Finding, HandKind, HandTable, HoleKind, Job, MeasuredEdge, MeasuredHole,
    MeasuredOpening, Number, Opening, Quantity, Severity, Source,
};

use super::edge::{dense, measured_edge, station_shares};
use super::edge_fit::FittedEdge;
use super::opening::OpeningWork;
use super::part_axes;
use super::strip_noise::StripNoise;
use edge::HandEdge;
use net::{Laid, lay_out};
use pool::{Pooled, Pools, pooled};

/// Measures an opening from the hand table it is in. The repeats of all tables of the visit speak for the scatter of each
/// instrument.
pub fn measure_by_hand(job: &Job, opening: &Opening, table: &HandTable) -> OpeningWork {
    let mut findings = Vec::new();
    if let Some([says, advice]) = &table.unread {
        findings.push(Finding {
            code: Code::ScanNotRead,
            severity: Severity::Stop,
            subject: opening.name.clone(),
            says: format!("hand table {} was not read: {says}", table.id),
            advice: advice.clone(),
            numbers: Vec::new(),
        });
    }
    let pools = Pools::of_visit(job, table);
    let readings = pooled(opening, table, &pools, &mut findings);
    let edge_rows = readings.iter().find(|r| r.kind == HandKind::Edge);
    let laid = lay_out(opening, table, &readings, &mut findings);
    let edge = laid
        .as_ref()
        .zip(edge_rows)
        .and_then(|(l, rows)| HandEdge::new(opening, table, l, rows, &mut findings));
    if edge_rows.is_none() && table.unread.is_none() {
        findings.push(Finding {
            code: Code::HandRowNotUsed,
            severity: Severity::Doubt,
            subject: opening.name.clone(),
            says: "no row says which points make up its edge, in which order".to_owned(),
            advice: "add a row of kind \"edge\": all points of the edge in order, and in \"station\" whether they run clockwise or \
                     counter-clockwise as seen from outside"
                .to_owned(),
            numbers: Vec::new(),
        });
    }
    let fitted = edge.as_ref().map(|e| e.fitted.clone());
    let part_from_net = edge.as_ref().map_or_else(Rigid::identity, part_axes_of);
    let nu = edge.as_ref().map_or(f64::INFINITY, |e| e.nu);
    let strips = StripNoise::new(&super::assumed_noise());
    let spreads = fitted.as_ref().and_then(|f| f.spread(&strips, &|| true));
    let measured = fitted.as_ref().zip(spreads.as_ref()).map(|(f, s)| {
        let mut m = measured_edge(f, s, nu, &part_from_net, &|| true);
        for d in &mut m.dimensions {
            d.figure.source = Source::Instrument;
        }
        for c in &mut m.corners {
            c.radius.source = Source::Instrument;
        }
        m
    });
    if let Some(m) = &measured {
        findings.extend(coarse(job, opening, m));
    }
    let half_height = measured.as_ref().map_or(0.0, |m| {
        m.stations.iter().map(|s| s.at.y).fold(0.0, f64::max)
    });
    let junctions = angles::junctions(
        opening,
        &readings,
        &part_from_net,
        half_height,
        &mut findings,
    );
    let holes = edge.as_ref().map_or_else(Vec::new, |e| {
        holes(&readings, &e.laid, e, &part_from_net, nu)
    });
    let mut measured_opening = MeasuredOpening {
        id: opening.id.clone(),
        name: opening.name.clone(),
        side: opening.side,
        part_from_scan: part_from_net,
        edge: measured,
        faces: Vec::new(),
        junctions,
        holes,
        findings,
    };
    if let Some(m) = &mut measured_opening.edge {
        m.dimensions.extend(words::at_places(&readings));
    }
    OpeningWork::by_hand(measured_opening, opening, fitted.clone(), spreads, nu, {
        fitted
            .as_ref()
            .map_or_else(Vec::new, |f: &FittedEdge| dense(f, |p| *p))
    })
}

/// The points of an opening as they were measured by hand, part axes, mm; empty where its table has no answer.
pub fn places_by_hand(job: &Job, opening: &Opening, table: &HandTable) -> Vec<(String, Point)> {
    let mut findings = Vec::new();
    let pools = Pools::of_visit(job, table);
    let readings = pooled(opening, table, &pools, &mut findings);
    let Some(rows) = readings.iter().find(|r| r.kind == HandKind::Edge) else {
        return Vec::new();
    };
    let Some(laid) = lay_out(opening, table, &readings, &mut findings) else {
        return Vec::new();
    };
    let Some(edge) = HandEdge::new(opening, table, &laid, rows, &mut findings) else {
        return Vec::new();
    };
    let part_from_net = part_axes_of(&edge);
    edge.laid
        .names
        .iter()
        .zip(&edge.laid.points)
        .map(|(n, p)| (n.clone(), part_from_net * p))
        .collect()
}

fn part_axes_of(edge: &HandEdge) -> Rigid {
    let f = &edge.fitted;
    let stations: Vec<_> = station_shares(f)
        .into_iter()
        .map(|s| f.station(s))
        .collect();
    let points: Vec<Point> = stations.iter().map(|s| s.p).collect();
    let outs: Vec<_> = stations.iter().map(|s| s.out).collect();
    part_axes::of_edge(&points, &outs, f.closed, edge.top.as_ref())
}

/// That the readings are too coarse for what is allowed of the part: then one cut by them can hardly be proven to fit.
fn coarse(job: &Job, opening: &Opening, edge: &MeasuredEdge) -> Option<Finding> {
    let compare = job
        .compares
        .iter()
        .find(|c| c.a == opening.id || c.b.as_ref() == Some(&opening.id))?;
    let part = job.choices.parts.iter().find(|p| p.id == compare.part)?;
    let allowed = part.allowed.tight_mm.min(part.allowed.wide_mm);
    let mut known: Vec<f64> = edge
        .stations
        .iter()
        .map(|s| u95(s.gap_u_mm, edge.spread.nu))
        .collect();
    known.sort_by(f64::total_cmp);
    let known = known.get(known.len() / 2).copied()?;
    let length = |name: &str, value: f64| Number {
        name: name.to_owned(),
        value,
        quantity: Some(Quantity::Length),
    };
    (known > allowed).then(|| Finding {
        code: Code::CoarseScan,
        severity: Severity::Doubt,
        subject: opening.name.clone(),
        says: format!(
            "by hand its edge is known within {known:.1} mm, you allow {allowed:.1}: a part cut by these readings can hardly be \
             proven to fit"
        ),
        advice: "repeat the readings, use a trammel or caliper, take more points at corners, or try a card template before cutting"
            .to_owned(),
        numbers: vec![length("known within", known), length("allowed", allowed)],
    })
}

/// Holes and studs: their middles are points of the network, their diameters were read.
fn holes(
    readings: &[Pooled],
    laid: &Laid,
    edge: &HandEdge,
    part_from_net: &Rigid,
    nu: f64,
) -> Vec<MeasuredHole> {
    readings
        .iter()
        .filter(|r| matches!(r.kind, HandKind::Hole | HandKind::Stud))
        .filter_map(|r| {
            let name = r.from.first()?;
            let i = laid.index(name)?;
            let c = laid.covariance(i);
            let along = |v: &geom::Vector| (v.transpose() * c * v)[0].max(0.0);
            let place = edge.fitted.station(0.0);
            let across = place.out.into_inner();
            let mean = (c.trace() - along(&across)).max(0.0) / 2.0;
            let length = |value: f64, u: f64, nu: f64| Figure {
                value,
                u95: u95(u, nu),
                nu,
                source: Source::Instrument,
                quantity: Quantity::Length,
            };
            Some(MeasuredHole {
                id: name.as_str().into(),
                kind: if r.kind == HandKind::Hole {
                    HoleKind::Hole
                } else {
                    HoleKind::Stud
                },
                centre: part_from_net * laid.points[i],
                axis: part_from_net.rotation * place.out,
                centre_u95: length(0.0, mean.sqrt(), nu),
                diameter: length(r.value, r.sigma(), r.nu),
                arc_deg: 360.0,
                findings: Vec::new(),
            })
        })
        .collect()
}
