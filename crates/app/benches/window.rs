//! How long the window takes: `cargo bench -p app [-- POINTS]`, the demo's coach of about so many points in all (1 M
//! where nothing is said), 1280 x 800, without a screen.
//!
//! Wall time, and processor time of all threads (Linux), which tells more on a machine that does other things too. What
//! a screen adds is not in it.

use std::path::Path;
use std::time::{Duration, Instant};

use app::state::{Act, Step};
use app::{Preferences, Window, look};
use editor::{Command, PartChange, ProbeAt};
use egui_kittest::Harness;

/// Edits of allowances, and places looked at.
const EDITS: u64 = 200;
const LOOKS: usize = 40;
const CHANCES: usize = 20;
/// Between two looks.
const PAUSE: Duration = Duration::from_millis(400);

fn main() {
    let points = std::env::args()
        .find_map(|a| a.parse().ok())
        .unwrap_or(1_000_000);
    let folder = std::env::temp_dir().join(format!("unmirror-bench-{}", std::process::id()));
    std::fs::create_dir_all(&folder).expect("a folder for the demo");
    let files = demo::write_demo(&folder, points, 1, &record::Quiet).expect("the demo is written");
    println!(
        "{points} points asked for, {} threads wanted",
        std::thread::available_parallelism().map_or(1, usize::from)
    );
    let first = Watch::start();
    let mut window = opened(&files.job_path);
    first.say("first open to every figure");
    drop(window);
    let again = Watch::start();
    window = opened(&files.job_path);
    again.say("second open to every figure");
    let all: usize = {
        let document = window.state().editor().expect("a job").document();
        document.scans().values().map(|p| p.blocks.len()).sum()
    };
    println!("{all} points in use; {} MB resident", resident_mb());
    edits(&mut window);
    chances(&mut window);
    window.state_mut().ask(Act::Go(Step::Places));
    window.run_steps(3);
    looks(&mut window);
    println!("{} MB resident at the end", resident_mb());
    drop(window);
    if let Err(error) = std::fs::remove_dir_all(&folder) {
        println!("{} stays: {error}", folder.display());
    }
}

fn opened(job: &Path) -> Harness<'static, Window> {
    let mut window = Harness::builder()
        .with_size(egui::vec2(1280.0, 800.0))
        .with_max_steps(40)
        .build_eframe(|cc| {
            look::dress(&cc.egui_ctx);
            Window::new(&cc.egui_ctx, Preferences::default())
        });
    let begun = Watch::start();
    window.state_mut().open_job(job);
    until(&mut window, |w| {
        w.editor().is_some_and(|e| {
            let d = e.document();
            d.scans().len() == d.job().scans.len() && d.incoming().is_empty()
        })
    });
    begun.say("open to every scan");
    until(&mut window, |w| {
        w.editor().is_some_and(|e| e.document().is_fresh())
    });
    begun.say("open to every figure but the chances");
    until(&mut window, fresh);
    window
}

fn until(window: &mut Harness<'static, Window>, holds: impl Fn(&Window) -> bool) {
    // What was asked for is done in the first pass.
    loop {
        window.step();
        if holds(window.state()) {
            return;
        }
        std::thread::sleep(Duration::from_millis(1));
    }
}

fn fresh(window: &Window) -> bool {
    window.editor().is_none_or(|e| {
        let d = e.document();
        d.is_fresh() && d.chances_are_drawn() && d.work().next().is_none()
    })
}

/// An allowance typed, until the pass that shows the verdict of it; chances come later.
fn edits(window: &mut Harness<'static, Window>) {
    let parts: Vec<_> = {
        let job = window.state().editor().expect("a job").document().job();
        job.choices.parts.iter().map(|p| p.id.clone()).collect()
    };
    let mut times = Vec::new();
    let processor = processor_ms();
    for k in 0..EDITS {
        // Seeded: a small generator is enough to visit parts and values out of order.
        let dice = k
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407)
            >> 33;
        let part = parts[dice as usize % parts.len()].clone();
        let value = 0.3 + 0.01 * (dice / 7 % 60) as f64;
        let change = if k % 2 == 0 {
            PartChange::Wide(value)
        } else {
            PartChange::Angle(value)
        };
        let begun = Instant::now();
        window
            .state_mut()
            .ask(Act::DoLive(Command::part(part, change)));
        until(window, |w| {
            w.editor().is_none_or(|e| e.document().is_fresh())
        });
        times.push(begun.elapsed());
    }
    say("allowance edit to shown verdict", &mut times, processor);
}

/// An allowance typed, until the chance of every choice of its part is there again.
fn chances(window: &mut Harness<'static, Window>) {
    let parts: Vec<_> = {
        let job = window.state().editor().expect("a job").document().job();
        job.choices.parts.iter().map(|p| p.id.clone()).collect()
    };
    let mut times = Vec::new();
    let processor = processor_ms();
    for k in 0..CHANCES {
        let part = parts[k % parts.len()].clone();
        // Values that no edit before has had: nothing is known of them yet.
        let change = PartChange::Wide(0.4007 + 0.013 * k as f64);
        let begun = Instant::now();
        window.state_mut().ask(Act::Do(Command::part(part, change)));
        until(window, |w| {
            w.editor()
                .is_none_or(|e| e.document().is_fresh() && e.document().chances_are_drawn())
        });
        times.push(begun.elapsed());
    }
    say("allowance edit to final chance", &mut times, processor);
}

/// The window comes to rest, as it does between two clicks of a hand: what is drawn in full behind the last answer is not
/// part of the next.
fn rest(window: &mut Harness<'static, Window>) {
    let begun = Instant::now();
    until(window, |_| begun.elapsed() > PAUSE);
}

/// A place looked at, until its outline and figures are there to be shown.
fn looks(window: &mut Harness<'static, Window>) {
    let places: Vec<_> = {
        let job = window.state().editor().expect("a job").document().job();
        job.openings.clone()
    };
    for faces in [true, false] {
        let asked: Vec<_> = places
            .iter()
            .flat_map(|o| {
                let all: Vec<ProbeAt> = if faces {
                    o.faces.iter().cloned().map(ProbeAt::Face).collect()
                } else {
                    o.edge.iter().cloned().map(ProbeAt::Edge).collect()
                };
                all.into_iter().map(|at| (o.scan.clone(), at))
            })
            .cycle()
            .take(LOOKS)
            .collect();
        let mut times = Vec::new();
        for (scan, at) in asked {
            rest(window);
            let before = window
                .state()
                .view()
                .places
                .found
                .as_ref()
                .map(|f| f.number);
            let begun = Instant::now();
            window.state_mut().ask(Act::Probe(scan, at));
            until(window, |w| {
                w.view().places.found.as_ref().map(|f| f.number) != before
            });
            times.push(begun.elapsed());
        }
        say(
            if faces {
                "click to face and figures"
            } else {
                "click to edge"
            },
            &mut times,
            None,
        );
    }
}

fn say(what: &str, times: &mut [Duration], processor: Option<f64>) {
    times.sort_unstable();
    let ms = |share: f64| 1e3 * times[((times.len() - 1) as f64 * share) as usize].as_secs_f64();
    let used = processor_ms()
        .zip(processor)
        .map(|(now, then)| (now - then) / times.len() as f64);
    let used = used.map_or_else(String::new, |u| format!(", processor {u:.0} each"));
    println!(
        "{what}: median {:.0} ms, p95 {:.0}{used}",
        ms(0.5),
        ms(0.95)
    );
}

struct Watch(Instant, Option<f64>);

impl Watch {
    fn start() -> Self {
        Self(Instant::now(), processor_ms())
    }

    fn say(&self, what: &str) {
        let used = processor_ms().zip(self.1).map(|(now, then)| now - then);
        let used = used.map_or_else(String::new, |u| format!(", processor {u:.0}"));
        println!(
            "{what}: {:.0} ms{used}",
            1e3 * self.0.elapsed().as_secs_f64()
        );
    }
}

/// Processor time of the whole process so far, ms; `None` where the system does not say.
fn processor_ms() -> Option<f64> {
    let stat = std::fs::read_to_string("/proc/self/stat").ok()?;
    let after = stat.rsplit_once(')')?.1;
    let field = |i: usize| after.split_whitespace().nth(i)?.parse::<f64>().ok();
    // Ticks of 10 ms, user and system.
    Some(10.0 * (field(11)? + field(12)?))
}

/// Memory of the process, MB; 0 where the system does not say.
fn resident_mb() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|l| l.strip_prefix("VmRSS:"));
    let kb = line.and_then(|l| l.split_whitespace().next()?.parse::<u64>().ok());
    kb.unwrap_or(0) / 1024
}
