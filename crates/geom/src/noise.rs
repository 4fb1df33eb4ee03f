//! The noise of a visit and what it does to a figure.
//!
//! Noise of a scan is never assumed white: neighbouring readings share part of their error, and it is the shared part,
//! not the number of points, that decides how well a slope is known. The covariance of two readings at distance h is
//! white [h = 0] + correlated x kernel(h / range). Form, range and share of the correlated part are not known, so they
//! are kept as a weighted list of candidates, and every figure is averaged over all of them.

use crate::noise_left_over::LeftOver;
use crate::{Kernel, Lagged, u95, welch_satterthwaite};

/// One candidate of what the noise may be.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct NoisePoint {
    /// Probability given the faces; all of a model's sum to 1.
    pub weight: f64,
    /// Variance of the white part of one point, mm2.
    pub white_var: f64,
    /// Variance of the correlated part, mm2.
    pub corr_var: f64,
    /// Form of the correlation.
    pub kernel: Kernel,
    /// Its range, mm, > 0; of no meaning where `corr_var` is 0.
    pub range_mm: f64,
}

impl NoisePoint {
    /// Variance of a functional under this candidate.
    pub fn variance(&self, of: &Lagged) -> f64 {
        let correlated = if self.corr_var > 0.0 {
            self.corr_var * of.correlated(self.kernel, self.range_mm)
        } else {
            0.0
        };
        self.white_var * of.white + correlated
    }

    /// Distance at which the correlation has fallen to 5 %, mm; 0 for white noise.
    fn practical_range(&self) -> f64 {
        if self.corr_var > 0.0 {
            self.kernel.practical_range() * self.range_mm
        } else {
            0.0
        }
    }
}

/// What the faces of a visit (one instrument, its settings, its operator) say about the noise.
#[derive(Clone, Debug, PartialEq)]
pub struct NoiseModel {
    /// The candidates, those below 1e-7 of the whole left out.
    pub points: Vec<NoisePoint>,
    /// Number of independent contrasts that speak for the size of the noise; infinite where it is known.
    pub dof: f64,
    /// Number of square patches they come from; 0 where the noise is known.
    pub patches: usize,
    /// Side of the largest patch, mm: waves longer than 1.5 times this were not seen whole.
    pub side_mm: f64,
}

/// The standard uncertainty of a figure.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Uncertain {
    /// Standard uncertainty.
    pub s: f64,
    /// Its degrees of freedom; may be infinite.
    pub nu: f64,
    /// Half-width of the 95 % interval, t(0.975, nu) s.
    pub u95: f64,
    /// Share of the variance, 0 to 1, that comes from waves too long to be seen on the patches. Above one half these
    /// faces alone cannot tell: a longer base, or a second scan of the same faces, is needed.
    pub long_share: f64,
}

impl Uncertain {
    /// Standard uncertainty `s` with `nu` degrees of freedom.
    pub fn new(s: f64, nu: f64) -> Self {
        Self {
            s,
            nu,
            u95: u95(s, nu),
            long_share: 0.0,
        }
    }

    /// The sum of independent parts (Welch-Satterthwaite). Parts that share a noise model must be summed as
    /// [`Lagged`] before, not here.
    pub fn combined(parts: &[Self]) -> Self {
        let (s, nu) = welch_satterthwaite(&parts.iter().map(|p| (p.s, p.nu)).collect::<Vec<_>>());
        let var: f64 = parts.iter().map(|p| p.s * p.s).sum();
        let long: f64 = parts.iter().map(|p| p.s * p.s * p.long_share).sum();
        Self {
            long_share: if var > 0.0 { long / var } else { 0.0 },
            ..Self::new(s, nu)
        }
    }

    /// Whether more than half of the variance comes from waves these faces cannot show.
    pub fn cannot_tell(&self) -> bool {
        self.long_share > 0.5
    }

    /// At least `floor`: the one of the two with the larger u95; the share of long waves stays.
    #[must_use]
    pub fn at_least(self, floor: Self) -> Self {
        if floor.u95 > self.u95 {
            Self {
                long_share: self.long_share,
                ..floor
            }
        } else {
            self
        }
    }

    /// The same of `factor` x the figure.
    #[must_use]
    pub fn scaled(self, factor: f64) -> Self {
        Self {
            s: self.s * factor.abs(),
            u95: self.u95 * factor.abs(),
            ..self
        }
    }
}

impl NoiseModel {
    /// White noise of standard deviation `sd` (mm) per point, known exactly.
    pub fn white(sd: f64) -> Self {
        Self::known(Kernel::Gaussian, 0.0, 1.0, sd)
    }

    /// Known noise: a correlated part of standard deviation `sd` (mm) and range `range_mm` and a white part of
    /// standard deviation `white` (mm) per point.
    pub fn known(kernel: Kernel, sd: f64, range_mm: f64, white: f64) -> Self {
        Self {
            points: vec![NoisePoint {
                weight: 1.0,
                white_var: white * white,
                corr_var: sd * sd,
                kernel,
                range_mm,
            }],
            dof: f64::INFINITY,
            patches: 0,
            side_mm: f64::INFINITY,
        }
    }

    /// Weighs the candidates anew by the standard deviation of single points about the quadrics fitted to faces of sides
    /// `size` (mm), `sd` (mm), known to about a sixth. A candidate must show as much: its white variance and what a quadric
    /// over such a face leaves of its correlated variance (the fit swallows long waves, so the sum of both variances would
    /// rule out the very waves that decide a slope). Coarse cells cannot tell white noise from noise correlated over
    /// less than a cell; single points can. Nor can a patch tell how strong a wave longer than itself is, so that next to
    /// any size would be left for it: waves of more than three times the scatter of single points are not believed (a
    /// bound of ours, held by simulation; what lies beyond it only a further scan shows). Nothing changes for `sd` <= 0
    /// and where the noise is known.
    #[must_use]
    pub fn with_point_sd(mut self, sd: f64, size: [f64; 2]) -> Self {
        /// Doubt of the logarithm of the variance: single points are many, but hold some form.
        const DOUBT: f64 = 0.3;
        /// Largest correlated variance that is believed, in units of the variance of single points.
        const MOST: f64 = 9.0;
        if sd <= 0.0 || !self.side_mm.is_finite() {
            return self;
        }
        let left = LeftOver::quadric(size);
        let mut last: Option<(Kernel, f64, f64)> = None;
        let mut share = |p: &NoisePoint| match last {
            Some((k, l, share)) if k == p.kernel && l == p.range_mm => share,
            _ => {
                let share = left.share(p.kernel, p.range_mm);
                last = Some((p.kernel, p.range_mm, share));
                share
            }
        };
        let logs: Vec<f64> = self
            .points
            .iter()
            .map(|p| {
                let correlated = if p.corr_var > 0.0 {
                    p.corr_var * share(p)
                } else {
                    0.0
                };
                let z = ((p.white_var + correlated) / (sd * sd)).max(1e-30).ln() / DOUBT;
                let beyond = (p.corr_var / (MOST * sd * sd)).max(1.0).ln() / DOUBT;
                p.weight.max(f64::MIN_POSITIVE).ln() - 0.5 * (z * z + beyond * beyond)
            })
            .collect();
        let best = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        for (p, log) in self.points.iter_mut().zip(logs) {
            p.weight = (log - best).exp();
        }
        let all: f64 = self.points.iter().map(|p| p.weight).sum();
        for p in &mut self.points {
            p.weight /= all;
        }
        self.points.retain(|p| p.weight > 1e-7);
        self
    }

    /// Standard uncertainty, degrees of freedom and 95 % half-width of a functional: the variance is averaged over all
    /// candidates, and its own spread sets the degrees of freedom (scaled inverse chi-square of equal mean and
    /// variance). Cost: about 60 x the number of lags.
    pub fn uncertainty(&self, of: &Lagged) -> Uncertain {
        let (mut mean, mut square, mut long) = (0.0, 0.0, 0.0);
        for (p, var) in self.points.iter().zip(self.variances(of)) {
            mean += p.weight * var;
            square += p.weight * var * var;
            if p.practical_range() > 1.5 * self.side_mm {
                long += p.weight * var;
            }
        }
        if mean <= 0.0 {
            return Uncertain::new(0.0, f64::INFINITY);
        }
        let spread = (square - mean * mean).max(0.0) + 2.0 * square / self.dof;
        let nu = if spread > 1e-12 * mean * mean {
            4.0 + 2.0 * mean * mean / spread
        } else {
            f64::INFINITY
        };
        let s2 = if nu.is_finite() {
            mean * (nu - 2.0) / nu
        } else {
            mean
        };
        Uncertain {
            long_share: long / mean,
            ..Uncertain::new(s2.sqrt(), nu)
        }
    }

    /// Variance of a functional under each candidate, in the order of `points`; of a covariance in lagged form
    /// ([`Lagged::cross`]) the covariance.
    pub fn variances(&self, of: &Lagged) -> Vec<f64> {
        let mut last: Option<(Kernel, f64, f64)> = None;
        self.points
            .iter()
            .map(|p| {
                if p.corr_var <= 0.0 {
                    return p.white_var * of.white;
                }
                // Candidates of one form and range stand together and differ in their shares only.
                let sum = match last {
                    Some((k, l, sum)) if k == p.kernel && l == p.range_mm => sum,
                    _ => of.correlated(p.kernel, p.range_mm),
                };
                last = Some((p.kernel, p.range_mm, sum));
                p.white_var * of.white + p.corr_var * sum
            })
            .collect()
    }

    /// Mean over the candidates of the variance (or covariance) of a functional.
    pub fn mean_variance(&self, of: &Lagged) -> f64 {
        self.points
            .iter()
            .zip(self.variances(of))
            .map(|(p, v)| p.weight * v)
            .sum()
    }

    /// Mean white variance of one point, mm2.
    pub fn white_var(&self) -> f64 {
        self.points.iter().map(|p| p.weight * p.white_var).sum()
    }

    /// Mean covariance, mm2, of the correlated parts of two readings `h` mm apart; at 0 their variance.
    pub fn covariance(&self, h: f64) -> f64 {
        self.points
            .iter()
            .filter(|p| p.corr_var > 0.0)
            .map(|p| p.weight * p.corr_var * p.kernel.at(h, p.range_mm))
            .sum()
    }

    /// [`Self::covariance`] at the distances 0, step, 2 step, ... (`n` values).
    pub fn covariance_table(&self, step_mm: f64, n: usize) -> Vec<f64> {
        (0..n)
            .map(|k| self.covariance(step_mm * k as f64))
            .collect()
    }

    /// Standard deviation of one reading, mm.
    pub fn point_sd(&self) -> f64 {
        (self.white_var() + self.covariance(0.0)).sqrt()
    }

    /// The least that may be claimed for a slope over a face of side `side_mm` when the instrument is flat to
    /// `flatness_mm` over it: sqrt(12) x flatness / side (radians), 50 degrees of freedom.
    pub fn floor(flatness_mm: f64, side_mm: f64) -> Uncertain {
        Uncertain::new(12_f64.sqrt() * flatness_mm / side_mm, 50.0)
    }
}

#[cfg(test)]
mod tests;
