//! Plain timings of the fits: `cargo bench -p geom --bench fits`. The best of five runs, one thread.

use std::hint::black_box;
use std::time::Instant;

use geom::{CellGrid, LocalAxes, Point, SurfaceOrder, Unit, Vector, fit_surface};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, Normal};

fn timed<T>(what: &str, mut run: impl FnMut() -> T) {
    let mut best = f64::INFINITY;
    for _ in 0..5 {
        let start = Instant::now();
        black_box(run());
        best = best.min(start.elapsed().as_secs_f64());
    }
    println!("{what:<60} {:>10.3} ms", 1e3 * best);
}

/// A face of 100 x 60 mm, noise 0.05 mm, `stray` of the points up to 20 mm off.
fn face(n: usize, stray: f64) -> (LocalAxes, Vec<Point>) {
    let axes = LocalAxes::about(
        Point::new(900.0, -650.0, 700.0),
        Unit::new_normalize(Vector::new(0.1, -0.9, 0.4)),
    );
    let mut rng = ChaCha8Rng::seed_from_u64(1);
    let noise = Normal::new(0.0, 0.05).expect("a positive sd");
    let points = (0..n)
        .map(|_| {
            let (u, v) = (rng.random_range(-50.0..50.0), rng.random_range(-30.0..30.0));
            let off = if rng.random_bool(stray) {
                rng.random_range(-20.0..20.0)
            } else {
                noise.sample(&mut rng)
            };
            axes.point(u, v, 0.02 * u + off)
        })
        .collect();
    (axes, points)
}

fn main() {
    for stray in [0.0, 0.4] {
        let (axes, points) = face(1_000_000, stray);
        timed("cell grid, 1 M points, 2 mm cells", || {
            CellGrid::build(axes, 2.0, &points)
        });
        for order in [SurfaceOrder::Plane, SurfaceOrder::Quadric] {
            timed(
                &format!("robust {order:?}, 1 M points, {stray} stray, 2 mm cells"),
                || fit_surface(axes, &points, 2.0, order, 0.02),
            );
        }
        let (axes, points) = face(20_000, stray);
        for order in [SurfaceOrder::Plane, SurfaceOrder::Quadric] {
            timed(
                &format!("robust {order:?}, 20 k points, {stray} stray, 2 mm cells"),
                || fit_surface(axes, &points, 2.0, order, 0.02),
            );
        }
    }
}
