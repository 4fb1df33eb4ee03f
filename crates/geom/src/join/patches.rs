//! How well surfaces hold a pose, by how their patches disagree.
//!
//! Neighbouring points of a scan err together, so the number of points is no evidence. What is left over is summed per patch,
//! and the covariance comes from the scatter of these sums, neighbours taken together: whatever the correlation within a patch, it is in them. Waves
//! longer than a patch are not, and neither is what all patches share (scale, film, state of the body).
//!
//! Each patch is corrected for what the fit took out of it, and the degrees of freedom are those of Bell and McCaffrey, "Bias
//! reduction in standard errors for linear regression with multi-stage samples", Survey Methodology 28 (2002), equations 6 and 8.

use std::collections::BTreeMap;

use nalgebra::{DMatrix, DVector, SymmetricEigen};

use super::matches::Match;
use super::pose_doubt::{DoubtPart, motion_row};
use super::weak::Ways;
use crate::Point;

/// Patches wanted.
pub(super) const WANTED: usize = 40;
/// Fewer say nothing.
pub(super) const FEWEST: usize = 8;
/// A patch that alone holds a way keeps this share of what it says.
const ALONE: f64 = 0.05;

/// The doubt of a pose that is held by `ways[first..]`, about `about`, and the number of patches; `None` with fewer than eight
/// patches. Covariance of the shares of the held ways is `of_ways`.
pub(super) struct Patches {
    pub part: DoubtPart,
    pub of_ways: DMatrix<f64>,
    pub count: usize,
}

/// The patch of a place: cubes of side `size`, mm.
fn cube(p: &Point, size: f64) -> [i64; 3] {
    [p.x, p.y, p.z].map(|x| (x / size).floor() as i64)
}

/// The side with about as many cubes as wanted.
fn size_for(kept: &[Match], wanted: usize) -> f64 {
    let bounds = crate::Aabb::of(kept.iter().map(|m| &m.at));
    let mut size = (bounds.high - bounds.low).norm();
    for _ in 0..24 {
        let mut cubes: Vec<[i64; 3]> = kept.iter().map(|m| cube(&m.at, size)).collect();
        cubes.sort_unstable();
        cubes.dedup();
        if cubes.len() >= wanted {
            break;
        }
        size *= 0.84;
    }
    size
}

/// Weights with which patches count together: 1 for itself, falling to 0 two cubes away (Bartlett's, along each axis: Newey and
/// West, Econometrica 55 (1987), in the plane of Conley, Journal of Econometrics 92 (1999)). Waves that reach over the border of
/// two patches would else be lost: a fifth of the variance where they are correlated over a twelfth of a patch.
fn nearness(cubes: &[[i64; 3]]) -> DMatrix<f64> {
    DMatrix::from_fn(cubes.len(), cubes.len(), |p, q| {
        (0..3)
            .map(|i| (1.0 - 0.5 * (cubes[p][i] - cubes[q][i]).abs() as f64).max(0.0))
            .product()
    })
}

impl Patches {
    pub fn of(
        kept: &[Match],
        about: &Point,
        ways: &Ways,
        first: usize,
        wanted: usize,
    ) -> Option<Self> {
        let d = 6 - first;
        let size = size_for(kept, wanted);
        let mut sums: BTreeMap<[i64; 3], (DMatrix<f64>, DVector<f64>)> = BTreeMap::new();
        for m in kept {
            let row = ways.motions.transpose() * motion_row(&m.at, &m.normal, about);
            let row = DVector::from_fn(d, |k, _| row[first + k]);
            let sum = sums
                .entry(cube(&m.at, size))
                .or_insert_with(|| (DMatrix::zeros(d, d), DVector::zeros(d)));
            sum.0 += &row * row.transpose();
            sum.1 += row * m.height;
        }
        let count = sums.len();
        if count < FEWEST || d == 0 {
            return None;
        }
        // Information in these coordinates is the diagonal of `held`.
        let total: DMatrix<f64> = sums
            .values()
            .map(|s| &s.0)
            .fold(DMatrix::zeros(d, d), |a, b| a + b);
        let shrink = DMatrix::from_diagonal(&DVector::from_fn(d, |k, _| {
            total[(k, k)].max(f64::MIN_POSITIVE).sqrt().recip()
        }));
        // (I - M H)^-1/2 M of each patch.
        let solve: Vec<DMatrix<f64>> = sums
            .values()
            .map(|(h, _)| {
                let q = DMatrix::identity(d, d) - &shrink * h * &shrink;
                let e = SymmetricEigen::new((&q + q.transpose()) * 0.5);
                let root = &e.eigenvectors
                    * DMatrix::from_diagonal(&e.eigenvalues.map(|v| v.max(ALONE).sqrt().recip()))
                    * e.eigenvectors.transpose();
                &shrink * root * &shrink
            })
            .collect();
        let pulled: Vec<DVector<f64>> = solve
            .iter()
            .zip(sums.values())
            .map(|(s, (_, g))| s * g)
            .collect();
        let near = nearness(&sums.keys().copied().collect::<Vec<_>>());
        let mut raw = DMatrix::zeros(d, d);
        for p in 0..count {
            for q in 0..count {
                if near[(p, q)] > 0.0 {
                    raw += &pulled[p] * pulled[q].transpose() * near[(p, q)];
                }
            }
        }
        let eigen = SymmetricEigen::new((&raw + raw.transpose()) * 0.5);
        let inverse = &shrink * &shrink;
        let (mut motions, mut nu) = (Vec::new(), Vec::new());
        let mut of_ways = DMatrix::zeros(d, d);
        for k in 0..d {
            let c = eigen.eigenvectors.column(k).into_owned();
            let u: Vec<DVector<f64>> = solve.iter().map(|s| s * &c).collect();
            let hu: Vec<DVector<f64>> = sums.values().zip(&u).map(|((h, _), u)| h * u).collect();
            // How the sums of white noise would vary together.
            let gram = DMatrix::from_fn(count, count, |p, q| {
                let own = if p == q { u[p].dot(&hu[p]) } else { 0.0 };
                own - hu[p].dot(&(&inverse * &hu[q]))
            });
            let weighed = &near * &gram;
            let trace = weighed.trace().max(f64::MIN_POSITIVE);
            let square = (&weighed * &weighed).trace().max(f64::MIN_POSITIVE);
            nu.push((trace * trace / square).max(1.0));
            // What the fit took out of neighbours together is put back.
            let back = (gram.trace() / trace).max(1.0);
            let variance = eigen.eigenvalues[k].max(0.0) * back;
            of_ways += &c * c.transpose() * variance;
            let mut motion = nalgebra::Vector6::zeros();
            for j in 0..d {
                motion += ways.motions.column(first + j) * (c[j] * variance.sqrt());
            }
            motions.push(motion);
        }
        Some(Self {
            part: DoubtPart { motions, nu },
            of_ways,
            count,
        })
    }
}
