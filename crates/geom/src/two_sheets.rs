//! Two sheets of one form seen through a small window: the height of each in the middle, and how far they are apart.
//!
//! Over a window of some millimetres both sheets are h = c + p s + q t + k ss + m st + n tt, with c, p, q of their own and
//! one bend (k, m, n) for both: what bend there is cancels in the difference even where the readings of the two lie
//! differently. Heights are linear in the readings, so their variance under any noise is that of a weighted sum.

use nalgebra::{Cholesky, Const, SMatrix, SVector};

use crate::Lagged;

/// Unknowns: three of each sheet and three that are shared.
const N: usize = 9;
/// Readings farther from the fit than this many scales are left out.
const CUT: f64 = 3.5;
/// Fewer readings do not speak for a sheet.
const FEWEST: usize = 9;
/// A sheet is seen where its readings reach this share of the half-window to either side of the middle.
const REACH: f64 = 0.35;

/// The height of a sheet in the middle of a window.
#[derive(Clone, Debug, PartialEq)]
pub struct SheetLevel {
    /// Height, mm.
    pub height: f64,
    /// What its variance needs to know.
    pub of: Lagged,
    /// Readings that speak for it.
    pub readings: usize,
}

/// Two sheets in one window.
#[derive(Clone, Debug, PartialEq)]
pub struct TwoSheets {
    /// Each where it was seen.
    pub levels: [Option<SheetLevel>; 2],
    /// First height less second, mm, where both were seen.
    pub apart: Option<f64>,
    /// What the variance of `apart` needs to know, sheet by sheet; zero weights where it is not known.
    pub apart_of: [Lagged; 2],
    /// Slope of the surface along s and t in the middle, mean of the sheets seen, mm/mm.
    pub slope: [f64; 2],
}

/// Fits both sheets to readings (s, t, h), mm, about the middle of a window of half-sizes `half` (along s, along t).
///
/// A sheet with fewer than 9 readings, or whose readings lie to one side of the middle only, is not seen. Readings more
/// than 3.5 scales off are left out. `None` where neither sheet is seen. Cost: the number of readings, and the square of
/// the number of bins of 1.25 mm.
pub fn fit_two_sheets(readings: [&[[f64; 3]]; 2], half: [f64; 2]) -> Option<TwoSheets> {
    let seen = readings.map(|r| is_seen(r.iter(), half));
    if !seen[0] && !seen[1] {
        return None;
    }
    let mut rows: Vec<Row> = Vec::new();
    for (k, r) in readings.iter().enumerate().filter(|(k, _)| seen[*k]) {
        rows.extend(r.iter().map(|p| Row::new(k, p, half)));
    }
    let mut solved = solve(&rows, seen)?;
    for _ in 0..3 {
        let left: Vec<f64> = rows.iter().map(|r| r.h - r.x.dot(&solved.1)).collect();
        let mut size: Vec<f64> = rows
            .iter()
            .zip(&left)
            .filter(|(r, _)| r.kept)
            .map(|(_, l)| l.abs())
            .collect();
        let middle = size.len() / 2;
        let scale = 1.4826 * *size.select_nth_unstable_by(middle, f64::total_cmp).1;
        let mut changed = false;
        for (r, l) in rows.iter_mut().zip(&left) {
            let now = l.abs() <= CUT * scale.max(1e-9);
            changed |= r.kept != now;
            r.kept = now;
        }
        if !changed {
            break;
        }
        solved = solve(&rows, seen)?;
    }
    for (k, seen) in seen.into_iter().enumerate() {
        let kept = rows.iter().filter(|r| r.sheet == k && r.kept);
        let places: Vec<[f64; 3]> = kept.map(|r| [r.s, r.t, r.h]).collect();
        if seen && !is_seen(places.iter(), half) {
            // What is left of it does not speak: the other one is taken alone.
            let none: &[[f64; 3]] = &[];
            let alone = if k == 0 {
                [none, readings[1]]
            } else {
                [readings[0], none]
            };
            return fit_two_sheets(alone, half);
        }
    }
    let (normal, unknown) = solved;
    let weights = |of: &SVector<f64, N>| -> Vec<f64> {
        let solved = normal.solve(of);
        rows.iter()
            .map(|r| if r.kept { r.x.dot(&solved) } else { 0.0 })
            .collect()
    };
    let pick = |entries: &[(usize, f64)]| {
        let mut v = SVector::<f64, N>::zeros();
        for (i, x) in entries {
            v[*i] = *x;
        }
        v
    };
    let levels = [0, 1].map(|k| {
        seen[k].then(|| {
            let b = weights(&pick(&[(3 * k, 1.0)]));
            SheetLevel {
                height: unknown[3 * k],
                of: lagged(&rows, &b, 0).plus(&lagged(&rows, &b, 1)),
                readings: rows.iter().filter(|r| r.sheet == k && r.kept).count(),
            }
        })
    });
    let both = seen[0] && seen[1];
    let apart_of = if both {
        let b = weights(&pick(&[(0, 1.0), (3, -1.0)]));
        [0, 1].map(|k| lagged(&rows, &b, k))
    } else {
        [Lagged::default(), Lagged::default()]
    };
    let slope = [1, 2].map(|j| {
        let each: Vec<f64> = (0..2)
            .filter(|k| seen[*k])
            .map(|k| unknown[3 * k + j] / half[j - 1])
            .collect();
        each.iter().sum::<f64>() / each.len() as f64
    });
    Some(TwoSheets {
        levels,
        apart: both.then(|| unknown[0] - unknown[3]),
        apart_of,
        slope,
    })
}

fn is_seen<'a>(readings: impl Iterator<Item = &'a [f64; 3]>, half: [f64; 2]) -> bool {
    let (mut count, mut low, mut high) = (0, [f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
    for p in readings {
        count += 1;
        for k in 0..2 {
            low[k] = low[k].min(p[k]);
            high[k] = high[k].max(p[k]);
        }
    }
    count >= FEWEST && (0..2).all(|k| low[k] <= -REACH * half[k] && high[k] >= REACH * half[k])
}

/// A reading as a row of the equations; places in units of the half-window.
struct Row {
    sheet: usize,
    s: f64,
    t: f64,
    h: f64,
    x: SVector<f64, N>,
    kept: bool,
}

impl Row {
    fn new(sheet: usize, p: &[f64; 3], half: [f64; 2]) -> Self {
        let (a, b) = (p[0] / half[0], p[1] / half[1]);
        let mut x = SVector::zeros();
        x[3 * sheet] = 1.0;
        x[3 * sheet + 1] = a;
        x[3 * sheet + 2] = b;
        x[6] = a * a;
        x[7] = a * b;
        x[8] = b * b;
        Self {
            sheet,
            s: p[0],
            t: p[1],
            h: p[2],
            x,
            kept: true,
        }
    }
}

type Solved = (Cholesky<f64, Const<N>>, SVector<f64, N>);

/// Least squares over the rows kept; unknowns of a sheet that is not seen are 0.
fn solve(rows: &[Row], seen: [bool; 2]) -> Option<Solved> {
    let mut m = SMatrix::<f64, N, N>::zeros();
    let mut v = SVector::<f64, N>::zeros();
    for r in rows.iter().filter(|r| r.kept) {
        m.syger(1.0, &r.x, &r.x, 1.0);
        v.axpy(r.h, &r.x, 1.0);
    }
    m.fill_upper_triangle_with_lower_triangle();
    for (k, seen) in seen.iter().enumerate() {
        for i in 3 * k..3 * k + 3 {
            if !seen {
                m[(i, i)] = 1.0;
            }
        }
    }
    // Readings on a line leave the bend across it free.
    let least = m.symmetric_eigenvalues().min();
    if least.is_nan() || least < 1e-6 * rows.len() as f64 {
        return None;
    }
    let normal = m.cholesky()?;
    let solved = normal.solve(&v);
    Some((normal, solved))
}

/// The weighted sum `b` of the readings of one sheet, by distance.
fn lagged(rows: &[Row], b: &[f64], sheet: usize) -> Lagged {
    let of = || rows.iter().zip(b).filter(|(r, _)| r.sheet == sheet);
    let places: Vec<[f64; 3]> = of().map(|(r, _)| [r.s, r.t, 0.0]).collect();
    let weights: Vec<f64> = of().map(|(_, w)| *w).collect();
    Lagged::of_places(&places, &weights)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Kernel, NoiseModel};
    use approx::assert_relative_eq;
    use rand::{RngExt, SeedableRng};
    use rand_distr::{Distribution, StandardNormal};

    fn places(n: usize, half: [f64; 2], rng: &mut rand_chacha::ChaCha8Rng) -> Vec<[f64; 2]> {
        (0..n)
            .map(|_| [0, 1].map(|k: usize| half[k] * (2.0 * rng.random::<f64>() - 1.0)))
            .collect()
    }

    /// Bend, slopes and a step are given back exactly, however unlike the two lie in the window; strays do not matter.
    #[test]
    fn a_step_between_two_bent_sheets_is_exact() {
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(5);
        let half = [5.0, 2.5];
        let form = |p: [f64; 2]| 0.004 * p[0] * p[0] - 0.003 * p[0] * p[1] + 0.01 * p[1] * p[1];
        let a: Vec<[f64; 3]> = places(60, half, &mut rng)
            .into_iter()
            .map(|p| [p[0], p[1], 1.3 + 0.1 * p[0] - 0.2 * p[1] + form(p)])
            .collect();
        let mut b: Vec<[f64; 3]> = places(200, half, &mut rng)
            .into_iter()
            .filter(|p| p[0] < 2.5)
            .map(|p| [p[0], p[1], 1.0 + 0.12 * p[0] - 0.2 * p[1] + form(p)])
            .collect();
        b.push([0.0, 0.0, 2.5]);
        let two = fit_two_sheets([&a, &b], half).unwrap();
        assert_relative_eq!(two.apart.unwrap(), 0.3, epsilon = 1e-9);
        assert_relative_eq!(two.levels[0].as_ref().unwrap().height, 1.3, epsilon = 1e-9);
        assert_relative_eq!(two.slope[0], 0.11, epsilon = 1e-9);
        assert_relative_eq!(two.slope[1], -0.2, epsilon = 1e-9);
        let swapped = fit_two_sheets([&b, &a], half).unwrap();
        assert_relative_eq!(swapped.apart.unwrap(), -0.3, epsilon = 1e-9);
    }

    #[test]
    fn what_is_not_seen_is_not_guessed() {
        let half = [5.0, 2.5];
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(6);
        let lay =
            |keep: fn(&[f64; 2]) -> bool, rng: &mut rand_chacha::ChaCha8Rng| -> Vec<[f64; 3]> {
                let all = places(80, half, rng);
                all.into_iter()
                    .filter(keep)
                    .map(|p| [p[0], p[1], 0.0])
                    .collect()
            };
        let all = lay(|_| true, &mut rng);
        let half_of_it = lay(|p| p[1] > 0.2, &mut rng);
        let one = fit_two_sheets([&all, &half_of_it], half).unwrap();
        assert!(one.apart.is_none() && one.levels[1].is_none() && one.levels[0].is_some());
        assert_eq!(one.apart_of[0], Lagged::default());
        assert!(fit_two_sheets([&half_of_it, &all[..8]], half).is_none());
        let line: Vec<[f64; 3]> = (-9..10)
            .map(|k| [0.5 * f64::from(k), 0.25 * f64::from(k), 0.0])
            .collect();
        assert!(fit_two_sheets([&line, &line], half).is_none());
    }

    /// The stated variance against that of 4,000 draws of white noise and 2,000 of noise that is alike over 3 mm.
    #[test]
    fn the_variance_is_that_of_the_draws() {
        let half = [5.0, 2.5];
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(7);
        let (p, q) = (places(50, half, &mut rng), places(70, half, &mut rng));
        let normal = |rng: &mut rand_chacha::ChaCha8Rng| -> f64 { StandardNormal.sample(rng) };
        for (model, draws) in [
            (NoiseModel::white(0.05), 4000),
            (NoiseModel::known(Kernel::Gaussian, 0.05, 3.0, 0.01), 2000),
        ] {
            let point = model.points[0];
            let noised = |p: &[[f64; 2]], rng: &mut rand_chacha::ChaCha8Rng| -> Vec<[f64; 3]> {
                let waves: Vec<[f64; 3]> = (0..200)
                    .map(|_| {
                        let k = 1.0 / point.range_mm;
                        [
                            normal(rng) * k,
                            normal(rng) * k,
                            rng.random::<f64>() * std::f64::consts::TAU,
                        ]
                    })
                    .collect();
                let white = point.white_var.sqrt();
                p.iter()
                    .map(|p| {
                        let sum: f64 = waves
                            .iter()
                            .map(|w| (w[0] * p[0] + w[1] * p[1] + w[2]).cos())
                            .sum();
                        let h = point.corr_var.sqrt() * sum * (2.0 / 200.0_f64).sqrt();
                        [p[0], p[1], h + white * normal(rng)]
                    })
                    .collect()
            };
            let (mut square, mut level, mut said) = (0.0, 0.0, [0.0; 2]);
            for _ in 0..draws {
                let two =
                    fit_two_sheets([&noised(&p, &mut rng), &noised(&q, &mut rng)], half).unwrap();
                square += two.apart.unwrap().powi(2);
                let first = two.levels[0].as_ref().unwrap();
                level += first.height.powi(2);
                let of = two.apart_of[0].clone().plus(&two.apart_of[1]);
                said = [
                    model.uncertainty(&of).s.powi(2),
                    model.uncertainty(&first.of).s.powi(2),
                ];
            }
            let n = f64::from(draws);
            for (found, said) in [(square / n, said[0]), (level / n, said[1])] {
                let ratio = (found / said).sqrt();
                assert!((0.94..1.06).contains(&ratio), "{ratio}");
            }
        }
    }
}
