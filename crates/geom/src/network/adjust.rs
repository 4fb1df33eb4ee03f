//! The adjustment of a network.

use nalgebra::{DMatrix, DVector};

use super::approximate::starts;
use super::blunder::{Blunder, WeakTie, judge, weak_ties};
use super::flips::{Flip, flips};
use super::model::{Network, NetworkError, Observed};
use super::rough::search;
use super::solve::{Linear, misfit, unknowns};
use crate::{Point, Vector, chi_square_sf};

/// Most steps, and most dampings tried for one.
const STEPS: usize = 300;
const DAMPINGS: usize = 16;
/// The least damping, as a share of a column of the scaled design.
const LEAST_DAMPING: f64 = 1e-4;
/// A place is settled where a step would take off less than this, in standard deviations; nearly where no step helps.
const SETTLED: f64 = 1e-9;
const NEARLY_SETTLED: f64 = 1e-4;
/// Sums of squares that differ by less than this share are the same.
const ROUNDING: f64 = 1e-13;
/// The longest step, as a share of the size of the network.
const LONGEST: f64 = 0.25;
/// Non-centrality of a blunder that is found in 80 % of cases at a two-sided level of 0.1 % (Baarda 1968).
const MINIMAL: f64 = 4.13;

/// What the sum of squares says of the standard deviations that were given.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum GlobalTest {
    /// No degree of freedom: nothing.
    NoCheck,
    /// They agree (two-sided 5 %).
    Agrees,
    /// The observations agree better than their standard deviations say.
    BetterThanSaid,
    /// The observations agree worse.
    WorseThanSaid,
}

/// An adjusted network.
#[derive(Clone, Debug)]
pub struct Adjusted {
    /// Coordinates, mm; axes are those of the start or of the fixed points, arbitrary if there are none of both.
    pub points: Vec<Point>,
    /// Adjusted less observed, mm or radians.
    pub residuals: Vec<f64>,
    /// Redundancy numbers, 0 to 1; their sum is `dof`.
    pub redundancy: Vec<f64>,
    /// Baarda's w = residual / (sigma sqrt(redundancy)); 0 where nothing checks the observation.
    pub w: Vec<f64>,
    /// By how much each would be too large if it alone were wrong, mm or radians; 0 where nothing checks it.
    pub blunder: Vec<f64>,
    /// The blunder that is found in 80 % of cases, mm or radians; infinite where nothing checks it.
    pub minimal: Vec<f64>,
    /// Sum of squared residuals in standard deviations.
    pub chi_square: f64,
    /// Observations less determined unknowns.
    pub dof: usize,
    /// sqrt(chi_square / dof): factor on the standard deviations by the residuals; NaN with no degree of freedom.
    pub sigma0: f64,
    /// What that says.
    pub global: GlobalTest,
    /// Cofactors of the unknown coordinates (see [`Adjusted::covariance`]) for the standard deviations as given, mm2.
    pub cofactor: DMatrix<f64>,
    /// Cofactors of the residuals in standard deviations: the redundancy numbers on the diagonal.
    pub residual_cofactor: DMatrix<f64>,
    /// What is known of a blunder.
    pub verdict: Blunder,
    /// Places of other shapes that fit as well.
    pub flips: Vec<Flip>,
    unknowns: Vec<(usize, usize)>,
}

impl Network {
    /// Adjusts the network.
    ///
    /// Points without a start are placed from their distances first. Gauss-Newton on the SVD of the design scaled to
    /// columns of unit length; a step that does not lower the sum of squares is halved. A network with no degree of freedom
    /// has an answer without checks. Every further shape that fits as well as the one given is listed in `flips`.
    /// Errors: impossible observations, points that are loose or cannot be placed, no convergence.
    /// Cost O(steps m n^2) for m observations of n unknowns, times the starts and the points tried for flips.
    pub fn adjust(&self) -> Result<Adjusted, NetworkError> {
        self.check()?;
        let given = self.points.iter().all(|p| p.start.is_some());
        let mut settled: Vec<Settled> = Vec::new();
        for mut points in starts(self)? {
            // A start that was given is followed from where it is.
            let sum = if given {
                misfit(self, &points).norm_squared()
            } else {
                search(self, &mut points)
            };
            settled.push(Settled { points, sum });
        }
        settled.sort_by(|a, b| a.sum.total_cmp(&b.sum));
        let mut failed = NetworkError::NoConvergence;
        for (i, s) in settled.iter().enumerate() {
            match settle(self, &s.points) {
                Ok(best) => return Ok(self.with_flips(best, &settled[i + 1..], given)),
                Err(e) => {
                    if let NetworkError::Loose(_) = e {
                        failed = e;
                    }
                }
            }
        }
        Err(failed)
    }

    /// [`Network::adjust`] from these places of all points alone, with no search for other shapes.
    pub fn adjust_from(&self, start: &[Point]) -> Result<Adjusted, NetworkError> {
        self.check()?;
        settle(self, start).map(|s| figures(self, s))
    }

    /// A shape that was given as a start stays, however well another fits.
    fn with_flips(&self, best: Settled, others: &[Settled], given: bool) -> Adjusted {
        let mut adjusted = figures(self, best);
        let (found, better) = flips(self, &adjusted, others);
        adjusted.flips = found;
        if let Some(better) = better.filter(|_| !given)
            && let Ok(better) = settle(self, &better.points)
        {
            adjusted = figures(self, better);
            adjusted.flips = flips(self, &adjusted, others).0;
        }
        adjusted
    }
}

impl Adjusted {
    /// The factor on the standard deviations for covariances: 1 where the global test passes or the observations agree
    /// better than said, else sigma0.
    pub fn scale(&self) -> f64 {
        if self.global == GlobalTest::WorseThanSaid {
            self.sigma0.max(1.0)
        } else {
            1.0
        }
    }

    /// Degrees of freedom of that factor: infinite where the standard deviations stand as given.
    pub fn nu(&self) -> f64 {
        if self.global == GlobalTest::WorseThanSaid {
            self.dof as f64
        } else {
            f64::INFINITY
        }
    }

    /// Where a coordinate of a point stands in `cofactor`; `None` if it is fixed.
    pub fn index(&self, point: usize, axis: usize) -> Option<usize> {
        self.unknowns.iter().position(|u| *u == (point, axis))
    }

    /// Factor of the covariance of all coordinates: rows = point x 3 + axis (those that are fixed or beyond the dimensions
    /// are zero), columns = independent parts; F F' is the covariance with [`Adjusted::scale`], mm2.
    pub fn factor(&self) -> DMatrix<f64> {
        let eigen = self.cofactor.clone().symmetric_eigen();
        let largest = eigen.eigenvalues.iter().copied().fold(0.0, f64::max);
        let mut kept: Vec<usize> = (0..eigen.eigenvalues.len())
            .filter(|k| eigen.eigenvalues[*k] > 1e-14 * largest)
            .collect();
        kept.sort_by(|a, b| eigen.eigenvalues[*b].total_cmp(&eigen.eigenvalues[*a]));
        let mut f = DMatrix::zeros(3 * self.points.len(), kept.len());
        for (k, e) in kept.iter().enumerate() {
            let size = eigen.eigenvalues[*e].sqrt() * self.scale();
            // The sign of an eigenvector is arbitrary: its largest part is made positive.
            let v = eigen.eigenvectors.column(*e);
            let sign = v[v.icamax()].signum();
            for (row, (i, axis)) in self.unknowns.iter().enumerate() {
                f[(3 * i + axis, k)] = size * sign * v[row];
            }
        }
        f
    }

    /// Covariance of the coordinates of a point, mm2; zero where it is fixed.
    pub fn covariance(&self, point: usize) -> nalgebra::Matrix3<f64> {
        let s2 = self.scale().powi(2);
        nalgebra::Matrix3::from_fn(|a, b| match (self.index(point, a), self.index(point, b)) {
            (Some(i), Some(j)) => s2 * self.cofactor[(i, j)],
            _ => 0.0,
        })
    }

    /// Observations whose blunder would hardly be seen, or not be told from another's.
    pub fn weak_ties(&self) -> Vec<WeakTie> {
        weak_ties(self)
    }
}

/// A place at which the sum of squares does not fall any more.
#[derive(Clone, Debug)]
pub struct Settled {
    /// Where the points are.
    pub points: Vec<Point>,
    /// Sum of squared misfits in standard deviations.
    pub sum: f64,
}

/// Lowers the sum of squares from a start: Gauss-Newton, damped (Levenberg-Marquardt) where the full step does not lower
/// it. Settled where what a further step would take off is nothing in standard deviations.
pub fn settle(net: &Network, start: &[Point]) -> Result<Settled, NetworkError> {
    let unknowns = unknowns(net);
    let long = net.observations.iter().map(|o| match o.what {
        Observed::Angle { .. } => 0.0,
        _ => o.value.abs(),
    });
    let size = long.fold(size_of(start), f64::max);
    let mut at = start.to_vec();
    let mut sum = misfit(net, &at).norm_squared();
    let mut damping = 0.0;
    let mut flat = 0;
    for _ in 0..STEPS {
        let linear = Linear::new(net, &at).ok_or(NetworkError::NoConvergence)?;
        let left = linear.left_over();
        let small = 1.0 + sum.sqrt();
        if left < SETTLED * small || flat > 3 {
            return settled(net, &linear, at, sum);
        }
        let mut taken = false;
        for _ in 0..DAMPINGS {
            let mut step = linear.step(net, damping);
            let longest = step.amax();
            if !longest.is_finite() {
                return Err(NetworkError::NoConvergence);
            }
            if longest > LONGEST * size {
                step *= LONGEST * size / longest;
            }
            let mut next = at.clone();
            for (k, (i, axis)) in unknowns.iter().enumerate() {
                next[*i][*axis] += step[k];
            }
            let s = misfit(net, &next).norm_squared();
            if s <= sum + ROUNDING * (1.0 + sum) {
                flat = if s < sum - ROUNDING * (1.0 + sum) {
                    0
                } else {
                    flat + 1
                };
                (at, sum, taken) = (next, s, true);
                damping = if damping > LEAST_DAMPING {
                    0.1 * damping
                } else {
                    0.0
                };
                break;
            }
            damping = (10.0 * damping).max(LEAST_DAMPING);
        }
        if !taken {
            return if left < NEARLY_SETTLED * small {
                settled(net, &linear, at, sum)
            } else {
                Err(NetworkError::NoConvergence)
            };
        }
    }
    Err(NetworkError::NoConvergence)
}

fn settled(
    net: &Network,
    linear: &Linear,
    points: Vec<Point>,
    sum: f64,
) -> Result<Settled, NetworkError> {
    let loose = linear.loose(net, &points);
    if loose.is_empty() {
        Ok(Settled { points, sum })
    } else {
        Err(NetworkError::Loose(loose))
    }
}

/// Half the extent of points, mm; at least a hundredth.
pub fn size_of(points: &[Point]) -> f64 {
    let n = points.len().max(1) as f64;
    let centre = Point::from(points.iter().map(|p| p.coords).sum::<Vector>() / n);
    points
        .iter()
        .map(|p| (p - centre).norm())
        .fold(0.01, f64::max)
}

fn figures(net: &Network, settled: Settled) -> Adjusted {
    let m = net.observations.len();
    let unknowns = unknowns(net);
    let empty = || Linear::new(net, &settled.points);
    let (u, cofactor, misfit) = match empty() {
        Some(l) => {
            let q = l.cofactor(net);
            (l.u, q, l.misfit)
        }
        None => (
            DMatrix::zeros(m, 0),
            DMatrix::zeros(unknowns.len(), unknowns.len()),
            DVector::zeros(m),
        ),
    };
    let dof = m - u.ncols();
    let residual_cofactor = DMatrix::identity(m, m) - &u * u.transpose();
    let redundancy: Vec<f64> = residual_cofactor.diagonal().iter().copied().collect();
    let sigma = |i: usize| net.observations[i].sigma;
    let checked = |i: usize| dof > 0 && redundancy[i] > 1e-9;
    let per = |f: &dyn Fn(usize) -> f64, none: f64| -> Vec<f64> {
        (0..m)
            .map(|i| if checked(i) { f(i) } else { none })
            .collect()
    };
    let chi_square = misfit.norm_squared();
    let sigma0 = (chi_square / dof as f64).sqrt();
    let global = if dof == 0 {
        GlobalTest::NoCheck
    } else {
        match chi_square_sf(chi_square, dof as f64) {
            p if p < 0.025 => GlobalTest::WorseThanSaid,
            p if p > 0.975 => GlobalTest::BetterThanSaid,
            _ => GlobalTest::Agrees,
        }
    };
    let mut adjusted = Adjusted {
        points: settled.points,
        residuals: (0..m).map(|i| misfit[i] * sigma(i)).collect(),
        w: per(&|i| misfit[i] / redundancy[i].sqrt(), 0.0),
        blunder: per(&|i| -misfit[i] * sigma(i) / redundancy[i], 0.0),
        minimal: per(
            &|i| MINIMAL * sigma(i) / redundancy[i].sqrt(),
            f64::INFINITY,
        ),
        redundancy,
        chi_square,
        dof,
        sigma0,
        global,
        cofactor,
        residual_cofactor,
        verdict: Blunder::None,
        flips: Vec::new(),
        unknowns,
    };
    adjusted.verdict = judge(net, &adjusted);
    adjusted
}
