//! The plane that most points of a cloud lie on, of which many may lie elsewhere.
//!
//! For whole clouds, where [`crate::fit_surface`] would need to be told which points belong: planes through three points of a
//! sample are tried (M. A. Fischler, R. C. Bolles, "Random sample consensus", CACM 24, 1981, with a fixed sequence in the
//! place of chance, so that the answer is always the same), the best is settled on the sample and then on all points.

#![allow(
    clippy::inline_always,
    reason = "instruction sets are chosen at run time for what is inlined there"
)]

use nalgebra::Matrix3;
use pulp::NullaryFnOnce;
use rayon::prelude::*;

use crate::robust::EvenSequence;
use crate::{FitError, Plane, Point, Unit, Vector};

/// Points on which planes are tried and settled first.
const SAMPLE: usize = 4096;
/// Of these, so many are counted for every plane tried.
const COUNTED: usize = 1024;
/// Planes tried: with half of the points elsewhere one triple in eight is good, and of 300 none with odds of 10^-17.
const TRIALS: usize = 300;
/// Points handled by one task; fixed, so that nothing depends on the number of threads.
const CHUNK: usize = 1 << 14;
/// Points summed side by side.
const LOT: usize = 8;
/// Rounds on all points at most.
const ROUNDS: usize = 12;

/// The plane of most points.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlaneAmong {
    /// The plane; its side is the one from which z is up, or y or x where it stands upright.
    pub plane: Plane,
    /// Middle of the points on it.
    pub centre: Point,
    /// How many points lie within the band.
    pub count: usize,
    /// Root mean square distance of these, mm. It is that of what the band left.
    pub rms: f64,
}

/// The least squares plane through the points within `band` mm of it, found without a start. `band` is about three standard
/// deviations of the noise; what lies further away counts for nothing, so up to about two thirds of the points may. A fillet
/// that runs out of the plane lies within the band for a while and pulls: that share of the error is not in `rms`.
///
/// Points that are not finite are passed over. Errors: fewer than three points, a band that is not above zero and finite,
/// points on one line, a plane that keeps moving after twelve rounds. Cost: the sample, and six to twelve passes.
pub fn plane_among(points: &[Point], band: f64) -> Result<PlaneAmong, FitError> {
    FitError::check_count(3, points.len())?;
    if !(band > 0.0 && band.is_finite()) {
        return Err(FitError::NotFinite);
    }
    let one = EvenSequence::new(1);
    let sample: Vec<Point> = if points.len() > SAMPLE {
        (0..SAMPLE)
            .map(|k| points[one.pick(k, 0, points.len())])
            .collect()
    } else {
        points.to_vec()
    };
    let mut plane = best_of_trials(&sample, band).ok_or(FitError::Degenerate)?;
    // A plane through three noisy points is off by several bands at the far end: the band narrows as it settles.
    for widening in [4.0, 2.0, 1.5, 1.0, 1.0, 1.0] {
        let sums = Sums::over(&sample, &plane, widening * band);
        plane = sums.plane()?.0;
    }
    let mut last = 0.0;
    for _ in 0..ROUNDS {
        let sums = Sums::over(points, &plane, band);
        let (next, centre, rms) = sums.plane()?;
        // The next band takes in and leaves out a few points only; when it takes the same ones it is settled.
        let moved = (next.normal.dot(&plane.normal) - 1.0).abs().sqrt() * sums.reach()
            + next.distance(&plane.foot(&centre)).abs();
        plane = next;
        if moved <= 1e-6 * band || sums.s[0] == last {
            return Ok(PlaneAmong {
                plane: facing(plane),
                centre,
                count: sums.s[0] as usize,
                rms,
            });
        }
        last = sums.s[0];
    }
    Err(FitError::NoConvergence)
}

/// The same plane with the side from which z is up.
fn facing(plane: Plane) -> Plane {
    let n = plane.normal;
    let lean = [n.z, n.y, n.x];
    let flip = lean
        .iter()
        .find(|c| c.abs() > 1e-9)
        .is_some_and(|c| *c < 0.0);
    if flip {
        Plane {
            normal: -n,
            offset: -plane.offset,
        }
    } else {
        plane
    }
}

/// The plane through three points of the sample that has most points of a part of it within four thirds of the band.
fn best_of_trials(sample: &[Point], band: f64) -> Option<Plane> {
    let part = &sample[..sample.len().min(COUNTED)];
    let sequence = EvenSequence::new(3);
    let mut best: Option<(f64, Plane)> = None;
    for k in 0..TRIALS {
        let [a, b, c] = [0, 1, 2].map(|j| sample[sequence.pick(k, j, sample.len())]);
        let Some(normal) = Unit::try_new((b - a).cross(&(c - a)), 1e-9) else {
            continue;
        };
        if !normal.iter().all(|x| x.is_finite()) {
            continue;
        }
        let plane = Plane::through(&a, normal);
        let count = Sums::over(part, &plane, band * 4.0 / 3.0).s[0];
        if best.is_none_or(|(most, _)| count > most) {
            best = Some((count, plane));
        }
    }
    best.map(|b| b.1)
}

/// Sums over the points within the band, coordinates about the plane's foot: count, x, y, z, xx, xy, xz, yy, yz, zz.
struct Sums {
    s: [f64; 10],
    origin: Point,
}

impl Sums {
    fn over(points: &[Point], plane: &Plane, band: f64) -> Self {
        // About a place on the plane near the points, so that squares keep their digits.
        let first = points
            .iter()
            .find(|p| p.iter().all(|c| c.is_finite()))
            .copied()
            .unwrap_or_default();
        let origin = plane.foot(&first);
        let arch = pulp::Arch::new();
        let pass = |points| {
            arch.dispatch(Pass {
                points,
                origin: origin.coords.into(),
                normal: plane.normal.into_inner().into(),
                band,
            })
        };
        let parts: Vec<[f64; 10]> = if points.len() <= CHUNK {
            vec![pass(points)]
        } else {
            points.par_chunks(CHUNK).map(pass).collect()
        };
        let mut s = [0.0; 10];
        for part in parts {
            for (sum, v) in s.iter_mut().zip(part) {
                *sum += v;
            }
        }
        Self { s, origin }
    }

    /// The plane through the points summed, their middle and their root mean square distance.
    fn plane(&self) -> Result<(Plane, Point, f64), FitError> {
        let s = &self.s;
        let n = s[0];
        FitError::check_count(3, n as usize)?;
        let mean = Vector::new(s[1], s[2], s[3]) / n;
        let centred = |k: usize, i: usize, j: usize| s[k] / n - mean[i] * mean[j];
        let scatter = Matrix3::new(
            centred(4, 0, 0),
            centred(5, 0, 1),
            centred(6, 0, 2),
            centred(5, 0, 1),
            centred(7, 1, 1),
            centred(8, 1, 2),
            centred(6, 0, 2),
            centred(8, 1, 2),
            centred(9, 2, 2),
        );
        let eigen = scatter.symmetric_eigen();
        let mut order = [0, 1, 2];
        order.sort_by(|&i, &j| eigen.eigenvalues[i].total_cmp(&eigen.eigenvalues[j]));
        let [least, middle, most] = order.map(|k| eigen.eigenvalues[k]);
        if middle - least <= 1e-12 * most || most <= 0.0 {
            return Err(FitError::Degenerate);
        }
        let normal: Vector = eigen.eigenvectors.column(order[0]).into_owned();
        let centre = self.origin + mean;
        Ok((
            Plane::through(&centre, Unit::new_normalize(normal)),
            centre,
            least.max(0.0).sqrt(),
        ))
    }

    /// Root mean square distance of the points from their middle, mm.
    fn reach(&self) -> f64 {
        let s = &self.s;
        let mean2 = (s[1] * s[1] + s[2] * s[2] + s[3] * s[3]) / (s[0] * s[0]);
        ((s[4] + s[7] + s[9]) / s[0] - mean2).max(0.0).sqrt()
    }
}

struct Pass<'a> {
    points: &'a [Point],
    origin: [f64; 3],
    normal: [f64; 3],
    band: f64,
}

impl NullaryFnOnce for Pass<'_> {
    type Output = [f64; 10];

    #[inline(always)]
    fn call(self) -> [f64; 10] {
        let mut sums = [[0.0; LOT]; 10];
        let [nx, ny, nz] = self.normal;
        for lot in self.points.chunks(LOT) {
            // Coordinates side by side; places past the last point lie in no band.
            let mut c = [[f64::NAN; LOT]; 3];
            for (k, p) in lot.iter().enumerate() {
                for i in 0..3 {
                    c[i][k] = p[i] - self.origin[i];
                }
            }
            for k in 0..LOT {
                let (x, y, z) = (c[0][k], c[1][k], c[2][k]);
                let inside = (nx * x + ny * y + nz * z).abs() <= self.band;
                let [x, y, z] = [x, y, z].map(|v| if inside { v } else { 0.0 });
                sums[0][k] += if inside { 1.0 } else { 0.0 };
                sums[1][k] += x;
                sums[2][k] += y;
                sums[3][k] += z;
                sums[4][k] += x * x;
                sums[5][k] += x * y;
                sums[6][k] += x * z;
                sums[7][k] += y * y;
                sums[8][k] += y * z;
                sums[9][k] += z * z;
            }
        }
        sums.map(|s| s.iter().sum())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Rigid;
    use rand::{RngExt, SeedableRng};
    use rand_distr::{Distribution, Normal};

    /// A patch of 300 x 200 mm with noise of 0.05 mm, and clutter around it.
    fn scene(on: usize, off: usize, seed: u64, a_from_b: &Rigid) -> Vec<Point> {
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(seed);
        let noise = Normal::new(0.0, 0.05).unwrap();
        let mut points: Vec<Point> = (0..on + off)
            .map(|k| {
                let (x, y, z): (f64, f64, f64) = (rng.random(), rng.random(), rng.random());
                let h = if k < on {
                    noise.sample(&mut rng)
                } else {
                    100.0 * z - 50.0
                };
                a_from_b * Point::new(300.0 * x - 150.0, 200.0 * y - 100.0, h)
            })
            .collect();
        // No order that could help.
        for i in (1..points.len()).rev() {
            points.swap(i, rng.random_range(0..=i));
        }
        points
    }

    #[test]
    fn half_of_the_points_elsewhere_do_not_move_it() {
        let a_from_b = Rigid::new(
            Vector::new(420.0, 655.0, 310.0),
            Vector::new(0.6, -0.4, 0.2),
        );
        let normal = a_from_b.rotation * Vector::z();
        for seed in 0..20 {
            let points = scene(10_000, 10_000, seed, &a_from_b);
            let found = plane_among(&points, 0.15).unwrap();
            // 0.05 / sqrt(10,000) over 300 / sqrt(12) and 200 / sqrt(12) mm: 9 urad; four of it.
            let turn = found.plane.normal.cross(&normal).norm();
            assert!(turn < 4.0 * 9e-6, "seed {seed}: {turn}");
            let off = found.plane.distance(&(a_from_b * Point::origin()));
            assert!(off.abs() < 4.0 * 0.05 / 100.0, "seed {seed}: {off}");
            assert!(found.count > 9_900 && found.count < 10_200);
            assert!((found.rms - 0.05).abs() < 0.002, "{}", found.rms);
        }
    }

    #[test]
    fn the_same_plane_of_a_million_as_of_its_own_least_squares() {
        let points = scene(60_000, 40_000, 77, &Rigid::identity());
        let found = plane_among(&points, 0.15).unwrap();
        let inside: Vec<Point> = points
            .iter()
            .filter(|p| found.plane.distance(p).abs() <= 0.15)
            .copied()
            .collect();
        let mean = inside.iter().fold(Vector::zeros(), |s, p| s + p.coords) / inside.len() as f64;
        let scatter = inside.iter().fold(Matrix3::zeros(), |s, p| {
            let d = p.coords - mean;
            s + d * d.transpose()
        });
        let n = found.plane.normal.into_inner();
        // An eigenvector to within the points that come and go at the edge of the band.
        let turn = (scatter * n).cross(&n).norm() / scatter.trace();
        assert!(turn < 1e-6, "{turn}");
        assert!(found.plane.normal.z > 0.0);
        assert!(found.plane.distance(&Point::from(mean)).abs() < 1e-4);
    }

    #[test]
    fn what_has_no_plane_is_refused() {
        let line: Vec<Point> = (0..100)
            .map(|k| Point::new(f64::from(k), 1.0, 2.0))
            .collect();
        let few = vec![Point::origin(); 2];
        let place = vec![Point::new(1.0, 1.0, 1.0); 50];
        let nowhere = vec![Point::new(f64::NAN, 0.0, 0.0); 50];
        for points in [line, place, nowhere] {
            assert_eq!(plane_among(&points, 0.1), Err(FitError::Degenerate));
        }
        assert_eq!(
            plane_among(&few, 0.1),
            Err(FitError::TooFewPoints { needed: 3, got: 2 })
        );
        let good = scene(10, 0, 1, &Rigid::identity());
        for band in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert_eq!(plane_among(&good, band), Err(FitError::NotFinite));
        }
    }
}
