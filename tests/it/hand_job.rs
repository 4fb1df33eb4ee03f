//! A whole job by tape and protractor, from the text of its tables to the verdict, on a coach of known truth.
//!
//! `UNMIRROR_SEEDS=100 cargo test -p it hand_job -- --nocapture` repeats it with more coaches and prints the figures.

pub mod sheet;

use demo::{Coach, Differences};
use record::{
    Code, Compare, Finding, HandTable, Job, Opening, OptionKind, Quiet, Relation, Scans, Severity,
    Side, Study, Verdict, Visit,
};
use sheet::{Sheet, Slip};

use super::coverage::Tally;
use super::coverage_openings::made::Made;

fn seeds(default: u64) -> u64 {
    super::coverage_openings::coaches(default)
}

fn opening(side: Side, id: &str) -> Opening {
    Opening {
        name: "Lamp opening".to_owned(),
        ..Opening::unpicked(id.into(), format!("{id}-by-hand").as_str().into(), side)
    }
}

fn table(id: &str, text: &str) -> HandTable {
    HandTable {
        id: format!("{id}-by-hand").as_str().into(),
        visit: "first".into(),
        path: None,
        hash: None,
        flat: false,
        readings: formats::hand_from_str(text).expect("a table as it should be"),
        instruments: Vec::new(),
        unread: None,
        note: String::new(),
    }
}

/// The job of two tables with the part of the demo.
pub fn job(coach: &Coach, left: &str, right: &str) -> Job {
    let demo = coach.job();
    let compare = demo
        .compares
        .iter()
        .find(|c| c.a.0 == "lamp-left")
        .expect("the lamp");
    Job {
        title: "Lamp surround by tape".to_owned(),
        seed: 5,
        cars: demo.cars.clone(),
        visits: vec![Visit {
            id: "first".into(),
            ..demo.visits[0].clone()
        }],
        hand: vec![table("lamp-left", left), table("lamp-right", right)],
        openings: vec![
            opening(Side::Left, "lamp-left"),
            opening(Side::Right, "lamp-right"),
        ],
        compares: vec![Compare {
            id: "lamp".into(),
            a: "lamp-left".into(),
            b: Some("lamp-right".into()),
            relation: Relation::Mirrored,
            part: compare.part.clone(),
        }],
        choices: demo.choices.clone(),
        ..Job::default()
    }
}

pub fn study(job: &Job) -> Study {
    let kept = &mut study::Kept::default();
    study::run(job, &Scans::new(), kept, 400, &Quiet).expect("not called off")
}

fn findings(s: &Study) -> Vec<&Finding> {
    let openings = s.measured.openings.iter().flat_map(|o| &o.findings);
    let compares = s.measured.compares.iter().flat_map(|c| &c.findings);
    openings
        .chain(compares)
        .chain(&s.measured.findings)
        .collect()
}

fn of<'a>(all: &[&'a Finding], code: Code) -> Vec<&'a Finding> {
    all.iter().filter(|f| f.code == code).copied().collect()
}

fn both(coach: &Coach, seed: u64) -> [Sheet; 2] {
    let truth = coach.truth();
    ["lamp-left", "lamp-right"].map(|id| {
        let side = u64::from(id.ends_with("right"));
        Sheet::new(truth.opening(&id.into()).expect("made"), 10 * seed + side)
    })
}

#[test]
fn a_taped_job_without_errors_comes_near_the_truth() {
    let coach = Coach::new(1);
    let [left, right] = both(&coach, 1).map(Sheet::exact);
    let s = study(&job(&coach, &left.text(&[]), &right.text(&[])));
    let stops: Vec<_> = findings(&s)
        .into_iter()
        .filter(|f| f.severity == Severity::Stop)
        .collect();
    assert!(stops.is_empty(), "{stops:?}");
    for (o, sheet) in s.measured.openings.iter().zip([&left, &right]) {
        let edge = o.edge.as_ref().expect("an edge");
        let made = Made::new(sheet.opening(), &sheet.part_from_car());
        for (name, truth) in [
            ("width", made.caliper(0.0)),
            ("height", made.caliper(std::f64::consts::FRAC_PI_2)),
            ("perimeter", made.perimeter()),
        ] {
            let d = edge
                .dimensions
                .iter()
                .find(|d| d.name == name)
                .expect("there");
            println!(
                "{} {name}: {:.2} +- {:.2}, true {truth:.2}",
                o.id, d.figure.value, d.figure.u95
            );
            assert!(
                (d.figure.value - truth).abs() < 1.5,
                "{name}: {:?} against {truth}",
                d.figure
            );
        }
    }
    let c = &s.measured.compares[0];
    assert!(!c.stations.is_empty(), "{:?}", findings(&s));
    let worst = c
        .stations
        .iter()
        .map(|s| s.gap.value.abs())
        .fold(0.0, f64::max);
    println!("worst gap {worst:.2}");
}

#[test]
fn give_or_take_of_a_taped_job_holds() {
    let n = seeds(6);
    let mut kinds: std::collections::BTreeMap<String, Tally> = std::collections::BTreeMap::new();
    let (mut proven, mut will_not) = (0, 0);
    for seed in 0..n {
        let coach = Coach::perfect(100 + seed);
        let [left, right] = both(&coach, seed);
        let s = study(&job(&coach, &left.text(&[]), &right.text(&[])));
        for (o, sheet) in s.measured.openings.iter().zip([&left, &right]) {
            let edge = o.edge.as_ref().expect("an edge");
            let made = Made::new(sheet.opening(), &sheet.part_from_car());
            for (name, truth) in [
                ("width", made.caliper(0.0)),
                ("height", made.caliper(std::f64::consts::FRAC_PI_2)),
                ("perimeter", made.perimeter()),
            ] {
                let d = edge
                    .dimensions
                    .iter()
                    .find(|d| d.name == name)
                    .expect("there");
                kinds
                    .entry(name.to_owned())
                    .or_default()
                    .add(d.figure.value - truth, d.figure.u95);
            }
            let truth = sheet.opening().junction.expect("made");
            for j in &o.junctions {
                for st in &j.stations {
                    let off = st.angle.value - truth.angle_deg(st.share);
                    kinds
                        .entry("angle".to_owned())
                        .or_default()
                        .add(off, st.angle.u95);
                }
            }
        }
        let c = &s.measured.compares[0];
        for st in c.stations.iter().step_by(3) {
            kinds
                .entry("pair gap".to_owned())
                .or_default()
                .add(st.gap.value, st.gap.u95);
            kinds
                .entry("pair flush".to_owned())
                .or_default()
                .add(st.flush.value, st.flush.u95);
        }
        for h in &c.holes {
            kinds
                .entry("pair hole".to_owned())
                .or_default()
                .add(h.right.value, h.right.u95);
            kinds
                .entry("pair hole".to_owned())
                .or_default()
                .add(h.up.value, h.up.u95);
        }
        for d in c.angles.iter().filter_map(|r| r.difference.as_ref()) {
            kinds
                .entry("pair angle".to_owned())
                .or_default()
                .add(d.value, d.u95);
        }
        let d = &s.decided.compares[0];
        proven += usize::from(d.joint.as_ref().is_some_and(|j| j.proven));
        will_not += d
            .options
            .iter()
            .filter(|o| o.kind == OptionKind::MirrorA && o.verdict == Verdict::WillNotFit)
            .count();
    }
    for (kind, t) in &kinds {
        println!(
            "{kind:12} covered {:.1} %, width {:.2}, mean error {:+.2}, rms {:.2} ({})",
            t.covered(),
            t.width(),
            t.mean_error(),
            t.root_mean_square(),
            t.rows.len()
        );
    }
    println!(
        "alike sides, {n} coaches: a difference proven {proven}, mirror will not fit {will_not}"
    );
    for (kind, t) in &kinds {
        assert!(t.covered() >= 80.0, "{kind}: {:.1}", t.covered());
    }
    assert!(proven as f64 <= 1.0 + 0.1 * n as f64);
}

#[test]
fn a_wrong_centimetre_and_a_misread_fraction_are_named() {
    let n = seeds(4);
    let (mut named, mut wrong) = (0, 0);
    for seed in 0..n {
        let coach = Coach::perfect(200 + seed);
        let [left, right] = both(&coach, 50 + seed);
        let (l, r) = (
            Slip {
                tie: 17 + 7 * seed as usize % 100,
                by: 10.0,
            },
            // 3/16 read as 13/16.
            Slip {
                tie: 40 + 11 * seed as usize % 80,
                by: 25.4 * 10.0 / 16.0,
            },
        );
        let s = study(&job(&coach, &left.text(&[l]), &right.text(&[r])));
        let all = findings(&s);
        let found = of(&all, Code::HandReadingWrong);
        let planted = [left.words(l.tie), right.words(r.tie)];
        named += planted
            .iter()
            .filter(|w| found.iter().any(|f| f.says.contains(*w)))
            .count();
        for f in found {
            println!("{}", f.says);
            wrong += usize::from(!planted.iter().any(|w| f.says.contains(w)));
        }
    }
    println!("of {} planted: named {named}, another named {wrong}", 2 * n);
    // Of some 180 readings a side one may stand out by chance.
    assert!(wrong as f64 <= 0.1 * n as f64, "{wrong}");
    assert!(named as f64 >= 0.85 * 2.0 * n as f64);
    // Without a slip nothing is named.
    let coach = Coach::perfect(200);
    let [left, right] = both(&coach, 50);
    let s = study(&job(&coach, &left.text(&[]), &right.text(&[])));
    assert!(of(&findings(&s), Code::HandReadingWrong).is_empty());
}

#[test]
fn readings_that_contradict_each_other_without_a_name() {
    // Three ties to every point: a wrong one is never found; repeated to four, found and not named.
    let coach = Coach::perfect(3);
    let [left, right] = both(&coach, 3);
    let four = left.with_ties(4);
    let s = study(&job(
        &coach,
        &four.text(&[Slip { tie: 21, by: 30.0 }]),
        &right.text(&[]),
    ));
    let all = findings(&s);
    let found = of(&all, Code::HandReadingsDisagree);
    assert!(
        !found.is_empty() || !of(&all, Code::HandReadingWrong).is_empty(),
        "{all:?}"
    );
    for f in &found {
        println!("{} / {}", f.says, f.advice);
    }
}

#[test]
fn ties_that_are_too_few() {
    let coach = Coach::perfect(4);
    let [left, right] = both(&coach, 4);
    let text = left.with_ties(2).text(&[]);
    let s = study(&job(&coach, &text, &right.text(&[])));
    let all = findings(&s);
    assert!(!of(&all, Code::HandTooFewTies).is_empty(), "{all:?}");
    // Three ties: no check, and two places for every point.
    let s = study(&job(&coach, &left.with_ties(3).text(&[]), &right.text(&[])));
    let all = findings(&s);
    assert!(!of(&all, Code::HandTooFewTies).is_empty(), "{all:?}");
    let whole = study(&job(&coach, &left.text(&[]), &right.text(&[])));
    let all = findings(&whole);
    assert!(of(&all, Code::HandTooFewTies).is_empty(), "{all:?}");
    assert!(of(&all, Code::HandTwoPlaces).is_empty(), "{all:?}");
}

#[test]
fn a_shape_and_its_mirror_image_are_told_by_a_raised_point_only() {
    let coach = Coach::perfect(6);
    let [left, right] = both(&coach, 6);
    let text = left.text(&[]);
    let kept: Vec<&str> = text.lines().filter(|l| !l.starts_with("raised")).collect();
    let silent = kept.join(
        "
",
    );
    let s = study(&job(&coach, &silent, &right.text(&[])));
    let all = findings(&s);
    assert_eq!(of(&all, Code::HandTwoPlaces).len(), 1, "{all:?}");
}

#[test]
fn rows_that_cannot_be_used_are_said() {
    let coach = Coach::perfect(7);
    let [left, right] = both(&coach, 7);
    let text = format!(
        "{}length;E1;E2;0;mm;;;\nlength;E1;E3;120;mm;laser;;\nangle;seam;;90;deg;;nowhere;\n",
        left.text(&[])
    );
    let s = study(&job(&coach, &text, &right.text(&[])));
    let all = findings(&s);
    assert_eq!(of(&all, Code::HandRowNotUsed).len(), 3, "{all:?}");
    let good = study(&job(&coach, &left.text(&[]), &right.text(&[])));
    assert!(of(&findings(&good), Code::HandRowNotUsed).is_empty());
    // More points than an opening has.
    let many: String = (0..90).fold("kind;from;to;value\n".to_owned(), |t, k| {
        t + &format!("length;X{k};X{};100\n", k + 1)
    });
    let s = study(&job(&coach, &many, &right.text(&[])));
    let all = findings(&s);
    assert!(
        of(&all, Code::HandRowNotUsed)
            .iter()
            .any(|f| f.says.contains("91 points")),
        "{all:?}"
    );
}

#[test]
fn differences_of_the_demo_by_tape() {
    let coach = Coach::new(9).with(Differences {
        lamp_corner_mm: 8.0,
        ..Differences::NONE
    });
    let [left, right] = both(&coach, 9);
    let s = study(&job(&coach, &left.text(&[]), &right.text(&[])));
    let d = &s.decided.compares[0];
    println!("{}", report::terminal_text(&s, report::Look::default()));
    assert!(d.joint.as_ref().is_some_and(|j| j.proven), "{:?}", d.joint);
}

#[test]
fn a_scanned_left_against_a_taped_right() {
    let coach = Coach::perfect(31);
    let scans = super::demo_truth::prepared(&coach, 150_000);
    let [_, right] = both(&coach, 31);
    let mut mixed = coach.job();
    mixed.openings.retain(|o| o.id.0 == "lamp-left");
    mixed.openings.push(opening(Side::Right, "lamp-right"));
    mixed.compares.retain(|c| c.a.0 == "lamp-left");
    mixed.hand = vec![HandTable {
        visit: mixed.visits[0].id.clone(),
        ..table("lamp-right", &right.text(&[]))
    }];
    assert_eq!(formats::check_job(&mixed), []);
    let kept = &mut study::Kept::default();
    let s = study::run(&mixed, &scans, kept, 200, &Quiet).expect("not called off");
    let c = &s.measured.compares[0];
    assert!(!c.stations.is_empty(), "{:?}", findings(&s));
    let mut gap = Tally::default();
    for st in &c.stations {
        gap.add(st.gap.value, st.gap.u95);
    }
    println!(
        "scan against tape: gap covered {:.1} %, rms {:.2}",
        gap.covered(),
        gap.root_mean_square()
    );
    assert!(gap.covered() >= 85.0);
    assert_eq!(c.holes.len(), 4);
    let d = &s.decided.compares[0];
    assert!(!d.joint.as_ref().is_some_and(|j| j.proven), "{:?}", d.joint);
}

#[test]
#[ignore = "writes the tables of tests/data/hand anew: cargo test -p it hand_tables_as_files -- --ignored"]
fn hand_tables_as_files() {
    let coach = Coach::new(1);
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/data/hand");
    std::fs::create_dir_all(folder).expect("a folder");
    for (sheet, name) in both(&coach, 1).iter().zip(["lamp-left", "lamp-right"]) {
        let slips: &[Slip] = if name == "lamp-left" {
            &[Slip { tie: 60, by: 10.0 }]
        } else {
            &[]
        };
        std::fs::write(format!("{folder}/{name}.csv"), sheet.text(slips)).expect("written");
    }
}
