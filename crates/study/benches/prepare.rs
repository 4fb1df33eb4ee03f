//! How long preparing takes and how much memory it needs, for a mesh and for a cloud of 1 and 10 million points.
//! `cargo bench -p study --bench prepare`. Memory figures come from `/proc` and are left out elsewhere.

use std::sync::Mutex;
use std::time::{Duration, Instant};

use geom::{Point, RawPoints};
use record::{Cancelled, LengthUnit, Progress, RawScan, Stage};

/// A wavy sheet of `n` points in rows, with or without triangles, with colours.
fn scan(n: usize, mesh: bool) -> RawScan {
    let w = (n as f64).sqrt() as usize;
    let points = (0..w * w)
        .map(|i| {
            let (x, y) = ((i % w) as f32 * 0.4, (i / w) as f32 * 0.4);
            [
                1000.0 + x,
                y - 600.0,
                20.0 * (x / 90.0).sin() + 10.0 * (y / 70.0).cos(),
            ]
        })
        .collect();
    let mut triangles = Vec::new();
    if mesh {
        triangles.reserve_exact(2 * (w - 1) * (w - 1));
        for y in 0..w - 1 {
            for x in 0..w - 1 {
                let v = |x: usize, y: usize| (y * w + x) as u32;
                triangles.push([v(x, y), v(x + 1, y), v(x + 1, y + 1)]);
                triangles.push([v(x, y), v(x + 1, y + 1), v(x, y + 1)]);
            }
        }
    }
    RawScan {
        name: "sheet.stl".to_owned(),
        format: "binary STL".to_owned(),
        hash: String::new(),
        bytes: 0,
        points: RawPoints::F32(points),
        triangles,
        colours: vec![[128; 3]; w * w],
        normals: Vec::new(),
        names: Vec::new(),
        unit: None,
        notes: Vec::new(),
    }
}

/// A line of the process status, MiB.
fn status(key: &str) -> Option<f64> {
    let text = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = text.lines().find(|l| l.starts_with(key))?;
    Some(line.split_whitespace().nth(1)?.parse::<f64>().ok()? / 1024.0)
}

/// Measures the longest time in which nobody was asked whether to go on.
struct Silence(Mutex<(Instant, Duration)>);

impl Progress for Silence {
    fn at(&self, _: Stage, _: usize, _: usize) -> Result<(), Cancelled> {
        if let Ok(mut s) = self.0.lock() {
            s.1 = s.1.max(s.0.elapsed());
            s.0 = Instant::now();
        }
        Ok(())
    }
}

/// Processor time used so far by all threads, s: what counts on a shared machine. Clock ticks are 10 ms on Linux.
fn processor_seconds() -> Option<f64> {
    let text = std::fs::read_to_string("/proc/self/stat").ok()?;
    let fields: Vec<&str> = text.rsplit_once(')')?.1.split_whitespace().collect();
    let ticks = |i: usize| fields.get(i)?.parse::<f64>().ok();
    Some((ticks(11)? + ticks(12)?) / 100.0)
}

fn main() {
    for n in [1_000_000, 10_000_000] {
        for mesh in [false, true] {
            let raw = scan(n, mesh);
            // Starts the peak anew; without it the peak of making the scan would be shown.
            let reset = std::fs::write("/proc/self/clear_refs", "5").is_ok();
            let before = status("VmRSS");
            let (start, processor) = (Instant::now(), processor_seconds());
            let silence = Silence(Mutex::new((Instant::now(), Duration::ZERO)));
            let Ok(p) = record_ok(study::prepare(raw, LengthUnit::Millimetre, &silence)) else {
                return;
            };
            let seconds = start.elapsed().as_secs_f64();
            let used = processor_seconds().zip(processor).map(|(b, a)| b - a);
            let held = (p.blocks.bytes() + p.triangles.len() * 12) as f64 / f64::from(1 << 20);
            let kind = if mesh { "mesh" } else { "cloud" };
            print!(
                "{kind} {n}: {:.3} s per million, holds {held:.0} MiB",
                seconds * 1e6 / n as f64
            );
            if let Some(used) = used {
                print!(", {:.3} processor s per million", used * 1e6 / n as f64);
            }
            if let (true, Some(before), Some(peak)) = (reset, before, status("VmHWM")) {
                let above = (peak - before).max(0.0);
                print!(
                    ", peak {above:.0} MiB above start = {:.2} x held",
                    above / held
                );
            }
            if let Ok(s) = silence.0.lock() {
                print!(", asked at least every {} ms", s.1.as_millis());
            }
            println!(
                ", {:.1} bytes a point without triangles",
                p.blocks.bytes() as f64 / p.blocks.len() as f64
            );
            search(&p.blocks);
        }
    }
}

fn record_ok<T, E: std::fmt::Display>(r: Result<T, E>) -> Result<T, ()> {
    r.map_err(|e| eprintln!("{e}"))
}

/// A hundred thousand searches of each kind on one thread.
fn search(blocks: &geom::Blocks) {
    let n = blocks.len() as u64;
    let at: Vec<Point> = (0..100_000_u64)
        .map(|i| blocks.point((i * 7_919_111 % n) as u32) + geom::Vector::new(0.11, 0.07, 0.3))
        .collect();
    let start = Instant::now();
    let mut sum = 0.0;
    for p in &at {
        sum += blocks.nearest(p, f64::INFINITY).map_or(0.0, |f| f.1);
    }
    let nearest = start.elapsed().as_secs_f64() * 10.0;
    let start = Instant::now();
    let mut found = Vec::new();
    for p in &at {
        blocks.k_nearest(p, 20, f64::INFINITY, &mut found);
        sum += found.len() as f64;
    }
    let k20 = start.elapsed().as_secs_f64() * 10.0;
    println!(
        "  searches, microseconds: nearest {nearest:.2}, 20 nearest {k20:.2} (check sum {sum:.1})"
    );
}
