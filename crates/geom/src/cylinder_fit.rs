//! The cylinder nearest to points on part of its wall.

use nalgebra::{SMatrix, SVector};

use crate::{FitError, Lagged, Point, Unit, Vector, any_perpendicular};

/// Unknowns: shift of the axis in two directions, its lean in both, radius.
const N: usize = 5;
/// Points farther off than this many scales are left out.
const CUT: f64 = 3.5;
/// Most rounds.
const ROUNDS: usize = 60;

/// A fitted cylinder.
#[derive(Clone, Debug)]
pub struct CylinderFit {
    /// Point of the axis halfway along the points, mm.
    pub middle: Point,
    /// Direction of the axis.
    pub axis: Unit,
    /// Radius, mm.
    pub radius: f64,
    /// Scale of single points about it, mm.
    pub scatter: f64,
    /// Length of wall along the axis, mm.
    pub length: f64,
    /// Arc of wall that was seen, rad, in whole steps of 10 degrees.
    pub arc: f64,
    places: Vec<[f64; 3]>,
    rows: Vec<SVector<f64, N>>,
    inverse: SMatrix<f64, N, N>,
    across: [Unit; 2],
}

impl CylinderFit {
    /// A place on the axis `along` mm from its middle.
    pub fn at(&self, along: f64) -> Point {
        self.middle + self.axis.into_inner() * along
    }

    /// The same with its axis the other way round.
    pub fn turn_round(&mut self) {
        self.axis = -self.axis;
        for r in &mut self.rows {
            r[2] = -r[2];
            r[3] = -r[3];
        }
        for k in 0..N {
            for lean in [2, 3] {
                self.inverse[(lean, k)] = -self.inverse[(lean, k)];
                self.inverse[(k, lean)] = -self.inverse[(k, lean)];
            }
        }
    }

    /// What the variance needs to know of how far the axis lies along `direction` at the place `along` mm from its middle.
    pub fn place_of(&self, along: f64, direction: &Vector) -> Lagged {
        let [u, v] = self.across.map(|a| a.dot(direction));
        self.lagged(&SVector::from([u, v, along * u, along * v, 0.0]))
    }

    /// The same of the lean of the axis towards `direction`, rad.
    pub fn lean_of(&self, direction: &Vector) -> Lagged {
        let [u, v] = self.across.map(|a| a.dot(direction));
        self.lagged(&SVector::from([0.0, 0.0, u, v, 0.0]))
    }

    /// The same of the radius.
    pub fn radius_of(&self) -> Lagged {
        self.lagged(&SVector::from([0.0, 0.0, 0.0, 0.0, 1.0]))
    }

    fn lagged(&self, g: &SVector<f64, N>) -> Lagged {
        let solved = self.inverse * g;
        let b: Vec<f64> = self.rows.iter().map(|r| r.dot(&solved)).collect();
        Lagged::of_places(&self.places, &b)
    }
}

/// Fits a cylinder by least squares of the distances from its wall (Gauss-Newton), from a start within some ten degrees
/// and some radii. Points more than 3.5 scales off are set aside and the fit is done again until that changes nothing.
///
/// # Errors
/// [`FitError`] with fewer than 12 points, or where they do not fix an axis (too short, or too little arc).
pub fn fit_cylinder(
    points: &[Point],
    middle: &Point,
    axis: &Unit,
    radius: f64,
) -> Result<CylinderFit, FitError> {
    let mut kept: Vec<Point> = points.to_vec();
    let mut start = (*middle, *axis, radius);
    let mut fit = None;
    for _ in 0..6 {
        let next = settle(&kept, start)?;
        start = (next.middle, next.axis, next.radius);
        let limit = CUT * next.scatter.max(1e-6);
        let off = |p: &Point| {
            let d = p - next.middle;
            let across = d - next.axis.into_inner() * d.dot(&next.axis);
            (across.norm() - next.radius).abs()
        };
        let now: Vec<Point> = points.iter().filter(|p| off(p) <= limit).copied().collect();
        let same = now.len() == kept.len();
        kept = now;
        fit = Some(next);
        if same {
            break;
        }
    }
    fit.ok_or(FitError::NoConvergence)
}

fn settle(
    points: &[Point],
    (mut middle, mut axis, mut radius): (Point, Unit, f64),
) -> Result<CylinderFit, FitError> {
    FitError::check_count(12, points.len())?;
    for _ in 0..ROUNDS {
        let u = any_perpendicular(&axis);
        let v = Unit::new_normalize(axis.cross(&u));
        // The middle is kept halfway along the points, so that shift and lean go apart.
        let along =
            points.iter().map(|p| (p - middle).dot(&axis)).sum::<f64>() / points.len() as f64;
        middle += axis.into_inner() * along;
        let mut m = SMatrix::<f64, N, N>::zeros();
        let mut g = SVector::<f64, N>::zeros();
        let mut rows = Vec::with_capacity(points.len());
        let mut off = Vec::with_capacity(points.len());
        let (mut low, mut high, mut seen) = (f64::INFINITY, f64::NEG_INFINITY, [false; 36]);
        for p in points {
            let d = p - middle;
            let (x, y, z) = (d.dot(&u), d.dot(&v), d.dot(&axis));
            let r = x.hypot(y);
            if r < 1e-9 {
                return Err(FitError::Degenerate);
            }
            let (c, s) = (x / r, y / r);
            let row = SVector::from([c, s, z * c, z * s, 1.0]);
            m += row * row.transpose();
            g += row * (r - radius);
            rows.push(row);
            off.push((r - radius).abs());
            low = low.min(z);
            high = high.max(z);
            let turn = (y.atan2(x) / std::f64::consts::TAU + 0.5) * 36.0;
            seen[(turn as usize).min(35)] = true;
        }
        // Leans are made as long as shifts before the inverse is taken.
        let size = ((high - low) / 2.0).max(1e-6);
        let alike = SVector::from([1.0, 1.0, 1.0 / size, 1.0 / size, 1.0]);
        let d = SMatrix::from_diagonal(&alike);
        let scaled = d * m * d;
        let least = scaled.symmetric_eigenvalues().min();
        if least.is_nan() || least < 1e-6 * points.len() as f64 {
            return Err(FitError::Degenerate);
        }
        let inverse = d * scaled.try_inverse().ok_or(FitError::Degenerate)? * d;
        let step = inverse * g;
        let done = step[0].hypot(step[1]) < 1e-9
            && step[2].hypot(step[3]) * size < 1e-9
            && step[4].abs() < 1e-9;
        if done {
            let middle_of = off.len() / 2;
            let scatter = 1.4826 * *off.select_nth_unstable_by(middle_of, f64::total_cmp).1;
            return Ok(CylinderFit {
                middle,
                axis,
                radius,
                scatter,
                length: high - low,
                arc: seen.iter().filter(|s| **s).count() as f64 * 10_f64.to_radians(),
                places: points.iter().map(|p| [p.x, p.y, p.z]).collect(),
                rows,
                inverse,
                across: [u, v],
            });
        }
        // Never farther than half a radius in a round.
        let far = step[0].hypot(step[1]).max(step[4].abs()) / radius.abs().max(1e-6);
        let step = step * (0.5 / far.max(0.5));
        middle += u.into_inner() * step[0] + v.into_inner() * step[1];
        axis = Unit::new_normalize(
            axis.into_inner() + u.into_inner() * step[2] + v.into_inner() * step[3],
        );
        radius += step[4];
    }
    Err(FitError::NoConvergence)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::NoiseModel;
    use approx::assert_relative_eq;
    use rand::{RngExt, SeedableRng};
    use rand_distr::{Distribution, StandardNormal};

    fn wall(
        n: usize,
        arc: f64,
        noise: f64,
        rng: &mut rand_chacha::ChaCha8Rng,
    ) -> (Vec<Point>, Point, Unit) {
        let axis = Unit::new_normalize(Vector::new(0.2, -0.1, 1.0));
        let u = any_perpendicular(&axis);
        let v = axis.cross(&u);
        let middle = Point::new(30.0, -12.0, 400.0);
        let points = (0..n)
            .map(|_| {
                let a = arc * (rng.random::<f64>() - 0.5);
                let e: f64 = StandardNormal.sample(rng);
                let r = 6.0 + noise * e;
                let z = 40.0 * (rng.random::<f64>() - 0.5);
                middle + axis.into_inner() * z + (u.into_inner() * a.cos() + v * a.sin()) * r
            })
            .collect();
        (points, middle, axis)
    }

    #[test]
    fn an_exact_wall_gives_its_axis_and_strays_do_not_matter() {
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(1);
        let (mut points, middle, axis) = wall(300, 2.5, 0.0, &mut rng);
        points.push(middle + Vector::new(9.0, 3.0, 0.0));
        let start = middle + Vector::new(1.0, -1.5, 3.0);
        let off = Unit::new_normalize(axis.into_inner() + Vector::new(0.1, 0.08, 0.0));
        let fit = fit_cylinder(&points, &start, &off, 5.0).unwrap();
        assert_relative_eq!(fit.radius, 6.0, epsilon = 1e-6);
        assert!(fit.axis.cross(&axis).norm() < 1e-7);
        assert!((fit.middle - middle).cross(&axis).norm() < 1e-6);
    }

    #[test]
    fn too_little_is_no_cylinder() {
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(2);
        let (points, middle, axis) = wall(300, 2.5, 0.0, &mut rng);
        assert!(fit_cylinder(&points[..8], &middle, &axis, 6.0).is_err());
        let ring: Vec<Point> = points
            .iter()
            .map(|p| p - axis.into_inner() * (p - middle).dot(&axis))
            .collect();
        assert!(fit_cylinder(&ring, &middle, &axis, 6.0).is_err());
    }

    /// 400 draws of white noise: the axis moves and leans by what is stated.
    #[test]
    fn the_variance_is_that_of_the_draws() {
        let noise = NoiseModel::white(0.05);
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(3);
        let mut z = [0.0; 3];
        for _ in 0..400 {
            let (points, middle, axis) = wall(400, 2.5, 0.05, &mut rng);
            let fit = fit_cylinder(&points, &middle, &axis, 6.0).unwrap();
            let across = any_perpendicular(&fit.axis);
            let at = 20.0;
            let foot = middle + axis.into_inner() * (fit.at(at) - middle).dot(&axis);
            let moved = (fit.at(at) - foot).dot(&across);
            z[0] += (moved / noise.uncertainty(&fit.place_of(at, &across)).s).powi(2);
            let lean = (fit.axis.into_inner() - axis.into_inner()).dot(&across);
            z[1] += (lean / noise.uncertainty(&fit.lean_of(&across)).s).powi(2);
            z[2] += ((fit.radius - 6.0) / noise.uncertainty(&fit.radius_of()).s).powi(2);
        }
        for z in z {
            assert!((0.9..1.12).contains(&(z / 400.0).sqrt()), "{z}");
        }
    }
}
