use super::*;
use crate::{FitError, Mirror, Plane, Point, Rigid, Unit, Vector};
use approx::assert_relative_eq;
use proptest::prelude::*;

fn pair(l: [f64; 3], r: [f64; 3]) -> Landmark {
    Landmark::pair(Point::from(l), Point::from(r), 1.0)
}

/// Pairs at +-b, their places along and up as given.
fn body(b: f64, places: &[[f64; 2]]) -> Vec<Landmark> {
    places
        .iter()
        .map(|[x, z]| pair([*x, -b, *z], [*x, b, *z]))
        .collect()
}

/// Eight pairs over 3.6 m.
pub(super) fn coach() -> Vec<Landmark> {
    let up = [300.0, -300.0, -300.0, 300.0, 300.0, -300.0, -300.0, 300.0];
    let places: Vec<[f64; 2]> = (0..8).map(|k| [3600.0 / 7.0 * k as f64, up[k]]).collect();
    body(650.0, &places)
}

fn forward(landmarks: &mut [Landmark], which: &[usize], by: f64) {
    for &k in which {
        landmarks[k].left.x -= by;
    }
}

#[test]
fn three_pairs_by_hand() {
    let p = fit_mid_plane(&body(1.0, &[[0.0, 0.0], [2.0, 0.0], [0.0, 2.0]]), None).unwrap();
    for (got, want) in p.eigenvalues.iter().zip([-3.0, 4.0 / 3.0, 4.0]) {
        assert_relative_eq!(*got, want, epsilon = 1e-12);
    }
    assert_relative_eq!(p.plane.normal.into_inner(), Vector::y(), epsilon = 1e-12);
    assert_relative_eq!(
        p.centre,
        Point::new(2.0 / 3.0, 0.0, 2.0 / 3.0),
        epsilon = 1e-12
    );
    assert!(p.doubt.is_none() && p.swapped.is_empty());
}

#[test]
fn doubt_of_four_pairs_by_hand() {
    let places = [
        [-1500.0, -300.0],
        [-1500.0, 300.0],
        [1500.0, -300.0],
        [1500.0, 300.0],
    ];
    let l = body(700.0, &places);
    let p = fit_mid_plane(&l, Some(&Vector::x())).unwrap();
    let doubt = PlaneDoubt::with_scatter(&p.rows(&l), [3.0; 3], [f64::INFINITY; 3]).unwrap();
    assert_relative_eq!(doubt.yaw().s.to_degrees(), 0.02596, epsilon = 1e-5);
    assert_relative_eq!(doubt.roll().s.to_degrees(), 0.05642, epsilon = 1e-5);
    assert_relative_eq!(doubt.shift().s, 0.75, epsilon = 1e-12);
    // The closed form for equal scatter: block((1/4) [sum m m' + b^2 I]^-1, 1/(4 N)).
    let c = doubt.covariance();
    assert_relative_eq!(
        c[(0, 0)],
        9.0 / (16.0 * (1500.0_f64.powi(2) + 700.0_f64.powi(2))),
        max_relative = 1e-12
    );
    assert_relative_eq!(c[(0, 2)], 0.0, epsilon = 1e-18);
}

/// The closed form is the least of all planes: any other leaves more.
#[test]
fn nothing_near_is_better() {
    let mut l = coach();
    forward(&mut l, &[0, 3], 7.0);
    l[5].right += Vector::new(3.0, -4.0, 2.0);
    l[2].weight = 3.0;
    l.push(Landmark::centre(Point::new(500.0, 2.0, 400.0), 0.5));
    let p = fit_mid_plane(&l, None).unwrap();
    let left = |plane: &Plane| -> f64 {
        let m = Mirror { plane: *plane };
        l.iter()
            .map(|l| l.weight * (l.right - m.point(&l.left)).norm_squared())
            .sum()
    };
    let best = left(&p.plane);
    for (a, b, d) in [
        (1.0, 0.0, 0.0),
        (0.0, 1.0, 0.0),
        (0.0, 0.0, 1.0),
        (1.0, -1.0, 0.3),
    ] {
        for sign in [-1e-4, 1e-4] {
            let n = p.plane.normal.into_inner()
                + (p.along.into_inner() * a + p.up.into_inner() * b) * sign;
            let at = p.centre + p.plane.normal.into_inner() * (d * sign * 1000.0);
            assert!(left(&Plane::through(&at, Unit::new_normalize(n))) > best);
        }
    }
    // The doubt's rows are its derivatives: no pull is left at the best plane.
    let pull: f64 = p
        .rows(&l)
        .iter()
        .map(|r| r.h.transpose() * r.v * r.weight)
        .sum::<Vector>()
        .norm();
    assert!(pull < 1e-6 * best.max(1.0) * 1000.0, "{pull}");
}

#[test]
fn a_wing_forward_turns_the_plane_little_over_the_body_and_much_at_the_nose() {
    let along = Vector::x();
    let truth = fit_mid_plane(&coach(), Some(&along)).unwrap();
    let mut l = coach();
    forward(&mut l, &[0, 1], 8.0);
    let all = fit_mid_plane(&l, Some(&along)).unwrap();
    assert_relative_eq!(
        truth.yaw_to(&all.plane).to_degrees().abs(),
        0.021,
        epsilon = 1e-3
    );
    // Two nose pairs half a metre apart.
    let mut nose = body(650.0, &[[0.0, 0.0], [500.0, 0.0]]);
    forward(&mut nose, &[0, 1], 8.0);
    let two = fit_mid_plane(&nose, Some(&along)).unwrap();
    assert_relative_eq!(
        truth.yaw_to(&two.plane).to_degrees().abs(),
        0.307,
        epsilon = 1e-3
    );
    // Both pairs of the wing are named, and the plane is the true one.
    let found = odd_ones(&l, Some(&along)).unwrap();
    let mut named: Vec<usize> = found.aside.iter().map(|s| s.index).collect();
    named.sort_unstable();
    assert_eq!(named, [0, 1]);
    assert_relative_eq!(
        truth.yaw_to(&found.plane.plane).to_degrees(),
        0.0,
        epsilon = 1e-4
    );
    assert_relative_eq!(found.aside[0].misfit.x, 8.0, epsilon = 1e-9);
    // Of the midpoints only half is moved and the chords not at all.
    let middle = fit_midpoints_only(&l, Some(&along)).unwrap();
    assert!(truth.yaw_to(&middle.plane).abs() < 1e-12);
}

#[test]
fn a_sound_body_has_no_odd_one() {
    let found = odd_ones(&coach(), None).unwrap();
    assert!(found.aside.is_empty() && found.kept.len() == 8);
}

#[test]
fn many_places_are_searched_by_fixed_triples() {
    let places: Vec<[f64; 2]> = (0..20)
        .map(|k| [180.0 * f64::from(k), f64::from((k * 7) % 5) * 120.0])
        .collect();
    let mut l = body(650.0, &places);
    for (k, p) in l.iter_mut().enumerate() {
        let k = k as f64;
        p.right += Vector::new((k * 1.3).sin(), (k * 2.1).sin(), (k * 3.7).sin());
    }
    forward(&mut l, &[4, 5, 6], 40.0);
    let found = odd_ones(&l, None).unwrap();
    let mut named: Vec<usize> = found.aside.iter().map(|s| s.index).collect();
    named.sort_unstable();
    assert_eq!(named, [4, 5, 6]);
}

#[test]
fn points_on_the_middle_alone() {
    let n = Unit::new_normalize(Vector::new(0.02, 1.0, -0.01));
    let at = Plane::through(&Point::new(100.0, 30.0, 20.0), n);
    let l: Vec<Landmark> = [
        [0.0, 0.0],
        [3000.0, 100.0],
        [1500.0, 1400.0],
        [200.0, 900.0],
    ]
    .iter()
    .map(|[x, z]| Landmark::centre(at.foot(&Point::new(*x, 0.0, *z)), 1.0))
    .collect();
    let p = fit_mid_plane(&l, None).unwrap();
    assert_relative_eq!(p.plane.normal.into_inner(), n.into_inner(), epsilon = 1e-12);
    assert_relative_eq!(p.plane.offset, at.offset, epsilon = 1e-9);
    // One degree of freedom is left across, none elsewhere.
    let d = p.doubt.unwrap();
    assert_relative_eq!(d.nu[1], 1.0, epsilon = 1e-9);
    assert_eq!(d.scatter[0], 0.0);
    let line: Vec<Landmark> = (0..5)
        .map(|k| Landmark::centre(Point::new(f64::from(k), 0.0, 0.0), 1.0))
        .collect();
    assert_eq!(
        fit_mid_plane(&line, None),
        Err(NoMidPlane::Fit(FitError::Degenerate))
    );
}

/// A point on the middle weighs half of a pair: the doubt of the shift with N points is that of N pairs whose readings
/// have the same scatter, times sqrt 2.
#[test]
fn a_point_on_the_middle_weighs_half() {
    let c = Landmark::centre(Point::origin(), 2.0);
    let p = Landmark::pair(Point::origin(), Point::new(0.0, 1.0, 0.0), 2.0);
    assert_relative_eq!(c.weight * 2.0, p.weight);
}

#[test]
fn what_is_no_body_is_refused() {
    // Both sides were picked on one side.
    let l: Vec<Landmark> = (0..5)
        .map(|k| {
            let k = f64::from(k);
            pair(
                [1000.0 * k, -600.0, 80.0 * k * k],
                [1000.0 * k + 40.0, -590.0, 80.0 * k * k],
            )
        })
        .collect();
    let p = fit_mid_plane(&l, None);
    assert!(matches!(p, Err(NoMidPlane::NotAcross)) || p.is_ok_and(|p| p.poorly_determined()),);
    let mut bad = coach();
    bad[0].left.x = f64::NAN;
    assert_eq!(
        fit_mid_plane(&bad, None),
        Err(NoMidPlane::Fit(FitError::NotFinite))
    );
    assert!(matches!(
        fit_mid_plane(&[], None),
        Err(NoMidPlane::Fit(FitError::TooFewPoints { .. }))
    ));
    // One pair swapped: named; the plane does not mind.
    let mut l = coach();
    let k = &mut l[3];
    std::mem::swap(&mut k.left, &mut k.right);
    let p = fit_mid_plane(&l, None).unwrap();
    assert_eq!(p.swapped, [3]);
    // A cube of pairs does not tell across from along.
    let cube = body(500.0, &[[-500.0, 0.0], [500.0, 0.0]]);
    assert!(!fit_mid_plane(&cube, None).unwrap().poorly_determined());
    let narrow = body(5.0, &[[-1500.0, 0.0], [1500.0, 1.0], [0.0, 3.0]]);
    assert!(fit_mid_plane(&narrow, None).unwrap().poorly_determined());
}

#[test]
fn ways_of_the_whole_body() {
    let along = Vector::x();
    let amount = |l: &[Landmark]| {
        let p = fit_mid_plane(l, Some(&along)).unwrap();
        let m = body_modes(&p, l);
        assert_eq!(m.len(), 4);
        BodyModeKind::ALL.map(|k| m.iter().find(|m| m.kind == k).unwrap().amount)
    };
    // The right side 6 mm back and 4 mm up.
    let mut l = coach();
    for p in &mut l {
        p.right += Vector::new(6.0, 0.0, 4.0);
    }
    let [shear, lean, twist, bow] = amount(&l);
    assert_relative_eq!(shear, 6.0, epsilon = 1e-2);
    assert_relative_eq!(lean, 4.0, epsilon = 1e-2);
    assert!(twist.abs() < 1e-5 && bow.abs() < 1e-2, "{twist} {bow}");
    // Every section turned about X, 0.004 rad from end to end; the middle bowed by 5 mm.
    let mut l = coach();
    for p in &mut l {
        for q in [&mut p.left, &mut p.right] {
            let xi = (q.x - 1800.0) / 1800.0;
            let turn = 0.002 * xi;
            (q.y, q.z) = (q.y - turn * q.z, q.z + turn * q.y);
            q.y += 5.0 * (1.0 - xi * xi);
        }
    }
    let [shear, lean, twist, bow] = amount(&l);
    assert_relative_eq!(twist.abs(), 0.004, epsilon = 1e-5);
    assert_relative_eq!(bow, 5.0, epsilon = 1e-2);
    assert!(shear.abs() < 1e-6 && lean.abs() < 1e-2);
}

#[test]
fn other_ways_of_laying_the_plane() {
    let mut l = coach();
    forward(&mut l, &[0, 1], 8.0);
    let kept = odd_ones(&l, Some(&Vector::x())).unwrap().kept;
    let all = rivals(&l, &kept, &Vector::x());
    let of = |k: RivalKind| &all.iter().find(|r| r.kind == k).unwrap().plane;
    assert_eq!(all[0].kind, RivalKind::All);
    // All, those that go together, front, rear, each left out; the midpoints alone are too flat a set.
    assert_eq!(all.len(), 4 + 8);
    let truth = of(RivalKind::GoTogether);
    assert!(truth.yaw_to(&of(RivalKind::RearOnly).plane).abs() < 1e-12);
    assert!(
        truth
            .yaw_to(&of(RivalKind::FrontOnly).plane)
            .to_degrees()
            .abs()
            > 0.05
    );
    for r in &all {
        assert!(r.plane.plane.normal.y > 0.99 && r.plane.up.z > 0.99);
    }
}

#[test]
fn three_two_and_one_points() {
    let car = Rigid::new(Vector::new(300.0, -80.0, 40.0), Vector::new(0.4, -0.2, 1.3));
    let scan = |x, y, z| car.inverse() * Point::new(x, y, z);
    let got = three_two_one(
        &[
            scan(0.0, -500.0, 0.0),
            scan(0.0, 500.0, 0.0),
            scan(2000.0, 0.0, 0.0),
        ],
        &[scan(100.0, 0.0, 700.0), scan(2100.0, 0.0, 900.0)],
        &scan(0.0, 33.0, 10.0),
        &(car.inverse().rotation * Vector::new(0.3, 0.2, 1.0)),
    )
    .unwrap();
    let p = Point::new(123.0, 456.0, 789.0);
    assert_relative_eq!(got.car_from_scan * (car.inverse() * p), p, epsilon = 1e-9);
    assert!(got.plane.distance(&scan(55.0, 0.0, -7.0)).abs() < 1e-9);
    let [yaw, roll, shift] = got.doubt(1.0, 30.0);
    assert_relative_eq!(yaw.s, 2.0_f64.sqrt() / 2000.0, epsilon = 1e-12);
    assert_relative_eq!(roll.s, 2.0_f64.sqrt() / 1000.0, epsilon = 1e-12);
    assert_relative_eq!(shift.s, 0.5_f64.sqrt(), epsilon = 1e-12);
    let on_line = [
        scan(0.0, 0.0, 0.0),
        scan(1.0, 0.0, 0.0),
        scan(2.0, 0.0, 0.0),
    ];
    assert_eq!(
        three_two_one(
            &on_line,
            &[scan(0.0, 0.0, 0.0), scan(9.0, 0.0, 0.0)],
            &scan(0.0, 0.0, 0.0),
            &Vector::z()
        ),
        Err(FitError::Degenerate)
    );
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, rng_seed: proptest::test_runner::RngSeed::Fixed(11), ..ProptestConfig::default() })]

    /// Moved and turned places give the moved and turned plane; swapped sides give the same plane.
    #[test]
    fn the_plane_follows_the_body(t in prop::array::uniform3(-5000.0..5000.0f64), r in prop::array::uniform3(-2.0..2.0f64), d in prop::collection::vec(-6.0..6.0f64, 24)) {
        let mut l = coach();
        for (k, p) in l.iter_mut().enumerate() {
            p.right += Vector::new(d[3 * k], d[3 * k + 1], d[3 * k + 2]);
        }
        let before = fit_mid_plane(&l, Some(&Vector::x())).unwrap();
        let map = Rigid::new(Vector::from(t), Vector::from(r));
        let moved: Vec<Landmark> = l.iter().map(|l| Landmark { left: map * l.left, right: map * l.right, weight: l.weight }).collect();
        let after = fit_mid_plane(&moved, Some(&(map.rotation * Vector::x()))).unwrap();
        let want = before.plane.moved(&map);
        prop_assert!((after.plane.normal.into_inner() - want.normal.into_inner()).norm() < 1e-9);
        prop_assert!((after.plane.offset - want.offset).abs() < 1e-6);
        let (a, b) = (before.doubt.unwrap(), after.doubt.unwrap());
        prop_assert!((a.yaw().u95 / b.yaw().u95 - 1.0).abs() < 1e-6);
        let swapped: Vec<Landmark> = l.iter().map(|l| Landmark { left: l.right, right: l.left, weight: l.weight }).collect();
        let other = fit_mid_plane(&swapped, Some(&Vector::x())).unwrap();
        prop_assert!((other.plane.normal.into_inner() + before.plane.normal.into_inner()).norm() < 1e-12);
    }
}
