//! Scans of the coach with noise of any kind: exact ones moved along their normals.

use std::sync::Arc;

use demo::{Coach, Scanner};
use geom::{Kernel, Point, RawPoints, Vector};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{ChiSquared, Distribution, StandardNormal};
use record::{LengthUnit, Measured, Quiet, RawScan, ScanId};

/// Waves of which a field is the sum.
const WAVES: usize = 300;

/// A random function of place with mean 0, variance 1 and the covariance of a kernel, as a sum of plane waves: where the
/// covariance is a normal density or one of Student's t over the wave numbers (Gaussian; exponential, 1 degree of freedom;
/// Matern 3/2, 3), those are drawn from it.
pub struct Waves(Vec<(Vector, f64)>);

impl Waves {
    pub fn new(kernel: Kernel, range_mm: f64, rng: &mut ChaCha8Rng) -> Self {
        let wave = |rng: &mut ChaCha8Rng| {
            let z = Vector::from_fn(|_, _| StandardNormal.sample(rng));
            let longer = |dof: f64, rng: &mut ChaCha8Rng| {
                let chi: f64 = ChiSquared::new(dof).expect("positive").sample(rng);
                (dof / chi).sqrt()
            };
            let by = match kernel {
                Kernel::Gaussian => 1.0,
                Kernel::Exponential => longer(1.0, rng),
                Kernel::Matern => longer(3.0, rng),
            };
            let phase: f64 = rand::RngExt::random::<f64>(rng) * std::f64::consts::TAU;
            (z * (by / range_mm), phase)
        };
        Self((0..WAVES).map(|_| wave(rng)).collect())
    }

    pub fn at(&self, p: &Point) -> f64 {
        let sum: f64 = self
            .0
            .iter()
            .map(|(k, f)| (k.dot(&p.coords) + f).cos())
            .sum();
        sum * (2.0 / WAVES as f64).sqrt()
    }
}

/// The job of a coach, measured on scans with 0.05 mm of noise of this kind and range (and 0.01 mm of white noise), or
/// of white noise. Clouds, which have no normals to be moved along, keep none.
pub fn measured(coach: Coach, points: usize, kind: Option<(Kernel, f64)>, seed: u64) -> Measured {
    let coach = coach.seen_by(Scanner {
        holes: 20,
        ..Scanner::exact()
    });
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let scans = coach
        .scans(points, &Quiet)
        .expect("never called off")
        .into_iter()
        .map(|s| (s.id, noised(s.raw, kind, &mut rng)))
        .collect::<Vec<(ScanId, RawScan)>>()
        .into_iter()
        .map(|(id, raw)| {
            let prepared = study::prepare(raw, LengthUnit::Millimetre, &Quiet);
            (id, Arc::new(prepared.expect("never called off")))
        })
        .collect();
    study::measure(&coach.job(), &scans, &mut study::Kept::default(), &Quiet)
        .expect("never called off")
}

fn noised(raw: RawScan, kind: Option<(Kernel, f64)>, rng: &mut ChaCha8Rng) -> RawScan {
    let exact =
        study::prepare(raw.clone(), LengthUnit::Millimetre, &Quiet).expect("not called off");
    if exact.blocks.is_empty() || exact.blocks.normal(0).is_none() {
        return raw;
    }
    let field = kind.map(|(kernel, range)| Waves::new(kernel, range, rng));
    let points = (0..exact.blocks.len() as u32)
        .map(|slot| {
            let p = exact.blocks.point(slot);
            let white: f64 = StandardNormal.sample(rng);
            let h = match &field {
                Some(f) => 0.05 * f.at(&p) + 0.01 * white,
                None => 0.05 * white,
            };
            let n = exact.blocks.normal(slot).expect("every point has one");
            (p + n * h).coords.into()
        })
        .collect();
    RawScan {
        points: RawPoints::F64(points),
        triangles: exact.triangles,
        colours: Vec::new(),
        normals: Vec::new(),
        ..raw
    }
}

#[test]
fn its_covariance_is_that_of_the_kernel() {
    for (k, kernel) in Kernel::ALL.into_iter().enumerate() {
        let mut rng = ChaCha8Rng::seed_from_u64(k as u64);
        for h in [0.0, 1.5, 3.0, 6.0] {
            let (n, mut sum) = (40_000, 0.0);
            for _ in 0..n / 100 {
                let f = Waves::new(kernel, 3.0, &mut rng);
                for j in 0..100 {
                    let p = Point::new(20.0 * f64::from(j), 0.0, 0.0);
                    sum += f.at(&p) * f.at(&(p + Vector::y() * h));
                }
            }
            let (found, expected) = (sum / f64::from(n), kernel.at(h, 3.0));
            assert!(
                (found - expected).abs() < 0.03,
                "{kernel:?} {h}: {found} {expected}"
            );
        }
    }
}
