//! A quick descent to a place near a minimum, by damped normal equations. What it gives is a start, not a result: the
//! adjustment proper works on singular values.

use nalgebra::{DMatrix, DVector};

use super::approximate::replaced;
use super::model::Network;
use super::observe::predict;
use super::solve::{misfit, unknowns};
use crate::Point;

/// Most steps.
const STEPS: usize = 60;
/// Damping begins with this share of the diagonal; it also holds what a free datum leaves open.
const DAMPING: f64 = 1e-3;
const LEAST_DAMPING: f64 = 1e-9;
const MOST_DAMPING: f64 = 1e12;
/// The sum has settled when a step takes off less than this share of it.
const SETTLED: f64 = 1e-9;
/// Passes over all points that look for a better place of each alone.
const PASSES: usize = 6;

/// Lowers the sum of squares from a start; the sum reached.
pub fn descend(net: &Network, at: &mut [Point]) -> f64 {
    let unknowns = unknowns(net);
    let n = unknowns.len();
    let mut column = vec![None; net.points.len()];
    for (k, (i, axis)) in unknowns.iter().enumerate() {
        if *axis == 0 {
            column[*i] = Some(k);
        }
    }
    let d = net.dimensions;
    let equations = |at: &[Point]| {
        let (mut m, mut v, mut sum) = (DMatrix::<f64>::zeros(n, n), DVector::zeros(n), 0.0);
        for o in &net.observations {
            let (value, by) = predict(&o.what, at, d);
            let r = (value - o.value) / o.sigma;
            sum += r * r;
            let by: Vec<(usize, [f64; 3])> = by
                .into_iter()
                .filter_map(|(i, g)| {
                    Some((column[i]?, [g.x / o.sigma, g.y / o.sigma, g.z / o.sigma]))
                })
                .collect();
            for (a, g) in &by {
                for i in 0..d {
                    v[a + i] += g[i] * r;
                    for (b, h) in &by {
                        for j in 0..d {
                            m[(a + i, b + j)] += g[i] * h[j];
                        }
                    }
                }
            }
        }
        (m, v, sum)
    };
    let mut damping = DAMPING;
    let (mut m, mut v, mut sum) = equations(at);
    for _ in 0..STEPS {
        let mut damped = m.clone();
        let least = 1e-12 * m.trace() / n.max(1) as f64;
        for k in 0..n {
            damped[(k, k)] += damping * m[(k, k)] + least;
        }
        let Some(step) = damped.cholesky().map(|c| c.solve(&v)) else {
            damping = (10.0 * damping).max(DAMPING);
            if damping > MOST_DAMPING {
                break;
            }
            continue;
        };
        let mut next = at.to_vec();
        for (k, (i, axis)) in unknowns.iter().enumerate() {
            next[*i][*axis] -= step[k];
        }
        let s = misfit(net, &next).norm_squared();
        if s.is_finite() && s <= sum {
            let gain = sum - s;
            at.copy_from_slice(&next);
            if gain <= SETTLED * (1.0 + s) {
                return s;
            }
            (m, v, sum) = equations(at);
            damping = (0.1 * damping).max(LEAST_DAMPING);
        } else {
            damping = (10.0 * damping).max(DAMPING);
            if damping > MOST_DAMPING {
                break;
            }
        }
    }
    sum
}

/// [`descend`], then every point is tried elsewhere with all others at rest, until none finds a better place.
pub fn search(net: &Network, at: &mut Vec<Point>) -> f64 {
    let mut sum = descend(net, at);
    for _ in 0..PASSES {
        let Some(moved) = replaced(net, at) else {
            break;
        };
        let mut next = moved;
        let s = descend(net, &mut next);
        if s >= sum * (1.0 - 1e-6) {
            break;
        }
        *at = next;
        sum = s;
    }
    sum
}
