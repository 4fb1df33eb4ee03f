//! Whether the two sides differ at all, all figures of the pair weighed together.

use geom::{normal_quantile, t_quantile, t_sf};
use nalgebra::{DMatrix, DVector};
use rayon::prelude::*;
use record::{Figure, JointVerdict};

use super::chance::{CHUNK, normal, scale, stream};
use super::pairing::{Pairing, row_norms};
use crate::fit::about_start;

/// Differences of the edges after the best placement, with their factors.
pub(super) struct Edges {
    /// Gap then flush, by station: a minus b, mm.
    pub d: DVector<f64>,
    /// Factors of b, then of a.
    factors: [DMatrix<f64>; 2],
    /// Standard uncertainty of each.
    pub u: DVector<f64>,
    /// What is not above this is what rounding leaves.
    least: f64,
    /// Degrees of freedom of the size of the doubt. Both sides are taken to hang on what one visit says of its noise, so
    /// that the sizes of their doubts err together: exact for one visit, on the safe side for two.
    nu: f64,
}

impl Edges {
    /// The least-squares placement takes six motions out of the data; the same are taken out of the doubt.
    pub(super) fn new(p: &Pairing<'_>) -> Option<Self> {
        let n = p.seen.len();
        if n < 4 {
            return None;
        }
        let (linear, starts) = about_start(&p.problem(0, 1));
        let rows = DMatrix::from_fn(2 * n, 6, |i, m| {
            let s = &linear.stations[i % n];
            if i < n { s.gap[m] } else { s.flush[m] }
        });
        // Columns of like size, so that the rank is told from shapes and not from units.
        let mut design = rows;
        for mut c in design.column_iter_mut() {
            let norm = c.norm();
            if norm > 0.0 {
                c /= norm;
            }
        }
        let svd = design.svd(true, false);
        let basis = svd.u?;
        let kept: Vec<usize> = (0..svd.singular_values.len())
            .filter(|&k| svd.singular_values[k] > 1e-9)
            .collect();
        let basis = DMatrix::from_fn(2 * n, kept.len(), |i, k| basis[(i, kept[k])]);
        let clean = |mut m: DMatrix<f64>| {
            let held = basis.tr_mul(&m);
            m.gemm(-1.0, &basis, &held, 1.0);
            m
        };
        // Part a on opening b: a wider opening a leaves the part too large, a tight gap.
        let e = DMatrix::from_fn(2 * n, 1, |i, _| {
            if i < n {
                -starts.gap[i]
            } else {
                starts.flush[i - n]
            }
        });
        let stack = |s: usize| {
            let d = &p.doubt[s];
            let mut both = DMatrix::zeros(2 * n, d.gap.ncols());
            both.rows_mut(0, n).copy_from(&d.gap);
            both.rows_mut(n, n).copy_from(&d.flush);
            both
        };
        let factors = [clean(stack(1)), clean(stack(0))];
        let [ub, ua] = factors.each_ref().map(row_norms);
        let u = DVector::from_fn(2 * n, |i, _| ub[i].hypot(ua[i]));
        Some(Self {
            d: clean(e).column(0).into_owned(),
            least: 1e-3 * u.max(),
            u,
            factors,
            nu: p.doubt[0].nu.min(p.doubt[1].nu),
        })
    }

    /// Degrees of freedom of the figures taken as one.
    pub(super) fn nu(&self) -> f64 {
        self.nu
    }

    /// Whether the doubt of a figure is more than what rounding leaves.
    pub(super) fn counts(&self, i: usize) -> bool {
        self.u[i] > self.least && self.u[i] > 0.0
    }

    fn largest(&self, d: &[f64]) -> f64 {
        d.iter()
            .zip(self.u.iter())
            .filter(|(_, u)| **u > self.least && **u > 0.0)
            .fold(0.0, |m, (d, u)| m.max(d.abs() / u))
    }

    /// Largest |d|/u of two like edges, by draw.
    fn draws(&self, seed: u64, draws: u32) -> Vec<f64> {
        // Every draw has its own stream; the draws of a chunk are moved by one product of matrices per side.
        let chunks: Vec<Vec<f64>> = (0..draws.div_ceil(CHUNK))
            .into_par_iter()
            .map(|c| {
                let first = c * CHUNK;
                let count = CHUNK.min(draws - first) as usize;
                let mut factors = self
                    .factors
                    .each_ref()
                    .map(|f| DMatrix::zeros(f.ncols(), count));
                for k in 0..count {
                    let number = u64::from(first) + k as u64;
                    let mut rng = stream(seed ^ 0x006A_6F69_6E74, number);
                    let s = scale(&mut rng, self.nu);
                    for z in &mut factors {
                        z.column_mut(k).apply(|v| *v = s * normal(&mut rng));
                    }
                }
                let [a, b] = &factors;
                let mut d = &self.factors[0] * a;
                d.gemm(1.0, &self.factors[1], b, 1.0);
                d.column_iter()
                    .map(|d| self.largest(d.as_slice()))
                    .collect()
            })
            .collect();
        chunks.into_iter().flatten().collect()
    }
}

/// Names and differences of all figures beside the edge: independent angles, hole places and diameters.
pub(super) fn others(p: &Pairing<'_>) -> Vec<(String, f64, f64, f64)> {
    let mut out: Vec<(String, f64, f64, f64)> = Vec::new();
    for a in &p.angles {
        let (u, nu) = geom::welch_satterthwaite(&a.u);
        out.push((a.name.clone(), a.d, u, nu));
    }
    for h in &p.compare.holes {
        let mut add = |what: &str, f: &Figure| {
            out.push((
                format!("hole {}, {what}", h.id),
                f.value,
                p.standard(f),
                f.nu,
            ));
        };
        add("to the right", &h.right);
        add("up", &h.up);
        let (u, nu) = geom::welch_satterthwaite(&[
            (p.standard(&h.a_diameter), h.a_diameter.nu),
            (p.standard(&h.b_diameter), h.b_diameter.nu),
        ]);
        out.push((
            format!("hole {}, diameter", h.id),
            h.a_diameter.value - h.b_diameter.value,
            u,
            nu,
        ));
    }
    out.retain(|(_, _, u, _)| *u > 0.0);
    out
}

/// Two-sided p-value of one figure.
pub(super) fn p_value(d: f64, u: f64, nu: f64) -> f64 {
    (2.0 * t_sf(d.abs() / u, nu)).min(1.0)
}

/// The chance of so large a largest difference between two like openings. The edge's figures are correlated and are
/// drawn together; the others are taken as independent, which is exact or on the safe side. `None` without figures,
/// or without draws where there is an edge.
pub(super) fn joint(
    p: &Pairing<'_>,
    edges: Option<&Edges>,
    seed: u64,
    draws: u32,
) -> Option<JointVerdict> {
    if !p.measured {
        return None;
    }
    let edges = edges.filter(|e| e.u.max() > 0.0);
    if edges.is_some() && draws == 0 {
        return None;
    }
    let rest = others(p);
    let mut least: Option<(f64, String)> = None;
    let mut offer = |p: f64, name: String| {
        if least.as_ref().is_none_or(|l| p < l.0) {
            least = Some((p, name));
        }
    };
    for (name, d, u, nu) in &rest {
        offer(p_value(*d, *u, *nu), name.clone());
    }
    let n = p.seen.len();
    if let Some(e) = edges {
        for i in (0..2 * n).filter(|&i| e.counts(i)) {
            let what = if i < n { "gap" } else { "flush" };
            let place = &p.compare.stations[p.seen[i % n]].place;
            offer(p_value(e.d[i], e.u[i], e.nu()), format!("{what}, {place}"));
        }
    }
    let (smallest, largest) = least?;
    let like_rest = (1.0 - smallest).powf(rest.len() as f64);
    let mut within = None;
    let like_edge = edges.map_or(1.0, |e| {
        let mut drawn = e.draws(seed, draws);
        drawn.sort_by(f64::total_cmp);
        let limit =
            t_quantile(1.0 - 0.5 * smallest.max(1e-15), e.nu()).min(normal_or(smallest, e.nu()));
        let above = drawn.len() - drawn.partition_point(|v| *v < limit);
        let at95 = drawn[((0.95 * drawn.len() as f64) as usize).min(drawn.len() - 1)];
        within = Some(at95 * e.u.max());
        // One more than counted: with none counted the chance is below 1 in the number of draws, not zero.
        1.0 - (above as f64 + 1.0) / (drawn.len() as f64 + 1.0)
    });
    let chance = 1.0 - like_rest * like_edge;
    Some(JointVerdict {
        proven: chance < 0.05,
        p: chance,
        largest,
        figures: rest.len() + edges.map_or(0, |e| (0..2 * n).filter(|&i| e.counts(i)).count()),
        within_mm: within,
    })
}

/// The limit for tiny p-values, where the quantile of Student's t may not be finite.
fn normal_or(p: f64, nu: f64) -> f64 {
    if nu.is_finite() {
        f64::INFINITY
    } else {
        -normal_quantile(0.5 * p.max(1e-300))
    }
}
