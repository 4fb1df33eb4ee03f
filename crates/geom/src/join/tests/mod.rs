//! Places named in two scans.

mod coverage_places;
mod surfaces;

use approx::assert_relative_eq;

use super::*;
use crate::{Point, Rigid, Vector};

/// Places over a body 3 m long.
pub(super) const BODY: [[f64; 3]; 8] = [
    [-250.0, 610.0, 160.0],
    [260.0, -690.0, -180.0],
    [780.0, 705.0, -220.0],
    [800.0, -640.0, 420.0],
    [1850.0, 650.0, 430.0],
    [1900.0, -710.0, -200.0],
    [2900.0, 660.0, -220.0],
    [3250.0, -560.0, 480.0],
];

pub(super) fn to_from() -> Rigid {
    Rigid::new(
        Vector::new(1500.0, -800.0, 300.0),
        Vector::new(0.7, -2.0, 1.1),
    )
}

pub(super) fn places(n: usize, off: impl Fn(usize) -> Vector) -> Vec<TwicePlace> {
    BODY[..n]
        .iter()
        .enumerate()
        .map(|(k, at)| {
            let to = Point::from(*at);
            TwicePlace {
                from: to_from().inverse() * (to + off(k)),
                to,
                sigma: 0.5,
            }
        })
        .collect()
}

#[test]
fn exact_places_give_the_exact_pose() {
    for n in 3..=8 {
        let join = join_places(&places(n, |_| Vector::zeros())).unwrap();
        for p in BODY {
            let p = Point::from(p);
            assert_relative_eq!(join.to_from * (to_from().inverse() * p), p, epsilon = 1e-9);
        }
        assert!(join.places.iter().all(|p| p.kept && p.off.norm() < 1e-9));
    }
}

/// Three places bend to fit: the method's example, 5 mm out of the plane of targets 1.4 m apart.
#[test]
fn three_places_hide_what_lies_out_of_their_plane() {
    let at = [[0.0, 0.0, 0.0], [1400.0, 0.0, 0.0], [700.0, 1212.0, 0.0]].map(Point::from);
    let mut three: Vec<TwicePlace> = at
        .iter()
        .map(|p| TwicePlace {
            from: *p,
            to: *p,
            sigma: 0.5,
        })
        .collect();
    three[2].from.z += 5.0;
    let join = join_places(&three).unwrap();
    let worst = join.places.iter().map(|p| p.off.norm()).fold(0.0, f64::max);
    assert!((0.003..0.012).contains(&worst), "{worst}");
    assert_eq!(join.places[0].chance, None);
    // With so little left, the stated sigmas speak.
    assert_eq!(join.doubt.parts[0].nu[0], f64::INFINITY);
}

#[test]
fn the_odd_one_is_named_among_five_and_more() {
    let scatter = |k: usize| Vector::from_fn(|i, _| 0.4 * ((3 * k + i) as f64 * 2.3).sin());
    for n in 5..=8 {
        let sound = join_places(&places(n, scatter)).unwrap();
        assert!(sound.places.iter().all(|p| p.kept), "{n}");
        for bent in 0..n {
            let off = |k: usize| {
                let extra = if k == bent { 12.0 } else { 0.0 };
                scatter(k) + Vector::new(0.3, -0.5, 0.8) * extra
            };
            let join = join_places(&places(n, off)).unwrap();
            let aside: Vec<usize> = (0..n).filter(|&k| !join.places[k].kept).collect();
            assert_eq!(aside, [bent], "{n}");
            assert!(join.places[bent].off.norm() > 5.0);
        }
    }
    // Two of eight that hide each other.
    let two = |k: usize| {
        let extra = if k == 2 || k == 4 { 10.0 } else { 0.0 };
        scatter(k) + Vector::y() * extra
    };
    let join = join_places(&places(8, two)).unwrap();
    let aside: Vec<usize> = (0..8).filter(|&k| !join.places[k].kept).collect();
    assert_eq!(aside, [2, 4]);
}

#[test]
fn what_does_not_fix_a_pose_is_refused() {
    let two = join_places(&places(2, |_| Vector::zeros()));
    assert!(matches!(two, Err(crate::FitError::TooFewPoints { .. })));
    let mut line = places(4, |_| Vector::zeros());
    for (k, p) in line.iter_mut().enumerate() {
        p.from = Point::new(100.0 * k as f64, 0.0, 0.0);
        p.to = p.from;
    }
    assert_eq!(join_places(&line), Err(crate::FitError::Degenerate));
    let mut bad = places(4, |_| Vector::zeros());
    bad[1].sigma = 0.0;
    assert_eq!(join_places(&bad), Err(crate::FitError::NotFinite));
}

/// The doubt goes with the axes it is told in, whichever way it is written.
#[test]
fn a_doubt_is_the_same_in_all_axes() {
    let scatter = |k: usize| Vector::from_fn(|i, _| 0.4 * ((5 * k + i) as f64 * 1.7).sin());
    let join = join_places(&places(6, scatter)).unwrap();
    let p = Point::new(-900.0, 300.0, 700.0);
    let d = Vector::new(0.2, 0.9, -0.4);
    let here = join.doubt.at(&p, &d).unwrap();
    let elsewhere = join.doubt.taken_about(&Point::new(50.0, 60.0, -70.0));
    assert_relative_eq!(elsewhere.at(&p, &d).unwrap().s, here.s, epsilon = 1e-12);
    let map = Rigid::new(Vector::new(7.0, 8.0, -9.0), Vector::new(0.1, 0.4, -2.0));
    let seen = join.doubt.seen_from(&map);
    assert_relative_eq!(
        seen.at(&(map * p), &(map * d)).unwrap().s,
        here.s,
        epsilon = 1e-12
    );
    // The way back: the same place, the same doubt.
    let back = join.doubt.inverse(&join.to_from);
    let inv = join.to_from.inverse();
    assert_relative_eq!(
        back.at(&(inv * p), &(inv * d)).unwrap().s,
        here.s,
        epsilon = 1e-12
    );
    // Two joins one after the other: variances add up.
    let both = join.doubt.then(&Rigid::identity(), &join.doubt);
    let twice = both.at(&p, &d).unwrap();
    assert_relative_eq!(twice.s, here.s * 2.0_f64.sqrt(), epsilon = 1e-12);
    assert_relative_eq!(twice.nu, 2.0 * here.nu, epsilon = 1e-9);
    // Doubt grows away from the middle of the places, and the worst is at least that of any direction.
    let worst = join.doubt.worst_at(&p).unwrap();
    assert!(worst.s >= here.s && worst.s > join.doubt.worst_at(&join.doubt.about).unwrap().s);
}

#[test]
fn a_free_motion_bounds_nothing_that_it_changes() {
    let join = join_places(&places(6, |k| Vector::x() * (k % 2) as f64)).unwrap();
    let mut doubt = join.doubt;
    doubt
        .free
        .push(nalgebra::Vector6::new(1.0, 0.0, 0.0, 0.0, 0.0, 0.0));
    let p = Point::origin();
    assert!(doubt.at(&p, &Vector::x()).is_none() && doubt.worst_at(&p).is_none());
    assert!(doubt.at(&p, &Vector::y()).is_some() && doubt.worst_turn().is_some());
}
