//! Whole junctions: a twisted one of 400 mm, and a small one whose two sides differ by 0.6 deg.

use geom::{
    CellGrid, JunctionFace, JunctionFit, Kernel, LocalAxes, NoiseModel, NoisePatch, Point, Removed,
    Unit, Vector, t_quantile,
};
use rayon::prelude::*;

use super::fields::{Fields, Noise, SIDE, raster, rng, variance_about_quadric};
use super::{Tally, seeds};
use crate::coverage_openings::noised::Waves;

const DEG: f64 = std::f64::consts::PI / 180.0;
/// Cells of the long faces, mm: no multiple of the spacing, so that no row of readings lies along the border of cells
/// all the way, where the noise itself would decide which cell a reading counts for.
const CELL: f64 = 3.7;

/// A face along X that stands at `turn(s)` degrees, read every `step` mm over `columns` x `rows` places from t = 5 mm,
/// with heights `h` off it, in cells of `size` mm.
fn face(columns: usize, step: f64, size: f64, turn: impl Fn(f64) -> f64, h: &[f64]) -> CellGrid {
    let at = |k: usize| step * (k as f64 + 0.5);
    let middle = turn(0.5 * step * columns as f64) * DEG;
    let n = Unit::new_normalize(Vector::new(0.0, -middle.sin(), middle.cos()));
    let axes = LocalAxes::along(Point::origin(), &Vector::x(), n).expect("X lies in the face");
    let points: Vec<Point> = h
        .iter()
        .enumerate()
        .map(|(k, h)| {
            let (s, t) = (at(k % columns), 5.0 + at(k / columns));
            let (sin, cos) = (turn(s) * DEG).sin_cos();
            Point::new(s, t * cos - h * sin, t * sin + h * cos)
        })
        .collect();
    CellGrid::build(axes, size, &points).expect("finite points")
}

/// Fits the junction of two faces and hands it on with the noise model of its own tiles.
fn fit<R>(
    grids: &[CellGrid; 2],
    side: f64,
    removed: Removed,
    then: impl FnOnce(&JunctionFit, Vec<NoisePatch>) -> R,
) -> R {
    let covered = grids.each_ref().map(CellGrid::covered);
    let faces = [0, 1].map(|k| JunctionFace {
        cells: &grids[k],
        covered: &covered[k],
        outward: [-Vector::z(), -Vector::y()][k],
    });
    let start = Point::new(0.0, 1.0, -1.0);
    let along = Vector::new(1.0, 0.006, -0.008);
    let junction = JunctionFit::fit(faces, start, &along).expect("two faces");
    let tiles = grids
        .iter()
        .flat_map(|g| NoisePatch::tiles(g, side, removed))
        .collect();
    then(&junction, tiles)
}

/// The long junctions of one visit.
struct Visit {
    /// Errors with give-or-take, degrees, at the start and the end of the left and of the right junction.
    ends: [[(f64, f64); 2]; 2],
    /// p-value of the lack of fit of the left one.
    ruled_p: f64,
}

/// A visit to two junctions that open from 89.125 to 91.625 deg over 400 mm, from faces 60 mm wide read every 2 mm; the
/// noise model comes from the 24 tiles of its four faces and the scatter of single points about them, as that of a scan does.
fn visit(l: f64, seed: u64) -> Visit {
    let mut rng = rng(4, seed);
    let mut squares = 0.0;
    let mut noise = || -> Vec<f64> {
        let heights: Vec<f64> = raster(200, 30, 2.0, l, &mut rng)
            .iter()
            .map(|z| 0.05 * z)
            .collect();
        squares += variance_about_quadric(200, &heights);
        heights
    };
    let half = (1.25 * DEG).tan();
    let opens = move |s: f64| 90.375 + (half * (s / 200.0 - 1.0)).atan() / DEG;
    let mut side = || {
        [
            face(200, 2.0, CELL, |_| 0.0, &noise()),
            face(200, 2.0, CELL, opens, &noise()),
        ]
    };
    let (left, right) = (side(), side());
    let point_sd = (0.25_f64 * squares).sqrt();
    fit(&left, 60.0, Removed::Quadric, |left, mut tiles| {
        fit(&right, 60.0, Removed::Quadric, |right, more| {
            tiles.extend(more);
            let model = NoiseModel::estimate(&tiles)
                .expect("full tiles")
                .with_point_sd(point_sd, [60.0, 400.0]);
            let at = |j: &JunctionFit, s: f64, truth: f64| {
                let u = j.angle_uncertainty(s, &model, 0.0);
                ((j.angle(s) - truth * DEG) / DEG, u.u95 / DEG)
            };
            let ends = [left, right].map(|j| [at(j, 0.0, 89.125), at(j, 400.0, 91.625)]);
            let ruled_p = left.lack_of_fit(&model, 5).expect("full windows").p;
            Visit { ends, ruled_p }
        })
    })
}

fn long_junctions(l: f64) -> ([Tally; 2], f64) {
    let n = seeds();
    let runs: Vec<Visit> = (0..n).into_par_iter().map(|seed| visit(l, seed)).collect();
    let mut ends = [Tally::default(), Tally::default()];
    let mut unfit = 0.0;
    for run in runs {
        for (start, end) in run.ends.map(|[start, end]| (start, end)) {
            ends[0].add(start.0, start.1);
            ends[1].add(end.0, end.1);
        }
        if run.ruled_p < 0.05 {
            unfit += 100.0 / n as f64;
        }
    }
    for t in &ends {
        println!(
            "over {l} mm: root mean square {:.4} deg, mean {:+.4} deg, covered {:.1} % ({:.2}), give or take {:.3}",
            t.root_mean_square(),
            t.mean_error(),
            t.covered(),
            t.width(),
            t.rows.iter().map(|r| r.1).sum::<f64>() / t.rows.len() as f64,
        );
    }
    println!("over {l} mm: not ruled in {unfit:.1} %");
    (ends, unfit)
}

#[test]
fn ends_of_a_twisted_junction_under_white_noise() {
    let (ends, unfit) = long_junctions(0.0);
    for t in &ends {
        assert!(t.root_mean_square() <= 0.02);
        assert!((89.0..=99.5).contains(&t.covered()) && t.width() <= 1.6);
    }
    assert!(unfit <= 9.0);
}

#[test]
fn ends_of_a_twisted_junction_under_noise_over_three_millimetres() {
    let (ends, unfit) = long_junctions(3.0);
    for t in &ends {
        assert!(t.mean_error().abs() <= 0.01);
        assert!((89.0..=99.5).contains(&t.covered()) && t.width() <= 1.6);
    }
    assert!(unfit <= 9.0);
}

#[test]
fn ends_of_a_twisted_junction_under_noise_over_ten_millimetres() {
    let (ends, unfit) = long_junctions(10.0);
    for t in &ends {
        assert!(t.mean_error().abs() <= 0.03);
        assert!((89.0..=99.5).contains(&t.covered()) && t.width() <= 1.6);
    }
    assert!(unfit <= 9.0);
}

/// Faces of 300 x 55 mm that stand at right angles, in a field of noise over 10 mm that does not end at the bend: the square
/// of the error over its standard uncertainty, under the true noise, is 1 on average. Taken as two faces that
/// know nothing of each other it would be 1.3.
#[test]
fn noise_that_reaches_across_the_bend_is_reckoned_with() {
    let model = NoiseModel::known(Kernel::Gaussian, 0.05, 10.0, 0.0);
    let squares: Vec<[f64; 3]> = (0..seeds())
        .into_par_iter()
        .map(|seed| {
            let field = Waves::new(Kernel::Gaussian, 10.0, &mut rng(6, seed));
            let heights = |place: fn(f64, f64) -> Point, outward: f64| -> Vec<f64> {
                let at = |k: usize| 5.0 * (k as f64 + 0.5);
                (0..60 * 11)
                    .map(|k| outward * 0.05 * field.at(&place(at(k % 60), 5.0 + at(k / 60))))
                    .collect()
            };
            // Heights run along +z and, turned by 90 deg, along -y: outward is -z and -y.
            let grids = [
                face(
                    60,
                    5.0,
                    5.0,
                    |_| 0.0,
                    &heights(|s, t| Point::new(s, t, 0.0), -1.0),
                ),
                face(
                    60,
                    5.0,
                    5.0,
                    |_| 90.0,
                    &heights(|s, t| Point::new(s, 0.0, t), 1.0),
                ),
            ];
            fit(&grids, 55.0, Removed::Plane, |j, _| {
                [0.0, 150.0, 300.0].map(|s| {
                    let u = j.angle_uncertainty(s, &model, 0.0).s;
                    ((j.angle(s) - 90.0 * DEG) / u).powi(2)
                })
            })
        })
        .collect();
    for k in 0..3 {
        let mean = squares.iter().map(|s| s[k]).sum::<f64>() / squares.len() as f64;
        println!("across the bend, station {k}: mean square {mean:.3}");
        assert!((0.8..1.2).contains(&mean), "{mean}");
    }
}

/// Figures of a pair in which a difference is looked for.
const FIGURES: f64 = 30.0;

/// Percent of seeds in which a difference of 0.6 deg between two junctions is proven.
#[derive(Debug)]
struct Proven {
    /// At the named start, taken alone.
    start: f64,
    /// At mid length, taken alone.
    middle: f64,
    /// At mid length, as the strongest of thirty figures of a pair (Holm at 5 %): what the sentence "a difference is
    /// proven" about a pair asks for.
    pair: f64,
}

fn proven(noise: Noise) -> Proven {
    let fields = Fields::new(noise);
    let n = seeds();
    let runs: Vec<[bool; 3]> = (0..n)
        .into_par_iter()
        .map(|seed| {
            let mut rng = rng(5, seed);
            let mut side = |angle: f64| {
                [
                    face(SIDE, 1.0, 1.0, |_| 0.0, &fields.draw(&mut rng)),
                    face(SIDE, 1.0, 1.0, |_| angle, &fields.draw(&mut rng)),
                ]
            };
            let (left, right) = (side(90.6), side(90.0));
            let read = |grids: &[CellGrid; 2]| {
                fit(grids, SIDE as f64, Removed::Plane, |j, tiles| {
                    let at = [0.0, 15.0].map(|s| (j.angle(s), j.angle_lagged(s)));
                    (at, tiles)
                })
            };
            let ((l, mut tiles), (r, more)) = (read(&left), read(&right));
            tiles.extend(more);
            let model = NoiseModel::estimate(&tiles).expect("full tiles");
            let at = |k: usize| {
                let u = model.uncertainty(&l[k].1.clone().plus(&r[k].1));
                ((l[k].0 - r[k].0).abs(), u)
            };
            let (start, middle) = (at(0), at(1));
            let strict = t_quantile(1.0 - 0.025 / FIGURES, middle.1.nu) * middle.1.s;
            [
                start.0 > start.1.u95,
                middle.0 > middle.1.u95,
                middle.0 > strict,
            ]
        })
        .collect();
    let share = |k: usize| 100.0 * runs.iter().filter(|r| r[k]).count() as f64 / n as f64;
    let proven = Proven {
        start: share(0),
        middle: share(1),
        pair: share(2),
    };
    println!("0.6 deg under {noise:?}, percent: {proven:?}");
    proven
}

#[test]
fn six_tenths_of_a_degree_are_proven_under_white_noise_only() {
    let white = proven(Noise::White);
    assert!(white.start >= 90.0 && white.middle >= 90.0 && white.pair >= 90.0);
    let long = proven(Noise::One(Kernel::Gaussian, 10.0));
    assert!(long.pair <= 20.0);
    // Taken alone at mid length the give-or-take of exactly known noise is 0.525 deg, its standard uncertainty 0.268:
    // even that proves 0.6 deg in 61 % of cases. No rule that states the right width does much less.
    assert!(long.middle <= 65.0 && long.start <= 40.0);
}
