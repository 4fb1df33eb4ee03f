//! Sides measured under unlike films: what is taken off, what is doubted, what is said.

use demo::Coach;
use record::{Code, Finding, Job, Measured, MeasuredCompare, ModeKind, Quiet, Severity, Surface};

use super::demo_truth::prepared;

const POINTS: usize = 200_000;
const FILM_MM: f64 = 0.15;

fn job(
    coach: &Coach,
    left: (Surface, Option<f64>, Option<f64>),
    right: (Surface, Option<f64>),
) -> Job {
    let mut job = coach.job();
    let state = &mut job.visits[0].state;
    (state.left, state.left_film_um, state.left_film_u95_um) = left;
    (state.right, state.right_film_um) = right;
    job
}

fn measured(coach: &Coach, job: &Job) -> Measured {
    let scans = prepared(coach, POINTS);
    study::measure(job, &scans, &mut study::Kept::default(), &Quiet).unwrap()
}

fn said(c: &MeasuredCompare) -> Option<&Finding> {
    c.findings.iter().find(|f| f.code == Code::UnlikeBodyStates)
}

/// Mean over the pairs of how much wider and higher the left is.
fn wider(m: &Measured) -> f64 {
    let all: Vec<f64> = m
        .compares
        .iter()
        .filter(|c| c.b.is_some())
        .flat_map(|c| &c.modes)
        .filter(|x| matches!(x.kind, ModeKind::Width | ModeKind::Height))
        .map(|x| x.amount.value)
        .collect();
    assert_eq!(all.len(), 8);
    all.iter().sum::<f64>() / 8.0
}

#[test]
fn a_film_on_one_side_is_taken_off() {
    let coach = Coach::perfect(31).under_films([FILM_MM, 0.0]);
    let bare = (Surface::Bare, None);
    // As if nobody had said so: the left openings look smaller by a film at either end.
    let silent = measured(&coach, &job(&coach, (Surface::Bare, None, None), bare));
    assert!(silent.compares.iter().all(|c| said(c).is_none()));
    let off = wider(&silent);
    assert!((off + 2.0 * FILM_MM).abs() < 0.06, "{off:.3} mm");

    let known = job(&coach, (Surface::Primed, Some(150.0), Some(20.0)), bare);
    let m = measured(&coach, &known);
    let off = wider(&m);
    println!("taken off: {off:+.3} mm left");
    assert!(off.abs() < 0.06, "{off:.3} mm");
    for c in m.compares.iter().filter(|c| c.b.is_some()) {
        let f = said(c).unwrap();
        assert_eq!(f.severity, Severity::Doubt);
        assert!(
            f.says.contains(
                "left is primed, right is bare; 0.15 mm was taken off the left (give or take 0.02)"
            ),
            "{}",
            f.says
        );
        // Its doubt goes into the width twice, together with what there was.
        let u95 = |m: &Measured| {
            let c = m.compares.iter().find(|x| x.id == c.id).unwrap();
            let width = c.modes.iter().find(|x| x.kind == ModeKind::Width).unwrap();
            width.amount.u95
        };
        let (with, without) = (u95(&m), u95(&silent));
        let wanted = without.hypot(0.04);
        assert!((with / wanted - 1.0).abs() < 0.15, "{with} {wanted}");
    }
    // The faces of the bare metal lie a film deeper, angles are the same.
    for (a, b) in silent.openings.iter().zip(&m.openings) {
        for (x, y) in a.faces.iter().zip(&b.faces) {
            let deeper = x.plane.distance(&y.centre);
            let wanted = if a.side == record::Side::Left {
                -FILM_MM
            } else {
                0.0
            };
            assert!((deeper - wanted).abs() < 1e-6, "{} {deeper}", a.id);
        }
        for (x, y) in a.junctions.iter().zip(&b.junctions) {
            for (x, y) in x.stations.iter().zip(&y.stations) {
                assert_eq!(x.angle, y.angle);
            }
        }
    }
}

#[test]
fn a_film_of_unknown_thickness_is_doubted_and_not_taken_off() {
    let coach = Coach::perfect(32).under_films([FILM_MM, 0.0]);
    let job = job(&coach, (Surface::Primed, None, None), (Surface::Bare, None));
    let m = measured(&coach, &job);
    for c in m.compares.iter().filter(|c| c.b.is_some()) {
        let f = said(c).unwrap();
        assert!(
            f.says
                .contains("how thick the film on the left is was not said"),
            "{}",
            f.says
        );
        assert!(f.advice.contains("measure the film"), "{}", f.advice);
        for x in &c.modes {
            if matches!(x.kind, ModeKind::Width | ModeKind::Height) {
                assert!(x.amount.value.abs() < x.amount.u95, "{} {x:?}", c.id);
                assert!(x.amount.u95 > 2.0 * FILM_MM, "{} {x:?}", c.id);
            }
        }
    }
    // Then no difference is proven where there is none.
    let d = study::decide(&m, &job.choices, 3, 400);
    for c in d.compares.iter().filter(|c| c.joint.is_some()) {
        let joint = c.joint.as_ref().unwrap();
        assert!(!joint.proven, "{} {joint:?}", c.id);
    }
}

#[test]
fn like_films_stay_on() {
    let coach = Coach::perfect(33).under_films([FILM_MM, FILM_MM]);
    let of = |film: Option<f64>| {
        let primed = (Surface::Primed, film);
        measured(&coach, &job(&coach, (Surface::Primed, film, None), primed))
    };
    let (said_so, silent) = (of(Some(150.0)), of(None));
    assert!(said_so.compares.iter().all(|c| said(c).is_none()));
    assert_eq!(
        format!("{:?}", said_so.compares),
        format!("{:?}", silent.compares)
    );
}
