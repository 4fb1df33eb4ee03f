//! What the whole job takes on the demo: preparing, measuring cold and warm, deciding.
//!
//! `cargo bench -p it --bench engine [-- POINTS...]`

use std::sync::Arc;
use std::time::Instant;

use record::{LengthUnit, Quiet, Scans};

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

fn whole_job(points: usize) {
    let coach = demo::Coach::new(7);
    let raw = coach.scans(points, &Quiet).unwrap();
    println!("{points} points");
    let t = Instant::now();
    let scans: Scans = raw
        .into_iter()
        .map(|s| {
            let p = study::prepare(s.raw, LengthUnit::Millimetre, &Quiet).unwrap();
            (s.id, Arc::new(p))
        })
        .collect();
    println!("  prepared in {:.2?}", t.elapsed());
    let job = coach.job();
    let mut kept = study::Kept::default();
    let mut measure = |word: &str| {
        let t = Instant::now();
        let m = study::measure(&job, &scans, &mut kept, &Quiet).unwrap();
        println!("  measured {word} in {:.2?}", t.elapsed());
        m
    };
    measure("cold");
    let measured = measure("warm");
    for draws in [0, 2_000] {
        let t = Instant::now();
        let d = study::decide(&measured, &job.choices, job.seed, draws);
        println!(
            "  decided {} compares with {draws} draws in {:.2?}",
            d.compares.len(),
            t.elapsed()
        );
    }
}
