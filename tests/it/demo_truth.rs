//! The demo's coach measured and compared with what is true of it.

use std::sync::Arc;

use demo::Coach;
use record::{Job, LengthUnit, Measured, Quiet, Scans};

/// The prepared scans of a coach, about `points` points in all.
pub fn prepared(coach: &Coach, points: usize) -> Scans {
    coach
        .scans(points, &Quiet)
        .unwrap()
        .into_iter()
        .map(|s| {
            let prepared = study::prepare(s.raw, LengthUnit::Millimetre, &Quiet).unwrap();
            (s.id, Arc::new(prepared))
        })
        .collect()
}

/// The job of a coach, measured on scans of about `points` points in all.
pub fn measured(coach: &Coach, points: usize) -> (Job, Measured) {
    let scans = prepared(coach, points);
    let job = coach.job();
    let measured = study::measure(&job, &scans, &mut study::Kept::default(), &Quiet).unwrap();
    (job, measured)
}

/// Every opening of the demo is found, and its edge, holes and junction are where they were made.
#[test]
fn the_demo_is_measured_as_it_was_made() {
    let coach = Coach::new(7);
    let truth = coach.truth();
    let (job, m) = measured(&coach, 2_000_000);
    assert_eq!(m.openings.len(), job.openings.len());
    for o in &m.openings {
        let t = truth.opening(&o.id).unwrap();
        let scan_from_car = truth.scan_from_car(&t.scan).unwrap();
        let car_from_part = (o.part_from_scan * scan_from_car).inverse();
        let e = o.edge.as_ref().unwrap();
        assert!(e.closed, "{} does not close", o.id);
        let off: Vec<f64> = e
            .stations
            .iter()
            .filter(|s| s.seen)
            .map(|s| t.edge_distance(&(car_from_part * s.at)))
            .collect();
        let rms = (off.iter().map(|x| x * x).sum::<f64>() / off.len() as f64).sqrt();
        let said = e
            .stations
            .iter()
            .map(|s| s.gap_u_mm.powi(2) + s.flush_u_mm.powi(2))
            .sum::<f64>();
        let said = (said / e.stations.len() as f64).sqrt();
        println!("{}: edge off {rms:.3} mm, said {said:.3}", o.id);
        assert!(
            rms < 1.6 * said && said < 0.12,
            "{}: edge off {rms}, said {said}",
            o.id
        );
        for h in &o.holes {
            let made = t.holes.iter().find(|x| x.id == h.id).unwrap();
            let off = (car_from_part * h.centre - made.centre).norm();
            println!(
                "   hole {}: off {off:.3}, said {:.3}",
                h.id, h.centre_u95.u95
            );
            assert!(off < 2.5 * h.centre_u95.u95, "{} {}: off {off}", o.id, h.id);
            let d = (h.diameter.value - made.diameter_mm).abs();
            assert!(
                d < 2.0 * h.diameter.u95,
                "{} {}: diameter off {d}",
                o.id,
                h.id
            );
        }
        for j in &o.junctions {
            let made = t.junction.unwrap();
            for s in &j.stations {
                let at = car_from_part * (o.part_from_scan * s.at);
                let share = (at - made.top).norm() / (made.bottom - made.top).norm();
                let off = (s.angle.value - made.angle_deg(share)).abs();
                println!(
                    "   {} {}: {:.3} off {off:.3}, said {:.3}",
                    j.id, s.place, s.angle.value, s.angle.u95
                );
                assert!(
                    off < 1.6 * s.angle.u95 && s.angle.u95 < 0.15,
                    "{} {}",
                    j.id,
                    s.place
                );
            }
        }
    }
}
