mod coverage;

use super::*;
use rand::{RngExt, SeedableRng};
use rand_distr::{Distribution, StandardNormal};

/// A random function of place with the covariance of `model`'s only candidate, as a sum of 200 plane waves.
fn waves(p: &geom::NoisePoint, rng: &mut rand_chacha::ChaCha8Rng) -> Vec<[f64; 3]> {
    let dof = match p.kernel {
        geom::Kernel::Gaussian => f64::INFINITY,
        geom::Kernel::Exponential => 1.0,
        geom::Kernel::Matern => 3.0,
    };
    (0..200)
        .map(|_| {
            let z: [f64; 2] = std::array::from_fn(|_| StandardNormal.sample(rng));
            let by = if dof.is_finite() {
                let chi: f64 = rand_distr::ChiSquared::new(dof).unwrap().sample(rng);
                (dof / chi).sqrt()
            } else {
                1.0
            };
            let k = by / p.range_mm;
            [
                z[0] * k,
                z[1] * k,
                rng.random::<f64>() * std::f64::consts::TAU,
            ]
        })
        .collect()
}

/// Noise of known size: the edge lies where its uncertainty says, no wider and no narrower. 40 seeds, 80 places
/// each (about 1,500 independent ones for white noise, 500 for waves of 10 mm).
#[test]
fn errors_are_as_large_as_stated() {
    use geom::{Kernel, NoiseModel};
    for (name, model) in [
        ("white", NoiseModel::white(0.05)),
        (
            "Gaussian 3",
            NoiseModel::known(Kernel::Gaussian, 0.05, 3.0, 0.01),
        ),
        (
            "Gaussian 10",
            NoiseModel::known(Kernel::Gaussian, 0.05, 10.0, 0.01),
        ),
        (
            "exponential 3",
            NoiseModel::known(Kernel::Exponential, 0.05, 3.0, 0.01),
        ),
        (
            "Matern 5",
            NoiseModel::known(Kernel::Matern, 0.05, 5.0, 0.01),
        ),
    ] {
        let noise = StripNoise::new(&model);
        let p = model.points[0];
        for sheet in [Sheet::Panel, Sheet::Flange] {
            let mut ratio = Vec::new();
            for seed in 0..40 {
                let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(seed);
                let waves = waves(&p, &mut rng);
                let readings: Vec<Reading> = (0..1378)
                    .map(|_| {
                        let white: f64 = StandardNormal.sample(&mut rng);
                        let (s, t) = (
                            rng.random::<f64>() * 400.0,
                            2.6 + rng.random::<f64>() * 12.4,
                        );
                        let sum: f64 = waves
                            .iter()
                            .map(|w| (w[0] * s + w[1] * t + w[2]).cos())
                            .sum();
                        let correlated =
                            p.corr_var.sqrt() * sum * (2.0 / waves.len() as f64).sqrt();
                        Reading {
                            s,
                            t,
                            h: correlated + p.white_var.sqrt() * white,
                        }
                    })
                    .collect();
                let fit = StripFit::new(&readings, 400.0, false, sheet).unwrap();
                let (basis, covariance) = (fit.basis(), fit.covariance(&noise));
                ratio.extend((0..80).map(|k| {
                    let s = 5.0 * f64::from(k);
                    let row = basis.rows(&[s], 0);
                    fit.at_edge(s) / (&row * &covariance * row.transpose())[0].sqrt()
                }));
            }
            let square = ratio.iter().map(|z| z * z).sum::<f64>() / ratio.len() as f64;
            // The doubt of the stiffness makes it about a twentieth wider than white noise alone asks for.
            assert!(
                (0.88..1.06).contains(&square.sqrt()),
                "{name} {sheet:?}: {}",
                square.sqrt()
            );
        }
    }
}
