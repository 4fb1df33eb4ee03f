//! Slopes and left-right differences of junction angles from faces of 30 x 30 mm.

use geom::{
    Kernel, Lagged, NoiseModel, NoisePatch, Removed, SurfaceOrder, Uncertain, fit_surface,
    repeat_scatter,
};
use rayon::prelude::*;

use super::fields::{Fields, Noise, SIDE, face, place, rng};
use super::{Tally, seeds};

/// Noise of one of the forms the model knows.
const KNOWN: [Noise; 5] = [
    Noise::White,
    Noise::One(Kernel::Gaussian, 3.0),
    Noise::One(Kernel::Gaussian, 10.0),
    Noise::One(Kernel::Exponential, 3.0),
    Noise::One(Kernel::Matern, 5.0),
];
/// Noise it does not know.
const UNKNOWN: [Noise; 2] = [Noise::Seam, Noise::TwoLengths];

/// Weights of the readings in the slope along u (or v, for `down`).
fn slope_weights(down: bool) -> Vec<f64> {
    let at = |k| if down { place(k).1 } else { place(k).0 };
    let all: f64 = (0..SIDE * SIDE).map(|k| at(k) * at(k)).sum();
    (0..SIDE * SIDE).map(|k| at(k) / all).collect()
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}

/// The slope as a functional, for one face and for the four of a left-right difference.
fn lagged() -> (Lagged, Lagged) {
    let one = Lagged::of(&face(&vec![0.0; SIDE * SIDE]), &slope_weights(false));
    let four = one.clone().plus(&one).plus(&one).plus(&one);
    (one, four)
}

fn model(faces: &[Vec<f64>]) -> NoiseModel {
    let patches: Vec<NoisePatch> = faces
        .iter()
        .flat_map(|h| NoisePatch::tiles(&face(h), SIDE as f64, Removed::Plane))
        .collect();
    let model = NoiseModel::estimate(&patches).expect("full patches");
    // As the program does: the scatter of single readings about the faces as they were fitted.
    let mut scatter: Vec<f64> = faces
        .iter()
        .map(|h| {
            let grid = face(h);
            let points: Vec<_> = grid
                .cells
                .iter()
                .map(|c| grid.axes.point(c.u, c.v, c.h))
                .collect();
            fit_surface(grid.axes, &points, 2.0, SurfaceOrder::Quadric, 0.0)
                .expect("a full face")
                .scatter
        })
        .collect();
    scatter.sort_by(f64::total_cmp);
    model.with_point_sd(scatter[scatter.len() / 2], [SIDE as f64; 2])
}

/// Coverage of the slopes and of the left-right difference when the noise model comes from `pool` faces (4 at least; the
/// first four make the figures), and how often the model says it cannot tell. The four slopes of a visit, in either
/// direction, make three independent differences: which of the four counts as left A, left B and so on is free.
fn cover(noise: Noise, pool: usize, seeds: u64) -> (Tally, Tally, f64) {
    let fields = Fields::new(noise);
    let (one, four) = lagged();
    let directions = [slope_weights(false), slope_weights(true)];
    let runs: Vec<_> = (0..seeds)
        .into_par_iter()
        .map(|seed| {
            let mut rng = rng(1, seed);
            let faces: Vec<_> = (0..pool).map(|_| fields.draw(&mut rng)).collect();
            let model = model(&faces);
            let slopes = directions
                .each_ref()
                .map(|w| [0, 1, 2, 3].map(|k| dot(w, &faces[k])));
            (slopes, model.uncertainty(&one), model.uncertainty(&four))
        })
        .collect();
    let (mut slope, mut difference, mut flagged) = (Tally::default(), Tally::default(), 0.0);
    for (slopes, u1, u4) in runs {
        for [a, b, c, d] in slopes {
            for x in [a, b, c, d] {
                slope.add(x, u1.u95);
            }
            for x in [a + b - c - d, a - b + c - d, a - b - c + d] {
                difference.add(x, u4.u95);
            }
        }
        if u4.cannot_tell() {
            flagged += 100.0 / seeds as f64;
        }
    }
    (slope, difference, flagged)
}

fn print_row(noise: Noise, pool: usize, (slope, difference, flagged): &(Tally, Tally, f64)) {
    println!(
        "{noise:?}, {pool} faces: slope {:.1} % ({:.2}), difference {:.1} % ({:.2}), cannot tell {flagged:.0} %",
        slope.covered(),
        slope.width(),
        difference.covered(),
        difference.width(),
    );
}

#[test]
fn give_or_take_of_an_angle_holds_for_noise_of_known_form() {
    for noise in KNOWN {
        let run = cover(noise, 4, seeds());
        print_row(noise, 4, &run);
        for tally in [&run.0, &run.1] {
            assert!((89.0..=99.5).contains(&tally.covered()), "{noise:?}");
            assert!(tally.width() <= 1.35, "{noise:?}");
        }
    }
}

#[test]
#[ignore = "long run: 16 faces"]
fn give_or_take_of_an_angle_from_sixteen_faces() {
    for noise in KNOWN {
        let run = cover(noise, 16, seeds());
        print_row(noise, 16, &run);
        assert!((92.0..=98.5).contains(&run.1.covered()), "{noise:?}");
        assert!(run.1.width() <= 1.2, "{noise:?}");
    }
    for noise in UNKNOWN {
        print_row(noise, 16, &cover(noise, 16, seeds()));
    }
}

/// The stated limit: the model alone falls short where noise is of a form it does not have, and ONE repeated scan,
/// which needs no model, does not.
#[test]
fn one_repeated_scan_holds_where_the_model_does_not_know_the_noise() {
    let (across, down) = (slope_weights(false), slope_weights(true));
    for noise in UNKNOWN {
        let alone = cover(noise, 4, seeds());
        print_row(noise, 4, &alone);
        let fields = Fields::new(noise);
        // Eight slopes of a visit, each scanned twice; the mean of both is the figure.
        let runs: Vec<Vec<[f64; 2]>> = (0..seeds())
            .into_par_iter()
            .map(|seed| {
                let mut rng = rng(2, seed);
                (0..4)
                    .flat_map(|_| {
                        let scans = [fields.draw(&mut rng), fields.draw(&mut rng)];
                        [&across, &down].map(|w| [dot(w, &scans[0]), dot(w, &scans[1])])
                    })
                    .collect()
            })
            .collect();
        let mut repeated = Tally::default();
        for figures in &runs {
            let one = repeat_scatter(figures.iter().map(|f| &f[..])).expect("read twice");
            assert_eq!(one.nu, 8.0);
            let mean = Uncertain::new(one.s / 2_f64.sqrt(), one.nu);
            for f in figures {
                repeated.add(0.5 * (f[0] + f[1]), mean.u95);
            }
        }
        println!(
            "{noise:?}, repeated: {:.1} % ({:.2})",
            repeated.covered(),
            repeated.width()
        );
        assert!(repeated.covered() >= 92.0, "{noise:?}");
    }
}
