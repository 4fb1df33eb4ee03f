//! Placements whose answer is known exactly, and how placements must behave.

use geom::{Minimax, Outcome, Point, Rigid, Unit, Vector};
use nalgebra::{Translation3, UnitQuaternion};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use study::fit::{
    EdgeCurve, Fit, FitFastener, FitProblem, FitStation, Limits, Seat, Which, least_oversize,
    least_shim, least_slot, place, place_once,
};

const A: f64 = 100.0;
const B: f64 = 60.0;

fn unit(v: Vector) -> Unit {
    Unit::new_normalize(v)
}

/// Stations on the sides of a rectangle of half-width 100 and half-height 60, the corners included; the part's edge
/// is where `part` takes the opening's.
fn rectangle(part: impl Fn(&Point) -> Point) -> Vec<FitStation> {
    let mut stations = Vec::new();
    let mut side = |from: Point, along: Vector, length: f64, inward: Vector| {
        let n = 16;
        for k in 0..=n {
            let opening = from + along * (length * f64::from(k) / f64::from(n));
            stations.push(FitStation {
                opening,
                part: part(&opening),
                tangent: unit(along),
                gap_dir: unit(inward),
                flush_dir: Vector::z_axis(),
            });
        }
    };
    side(Point::new(-A, -B, 0.0), Vector::x(), 2.0 * A, Vector::y());
    side(Point::new(A, -B, 0.0), Vector::y(), 2.0 * B, -Vector::x());
    side(Point::new(A, B, 0.0), -Vector::x(), 2.0 * A, -Vector::y());
    side(Point::new(-A, B, 0.0), -Vector::y(), 2.0 * B, Vector::x());
    stations
}

fn hole(part: Point, body: Point, play: f64) -> FitFastener {
    FitFastener {
        part,
        body,
        axis: Vector::z_axis(),
        play,
        slot: None,
        seat: Seat::Bare,
    }
}

/// Where a search for a cure begins.
fn free(p: &FitProblem) -> Fit {
    place(&p.loose()).expect("nothing holds it")
}

fn problem(stations: Vec<FitStation>, fasteners: Vec<FitFastener>) -> FitProblem {
    FitProblem {
        stations,
        curve: None,
        fasteners,
        limits: Limits::even(0.5, 0.5),
    }
}

/// Mirror and midway shares.
fn shares(p: &FitProblem) -> (f64, f64) {
    (place(p).unwrap().share, place(&p.midway()).unwrap().share)
}

fn near(got: f64, want: f64, tol: f64) {
    assert!((got - want).abs() <= tol, "{got} instead of {want}");
}

fn at(x: f64, y: f64) -> Point {
    Point::new(x, y, 0.0)
}

const ALONG_X: Option<Vector> = Some(Vector::new(1.0, 0.0, 0.0));

#[test]
fn a_shifted_opening_without_fasteners_costs_nothing() {
    let (mirror, midway) = shares(&problem(
        rectangle(|p| p + Vector::new(1.2, 0.0, 0.0)),
        vec![],
    ));
    near(mirror, 0.0, 1e-9);
    near(midway, 0.0, 1e-9);
}

#[test]
fn a_shifted_opening_with_holes_that_stay() {
    let holes = [-80.0, 80.0]
        .map(|x| hole(at(x, 0.0), at(x, 0.0), 0.5))
        .to_vec();
    let p = problem(rectangle(|p| p + Vector::new(1.2, 0.0, 0.0)), holes);
    let (mirror, midway) = shares(&p);
    near(mirror, 1.4, 1e-6);
    near(midway, 0.2, 1e-6);
    near(least_slot(&p, &free(&p), &[ALONG_X; 2]).unwrap(), 0.4, 1e-6);
    near(
        least_oversize(&p, &free(&p), Which::All).unwrap().0,
        0.2,
        1e-6,
    );
    assert_eq!(
        least_slot(&p, &free(&p), &[ALONG_X, None]),
        None,
        "the round hole still holds it"
    );
    near(
        place(&p.slotted(&[ALONG_X; 2], 0.4)).unwrap().share,
        1.0,
        1e-6,
    );
    near(place(&p.oversized(0.2)).unwrap().share, 1.0, 1e-6);
}

#[test]
fn shifted_holes_in_equal_openings() {
    let holes = [-80.0, 80.0]
        .map(|x| hole(at(x + 1.2, 0.0), at(x, 0.0), 0.5))
        .to_vec();
    let (mirror, midway) = shares(&problem(rectangle(|p| *p), holes));
    near(mirror, 1.4, 1e-6);
    near(midway, 0.2, 1e-6);
}

#[test]
fn a_twisted_opening() {
    let (mirror, midway) = shares(&problem(
        rectangle(|p| p + Vector::new(0.0, 0.0, 1e-4 * p.x * p.y)),
        vec![],
    ));
    near(mirror, 1.2, 1e-6);
    near(midway, 0.6, 1e-6);
}

#[test]
fn a_wider_opening_and_unlike_limits() {
    let wider = |by: f64| {
        rectangle(move |p| p + Vector::new(by * p.x.signum() * f64::from(p.x.abs() == A), 0.0, 0.0))
    };
    let (mirror, midway) = shares(&problem(wider(-0.6), vec![]));
    near(mirror, 1.2, 1e-6);
    near(midway, 0.6, 1e-6);
    let limits = Limits {
        tight: 0.3,
        wide: 0.7,
        ..Limits::even(0.5, 0.5)
    };
    // The other opening wider: the part leaves 0.6 too much; narrower: it is 0.6 too tight.
    for (by, want) in [(-0.6, 0.6 / 0.7), (0.6, 2.0)] {
        let p = FitProblem {
            limits,
            ..problem(wider(by), vec![])
        };
        near(place(&p).unwrap().share, want, 1e-6);
        near(place(&p.midway()).unwrap().share, 0.6, 1e-6);
    }
}

#[test]
fn a_turn_that_the_holes_do_not_share() {
    let holes = [-80.0, 80.0]
        .map(|x| hole(at(x, 0.0), at(x, 0.0), 0.3))
        .to_vec();
    let turned = |p: &Point| p + Vector::new(-0.01 * p.y, 0.01 * p.x, 0.0);
    let p = problem(rectangle(turned), holes);
    near(place_once(&p).unwrap().share, 1.25, 1e-6);
    near(place_once(&p.midway()).unwrap().share, 0.25, 1e-6);
    near(place(&p).unwrap().share, 1.25, 2e-3);
}

#[test]
fn a_step_of_flush_and_shims() {
    let holes = [-80.0, 80.0]
        .map(|x| FitFastener {
            seat: Seat::Range(0.0, 1.0),
            ..hole(at(x, 0.0), at(x, 0.0), 0.5)
        })
        .to_vec();
    let p = FitProblem {
        limits: Limits::even(0.5, 0.8),
        ..problem(rectangle(|p| p + Vector::new(0.0, 0.0, -2.0)), holes)
    };
    near(place(&p).unwrap().share, 1.25, 1e-6);
    near(
        least_shim(&p, &free(&p), Which::All, true).unwrap(),
        1.2,
        1e-6,
    );
    assert_eq!(
        least_shim(&p, &free(&p), Which::All, false),
        None,
        "cutting the seats back does not lift the part"
    );
    near(place(&p.shimmed(1.2, true)).unwrap().share, 1.0, 1e-6);
}

#[test]
fn holes_farther_apart_cannot_be_started() {
    let holes = [-80.0_f64, 80.0]
        .map(|x| hole(at(x + 0.6 * x.signum(), 0.0), at(x, 0.0), 0.5))
        .to_vec();
    let p = problem(rectangle(|p| *p), holes);
    near(place(&p).unwrap_err().least_oversize, 0.1, 1e-6);
    near(
        least_oversize(&p, &free(&p), Which::All).unwrap().0,
        0.1,
        1e-6,
    );
    near(
        least_slot(&p, &free(&p), &[ALONG_X, None]).unwrap(),
        0.4,
        1e-6,
    );
}

#[test]
fn a_straight_edge_with_one_bump() {
    let stations = [0.0, 0.0, 1.0]
        .iter()
        .zip([0.0, 100.0, 200.0])
        .map(|(e, x)| FitStation {
            opening: at(x, 0.0),
            part: at(x, *e),
            tangent: Vector::x_axis(),
            gap_dir: Vector::y_axis(),
            flush_dir: Vector::z_axis(),
        })
        .collect();
    let p = problem(stations, vec![]);
    near(place_once(&p).unwrap().share, 0.5, 1e-9);
    near(place_once(&p.midway()).unwrap().share, 0.25, 1e-9);
    near(place(&p).unwrap().share, 0.5, 1e-4);
}

/// A rounded opening with bumps of both kinds; `n` points.
fn body(rng: &mut ChaCha8Rng, n: usize, bump: f64) -> Vec<Point> {
    let waves: Vec<[f64; 4]> = (0..5)
        .map(|_| {
            let mut r = || rng.random_range(-1.0..1.0);
            [r(), r(), r(), 3.0 * r()]
        })
        .collect();
    (0..n)
        .map(|k| std::f64::consts::TAU * k as f64 / n as f64)
        .map(|a| {
            let (c, s) = (a.cos(), a.sin());
            let round = (c.powi(4) / A.powi(4) + s.powi(4) / B.powi(4)).powf(-0.25);
            let wave = |j: usize| -> f64 {
                waves
                    .iter()
                    .enumerate()
                    .map(|(m, w)| w[j] * ((m as f64 + 2.0) * a + w[3]).sin())
                    .sum()
            };
            Point::new(
                (round + bump * wave(0)) * c,
                (round + bump * wave(1)) * s,
                6.0 * c * s + bump * wave(2),
            )
        })
        .collect()
}

/// Stations of `opening` at every `step`-th point, and `part` as the part's edge.
fn laid(opening: &[Point], part: &[Point], step: usize) -> FitProblem {
    let n = opening.len();
    let stations = (0..n)
        .step_by(step)
        .map(|k| {
            let t = unit(opening[(k + 1) % n] - opening[(k + n - 1) % n]);
            let g = unit(Vector::z().cross(&t));
            FitStation {
                opening: opening[k],
                part: part[k],
                tangent: t,
                gap_dir: g,
                flush_dir: unit(t.cross(&g)),
            }
        })
        .collect();
    FitProblem {
        curve: EdgeCurve::new(part, true),
        ..problem(stations, vec![])
    }
}

#[test]
fn without_fasteners_midway_uses_half() {
    let mut rng = ChaCha8Rng::seed_from_u64(17);
    for _ in 0..20 {
        let a = body(&mut rng, 900, 0.3);
        let b = body(&mut rng, 900, 0.3);
        let (mirror, midway) = shares(&laid(&a, &b, 7));
        assert!(mirror > 0.2);
        near(midway / mirror, 0.5, 1e-9);
    }
}

#[test]
fn neither_the_mirror_plane_nor_the_start_changes_the_share() {
    let mut rng = ChaCha8Rng::seed_from_u64(18);
    for _ in 0..10 {
        let a = body(&mut rng, 900, 0.3);
        let b = body(&mut rng, 900, 0.3);
        let first = place(&laid(&a, &b, 7)).unwrap();
        // Another mirror plane, or a scan that lies elsewhere, moves the reflected part rigidly: 2 deg and 11 mm.
        let axis = unit(Vector::new(
            rng.random_range(-1.0..1.0),
            rng.random_range(-1.0..1.0),
            rng.random_range(-1.0..1.0),
        ));
        let start = Rigid::from_parts(
            Translation3::from(Vector::new(7.0, -6.0, 6.0)),
            UnitQuaternion::from_axis_angle(&axis, 2.0_f64.to_radians()),
        );
        let elsewhere: Vec<Point> = b.iter().map(|p| start * p).collect();
        let second = place(&laid(&a, &elsewhere, 7)).unwrap();
        assert!(
            (first.share - second.share).abs() <= 1e-9 * first.share,
            "{} and {} after {} and {} rounds",
            first.share,
            second.share,
            first.rounds,
            second.rounds
        );
        // The two poses lay the part on the same place.
        let d = (first.pose * b[100] - second.pose * elsewhere[100]).norm();
        assert!(d < 1e-3, "{d}");
    }
}

#[test]
fn errors_at_the_pose_use_exactly_the_share() {
    let mut rng = ChaCha8Rng::seed_from_u64(19);
    let a = body(&mut rng, 900, 0.3);
    let b = body(&mut rng, 900, 0.3);
    let p = laid(&a, &b, 7);
    let fit = place(&p).unwrap();
    let worst = fit
        .starts
        .gap
        .iter()
        .chain(&fit.starts.flush)
        .fold(0.0_f64, |m, e| m.max(e.abs()));
    near(worst / 0.5, fit.share, 1e-8);
    // Certificate: the pulls are in balance, and no more of them are needed than motions plus one.
    let pull = fit.pull();
    for m in 0..6 {
        let sum: f64 = fit
            .linear
            .stations
            .iter()
            .zip(pull.gap.iter().zip(&pull.flush))
            .map(|(s, (g, f))| g * s.gap[m] + f * s.flush[m])
            .sum();
        assert!(sum.abs() < 1e-8, "motion {m}: {sum}");
    }
    assert!(fit.holding.len() <= 7);
}

/// The common shape written out: unknown corrections at every station, both sides posed, solved as one large problem.
#[test]
fn eliminating_the_common_shape_changes_nothing() {
    let mut rng = ChaCha8Rng::seed_from_u64(20);
    for case in 0..40 {
        let stations = 9;
        let mut row = || -> [f64; 6] { std::array::from_fn(|_| rng.random_range(-1.0..1.0)) };
        let rows: Vec<[f64; 6]> = (0..stations).map(|_| row()).collect();
        let starts: Vec<f64> = rows
            .iter()
            .map(|r| 1.5 * r[0] - r[3])
            .map(|x| x + x.sin())
            .collect();
        let (low, high) = if case % 2 == 0 {
            (0.5, 0.5)
        } else {
            (0.3, 0.7)
        };
        let mut short = Minimax::new(6);
        let mut long = Minimax::new(12 + stations);
        for (i, r) in rows.iter().enumerate() {
            short.within(r, starts[i], low + high, low + high);
            for side in 0..2 {
                let mut g = vec![0.0; 12 + stations];
                g[6 * side..6 * side + 6].copy_from_slice(r);
                g[12 + i] = 1.0;
                long.within(&g, if side == 0 { starts[i] } else { 0.0 }, low, high);
            }
        }
        let value = |p: &Minimax| match p.solve() {
            Outcome::Optimal(o) => o.value,
            Outcome::Infeasible(_) => panic!("nothing hard in it"),
        };
        near(value(&short), value(&long), 1e-10);
    }
}
