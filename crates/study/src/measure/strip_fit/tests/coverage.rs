//! How often the give-or-take of an offset of an edge, and of the shape of a left edge less a right one, holds the true value when the
//! noise is told from four faces of 30 x 30 mm.
//!
//! `UNMIRROR_SEEDS=2000 cargo test -p study offsets_and_shapes -- --nocapture` repeats it with more seeds and prints all.

use geom::{
    CellGrid, Kernel, LocalAxes, NoiseModel, NoisePatch, Point, Removed, SurfaceOrder, Unit,
    Vector, fit_surface, u95,
};
use nalgebra::{DMatrix, DVector};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use rayon::prelude::*;

use super::super::*;

/// Readings of a face and of a strip, a millimetre apart.
const FACE: [usize; 2] = [30, 30];
const STRIP: [usize; 2] = [60, 15];
/// From the edge to the first row of a strip, mm.
const FIRST: f64 = 3.0;

/// A source of noise on an even lattice: 0.05 mm of this correlation and 0.01 mm of white noise, or 0.05 mm of white noise.
struct Field {
    columns: usize,
    n: usize,
    factor: Option<DMatrix<f64>>,
}

impl Field {
    fn new(kind: Option<(Kernel, f64)>, [columns, rows]: [usize; 2]) -> Self {
        let n = columns * rows;
        let place = |k: usize| ((k % columns) as f64, (k / columns) as f64);
        let factor = kind.map(|(kernel, range)| {
            let covariance = DMatrix::from_fn(n, n, |i, j| {
                let ((a, b), (c, d)) = (place(i), place(j));
                let white = if i == j { 0.0001 } else { 0.0 };
                0.0025 * kernel.at((a - c).hypot(b - d), range) + white
            });
            covariance.cholesky().expect("it has a white part").l()
        });
        Self { columns, n, factor }
    }

    /// Column, row and height, mm.
    fn draw(&self, rng: &mut ChaCha8Rng) -> Vec<[f64; 3]> {
        let z = DVector::from_fn(self.n, |_, _| StandardNormal.sample(rng));
        let heights = match &self.factor {
            Some(l) => l * z,
            None => z * 0.05,
        };
        let at = |k: usize| ((k % self.columns) as f64, (k / self.columns) as f64);
        heights
            .iter()
            .enumerate()
            .map(|(k, h)| [at(k).0, at(k).1, *h])
            .collect()
    }
}

/// The noise of a visit of four faces.
fn noise(faces: &[Vec<[f64; 3]>]) -> StripNoise {
    let axes = LocalAxes::about(Point::origin(), Unit::new_unchecked(Vector::z()));
    let (mut patches, mut scatter) = (Vec::new(), Vec::new());
    for face in faces {
        let points: Vec<Point> = face
            .iter()
            .map(|[x, y, h]| axes.point(*x, *y, *h))
            .collect();
        let grid = CellGrid::build(axes, 1.0, &points).expect("finite points");
        let side = NoisePatch::side_for(&grid);
        patches.extend(NoisePatch::tiles(&grid, side, Removed::Plane));
        let fit = fit_surface(axes, &points, 2.0, SurfaceOrder::Quadric, 0.0);
        scatter.push(fit.expect("a full face").scatter);
    }
    scatter.sort_by(f64::total_cmp);
    let model = NoiseModel::estimate(&patches).expect("full patches");
    let side = FACE[0] as f64;
    StripNoise::new(&model.with_point_sd(scatter[scatter.len() / 2], [side; 2]))
}

/// An edge direction as it was fitted: its height at places along it (true: 0 everywhere), and their covariance.
struct Fitted {
    heights: DVector<f64>,
    covariance: DMatrix<f64>,
}

fn fitted(strip: &[[f64; 3]], sheet: Sheet, at: &[f64], noise: &StripNoise) -> Fitted {
    let length = STRIP[0] as f64;
    let readings: Vec<Reading> = strip
        .iter()
        .map(|[s, t, h]| Reading {
            s: s + 0.5,
            t: t + FIRST,
            h: *h,
        })
        .collect();
    let fit = StripFit::new(&readings, length, false, sheet).expect("900 readings");
    let rows = fit.basis().rows(at, 0);
    Fitted {
        heights: DVector::from_iterator(at.len(), at.iter().map(|s| fit.at_edge(*s))),
        covariance: &rows * fit.covariance(noise) * rows.transpose(),
    }
}

/// Errors and half-widths of a kind of figure.
#[derive(Clone, Debug, Default)]
struct Kind(Vec<(f64, f64)>);

impl Kind {
    /// A weighted sum of the differences of two sides.
    fn add(&mut self, weights: &DVector<f64>, sides: &[&Fitted], nu: f64) {
        let signs = [1.0, -1.0];
        let error: f64 = std::iter::zip(sides, signs)
            .map(|(f, sign)| sign * weights.dot(&f.heights))
            .sum();
        let variance: f64 = sides
            .iter()
            .map(|f| weights.dot(&(&f.covariance * weights)))
            .sum();
        self.0.push((error, u95(variance.sqrt(), nu)));
    }

    /// Percent covered, and mean half-width over the 95 % point of the errors.
    fn covered(&self) -> [f64; 2] {
        let n = self.0.len() as f64;
        let inside = self.0.iter().filter(|(e, u)| e.abs() <= *u).count() as f64;
        let mut errors: Vec<f64> = self.0.iter().map(|(e, _)| e.abs()).collect();
        errors.sort_by(f64::total_cmp);
        let point = errors[(errors.len() * 95).div_ceil(100) - 1];
        let mean = self.0.iter().map(|(_, u)| u).sum::<f64>() / n;
        [100.0 * inside / n, mean / point]
    }
}

#[test]
fn give_or_take_of_offsets_and_shapes_holds_for_noise_of_known_form() {
    let seeds: u64 = std::env::var("UNMIRROR_SEEDS")
        .map_or(200, |n| n.parse().expect("UNMIRROR_SEEDS is a number"));
    // Away from the ends, which an edge all round does not have.
    let at: Vec<f64> = (0..11).map(|k| 5.0 + 5.0 * f64::from(k)).collect();
    let one = |k: usize| DVector::from_fn(at.len(), |i, _| f64::from(u8::from(i == k)));
    // Wider or narrower all along, and bowed (the second Legendre polynomial).
    let shapes = [0, 2].map(|order| {
        let w = DVector::from_fn(at.len(), |i, _| {
            let x = (at[i] - 30.0) / 25.0;
            if order == 0 { 1.0 } else { 1.5 * x * x - 0.5 }
        });
        // Of a bow, what is left once the mean is taken out, which is another figure.
        let mean = if order == 0 { 0.0 } else { w.mean() };
        let w = w.add_scalar(-mean);
        let size = w.norm_squared();
        w / size
    });
    for (name, kind) in [
        ("white", None),
        ("Gaussian 3 mm", Some((Kernel::Gaussian, 3.0))),
        ("Gaussian 10 mm", Some((Kernel::Gaussian, 10.0))),
        ("exponential 3 mm", Some((Kernel::Exponential, 3.0))),
        ("Matern 5 mm", Some((Kernel::Matern, 5.0))),
    ] {
        let (face, strip) = (Field::new(kind, FACE), Field::new(kind, STRIP));
        let runs: Vec<[Kind; 4]> = (0..seeds)
            .into_par_iter()
            .map(|seed| {
                let mut rng = ChaCha8Rng::seed_from_u64(0x0571_0000 + seed);
                let faces: Vec<_> = (0..4).map(|_| face.draw(&mut rng)).collect();
                let noise = noise(&faces);
                let mut kinds: [Kind; 4] = Default::default();
                for sheet in [Sheet::Panel, Sheet::Flange] {
                    let [a, b] = [0, 1].map(|_| fitted(&strip.draw(&mut rng), sheet, &at, &noise));
                    for k in [2, 5, 8] {
                        kinds[0].add(&one(k), &[&a], noise.nu);
                        kinds[0].add(&one(k), &[&b], noise.nu);
                        kinds[1].add(&one(k), &[&a, &b], noise.nu);
                    }
                    for (k, shape) in shapes.iter().enumerate() {
                        kinds[2 + k].add(shape, &[&a, &b], noise.nu);
                    }
                }
                kinds
            })
            .collect();
        for (k, what) in ["offset", "left less right", "wider all along", "bow"]
            .into_iter()
            .enumerate()
        {
            let all = Kind(runs.iter().flat_map(|r| r[k].0.clone()).collect());
            let [covered, width] = all.covered();
            println!(
                "{name}, {what}: covered {covered:.1} %, width {width:.2} ({})",
                all.0.len()
            );
            assert!((89.0..=99.5).contains(&covered), "{name}, {what}");
            assert!(width <= 1.35, "{name}, {what}");
        }
    }
}
