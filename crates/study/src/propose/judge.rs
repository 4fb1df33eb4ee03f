//! Which outlines are openings, which are bolt holes, and which are neither.

use geom::{Point, Vector};
use record::ScanId;

use super::outline::Outline;
use super::profile::{Profile, profiles};
use super::skin::Skin;

/// Least and greatest length of an opening edge, mm.
pub(super) const OPENING_MM: (f64, f64) = (100.0, 3000.0);
/// Least and greatest diameter of a bolt hole, mm.
const HOLE_MM: (f64, f64) = (2.8, 21.0);
/// Places looked at along an outline.
const PLACES: usize = 96;
/// A pick of the edge lies so far from it, on the panel, mm.
const BESIDE: f64 = 2.0;
/// Harmonics that make up the smooth part of an outline.
const HARMONICS: usize = 14;

/// An opening that was found in a scan.
#[derive(Clone, Debug)]
pub(crate) struct Found {
    pub scan: ScanId,
    /// The edge on the panel side, evenly thinned; metal on the left seen from the facing side.
    pub edge: Vec<Point>,
    pub centre: Point,
    /// Out of the panel.
    pub normal: Vector,
    /// Length round the edge, mm.
    pub perimeter: f64,
    /// Place on the panel beside the edge.
    pub near: Point,
    /// Places on panel skin and return flange, with the sides they face.
    pub panel_face: (Point, Vector),
    pub flange_face: Option<(Point, Vector)>,
    pub holes: Vec<Round>,
    pub sureness: f64,
    /// What speaks for it, in words.
    pub because: String,
}

/// A round hole that was found in a scan.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Round {
    pub centre: Point,
    pub diameter: f64,
}

/// Twice the area enclosed, as a vector: out of the front for a border, into it for a hole.
fn area_vector(points: &[Point]) -> Vector {
    let base = points[0];
    let n = points.len();
    (0..n)
        .map(|i| (points[i] - base).cross(&(points[(i + 1) % n] - base)))
        .sum()
}

/// How ragged a line is: distance (root mean square, mm) of evenly spaced places from their first harmonics.
fn raggedness(points: &[Point]) -> f64 {
    let n = points.len();
    let base = points[0];
    let mut rest: Vec<Vector> = points.iter().map(|p| p - base).collect();
    let mean = rest.iter().sum::<Vector>() / n as f64;
    for r in &mut rest {
        *r -= mean;
    }
    let original = rest.clone();
    for h in 1..=HARMONICS {
        let turn = std::f64::consts::TAU * h as f64 / n as f64;
        let (mut c, mut s) = (Vector::zeros(), Vector::zeros());
        for (i, r) in original.iter().enumerate() {
            let a = turn * i as f64;
            c += r * (a.cos() * 2.0 / n as f64);
            s += r * (a.sin() * 2.0 / n as f64);
        }
        for (i, r) in rest.iter_mut().enumerate() {
            let a = turn * i as f64;
            *r -= c * a.cos() + s * a.sin();
        }
    }
    (rest.iter().map(Vector::norm_squared).sum::<f64>() / n as f64).sqrt()
}

/// The opening whose edge an outline is, if it is one: metal all round outside of it, a panel that goes on, and a
/// return flange or at least a smooth line.
pub(super) fn opening(scan: &ScanId, outline: &Outline, skin: &Skin) -> Option<Found> {
    if outline.length < OPENING_MM.0 * 0.6 || outline.length > OPENING_MM.1 {
        return None;
    }
    let even = outline.resampled(PLACES);
    let out = -area_vector(&even.points).try_normalize(1e-9)?;
    let walks = profiles(&even, skin);
    let with_panel: Vec<&Profile> = walks.iter().filter(|w| w.panel.is_some()).collect();
    let panel_share = with_panel.len() as f64 / PLACES as f64;
    if panel_share < 0.5 {
        return None;
    }
    let centre = even.centre();
    let outward = with_panel
        .iter()
        .filter(|w| {
            let q = w.panel.map_or(w.steps[0].p, |i| w.steps[i].p);
            w.heading.dot(&(q - centre)) > 0.0
                && w.panel_normal().is_some_and(|n| n.dot(&out) > 0.2)
        })
        .count() as f64
        / with_panel.len() as f64;
    if outward < 0.8 {
        return None;
    }
    let mut flanges: Vec<f64> = with_panel.iter().filter_map(|w| w.flange()).collect();
    let flange_share = flanges.len() as f64 / with_panel.len() as f64;
    let ragged = raggedness(&even.points);
    let smooth = ragged < (0.6 * skin.step).max(0.5);
    let has_flange = flange_share >= 0.5;
    let edge: Vec<Point> = with_panel
        .iter()
        .map(|w| edge_place(w, has_flange))
        .collect();
    let perimeter = (0..edge.len())
        .map(|i| (edge[(i + 1) % edge.len()] - edge[i]).norm())
        .sum::<f64>();
    let wide = perimeter >= OPENING_MM.0;
    if !(wide && (has_flange || smooth && hollow(&even.points, &centre, &out, skin))) {
        return None;
    }
    flanges.sort_by(f64::total_cmp);
    let flange = has_flange.then(|| flanges[flanges.len() / 2]);
    let normal = with_panel
        .iter()
        .filter_map(|w| w.panel_normal())
        .sum::<Vector>()
        .try_normalize(1e-9)?;
    // The place with the most metal seen beyond its bend.
    let best = with_panel
        .iter()
        .filter(|w| !has_flange || w.flange().is_some())
        .max_by(|a, b| a.reach().total_cmp(&b.reach()))?;
    let (near, panel_face, flange_face) = picks(best, has_flange)?;
    let sureness = 0.2
        + 0.4 * if has_flange { flange_share } else { 0.0 }
        + 0.2 * panel_share * outward
        + if smooth { 0.2 } else { 0.0 };
    let because = match flange {
        Some(f) => format!(
            "panel seen along {:.0} % of the edge, return flange about {f:.0} mm wide along {:.0} % of that",
            100.0 * panel_share,
            100.0 * flange_share
        ),
        None => format!(
            "panel seen along {:.0} % of a smooth edge, no return flange",
            100.0 * panel_share
        ),
    };
    Some(Found {
        scan: scan.clone(),
        centre: Point::from(edge.iter().map(|p| p.coords).sum::<Vector>() / edge.len() as f64),
        edge,
        normal,
        perimeter,
        near,
        panel_face,
        flange_face,
        holes: Vec::new(),
        sureness: sureness.clamp(0.0, 0.99),
        because,
    })
}

/// Whether there is next to no metal half way between the edge and the middle. Without a return flange this tells an
/// opening from an outline that has strayed over a panel at the border of a cloud.
fn hollow(edge: &[Point], centre: &Point, out: &Vector, skin: &Skin) -> bool {
    let r = (1.5 * skin.step).max(1.0);
    let metal = edge
        .iter()
        .filter(|p| {
            let half_way = nalgebra::center(p, centre);
            skin.around(&half_way, r, out, 0.5).is_some()
        })
        .count();
    metal * 10 < edge.len()
}

/// Where the edge is on a walk: at its bend if the opening has a return flange, else at its start.
fn edge_place(w: &Profile, has_flange: bool) -> Point {
    match w.bend {
        Some((i, true)) if has_flange => w.steps[i].p,
        _ => w.steps[0].p,
    }
}

type Facing = (Point, Vector);

/// A pick beside the edge on the panel, one on the panel skin and one on the return flange.
fn picks(w: &Profile, has_flange: bool) -> Option<(Point, Facing, Option<Facing>)> {
    let first = w.panel?;
    let normal = w.panel_normal()?;
    let after = |mm: f64| {
        let from = w.steps[first].s;
        w.steps[first..]
            .iter()
            .find(|x| x.s >= from + mm)
            .unwrap_or(&w.steps[w.steps.len() - 1])
    };
    let flange = match w.bend {
        Some((i, true)) if has_flange => {
            let half = w.steps[i].s / 2.0;
            w.steps.iter().find(|x| x.s >= half).map(|x| (x.p, x.n))
        }
        _ => None,
    };
    // A little beside the edge, on the panel.
    let from = match w.bend {
        Some((i, true)) if has_flange => w.steps[i].s,
        _ => 0.0,
    };
    let near = w
        .steps
        .iter()
        .find(|x| x.s >= from + BESIDE)
        .unwrap_or(&w.steps[first]);
    Some((near.p, (after(8.0).p, normal), flange))
}

/// The bolt hole whose edge an outline is, if it is one: round within what the scan can show, with metal all round.
pub(super) fn round_hole(outline: &Outline, skin: &Skin) -> Option<Round> {
    let pi = std::f64::consts::PI;
    if outline.length < HOLE_MM.0 * pi * 0.8 || outline.length > HOLE_MM.1 * pi * 1.6 {
        return None;
    }
    let even = outline.resampled(32);
    let normal = -area_vector(&even.points).try_normalize(1e-9)?;
    let u = geom::any_perpendicular(&nalgebra::Unit::new_unchecked(normal)).into_inner();
    let v = normal.cross(&u);
    let middle = even.centre();
    let flat = |p: &Point| [(p - middle).dot(&u), (p - middle).dot(&v)];
    // The places themselves, not those between them: chords lie inside the circle.
    let places: Vec<[f64; 2]> = outline.points.iter().map(flat).collect();
    let (c, r) = circle(&places)?;
    let rest = places
        .iter()
        .map(|p| ((p[0] - c[0]).hypot(p[1] - c[1]) - r).powi(2))
        .sum::<f64>()
        / places.len() as f64;
    let diameter = 2.0 * r;
    let round = rest.sqrt() <= 0.05 + 0.016 * diameter;
    let off_plane = outline
        .points
        .iter()
        .map(|p| (p - middle).dot(&normal).abs())
        .fold(0.0, f64::max);
    if !round || diameter < HOLE_MM.0 || diameter > HOLE_MM.1 || off_plane > 0.25 * diameter + 0.5 {
        return None;
    }
    let centre = middle + u * c[0] + v * c[1];
    let metal = (0..12)
        .filter(|&k| {
            let a = f64::from(k) * pi / 6.0;
            let beside = centre + (u * a.cos() + v * a.sin()) * (r + 1.5 + 1.2 * skin.step);
            skin.around(&beside, (1.3 * skin.step).max(1.2), &normal, 0.7)
                .is_some()
        })
        .count();
    (metal >= 10).then_some(Round { centre, diameter })
}

/// Circle through places in a plane: algebraic start (I. Kåsa, IEEE Trans. Instrum. Meas. 25, 1976), which is exact
/// enough where the whole circle is seen. `None` for places on a line.
fn circle(places: &[[f64; 2]]) -> Option<([f64; 2], f64)> {
    let n = places.len() as f64;
    let mean = places
        .iter()
        .fold([0.0; 2], |m, p| [m[0] + p[0] / n, m[1] + p[1] / n]);
    let (mut xx, mut xy, mut yy, mut xz, mut yz, mut z) = (0.0, 0.0, 0.0, 0.0, 0.0, 0.0);
    for p in places {
        let (x, y) = (p[0] - mean[0], p[1] - mean[1]);
        let q = x * x + y * y;
        xx += x * x;
        xy += x * y;
        yy += y * y;
        xz += x * q;
        yz += y * q;
        z += q;
    }
    let det = xx * yy - xy * xy;
    if det <= 1e-9 * (xx + yy).powi(2) {
        return None;
    }
    let a = (xz * yy - yz * xy) / (2.0 * det);
    let b = (yz * xx - xz * xy) / (2.0 * det);
    Some(([a + mean[0], b + mean[1]], (a * a + b * b + z / n).sqrt()))
}

/// Gives every hole to the opening whose edge is nearest, if that is near enough to belong to it.
pub(super) fn attach(openings: &mut [Found], holes: &[Round]) {
    for h in holes {
        let distance = |o: &Found| {
            o.edge
                .iter()
                .map(|p| (p - h.centre).norm())
                .fold(f64::INFINITY, f64::min)
        };
        let nearest = openings
            .iter()
            .enumerate()
            .map(|(i, o)| (distance(o), i))
            .min_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        if let Some((d, i)) = nearest
            && d <= 30.0 + 0.08 * openings[i].perimeter
        {
            openings[i].holes.push(*h);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ring(n: usize, r: impl Fn(usize) -> f64) -> Vec<Point> {
        (0..n)
            .map(|i| {
                let a = std::f64::consts::TAU * i as f64 / n as f64;
                Point::new(r(i) * a.cos(), r(i) * a.sin(), 3.0)
            })
            .collect()
    }

    #[test]
    fn ragged_is_told_from_smooth() {
        assert!(raggedness(&ring(96, |_| 40.0)) < 1e-9);
        let jagged = raggedness(&ring(96, |i| 40.0 + if i % 2 == 0 { 2.0 } else { -2.0 }));
        assert!((jagged - 2.0).abs() < 0.05, "{jagged}");
    }

    #[test]
    fn area_looks_out_of_a_border() {
        let a = area_vector(&ring(90, |_| 10.0));
        assert!((a.z / 2.0 - std::f64::consts::PI * 100.0).abs() < 1.0 && a.z > 0.0);
    }

    #[test]
    fn circle_is_exact_on_a_circle() {
        let p: Vec<[f64; 2]> = ring(11, |_| 3.0)
            .iter()
            .map(|p| [p.x + 7.0, p.y - 2.0])
            .collect();
        let (c, r) = circle(&p).unwrap();
        assert!((c[0] - 7.0).abs() < 1e-9 && (c[1] + 2.0).abs() < 1e-9 && (r - 3.0).abs() < 1e-9);
        assert!(circle(&[[0.0, 0.0], [1.0, 1.0], [2.0, 2.0]]).is_none());
    }
}
