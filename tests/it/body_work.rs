//! What body work changed between two visits, against what was made: areas, their size, false alarms.

use demo::{Coach, FlangeWork, PanelWork, Work};
use geom::{Rigid, Vector};
use record::{BodyWork, Code, Job, Quiet, ScanRef, Scans, Side, StartPose, Visit, WorkFound};
use std::sync::Arc;

/// The coach of the first visit; of the second, what is left of it is made by [`after`].
fn before(seed: u64) -> Coach {
    Coach::new(seed)
}

fn after(seed: u64, work: Option<Work>) -> Coach {
    match work {
        Some(w) => before(seed).after(w),
        None => before(seed).reading(1),
    }
}

/// Both scans of the right side, prepared, and a job that states them; the start is off by some millimetres.
fn two_visits(seed: u64, work: Option<Work>, points: usize) -> (Job, Scans) {
    let coach = before(seed);
    let job = coach.job();
    let mut scans = Scans::new();
    let mut poses = Vec::new();
    for (id, coach) in [("before", coach), ("after", after(seed, work))] {
        let scan = coach.scan_side(Side::Right, points, &Quiet).unwrap();
        let unit = record::LengthUnit::Millimetre;
        scans.insert(
            id.into(),
            Arc::new(study::prepare(scan.raw, unit, &Quiet).unwrap()),
        );
        poses.push(scan.scan_from_car);
    }
    let off = Rigid::new(Vector::new(1.5, -2.0, 1.0), Vector::new(0.002, 0.001, -0.002));
    let start = poses[0] * off * poses[1].inverse();
    let turn = start.rotation.scaled_axis();
    let visit = |id: &str| Visit {
        id: id.into(),
        ..job.visits[0].clone()
    };
    let scan = |id: &str, visit: &str| ScanRef {
        id: id.into(),
        visit: visit.into(),
        ..job.scans[0].clone()
    };
    let job = Job {
        cars: job.cars.clone(),
        visits: vec![visit("first"), visit("second")],
        scans: vec![scan("before", "first"), scan("after", "second")],
        body_work: vec![BodyWork {
            name: "work".to_owned(),
            before: "before".into(),
            after: "after".into(),
            worked: Vec::new(),
            start: Some(StartPose {
                axis: turn,
                turn_deg: turn.norm().to_degrees(),
                shift: start.translation.vector,
                within_mm: Some(5.0),
            }),
            most_mm: BodyWork::MOST_MM,
            note: String::new(),
        }],
        ..Job::default()
    };
    (job, scans)
}

fn found(job: &Job, scans: &Scans) -> WorkFound {
    let mut study = study::body_work(job, scans, 0, &Quiet).unwrap();
    study.works.remove(0)
}

/// How the move of [`demo::Work`] falls off along one direction: 1 up to 0.78, 0 from 1 on, a quintic between.
fn falls_off(x: f64) -> f64 {
    let t = ((1.0 - x.abs()) / 0.22).clamp(0.0, 1.0);
    t * t * t * (t * (6.0 * t - 15.0) + 10.0)
}

/// Mean of what moved at least `share` of the most, as a share of the most: a stretch, or an area of two such profiles.
fn mean_over(share: f64, area: bool) -> f64 {
    let at = |k: i32| falls_off(f64::from(k) / 2000.0);
    let ys: Vec<i32> = if area { (0..2000).step_by(4).collect() } else { vec![0] };
    let all = (0..2000).flat_map(|x| ys.iter().map(move |&y| at(x) * at(y)));
    let over: Vec<f64> = all.filter(|m| *m >= share).collect();
    over.iter().sum::<f64>() / over.len() as f64
}

#[test]
#[ignore = "prints"]
fn look() {
    let mut alarms = 0;
    let n: u64 = std::env::var("N").ok().and_then(|n| n.parse().ok()).unwrap_or(10);
    let points = std::env::var("P").ok().and_then(|n| n.parse().ok()).unwrap_or(100_000);
    for seed in 1..=n {
        let (job, scans) = two_visits(seed, None, points);
        let t = std::time::Instant::now();
        let f = found(&job, &scans);
        let Some(l) = f.laid else { println!("{seed} not laid {:?}", f.findings); continue };
        if !l.areas.is_empty() {
            alarms += 1;
        }
        println!("{seed}: {} areas, found from {:.3}, {:?}", l.areas.len(), l.found_from_mm, t.elapsed());
        for a in &l.areas {
            println!("   {:?} mean {:.3} most {:.3} len {:.1} wid {:.1}", a.centre, a.mean.value, a.most.value, a.length.value, a.width.value);
        }
    }
    println!("alarms {alarms} of {n}");
    let flange = Work::DRESSED;
    let panel = Work {
        side: Side::Right,
        flange: None,
        panel: Some(PanelWork { opening: "vent", at_mm: [0.0, 62.0], size_mm: [90.0, 40.0], amount_mm: -0.6 }),
    };
    let _ = FlangeWork { ..flange.flange.unwrap() };
    for (name, work, mean, most, length) in [("flange", flange, -1.5 * mean_over(0.5, false), -1.5 * mean_over(0.8, false), 80.0), ("panel", panel, -0.6 * mean_over(0.5, true), -0.6 * mean_over(0.8, true), 90.0)] {
        let mut inside = [0; 3];
        let mut got = 0;
        println!("{name} {mean:.3} {most:.3}");
        for seed in 1..=n {
            let (job, scans) = two_visits(seed, Some(work), points);
            let f = found(&job, &scans);
            let Some(l) = f.laid else { println!("{seed} not laid {:?}", f.findings); continue };
            for a in &l.areas {
                println!("   {seed} {name} mean {:.3}±{:.3} most {:.3}±{:.3} len {:.1}±{:.1} {:?} wid {:.1}±{:.1}", a.mean.value, a.mean.u95, a.most.value, a.most.u95, a.length.value, a.length.u95, a.ends_seen, a.width.value, a.width.u95);
            }
            if let [a, ..] = l.areas.as_slice() {
                got += 1;
                for (k, (f, t)) in [(a.mean, mean), (a.most, most), (a.length, length)].iter().enumerate() {
                    inside[k] += usize::from((f.value - t).abs() <= f.u95);
                }
            }
        }
        println!("{name}: found {got} of {n}, inside {inside:?}");
    }
    let _ = Code::VisitsNotLaid;
}
