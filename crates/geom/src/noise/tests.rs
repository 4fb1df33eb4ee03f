use super::*;
use crate::{CellGrid, LocalAxes, NoisePatch, Point, Removed, Unit, Vector};
use approx::{assert_abs_diff_eq, assert_relative_eq};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

/// A face of `w` x `h` points, 1 mm apart, with heights from `f`.
fn face(w: usize, h: usize, mut f: impl FnMut(usize) -> f64) -> CellGrid {
    let axes = LocalAxes::about(Point::origin(), Unit::new_unchecked(Vector::z()));
    let points: Vec<_> = (0..w * h)
        .map(|k| axes.point((k % w) as f64, (k / w) as f64, f(k)))
        .collect();
    CellGrid::build(axes, 1.0, &points).unwrap()
}

/// The slope along u.
fn slope(grid: &CellGrid) -> Lagged {
    let mid = grid.cells.iter().map(|c| c.u).sum::<f64>() / grid.cells.len() as f64;
    let all: f64 = grid.cells.iter().map(|c| (c.u - mid).powi(2)).sum();
    let b: Vec<_> = grid.cells.iter().map(|c| (c.u - mid) / all).collect();
    Lagged::of(grid, &b)
}

fn normal(rng: &mut ChaCha8Rng) -> f64 {
    StandardNormal.sample(rng)
}

#[test]
fn difference_of_two_junctions_from_faces_of_30_mm() {
    // 0.05 mm, four faces of 30 x 30 mm, readings 1 mm apart.
    let one = slope(&face(30, 30, |_| 0.0));
    let four = one.clone().plus(&one).plus(&one).plus(&one);
    let u95 = |model: NoiseModel| model.uncertainty(&four).u95.to_degrees();
    assert_abs_diff_eq!(u95(NoiseModel::white(0.05)), 0.0432, epsilon = 1e-4);
    let gauss = |l| NoiseModel::known(Kernel::Gaussian, 0.05, l, 0.0);
    assert_abs_diff_eq!(u95(gauss(3.0)), 0.2731, epsilon = 1e-4);
    assert_abs_diff_eq!(u95(gauss(10.0)), 0.5251, epsilon = 1e-4);
}

#[test]
fn white_noise_is_found_and_its_size_is_per_point() {
    let mut rng = ChaCha8Rng::seed_from_u64(11);
    let mut patches = Vec::new();
    // Half of the faces have a quarter of the points: the size per point stays the same.
    for k in 0..16 {
        let mut grid = face(60, 60, |_| 0.05 * normal(&mut rng));
        if k % 2 == 1 {
            grid.cells.retain(|c| c.i % 2 == 0 && c.j % 2 == 0);
            let points: Vec<_> = grid
                .cells
                .iter()
                .map(|c| grid.axes.point(c.u, c.v, c.h))
                .collect();
            grid = CellGrid::build(grid.axes, 2.0, &points).unwrap();
        }
        patches.extend(NoisePatch::tiles(&grid, 60.0, Removed::Plane));
    }
    assert_eq!(patches.len(), 16);
    let model = NoiseModel::estimate(&patches).unwrap();
    assert_eq!(model.dof, 16.0 * 22.0);
    assert_eq!(model.side_mm, 60.0);
    assert_abs_diff_eq!(
        model.points.iter().map(|p| p.weight).sum::<f64>(),
        1.0,
        epsilon = 1e-12
    );
    let found = model.uncertainty(&slope(&face(60, 60, |_| 0.0)));
    let want = NoiseModel::white(0.05).uncertainty(&slope(&face(60, 60, |_| 0.0)));
    assert_relative_eq!(found.s, want.s, max_relative = 0.12);
    assert!(found.nu > 10.0 && !found.cannot_tell(), "{found:?}");
}

#[test]
fn long_waves_are_told_to_be_unseen() {
    // A wave of 200 mm over patches of 30 mm: bows of random size, all alike in form.
    let mut rng = ChaCha8Rng::seed_from_u64(5);
    let patches: Vec<_> = (0..8)
        .flat_map(|_| {
            let (a, b, c) = (normal(&mut rng), normal(&mut rng), normal(&mut rng));
            let grid = face(30, 30, |k| {
                let (x, y) = ((k % 30) as f64 / 30.0 - 0.5, (k / 30) as f64 / 30.0 - 0.5);
                0.1 * (a * x * x + b * x * y + c * y * y) + 1e-4 * normal(&mut rng)
            });
            NoisePatch::tiles(&grid, 30.0, Removed::Plane)
        })
        .collect();
    let model = NoiseModel::estimate(&patches).unwrap();
    let u = model.uncertainty(&slope(&face(30, 30, |_| 0.0)));
    assert!(u.cannot_tell(), "{u:?}");
    let floor = NoiseModel::floor(0.05, 30.0);
    assert_relative_eq!(floor.s, 0.05 * 12_f64.sqrt() / 30.0, epsilon = 1e-12);
    assert!(u.at_least(floor).u95 >= u.u95 && u.at_least(floor).cannot_tell());
}

#[test]
fn long_faces_are_cut_into_tiles_and_bows_are_taken_off() {
    let grid = face(300, 60, |k| 1e-4 * ((k % 300) as f64).powi(2));
    let tiles = NoisePatch::tiles(&grid, NoisePatch::side_for(&grid), Removed::Quadric);
    assert_eq!(tiles.len(), 5);
    for t in &tiles {
        assert_eq!(t.cells.len(), 25);
        assert!(
            t.cells
                .iter()
                .all(|c| c.count == 144.0 && c.mean.abs() < 1e-9)
        );
    }
    // A hole over a third of one tile leaves it out; a corner cut off does not.
    let mut holed = grid.clone();
    holed
        .cells
        .retain(|c| !(c.i < 50 && c.j < 36) && c.i + c.j < 345);
    assert_eq!(NoisePatch::tiles(&holed, 60.0, Removed::Plane).len(), 4);
}

#[test]
fn no_noise_is_no_noise_and_nothing_is_nothing() {
    assert_eq!(NoiseModel::estimate(&[]), None);
    let cells = (0..25)
        .map(|k| crate::PatchCell {
            i: k % 5,
            j: k / 5,
            count: 9.0,
            mean: 0.0,
        })
        .collect();
    let flat = NoisePatch {
        side_mm: 20.0,
        removed: Removed::Plane,
        cells,
    };
    let model = NoiseModel::estimate(&[flat]).unwrap();
    let u = model.uncertainty(&slope(&face(30, 30, |_| 0.0)));
    assert_eq!((u.s, u.u95), (0.0, 0.0));
}

#[test]
fn sizes_scale_and_parts_combine() {
    let mut rng = ChaCha8Rng::seed_from_u64(3);
    let mut patches = Vec::new();
    for _ in 0..4 {
        let grid = face(30, 30, |_| normal(&mut rng));
        patches.extend(NoisePatch::tiles(&grid, 30.0, Removed::Plane));
    }
    let f = slope(&face(30, 30, |_| 0.0));
    let one = NoiseModel::estimate(&patches).unwrap().uncertainty(&f);
    for p in &mut patches {
        for c in &mut p.cells {
            c.mean *= 1e-3;
        }
    }
    let small = NoiseModel::estimate(&patches).unwrap().uncertainty(&f);
    assert_relative_eq!(small.s, 1e-3 * one.s, max_relative = 1e-9);
    assert_relative_eq!(small.nu, one.nu, max_relative = 1e-6);
    let sum = Uncertain::combined(&[
        Uncertain::new(3.0, f64::INFINITY),
        Uncertain::new(4.0, 10.0),
    ]);
    assert_relative_eq!(sum.s, 5.0);
    assert_relative_eq!(sum.nu, 625.0 / 25.6, epsilon = 1e-9);
}

#[test]
fn covariance_table_is_the_mean_over_candidates() {
    let mut model = NoiseModel::known(Kernel::Gaussian, 0.04, 10.0, 0.02);
    model.points[0].weight = 0.5;
    model.points.push(NoisePoint {
        weight: 0.5,
        corr_var: 0.0,
        ..model.points[0]
    });
    let table = model.covariance_table(5.0, 3);
    assert_abs_diff_eq!(table[0], 0.0008, epsilon = 1e-15);
    assert_abs_diff_eq!(table[2], 0.0008 * (-0.5_f64).exp(), epsilon = 1e-15);
    assert_abs_diff_eq!(model.white_var(), 0.0004, epsilon = 1e-15);
}
