//! What the whole job takes on the demo: making, preparing, measuring cold and warm, deciding.
//!
//! `cargo bench -p it --bench engine [-- POINTS...]`

use std::time::Instant;

use record::{LengthUnit, Quiet, Scans};

fn main() {
    let asked: Vec<usize> = std::env::args().filter_map(|a| a.parse().ok()).collect();
    let sizes = if asked.is_empty() {
        vec![200_000, 2_000_000]
    } else {
        asked
    };
    for points in sizes {
        let coach = demo::Coach::new(7);
        let t = Instant::now();
        let raw = coach.scans(points, &Quiet).unwrap();
        println!("{points} points: scanned in {:.2?}", t.elapsed());
        let t = Instant::now();
        let scans: Scans = raw
            .into_iter()
            .map(|s| {
                let p = study::prepare(s.raw, LengthUnit::Millimetre, &Quiet).unwrap();
                (s.id, std::sync::Arc::new(p))
            })
            .collect();
        println!("  prepared in {:.2?}", t.elapsed());
        let job = coach.job();
        let mut kept = study::Kept::default();
        for word in ["cold", "warm"] {
            let t = Instant::now();
            let m = study::measure(&job, &scans, &mut kept, &Quiet).unwrap();
            if std::env::var_os("PIECES").is_some() {
                for o in &m.openings {
                    let e = o.edge.as_ref().unwrap();
                    println!(
                        "{} pieces {} error {:.3} corners {:?}",
                        o.id,
                        e.pieces.pieces.len(),
                        e.pieces_error_mm,
                        e.corners
                            .iter()
                            .map(|c| (c.radius.value, c.radius.u95, c.arc_deg))
                            .collect::<Vec<_>>()
                    );
                }
            }
            println!(
                "  measured {word} in {:.2?} ({} openings)",
                t.elapsed(),
                m.openings.len()
            );
        }
    }
}
