//! How long pictures and picks take: `cargo bench -p view3d [-- POINTS...]`, a seeded scan, 1280 x 800.
//!
//! Wall time, and processor time of all threads (Linux), which tells more on a machine that does other things too.

use std::hint::black_box;
use std::time::{Duration, Instant};

use geom::{Blocks, Point, RawPoints, Unit, Vector};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use view3d::{
    Budget, Camera, Line, Look, Object, Points, Progressive, Scene, Shape, Sliced, View, draw, pick,
};

fn main() {
    let asked: Vec<usize> = std::env::args().filter_map(|a| a.parse().ok()).collect();
    let sizes = if asked.is_empty() {
        vec![500_000, 2_000_000, 10_000_000]
    } else {
        asked
    };
    for n in sizes {
        println!("{n} points, {} threads", rayon::current_num_threads());
        let blocks = scan(n);
        measure(&blocks);
    }
}

/// A body side of 2.4 x 1.2 m, bulged, with an opening and flanges, seen from both sides in places.
fn scan(n: usize) -> Blocks {
    let mut rng = ChaCha8Rng::seed_from_u64(17);
    let points = (0..n)
        .map(|_| {
            let (x, z): (f32, f32) = (
                rng.random_range(-1200.0..1200.0),
                rng.random_range(-600.0..600.0),
            );
            let bulge = 120.0 * ((x / 1200.0).powi(2) + (z / 600.0).powi(2));
            let noise = rng.random_range(-0.08..0.08);
            let thick = if rng.random_bool(0.2) { 1.0 } else { 0.0 };
            [x, bulge + noise + thick, z]
        })
        .collect();
    Blocks::build(RawPoints::F32(points), 1.0, Vec::new(), Vec::new(), &|| {
        true
    })
    .expect("nobody stops it")
}

/// Processor time of the whole process so far, ms; `None` where the system does not say.
fn processor_ms() -> Option<f64> {
    let stat = std::fs::read_to_string("/proc/self/stat").ok()?;
    let after = stat.rsplit_once(')')?.1;
    let field = |i: usize| after.split_whitespace().nth(i)?.parse::<f64>().ok();
    // Ticks of 10 ms, user and system.
    Some(10.0 * (field(11)? + field(12)?))
}

fn percentile(times: &mut [Duration], share: f64) -> f64 {
    times.sort_unstable();
    let i = ((times.len() - 1) as f64 * share).round() as usize;
    1e3 * times[i].as_secs_f64()
}

fn report(what: &str, times: &mut [Duration], processor: Option<f64>) {
    let n = times.len() as f64;
    let cpu = processor.map_or(String::new(), |p| format!("   processor {:.1}", p / n));
    println!(
        "  {what:<44} ms: least {:>8.2} median {:>8.2} p95 {:>8.2}{cpu}",
        percentile(times, 0.0),
        percentile(times, 0.5),
        percentile(times, 0.95),
    );
}

fn timed(runs: usize, mut f: impl FnMut(usize)) -> (Vec<Duration>, Option<f64>) {
    let before = processor_ms();
    let times = (0..runs)
        .map(|i| {
            let t = Instant::now();
            f(i);
            t.elapsed()
        })
        .collect();
    let spent = processor_ms().zip(before).map(|(b, a)| b - a);
    (times, spent)
}

fn measure(blocks: &Blocks) {
    let look = Look::calm([251, 252, 250], [255; 3], [20, 34, 43]);
    let ring: Vec<Point> = (0..2000)
        .map(|i| {
            let a = f64::from(i) * std::f64::consts::TAU / 2000.0;
            Point::new(200.0 * a.cos(), 0.0, 200.0 * a.sin())
        })
        .collect();
    let scene = Scene {
        objects: vec![
            Object::new(Shape::Points(Points::new(blocks, [214, 220, 217]))),
            Object::new(Shape::Line(
                Line::new(&ring, true, [10, 90, 150]).dashed(9.0, 3.0),
            )),
        ],
    };
    let camera = Camera::along(Point::origin(), &Vector::new(0.3, 1.0, -0.2), &Vector::z())
        .fitted_to(&blocks.bounds(), (1280, 800), 20.0);
    let view = View {
        camera,
        width: 1280,
        height: 800,
    };
    let up = Unit::new_normalize(Vector::z());
    let turned = |i: usize, zoom: f64| View {
        camera: camera
            .zoomed(zoom, 50.0, 30.0)
            .turned(0.02 * i as f64, 0.0, &Point::origin(), &up),
        ..view
    };
    let mut progressive = Progressive::new();
    for zoom in [1.0, 6.0] {
        let (mut times, cpu) = timed(60, |i| {
            black_box(progressive.moving(&scene, turned(i, zoom), look));
        });
        report(&format!("moving, zoom {zoom}"), &mut times, cpu);
    }
    let (mut times, cpu) = timed(5, |i| {
        black_box(draw(&scene, turned(i, 1.0), look));
    });
    report("full density in one call", &mut times, cpu);
    for zoom in [1.0, 6.0] {
        let mut slices = Vec::new();
        let (mut times, cpu) = timed(5, |i| {
            progressive.begin(turned(i, zoom), look);
            loop {
                let t = Instant::now();
                let go_on = || t.elapsed() < Duration::from_millis(9);
                let budget = Budget {
                    work: usize::MAX,
                    go_on: &go_on,
                };
                let done = progressive.slice(&scene, &budget);
                slices.push(t.elapsed());
                if done == Sliced::Done {
                    break;
                }
            }
        });
        report(
            &format!("moving to full density, zoom {zoom}"),
            &mut times,
            cpu,
        );
        report("  its slices", &mut slices, None);
    }
    let mut rng = ChaCha8Rng::seed_from_u64(3);
    let (mut times, cpu) = timed(200, |_| {
        let (x, y) = (
            rng.random_range(300.0..980.0),
            rng.random_range(200.0..600.0),
        );
        black_box(pick(&scene, &view, x, y, 6.0));
    });
    report("pick", &mut times, cpu);
}
