//! Noise that neighbouring points share.
//!
//! White values on a periodic cube of lattice nodes, blurred along each axis by a Gaussian of standard deviation
//! l / sqrt 2, have the covariance exp(-h^2 / 2 l^2). The cube is turned at random against the car, so that no flat face
//! meets the same values twice.

use geom::{Point, Rigid, Vector};
use nalgebra::UnitQuaternion;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::StandardNormal;
use rayon::prelude::*;

/// Nodes along each axis of the cube.
const NODES: usize = 128;
/// Nodes per correlation range.
const PER_RANGE: f64 = 4.0;

/// A random function of place with mean 0, variance 1 and covariance exp(-h^2 / 2 l^2).
pub(crate) struct Field {
    values: Vec<f32>,
    nodes_from_mm: f64,
    lattice_from_space: Rigid,
    scale: f64,
}

impl Field {
    /// `range_mm` is l of the covariance exp(-h^2 / 2 l^2).
    pub fn new(seed: u64, range_mm: f64) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let q = nalgebra::Quaternion::new(
            rng.sample(StandardNormal),
            rng.sample(StandardNormal),
            rng.sample(StandardNormal),
            rng.sample(StandardNormal),
        );
        let shift = Vector::from_fn(|_, _| rng.random_range(0.0..1000.0));
        let white: u64 = rng.random();
        let mut values = vec![0f32; NODES * NODES * NODES];
        values
            .par_chunks_mut(NODES * NODES)
            .enumerate()
            .for_each(|(k, slab)| {
                let mut rng = ChaCha8Rng::seed_from_u64(white.wrapping_add(k as u64));
                for v in slab.iter_mut() {
                    *v = rng.sample(StandardNormal);
                }
            });
        let kernel = kernel();
        // Blur along the fastest axis, then turn the axes round; three times brings them back.
        for _ in 0..3 {
            values = blurred_and_turned(&values, &kernel);
        }
        // Between nodes the values are mixed linearly, which lowers the variance: on the average of a cell to
        // (2/3 + rho/3)^3, rho the correlation of neighbouring nodes.
        let rho = (-0.5 / (PER_RANGE * PER_RANGE)).exp();
        // The cube holds some thousand independent values only: its own mean square is a few percent off one.
        let square = values
            .chunks(NODES * NODES)
            .map(|slab| {
                slab.iter()
                    .map(|&v| f64::from(v) * f64::from(v))
                    .sum::<f64>()
            })
            .sum::<f64>()
            / values.len() as f64;
        Self {
            values,
            nodes_from_mm: PER_RANGE / range_mm,
            lattice_from_space: Rigid::from_parts(shift.into(), UnitQuaternion::from_quaternion(q)),
            scale: (2.0f64 / 3.0 + rho / 3.0).powf(-1.5) / square.sqrt(),
        }
    }

    /// Its value at a place, mm.
    pub fn at(&self, p: &Point) -> f64 {
        let q = (self.lattice_from_space * p) * self.nodes_from_mm;
        let cell = |x: f64| {
            let low = x.floor();
            let i = low.rem_euclid(NODES as f64) as usize % NODES;
            (i, (i + 1) % NODES, x - low)
        };
        let (x0, x1, fx) = cell(q.x);
        let (y0, y1, fy) = cell(q.y);
        let (z0, z1, fz) = cell(q.z);
        let v = |x: usize, y: usize, z: usize| f64::from(self.values[(z * NODES + y) * NODES + x]);
        let mix = |a: f64, b: f64, f: f64| a + (b - a) * f;
        let plane = |z: usize| {
            mix(
                mix(v(x0, y0, z), v(x1, y0, z), fx),
                mix(v(x0, y1, z), v(x1, y1, z), fx),
                fy,
            )
        };
        self.scale * mix(plane(z0), plane(z1), fz)
    }
}

/// Weights of the blur at -reach..=reach nodes, sum of squares 1.
fn kernel() -> Vec<f32> {
    let sd = PER_RANGE / std::f64::consts::SQRT_2;
    let reach = (4.0 * sd).ceil() as i32;
    let w: Vec<f64> = (-reach..=reach)
        .map(|k| (-0.5 * (f64::from(k) / sd).powi(2)).exp())
        .collect();
    let norm = w.iter().map(|w| w * w).sum::<f64>().sqrt();
    w.iter().map(|w| (w / norm) as f32).collect()
}

/// out(y, z, x) = sum over k of in(z, y, x + k) w(k).
fn blurred_and_turned(values: &[f32], kernel: &[f32]) -> Vec<f32> {
    let reach = kernel.len() / 2;
    let mut out = vec![0f32; values.len()];
    // Output slab x holds all (z, y): read rows, write columns. Slabs are blurred first, then gathered.
    let blurred: Vec<f32> = values
        .par_chunks(NODES)
        .flat_map_iter(|row| {
            let mut wide = Vec::with_capacity(NODES + 2 * reach);
            wide.extend_from_slice(&row[NODES - reach..]);
            wide.extend_from_slice(row);
            wide.extend_from_slice(&row[..reach]);
            (0..NODES)
                .map(move |x| {
                    kernel
                        .iter()
                        .zip(&wide[x..])
                        .map(|(w, v)| w * v)
                        .sum::<f32>()
                })
                .collect::<Vec<_>>()
        })
        .collect();
    out.par_chunks_mut(NODES * NODES)
        .enumerate()
        .for_each(|(x, slab)| {
            for (i, o) in slab.iter_mut().enumerate() {
                *o = blurred[i * NODES + x];
            }
        });
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn its_covariance_is_the_gaussian_one() {
        let l = 3.0;
        let f = Field::new(11, l);
        let mut rng = ChaCha8Rng::seed_from_u64(5);
        for h in [0.0f64, 1.5, 3.0, 6.0, 9.0] {
            let n = 60_000;
            let mut sum = 0.0;
            for _ in 0..n {
                let p = Point::from(Vector::from_fn(|_, _| rng.random_range(-400.0..400.0)));
                let d = Vector::from_fn(|_, _| rng.sample(StandardNormal)).normalize() * h;
                sum += f.at(&p) * f.at(&(p + d));
            }
            let found = sum / f64::from(n);
            let expected = (-0.5 * (h / l).powi(2)).exp();
            assert!((found - expected).abs() < 0.03, "{h}: {found} {expected}");
        }
    }
}
