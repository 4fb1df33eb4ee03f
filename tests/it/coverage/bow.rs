//! False alarms and power of the curvature test on faces of 30 x 30 mm.

use geom::{Curvature, Kernel, NoiseModel, NoisePatch, Removed};
use rayon::prelude::*;

use super::fields::{Fields, Noise, SIDE, face, place, rng};
use super::seeds;

/// Share (percent) of faces called curved at 5 %, with faces bent to `radius` mm, the noise from 16 faces.
fn called_curved(noise: Noise, radius: f64, seeds: u64) -> f64 {
    let fields = Fields::new(noise);
    let covered = vec![1.0; SIDE * SIDE];
    let called: Vec<f64> = (0..seeds)
        .into_par_iter()
        .map(|seed| {
            let mut rng = rng(3, seed);
            let faces: Vec<_> = (0..16)
                .map(|_| {
                    let mut h = fields.draw(&mut rng);
                    for (k, h) in h.iter_mut().enumerate() {
                        *h += place(k).0.powi(2) / (2.0 * radius);
                    }
                    face(&h)
                })
                .collect();
            let patches: Vec<_> = faces
                .iter()
                .flat_map(|f| NoisePatch::tiles(f, SIDE as f64, Removed::Quadric))
                .collect();
            let model = NoiseModel::estimate(&patches).expect("full patches");
            let curved = faces[..4]
                .iter()
                .filter(|f| Curvature::test(f, &covered, &model).expect("a full face").p < 0.05)
                .count();
            25.0 * curved as f64
        })
        .collect();
    called.iter().sum::<f64>() / seeds as f64
}

#[test]
fn flat_faces_are_seldom_called_curved_and_curved_ones_mostly() {
    let seeds = seeds() / 4;
    for (noise, most, least) in [
        (Noise::White, 9.0, 95.0),
        (Noise::One(Kernel::Gaussian, 3.0), 12.0, 85.0),
        (Noise::One(Kernel::Gaussian, 10.0), 12.0, 60.0),
    ] {
        let flat = called_curved(noise, f64::INFINITY, seeds);
        let bent = called_curved(noise, 500.0, seeds);
        println!("{noise:?}: flat called curved {flat:.1} %, radius 500 mm {bent:.1} %");
        assert!(flat <= most && bent >= least, "{noise:?}");
    }
}
