//! Outlines as tangent pairs of arcs between places of the outline: never as few pieces as a chain fitted as a whole,
//! but always there, also for an outline with waves. Pairs after Bolton, Computer-Aided Design 7 (1975) 35-40, with
//! both control lengths equal.

use nalgebra::{Point2, Vector2};

use super::{Judge, Sample};
use crate::{ArcPath, ArcPiece};

/// Arcs flatter than this share of the tolerance that turn by less than this (rad) become lines: the joints stay tangent
/// to within half of it.
const FLAT: f64 = 0.25;
const FLAT_TURN: f64 = 0.012;
/// Share of the tolerance that is spent on smoothing.
const WAVES: f64 = 0.45;
/// Shares of the tolerance that pairs keep within at the samples, tried in order.
const KEEP: [f64; 4] = [0.85, 0.75, 0.65, 0.55];
/// Samples to either side over which is smoothed, widest first.
const WINDOWS: [usize; 6] = [16, 12, 9, 6, 4, 3];
/// How many samples farther a failed pair is tried again.
const LOOK: usize = 10;
/// Starts that are tried on a closed outline.
const STARTS: usize = 8;

/// One arc: where it begins and its bulge.
#[derive(Clone, Copy)]
struct Arc {
    from: Point2<f64>,
    to: Point2<f64>,
    bulge: f64,
}

/// The outline as tangent arcs and lines within the tolerance; fewest pieces over a few starts.
pub(super) fn biarcs(samples: &[Sample], closed: bool, judge: &Judge<'_>) -> Option<ArcPath> {
    let n = samples.len();
    let smooth = smoothed(samples, closed, WAVES * judge.tolerance);
    let starts = if closed && !samples[0].sharp {
        STARTS
    } else {
        1
    };
    // What lies between samples may be farther off than they are: then pairs keep nearer.
    KEEP.into_iter().find_map(|keep| {
        (0..starts)
            .filter_map(|k| {
                let turned = |of: &[Sample]| -> Vec<Sample> {
                    (0..n).map(|i| of[(i + k * n / starts) % n]).collect()
                };
                greedy(
                    &turned(samples),
                    &turned(&smooth),
                    closed,
                    judge.tolerance,
                    keep,
                )
            })
            .min_by_key(|p| p.pieces.len())
            .filter(|p| judge.within(p))
    })
}

/// Places and headings from the parabola through the widest stretch about each sample that it keeps within `limit` of:
/// waves below that would turn the headings, and headings decide how far a pair of arcs reaches.
fn smoothed(samples: &[Sample], closed: bool, limit: f64) -> Vec<Sample> {
    let n = samples.len();
    (0..n)
        .map(|i| {
            WINDOWS
                .iter()
                .find_map(|&half| parabola(samples, closed, i, half, limit))
                .unwrap_or(samples[i])
        })
        .collect()
}

fn parabola(samples: &[Sample], closed: bool, i: usize, half: usize, limit: f64) -> Option<Sample> {
    let n = samples.len();
    if samples[i].sharp || 2 * half + 1 >= n || (!closed && (i < half || i + half >= n)) {
        return None;
    }
    let at = |k: usize| &samples[(i + n + k - half) % n];
    if (0..=2 * half).any(|k| at(k).sharp) {
        return None;
    }
    let t = |k: usize| k as f64 - half as f64;
    // Even spacing: constant and square hang together, the slope stands alone.
    let (mut s0, mut s2, mut s4) = (0.0, 0.0, 0.0);
    let (mut sum, mut first, mut second) = (Vector2::zeros(), Vector2::zeros(), Vector2::zeros());
    for k in 0..=2 * half {
        let (t, p) = (t(k), at(k).at.coords);
        s0 += 1.0;
        s2 += t * t;
        s4 += t.powi(4);
        sum += p;
        first += p * t;
        second += p * (t * t);
    }
    let c2 = (second * s0 - sum * s2) / (s4 * s0 - s2 * s2);
    let c0 = (sum - c2 * s2) / s0;
    let c1 = first / s2;
    let off = (0..=2 * half)
        .map(|k| (at(k).at.coords - c0 - c1 * t(k) - c2 * (t(k) * t(k))).norm())
        .fold(0.0, f64::max);
    let heading = c1.y.atan2(c1.x);
    (off <= limit).then_some(Sample {
        at: Point2::from(c0),
        heading,
        arriving: heading,
        sharp: false,
    })
}

/// Pairs of arcs over the smooth samples, each as long as it keeps near the true ones.
fn greedy(
    samples: &[Sample],
    smooth: &[Sample],
    closed: bool,
    tolerance: f64,
    keep: f64,
) -> Option<ArcPath> {
    let n = samples.len();
    let last = if closed { n } else { n - 1 };
    let mut arcs: Vec<Arc> = Vec::new();
    let mut i = 0;
    while i < last {
        // No pair reaches across a sharp corner.
        let wall = (i + 1..last).find(|j| samples[*j].sharp).unwrap_or(last);
        let fits =
            |j: usize| pair(smooth, i, j).filter(|p| near(samples, i, j, p, keep * tolerance));
        let mut best = (
            i + 1,
            fits(i + 1).unwrap_or_else(|| straight(smooth, i, i + 1)),
        );
        let (mut step, mut j) = (1, i + 1);
        while j < wall {
            let next = (j + step).min(wall);
            match fits(next) {
                Some(p) => {
                    best = (next, p);
                    j = next;
                    step *= 2;
                }
                // A pair may fail here and hold a little farther on.
                None if step == 1 => {
                    let mut further = (j + 2..=(j + LOOK).min(wall)).rev();
                    let Some((next, p)) = further.find_map(|k| Some((k, fits(k)?))) else {
                        break;
                    };
                    best = (next, p);
                    j = next;
                }
                None => step = (step / 2).max(1),
            }
        }
        arcs.extend(best.1);
        i = best.0;
    }
    let merged = merge(&arcs, tolerance);
    let pieces = merged
        .iter()
        .map(|a| ArcPiece {
            start: a.from,
            bulge: a.bulge,
        })
        .collect();
    let end = if closed {
        None
    } else {
        merged.last().map(|a| a.to)
    };
    Some(ArcPath { pieces, end }).filter(|p: &ArcPath| p.pieces.len() > 1)
}

fn direction(a: f64) -> Vector2<f64> {
    Vector2::new(a.cos(), a.sin())
}

/// Two tangent arcs from sample `i` to sample `j` with the headings of the outline at both.
fn pair(samples: &[Sample], i: usize, j: usize) -> Option<Vec<Arc>> {
    let n = samples.len();
    let (a, b) = (samples[i], samples[j % n]);
    let (t1, t2) = (direction(a.heading), direction(b.arriving));
    let v = b.at - a.at;
    let t = t1 + t2;
    // d solves |v - d t| = 2 d with both control lengths d.
    let (vt, tt) = (v.dot(&t), 2.0 * (1.0 - t1.dot(&t2)));
    let d = if tt < 1e-9 {
        if v.dot(&t2) <= 0.0 {
            return None;
        }
        v.norm_squared() / (4.0 * v.dot(&t2))
    } else {
        (-vt + (vt * vt + tt * v.norm_squared()).sqrt()) / tt
    };
    if !(d.is_finite() && d > 0.0) {
        return None;
    }
    let joint = Point2::from(((a.at + t1 * d).coords + (b.at - t2 * d).coords) * 0.5);
    Some(vec![
        Arc {
            from: a.at,
            to: joint,
            bulge: bulge(t1, joint - a.at),
        },
        Arc {
            from: joint,
            to: b.at,
            bulge: -bulge(-t2, joint - b.at),
        },
    ])
}

fn straight(samples: &[Sample], i: usize, j: usize) -> Vec<Arc> {
    vec![Arc {
        from: samples[i].at,
        to: samples[j % samples.len()].at,
        bulge: 0.0,
    }]
}

/// Bulge of the arc that leaves along `t` and has this chord.
fn bulge(t: Vector2<f64>, chord: Vector2<f64>) -> f64 {
    let half_sweep = (t.x * chord.y - t.y * chord.x).atan2(t.dot(&chord));
    (half_sweep / 2.0).tan()
}

fn near(samples: &[Sample], i: usize, j: usize, arcs: &[Arc], limit: f64) -> bool {
    let path = ArcPath {
        pieces: arcs
            .iter()
            .map(|a| ArcPiece {
                start: a.from,
                bulge: a.bulge,
            })
            .collect(),
        end: arcs.last().map(|a| a.to),
    };
    let n = samples.len();
    arcs.iter().all(|a| a.bulge.abs() <= 1.0)
        && (i..=j).all(|k| path.distance(&samples[k % n].at) <= limit)
}

/// Neighbours of one circle become one arc, flat arcs become lines, and lines in one direction one line.
fn merge(arcs: &[Arc], tolerance: f64) -> Vec<Arc> {
    let mut out: Vec<Arc> = Vec::new();
    for a in arcs {
        let sagitta = |a: &Arc| (a.to - a.from).norm() * a.bulge / 2.0;
        let mut a = *a;
        if sagitta(&a).abs() < FLAT * tolerance && 4.0 * a.bulge.atan().abs() < FLAT_TURN {
            a.bulge = 0.0;
        }
        if let Some(last) = out.last_mut()
            && let Some(one) = joined(last, &a, FLAT * tolerance)
        {
            *last = one;
            continue;
        }
        out.push(a);
    }
    out
}

/// The arc from the start of `a` to the end of `b` with both turns, if the joint lies on it.
fn joined(a: &Arc, b: &Arc, limit: f64) -> Option<Arc> {
    let chord = b.to - a.from;
    let sweep = 4.0 * (a.bulge.atan() + b.bulge.atan());
    let one = Arc {
        from: a.from,
        to: b.to,
        bulge: (sweep / 4.0).tan(),
    };
    if one.bulge.abs() > 1.0
        || chord.norm() < 1e-9
        || a.bulge * b.bulge < 0.0
        || (a.bulge == 0.0) != (b.bulge == 0.0)
    {
        return None;
    }
    let path = ArcPath {
        pieces: vec![ArcPiece {
            start: one.from,
            bulge: one.bulge,
        }],
        end: Some(one.to),
    };
    let middle = |a: &Arc| {
        let c = a.to - a.from;
        nalgebra::center(&a.from, &a.to) + Vector2::new(c.y, -c.x) * (a.bulge / 2.0)
    };
    [a.to, middle(a), middle(b)]
        .iter()
        .all(|p| path.distance(p) <= limit)
        .then_some(one)
}
