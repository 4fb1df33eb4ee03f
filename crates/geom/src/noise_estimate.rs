//! Estimation of the noise of a visit from its faces, by restricted likelihood on coarse cells.
//!
//! With K an orthonormal base of all contrasts that the removed shape cannot touch, K'y of a patch has the covariance
//! (1-g) K'DK + g K'RK times the total variance: D holds the white variance of each cell mean, R the correlation averaged
//! over pairs of cells, g is the correlated share. Made tridiagonal once per geometry, form and range, every share costs a
//! pass along the diagonals only. H. D. Patterson and R. Thompson, Biometrika 58 (1971) 545 (restricted likelihood).

use nalgebra::linalg::SymmetricTridiagonal;
use nalgebra::{Cholesky, DMatrix, DVector, SymmetricEigen};
use rayon::prelude::*;

use crate::noise_patch::ACROSS;
use crate::{GoOn, Kernel, NoiseModel, NoisePatch, NoisePoint, Removed};

/// Number of ranges tried, from 0.04 of the smallest to 1 of the largest side, in equal ratios.
const RANGES: usize = 19;
/// Number of correlated shares tried beside 0: g / (1 - g) from 0.02 to 2000, in equal ratios.
const SHARES: usize = 18;
/// Where so few neighbouring ranges of a form hold all the weight, the noise is better known than the ladder is fine: a
/// rung off is then as good as a size off by two fifths.
const FEW_RANGES: usize = 3;
/// What a range must hold of the whole to count.
const HOLDS: f64 = 0.02;
/// Ranges and shares to a step of the ladders there.
const FINER: u8 = 4;
/// Candidates below this share of the whole are left out.
const NEGLIGIBLE: f64 = 1e-7;

/// Patches that share the diagonalisation: same size, same cells, same shape, even counts or the very same counts.
struct Geometry {
    side_mm: f64,
    removed: Removed,
    at: Vec<(usize, usize)>,
    /// White variance of each cell mean in units of that of a mean over `reference` points; empty: even (1 each).
    uneven: Vec<f64>,
    /// Contrasts, one a column.
    contrasts: DMatrix<f64>,
    /// Cholesky factor of K'DK where counts are uneven.
    factor: Option<Cholesky<f64, nalgebra::Dyn>>,
}

/// A patch reduced to its contrasts.
struct Contrasts {
    geometry: usize,
    /// White variance of its cell means in units of that of a mean over `reference` points.
    white: f64,
    values: DVector<f64>,
}

/// log likelihood and total variance at one share.
#[derive(Clone, Copy)]
struct Fit {
    log: f64,
    total: f64,
}

impl NoiseModel {
    /// The noise that the patches of a visit speak of together: for each form of correlation (3), range (19) and
    /// correlated share (18, and none at all with prior probability 1/2) the restricted likelihood of all patches.
    /// At least 4 patches are asked for, 16 are wanted; with one the answer is honest but cannot know waves longer than
    /// the patch. `None` where no patch is left with a free contrast. Exactly smooth patches give white noise of size 0.
    /// The result depends on the order of patches only by rounding. Cost: about 6 ms per distinct geometry.
    pub fn estimate(patches: &[NoisePatch]) -> Option<Self> {
        Self::estimate_while(patches, &|| true)
    }

    /// [`Self::estimate`] as long as `go_on` says so; `None` also where it said no.
    pub fn estimate_while(patches: &[NoisePatch], go_on: GoOn<'_>) -> Option<Self> {
        let cells = || patches.iter().flat_map(|p| &p.cells);
        let n = cells().count() as f64;
        let reference = cells().map(|c| c.count).sum::<f64>() / n;
        let (geometries, contrasts) = reduce(patches, reference);
        let m: usize = contrasts.iter().map(|c| c.values.len()).sum();
        if m == 0 {
            return None;
        }
        let dof = m as f64;
        let side = |f: fn(f64, f64) -> f64, start| {
            geometries
                .iter()
                .fold(start, |s, g: &Geometry| f(s, g.side_mm))
        };
        let (least, largest) = (side(f64::min, f64::INFINITY), side(f64::max, 0.0));
        let white = fit_white(&geometries, &contrasts, dof);
        if white.total <= f64::MIN_POSITIVE {
            return Some(Self {
                dof,
                patches: contrasts.len(),
                side_mm: largest,
                ..Self::white(0.0)
            });
        }
        let step = (largest / (0.04 * least)).ln() / (RANGES - 1) as f64;
        let fit = |forms: &[(Kernel, f64)], shares| -> Option<Vec<Form>> {
            forms
                .par_iter()
                .map(|&(kernel, range_mm)| {
                    let fits =
                        || fit_shares(&geometries, &contrasts, kernel, range_mm, shares, dof);
                    go_on().then(|| Form {
                        kernel,
                        range_mm,
                        fits: fits(),
                    })
                })
                .collect()
        };
        let ladders: Vec<(Kernel, f64)> = Kernel::ALL
            .into_iter()
            .flat_map(|k| ladder(0.04 * least, largest, RANGES).map(move |l| (k, l)))
            .collect();
        let mut forms = fit(&ladders, SHARES)?;
        let coarse = candidates(white, &forms, step, reference);
        let finer = between(&forms, &weigh(coarse), step);
        if !finer.is_empty() {
            let fine = fit(&finer, usize::from(FINER) * (SHARES - 1) + 1)?;
            forms.retain(|f| !finer.contains(&(f.kernel, f.range_mm)));
            forms.extend(fine);
        }
        let found = candidates(white, &forms, step, reference);
        Some(Self {
            points: weigh(found),
            dof,
            patches: contrasts.len(),
            side_mm: largest,
        })
    }
}

/// The fits of a form of correlation at one range.
struct Form {
    kernel: Kernel,
    range_mm: f64,
    /// Correlated share and fit.
    fits: Vec<(f64, Fit)>,
}

/// The ranges to try beside those that hold the weight, themselves among them: where few do, at a quarter of the step.
fn between(forms: &[Form], points: &[NoisePoint], step: f64) -> Vec<(Kernel, f64)> {
    let holds = |f: &&Form| {
        let of =
            |p: &&NoisePoint| p.corr_var > 0.0 && (p.kernel, p.range_mm) == (f.kernel, f.range_mm);
        points.iter().filter(of).map(|p| p.weight).sum::<f64>() > HOLDS
    };
    let mut found: Vec<(Kernel, f64)> = Vec::new();
    for kernel in Kernel::ALL {
        let own: Vec<&Form> = forms
            .iter()
            .filter(|f| f.kernel == kernel)
            .filter(holds)
            .collect();
        if own.len() > FEW_RANGES {
            continue;
        }
        let quarter = step / f64::from(FINER);
        for f in own {
            for k in 1 - i32::from(FINER)..i32::from(FINER) {
                let range_mm = f.range_mm * (quarter * f64::from(k)).exp();
                let new = |o: &(Kernel, f64)| {
                    o.0 != kernel || (o.1 / range_mm).ln().abs() > 0.1 * quarter
                };
                if found.iter().all(new) {
                    found.push((kernel, range_mm));
                }
            }
        }
    }
    found
}

/// Every candidate with its log posterior: a prior of one half on white noise, the other half even over the forms, the
/// logarithm of the range and that of the ratio of the parts.
fn candidates(white: Fit, forms: &[Form], step: f64, reference: f64) -> Vec<(f64, NoisePoint)> {
    let each = 0.5 / (Kernel::ALL.len() * RANGES * SHARES) as f64;
    let mut found = vec![(0.5_f64.ln() + white.log, white_point(white, reference))];
    for form in forms {
        let apart = |o: &Form| (o.range_mm / form.range_mm).ln() / step;
        let (mut less, mut more) = (1.0_f64, 1.0_f64);
        for o in forms.iter().filter(|o| o.kernel == form.kernel) {
            let d = apart(o);
            if d > 0.0 {
                more = more.min(d);
            } else if d < 0.0 {
                less = less.min(-d);
            }
        }
        let shares = (SHARES - 1) as f64 / (form.fits.len() - 1) as f64;
        let prior = each * 0.5 * (less + more) * shares;
        for (g, fit) in &form.fits {
            let point = NoisePoint {
                weight: 0.0,
                white_var: (1.0 - g) * fit.total * reference,
                corr_var: g * fit.total,
                kernel: form.kernel,
                range_mm: form.range_mm,
            };
            found.push((prior.ln() + fit.log, point));
        }
    }
    found
}

fn white_point(fit: Fit, reference: f64) -> NoisePoint {
    NoisePoint {
        weight: 0.0,
        white_var: fit.total * reference,
        corr_var: 0.0,
        kernel: Kernel::Gaussian,
        range_mm: 1.0,
    }
}

/// Probabilities from log likelihoods; negligible candidates are dropped.
fn weigh(found: Vec<(f64, NoisePoint)>) -> Vec<NoisePoint> {
    let best = found.iter().fold(f64::NEG_INFINITY, |b, f| b.max(f.0));
    let all: f64 = found.iter().map(|f| (f.0 - best).exp()).sum();
    let mut points: Vec<_> = found
        .into_iter()
        .map(|(log, p)| NoisePoint {
            weight: (log - best).exp() / all,
            ..p
        })
        .filter(|p| p.weight > NEGLIGIBLE)
        .collect();
    let kept: f64 = points.iter().map(|p| p.weight).sum();
    for p in &mut points {
        p.weight /= kept;
    }
    points
}

/// `n` values from `low` to `high` in equal ratios.
fn ladder(low: f64, high: f64, n: usize) -> impl Iterator<Item = f64> {
    (0..n).map(move |k| low * (high / low).powf(k as f64 / (n - 1) as f64))
}

/// Finds the distinct geometries and projects every patch on its contrasts.
fn reduce(patches: &[NoisePatch], reference: f64) -> (Vec<Geometry>, Vec<Contrasts>) {
    let mut geometries: Vec<Geometry> = Vec::new();
    let mut contrasts = Vec::new();
    for patch in patches {
        let (low, high) = patch
            .cells
            .iter()
            .fold((f64::INFINITY, 0.0_f64), |(a, b), c| {
                (a.min(c.count), b.max(c.count))
            });
        if patch.cells.len() <= patch.removed.terms() || low <= 0.0 || patch.side_mm <= 0.0 {
            continue;
        }
        let inverse = |k: usize| reference / patch.cells[k].count;
        let even = high <= 2.0 * low;
        let (white, uneven) = if even {
            let n = patch.cells.len();
            ((0..n).map(inverse).sum::<f64>() / n as f64, Vec::new())
        } else {
            (1.0, (0..patch.cells.len()).map(inverse).collect())
        };
        let at: Vec<_> = patch.cells.iter().map(|c| (c.i, c.j)).collect();
        let same = |g: &Geometry| {
            g.side_mm == patch.side_mm
                && g.removed == patch.removed
                && g.at == at
                && g.uneven == uneven
        };
        let geometry = match geometries.iter().position(same) {
            Some(k) => k,
            None => match Geometry::new(patch, at, uneven) {
                Some(g) => {
                    geometries.push(g);
                    geometries.len() - 1
                }
                None => continue,
            },
        };
        let y = DVector::from_iterator(patch.cells.len(), patch.cells.iter().map(|c| c.mean));
        contrasts.push(Contrasts {
            geometry,
            white,
            values: geometries[geometry].project(&y),
        });
    }
    (geometries, contrasts)
}

impl Geometry {
    fn new(patch: &NoisePatch, at: Vec<(usize, usize)>, uneven: Vec<f64>) -> Option<Self> {
        let n = at.len();
        let half = 0.5 * (ACROSS - 1) as f64;
        let x = DMatrix::from_row_iterator(
            n,
            patch.removed.terms(),
            at.iter().flat_map(|&(i, j)| {
                patch
                    .removed
                    .row((i as f64 - half) / half, (j as f64 - half) / half)
            }),
        );
        // I - Q Q' has eigenvalue 1 on the contrasts and 0 on the removed shape.
        let svd = x.svd(true, false);
        let rank = svd.rank(1e-9);
        let q = svd.u?.columns(0, rank).into_owned();
        let rest = SymmetricEigen::new(DMatrix::identity(n, n) - &q * q.transpose());
        let free: Vec<usize> = (0..n).filter(|&k| rest.eigenvalues[k] > 0.5).collect();
        let contrasts = rest.eigenvectors.select_columns(&free);
        let factor = if uneven.is_empty() {
            None
        } else {
            let d = DMatrix::from_diagonal(&DVector::from_column_slice(&uneven));
            Some((contrasts.transpose() * d * &contrasts).cholesky()?)
        };
        Some(Self {
            side_mm: patch.side_mm,
            removed: patch.removed,
            at,
            uneven,
            contrasts,
            factor,
        })
    }

    /// Contrasts of cell means, with white part of equal variance in each and none shared.
    fn project(&self, y: &DVector<f64>) -> DVector<f64> {
        let z = self.contrasts.tr_mul(y);
        match &self.factor {
            Some(f) => f.l().solve_lower_triangular_unchecked(&z),
            None => z,
        }
    }

    /// The correlated part in the same contrasts, as Q T Q' with T tridiagonal.
    fn tridiagonal(&self, lags: &Lags) -> Tridiagonal {
        let n = self.at.len();
        let r = DMatrix::from_fn(n, n, |a, b| {
            let (p, q) = (self.at[a], self.at[b]);
            lags[p.0.abs_diff(q.0)][p.1.abs_diff(q.1)]
        });
        let mut inner = self.contrasts.tr_mul(&(r * &self.contrasts));
        if let Some(f) = &self.factor {
            // A Cholesky factor has no zero on its diagonal.
            let l = f.l();
            let half = l.solve_lower_triangular_unchecked(&inner);
            inner = l.solve_lower_triangular_unchecked(&half.transpose());
        }
        if inner.nrows() < 2 {
            return Tridiagonal {
                q: DMatrix::identity(1, 1),
                diagonal: inner.diagonal(),
                beside: DVector::zeros(0),
            };
        }
        let (q, diagonal, beside) = SymmetricTridiagonal::new(inner).unpack();
        Tridiagonal {
            q,
            diagonal,
            beside,
        }
    }
}

/// Mean correlation of two cells so many columns and rows apart.
type Lags = [[f64; ACROSS]; ACROSS];

fn lags(kernel: Kernel, l: f64, side_mm: f64) -> Lags {
    let cell = side_mm / ACROSS as f64;
    // As many columns and rows apart as rows and columns.
    let half: [[f64; ACROSS]; ACROSS] = std::array::from_fn(|i| {
        std::array::from_fn(|j| {
            if j > i {
                return 0.0;
            }
            kernel.between_cells(l, cell, i as f64, j as f64)
        })
    });
    std::array::from_fn(|i| std::array::from_fn(|j| half[i.max(j)][i.min(j)]))
}

/// A symmetric matrix Q T Q', T tridiagonal.
struct Tridiagonal {
    q: DMatrix<f64>,
    diagonal: DVector<f64>,
    beside: DVector<f64>,
}

impl Tridiagonal {
    /// ln det M and y' M^-1 y of M = (1 - g) `white` I + g T, `y` in the base of T: one pass of L D L'.
    fn at_share(&self, g: f64, white: f64, y: &DVector<f64>) -> (f64, f64) {
        // Rounding may leave T a little below zero where nothing is correlated any more.
        let least = f64::MIN_POSITIVE.max(1e-15 * (g * self.diagonal.amax() + (1.0 - g) * white));
        // At most 22 factors between 1e-6 and 1e3: their product keeps inside f64.
        let (mut product, mut sum) = (1.0, 0.0);
        let (mut pivot, mut z): (f64, f64) = (1.0, 0.0);
        // The first has none before it.
        let before = std::iter::once(&0.0).chain(&self.beside);
        for ((t, b), y) in self.diagonal.iter().zip(before).zip(y) {
            let ratio = g * b / pivot;
            pivot = ((1.0 - g) * white + g * t - ratio * g * b).max(least);
            z = y - ratio * z;
            product *= pivot;
            sum += z * z / pivot;
        }
        (product.ln(), sum)
    }
}

/// The fit without correlation.
fn fit_white(geometries: &[Geometry], contrasts: &[Contrasts], dof: f64) -> Fit {
    let (mut logs, mut sum) = (0.0, 0.0);
    for c in contrasts {
        debug_assert!(c.geometry < geometries.len());
        logs += c.values.len() as f64 * c.white.ln();
        sum += c.values.norm_squared() / c.white;
    }
    Fit {
        log: -0.5 * (logs + dof * sum.ln()),
        total: sum / dof,
    }
}

/// The fits at all correlated shares for one form and range.
fn fit_shares(
    geometries: &[Geometry],
    contrasts: &[Contrasts],
    kernel: Kernel,
    l: f64,
    shares: usize,
    dof: f64,
) -> Vec<(f64, Fit)> {
    let mut known: Vec<(f64, Lags)> = Vec::new();
    let bases: Vec<Tridiagonal> = geometries
        .iter()
        .map(|g| {
            let same = known.iter().find(|(side, _)| *side == g.side_mm);
            let of_side = same.map_or_else(|| lags(kernel, l, g.side_mm), |(_, lags)| *lags);
            if same.is_none() {
                known.push((g.side_mm, of_side));
            }
            g.tridiagonal(&of_side)
        })
        .collect();
    let turned: Vec<DVector<f64>> = contrasts
        .iter()
        .map(|c| bases[c.geometry].q.tr_mul(&c.values))
        .collect();
    ladder(0.02, 2000.0, shares)
        .map(|ratio| {
            let g = ratio / (1.0 + ratio);
            let (mut logs, mut sum) = (0.0, 0.0);
            for (c, y) in contrasts.iter().zip(&turned) {
                let (log, square) = bases[c.geometry].at_share(g, c.white, y);
                logs += log;
                sum += square;
            }
            let fit = Fit {
                log: -0.5 * (logs + dof * sum.ln()),
                total: sum / dof,
            };
            (g, fit)
        })
        .collect()
}
