//! What the whole job takes on the demo: reading, preparing, looking at single places, measuring cold and warm, deciding,
//! and how long it goes on after it was called off.
//!
//! `cargo bench -p it --bench engine [-- POINTS...]`; with the word `decide` among them it only decides, with `measure` it only
//! measures, with `calling-off` it only tells how soon measuring ends, with `where` it also tells where the longest stretches without a question end.

use std::backtrace::Backtrace;
use std::cell::Cell;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::time::{Duration, Instant};

use record::{
    Cancelled, Job, LengthUnit, Prepared, Progress, Quiet, RawScan, ScanId, Scans, Stage,
};

fn main() {
    let asked: Vec<usize> = std::env::args().filter_map(|a| a.parse().ok()).collect();
    let sizes = if asked.is_empty() {
        vec![200_000, 2_000_000, 10_000_000]
    } else {
        asked
    };
    for points in sizes {
        whole_job(points);
    }
}

/// Whether the bench was called with a word.
fn said(word: &str) -> bool {
    std::env::args().any(|a| a == word)
}

fn whole_job(points: usize) {
    println!("{points} points");
    let folder = std::env::temp_dir().join(format!("unmirror-engine-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    let files = demo::write_demo(&folder, points, 7, &Quiet).unwrap();
    let scans = read_and_prepared(&files.scan_paths, &files.job);
    let job = files.job;
    if said("calling-off") {
        measuring_called_off(&job, &scans);
        std::fs::remove_dir_all(&folder).unwrap();
        return;
    }
    if said("measure") {
        measured_cold(&job, &scans);
        std::fs::remove_dir_all(&folder).unwrap();
        return;
    }
    let only_decide = said("decide");
    if !only_decide {
        called_off(&files.scan_paths[0]);
        places(&job, &scans);
    }
    let mut kept = study::Kept::default();
    let mut measure = |word: &str| {
        let t = Instant::now();
        let m = study::measure(&job, &scans, &mut kept, &Quiet).unwrap();
        println!("  measured {word} in {:.2?}", t.elapsed());
        m
    };
    measure("cold");
    let measured = measure("warm");
    let mut many = measured.clone();
    while many.compares.len() < 40 {
        many.compares.extend_from_within(..measured.compares.len());
    }
    many.compares.truncate(40);
    let once = || {
        let t = Instant::now();
        study::decide(&many, &job.choices, job.seed, 0);
        t.elapsed()
    };
    let before = cpu();
    let times: Vec<Duration> = (0..if only_decide { 100 } else { 9 })
        .map(|_| once())
        .collect();
    println!(
        "  decided 40 compares exactly in {:.2?} at best of {}, {:.2?} of CPU on average",
        times.iter().min().unwrap(),
        times.len(),
        cpu().saturating_sub(before) / times.len() as u32
    );
    for draws in [0, 2_000] {
        let t = Instant::now();
        let d = study::decide(&measured, &job.choices, job.seed, draws);
        println!(
            "  decided {} compares with {draws} draws in {:.2?}",
            d.compares.len(),
            t.elapsed()
        );
    }
    if !only_decide {
        measuring_called_off(&job, &scans);
    }
    std::fs::remove_dir_all(&folder).unwrap();
}

/// Measuring the whole job, nothing kept, seven times.
fn measured_cold(job: &Job, scans: &Scans) {
    let before = cpu();
    let times: Vec<Duration> = (0..7)
        .map(|_| {
            let t = Instant::now();
            study::measure(job, scans, &mut study::Kept::default(), &Quiet).unwrap();
            t.elapsed()
        })
        .collect();
    println!(
        "  measured cold in {:.2?} at best of {}, {:.2?} of CPU on average",
        times.iter().min().unwrap(),
        times.len(),
        cpu().saturating_sub(before) / times.len() as u32
    );
}

/// Reads and prepares each file by itself, with the memory it takes at most.
fn read_and_prepared(paths: &[std::path::PathBuf], job: &Job) -> Scans {
    let mut scans = Scans::new();
    for path in paths {
        let before = resident();
        forget_peak();
        let t = Instant::now();
        let raw: RawScan = formats::read_scan(path, &Quiet).unwrap();
        let read = t.elapsed();
        let (format, count) = (raw.format.clone(), raw.points.len());
        let t = Instant::now();
        let prepared = study::prepare(raw, LengthUnit::Millimetre, &Quiet).unwrap();
        let prepare = t.elapsed();
        let (peak, held) = (peak() - before, size_of(&prepared));
        println!(
            "  {format}, {count} points: read in {read:.2?}, prepared in {prepare:.2?}; holds {:.0} MB ({:.1} bytes a point without triangles), at most {:.0} MB ({:.2} times)",
            held.0 / 1e6,
            held.1 / count as f64,
            peak / 1e6,
            peak / held.0
        );
        let file = path.file_name();
        let of = job.scans.iter().find(|s| s.path.file_name() == file);
        let id: ScanId = of.unwrap().id.clone();
        scans.insert(id, Arc::new(prepared));
    }
    scans
}

/// Bytes of all, and of all but triangles and loops.
fn size_of(p: &Prepared) -> (f64, f64) {
    let n = p.blocks.len() as f64;
    let each = 12.0
        + 4.0
        + if p.blocks.colours().is_empty() {
            0.0
        } else {
            3.0
        }
        + if p.blocks.packed_normals().is_empty() {
            0.0
        } else {
            4.0
        };
    // Boxes of leaves and groups: 24 bytes for 32 and for 256 points.
    let points = n * (each + 24.0 / 32.0 + 24.0 / 256.0);
    let loops: usize = p.loops.iter().map(|l| l.slots.len()).sum();
    let all = points + 12.0 * p.triangles.len() as f64 + 4.0 * loops as f64;
    (all, points)
}

/// The probes of the window on every pick of the job: the slowest.
fn places(job: &Job, scans: &Scans) {
    let (mut face, mut edge, mut hole) = (Duration::ZERO, Duration::ZERO, Duration::ZERO);
    for o in &job.openings {
        let scan = &scans[&o.scan];
        for f in &o.faces {
            let t = Instant::now();
            study::probe::face_at(scan, f, None).unwrap();
            face = face.max(t.elapsed());
        }
        if let Some(e) = &o.edge {
            let t = Instant::now();
            study::probe::edge_near(scan, e).unwrap();
            edge = edge.max(t.elapsed());
        }
        for h in &o.holes {
            let t = Instant::now();
            study::probe::hole_near(scan, h, o.edge.as_ref()).unwrap();
            hole = hole.max(t.elapsed());
        }
    }
    println!("  slowest face {face:.2?}, edge {edge:.2?}, hole (with its edge) {hole:.2?}");
}

/// Says no from a moment on, and remembers when it was first asked after that.
struct Until {
    off: AtomicBool,
}

impl Progress for Until {
    fn at(&self, _: Stage, _: usize, _: usize) -> Result<(), Cancelled> {
        if self.off.load(Ordering::Relaxed) {
            Err(Cancelled)
        } else {
            Ok(())
        }
    }
}

/// The longest that `work` on something `fresh` goes on after it was called off, over places spread evenly through `whole`.
fn longest_after<T: Send>(
    whole: Duration,
    fresh: impl Fn() -> T,
    work: impl Fn(T, &Until) + Sync,
) -> Duration {
    const PLACES: u32 = 20;
    (1..PLACES)
        .map(|k| {
            let until = Until {
                off: AtomicBool::new(false),
            };
            let given = fresh();
            let (work, until) = (&work, &until);
            std::thread::scope(|scope| {
                let at_work = scope.spawn(move || work(given, until));
                std::thread::sleep(whole * k / PLACES);
                let t = Instant::now();
                until.off.store(true, Ordering::Relaxed);
                at_work.join().unwrap();
                t.elapsed()
            })
        })
        .max()
        .unwrap_or_default()
}

fn called_off(path: &Path) {
    let t = Instant::now();
    let raw = formats::read_scan(path, &Quiet).unwrap();
    let read = longest_after(
        t.elapsed(),
        || (),
        |(), at| drop(formats::read_scan(path, at)),
    );
    let copy = raw.clone();
    let t = Instant::now();
    study::prepare(copy, LengthUnit::Millimetre, &Quiet).unwrap();
    let prepare = longest_after(
        t.elapsed(),
        || raw.clone(),
        |raw, at| drop(study::prepare(raw, LengthUnit::Millimetre, at)),
    );
    println!(
        "  after it is called off reading ends within {read:.2?}, preparing within {prepare:.2?}"
    );
}

fn measuring_called_off(job: &Job, scans: &Scans) {
    let t = Instant::now();
    study::measure(job, scans, &mut study::Kept::default(), &Quiet).unwrap();
    let measure = longest_after(t.elapsed(), study::Kept::default, |mut kept, at| {
        drop(study::measure(job, scans, &mut kept, at));
    });
    println!("  after it is called off measuring ends within {measure:.2?}");
    let asked = Asked::default();
    asked.again();
    study::measure(job, scans, &mut study::Kept::default(), &asked).unwrap();
    asked.again();
    println!(
        "  measuring asks after {:.2?} of CPU of a thread at most",
        Duration::from_nanos(asked.longest.load(Ordering::Relaxed))
    );
}

/// Notes the longest that a thread works without asking whether to go on: its own CPU time, which does not depend on what
/// else the machine does. Nothing where CPU time is not told (not Linux).
#[derive(Default)]
struct Asked {
    longest: AtomicU64,
}

thread_local! {
    /// CPU time of this thread when it last asked.
    static LAST: Cell<Option<u64>> = const { Cell::new(None) };
}

impl Asked {
    fn again(&self) {
        let now = cpu_of(Path::new("/proc/thread-self"));
        if let Some((last, now)) = LAST.replace(now).zip(now) {
            let stretch = now - last;
            if stretch > self.longest.fetch_max(stretch, Ordering::Relaxed) && said("where") {
                let trace = Backtrace::force_capture();
                println!("  {:.2?} before\n{trace}", Duration::from_nanos(stretch));
            }
            // What noting took is none of it.
            LAST.set(cpu_of(Path::new("/proc/thread-self")));
        }
    }
}

impl Progress for Asked {
    fn at(&self, _: Stage, _: usize, _: usize) -> Result<(), Cancelled> {
        self.again();
        Ok(())
    }
}

/// CPU time of a thread so far, ns.
fn cpu_of(thread: &Path) -> Option<u64> {
    let text = std::fs::read_to_string(thread.join("schedstat")).ok()?;
    text.split_whitespace().next()?.parse().ok()
}

/// CPU time of all threads so far; 0 where it is not told (not Linux).
fn cpu() -> Duration {
    let threads = std::fs::read_dir("/proc/self/task").into_iter().flatten();
    let all = threads.filter_map(|t| cpu_of(&t.ok()?.path()));
    Duration::from_nanos(all.sum())
}

/// A figure of /proc/self/status, bytes; 0 where there is none (not Linux).
fn status(name: &str) -> f64 {
    let text = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = text.lines().find(|l| l.starts_with(name));
    let kib = line.and_then(|l| l.split_whitespace().nth(1)?.parse::<f64>().ok());
    kib.unwrap_or(0.0) * 1024.0
}

fn resident() -> f64 {
    status("VmRSS")
}

fn peak() -> f64 {
    status("VmHWM")
}

fn forget_peak() {
    // Where it cannot be forgotten the peak is that of the whole run.
    drop(std::fs::write("/proc/self/clear_refs", "5"));
}
