//! Points that stand apart from the others: dust, stray returns, what the scanner saw through a gap.
//!
//! Two usual rules. By distance: R. B. Rusu et al., "Towards 3D point cloud based object maps for household
//! environments", Robotics and Autonomous Systems 56 (2008), section 4.1. By radius: too few neighbours near by.

#![allow(
    clippy::inline_always,
    reason = "instruction sets are chosen at run time for what is inlined there"
)]

use pulp::NullaryFnOnce;
use rayon::prelude::*;

use crate::leaf_tree::{KNearest, LeafTree};

/// Points handled by one task.
const CHUNK: usize = 2048;

/// For every point, in the order they were given, whether its mean distance to its `k` nearest others is below the
/// mean of all such distances plus `sigmas` of their standard deviations. `false` for points that are not finite.
/// `k` is cut to 1..=127; where there are fewer others, their mean counts.
///
/// Cost: the k nearest of every point.
pub fn keep_by_distance(tree: &LeafTree, k: usize, sigmas: f64) -> Vec<bool> {
    let arch = pulp::Arch::new();
    let firsts: Vec<usize> = (0..tree.len()).step_by(CHUNK).collect();
    let means: Vec<f32> = firsts
        .par_iter()
        .flat_map_iter(|&first| {
            arch.dispatch(Stretch {
                tree,
                k: k.max(1) + 1,
                slots: first..tree.len().min(first + CHUNK),
            })
        })
        .collect();
    if means.is_empty() {
        return tree.as_given(&[], false);
    }
    let n = means.len() as f64;
    let mean = means.iter().map(|m| f64::from(*m)).sum::<f64>() / n;
    let variance = means
        .iter()
        .map(|m| (f64::from(*m) - mean).powi(2))
        .sum::<f64>()
        / n;
    let limit = mean + sigmas * variance.sqrt();
    let keep: Vec<bool> = means.iter().map(|m| f64::from(*m) < limit).collect();
    tree.as_given(&keep, false)
}

/// For every point, in the order they were given, whether at least `others` other points lie within `radius` mm.
/// `false` for points that are not finite. Cost: a count that stops as soon as there are enough.
pub fn keep_by_radius(tree: &LeafTree, others: usize, radius: f64) -> Vec<bool> {
    tree.have_near(others, radius)
}

struct Stretch<'a> {
    tree: &'a LeafTree,
    k: usize,
    slots: std::ops::Range<usize>,
}

impl NullaryFnOnce for Stretch<'_> {
    type Output = Vec<f32>;

    #[inline(always)]
    fn call(self) -> Vec<f32> {
        let mut search = KNearest::new(self.tree, self.k);
        self.slots
            .map(|slot| {
                let near = search.of_slot(slot);
                let mut sums = [0.0_f32; 8];
                for lot in near.d2.as_chunks::<8>().0 {
                    for (s, d2) in sums.iter_mut().zip(lot) {
                        let w = near.weight(*d2);
                        let d2 = if w > 0.0 { *d2 } else { 0.0 };
                        *s += w * d2.sqrt();
                    }
                }
                // The point itself is one of them, at distance 0.
                sums.iter().sum::<f32>() / near.count.saturating_sub(1).max(1) as f32
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Point;
    use rand::{RngExt, SeedableRng};

    fn sheet_with_strays() -> Vec<Point> {
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(11);
        (0..2000)
            .map(|i| {
                let lift = if i % 100 == 7 {
                    5.0 + f64::from(i) / 100.0
                } else {
                    0.0
                };
                Point::new(30.0 * rng.random::<f64>(), 30.0 * rng.random::<f64>(), lift)
            })
            .collect()
    }

    fn distances(points: &[Point], i: usize) -> Vec<f64> {
        let mut d: Vec<f64> = points.iter().map(|p| (p - points[i]).norm()).collect();
        d.sort_by(f64::total_cmp);
        d
    }

    #[test]
    fn by_distance_as_defined() {
        let points = sheet_with_strays();
        let mean: Vec<f64> = (0..points.len())
            .map(|i| distances(&points, i)[1..=12].iter().sum::<f64>() / 12.0)
            .collect();
        let all = mean.iter().sum::<f64>() / mean.len() as f64;
        let sd = (mean.iter().map(|m| (m - all).powi(2)).sum::<f64>() / mean.len() as f64).sqrt();
        let keep = keep_by_distance(&LeafTree::new(&points), 12, 2.0);
        for (k, m) in keep.iter().zip(&mean) {
            if (m - all - 2.0 * sd).abs() > 1e-5 {
                assert_eq!(*k, *m < all + 2.0 * sd);
            }
        }
        assert!(keep.iter().filter(|k| !**k).count() >= 20);
    }

    #[test]
    fn by_radius_as_defined() {
        let mut points = sheet_with_strays();
        points[3].z = f64::NAN;
        let keep = keep_by_radius(&LeafTree::new(&points), 8, 1.5);
        assert!(!keep[3]);
        points[3] = Point::new(1e6, 0.0, 0.0);
        for (i, k) in keep.iter().enumerate() {
            assert_eq!(*k, distances(&points, i)[8] <= 1.5);
        }
        assert!(keep.contains(&false));
    }

    #[test]
    fn few_points_and_one_place() {
        assert!(keep_by_distance(&LeafTree::new(&[]), 20, 2.0).is_empty());
        let one = LeafTree::new(&[Point::origin()]);
        assert_eq!(keep_by_radius(&one, 0, 0.0), [true]);
        assert_eq!(keep_by_radius(&one, 1, 10.0), [false]);
        let same = LeafTree::new(&vec![Point::new(1.0, 1.0, 1.0); 300]);
        assert_eq!(keep_by_radius(&same, 299, 0.0), vec![true; 300]);
        assert_eq!(keep_by_radius(&same, 300, 0.0), vec![false; 300]);
    }
}
