//! Walks along an opening edge from a pick, as a first, rough line.
//!
//! Where the sheet is bent into a return flange the walk follows the sharp line in which panel and flange would
//! meet; where it ends free, the free edge. Gaps are stepped over and remembered, never filled.

use geom::{Point, Unit, Vector, any_perpendicular};
use record::EdgeKind;

use super::robust;
use super::surface::Surface;

/// Length of a step, mm.
const STEP: f64 = 4.0;
/// Width beside the bend that is left out, mm: it holds the bend radius and softened edges.
pub const BAND: f64 = 2.6;
/// How far panel and flange are looked at across the edge, mm.
const PANEL_REACH: f64 = 13.0;
const FLANGE_REACH: f64 = 12.0;
/// The longest stretch without metal that is stepped over, mm.
const LONGEST_GAP: f64 = 45.0;
/// The walk looks at points about this far apart, mm: all are weighed once the way is known.
const APART: f64 = 1.0;
/// The longest edge, mm.
const LONGEST_EDGE: f64 = 8_000.0;
/// A normal belongs to the panel (flange) within this angle.
const PANEL_CONE: f64 = 0.85;
const FLANGE_CONE: f64 = 0.80;

/// A place on the walk.
#[derive(Clone, Copy, Debug)]
pub struct TracePoint {
    /// Where, scan axes, mm.
    pub p: Point,
    /// In the panel, towards the inside of the opening.
    pub inward: Unit,
    /// Normal of the panel, out of the metal.
    pub out: Unit,
    /// Normal of the flange, out of the metal (towards the inside); equals `inward` at a free edge.
    pub wall: Unit,
    /// Whether metal was seen here.
    pub seen: bool,
}

impl TracePoint {
    /// Along the edge, counter-clockwise seen from outside.
    pub fn along(&self) -> Unit {
        Unit::new_normalize(self.inward.cross(&self.out))
    }
}

/// A rough edge.
#[derive(Clone, Debug)]
pub struct Trace {
    /// Places about [`STEP`] apart, counter-clockwise seen from outside.
    pub points: Vec<TracePoint>,
    /// Whether the last joins the first.
    pub closed: bool,
    /// Free or bend, never auto.
    pub kind: EdgeKind,
}

/// Why no edge was found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoEdge {
    /// No points near the pick.
    NoPoints,
    /// Points, but neither a bend nor a free edge.
    NotAnEdge,
}

/// Walks the edge near `near` both ways until it closes or ends.
pub fn trace(surface: &Surface, near: &Point, kind: EdgeKind) -> Result<Trace, NoEdge> {
    let (mut start, kind) = start(surface, near, kind)?;
    for _ in 0..3 {
        start = refine(surface, &start, kind, 0.0).ok_or(NoEdge::NotAnEdge)?;
    }
    let (mut points, closed) = walk(surface, start, kind, 1.0);
    if !closed {
        let (back, _) = walk(surface, start, kind, -1.0);
        points = back.into_iter().skip(1).rev().chain(points).collect();
    }
    let joined = closed || closes_over_gap(&mut points);
    Ok(Trace {
        points,
        closed: joined,
        kind,
    })
}

/// One walk in direction `sign`; true when it came back to its start.
fn walk(
    surface: &Surface,
    start: TracePoint,
    kind: EdgeKind,
    sign: f64,
) -> (Vec<TracePoint>, bool) {
    let mut points = vec![start];
    let mut here = start;
    let mut length = 0.0;
    let mut blind = 0.0;
    while length < LONGEST_EDGE {
        let turn = recent_turn(&points);
        let ahead = step(&here, sign * STEP, turn);
        length += STEP;
        let next = match refine(surface, &ahead, kind, sign) {
            Some(p) if (p.p - ahead.p).norm() < 0.75 * STEP + 0.5 * surface.spacing() => {
                blind = 0.0;
                p
            }
            _ => {
                blind += STEP;
                if blind > LONGEST_GAP {
                    break;
                }
                TracePoint {
                    seen: false,
                    ..ahead
                }
            }
        };
        let to_start = start.p - next.p;
        if length > 8.0 * STEP
            && to_start.norm() < 1.3 * STEP
            && next.along().dot(&start.along()) > 0.7
        {
            // The last place would sit on the first: keep it only if it is clearly short of it.
            if to_start.dot(&next.along()) * sign > 0.6 * STEP && next.seen {
                points.push(next);
            }
            return (points, true);
        }
        points.push(next);
        here = next;
    }
    while points.last().is_some_and(|p| !p.seen) {
        points.pop();
    }
    (points, false)
}

/// Mean turn of the tangent per step over the last few seen steps, as a rotation vector.
fn recent_turn(points: &[TracePoint]) -> Vector {
    let n = points.len();
    if n < 3 {
        return Vector::zeros();
    }
    let (a, b) = (&points[n - 3], &points[n - 1]);
    a.along().cross(&b.along()) / 2.0
}

fn step(here: &TracePoint, length: f64, turn: Vector) -> TracePoint {
    let turn = if turn.norm() < 0.5 {
        turn
    } else {
        Vector::zeros()
    };
    let rotation = nalgebra::Rotation3::new(turn);
    let half = nalgebra::Rotation3::new(turn * 0.5);
    TracePoint {
        p: here.p + half * here.along().into_inner() * length,
        inward: rotation * here.inward,
        out: rotation * here.out,
        wall: rotation * here.wall,
        seen: true,
    }
}

/// Closes a chain whose ends look at each other across a gap, with places marked as not seen.
fn closes_over_gap(points: &mut Vec<TracePoint>) -> bool {
    let (Some(first), Some(last)) = (points.first().copied(), points.last().copied()) else {
        return false;
    };
    let across = first.p - last.p;
    let gap = across.norm();
    let perimeter = points.len() as f64 * STEP;
    if points.len() < 12 || gap > 0.25 * perimeter || last.along().dot(&across) < 0.3 * gap {
        return false;
    }
    let steps = (gap / STEP).ceil() as usize;
    for k in 1..steps {
        let f = k as f64 / steps as f64;
        let mix = |a: Unit, b: Unit| Unit::new_normalize(a.lerp(&b, f));
        // A Hermite curve keeps both end directions.
        let h = hermite(
            &last.p,
            &(last.along().into_inner() * gap),
            &first.p,
            &(first.along().into_inner() * gap),
            f,
        );
        points.push(TracePoint {
            p: h,
            inward: mix(last.inward, first.inward),
            out: mix(last.out, first.out),
            wall: mix(last.wall, first.wall),
            seen: false,
        });
    }
    true
}

fn hermite(a: &Point, da: &Vector, b: &Point, db: &Vector, f: f64) -> Point {
    let (f2, f3) = (f * f, f * f * f);
    Point::from(
        a.coords * (2.0 * f3 - 3.0 * f2 + 1.0)
            + da * (f3 - 2.0 * f2 + f)
            + b.coords * (-2.0 * f3 + 3.0 * f2)
            + db * (f3 - f2),
    )
}

/// One local fit about `at`: panel and flange as strips that may curve along the edge, cut with each other.
fn refine(surface: &Surface, at: &TracePoint, kind: EdgeKind, sign: f64) -> Option<TracePoint> {
    let mut half = (1.1 * STEP).max(1.6 * surface.spacing());
    for _ in 0..3 {
        let found = match kind {
            EdgeKind::Free => refine_free(surface, at, half),
            EdgeKind::Auto | EdgeKind::Bend => refine_bend(surface, at, half),
        };
        if found.is_some() || sign == 0.0 && half > 12.0 {
            return found;
        }
        half *= 1.5;
    }
    None
}

fn refine_bend(surface: &Surface, at: &TracePoint, half: f64) -> Option<TracePoint> {
    let along = at.along();
    let (mut panel_rows, mut panel_values) = (Vec::new(), Vec::new());
    let (mut wall_rows, mut wall_values) = (Vec::new(), Vec::new());
    let reach = (half * half + PANEL_REACH * PANEL_REACH).sqrt();
    surface.some_in_ball(&at.p, reach, APART, |slot, q| {
        let d = q - at.p;
        let s = d.dot(&along);
        if s.abs() > half {
            return;
        }
        let (x, z) = (d.dot(&at.inward), d.dot(&at.out));
        let agreement = |wanted| surface.agreement(&surface.normal(slot), wanted);
        if -x > BAND && -x < PANEL_REACH && z.abs() < 4.0 && agreement(&at.out) > PANEL_CONE {
            panel_rows.push([1.0, -x, s, s * s]);
            panel_values.push(z);
        } else if -z > BAND
            && -z < FLANGE_REACH
            && x.abs() < 5.0
            && agreement(&at.wall) > FLANGE_CONE
        {
            wall_rows.push([1.0, -z, s, s * s]);
            wall_values.push(x);
        }
    });
    if panel_rows.len() < 8 || wall_rows.len() < 8 {
        return None;
    }
    let (c, _) = robust::fit(&panel_rows, &panel_values, 0.02)?;
    let (e, _) = robust::fit(&wall_rows, &wall_values, 0.02)?;
    // z = c0 - c1 x on the panel, x = e0 - e1 z on the flange, at s = 0.
    let x = (e[0] - e[1] * c[0]) / (1.0 - e[1] * c[1]);
    let z = c[0] - c[1] * x;
    let tangent = along.into_inner() + at.inward.into_inner() * e[2] + at.out.into_inner() * c[2];
    let into = at.inward.into_inner() - at.out.into_inner() * c[1];
    let out = Unit::try_new(tangent.cross(&into), 1e-6)?;
    let inward = Unit::try_new(out.cross(&tangent), 1e-6)?;
    let wall_down = -at.out.into_inner() + at.inward.into_inner() * e[1];
    let wall = Unit::try_new(tangent.cross(&wall_down), 1e-6)?;
    let wall = if wall.dot(&at.wall) < 0.0 {
        -wall
    } else {
        wall
    };
    Some(TracePoint {
        p: at.p + at.inward.into_inner() * x + at.out.into_inner() * z,
        inward,
        out,
        wall,
        seen: true,
    })
}

fn refine_free(surface: &Surface, at: &TracePoint, half: f64) -> Option<TracePoint> {
    const BINS: usize = 4;
    let along = at.along();
    let (mut rows, mut values, mut seen) = (Vec::new(), Vec::new(), Vec::new());
    let reach = (half * half + PANEL_REACH * PANEL_REACH).sqrt();
    surface.in_ball(&at.p, reach, |slot, q| {
        let d = q - at.p;
        let s = d.dot(&along);
        let (x, z) = (d.dot(&at.inward), d.dot(&at.out));
        if s.abs() < half
            && x.abs() < PANEL_REACH
            && z.abs() < 3.0
            && surface.agreement(&surface.normal(slot), &at.out) > PANEL_CONE
        {
            rows.push([1.0, -x, s, s * s]);
            values.push(z);
            seen.push((s, x));
        }
    });
    if rows.len() < 8 {
        return None;
    }
    let (c, _) = robust::fit(&rows, &values, 0.02)?;
    let mut ends = [f64::NEG_INFINITY; BINS];
    for (s, x) in &seen {
        let bin = (((s + half) / (2.0 * half)) * BINS as f64) as usize;
        let bin = bin.min(BINS - 1);
        ends[bin] = ends[bin].max(*x);
    }
    let found: Vec<(f64, f64)> = ends
        .iter()
        .enumerate()
        .filter(|(_, x)| x.is_finite())
        .map(|(i, x)| ((i as f64 + 0.5) / BINS as f64 * 2.0 * half - half, *x))
        .collect();
    // Inside a panel every bin reaches the end of the window: that is no edge.
    if found.len() < 3
        || found
            .iter()
            .all(|(_, x)| *x > PANEL_REACH - 2.0 * surface.spacing())
    {
        return None;
    }
    let n = found.len() as f64;
    let (ms, mx) = (
        found.iter().map(|f| f.0).sum::<f64>() / n,
        found.iter().map(|f| f.1).sum::<f64>() / n,
    );
    let slope = found.iter().map(|f| (f.0 - ms) * (f.1 - mx)).sum::<f64>()
        / found
            .iter()
            .map(|f| (f.0 - ms).powi(2))
            .sum::<f64>()
            .max(1e-9);
    let x = mx - slope * ms;
    let z = c[0] - c[1] * x;
    let tangent = along.into_inner() + at.inward.into_inner() * slope + at.out.into_inner() * c[2];
    let into = at.inward.into_inner() - at.out.into_inner() * c[1];
    let out = Unit::try_new(tangent.cross(&into), 1e-6)?;
    let inward = Unit::try_new(out.cross(&tangent), 1e-6)?;
    Some(TracePoint {
        p: at.p + at.inward.into_inner() * x + at.out.into_inner() * z,
        inward,
        out,
        wall: inward,
        seen: true,
    })
}

/// A bundle of points near the pick that face one way.
struct Bundle {
    normal: Unit,
    middle: Point,
    count: usize,
}

/// Finds panel and flange (or panel and free edge) near the pick.
fn start(
    surface: &Surface,
    near: &Point,
    kind: EdgeKind,
) -> Result<(TracePoint, EdgeKind), NoEdge> {
    let mut radius = (3.5 * surface.spacing()).max(11.0);
    let mut some = false;
    for _ in 0..3 {
        let mut points = Vec::new();
        surface.some_in_ball(near, radius, APART, |slot, p| {
            points.push((p, surface.normal(slot)));
        });
        some |= !points.is_empty();
        let bundles = bundles(surface, &points);
        if kind != EdgeKind::Free
            && let Some(t) = bend_start(surface, near, &bundles)
        {
            return Ok((t, EdgeKind::Bend));
        }
        if kind != EdgeKind::Bend
            && let Some(t) = free_start(near, &points, &bundles)
            && refine(surface, &t, EdgeKind::Free, 0.0).is_some()
        {
            return Ok((t, EdgeKind::Free));
        }
        radius *= 1.5;
    }
    Err(if some {
        NoEdge::NotAnEdge
    } else {
        NoEdge::NoPoints
    })
}

/// Up to five bundles, largest first.
fn bundles(surface: &Surface, points: &[(Point, Vector)]) -> Vec<Bundle> {
    let mut left: Vec<(Point, Vector)> = points.to_vec();
    let total = points.len();
    let mut found = Vec::new();
    while found.len() < 5 && left.len() * 20 > total && left.len() >= 4 {
        let stride = left.len().div_ceil(160);
        let agree = |a: &Vector, b: &Vector| {
            let c = a.dot(b);
            if surface.oriented { c } else { c.abs() }
        };
        let best = left
            .iter()
            .step_by(stride)
            .map(|(_, n)| (left.iter().filter(|(_, m)| agree(n, m) > 0.95).count(), *n))
            .max_by_key(|(c, _)| *c);
        let Some((_, n)) = best else { break };
        let mut sum = Vector::zeros();
        let mut middle = Vector::zeros();
        let mut count = 0;
        for (p, m) in left.iter().filter(|(_, m)| agree(&n, m) > 0.9) {
            sum += m * m.dot(&n).signum();
            middle += p.coords;
            count += 1;
        }
        left.retain(|(_, m)| agree(&n, m) <= 0.9);
        if let Some(normal) = Unit::try_new(sum, 1e-9) {
            found.push(Bundle {
                normal,
                middle: Point::from(middle / f64::from(count)),
                count: count as usize,
            });
        }
    }
    found
}

/// The best-supported pair of bundles that form an outward bend.
fn bend_start(surface: &Surface, near: &Point, bundles: &[Bundle]) -> Option<TracePoint> {
    let mut best: Option<(usize, Unit, Unit, Point, Point)> = None;
    for i in 0..bundles.len() {
        for j in i + 1..bundles.len() {
            let (a, b) = (&bundles[i], &bundles[j]);
            if a.normal.dot(&b.normal).abs() > 0.77 {
                continue;
            }
            let apart = b.middle - a.middle;
            let (mut na, mut nb) = (a.normal, b.normal);
            if !surface.oriented {
                na = if apart.dot(&na) > 0.0 { -na } else { na };
                nb = if apart.dot(&nb) < 0.0 { -nb } else { nb };
            }
            // Metal inside the bend: each lies behind the other.
            if apart.dot(&na) >= -0.2 || apart.dot(&nb) <= 0.2 {
                continue;
            }
            let support = a.count.min(b.count);
            if best.as_ref().is_none_or(|x| support > x.0) {
                best = Some((support, na, nb, a.middle, b.middle));
            }
        }
    }
    let (support, mut out, mut wall, mut m_out, mut m_wall) = best?;
    if support < 4 {
        return None;
    }
    let (mut on_out, mut on_wall) = (0usize, 0usize);
    surface.some_in_ball(near, 45.0, APART, |slot, p| {
        let on = |middle: Point, way: &Unit| {
            (p - middle).dot(way).abs() < 6.0
                && surface.agreement(&surface.normal(slot), way) > PANEL_CONE
        };
        on_out += usize::from(on(m_out, &out));
        on_wall += usize::from(on(m_wall, &wall));
    });
    if on_wall > on_out {
        std::mem::swap(&mut out, &mut wall);
        std::mem::swap(&mut m_out, &mut m_wall);
    }
    // The line of the two planes, nearest to the pick.
    let inward = Unit::new_normalize(wall.into_inner() - out.into_inner() * wall.dot(&out));
    let z = (m_out - near).dot(&out);
    let x = ((m_wall - near).dot(&wall) - z * out.dot(&wall)) / inward.dot(&wall);
    Some(TracePoint {
        p: near + out.into_inner() * z + inward.into_inner() * x,
        inward,
        out,
        wall,
        seen: true,
    })
}

/// The panel ends near the pick: its points lie to one side.
fn free_start(near: &Point, points: &[(Point, Vector)], bundles: &[Bundle]) -> Option<TracePoint> {
    let panel = bundles.first()?;
    let out = panel.normal;
    let mut sum = Vector::zeros();
    let mut n = 0.0;
    for (p, _) in points.iter().filter(|(_, m)| m.dot(&out).abs() > 0.9) {
        sum += p - near;
        n += 1.0;
    }
    let away = sum / n;
    let flat = away - out.into_inner() * away.dot(&out);
    let inward = if flat.norm() > 0.5 {
        Unit::new_normalize(-flat)
    } else {
        any_perpendicular(&out)
    };
    Some(TracePoint {
        p: near + out.into_inner() * away.dot(&out),
        inward,
        out,
        wall: inward,
        seen: true,
    })
}
