//! Normals of all points of a cloud at once, each from its k nearest points.
//!
//! The same planes as [`crate::local_planes`] finds, for whole clouds: neighbours are never listed or sorted, their
//! second moments are summed in lots of eight about the point itself, and the least eigenvalue of the 3 x 3 matrix is
//! found by Newton's method from below, where the characteristic polynomial is concave and cannot overshoot.

#![allow(
    clippy::inline_always,
    reason = "instruction sets are chosen at run time for what is inlined there"
)]

use pulp::NullaryFnOnce;
use rayon::prelude::*;

use crate::leaf_tree::{KNearest, LeafTree, Near};

/// Points handled by one task.
const CHUNK: usize = 2048;

/// The unit normal of the plane through the `k` nearest points of every point (itself among them), in the order the
/// points were given. Its sign means nothing. `[0, 0, 0]` where the neighbours lie on one line or in one place, where
/// there are fewer than three, or the point is not finite. Neighbours at equal distance share the last places, so
/// nothing depends on their order. `k` is cut to 3..=128.
///
/// Right to about 1e-6 rad of turn against the same sums in double precision.
pub fn normals_of_nearest(tree: &LeafTree, k: usize) -> Vec<[f32; 3]> {
    let arch = pulp::Arch::new();
    let slots: Vec<usize> = (0..tree.len()).step_by(CHUNK).collect();
    let by_slot: Vec<[f32; 3]> = slots
        .par_iter()
        .flat_map_iter(|&first| {
            arch.dispatch(Stretch {
                tree,
                k: k.max(3),
                slots: first..tree.len().min(first + CHUNK),
            })
        })
        .collect();
    tree.as_given(&by_slot, [0.0; 3])
}

struct Stretch<'a> {
    tree: &'a LeafTree,
    k: usize,
    slots: std::ops::Range<usize>,
}

impl NullaryFnOnce for Stretch<'_> {
    type Output = Vec<[f32; 3]>;

    #[inline(always)]
    fn call(self) -> Vec<[f32; 3]> {
        let mut search = KNearest::new(self.tree, self.k);
        self.slots
            .map(|slot| {
                let near = search.of_slot(slot);
                if near.count < 3 {
                    return [0.0; 3];
                }
                least_direction(&moments(&near))
            })
            .collect()
    }
}

/// Central second moments xx, xy, xz, yy, yz, zz of the neighbours.
#[inline(always)]
fn moments(near: &Near) -> [f64; 6] {
    let mut sums = [[0.0_f32; 8]; 10];
    let lots = near.d2.len() / 8;
    for lot in 0..lots {
        let at = lot * 8..lot * 8 + 8;
        let (Some(x), Some(y), Some(z), Some(d2)) = (
            near.x[at.clone()].first_chunk::<8>(),
            near.y[at.clone()].first_chunk::<8>(),
            near.z[at.clone()].first_chunk::<8>(),
            near.d2[at].first_chunk::<8>(),
        ) else {
            break;
        };
        for i in 0..8 {
            let w = near.weight(d2[i]);
            let (wx, wy, wz) = (w * x[i], w * y[i], w * z[i]);
            sums[0][i] += w;
            sums[1][i] += wx;
            sums[2][i] += wy;
            sums[3][i] += wz;
            sums[4][i] += wx * x[i];
            sums[5][i] += wx * y[i];
            sums[6][i] += wx * z[i];
            sums[7][i] += wy * y[i];
            sums[8][i] += wy * z[i];
            sums[9][i] += wz * z[i];
        }
    }
    let s = sums.map(|v| {
        let half = [v[0] + v[4], v[1] + v[5], v[2] + v[6], v[3] + v[7]];
        f64::from((half[0] + half[2]) + (half[1] + half[3]))
    });
    let (n, x, y, z) = (s[0], s[1], s[2], s[3]);
    [
        s[4] - x * x / n,
        s[5] - x * y / n,
        s[6] - x * z / n,
        s[7] - y * y / n,
        s[8] - y * z / n,
        s[9] - z * z / n,
    ]
}

/// Unit eigenvector of the least eigenvalue of xx, xy, xz, yy, yz, zz; zero if there is no single one.
#[inline(always)]
pub(crate) fn least_direction(m: &[f64; 6]) -> [f32; 3] {
    let trace = m[0] + m[3] + m[5];
    if !(trace > 0.0 && trace.is_finite()) {
        return [0.0; 3];
    }
    let [a, b, c, d, e, f] = m.map(|v| v / trace);
    // det(l I - M) = l^3 - l^2 + c1 l - c0 for a trace of 1.
    let c1 = a * d - b * b + a * f - c * c + d * f - e * e;
    let c0 = a * (d * f - e * e) - b * (b * f - c * e) + c * (b * e - c * d);
    let mut l = 0.0;
    for _ in 0..12 {
        let value = ((l - 1.0) * l + c1) * l - c0;
        let slope = (3.0 * l - 2.0) * l + c1;
        if slope <= 1e-12 {
            break;
        }
        let step = value / slope;
        l -= step;
        if step.abs() <= 1e-9 * l.abs() + 1e-13 {
            break;
        }
    }
    // Perpendicular to the rows of M - l I: the longest of the three cross products.
    let (p, q, r) = (a - l, d - l, f - l);
    let crosses = [
        [b * e - c * q, c * b - p * e, p * q - b * b],
        [b * r - c * e, c * c - p * r, p * e - b * c],
        [q * r - e * e, e * c - b * r, b * e - q * c],
    ];
    let mut best = crosses[0];
    let mut length2 = 0.0;
    for v in crosses {
        let l2 = v[0] * v[0] + v[1] * v[1] + v[2] * v[2];
        if l2 > length2 {
            best = v;
            length2 = l2;
        }
    }
    // Two equal least eigenvalues leave rows of length 1e-6 and less: a line.
    if length2 <= 1e-20 {
        return [0.0; 3];
    }
    let scale = 1.0 / length2.sqrt();
    best.map(|v| (v * scale) as f32)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Blocks, Neighbours, Point, Vector, local_planes};
    use rand::{RngExt, SeedableRng};

    #[test]
    fn the_same_planes_as_one_by_one() {
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(3);
        let points: Vec<Point> = (0..3000)
            .map(|_| {
                let (x, y): (f64, f64) = (rng.random(), rng.random());
                let h = 0.05 * (5.0 * x).sin() + 1e-3 * rng.random::<f64>();
                Point::new(500.0 + 40.0 * x, -300.0 + 40.0 * y, 40.0 * h)
            })
            .collect();
        let tree = LeafTree::new(&points);
        let fast = normals_of_nearest(&tree, 20);
        let blocks = Blocks::from_points(&points);
        let slow = local_planes(&blocks, &points, Neighbours::Nearest(20));
        for (f, s) in fast.iter().zip(slow) {
            let f = Vector::new(f[0].into(), f[1].into(), f[2].into());
            let turn = f.cross(&s.unwrap().normal).norm();
            assert!(turn < 2e-5, "{turn}");
        }
    }

    #[test]
    fn no_normal_on_a_line_in_a_place_or_without_neighbours() {
        let line: Vec<Point> = (0..50)
            .map(|i| Point::new(f64::from(i), 0.0, 0.0))
            .collect();
        let place = vec![Point::new(1.0, 2.0, 3.0); 400];
        let two = vec![Point::origin(), Point::new(1.0, 0.0, 0.0)];
        for points in [line, place, two, vec![]] {
            let normals = normals_of_nearest(&LeafTree::new(&points), 10);
            assert_eq!(normals, vec![[0.0; 3]; points.len()]);
        }
    }

    #[test]
    fn a_raster_has_straight_normals() {
        let points: Vec<Point> = (0..900)
            .map(|i| Point::new(f64::from(i % 30), f64::from(i / 30), 7.0))
            .collect();
        for n in normals_of_nearest(&LeafTree::new(&points), 12) {
            assert_eq!(n[2].abs(), 1.0);
        }
    }
}
