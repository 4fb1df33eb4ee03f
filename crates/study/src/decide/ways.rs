//! In which ways the two differ, each by its name, and what cures that way.
//!
//! A shift, a turn and a tilt are those of the holes against the opening: the opening itself is laid on the other by its
//! edge, so that moving the part as a whole costs nothing unless something holds it.

use geom::{Point, Vector};
use nalgebra::{DMatrix, DVector};
use record::{CureWay, DiffersBy, Figure, Matters, ModeKind, Quantity, Source, WayOfDiffering};

use super::pairing::Pairing;

/// Ways in which the two differ that are proven or matter, those that use most of what is allowed first.
pub(super) fn ways(p: &Pairing<'_>) -> Vec<DiffersBy> {
    if !p.measured {
        return Vec::new();
    }
    let mut all: Vec<DiffersBy> = holes(p).into_iter().chain(shape(p)).collect();
    all.retain(|w| w.amount.value.abs() > w.amount.u95 || w.matters == Matters::Matters);
    let share = |w: &DiffersBy| w.amount.value.abs() / w.allowed.max(1e-9);
    // A stable sort: of two alike the one named first.
    all.sort_by(|a, b| share(b).total_cmp(&share(a)));
    all
}

fn cures(way: WayOfDiffering) -> Vec<CureWay> {
    use CureWay::{
        Bend, FileOrFill, Gasket, Scribe, Shims, Slots, TaperedShim, TransferDrill, TwoHands,
        WiderFlange,
    };
    match way {
        WayOfDiffering::Shift | WayOfDiffering::Turn => vec![Slots],
        WayOfDiffering::Tilt => vec![TaperedShim, Gasket],
        WayOfDiffering::StandOff => vec![Shims, Gasket],
        WayOfDiffering::Width | WayOfDiffering::Height | WayOfDiffering::Shear => {
            vec![WiderFlange, TwoHands]
        }
        WayOfDiffering::Twist | WayOfDiffering::Bow => vec![Gasket, Bend, TwoHands],
        WayOfDiffering::LocalWave => vec![FileOrFill, Scribe, TwoHands],
        WayOfDiffering::HolePattern => vec![Slots, TransferDrill],
    }
}

fn way(
    p: &Pairing<'_>,
    way: WayOfDiffering,
    amount: Figure,
    allowed: f64,
    place: Option<String>,
) -> DiffersBy {
    let u = p.standard(&amount);
    let g = p.t_quantile(0.95, amount.nu);
    let size = amount.value.abs();
    // One-sided 95 %, JCGM 106:2012 (ISO 14253-1).
    let matters = if size + g * u <= allowed {
        Matters::Harmless
    } else if size - g * u > allowed {
        Matters::Matters
    } else {
        Matters::Open
    };
    DiffersBy {
        way,
        amount,
        allowed,
        matters,
        place,
        cures: cures(way),
    }
}

fn length(p: &Pairing<'_>, value: f64, u: f64, nu: f64) -> Figure {
    Figure {
        value,
        u95: p.u95(u, nu),
        nu,
        source: Source::EdgeSight,
        quantity: Quantity::Length,
    }
}

/// Middle of points.
fn middle(points: impl Iterator<Item = Point>) -> Point {
    let (n, sum) = points.fold((0.0, Vector::zeros()), |(n, s), p| (n + 1.0, s + p.coords));
    Point::from(sum / f64::max(n, 1.0))
}

/// The holes of a against those of b once the edges lie on each other.
fn holes(p: &Pairing<'_>) -> Vec<DiffersBy> {
    let pairs: Vec<_> = p.holes.iter().map(|h| h.1).collect();
    if pairs.is_empty() {
        return Vec::new();
    }
    let play = p.least_play();
    let doubt = |f: fn(&record::HolePair) -> Figure| {
        let all = pairs.iter().map(|h| f(h));
        // The doubt with which the edges were laid is common to all holes: their mean is known no better than one.
        all.max_by(|a, b| a.u95.total_cmp(&b.u95))
            .map_or((0.0, f64::INFINITY), |f| (p.standard(&f), f.nu))
    };
    let (right, up) = (doubt(|h| h.right), doubt(|h| h.up));
    let (u, nu) = if right.0 > up.0 { right } else { up };
    let mut out = Vec::new();
    let centre = middle(pairs.iter().map(|h| h.a));
    let off = centre - middle(pairs.iter().map(|h| h.b));
    out.push(way(
        p,
        WayOfDiffering::Shift,
        length(p, off.x.hypot(off.y), u, nu),
        play,
        None,
    ));
    let flush = p.compare.stations.iter().map(|s| p.standard(&s.flush));
    let (count, sum) = flush.fold((0.0, 0.0), |(n, s), u| (n + 1.0, s + u));
    let flush_u = (sum / f64::max(count, 1.0)).hypot(u);
    let seat = p.limits.proud.min(p.limits.shy);
    out.push(way(
        p,
        WayOfDiffering::StandOff,
        length(p, off.z, flush_u, nu),
        seat,
        None,
    ));
    if pairs.len() < 2 {
        return out;
    }
    // Turn about the middle of the holes, as the move of the farthest one.
    let (mut across, mut square, mut far) = (0.0, 0.0, 0.0_f64);
    for h in &pairs {
        let arm = h.a - centre;
        let d = (h.a - h.b) - off;
        across += arm.x * d.y - arm.y * d.x;
        square += arm.x * arm.x + arm.y * arm.y;
        far = far.max(arm.x.hypot(arm.y));
    }
    if square > 0.0 {
        out.push(way(
            p,
            WayOfDiffering::Turn,
            length(p, across / square * far, u, nu),
            play,
            None,
        ));
    }
    let worst = pairs
        .iter()
        .max_by(|a, b| a.pattern_rest_mm.total_cmp(&b.pattern_rest_mm));
    if let Some(h) = worst {
        let rest = length(p, h.pattern_rest_mm, h.a_u_mm.hypot(h.b_u_mm), nu);
        let place = Some(format!("hole {}", h.id));
        out.push(way(p, WayOfDiffering::HolePattern, rest, play, place));
    }
    if let Some(tilt) = tilt(&pairs, &centre) {
        out.push(way(
            p,
            WayOfDiffering::Tilt,
            length(p, tilt, 2.0 * flush_u, nu),
            seat,
            None,
        ));
    }
    out
}

/// How far the seats of the holes rise from one end of the pattern to the other, mm. `None` for holes in one line or two
/// of them, which say nothing of a tilt about that line.
fn tilt(pairs: &[&record::HolePair], centre: &Point) -> Option<f64> {
    let arms: Vec<Vector> = pairs.iter().map(|h| h.a - centre).collect();
    let rows = DMatrix::from_fn(pairs.len(), 3, |i, k| [1.0, arms[i].x, arms[i].y][k]);
    let z = DVector::from_fn(pairs.len(), |i, _| pairs[i].a.z - pairs[i].b.z);
    let normal = rows.tr_mul(&rows);
    let spread = normal.fixed_view::<2, 2>(1, 1).symmetric_eigenvalues();
    if pairs.len() < 3 || spread.min() < 0.05 * spread.max() {
        return None;
    }
    let c = normal.cholesky()?.solve(&rows.tr_mul(&z));
    let rise = arms.iter().map(|a| c[1] * a.x + c[2] * a.y);
    let (low, high) = rise.fold((0.0_f64, 0.0_f64), |(l, h), r| (l.min(r), h.max(r)));
    Some(high - low)
}

/// The named modes of the edge and what is left of it.
fn shape(p: &Pairing<'_>) -> Vec<DiffersBy> {
    let l = &p.limits;
    let (gap, flush) = (l.tight.min(l.wide), l.proud.min(l.shy));
    let stations = p.compare.stations.iter();
    let half_x = stations.map(|s| s.a.x.abs()).fold(0.0, f64::max);
    let mut out: Vec<DiffersBy> = p
        .compare
        .modes
        .iter()
        .map(|m| {
            let (name, allowed) = match m.kind {
                // Shared by two edges.
                ModeKind::Width => (WayOfDiffering::Width, 2.0 * gap),
                ModeKind::Height => (WayOfDiffering::Height, 2.0 * gap),
                ModeKind::Shear => (WayOfDiffering::Shear, 2.0 * gap),
                // Degrees over the height with which the corners, half the width from the middle, stand out by what is
                // allowed.
                ModeKind::Twist => {
                    let turn = 2.0 * flush / half_x.max(1e-9);
                    (WayOfDiffering::Twist, turn.to_degrees())
                }
                // The best placement takes up half of a bow.
                ModeKind::BowAcross | ModeKind::BowUp => (WayOfDiffering::Bow, 2.0 * flush),
            };
            let place = match m.kind {
                ModeKind::BowAcross => Some("across".to_owned()),
                ModeKind::BowUp => Some("from top to bottom".to_owned()),
                _ => None,
            };
            way(p, name, m.amount, allowed, place)
        })
        .collect();
    if let Some(rest) = &p.compare.rest {
        let place = Some(rest.place.clone());
        out.push(way(
            p,
            WayOfDiffering::LocalWave,
            rest.worst,
            gap.min(flush),
            place,
        ));
    }
    out
}
