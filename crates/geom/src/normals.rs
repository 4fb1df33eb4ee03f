//! Normals of points without triangles: plane through the neighbours, and a consistent facing side.
//!
//! The smallest eigenvalue of the covariance of the neighbours belongs to the normal. Closed-form eigenvalues of a
//! symmetric 3 x 3 matrix: O. K. Smith, "Eigenvalues of a symmetric 3x3 matrix", Comm. ACM 4 (1961). Facing sides
//! are carried over along the tree that turns least: H. Hoppe et al., "Surface reconstruction from unorganized
//! points", SIGGRAPH 1992.

use std::collections::BinaryHeap;

use nalgebra::Matrix3;
use rayon::prelude::*;

use crate::{Blocks, Point, Vector};

/// Which points count as neighbours.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Neighbours {
    /// So many nearest ones, the point itself among them.
    Nearest(usize),
    /// All within so many mm.
    Within(f64),
}

/// The plane through the neighbours of a place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LocalPlane {
    /// Mean of the neighbours.
    pub centre: Point,
    /// Unit normal; its sign means nothing.
    pub normal: Vector,
    /// Standard deviations along the principal directions, ascending, mm: the first is the roughness.
    pub spread: [f64; 3],
    /// How many neighbours.
    pub count: usize,
}

impl LocalPlane {
    /// The plane through `points`; `None` for fewer than three or if all lie on one line.
    pub fn through(points: &[Point]) -> Option<Self> {
        let n = points.len();
        if n < 3 {
            return None;
        }
        // Sums about the first point keep digits far from the origin.
        let base = points[0];
        let mean = points.iter().map(|p| p - base).sum::<Vector>() / n as f64;
        let mut m = Matrix3::zeros();
        for p in points {
            let d = p - base - mean;
            m += d * d.transpose();
        }
        let (values, normal) = smallest(&(m / n as f64))?;
        Some(Self {
            centre: base + mean,
            normal,
            spread: values.map(|v| v.max(0.0).sqrt()),
            count: n,
        })
    }
}

/// Eigenvalues of a symmetric matrix, ascending, and the unit eigenvector of the smallest. `None` if it has no
/// single direction (rank below two) or holds a number that is not finite.
pub fn smallest(m: &Matrix3<f64>) -> Option<([f64; 3], Vector)> {
    let scale = m.amax();
    if scale <= 0.0 || !scale.is_finite() || m.iter().any(|x| !x.is_finite()) {
        return None;
    }
    let a = m / scale;
    let mean = a.trace() / 3.0;
    let b = a - Matrix3::identity() * mean;
    let p = (b.norm_squared() / 6.0).sqrt();
    if p < 1e-14 {
        return None;
    }
    let half = ((b / p).determinant() / 2.0).clamp(-1.0, 1.0);
    let angle = half.acos() / 3.0;
    let third = 2.0 * std::f64::consts::FRAC_PI_3;
    let high = mean + 2.0 * p * angle.cos();
    let low = mean + 2.0 * p * (angle + third).cos();
    let middle = 3.0 * mean - high - low;
    if middle - low < 1e-12 {
        return None;
    }
    // The eigenvector is perpendicular to every row of a - low: the longest of the three cross products.
    let s = a - Matrix3::identity() * low;
    let rows = [0, 1, 2].map(|i| s.row(i).transpose());
    let crosses = [
        rows[0].cross(&rows[1]),
        rows[1].cross(&rows[2]),
        rows[2].cross(&rows[0]),
    ];
    let mut best = crosses[0];
    for c in &crosses[1..] {
        if c.norm_squared() > best.norm_squared() {
            best = *c;
        }
    }
    // One step of inverse iteration takes back what the closed form loses when `low` is tiny.
    let v = best.try_normalize(0.0)?;
    let shift = low - 1e-9;
    let v = (a - Matrix3::identity() * shift)
        .lu()
        .solve(&v)
        .and_then(|w| w.try_normalize(0.0))
        .unwrap_or(v);
    let low = v.dot(&(a * v));
    Some(([low * scale, middle * scale, high * scale], v))
}

/// The plane through the neighbours of `at` in `blocks`. `room` is working memory.
pub fn local_plane(
    blocks: &Blocks,
    at: &Point,
    neighbours: Neighbours,
    room: &mut Vec<Point>,
) -> Option<LocalPlane> {
    room.clear();
    match neighbours {
        Neighbours::Within(r) => blocks.in_ball(at, r, |_, p, _| room.push(p)),
        Neighbours::Nearest(k) => {
            let mut found = Vec::with_capacity(k);
            blocks.k_nearest(at, k, f64::INFINITY, &mut found);
            room.extend(found.iter().map(|f| blocks.point(f.1)));
        }
    }
    LocalPlane::through(room)
}

/// Planes through the neighbours of every point of `at`, in parallel, in order.
pub fn local_planes(
    blocks: &Blocks,
    at: &[Point],
    neighbours: Neighbours,
) -> Vec<Option<LocalPlane>> {
    at.par_iter()
        .map_init(Vec::new, |room, p| local_plane(blocks, p, neighbours, room))
        .collect()
}

/// Turns every normal to the side of `facing`. Enough for a face that bends by less than 90 degrees.
pub fn face_towards(normals: &mut [Option<Vector>], facing: &Vector) {
    for n in normals.iter_mut().flatten() {
        if n.dot(facing) < 0.0 {
            *n = -*n;
        }
    }
}

/// Makes normals agree from neighbour to neighbour, beginning at `seed` with the side of `facing`, going first where
/// the surface turns least. Neighbours are the `k` nearest within `reach` mm. Points the seed does not lead to lose
/// their normal, so the back of thin metal must be farther than `reach` by way of the surface.
pub fn carry_facing(
    points: &[Point],
    normals: &mut [Option<Vector>],
    seed: usize,
    facing: &Vector,
    k: usize,
    reach: f64,
) {
    let blocks = Blocks::from_points(points);
    let mut done = vec![false; points.len()];
    // Straightness first; of equals the lowest index. Bits of a non-negative f64 order like the number.
    let mut heap: BinaryHeap<(u64, std::cmp::Reverse<usize>, usize)> = BinaryHeap::new();
    if let Some(n) = normals.get_mut(seed).and_then(Option::as_mut) {
        if n.dot(facing) < 0.0 {
            *n = -*n;
        }
        heap.push((u64::MAX, std::cmp::Reverse(seed), seed));
    }
    let mut near = Vec::new();
    while let Some((_, std::cmp::Reverse(i), from)) = heap.pop() {
        if done[i] {
            continue;
        }
        done[i] = true;
        let Some(parent) = normals[from] else {
            continue;
        };
        let Some(own) = normals[i].as_mut() else {
            continue;
        };
        if own.dot(&parent) < 0.0 {
            *own = -*own;
        }
        let own = *own;
        blocks.k_nearest(&points[i], k + 1, reach, &mut near);
        for &(_, slot) in &near {
            let j = blocks.indices()[slot as usize] as usize;
            if let (false, Some(n)) = (done[j], normals[j]) {
                heap.push((n.dot(&own).abs().to_bits(), std::cmp::Reverse(j), i));
            }
        }
    }
    for (n, d) in normals.iter_mut().zip(done) {
        if !d {
            *n = None;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{RngExt, SeedableRng};

    #[test]
    fn eigenvalues_equal_the_iterative_ones() {
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(1);
        for i in 0..5000 {
            let flat = [1.0, 1e-2, 1e-4, 1e-7][i % 4];
            let mut a = Matrix3::zeros();
            for _ in 0..5 {
                let mut u = || rng.random::<f64>() - 0.5;
                let v = Vector::new(u(), u(), flat * u());
                a += v * v.transpose();
            }
            let q = nalgebra::Rotation3::<f64>::from_euler_angles(
                rng.random(),
                rng.random(),
                rng.random(),
            );
            let m: Matrix3<f64> = q.matrix() * a * q.matrix().transpose();
            let m = (m + m.transpose()) / 2.0;
            let (values, v) = smallest(&m).unwrap();
            let mut want: Vec<f64> = m.symmetric_eigen().eigenvalues.iter().copied().collect();
            want.sort_by(f64::total_cmp);
            for (g, w) in values.iter().zip(&want) {
                assert!((g - w).abs() < 1e-13 * want[2], "{g} {w}");
            }
            assert!((m * v - v * values[0]).norm() < 1e-13 * want[2].max(1e-3));
        }
    }

    #[test]
    fn no_direction_no_answer() {
        assert!(smallest(&Matrix3::zeros()).is_none());
        assert!(smallest(&Matrix3::identity()).is_none());
        let line = Vector::new(1.0, 2.0, 3.0);
        assert!(smallest(&(line * line.transpose())).is_none());
        let p = |x: f64| Point::new(x, 2.0 * x, 0.0);
        assert!(LocalPlane::through(&[p(0.0), p(1.0), p(2.0), p(5.0)]).is_none());
    }

    /// A half cylinder of radius 20 with a flat foot on either side, 1 mm steps.
    fn tunnel() -> (Vec<Point>, Vec<Vector>) {
        let (mut p, mut n) = (Vec::new(), Vec::new());
        for y in 0..30 {
            for i in 0..=63 {
                let a = f64::from(i) / 63.0 * std::f64::consts::PI;
                let v = Vector::new(-a.cos(), 0.0, a.sin());
                p.push(Point::new(0.0, f64::from(y), 0.0) + v * 20.0);
                n.push(v);
            }
        }
        (p, n)
    }

    #[test]
    fn facing_is_carried_round_a_bend_of_180_degrees() {
        let (points, truth) = tunnel();
        let blocks = Blocks::from_points(&points);
        for how in [Neighbours::Nearest(12), Neighbours::Within(2.5)] {
            let planes = local_planes(&blocks, &points, how);
            let mut normals: Vec<Option<Vector>> =
                planes.iter().map(|p| p.map(|p| p.normal)).collect();
            carry_facing(&points, &mut normals, 0, &-Vector::x(), 8, 3.0);
            for (n, t) in normals.iter().zip(&truth) {
                assert!(n.unwrap().dot(t) > 0.99);
            }
            face_towards(&mut normals, &Vector::x());
            assert!(normals[0].unwrap().dot(&truth[0]) < -0.99);
        }
    }

    #[test]
    fn what_the_seed_does_not_reach_has_no_normal() {
        let points: Vec<Point> = (0..200)
            .map(|i| {
                Point::new(
                    f64::from(i % 10),
                    f64::from(i / 10 % 10),
                    if i < 100 { 0.0 } else { 50.0 },
                )
            })
            .collect();
        let mut normals = vec![Some(Vector::z()); 200];
        carry_facing(&points, &mut normals, 0, &-Vector::z(), 6, 3.0);
        assert!(normals[..100].iter().all(|n| n.is_some_and(|v| v.z < 0.0)));
        assert!(normals[100..].iter().all(Option::is_none));
    }
}
