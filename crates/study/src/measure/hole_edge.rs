//! The edge of a hole among points that lie anywhere on the metal about it.
//!
//! Where the points of a scan know nothing of the edge, it lies nearer to the middle than the innermost of them, by how
//! much only their density tells. The likelihood of points of even density outside a circle (a Poisson process with a
//! sharp edge, seen through a little noise) is greatest for the largest circle that is empty; three points hold that, and
//! on average the mass of three points is missing from it.

use geom::{normal_cdf, normal_density};
use nalgebra::{Matrix3, Vector3};

/// Points about a hole.
pub struct About<'a> {
    /// Places in the panel, mm.
    pub points: &'a [[f64; 3]],
    /// Which of the equal sectors about the middle were seen, the first from -pi on.
    pub seen: &'a [bool],
    /// Distance between neighbouring points, mm.
    pub spacing: f64,
    /// Noise of a point along the panel, mm.
    pub noise: f64,
}

/// A circle that holds no point, freed of what it is too large by on average.
#[derive(Clone, Copy, Debug)]
pub struct Emptied {
    /// Middle, mm.
    pub u: f64,
    /// Middle, mm.
    pub v: f64,
    /// Radius, mm.
    pub radius: f64,
    /// Standard uncertainty of the middle, each way, mm.
    pub u_middle: f64,
    /// Standard uncertainty of the radius, mm.
    pub u_radius: f64,
}

/// Points that hold the largest empty circle.
const HOLDING: f64 = 3.0;
/// Variance of the mass that is missing: 3 for points strewn by chance; those of a scan lie more evenly.
const UNEVEN: f64 = 2.4;
/// How much of its surplus noise takes from it, per noise in units of the distance between points met by growing.
const BLURRED: f64 = 1.0;
/// Least number of points from which a density is taken.
const FEWEST: f64 = 12.0;

impl About<'_> {
    /// Grows a circle from a rough one. `None` where the points do not hold it.
    pub fn emptied(&self, u: f64, v: f64, radius: f64) -> Option<Emptied> {
        let share = self.seen.iter().filter(|s| **s).count() as f64 / self.seen.len() as f64;
        let (mut u, mut v, mut r) = (u, v, radius);
        let mut density = 0.0;
        for _ in 0..12 {
            let polar = self.polar(u, v);
            let (from, to) = (r + 0.5 * self.spacing, r + 3.0 * self.spacing);
            let count = polar.iter().filter(|p| p[0] > from && p[0] < to).count() as f64;
            if count < FEWEST {
                return None;
            }
            density = count / (std::f64::consts::PI * share * (to * to - from * from));
            let by = self.grow(&polar, r, density)?;
            u += by[1];
            v += by[2];
            r += by[0];
            if by.norm() < 1e-9 {
                break;
            }
        }
        // Points met by growing the radius by 1 mm.
        let met = density * std::f64::consts::TAU * share * r;
        let blur = self.noise * met;
        let surplus = HOLDING / met / (1.0 + BLURRED * blur);
        let var = UNEVEN / (met * met) + 1.1 * self.noise / met;
        let spread = self.spread()?;
        Some(Emptied {
            u,
            v,
            radius: r - surplus,
            u_middle: (var * HOLDING / UNEVEN * spread[1]).sqrt(),
            u_radius: (var * spread[0]).sqrt(),
        })
    }

    /// How much worse than a mean over the sectors radius and middle are known.
    fn spread(&self) -> Option<[f64; 2]> {
        let mut m = Matrix3::zeros();
        let mut n = 0.0;
        for (cos, sin) in self.directions() {
            let row = Vector3::new(1.0, cos, sin);
            m += row * row.transpose();
            n += 1.0;
        }
        let inverse = (m / n).try_inverse()?;
        let middle = 0.5 * (inverse[(1, 1)] + inverse[(2, 2)]);
        Some([inverse[(0, 0)], middle])
    }

    /// Cosine and sine of the middles of the sectors seen.
    fn directions(&self) -> impl Iterator<Item = (f64, f64)> + '_ {
        let n = self.seen.len() as f64;
        self.seen
            .iter()
            .enumerate()
            .filter(|s| *s.1)
            .map(move |(k, _)| {
                let (sin, cos) = (((k as f64 + 0.5) / n - 0.5) * std::f64::consts::TAU).sin_cos();
                (cos, sin)
            })
    }

    /// Distance, cosine and sine of the points in the sectors seen.
    fn polar(&self, u: f64, v: f64) -> Vec<[f64; 3]> {
        let n = self.seen.len();
        self.points
            .iter()
            .map(|p| (p[0] - u, p[1] - v))
            .filter(|(x, y)| {
                let k = ((y.atan2(*x) / std::f64::consts::TAU + 0.5) * n as f64) as usize % n;
                self.seen[k]
            })
            .map(|(x, y)| {
                let r = x.hypot(y);
                [r, x / r.max(1e-12), y / r.max(1e-12)]
            })
            .collect()
    }

    /// The step in radius and middle to the circle of greatest likelihood, first order in the middle.
    fn grow(&self, polar: &[[f64; 3]], radius: f64, density: f64) -> Option<Vector3<f64>> {
        let reach = radius + 2.0 * self.spacing + 8.0 * self.noise;
        // A point far inside is stray.
        let inmost = radius - 1.5 * self.spacing - 4.0 * self.noise;
        let near: Vec<&[f64; 3]> = polar
            .iter()
            .filter(|p| p[0] < reach && p[0] > inmost)
            .collect();
        let wedge = std::f64::consts::TAU / self.seen.len() as f64;
        let mut x = Vector3::zeros();
        let mut blur = (0.4 * self.spacing).max(self.noise);
        loop {
            for _ in 0..40 {
                let (f, g, h) = self.likelihood(&near, &x, radius, density, wedge, blur);
                let step = h.cholesky()?.solve(&g);
                let longest = step.norm().max(1e-30);
                let mut by = (0.5 * self.spacing / longest).min(1.0);
                let mut better = false;
                for _ in 0..30 {
                    let next = x + step * by;
                    if self
                        .likelihood(&near, &next, radius, density, wedge, blur)
                        .0
                        > f
                    {
                        x = next;
                        better = true;
                        break;
                    }
                    by *= 0.5;
                }
                if !better || longest * by < 1e-11 {
                    break;
                }
            }
            if blur <= self.noise {
                return Some(x);
            }
            blur = (0.5 * blur).max(self.noise);
        }
    }

    /// Logarithm of the likelihood, its slope, and the curvature of its concave part (positive).
    fn likelihood(
        &self,
        near: &[&[f64; 3]],
        x: &Vector3<f64>,
        radius: f64,
        density: f64,
        wedge: f64,
        blur: f64,
    ) -> (f64, Vector3<f64>, Matrix3<f64>) {
        let (mut f, mut g) = (0.0, Vector3::zeros());
        // A faint hold where nothing touches.
        let mut h = Matrix3::identity() * (1e-3 * density);
        for (cos, sin) in self.directions() {
            let row = Vector3::new(1.0, cos, sin);
            let r = radius + row.dot(x);
            f += 0.5 * density * wedge * r * r;
            g += row * (density * wedge * r);
        }
        for p in near {
            let row = Vector3::new(1.0, p[1], p[2]);
            let z = (p[0] - radius - row.dot(x)) / blur;
            if z > 8.0 {
                continue;
            }
            let (log, ratio) = log_cdf(z);
            f += log;
            g -= row * (ratio / blur);
            h += row * row.transpose() * (ratio * (ratio + z) / (blur * blur)).max(0.0);
        }
        (f, g, h)
    }
}

/// Logarithm of the normal distribution function, and density over it.
fn log_cdf(z: f64) -> (f64, f64) {
    if z > -6.0 {
        let p = normal_cdf(z);
        (p.ln(), normal_density(z) / p)
    } else {
        // Asymptotic series (Abramowitz and Stegun 26.2.12).
        let q = 1.0 / (z * z);
        let tail = 1.0 - q * (1.0 - 3.0 * q * (1.0 - 5.0 * q));
        let log = -0.5 * z * z - (-z).ln() - 0.5 * std::f64::consts::TAU.ln() + tail.ln();
        (log, -z / tail)
    }
}
