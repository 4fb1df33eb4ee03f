//! The linearised network at a place of its points.

use nalgebra::{DMatrix, DVector};

use super::jacobi::Jacobi;
use super::model::{Network, Observed};
use super::observe::predict;
use crate::{Point, Vector};

/// Singular values of the scaled design below this share of the largest are zero.
const ZERO: f64 = 1e-9;
/// A point is loose that takes part in a free motion by at least this share of the one that takes part most.
const TAKES_PART: f64 = 0.5;

/// The design in units of standard deviations with columns of unit length, taken apart.
pub struct Linear {
    /// Adjusted less observed in standard deviations.
    pub misfit: DVector<f64>,
    /// Left singular vectors of what is determined, observations x rank.
    pub u: DMatrix<f64>,
    /// (unknowns x rank): step = -`back` u' misfit, and `back` `back`' is the cofactor matrix, both of shortest length in
    /// the scaled unknowns.
    back: DMatrix<f64>,
    /// Singular values of what is determined.
    values: Vec<f64>,
    /// Motions that change no observation, unknowns x defect, mm.
    pub free: DMatrix<f64>,
}

/// The unknown coordinates: point and axis.
pub fn unknowns(net: &Network) -> Vec<(usize, usize)> {
    (0..net.points.len())
        .filter(|i| !net.points[*i].fixed)
        .flat_map(|i| (0..net.dimensions).map(move |axis| (i, axis)))
        .collect()
}

/// Adjusted less observed in standard deviations at a place of the points.
pub fn misfit(net: &Network, at: &[Point]) -> DVector<f64> {
    DVector::from_iterator(
        net.observations.len(),
        net.observations
            .iter()
            .map(|o| (predict(&o.what, at, net.dimensions).0 - o.value) / o.sigma),
    )
}

impl Linear {
    /// At the place `at`. `None` if a value is not finite.
    pub fn new(net: &Network, at: &[Point]) -> Option<Self> {
        let unknowns = unknowns(net);
        let (m, n) = (net.observations.len(), unknowns.len());
        let mut column = vec![None; net.points.len()];
        for (k, (i, axis)) in unknowns.iter().enumerate() {
            if *axis == 0 {
                column[*i] = Some(k);
            }
        }
        let mut a: DMatrix<f64> = DMatrix::zeros(m, n);
        for (row, o) in net.observations.iter().enumerate() {
            for (i, by) in predict(&o.what, at, net.dimensions).1 {
                let Some(k) = column[i] else { continue };
                for axis in 0..net.dimensions {
                    a[(row, k + axis)] += by[axis] / o.sigma;
                }
            }
        }
        if a.iter().any(|v| !v.is_finite()) {
            return None;
        }
        let lengths: Vec<f64> = (0..n)
            .map(|k| {
                let l = a.column(k).norm();
                if l > 0.0 { l } else { 1.0 }
            })
            .collect();
        for (k, l) in lengths.iter().enumerate() {
            a.column_mut(k).scale_mut(1.0 / l);
        }
        let parts = Jacobi::new(a);
        let least = ZERO * parts.largest();
        let (kept, zero): (Vec<usize>, Vec<usize>) = (0..n).partition(|k| parts.values[*k] > least);
        let scaled = |row: usize, k: usize| parts.v[(row, k)] / lengths[row];
        Some(Self {
            misfit: misfit(net, at),
            values: kept.iter().map(|k| parts.values[*k]).collect(),
            u: DMatrix::from_fn(m, kept.len(), |i, k| parts.u[(i, kept[k])]),
            back: DMatrix::from_fn(n, kept.len(), |i, k| {
                scaled(i, kept[k]) / parts.values[kept[k]]
            }),
            free: DMatrix::from_fn(n, zero.len(), |i, k| scaled(i, zero[k])),
        })
    }

    /// `x` moved along the free motions so that it leaves the datum points where they are as far as can be (inner
    /// constraints: N' x = 0 over the datum points, N the free motions).
    pub fn on_datum(&self, net: &Network, x: &DMatrix<f64>) -> DMatrix<f64> {
        if self.free.ncols() == 0 {
            return x.clone();
        }
        let datum = net.datum();
        let rows: Vec<usize> = unknowns(net)
            .iter()
            .enumerate()
            .filter(|(_, (i, _))| datum[*i])
            .map(|(k, _)| k)
            .collect();
        let n = self.free.select_rows(&rows);
        let parts = Jacobi::new(n);
        let least = 1e-12 * parts.largest();
        let onto = parts.u.tr_mul(&x.select_rows(&rows));
        let by = DMatrix::from_fn(onto.nrows(), onto.ncols(), |k, c| {
            if parts.values[k] > least {
                onto[(k, c)] / parts.values[k]
            } else {
                0.0
            }
        });
        let moved = &parts.v * by;
        x - &self.free * moved
    }

    /// How much of the misfit a step could take off, in standard deviations.
    pub fn left_over(&self) -> f64 {
        self.u.tr_mul(&self.misfit).norm()
    }

    /// The Gauss-Newton step of the unknowns on the datum, mm; `damping` in singular values of the scaled design.
    pub fn step(&self, net: &Network, damping: f64) -> DVector<f64> {
        let mut by = self.u.tr_mul(&self.misfit);
        for (k, s) in self.values.iter().enumerate() {
            by[k] *= -s * s / (s * s + damping * damping);
        }
        let x = &self.back * by;
        self.on_datum(net, &DMatrix::from_columns(&[x]))
            .column(0)
            .into_owned()
    }

    /// Cofactors of the unknowns on the datum (covariance for standard deviations as given), mm2.
    pub fn cofactor(&self, net: &Network) -> DMatrix<f64> {
        let s = self.on_datum(net, &self.back);
        &s * s.transpose()
    }

    /// Points that can move while every observation stays, other than with the whole network.
    pub fn loose(&self, net: &Network, at: &[Point]) -> Vec<usize> {
        let with_all = whole_motions(net, at);
        if self.free.ncols() <= with_all.ncols() {
            return Vec::new();
        }
        let alone = alone(net, at);
        if !alone.is_empty() {
            return alone;
        }
        let own = if with_all.ncols() == 0 {
            self.free.clone()
        } else {
            let q = Jacobi::new(with_all.clone()).u;
            &self.free - &q * q.tr_mul(&self.free)
        };
        let unknowns = unknowns(net);
        let mut part = vec![0.0; net.points.len()];
        // Only the motions that are left: as many as there are too many.
        let own = Jacobi::new(own);
        let u = own.u;
        let extra = self.free.ncols() - with_all.ncols();
        let mut order: Vec<usize> = (0..own.values.len()).collect();
        order.sort_by(|a, b| own.values[*b].total_cmp(&own.values[*a]));
        for k in order.into_iter().take(extra) {
            for (row, (i, _)) in unknowns.iter().enumerate() {
                part[*i] += u[(row, k)].powi(2);
            }
        }
        let most = part.iter().copied().fold(0.0, f64::max);
        (0..part.len())
            .filter(|i| part[*i] > TAKES_PART * TAKES_PART * most)
            .collect()
    }
}

/// Points that can move by themselves, all others at rest.
fn alone(net: &Network, at: &[Point]) -> Vec<usize> {
    let d = net.dimensions;
    let held = |i: usize| {
        let rows: Vec<Vector> = net
            .observations
            .iter()
            .flat_map(|o| predict(&o.what, at, d).1)
            .filter(|by| by.0 == i)
            .map(|by| by.1 / by.1.norm().max(1e-300))
            .collect();
        let a = Jacobi::new(DMatrix::from_fn(rows.len(), d, |r, axis| rows[r][axis]));
        a.values.iter().all(|v| *v > ZERO)
    };
    (0..at.len())
        .filter(|i| !net.points[*i].fixed && !held(*i))
        .collect()
}

/// Motions of the whole network that the fixed points allow and that change no observation: columns over the unknowns.
fn whole_motions(net: &Network, at: &[Point]) -> DMatrix<f64> {
    let d = net.dimensions;
    let centre = Point::from(at.iter().map(|p| p.coords).sum::<Vector>() / at.len().max(1) as f64);
    let size = at
        .iter()
        .map(|p| (p - centre).norm())
        .fold(0.0, f64::max)
        .max(1e-12);
    let mut motions: Vec<Vec<Vector>> = (0..d)
        .map(|axis| {
            let mut e = Vector::zeros();
            e[axis] = 1.0;
            vec![e; at.len()]
        })
        .collect();
    let turns: &[Vector] = match d {
        2 => &[Vector::new(0.0, 0.0, 1.0)],
        3 => &[
            Vector::new(1.0, 0.0, 0.0),
            Vector::new(0.0, 1.0, 0.0),
            Vector::new(0.0, 0.0, 1.0),
        ],
        _ => &[],
    };
    for t in turns {
        motions.push(at.iter().map(|p| t.cross(&(p - centre)) / size).collect());
    }
    // What each motion does to the fixed points and to the observations, both as lengths of about one.
    let fixed: Vec<usize> = (0..at.len()).filter(|i| net.points[*i].fixed).collect();
    let rows = fixed.len() * d + net.observations.len();
    let effect = DMatrix::from_fn(rows, motions.len(), |row, k| {
        if row < fixed.len() * d {
            motions[k][fixed[row / d]][row % d]
        } else if let Some(o) = net.observations.get(row - fixed.len() * d) {
            let scale = if matches!(o.what, Observed::Angle { .. }) {
                size
            } else {
                1.0
            };
            let by = predict(&o.what, at, d).1;
            scale * by.iter().map(|(i, v)| v.dot(&motions[k][*i])).sum::<f64>()
        } else {
            0.0
        }
    });
    let parts = Jacobi::new(effect);
    let least = 1e-8 * parts.largest().max(1.0);
    let allowed: Vec<usize> = (0..motions.len())
        .filter(|k| parts.values[*k] < least)
        .collect();
    let unknowns = unknowns(net);
    DMatrix::from_fn(unknowns.len(), allowed.len(), |row, k| {
        let (i, axis) = unknowns[row];
        (0..motions.len())
            .map(|j| parts.v[(j, allowed[k])] * motions[j][i][axis])
            .sum()
    })
}
