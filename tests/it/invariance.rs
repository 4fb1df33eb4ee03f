//! What must not change the answer: the number of threads, results kept from earlier, which side is called a.

use demo::Coach;
use geom::Vector;
use record::{Measured, Quiet};

use super::demo_truth::{measured, prepared};

const POINTS: usize = 150_000;

fn text(m: &Measured) -> String {
    format!("{m:?}")
}

#[test]
fn one_thread_and_two_give_the_same_bits() {
    let coach = Coach::new(11);
    let scans = prepared(&coach, POINTS);
    let with = |threads| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads);
        pool.build().unwrap().install(|| {
            let mut kept = study::Kept::default();
            text(&study::measure(&coach.job(), &scans, &mut kept, &Quiet).unwrap())
        })
    };
    let one = with(1);
    assert!(one.contains("lamp-left"));
    assert!(one == with(2), "one thread and two differ");
}

#[test]
fn kept_results_change_nothing() {
    let coach = Coach::new(12);
    let scans = prepared(&coach, POINTS);
    let mut kept = study::Kept::default();
    let mut job = coach.job();
    for edit in 0..5 {
        match edit {
            0 => {}
            1 => job.openings[0].holes[1].near += Vector::new(0.4, -0.3, 0.2),
            2 => job.openings[3].faces.truncate(1),
            3 => job.openings[1].top = job.openings[1].edge.as_ref().map(|e| e.near),
            _ => job.openings[0].junctions.clear(),
        }
        let warm = text(&study::measure(&job, &scans, &mut kept, &Quiet).unwrap());
        let mut none = study::Kept::default();
        let cold = text(&study::measure(&job, &scans, &mut none, &Quiet).unwrap());
        assert!(warm == cold, "edit {edit}: kept results change the answer");
    }
}

/// Swapping a and b cuts the stations on the other edge. Angles only change their sign, exactly; the modes agree as far as
/// the other stations and the smoothing between them allow: within 0.6 of their give-or-take on unlike sides.
#[test]
fn swapped_sides_change_the_sign() {
    let coach = Coach::new(13);
    let scans = prepared(&coach, POINTS);
    let (mut job, m) = measured(&coach, POINTS);
    for c in &mut job.compares {
        if let Some(b) = c.b.as_mut() {
            std::mem::swap(&mut c.a, b);
        }
    }
    let mut kept = study::Kept::default();
    let s = study::measure(&job, &scans, &mut kept, &Quiet).unwrap();
    for (x, y) in m
        .compares
        .iter()
        .zip(&s.compares)
        .filter(|c| c.0.b.is_some())
    {
        // Angles never see the other edge: exact.
        for (p, q) in x.angles.iter().zip(&y.angles) {
            let (p, q) = (p.difference.unwrap(), q.difference.unwrap());
            assert_eq!((p.value, p.u95), (-q.value, q.u95), "{} {:?}", x.id, p);
        }
        for (p, q) in x.modes.iter().zip(&y.modes) {
            let off = (p.amount.value + q.amount.value).abs();
            println!(
                "{} {:?}: {:+.4} and {:+.4}, {:.4}",
                x.id, p.kind, p.amount.value, q.amount.value, p.amount.u95
            );
            assert_eq!(p.kind, q.kind);
            // Shear is + where the top lies along +X, which turns round with the mirror.
            if p.kind != record::ModeKind::Shear && p.kind != record::ModeKind::Twist {
                assert!(off < 0.6 * p.amount.u95, "{} {:?}", x.id, p.kind);
            }
        }
    }
}
