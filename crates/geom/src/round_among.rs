//! A circle in space or a cylinder among points of which many belong elsewhere, from a rough start.
//!
//! For a hole, a stud or a pin whose place is known to a few millimetres, in a cloud with steps, fillets and clutter around
//! it. Every point weighs 1 / (1 + (d / c)^2) by its distance d (the Cauchy weight, see P. W. Holland, R. E. Welsch, "Robust
//! regression using iteratively reweighted least-squares", Communications in Statistics A6, 1977); the scale c starts wide,
//! so that a rough start still sees the right points, and narrows to a tenth of a millimetre or what the caller says.
//! Steps are those of Gauss and Newton with exact derivatives, on a sample first and on all points last; near the end the
//! change of the weights is taken into account too, so that a few steps settle it.

#![allow(
    clippy::inline_always,
    clippy::needless_bitwise_bool,
    reason = "instruction sets are chosen at run time for what is inlined there; lanes take no branches"
)]

use nalgebra::{SMatrix, SVector};
use pulp::NullaryFnOnce;
use rayon::prelude::*;

use crate::robust::EvenSequence;
use crate::{FitError, Point, Unit, any_perpendicular};

/// Points on which the scale narrows.
const SAMPLE: usize = 4096;
/// Points handled by one task; fixed, so that nothing depends on the number of threads.
const CHUNK: usize = 1 << 13;
/// Points summed side by side.
const LOT: usize = 8;
/// Steps at one scale at most.
const STEPS: usize = 40;
/// Unknowns: turns about two axes, shifts along three, radius.
const UNKNOWN: usize = 6;

/// What is looked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Round {
    /// A circle: points lie at the radius from the centre and in its plane.
    Circle,
    /// A cylinder: points lie at the radius from the axis, anywhere along it.
    Cylinder,
}

/// A circle in space or a cylinder.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RoundShape {
    /// Centre of the circle, or a place on the axis of the cylinder (where the start was, moved square to the axis).
    pub centre: Point,
    /// Normal of the circle's plane, or direction of the cylinder's axis; on the side of the start.
    pub axis: Unit,
    /// Radius, mm.
    pub radius: f64,
}

/// A shape found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RoundAmong {
    /// The shape.
    pub shape: RoundShape,
    /// Sum of the weights, from 0 to the number of points: about how many belong.
    pub weight: f64,
    /// Steps taken on all points.
    pub steps: usize,
}

/// The shape near `start` that the points lie on, by weights of scale `scale` mm: about the standard deviation of the noise.
/// `reach` mm is how far off the start may be; features further apart than that from the shape are told apart, closer ones
/// (a step beside the hole) only if more points lie on the shape. The estimate is that of the weights, not of a cut, and
/// half of the points may lie elsewhere.
///
/// Points that are not finite are passed over. Errors: fewer than six points, a start, scale or reach that is not finite or
/// not above zero, points that leave the shape undetermined (all on a line, or too short a piece), no convergence.
pub fn round_among(
    points: &[Point],
    kind: Round,
    start: &RoundShape,
    reach: f64,
    scale: f64,
) -> Result<RoundAmong, FitError> {
    FitError::check_count(UNKNOWN, points.len())?;
    let positive = |x: f64| x > 0.0 && x.is_finite();
    let known = start
        .centre
        .iter()
        .chain(start.axis.iter())
        .all(|x| x.is_finite());
    if !(positive(reach) && positive(scale) && positive(start.radius) && known) {
        return Err(FitError::NotFinite);
    }
    let one = EvenSequence::new(1);
    let picked: Vec<Point>;
    let sample = if points.len() > 2 * SAMPLE {
        picked = (0..SAMPLE)
            .map(|k| points[one.pick(k, 0, points.len())])
            .collect();
        &picked
    } else {
        points
    };
    let mut fit = Fit {
        kind,
        shape: *start,
    };
    let mut wide = reach.max(scale);
    while wide > scale {
        // On the way only the neighbourhood counts: a few steps at each scale.
        for _ in 0..3 {
            fit.step(sample, wide, false)?;
        }
        wide = (0.5 * wide).max(scale);
    }
    for _ in 0..3 {
        fit.step(sample, scale, false)?;
    }
    fit.settle(sample, scale)?;
    let (steps, weight) = fit.settle(points, scale)?;
    Ok(RoundAmong {
        shape: fit.shape,
        weight,
        steps,
    })
}

struct Fit {
    kind: Round,
    shape: RoundShape,
}

/// Sums of products of a row and its distance: the lower triangle row by row, then the right-hand side; last the weight.
const SUMS: usize = UNKNOWN * (UNKNOWN + 1) / 2 + UNKNOWN + 1;

impl Fit {
    /// Steps until the shape stays; how many, and the sum of the weights.
    fn settle(&mut self, points: &[Point], scale: f64) -> Result<(usize, f64), FitError> {
        for k in 1..=STEPS {
            // Where the weights' own change makes the sums no sum of squares, steps without it do.
            let (moved, weight) = match self.step(points, scale, true) {
                Err(FitError::Degenerate) => self.step(points, scale, false)?,
                other => other?,
            };
            // Steps shrink by a factor of ten and more: what is left is far below what noise leaves open.
            if moved
                <= 1e-4 * scale / (points.len() as f64).sqrt().max(1.0) + 1e-12 * self.shape.radius
            {
                return Ok((k, weight));
            }
        }
        Err(FitError::NoConvergence)
    }

    /// One step; how far the shape moved at its rim, mm, and the sum of the weights.
    /// `newton`: with the change of the weights.
    fn step(&mut self, points: &[Point], scale: f64, newton: bool) -> Result<(f64, f64), FitError> {
        let RoundShape {
            centre,
            axis,
            radius,
        } = self.shape;
        let u = any_perpendicular(&axis);
        let v = axis.cross(&u);
        let arch = pulp::Arch::new();
        let pass = |points| {
            arch.dispatch(Pass {
                points,
                kind: self.kind,
                centre: centre.coords.into(),
                axes: [u.into_inner().into(), v.into(), axis.into_inner().into()],
                radius,
                newton,
                per_scale2: 1.0 / (scale * scale),
            })
        };
        let parts: Vec<[f64; SUMS]> = if points.len() <= CHUNK {
            vec![pass(points)]
        } else {
            points.par_chunks(CHUNK).map(pass).collect()
        };
        let mut sums = [0.0; SUMS];
        for part in parts {
            for (s, v) in sums.iter_mut().zip(part) {
                *s += v;
            }
        }
        let weight = sums[SUMS - 1];
        let mut normal = SMatrix::<f64, UNKNOWN, UNKNOWN>::zeros();
        let mut right = SVector::<f64, UNKNOWN>::zeros();
        let mut at = 0;
        for i in 0..UNKNOWN {
            for j in 0..=i {
                normal[(i, j)] = sums[at];
                normal[(j, i)] = sums[at];
                at += 1;
            }
        }
        for i in 0..UNKNOWN {
            right[i] = sums[at + i];
        }
        if self.kind == Round::Cylinder {
            // It slides along its axis.
            normal[(4, 4)] = weight.max(f64::MIN_POSITIVE);
        }
        // Turns in millimetres at the rim, so that all unknowns are of one size.
        for i in 0..2 {
            for j in 0..UNKNOWN {
                normal[(i, j)] /= radius;
                normal[(j, i)] /= radius;
            }
            right[i] /= radius;
        }
        let floor = 1e-9 * normal.trace() / UNKNOWN as f64;
        let factor = normal.cholesky().ok_or(FitError::Degenerate)?;
        if factor.l_dirty().diagonal().iter().any(|d| d * d <= floor) {
            return Err(FitError::Degenerate);
        }
        let mut step = factor.solve(&right);
        let size = step.norm();
        if !size.is_finite() {
            return Err(FitError::Degenerate);
        }
        // The derivatives hold for a fraction of the radius.
        let limit = 0.3 * radius;
        if size > limit {
            step *= limit / size;
        }
        let turned = axis.into_inner() + (u.into_inner() * step[0] + v * step[1]) / radius;
        self.shape = RoundShape {
            centre: centre + u.into_inner() * step[2] + v * step[3] + axis.into_inner() * step[4],
            axis: Unit::new_normalize(turned),
            radius: radius + step[5],
        };
        Ok((size.min(limit), weight))
    }
}

struct Pass<'a> {
    points: &'a [Point],
    kind: Round,
    centre: [f64; 3],
    /// Two across, then the axis.
    axes: [[f64; 3]; 3],
    radius: f64,
    newton: bool,
    per_scale2: f64,
}

impl NullaryFnOnce for Pass<'_> {
    type Output = [f64; SUMS];

    #[inline(always)]
    fn call(self) -> [f64; SUMS] {
        match self.kind {
            Round::Circle => self.sums::<true>(),
            Round::Cylinder => self.sums::<false>(),
        }
    }
}

impl Pass<'_> {
    /// With e the distance from the cylinder and h the height over the plane of the circle, both as they fall by a step
    /// (turns about v and u, shifts along u, v and n, radius): the rows are (h cos, h sin, cos, sin, 0, 1) for e and
    /// (-s cos, -s sin, 0, 0, 1, 0) for h, where s is the distance from the axis.
    #[inline(always)]
    fn sums<const FLAT: bool>(&self) -> [f64; SUMS] {
        let mut sums = [[0.0; LOT]; SUMS];
        for lot in self.points.chunks(LOT) {
            let mut c = [[f64::NAN; LOT]; 3];
            for (k, p) in lot.iter().enumerate() {
                for i in 0..3 {
                    c[i][k] = p[i] - self.centre[i];
                }
            }
            for k in 0..LOT {
                let along = |a: &[f64; 3]| a[0] * c[0][k] + a[1] * c[1][k] + a[2] * c[2][k];
                let [x, y, h] = [0, 1, 2].map(|i| along(&self.axes[i]));
                let s = (x * x + y * y).sqrt();
                let e = s - self.radius;
                let d2 = if FLAT { e * e + h * h } else { e * e };
                let w = 1.0 / (1.0 + d2 * self.per_scale2);
                // Not where nothing is, and not on the axis itself, where no direction is better than another.
                let counts = (d2 < f64::INFINITY) & (s > 0.0);
                let w = if counts { w } else { 0.0 };
                let (cos, sin) = (x / s, y / s);
                let [x, y, h, e] = [x, y, h, e].map(|v| if counts { v } else { 0.0 });
                let [cos, sin] = [cos, sin].map(|v| if counts { v } else { 0.0 });
                // d(w)/d(step) is -2 w^2 / c^2 times the sum of distance times row.
                let bend = if self.newton {
                    2.0 * w * self.per_scale2
                } else {
                    0.0
                };
                let row = [h * cos, h * sin, cos, sin, 0.0, 1.0];
                let flat = [-x, -y, 0.0, 0.0, 1.0, 0.0];
                let mut pull = [0.0; UNKNOWN];
                for i in 0..UNKNOWN {
                    pull[i] = row[i] * e + if FLAT { flat[i] * h } else { 0.0 };
                }
                let mut at = 0;
                for i in 0..UNKNOWN {
                    for j in 0..=i {
                        let mut product = row[i] * row[j] - bend * pull[i] * pull[j];
                        if FLAT {
                            product += flat[i] * flat[j];
                        }
                        sums[at][k] += w * product;
                        at += 1;
                    }
                }
                for i in 0..UNKNOWN {
                    sums[at + i][k] += w * pull[i];
                }
                sums[SUMS - 1][k] += w;
            }
        }
        sums.map(|s| s.iter().sum())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Rigid, Vector};
    use rand::{RngExt, SeedableRng};
    use rand_distr::{Distribution, Normal};

    fn here() -> Rigid {
        Rigid::new(
            Vector::new(420.0, 655.0, 310.0),
            Vector::new(0.6, -0.4, 0.2),
        )
    }

    /// Three quarters on 220 deg of the shape, a tenth on a step further out, the rest anywhere.
    fn scene(kind: Round, n: usize, seed: u64) -> Vec<Point> {
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(seed);
        let noise = Normal::new(0.0, 0.05).unwrap();
        let half = if kind == Round::Circle { 0.0 } else { 30.0 };
        (0..n)
            .map(|k| {
                let [a, b, c]: [f64; 3] = [rng.random(), rng.random(), rng.random()];
                let jitter = Vector::from([0; 3].map(|_| noise.sample(&mut rng)));
                let turn = a * 220_f64.to_radians();
                let radius = match k % 20 {
                    0..15 => 12.0,
                    15..17 => 13.0 + 3.0 * c,
                    _ => {
                        let spread = Vector::new(36.0 * a - 18.0, 36.0 * c - 18.0, 60.0 * b - 30.0);
                        return here() * Point::from(spread);
                    }
                };
                let p = Point::new(
                    radius * turn.cos(),
                    radius * turn.sin(),
                    half * (2.0 * b - 1.0),
                );
                here() * (p + jitter)
            })
            .collect()
    }

    fn rough() -> RoundShape {
        let axis = here().rotation * Vector::new(0.0175, 0.0, 1.0);
        RoundShape {
            centre: here() * Point::new(1.0, -1.2, 0.8),
            axis: Unit::new_normalize(axis),
            radius: 13.0,
        }
    }

    #[test]
    fn found_among_a_step_and_clutter() {
        for kind in [Round::Circle, Round::Cylinder] {
            for seed in 0..20 {
                let points = scene(kind, 20_000, seed);
                let found = round_among(&points, kind, &rough(), 3.0, 0.05).unwrap();
                let inverse = here().inverse();
                let c = inverse * found.shape.centre;
                let axis = inverse.rotation * found.shape.axis.into_inner();
                // Where the axis passes the origin.
                let c = if kind == Round::Circle {
                    c.coords
                } else {
                    c.coords - axis * (c.z / axis.z)
                };
                // 0.05 / sqrt(15,000) is 0.4 um; the arc and the weights triple it; four of that and the clutter's pull.
                assert!(c.norm() < 6e-3, "{kind:?} {seed}: {c:?}");
                assert!(
                    (found.shape.radius - 12.0).abs() < 6e-3,
                    "{kind:?} {seed}: {}",
                    found.shape.radius
                );
                assert!(axis.xy().norm() < 4e-4, "{kind:?} {seed}: {axis:?}");
                assert!(axis.z > 0.0);
                // The mean weight of noise of one scale is 0.656 in one direction and 0.461 in two; the step and the
                // clutter weigh little.
                let usual = if kind == Round::Circle { 0.461 } else { 0.656 } * 15_000.0;
                assert!(
                    found.weight > 0.98 * usual && found.weight < 1.15 * usual,
                    "{}",
                    found.weight
                );
            }
        }
    }

    #[test]
    fn exact_points_give_the_exact_shape() {
        let points: Vec<Point> = (0..40)
            .map(|k| {
                let a = f64::from(k) * 0.1;
                here() * Point::new(12.0 * a.cos(), 12.0 * a.sin(), 0.0)
            })
            .collect();
        let found = round_among(&points, Round::Circle, &rough(), 3.0, 0.05).unwrap();
        assert!((found.shape.centre - here() * Point::origin()).norm() < 1e-9);
        assert!((found.shape.radius - 12.0).abs() < 1e-9);
        assert!((found.weight - 40.0).abs() < 1e-9);
    }

    #[test]
    fn what_leaves_it_open_is_refused() {
        let line: Vec<Point> = (0..50)
            .map(|k| here() * Point::new(12.0, 0.0, f64::from(k)))
            .collect();
        let place = vec![here() * Point::new(12.0, 0.0, 0.0); 50];
        for points in [line, place] {
            for kind in [Round::Circle, Round::Cylinder] {
                let result = round_among(&points, kind, &rough(), 3.0, 0.05);
                assert_eq!(result, Err(FitError::Degenerate), "{kind:?}");
            }
        }
        let good = scene(Round::Circle, 100, 1);
        assert_eq!(
            round_among(&good[..5], Round::Circle, &rough(), 3.0, 0.05),
            Err(FitError::TooFewPoints { needed: 6, got: 5 })
        );
        assert_eq!(
            round_among(&good, Round::Circle, &rough(), 0.0, 0.05),
            Err(FitError::NotFinite)
        );
        assert_eq!(
            round_among(&good, Round::Circle, &rough(), 3.0, f64::NAN),
            Err(FitError::NotFinite)
        );
        let mut odd = scene(Round::Cylinder, 5000, 3);
        let clean = round_among(&odd, Round::Cylinder, &rough(), 3.0, 0.05).unwrap();
        odd.push(Point::new(f64::NAN, 0.0, f64::INFINITY));
        let with = round_among(&odd, Round::Cylinder, &rough(), 3.0, 0.05).unwrap();
        assert!((clean.shape.centre - with.shape.centre).norm() < 1e-6);
    }
}
