//! The shape midway between two edges laid on each other.

use geom::{Point, Polyline, SplineBasis, SplineFit, Vector};
use nalgebra::Point2;
use record::{Drawing, DrawnHole, DrawnStation};

use super::Pair;
use super::side::{blank, hole, place_reference};

/// Within what the edge is described by lines and arcs, mm; where more than so many would be needed, within what the
/// two edges themselves are.
const PIECES_WITHIN_MM: f64 = 0.05;
const MOST_PIECES: usize = 16;
/// Distance of the points of the curve, mm.
const STEP_MM: f64 = 0.5;

/// The drawing midway between a and b, in a's part axes: at every station the middle between a's edge and the place
/// where b's crosses the plane normal to it; holes midway between both. Junctions and faces are left out: their
/// angles stand in the table. `None` without two edges.
pub(super) fn midway(pair: &Pair<'_>) -> Option<Drawing> {
    let compare = pair.compare;
    let middles: Vec<Point> = compare
        .stations
        .iter()
        .filter(|s| s.seen)
        .map(|s| nalgebra::center(&s.a, &s.b))
        .collect();
    let closed = compare.closed && middles.len() == compare.stations.len();
    let chain = Polyline::new(middles, closed)?;
    let mut drawing = blank(pair, 0, compare.a.clone());
    drawing.edge = smooth(&chain)?;
    drawing.edge_closed = closed;
    let flat: Vec<Point2<f64>> = drawing.edge.iter().map(|p| Point2::new(p.x, p.y)).collect();
    let ids = [Some(&compare.a), compare.b.as_ref()];
    let edges = pair.measured.openings.iter();
    let edges = edges.filter(|o| ids.contains(&Some(&o.id)));
    let errors = edges.filter_map(|o| o.edge.as_ref().map(|e| e.pieces_error_mm));
    let loosest = errors.filter(|e| e.is_finite()).fold(0.0, f64::max);
    let within = [PIECES_WITHIN_MM, loosest.max(2.0 * PIECES_WITHIN_MM)];
    if let Some(fit) = geom::fit_few_arcs(&flat, closed, &within, MOST_PIECES, &|| true) {
        drawing.mark = Some(fit.path);
        drawing.mark_error_mm = fit.error_mm;
    }
    let kind_of = |id: &record::HoleId| {
        let a = pair.measured.openings.iter().find(|o| o.id == compare.a)?;
        a.holes.iter().find(|h| h.id == *id).map(|h| h.kind)
    };
    drawing.holes = compare
        .holes
        .iter()
        .map(|h| {
            let diameter = f64::midpoint(h.a_diameter.value, h.b_diameter.value);
            let drawn = hole(pair, &h.id, nalgebra::center(&h.a, &h.b), h.axis, diameter);
            DrawnHole {
                kind: kind_of(&h.id).unwrap_or_default(),
                ..drawn
            }
        })
        .collect();
    drawing.stations = compare
        .stations
        .iter()
        .filter(|s| s.seen && !s.place.starts_with("station"))
        .map(|s| DrawnStation {
            name: s.place.clone(),
            at: nalgebra::center(&s.a, &s.b),
        })
        .collect();
    place_reference(&mut drawing);
    Some(drawing)
}

/// A cubic spline through the points, sampled densely.
fn smooth(chain: &Polyline) -> Option<Vec<Point>> {
    let points: Vec<Vector> = chain.points().iter().map(|p| p.coords).collect();
    let spans = chain.segments();
    let at: Vec<f64> = (0..points.len()).map(|i| i as f64).collect();
    let basis = SplineBasis::new(0.0, spans as f64, spans, chain.closed());
    let curve = SplineFit::new(basis, &at, &[], 0.0)?.curve(&points);
    let n = (chain.length() / STEP_MM).ceil().clamp(64.0, 4000.0) as usize;
    let last = if chain.closed() { n } else { n - 1 };
    Some(
        (0..n)
            .map(|i| Point::from(curve.at(spans as f64 * i as f64 / last as f64)))
            .collect(),
    )
}
