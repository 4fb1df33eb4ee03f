//! Holes of a pair, laid on each other by the edges.

use geom::{Point, Vector, u95};
use record::{Figure, HolePair, MeasuredHole, Quantity, Source};

use crate::measure::OpeningWork;

/// A hole's mirror image belongs to the hole it falls within this of, mm.
const OWN_IMAGE: f64 = 8.0;

/// Variance, mm2, with which a place of b was laid on a along a direction.
type LaidVar<'a> = &'a dyn Fn(&Point, &Vector) -> f64;

/// Holes of the same name, b's laid on a by the edges.
pub fn holes(
    a: &OpeningWork,
    b: &OpeningWork,
    b_in_a: impl Fn(&Point) -> Point,
    laid_var: LaidVar,
) -> Vec<HolePair> {
    let pairs: Vec<_> = a
        .measured
        .holes
        .iter()
        .filter_map(|ha| {
            let hb = b.measured.holes.iter().find(|h| h.id == ha.id)?;
            Some((ha, hb, b_in_a(&hb.centre)))
        })
        .collect();
    hole_pairs(&pairs, laid_var, a.nu)
}

/// A centre opening's holes against the mirror image of its own: each with the one its image falls on.
pub fn own_image_holes(
    a: &OpeningWork,
    b_in_a: impl Fn(&Point) -> Point,
    laid_var: LaidVar,
) -> Vec<HolePair> {
    let images: Vec<(&MeasuredHole, Point)> = a
        .measured
        .holes
        .iter()
        .map(|h| (h, b_in_a(&h.centre)))
        .collect();
    let pairs: Vec<_> = a
        .measured
        .holes
        .iter()
        .filter_map(|ha| {
            let apart = |x: &(&MeasuredHole, Point)| (x.1 - ha.centre).norm();
            let (hb, pb) = images.iter().min_by(|x, y| apart(x).total_cmp(&apart(y)))?;
            ((pb - ha.centre).norm() < OWN_IMAGE).then_some((ha, *hb, *pb))
        })
        .collect();
    hole_pairs(&pairs, laid_var, a.nu)
}

fn hole_pairs(
    pairs: &[(&MeasuredHole, &MeasuredHole, Point)],
    laid_var: LaidVar,
    laid_nu: f64,
) -> Vec<HolePair> {
    let rest = pattern_rest(
        &pairs
            .iter()
            .map(|(ha, _, pb)| (ha.centre, *pb))
            .collect::<Vec<_>>(),
    );
    pairs
        .iter()
        .zip(rest)
        .map(|((ha, hb, pb), pattern_rest_mm)| {
            let s = |f: &Figure| f.u95 / geom::t_quantile(0.975, f.nu);
            let (ua, ub) = (s(&ha.centre_u95), s(&hb.centre_u95));
            let length = |value: f64, along: Vector| {
                let laid = laid_var(pb, &along).sqrt();
                let (u, nu) = geom::welch_satterthwaite(&[
                    (ua, ha.centre_u95.nu),
                    (ub, hb.centre_u95.nu),
                    (laid, laid_nu),
                ]);
                Figure {
                    value,
                    u95: u95(u, nu),
                    nu,
                    source: if laid > ua.max(ub) {
                        Source::Noise
                    } else {
                        Source::EdgeSight
                    },
                    quantity: Quantity::Length,
                }
            };
            let d = ha.centre - pb;
            HolePair {
                id: ha.id.clone(),
                a: ha.centre,
                b: *pb,
                axis: ha.axis,
                right: length(d.x, Vector::x()),
                up: length(d.y, Vector::y()),
                a_u_mm: ua,
                b_u_mm: ub,
                a_diameter: ha.diameter,
                b_diameter: hb.diameter,
                pattern_rest_mm,
            }
        })
        .collect()
}

/// What is left at each hole once b's pattern is shifted and turned onto a's in the flat of the part, mm.
fn pattern_rest(pairs: &[(Point, Point)]) -> Vec<f64> {
    let n = pairs.len();
    if n < 2 {
        return vec![0.0; n];
    }
    let mean = |f: fn(&(Point, Point)) -> Point| {
        pairs.iter().map(|p| f(p).coords).sum::<Vector>() / n as f64
    };
    let (ma, mb) = (mean(|p| p.0), mean(|p| p.1));
    let (mut c, mut s) = (0.0, 0.0);
    for (a, b) in pairs {
        let (a, b) = (a.coords - ma, b.coords - mb);
        c += a.x * b.x + a.y * b.y;
        s += b.x * a.y - b.y * a.x;
    }
    let turn = s.atan2(c);
    pairs
        .iter()
        .map(|(a, b)| {
            let (a, b) = (a.coords - ma, b.coords - mb);
            let x = turn.cos() * b.x - turn.sin() * b.y;
            let y = turn.sin() * b.x + turn.cos() * b.y;
            (a.x - x).hypot(a.y - y)
        })
        .collect()
}
