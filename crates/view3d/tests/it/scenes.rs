//! Made-up scenes for the tests of this crate.

use geom::{Blocks, GoOn, Point, RawPoints, Vector};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use view3d::{Camera, Look, View};

pub const SHEET: [u8; 3] = [251, 252, 250];
pub const METAL: [u8; 3] = [205, 211, 209];
pub const INK: [u8; 3] = [20, 34, 43];

/// Paper, with no shading at all: colours come out as they were put in.
pub fn flat() -> Look {
    Look {
        lit: 0.0,
        shaded: 0.0,
        relief: 0.0,
        ..Look::calm(SHEET, [255; 3], INK)
    }
}

/// Paper.
pub fn paper() -> Look {
    Look::calm(SHEET, [255; 3], INK)
}

/// One millimetre per pixel, looking along Y: X to the right, Z up.
pub fn front(width: u32, height: u32) -> View {
    View {
        camera: Camera::along(Point::origin(), &Vector::y(), &Vector::z()),
        width,
        height,
    }
}

pub const GO: GoOn = &|| true;

/// A curved panel with an opening and a flange behind it: `n` points about `middle`, seeded.
pub fn panel(n: usize, middle: Point, seed: u64) -> Blocks {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut points = Vec::with_capacity(n);
    while points.len() < n {
        let (x, z): (f64, f64) = (
            rng.random_range(-100.0..100.0),
            rng.random_range(-80.0..80.0),
        );
        let r = x.hypot(z);
        let noise = rng.random_range(-0.05..0.05);
        if r > 45.0 {
            points.push([x, 0.002 * (x * x + z * z) + noise, z]);
        } else if rng.random_bool(0.3) {
            // The flange runs rearward from the edge.
            let a = z.atan2(x);
            let deep = rng.random_range(0.0..15.0);
            points.push([45.0 * a.cos(), 4.05 + deep, 45.0 * a.sin()]);
        }
    }
    let m = [middle.x, middle.y, middle.z];
    let points = points
        .into_iter()
        .map(|p| [p[0] + m[0], p[1] + m[1], p[2] + m[2]])
        .collect();
    Blocks::build(RawPoints::F64(points), 1.0, Vec::new(), Vec::new(), GO).unwrap()
}

/// Runs something on so many threads.
pub fn on_threads<T: Send>(n: usize, f: impl FnOnce() -> T + Send) -> T {
    rayon::ThreadPoolBuilder::new()
        .num_threads(n)
        .build()
        .unwrap()
        .install(f)
}
