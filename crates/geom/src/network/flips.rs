//! Other shapes that the observations allow as well.

use super::adjust::{Adjusted, Settled, settle, size_of};
use super::approximate::rigid_onto;
use super::model::Network;
use super::rough::descend;
use super::solve::misfit;
use crate::{Point, Vector};
use nalgebra::Matrix3;

/// A shape whose sum of squares is not larger by more than this cannot be told from the best (chi-square of one degree of
/// freedom, 1 %).
const AS_GOOD: f64 = 6.63;
/// Shapes that differ by less than this share of the size of the network are one.
const SAME: f64 = 1e-4;
const NEARLY_SAME: f64 = 1e-3;
/// A mirrored point whose ties are off by more than this in all, squared, is not followed.
const HOPELESS: f64 = 1e5;
/// Points that move by this share of the farthest belong to the flip.
const BELONGS: f64 = 0.3;

/// Another shape that fits as well.
#[derive(Clone, Debug, PartialEq)]
pub struct Flip {
    /// The points that lie elsewhere in it.
    pub points: Vec<usize>,
    /// All points in it, laid on the shape given.
    pub at: Vec<Point>,
    /// Its sum of squares.
    pub chi_square: f64,
}

/// Shapes other than the adjusted one that fit as well; and the best of all if it is better than the one given.
pub fn flips(
    net: &Network,
    adjusted: &Adjusted,
    others: &[Settled],
) -> (Vec<Flip>, Option<Settled>) {
    let size = size_of(&adjusted.points);
    let mut all: Vec<Settled> = others.to_vec();
    for i in (0..net.points.len()).filter(|i| !net.points[*i].fixed) {
        let Some(mirrored) = mirrored(net, &adjusted.points, i) else {
            continue;
        };
        if (mirrored - adjusted.points[i]).norm() < SAME * size {
            continue;
        }
        let mut at = adjusted.points.clone();
        at[i] = mirrored;
        if misfit(net, &at).norm_squared() > adjusted.chi_square + HOPELESS {
            continue;
        }
        let sum = descend(net, &mut at);
        all.push(Settled { points: at, sum });
    }
    let mut found: Vec<Flip> = Vec::new();
    let mut better: Option<Settled> = None;
    for s in all {
        if s.sum > adjusted.chi_square + AS_GOOD {
            continue;
        }
        // The shape itself, come to on another way, is no other.
        if apart(&laid_on(net, &s.points, &adjusted.points), &adjusted.points) < NEARLY_SAME * size
        {
            continue;
        }
        // Near is not there: it must settle.
        let Ok(s) = settle(net, &s.points) else {
            continue;
        };
        let best = better.as_ref().map_or(adjusted.chi_square, |b| b.sum);
        if s.sum < best - 1e-6 * (1.0 + best) {
            better = Some(s.clone());
        }
        let at = laid_on(net, &s.points, &adjusted.points);
        let off: Vec<f64> = at
            .iter()
            .zip(&adjusted.points)
            .map(|(a, b)| (a - b).norm())
            .collect();
        let farthest = off.iter().copied().fold(0.0, f64::max);
        if farthest < SAME * size {
            continue;
        }
        let points: Vec<usize> = (0..off.len())
            .filter(|i| off[*i] > BELONGS * farthest)
            .collect();
        if !found.iter().any(|f| f.points == points) {
            found.push(Flip {
                points,
                at,
                chi_square: s.sum,
            });
        }
    }
    (found, better)
}

/// The farthest that a point lies from its like.
fn apart(a: &[Point], b: &[Point]) -> f64 {
    a.iter()
        .zip(b)
        .map(|(p, q)| (p - q).norm())
        .fold(0.0, f64::max)
}

/// A point mirrored in the plane (line, in two dimensions) that fits the points it is tied to best.
fn mirrored(net: &Network, at: &[Point], i: usize) -> Option<Point> {
    let mut near: Vec<usize> = net
        .observations
        .iter()
        .filter(|o| o.what.points().contains(&i))
        .flat_map(|o| o.what.points())
        .filter(|p| *p != i)
        .collect();
    near.sort_unstable();
    near.dedup();
    if near.len() < net.dimensions || net.dimensions < 2 {
        return None;
    }
    let n = near.len() as f64;
    let middle = Point::from(near.iter().map(|p| at[*p].coords).sum::<Vector>() / n);
    let mut m = Matrix3::zeros();
    for p in &near {
        m += (at[*p] - middle) * (at[*p] - middle).transpose();
    }
    if net.dimensions == 2 {
        // Never across the plane.
        m[(2, 2)] = 10.0 * m.trace() + 1.0;
    }
    let eigen = m.symmetric_eigen();
    let across = eigen.eigenvectors.column(eigen.eigenvalues.imin());
    let d = (at[i] - middle).dot(&across);
    Some(at[i] - across * (2.0 * d))
}

/// Points laid on others, mirrored if that fits better; as they are where points are fixed.
fn laid_on(net: &Network, points: &[Point], onto: &[Point]) -> Vec<Point> {
    if net.points.iter().any(|p| p.fixed) {
        return points.to_vec();
    }
    let last = net.dimensions - 1;
    let turned = |hand: f64| -> Vec<Point> {
        points
            .iter()
            .map(|p| {
                let mut q = *p;
                q[last] *= hand;
                q
            })
            .collect()
    };
    let mut best: Option<(Vec<Point>, f64)> = None;
    for hand in [1.0, -1.0] {
        let from = turned(hand);
        // Twice: the second time without the points that lie elsewhere.
        let mut use_of = vec![true; from.len()];
        let mut laid = from.clone();
        for _ in 0..3 {
            let pick = |p: &[Point]| -> Vec<Point> {
                p.iter()
                    .zip(&use_of)
                    .filter(|(_, u)| **u)
                    .map(|(p, _)| *p)
                    .collect()
            };
            let map = rigid_onto(&pick(&from), &pick(onto));
            laid = from.iter().map(|p| map * p).collect();
            let off: Vec<f64> = laid.iter().zip(onto).map(|(a, b)| (a - b).norm()).collect();
            let farthest = off.iter().copied().fold(0.0, f64::max);
            let next: Vec<bool> = off.iter().map(|o| *o <= BELONGS * farthest).collect();
            if next.iter().filter(|u| **u).count() <= net.dimensions {
                break;
            }
            use_of = next;
        }
        let mut off: Vec<f64> = laid.iter().zip(onto).map(|(a, b)| (a - b).norm()).collect();
        off.sort_by(f64::total_cmp);
        let middle = off[off.len() / 2];
        if best.as_ref().is_none_or(|b| middle < b.1) {
            best = Some((laid, middle));
        }
    }
    best.map_or_else(|| points.to_vec(), |b| b.0)
}
