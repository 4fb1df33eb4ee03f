//! Noise of known form on faces of 30 x 30 mm read every millimetre, and on longer faces.

use geom::{CellGrid, Kernel, LocalAxes, Point, Unit, Vector};
use nalgebra::{DMatrix, DVector};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

/// Readings along one side of the small face.
pub const SIDE: usize = 30;

/// A kind of noise, 0.05 mm in all unless said.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Noise {
    White,
    /// Correlated over the range (mm), and 0.01 mm white.
    One(Kernel, f64),
    /// 0.04 mm over 2 mm, 0.03 mm over 15 mm, 0.01 mm white: two lengths at once, which no candidate of the model has.
    TwoLengths,
    /// 0.05 mm white and a step of 0.1 mm along a straight line somewhere across the face, where two sweeps of the
    /// scanner meet: not stationary at all.
    Seam,
}

/// A source of such noise on the small face.
pub struct Fields {
    noise: Noise,
    /// Cholesky factor of the covariance.
    factor: Option<DMatrix<f64>>,
}

impl Fields {
    pub fn new(noise: Noise) -> Self {
        let factor = match noise {
            Noise::White | Noise::Seam => None,
            Noise::One(kernel, l) => Some(factor(|h| 0.0025 * kernel.at(h, l) + white(h, 0.01))),
            Noise::TwoLengths => Some(factor(|h| {
                let g = |sd: f64, l| sd * sd * Kernel::Gaussian.at(h, l);
                g(0.04, 2.0) + g(0.03, 15.0) + white(h, 0.01)
            })),
        };
        Self { noise, factor }
    }

    /// One face, row by row, mm.
    pub fn draw(&self, rng: &mut ChaCha8Rng) -> Vec<f64> {
        let z = DVector::from_fn(SIDE * SIDE, |_, _| normal(rng));
        if let Some(l) = &self.factor {
            return lower_times(l, &z);
        }
        let mut h: Vec<f64> = z.iter().map(|z| 0.05 * z).collect();
        if self.noise == Noise::Seam {
            let turn = rng.random_range(0.0..std::f64::consts::TAU);
            let (c, s) = (turn.cos(), turn.sin());
            let off = rng.random_range(-10.0..10.0);
            for (k, h) in h.iter_mut().enumerate() {
                let (u, v) = place(k);
                if u * c + v * s > off {
                    *h += 0.1;
                }
            }
        }
        h
    }
}

/// (u, v) of reading k about the middle of the face, mm.
pub fn place(k: usize) -> (f64, f64) {
    let mid = 0.5 * (SIDE - 1) as f64;
    ((k % SIDE) as f64 - mid, (k / SIDE) as f64 - mid)
}

/// The small face with these heights as cell means.
pub fn face(h: &[f64]) -> CellGrid {
    let axes = LocalAxes::about(Point::origin(), Unit::new_unchecked(Vector::z()));
    let points: Vec<Point> = h
        .iter()
        .enumerate()
        .map(|(k, h)| {
            let (u, v) = place(k);
            axes.point(u, v, *h)
        })
        .collect();
    CellGrid::build(axes, 1.0, &points).expect("900 finite points")
}

/// Generator of one seed of one experiment.
pub fn rng(experiment: u64, seed: u64) -> ChaCha8Rng {
    ChaCha8Rng::seed_from_u64(1_000_003 * experiment + seed)
}

pub fn normal(rng: &mut ChaCha8Rng) -> f64 {
    StandardNormal.sample(rng)
}

fn white(h: f64, sd: f64) -> f64 {
    if h == 0.0 { sd * sd } else { 0.0 }
}

fn factor(covariance: impl Fn(f64) -> f64) -> DMatrix<f64> {
    let n = SIDE * SIDE;
    DMatrix::from_fn(n, n, |i, j| {
        let ((a, b), (c, d)) = (place(i), place(j));
        covariance((a - c).hypot(b - d))
    })
    .cholesky()
    .expect("a covariance with a white part")
    .l()
}

/// L z for lower triangular L.
fn lower_times(l: &DMatrix<f64>, z: &DVector<f64>) -> Vec<f64> {
    let n = z.len();
    let mut out = vec![0.0; n];
    for j in 0..n {
        for (o, x) in out[j..].iter_mut().zip(&l.column(j).as_slice()[j..]) {
            *o += x * z[j];
        }
    }
    out
}

/// Noise of standard deviation 1 on a raster of `columns` x `rows`, `step` mm apart: white for `l` = 0, else correlated
/// as exp(-h^2 / 2 l^2), by a moving average with Gaussian weights of width l / sqrt(2).
pub fn raster(columns: usize, rows: usize, step: f64, l: f64, rng: &mut ChaCha8Rng) -> Vec<f64> {
    if l == 0.0 {
        return (0..columns * rows).map(|_| normal(rng)).collect();
    }
    let reach = (4.0 * l / step).ceil() as usize;
    let mut weights: Vec<f64> = (0..=2 * reach)
        .map(|k| (-((k as f64 - reach as f64) * step / l).powi(2)).exp())
        .collect();
    let size = weights.iter().map(|w| w * w).sum::<f64>().sqrt();
    for w in &mut weights {
        *w /= size;
    }
    let (wide, high) = (columns + 2 * reach, rows + 2 * reach);
    let z: Vec<f64> = (0..wide * high).map(|_| normal(rng)).collect();
    let mut along = vec![0.0; columns * high];
    for j in 0..high {
        for i in 0..columns {
            let row = &z[j * wide + i..];
            along[j * columns + i] = weights.iter().zip(row).map(|(w, z)| w * z).sum();
        }
    }
    let mut out = vec![0.0; columns * rows];
    for j in 0..rows {
        for (k, w) in weights.iter().enumerate() {
            let row = &along[(j + k) * columns..(j + k + 1) * columns];
            for (o, z) in out[j * columns..(j + 1) * columns].iter_mut().zip(row) {
                *o += w * z;
            }
        }
    }
    out
}

/// Variance of the heights of a raster about the quadric fitted to them.
pub fn variance_about_quadric(columns: usize, heights: &[f64]) -> f64 {
    let n = heights.len();
    let off = |k: usize, of: usize| 2.0 * k as f64 / (of - 1) as f64 - 1.0;
    let design = DMatrix::from_fn(n, 6, |i, term| {
        let (u, v) = (off(i % columns, columns), off(i / columns, n / columns));
        [1.0, u, v, u * u, u * v, v * v][term]
    });
    let h = DVector::from_column_slice(heights);
    let normal = design.tr_mul(&design).cholesky().expect("six terms");
    let rest = &h - &design * normal.solve(&design.tr_mul(&h));
    rest.norm_squared() / (n - 6) as f64
}
