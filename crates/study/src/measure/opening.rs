//! One opening: what its picks lead to, and then its figures.

use geom::{NoiseModel, Plane, Point, Rigid, Unit, Vector, u95};
use record::{
    Code, EdgeKind, EdgePick, Figure, Finding, HoleId, HoleKind, HolePick, JunctionId,
    MeasuredFace, MeasuredHole, MeasuredJunction, MeasuredOpening, Number, Opening, Quantity,
    Severity, Source,
};

use super::doubts;
use super::edge::{dense, measured_edge, station_shares};
use super::edge_fit::{FittedEdge, Spreads};
use super::edge_trace::{NoEdge, trace};
use super::face::{FittedFace, fit_face, measured_face};
use super::face_grow::NoFace;
use super::films::Film;
use super::hole_fit::{FittedHole, fit_hole, fit_stud};
use super::junction::measured_junction;
use super::part_axes;
use super::strip_noise::StripNoise;
use super::surface::Surface;
use super::tile::Tile;

/// What the picks of an opening lead to in the scan; no noise model is needed for it.
#[derive(Clone, Debug)]
pub struct Found {
    edge: Option<Result<FittedEdge, NoEdge>>,
    faces: Vec<(String, Result<FittedFace, NoFace>)>,
    holes: Vec<(HoleId, Option<FittedHole>)>,
    /// Tiles of smooth metal for the noise of the visit.
    pub tiles: Vec<Tile>,
    scanner_holes: Option<Finding>,
}

/// A measured opening with what comparing still needs of it.
#[derive(Clone, Debug)]
pub struct OpeningWork {
    /// Its figures.
    pub measured: MeasuredOpening,
    /// Its edge, scan axes.
    pub fitted: Option<FittedEdge>,
    /// The doubt of its edge.
    pub spreads: Option<Spreads>,
    /// Degrees of freedom of that.
    pub nu: f64,
    /// Whether an edge was picked, found or not.
    pub edge_asked: bool,
    /// Whether it is measured by hand.
    pub by_hand: bool,
    /// The edge, dense, scan axes.
    pub dense: Vec<Point>,
    /// Towards the outside of the car in part axes, if known.
    pub outward_in_part: Option<Vector>,
    drawn: Vec<(JunctionId, f64)>,
}

impl OpeningWork {
    /// Of an opening that was measured by hand; its edge in the axes of its network.
    pub fn by_hand(
        measured: MeasuredOpening,
        opening: &Opening,
        fitted: Option<FittedEdge>,
        spreads: Option<Spreads>,
        nu: f64,
        dense: Vec<Point>,
    ) -> Self {
        let part_from_net = measured.part_from_scan;
        Self {
            measured,
            fitted,
            spreads,
            nu,
            edge_asked: true,
            by_hand: true,
            dense,
            outward_in_part: opening.outward.map(|v| part_from_net.rotation * v),
            drawn: Vec::new(),
        }
    }

    /// The angle a junction was drawn with, degrees.
    pub fn drawn(&self, id: &JunctionId) -> Option<f64> {
        self.drawn.iter().find(|d| d.0 == *id).map(|d| d.1)
    }
}

/// Follows the pick of an edge.
pub fn edge_of(surface: &Surface, pick: &EdgePick) -> Result<FittedEdge, NoEdge> {
    if pick.by_hand.is_empty() {
        trace(surface, &pick.near, pick.kind)
            .and_then(|t| FittedEdge::new(surface, &t).ok_or(NoEdge::NotAnEdge))
    } else {
        FittedEdge::by_hand(&pick.by_hand, pick.closed, None).ok_or(NoEdge::NotAnEdge)
    }
}

/// Follows the pick of a hole or stud; `edge` tells the outside, if there is one.
pub fn hole_of(
    surface: &Surface,
    pick: &HolePick,
    edge: Option<&FittedEdge>,
) -> Option<FittedHole> {
    let out = edge.and_then(|e| nearest_out(e, &pick.near));
    match pick.kind {
        HoleKind::Hole => fit_hole(surface, &pick.near, out.as_ref(), pick.diameter_mm),
        HoleKind::Stud => fit_stud(surface, &pick.near, out.as_ref(), pick.diameter_mm),
    }
}

/// Follows the picks of an opening.
pub fn find(surface: &Surface, opening: &Opening) -> Found {
    let edge = opening.edge.as_ref().map(|pick| edge_of(surface, pick));
    let faces: Vec<_> = opening
        .faces
        .iter()
        .map(|pick| (pick.id.to_string(), fit_face(surface, pick)))
        .collect();
    let found_edge = edge.as_ref().and_then(|e| e.as_ref().ok());
    let holes: Vec<(HoleId, Option<FittedHole>)> = opening
        .holes
        .iter()
        .map(|pick| (pick.id.clone(), hole_of(surface, pick, found_edge)))
        .collect();
    let mut tiles: Vec<Tile> = faces
        .iter()
        .filter_map(|(_, f)| f.as_ref().ok())
        .flat_map(|f| Tile::of_face(surface, &f.grown, &f.fit))
        .collect();
    if let Some(Ok(e)) = &edge {
        tiles.extend(Tile::beside(surface, e));
    }
    Found {
        scanner_holes: match &edge {
            Some(Ok(e)) => {
                let round: Vec<&FittedHole> =
                    holes.iter().filter_map(|(_, h)| h.as_ref()).collect();
                doubts::scanner_holes(surface, &opening.name, e, &round)
            }
            _ => None,
        },
        edge,
        faces,
        holes,
        tiles,
    }
}

fn nearest_out(edge: &FittedEdge, near: &Point) -> Option<Unit> {
    (0..64)
        .map(|k| edge.station(f64::from(k) / 64.0))
        .min_by(|a, b| {
            (a.p - near)
                .norm_squared()
                .total_cmp(&(b.p - near).norm_squared())
        })
        .map(|s| s.out)
}

/// The figures of an opening, those of the metal under `film` if there is one to take off; `None` once `go_on` says no.
pub fn measure_opening(
    opening: &Opening,
    found: &Found,
    noise: &NoiseModel,
    strips: &StripNoise,
    flatness_mm: f64,
    film: &Film,
    go_on: geom::GoOn<'_>,
) -> Option<OpeningWork> {
    let mut findings: Vec<Finding> = found.scanner_holes.iter().cloned().collect();
    let fitted = match &found.edge {
        Some(Ok(e)) if film.matters() => e.without_film(film).or_else(|| Some(e.clone())),
        Some(Ok(e)) => Some(e.clone()),
        Some(Err(why)) => {
            findings.push(no_edge(&opening.name, *why));
            None
        }
        None => None,
    };
    let fits: Vec<&FittedFace> = found
        .faces
        .iter()
        .filter_map(|(_, f)| f.as_ref().ok())
        .collect();
    for (name, f) in &found.faces {
        if let Err(why) = f {
            findings.push(no_face(&opening.name, name, *why));
        }
    }
    let part_from_scan = axes_of(opening, fitted.as_ref(), &fits);
    let faces: Vec<_> = fits
        .iter()
        .map(|f| go_on().then(|| bare_face(measured_face(f, noise), film)))
        .collect::<Option<_>>()?;
    let mut junctions = Vec::new();
    for pick in &opening.junctions {
        if !go_on() {
            return None;
        }
        let face = |id: &record::FaceId| fits.iter().find(|f| f.id == *id);
        if let (Some(a), Some(b)) = (face(&pick.a), face(&pick.b)) {
            match measured_junction(pick, a, b, noise, flatness_mm) {
                Ok(j) => {
                    let normals = [a.grown.axes.n, b.grown.axes.n];
                    junctions.push(bare_junction(j, &normals, film));
                }
                Err(finding) => findings.push(Finding {
                    subject: format!("{}, {}", opening.name, pick.id),
                    ..finding
                }),
            }
        }
    }
    if !go_on() {
        return None;
    }
    let spreads = match &fitted {
        Some(f) => Some(f.spread(strips, go_on)?),
        None => None,
    };
    let edge = fitted
        .as_ref()
        .zip(spreads.as_ref())
        .map(|(f, s)| measured_edge(f, s, strips.nu, &part_from_scan, go_on));
    if let (Some(e), Some(f)) = (&edge, &fitted) {
        edge_findings(opening, e, f, &mut findings);
    }
    let holes = found
        .holes
        .iter()
        .zip(&opening.holes)
        .filter_map(|((id, fit), pick)| {
            if fit.is_none() {
                findings.push(not_found(
                    &format!("{}, hole {id}", opening.name),
                    "no round hole was found at this pick",
                ));
            }
            fit.as_ref().map(|h| {
                let h = bare_hole(h, pick.kind, film);
                measured_hole(id, pick.kind, &h, noise, &part_from_scan)
            })
        })
        .collect();
    let work = OpeningWork {
        measured: MeasuredOpening {
            id: opening.id.clone(),
            name: opening.name.clone(),
            side: opening.side,
            part_from_scan,
            edge,
            faces,
            junctions,
            holes,
            findings,
        },
        dense: fitted.as_ref().map_or_else(Vec::new, |f| dense(f, |p| *p)),
        fitted,
        spreads,
        nu: strips.nu,
        edge_asked: opening.edge.is_some(),
        by_hand: false,
        outward_in_part: opening.outward.map(|v| part_from_scan.rotation * v),
        drawn: opening
            .junctions
            .iter()
            .filter_map(|j| j.drawn_deg.map(|d| (j.id.clone(), d)))
            .collect(),
    };
    go_on().then_some(work)
}

/// The face of the metal under a film.
fn bare_face(mut face: MeasuredFace, film: &Film) -> MeasuredFace {
    let into = face.plane.normal.into_inner() * film.mm;
    face.centre -= into;
    face.plane = Plane::through(&face.centre, face.plane.normal);
    face
}

/// The junction of the metal under an even film: both faces move into the metal, the angle stays.
fn bare_junction(
    mut junction: MeasuredJunction,
    normals: &[Unit; 2],
    film: &Film,
) -> MeasuredJunction {
    let along = junction.end - junction.start;
    let rows = nalgebra::Matrix3::from_rows(&[
        normals[0].transpose(),
        normals[1].transpose(),
        along.transpose(),
    ]);
    let moved = Vector::new(-film.mm, -film.mm, 0.0);
    // Faces that lie in one plane have no line to move.
    if let Some(by) = rows.try_inverse().map(|r| r * moved) {
        junction.start += by;
        junction.end += by;
        for s in &mut junction.stations {
            s.at += by;
        }
    }
    junction
}

/// The hole or stud of the metal under a film.
fn bare_hole(h: &FittedHole, kind: HoleKind, film: &Film) -> FittedHole {
    let wider = match kind {
        HoleKind::Hole => film.mm,
        HoleKind::Stud => -film.mm,
    };
    FittedHole {
        centre: h.centre - h.axis.into_inner() * film.mm,
        radius: h.radius + wider,
        u_radius: h.u_radius.hypot(film.u_mm),
        ..h.clone()
    }
}

fn axes_of(opening: &Opening, fitted: Option<&FittedEdge>, faces: &[&FittedFace]) -> Rigid {
    if let Some(f) = fitted {
        let stations: Vec<_> = station_shares(f)
            .into_iter()
            .map(|s| f.station(s))
            .collect();
        let points: Vec<Point> = stations.iter().map(|s| s.p).collect();
        let outs: Vec<Unit> = stations.iter().map(|s| s.out).collect();
        return part_axes::of_edge(&points, &outs, f.closed, opening.top.as_ref());
    }
    let Some(first) = faces.first() else {
        return Rigid::identity();
    };
    let n = faces.len() as f64;
    let centre = Point::from(
        faces
            .iter()
            .map(|f| f.grown.axes.origin.coords)
            .sum::<Vector>()
            / n,
    );
    let up = opening
        .top
        .or_else(|| opening.junctions.first().map(|j| j.start))
        .map(|t| t - centre);
    part_axes::axes(&centre, &first.grown.axes.n, up)
}

/// The figures of a hole.
pub fn measured_hole(
    id: &HoleId,
    kind: HoleKind,
    h: &FittedHole,
    noise: &NoiseModel,
    part_from_scan: &Rigid,
) -> MeasuredHole {
    let middle = h.middle_doubt(noise);
    let length = |value: f64, u: f64| Figure {
        value,
        u95: u95(u, h.nu),
        nu: h.nu,
        source: Source::EdgeSight,
        quantity: Quantity::Length,
    };
    let mut findings = Vec::new();
    if h.arc_deg < 60.0 {
        findings.push(Finding {
            code: Code::ShortArc,
            severity: Severity::Doubt,
            subject: format!("hole {id}"),
            says: format!("only {:.0} degrees of its edge were seen", h.arc_deg),
            advice: "scan it again from the other side, or measure its middle by hand".to_owned(),
            numbers: vec![Number {
                name: "arc seen".to_owned(),
                value: h.arc_deg,
                quantity: Some(Quantity::Angle),
            }],
        });
    }
    MeasuredHole {
        id: id.clone(),
        kind,
        centre: part_from_scan * h.centre,
        axis: part_from_scan.rotation * h.axis,
        centre_u95: Figure {
            u95: middle.u95,
            nu: middle.nu,
            ..length(0.0, 0.0)
        },
        diameter: length(2.0 * h.radius, 2.0 * h.u_radius),
        arc_deg: h.arc_deg,
        findings,
    }
}

fn edge_findings(
    opening: &Opening,
    edge: &record::MeasuredEdge,
    fitted: &FittedEdge,
    findings: &mut Vec<Finding>,
) {
    let gaps: f64 = edge.gaps.iter().map(|g| g.length_mm).sum();
    if gaps > 0.0 {
        findings.push(Finding {
            code: Code::EdgeGap,
            severity: if gaps > 0.1 * fitted.length {
                Severity::Doubt
            } else {
                Severity::Note
            },
            subject: opening.name.clone(),
            says: format!(
                "{gaps:.0} mm of the edge were not seen ({:.0} % of it); nothing is guessed there",
                100.0 * gaps / fitted.length
            ),
            advice: "scan that stretch again if the part sits there".to_owned(),
            numbers: vec![Number {
                name: "not seen".to_owned(),
                value: gaps,
                quantity: Some(Quantity::Length),
            }],
        });
    }
    if edge.kind == EdgeKind::Free {
        findings.push(Finding {
            code: Code::CoarseScan,
            severity: Severity::Note,
            subject: opening.name.clone(),
            says: format!(
                "this edge has no return flange: it is known only as finely as the scan, within {:.2} mm all round",
                fitted.bias
            ),
            advice: "check one width with a caliper".to_owned(),
            numbers: vec![Number {
                name: "common to all stations".to_owned(),
                value: fitted.bias,
                quantity: Some(Quantity::Length),
            }],
        });
    }
}

fn not_found(subject: &str, says: &str) -> Finding {
    Finding {
        code: Code::PickNotFound,
        severity: Severity::Doubt,
        subject: subject.to_owned(),
        says: says.to_owned(),
        advice: "click again, closer to it".to_owned(),
        numbers: Vec::new(),
    }
}

fn no_edge(opening: &str, why: NoEdge) -> Finding {
    match why {
        NoEdge::NoPoints => not_found(opening, "there are no points near the pick of the edge"),
        NoEdge::NotAnEdge => not_found(opening, "no edge could be followed from this pick"),
    }
}

fn no_face(opening: &str, face: &str, why: NoFace) -> Finding {
    let subject = format!("{opening}, {face}");
    match why {
        NoFace::NoPoints => Finding {
            code: Code::FewPoints,
            ..not_found(
                &subject,
                "there are too few points near the pick of this face",
            )
        },
        NoFace::NotSmooth => not_found(&subject, "no smooth face was found at this pick"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_hole_seen_over_a_short_arc_is_told() {
        let codes = |arc_deg: f64| -> Vec<Code> {
            let hole = FittedHole {
                centre: Point::origin(),
                axis: Vector::z_axis(),
                radius: 3.0,
                u_centre: 0.03,
                held_by: 20.0,
                u_radius: 0.03,
                nu: 20.0,
                arc_deg,
            };
            let noise = NoiseModel::known(geom::Kernel::Gaussian, 0.02, 3.0, 0.02);
            let m = measured_hole(
                &"h".into(),
                HoleKind::Hole,
                &hole,
                &noise,
                &Rigid::identity(),
            );
            m.findings.iter().map(|f| f.code).collect()
        };
        assert_eq!(codes(55.0), [Code::ShortArc]);
        assert_eq!(codes(65.0), []);
    }

    #[test]
    fn a_film_narrows_holes_and_thickens_studs() {
        let hole = FittedHole {
            centre: Point::new(1.0, 2.0, 3.0),
            axis: Vector::z_axis(),
            radius: 3.0,
            u_centre: 0.03,
            held_by: 20.0,
            u_radius: 0.03,
            nu: 20.0,
            arc_deg: 360.0,
        };
        let film = Film {
            mm: 0.15,
            u_mm: 0.04,
            known: true,
        };
        let bare = bare_hole(&hole, HoleKind::Hole, &film);
        assert_eq!(bare.centre, Point::new(1.0, 2.0, 2.85));
        assert!((bare.radius - 3.15).abs() < 1e-12 && (bare.u_radius - 0.05).abs() < 1e-12);
        assert!((bare_hole(&hole, HoleKind::Stud, &film).radius - 2.85).abs() < 1e-12);
    }
}
