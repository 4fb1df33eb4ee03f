//! Which observation must be wrong, if one is.

use nalgebra::{DMatrix, DVector};

use super::adjust::Adjusted;
use super::model::{Network, Observation, Observed};
use super::observe::predict;
use super::solve::unknowns;
use crate::{chi_square_quantile, chi_square_sf};

/// |w| above this is a detected blunder (two-sided 0.1 %, Baarda 1968).
const LARGEST_W: f64 = 3.29;
/// Level of the chi-square test, before and after one observation is left out.
const CHI_SQUARE: f64 = 0.99;
/// How sure the name must be.
const SURE: f64 = 0.95;
/// Redundancy below which an observation says nothing of itself.
const NO_CHECK: f64 = 1e-6;
/// Correlation of w and redundancy at which a design is weak.
const ALIKE: f64 = 0.9;
const LITTLE_CHECK: f64 = 0.1;

/// What the observations say of a blunder among them.
#[derive(Clone, Debug, PartialEq)]
pub enum Blunder {
    /// Nothing is left over to tell by: as many observations as unknowns.
    NoCheck,
    /// None is seen.
    None,
    /// This one, and no other.
    Named {
        /// Which observation.
        observation: usize,
        /// How sure among all single blunders, 0.95 to 1.
        sureness: f64,
        /// By how much it is too large, mm or radians.
        by: f64,
    },
    /// There is one, among these, and which cannot be told.
    Among {
        /// The likeliest observations, most likely first, that together hold 0.95 of the weight.
        observations: Vec<usize>,
        /// The further distance that would tell them apart best, if any would.
        tie: Option<NewTie>,
    },
}

/// A distance that was not observed and would help.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct NewTie {
    /// One end.
    pub from: usize,
    /// Other end.
    pub to: usize,
    /// Largest correlation of w among the observations in doubt with it; 1: still the same to each other.
    pub largest_correlation: f64,
}

/// An observation whose blunder would not be seen, or not be told from another's.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WeakTie {
    /// Which observation.
    pub observation: usize,
    /// Its redundancy, 0 (nothing checks it) to 1.
    pub redundancy: f64,
    /// The observation it is most alike.
    pub like: Option<usize>,
    /// Correlation of their w, 0 to 1.
    pub correlation: f64,
}

/// Logarithm of L of [`judge`].
fn log_likelihood(w: f64, sigma: f64, r: f64) -> f64 {
    0.5 * w * w + sigma.ln() - 0.5 * r.ln()
}

/// Judges the residuals of an adjustment.
///
/// Detected: max |w| > 3.29 or chi-square above its 0.99 point. Named only if P_i = L_i / sum L_j >= 0.95 with L_j =
/// exp(w_j^2/2) sigma_j / sqrt(r_j) (the posterior of a single blunder of unknown size), dof > 1, and the chi-square
/// less w_i^2 is below its 0.99 point at dof - 1. With one degree of freedom all |w| are equal: never named.
pub fn judge(net: &Network, adjusted: &Adjusted) -> Blunder {
    if adjusted.dof == 0 {
        return Blunder::NoCheck;
    }
    let dof = adjusted.dof as f64;
    let checked: Vec<usize> = (0..net.observations.len())
        .filter(|i| adjusted.redundancy[*i] > NO_CHECK)
        .collect();
    let largest = checked
        .iter()
        .map(|i| adjusted.w[*i].abs())
        .fold(0.0, f64::max);
    let detected =
        largest > LARGEST_W || adjusted.chi_square > chi_square_quantile(CHI_SQUARE, dof);
    if !detected {
        return Blunder::None;
    }
    let logs: Vec<f64> = checked
        .iter()
        .map(|i| {
            log_likelihood(
                adjusted.w[*i],
                net.observations[*i].sigma,
                adjusted.redundancy[*i],
            )
        })
        .collect();
    let top = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let sum: f64 = logs.iter().map(|l| (l - top).exp()).sum();
    let mut order: Vec<(usize, f64)> = checked
        .iter()
        .zip(&logs)
        .map(|(i, l)| (*i, (l - top).exp() / sum))
        .collect();
    order.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    if let Some((best, p)) = order.first().copied() {
        let rest = adjusted.chi_square - adjusted.w[best].powi(2);
        let sound = adjusted.dof > 1 && chi_square_sf(rest.max(0.0), dof - 1.0) > 1.0 - CHI_SQUARE;
        if p >= SURE && sound {
            return Blunder::Named {
                observation: best,
                sureness: p,
                by: adjusted.blunder[best],
            };
        }
    }
    let mut among = Vec::new();
    let mut held = 0.0;
    for (i, p) in order {
        if held >= SURE {
            break;
        }
        among.push(i);
        held += p;
    }
    let tie = new_tie(net, adjusted, &among);
    Blunder::Among {
        observations: among,
        tie,
    }
}

/// The distance between two points, not observed yet, that lowers most the largest |rho| among the observations in
/// doubt; of several that do, the one under which the least checked of them is checked best. Each candidate is one
/// update of the cofactors.
fn new_tie(net: &Network, adjusted: &Adjusted, among: &[usize]) -> Option<NewTie> {
    let unknowns = unknowns(net);
    let row = |what: &Observed, sigma: f64| {
        let mut a = DVector::zeros(unknowns.len());
        for (i, by) in predict(what, &adjusted.points, net.dimensions).1 {
            for (k, (point, axis)) in unknowns.iter().enumerate() {
                if *point == i {
                    a[k] += by[*axis] / sigma;
                }
            }
        }
        a
    };
    let all = |f: &dyn Fn(usize) -> DVector<f64>| -> Vec<DVector<f64>> {
        (0..among.len()).map(f).collect()
    };
    let rows = all(&|k| {
        let o = &net.observations[among[k]];
        row(&o.what, o.sigma)
    });
    let typical = typical_sigma(net);
    let q = &adjusted.cofactor;
    let moved: Vec<DVector<f64>> = rows.iter().map(|a| q * a).collect();
    let base = DMatrix::from_fn(rows.len(), rows.len(), |i, j| {
        f64::from(i == j) - rows[i].dot(&moved[j])
    });
    let n = net.points.len();
    let mut best: Option<(NewTie, f64)> = None;
    for from in 0..n {
        for to in from + 1..n {
            let tied = net.observations.iter().any(|o| {
                matches!(o.what, Observed::Distance { from: a, to: b } if (a, b) == (from, to) || (b, a) == (from, to))
            });
            if tied || net.points[from].fixed && net.points[to].fixed {
                continue;
            }
            let a = row(&Observed::Distance { from, to }, typical);
            let qa = q * &a;
            let size = 1.0 + a.dot(&qa);
            let c: Vec<f64> = rows.iter().map(|r| r.dot(&qa)).collect();
            let m = DMatrix::from_fn(rows.len(), rows.len(), |i, j| {
                base[(i, j)] + c[i] * c[j] / size
            });
            let mut largest: f64 = 0.0;
            let mut least: f64 = 1.0;
            for i in 0..rows.len() {
                least = least.min(m[(i, i)]);
                for j in 0..i {
                    largest = largest.max(correlation(&m, i, j).abs());
                }
            }
            let better = best.as_ref().is_none_or(|(b, l)| {
                largest < b.largest_correlation - 1e-9
                    || largest < b.largest_correlation + 1e-9 && least > l + 1e-9
            });
            if better {
                let tie = NewTie {
                    from,
                    to,
                    largest_correlation: largest,
                };
                best = Some((tie, least));
            }
        }
    }
    best.map(|b| b.0)
}

/// The median standard deviation of the distances of a network, of all observations if there are none.
fn typical_sigma(net: &Network) -> f64 {
    let of = |keep: &dyn Fn(&&Observation) -> bool| -> Vec<f64> {
        let mut s: Vec<f64> = net
            .observations
            .iter()
            .filter(keep)
            .map(|o| o.sigma)
            .collect();
        s.sort_by(f64::total_cmp);
        s
    };
    let mut s = of(&|o| matches!(o.what, Observed::Distance { .. } | Observed::Bar { .. }));
    if s.is_empty() {
        s = of(&|_| true);
    }
    s.get(s.len() / 2).copied().unwrap_or(1.0)
}

/// Correlation of two w from the cofactors of the residuals in standard deviations; 0 where one is not checked.
pub fn correlation(m: &DMatrix<f64>, i: usize, j: usize) -> f64 {
    if m[(i, i)] < NO_CHECK || m[(j, j)] < NO_CHECK {
        return 0.0;
    }
    m[(i, j)] / (m[(i, i)] * m[(j, j)]).sqrt()
}

/// Observations with redundancy below 0.1 or whose w is that of another to more than 0.9.
pub fn weak_ties(adjusted: &Adjusted) -> Vec<WeakTie> {
    let m = &adjusted.residual_cofactor;
    (0..m.nrows())
        .filter_map(|i| {
            let like = (0..m.nrows())
                .filter(|j| *j != i)
                .max_by(|a, b| {
                    let of = |j: usize| correlation(m, i, j).abs();
                    of(*a).total_cmp(&of(*b)).then(b.cmp(a))
                })
                .map(|j| (j, correlation(m, i, j).abs()));
            let correlation = like.map_or(0.0, |l| l.1);
            let weak = m[(i, i)] < LITTLE_CHECK || correlation > ALIKE;
            weak.then_some(WeakTie {
                observation: i,
                redundancy: m[(i, i)],
                like: like.filter(|l| l.1 > ALIKE).map(|l| l.0),
                correlation,
            })
        })
        .collect()
}
