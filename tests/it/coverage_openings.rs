//! Whole openings measured on scans of known truth: how often the give-or-take of every kind of figure holds the true
//! value, and how much wider it is than need be.
//!
//! `UNMIRROR_SEEDS=200 cargo test -p it coverage_openings -- --nocapture` repeats it with more coaches and prints all.

pub mod made;
pub mod noised;

use std::collections::BTreeMap;

use demo::{Coach, Scanner, Truth};
use geom::{Kernel, Point, u95};
use made::Made;
use rayon::prelude::*;
use record::{Figure, Measured, MeasuredOpening, ModeKind, Side};

use super::coverage::Tally;
use super::demo_truth::measured;

/// Points of the three scans together: about 1.9 mm apart.
const POINTS: usize = 200_000;

/// The kinds of noise that the angles are tried with: name, and correlation with its range, mm.
const KINDS: [(&str, Option<(Kernel, f64)>); 5] = [
    ("white", None),
    ("Gaussian 3 mm", Some((Kernel::Gaussian, 3.0))),
    ("Gaussian 10 mm", Some((Kernel::Gaussian, 10.0))),
    ("exponential 3 mm", Some((Kernel::Exponential, 3.0))),
    ("Matern 5 mm", Some((Kernel::Matern, 5.0))),
];

/// Number of coaches: `default`, or what `UNMIRROR_SEEDS` says.
pub fn coaches(default: u64) -> u64 {
    std::env::var("UNMIRROR_SEEDS")
        .map_or(default, |n| n.parse().expect("UNMIRROR_SEEDS is a number"))
}

/// Errors with their half-widths by kind of figure, by coach.
#[derive(Default)]
struct Kinds(BTreeMap<String, Tally>);

impl Kinds {
    fn add(&mut self, kind: &str, error: f64, u95: f64) {
        self.0.entry(kind.to_owned()).or_default().add(error, u95);
    }

    fn figure(&mut self, kind: &str, figure: &Figure, truth: f64) {
        self.add(kind, figure.value - truth, figure.u95);
    }

    fn join(mut self, other: Self) -> Self {
        for (kind, tally) in other.0 {
            self.0.entry(kind).or_default().rows.extend(tally.rows);
        }
        self
    }

    fn print(&self, title: &str) {
        println!("{title}");
        for (kind, t) in &self.0 {
            let mean = t.rows.iter().map(|r| r.1).sum::<f64>() / t.rows.len() as f64;
            println!(
                "  {kind:28} covered {:6.2} %  U95 {mean:.4}  width {:.2}  mean error {:+.4}  rms {:.4}  ({})",
                t.covered(),
                t.width(),
                t.mean_error(),
                t.root_mean_square(),
                t.rows.len(),
            );
        }
    }

    /// Coverage of every kind at least `least` percent, and the half-widths on average at most `widest` times what the
    /// errors ask for. Places and sizes of holes are let off that: their give-or-take allows for edges that are not as
    /// sharp and clean as those of the demo. Width and height hold less often than they claim (83 % to 97 %): the jaws rest
    /// on noise, and taking its surplus off is only half the cure. They are held to 78 % here, so that it gets no worse.
    fn hold(&self, least: f64, widest: f64) {
        for (kind, t) in &self.0 {
            let (covered, width) = (t.covered(), t.width());
            let jaws = kind == "width" || kind == "height";
            let least = if jaws { least.min(78.0) } else { least };
            assert!(covered >= least, "{kind}: covered {covered:.1} %");
            let hole = kind.starts_with("hole");
            assert!(hole || width <= widest, "{kind}: {width:.1} times too wide");
        }
    }
}

fn opening(o: &MeasuredOpening, truth: &Truth, kinds: &mut Kinds) {
    let made = truth.opening(&o.id).expect("every opening was made");
    let scan_from_car = truth
        .scan_from_car(&made.scan)
        .expect("every scan was made");
    let part_from_car = o.part_from_scan * scan_from_car;
    let line = Made::new(made, &part_from_car);
    let edge = o.edge.as_ref().expect("every opening has an edge");
    for s in edge.stations.iter().filter(|s| s.seen).step_by(3) {
        let off = s.at - line.crossing(&s.at, &s.tangent);
        let nu = edge.spread.nu;
        kinds.add("edge gap", off.dot(&s.gap_dir), u95(s.gap_u_mm, nu));
        kinds.add("edge flush", off.dot(&s.flush_dir), u95(s.flush_u_mm, nu));
    }
    let (half_x, half_y) = line.size();
    let diagonal = |sign: f64| {
        let n = half_x.hypot(half_y);
        line.span(sign * half_x / n, half_y / n)
    };
    for d in &edge.dimensions {
        let truth = match d.name.as_str() {
            "width" => line.caliper(0.0),
            "height" => line.caliper(std::f64::consts::FRAC_PI_2),
            "diagonal, upper +X to lower -X" => diagonal(1.0),
            "diagonal, upper -X to lower +X" => diagonal(-1.0),
            "perimeter" => line.perimeter(),
            "area" => line.area(),
            "twist out of its flat" => line.twist_deg(&edge.stations),
            other => panic!("{other} has no truth here"),
        };
        let name = d.name.split(',').next().unwrap_or_default();
        kinds.figure(name, &d.figure, truth);
    }
    for c in &edge.corners {
        let n = edge.stations.len();
        let i = edge
            .stations
            .iter()
            .rposition(|s| s.along_mm <= c.along_mm)
            .expect("stations begin at 0");
        let (s, next) = (&edge.stations[i], &edge.stations[(i + 1) % n]);
        let step = (next.at - s.at).norm();
        let at = s.at + (next.at - s.at) * ((c.along_mm - s.along_mm) / step).min(1.0);
        let half = c.radius.value * (0.375 * c.arc_deg.to_radians()).sin();
        kinds.figure("corner radius", &c.radius, line.radius(&at, half));
    }
    for h in &o.holes {
        let true_hole = made.holes.iter().find(|t| t.id == h.id).expect("made");
        let off = h.centre - part_from_car * true_hole.centre;
        kinds.add("hole middle", off.x, h.centre_u95.u95);
        kinds.add("hole middle", off.y, h.centre_u95.u95);
        kinds.figure("hole diameter", &h.diameter, true_hole.diameter_mm);
    }
    for j in &o.junctions {
        let t = made.junction.expect("made");
        let car_from_scan = scan_from_car.inverse();
        for s in &j.stations {
            let at: Point = car_from_scan * s.at;
            let share = (at - t.top).norm() / (t.bottom - t.top).norm();
            kinds.figure("junction angle", &s.angle, t.angle_deg(share));
        }
    }
}

/// Left against right of a coach whose sides are alike.
fn alike(m: &Measured, kinds: &mut Kinds) {
    for c in m.compares.iter().filter(|c| c.b.is_some()) {
        for s in c.stations.iter().step_by(3) {
            kinds.figure("pair gap", &s.gap, 0.0);
            kinds.figure("pair flush", &s.flush, 0.0);
        }
        for h in &c.holes {
            kinds.figure("pair hole", &h.right, 0.0);
            kinds.figure("pair hole", &h.up, 0.0);
        }
        for mode in &c.modes {
            let kind = match mode.kind {
                ModeKind::Width => "mode width",
                ModeKind::Height => "mode height",
                ModeKind::Shear => "mode shear",
                ModeKind::Twist => "mode twist",
                ModeKind::BowAcross => "mode bow across",
                ModeKind::BowUp => "mode bow up",
            };
            kinds.figure(kind, &mode.amount, 0.0);
        }
        for d in c.angles.iter().filter_map(|r| r.difference.as_ref()) {
            kinds.figure("pair angle", d, 0.0);
        }
    }
}

/// All figures of `seeds` coaches.
fn all(seeds: u64, coach: impl Fn(u64) -> Coach + Sync, same: bool) -> Kinds {
    all_of(
        seeds,
        |seed| {
            let coach = coach(seed);
            (coach.truth(), measured(&coach, POINTS).1)
        },
        same,
    )
}

/// All figures of `seeds` coaches that are measured in this way.
fn all_of(seeds: u64, of: impl Fn(u64) -> (Truth, Measured) + Sync, same: bool) -> Kinds {
    let each: Vec<Kinds> = (0..seeds)
        .into_par_iter()
        .map(|seed| {
            let (truth, m) = of(5000 + seed);
            let mut kinds = Kinds::default();
            for o in &m.openings {
                opening(o, &truth, &mut kinds);
            }
            if same {
                alike(&m, &mut kinds);
            }
            kinds
        })
        .collect();
    each.into_iter().fold(Kinds::default(), Kinds::join)
}

fn noise(sd_mm: f64, correlated_share: f64, range_mm: f64) -> Scanner {
    Scanner {
        sd_mm,
        correlated_share,
        range_mm,
        ..Scanner::default()
    }
}

#[test]
fn coverage_with_alike_sides() {
    let k = all(coaches(8), Coach::perfect, true);
    k.print("sides alike, half the noise over 3 mm");
    k.hold(85.0, 3.0);
}

/// The model cannot rule out weak long waves under white noise, so that most half-widths are several times what is needed.
#[test]
fn coverage_with_white_noise() {
    let k = all(
        coaches(6),
        |s| Coach::perfect(s).seen_by(noise(0.05, 0.0, 3.0)),
        true,
    );
    k.print("sides alike, white noise");
    k.hold(85.0, 15.0);
}

#[test]
fn coverage_with_long_noise() {
    let k = all(
        coaches(6),
        |s| Coach::perfect(s).seen_by(noise(0.05, 0.8, 10.0)),
        true,
    );
    k.print("sides alike, most of the noise over 10 mm");
    k.hold(75.0, 6.0);
}

/// What the visit found of a noise: the size of one reading, and the root of what sums over long stretches go by, variance
/// times range squared, mm.
fn said_of_noise(m: &Measured) -> (f64, f64) {
    let model = &m.noise.first().expect("one visit").model;
    let long: f64 = model
        .points
        .iter()
        .map(|p| p.weight * p.corr_var * p.range_mm.powi(2))
        .sum();
    (model.point_sd(), long.sqrt())
}

/// The five kinds of noise that the angles are tried with, on whole openings seen as meshes. `UNMIRROR_KIND=Gaussian` takes
/// those whose name begins so.
#[test]
#[ignore = "20 coaches of each kind take minutes: UNMIRROR_SEEDS=20 cargo test -p it coverage_by_kind -- --ignored --nocapture"]
fn coverage_by_kind_of_noise() {
    let mut found = Vec::new();
    for (name, kind) in KINDS {
        if std::env::var("UNMIRROR_KIND").is_ok_and(|k| !name.starts_with(&k)) {
            continue;
        }
        let said = std::sync::Mutex::new(Vec::new());
        let of = |seed| {
            let coach = Coach::perfect(seed);
            let truth = coach.truth();
            let mut m = noised::measured(coach, POINTS, kind, seed);
            // The cloud has no noise.
            m.openings.retain(|o| o.side != Side::Centre);
            said.lock().expect("no panic").push(said_of_noise(&m));
            (truth, m)
        };
        let k = all_of(coaches(8), of, true);
        k.print(name);
        let said = said.into_inner().expect("no panic");
        let mean = |f: fn(&(f64, f64)) -> f64| said.iter().map(f).sum::<f64>() / said.len() as f64;
        let truth = (
            kind.map_or(0.05, |_| 0.05_f64.hypot(0.01)),
            kind.map_or(0.0, |(_, range)| 0.05 * range),
        );
        println!(
            "  noise: size {:.4} (made {:.4}), size x range {:.3} (made {:.3})",
            mean(|s| s.0),
            truth.0,
            mean(|s| s.1),
            truth.1
        );
        found.push(k);
    }
    for k in found {
        k.hold(80.0, 15.0);
    }
}

#[test]
fn coverage_with_the_differences_of_the_demo() {
    let k = all(coaches(6), Coach::new, false);
    k.print("differences of the demo");
    k.hold(85.0, 3.0);
}

/// What the splines themselves leave of the edge: less than a fifth of the usual give-or-take of a station.
#[test]
fn the_fit_alone_is_near_the_truth() {
    let exact = Scanner::exact();
    let k = all(1, |s| Coach::perfect(s).seen_by(exact), true);
    k.print("no noise");
    for (kind, most) in [
        ("edge gap", 0.02),
        ("edge flush", 0.02),
        ("pair gap", 0.01),
        ("pair flush", 0.01),
        ("width", 0.03),
        ("height", 0.04),
    ] {
        let off = k.0[kind].root_mean_square();
        assert!(off < most, "{kind}: off {off:.4} mm");
    }
}
