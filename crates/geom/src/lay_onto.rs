//! Points laid onto a surface of points, from a rough start.
//!
//! Each point is paired with the nearest point of the surface and moved square to it only, along the surface it is free
//! (Y. Chen, G. Medioni, "Object modelling by registration of multiple range images", Image and Vision Computing 10, 1992).
//! Where the map settles hangs on all points, but the way there does not: a part of them goes ahead, first with a wide
//! reach, then with a narrow one, and all points take the last few passes only.

use nalgebra as na;
use rayon::prelude::*;

use crate::curve_order::Cube;
use crate::{FitError, LeafTree, Point, Rigid, Vector};

/// About so many points go ahead.
const AHEAD: usize = 25_000;
/// Passes in one stage at most.
const PASSES: usize = 60;
/// Pairs summed by one task; fixed, so that nothing depends on the number of threads.
const CHUNK: usize = 1 << 14;
/// A pass that moves the middle by less than this (mm) and turns by less than [`STILL_RAD`] settles a stage.
const STILL_MM: f64 = 1e-4;
/// See [`STILL_MM`].
const STILL_RAD: f64 = 1e-6;
/// Those that go ahead need not come closer than this many times that: a few points wander about as pairs change.
const NEAR_ENOUGH: f64 = 100.0;
/// Passes of those that go ahead.
const PASSES_AHEAD: usize = 20;

/// How points came to lie on a surface.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LaidOnto {
    /// Takes the points onto the surface.
    pub surface_from_points: Rigid,
    /// Pairs within reach in the last pass.
    pub pairs: usize,
    /// Root mean square distance of these square to the surface, mm.
    pub rms: f64,
    /// Passes over all points.
    pub passes: usize,
}

/// The rigid map near `start` that lays `points` onto the surface of `onto` (in `tree`, in the same order as `normals`, unit
/// vectors of either sign; pairs whose normal is zero are passed over). The sum of squared distances square to the surface
/// is least for the pairs at its end. Pairs further apart than `wide` mm do not count at first, than `narrow` mm at last:
/// what does not belong to both must lie further away than that, or it pulls.
///
/// It says nothing about doubt, and a surface that can slide on itself slides: see what a fit of the pose says about its
/// weak directions before using it. Errors: no points, reaches that are not above zero and finite, too few pairs,
/// [`FitError::Degenerate`] where a motion is left entirely open, no convergence.
pub fn lay_onto(
    points: &[Point],
    tree: &LeafTree,
    onto: &[Point],
    normals: &[[f32; 3]],
    start: &Rigid,
    [wide, narrow]: [f64; 2],
) -> Result<LaidOnto, FitError> {
    FitError::check_count(6, points.len())?;
    if ![wide, narrow].iter().all(|r| *r > 0.0 && r.is_finite()) {
        return Err(FitError::NotFinite);
    }
    let surface = Surface {
        tree,
        onto,
        normals,
    };
    // Along the curve on which they will lie, so that what one search has loaded the next finds in the cache.
    let placed: Vec<Point> = points
        .par_iter()
        .with_min_len(CHUNK)
        .map(|p| start * p)
        .collect();
    let order = Cube::over(&placed)
        .ok_or(FitError::NotFinite)?
        .order(&placed);
    let sorted: Vec<Point> = order.iter().map(|&i| points[i as usize]).collect();
    let every = (sorted.len() / AHEAD).max(1);
    let mut map = *start;
    if every > 1 {
        let ahead: Vec<Point> = sorted.iter().step_by(every).copied().collect();
        for reach in [wide, narrow] {
            surface.go_ahead(&ahead, &mut map, reach)?;
        }
    } else {
        surface.go_ahead(&sorted, &mut map, wide)?;
    }
    let (passes, sums) = surface.settle(&sorted, &mut map, narrow)?;
    Ok(LaidOnto {
        surface_from_points: map,
        pairs: sums.count as usize,
        rms: (sums.square / sums.count).sqrt(),
        passes,
    })
}

#[derive(Clone, Copy)]
struct Surface<'a> {
    tree: &'a LeafTree,
    onto: &'a [Point],
    normals: &'a [[f32; 3]],
}

/// Sums over pairs: shifts first, then turns about the middle.
#[derive(Clone, Copy)]
struct Sums {
    normal: na::Matrix6<f64>,
    right: na::Vector6<f64>,
    square: f64,
    count: f64,
    /// Root mean square lever of the turns, mm.
    arm: f64,
}

impl Surface<'_> {
    /// Passes until the map nearly stays.
    fn go_ahead(&self, points: &[Point], map: &mut Rigid, reach: f64) -> Result<(), FitError> {
        for _ in 0..PASSES_AHEAD {
            let (shift, turn, _) = self.pass(points, map, reach)?;
            if shift < NEAR_ENOUGH * STILL_MM && turn < NEAR_ENOUGH * STILL_RAD {
                break;
            }
        }
        Ok(())
    }

    /// Passes until the map stays; how many, and the sums of the last.
    fn settle(
        &self,
        points: &[Point],
        map: &mut Rigid,
        reach: f64,
    ) -> Result<(usize, Sums), FitError> {
        for pass in 1..=PASSES {
            let (shift, turn, sums) = self.pass(points, map, reach)?;
            // What a pass moves is to be a small share of what the noise of so many points leaves open.
            let open = 0.1 * (sums.square / sums.count).sqrt() / sums.count.sqrt();
            let still =
                (shift < STILL_MM && turn < STILL_RAD) || (shift < open && turn * sums.arm < open);
            if still {
                return Ok((pass, sums));
            }
        }
        Err(FitError::NoConvergence)
    }

    /// One pass: how far it shifted the middle, mm, how far it turned, rad, and its sums.
    fn pass(
        &self,
        points: &[Point],
        map: &mut Rigid,
        reach: f64,
    ) -> Result<(f64, f64, Sums), FitError> {
        let placed: Vec<Point> = points
            .par_iter()
            .with_min_len(CHUNK)
            .map(|p| *map * p)
            .collect();
        let middle = placed[placed.len() / 2];
        let sums = self.sums(&placed, &middle, reach);
        FitError::check_count(6, sums.count as usize)?;
        let size = sums.normal.diagonal().max();
        let factor = sums.normal.cholesky().ok_or(FitError::Degenerate)?;
        let weakest = factor.l_dirty().diagonal().min();
        if weakest * weakest <= 1e-12 * size {
            return Err(FitError::Degenerate);
        }
        let step = factor.solve(&sums.right);
        let shift = Vector::new(step[0], step[1], step[2]);
        let turn = Vector::new(step[3], step[4], step[5]);
        let turned = na::UnitQuaternion::from_scaled_axis(turn);
        // About the middle: x -> middle + turned (x - middle) + shift.
        let about = Rigid::from_parts(
            (middle.coords + shift - turned * middle.coords).into(),
            turned,
        );
        *map = about * *map;
        Ok((shift.norm(), turn.norm(), sums))
    }

    fn sums(&self, placed: &[Point], middle: &Point, reach: f64) -> Sums {
        let near = self.tree.nearest_of(placed, reach);
        let parts: Vec<[f64; 29]> = placed
            .par_chunks(CHUNK)
            .zip(near.par_chunks(CHUNK))
            .map(|(placed, near)| {
                let mut sums = [0.0; 29];
                for (p, near) in placed.iter().zip(near) {
                    let Some(n) = self.normals.get(near.index as usize) else {
                        continue;
                    };
                    let n = Vector::new(n[0].into(), n[1].into(), n[2].into());
                    if n == Vector::zeros() {
                        continue;
                    }
                    let d = n.dot(&(self.onto[near.index as usize] - p));
                    let turn = (p - middle).cross(&n);
                    let row = [n.x, n.y, n.z, turn.x, turn.y, turn.z];
                    let mut at = 0;
                    for i in 0..6 {
                        for j in 0..=i {
                            sums[at] += row[i] * row[j];
                            at += 1;
                        }
                        sums[21 + i] += row[i] * d;
                    }
                    sums[27] += d * d;
                    sums[28] += 1.0;
                }
                sums
            })
            .collect();
        let mut all = [0.0; 29];
        for part in parts {
            for (a, v) in all.iter_mut().zip(part) {
                *a += v;
            }
        }
        let mut normal = na::Matrix6::zeros();
        let mut at = 0;
        for i in 0..6 {
            for j in 0..=i {
                normal[(i, j)] = all[at];
                normal[(j, i)] = all[at];
                at += 1;
            }
        }
        Sums {
            normal,
            right: na::Vector6::from_column_slice(&all[21..27]),
            square: all[27],
            count: all[28],
            arm: ((normal[(3, 3)] + normal[(4, 4)] + normal[(5, 5)]) / all[28]).sqrt(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::normals_of_nearest;
    use rand::{RngExt, SeedableRng};

    /// A saddle with a step, where nothing slides.
    fn surface(n: usize, seed: u64) -> Vec<Point> {
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(seed);
        (0..n)
            .map(|_| {
                let (x, y): (f64, f64) = (rng.random(), rng.random());
                let (x, y) = (200.0 * x - 100.0, 150.0 * y - 75.0);
                let z = 0.004 * (x * x - 1.5 * y * y) + 3.0 * (0.09 * x).sin() * (0.11 * y).cos();
                Point::new(x + 300.0, y - 700.0, z)
            })
            .collect()
    }

    #[test]
    fn finds_back_what_was_moved() {
        let onto = surface(60_000, 1);
        let tree = LeafTree::new(&onto);
        let normals = normals_of_nearest(&tree, 12);
        let truth = Rigid::new(Vector::new(4.0, -7.0, 9.0), Vector::new(0.02, -0.03, 0.05));
        for (seed, n) in [(2, 3_000), (3, 80_000)] {
            let points: Vec<Point> = surface(n, seed)
                .iter()
                .map(|p| truth.inverse() * p)
                .collect();
            let off = Rigid::new(Vector::new(1.5, 1.0, -2.0), Vector::new(0.0, 0.0, 0.003));
            let found =
                lay_onto(&points, &tree, &onto, &normals, &(off * truth), [15.0, 1.5]).unwrap();
            let left = truth.inverse() * found.surface_from_points;
            let worst = points
                .iter()
                .map(|p| (left * p - p).norm())
                .fold(0.0, f64::max);
            // Points lie between those of the surface, at most (spacing 0.7)^2 / 8 / radius 80 off its planes.
            assert!(worst < 0.01, "{n}: {worst}");
            assert!(found.rms < 0.02 && found.pairs > n * 9 / 10, "{found:?}");
        }
    }

    #[test]
    fn what_slides_or_is_not_there_is_refused() {
        let flat: Vec<Point> = surface(5_000, 4)
            .iter()
            .map(|p| Point::new(p.x, p.y, 0.0))
            .collect();
        let tree = LeafTree::new(&flat);
        let normals = normals_of_nearest(&tree, 12);
        let lay = |points: &[Point], reach| {
            lay_onto(points, &tree, &flat, &normals, &Rigid::identity(), reach)
        };
        assert_eq!(lay(&flat, [15.0, 1.5]), Err(FitError::Degenerate));
        assert_eq!(lay(&flat, [15.0, 0.0]), Err(FitError::NotFinite));
        assert_eq!(
            lay(&[], [1.0, 1.0]),
            Err(FitError::TooFewPoints { needed: 6, got: 0 })
        );
        let far: Vec<Point> = flat
            .iter()
            .map(|p| p + Vector::new(0.0, 0.0, 50.0))
            .collect();
        assert_eq!(
            lay(&far, [15.0, 1.5]),
            Err(FitError::TooFewPoints { needed: 6, got: 0 })
        );
    }
}
