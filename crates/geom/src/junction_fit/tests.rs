use super::*;
use crate::{LocalAxes, Rigid};
use approx::{assert_abs_diff_eq, assert_relative_eq};

const DEG: f64 = std::f64::consts::PI / 180.0;

/// A face along the X axis with half-plane direction (0, cos f, sin f), f = `turn(s)` in degrees, in a raster; `bow` lifts
/// its points across it by `bow` (s, t).
pub(super) fn face(
    s: &[f64],
    t: &[f64],
    size: f64,
    turn: impl Fn(f64, f64) -> f64,
    bow: impl Fn(f64, f64) -> f64,
    place: &Rigid,
) -> CellGrid {
    let middle = turn(0.5 * (s[0] + s[s.len() - 1]), 0.5 * (t[0] + t[t.len() - 1]));
    let n = Vector::new(0.0, -(middle * DEG).sin(), (middle * DEG).cos());
    let axes = LocalAxes::along(Point::origin(), &Vector::x(), Unit::new_normalize(n)).unwrap();
    let mut points = Vec::new();
    for &s in s {
        for &t in t {
            let f = turn(s, t) * DEG;
            let h = bow(s, t);
            points
                .push(place * Point::new(s, t * f.cos() - h * f.sin(), t * f.sin() + h * f.cos()));
        }
    }
    CellGrid::build(axes.moved(place), size, &points).unwrap()
}

/// Middles of `n` equal cells of `low..high`.
fn middles(low: f64, high: f64, n: usize) -> Vec<f64> {
    (0..n)
        .map(|k| low + (high - low) * (k as f64 + 0.5) / n as f64)
        .collect()
}

fn flat(_: f64, _: f64) -> f64 {
    0.0
}

/// The turn of a bilinear face that stands at `f0` + - `half` degrees at its ends.
fn bilinear(f0: f64, half: f64) -> impl Fn(f64, f64) -> f64 {
    let slope = (half * DEG).tan();
    move |s, _| f0 + (slope * (s / 200.0 - 1.0)).atan() / DEG
}

fn fit<'a>(
    grids: &'a [CellGrid; 2],
    ones: &'a [f64],
    place: &Rigid,
    start: Point,
    along: Vector,
) -> JunctionFit<'a> {
    let face = |k: usize, outward: Vector| JunctionFace {
        cells: &grids[k],
        covered: &ones[..grids[k].cells.len()],
        outward: place * outward,
    };
    // The metal lies between +y and +z, or the turn past it.
    let faces = [
        face(0, Vector::new(0.0, 0.1, -1.0)),
        face(1, Vector::new(0.1, -1.0, 0.0)),
    ];
    JunctionFit::fit(faces, place * start, &(place * along)).unwrap()
}

fn far() -> Rigid {
    Rigid::new(
        Vector::new(800.0, -1900.0, 450.0),
        Vector::new(0.4, -0.9, 1.3),
    )
}

/// From 89.125 to 91.625 deg over 400 mm, faces seen from 5 to 35 mm, first axis 2 mm and 0.6 deg off.
fn twisted<'a>(
    grids: &'a mut Vec<[CellGrid; 2]>,
    ones: &'a [f64],
    turn: impl Fn(f64, f64) -> f64,
) -> JunctionFit<'a> {
    let (s, t) = (middles(0.0, 400.0, 80), middles(5.0, 35.0, 15));
    grids.push([
        face(&s, &t, 1.0, |_, _| 0.0, flat, &far()),
        face(&s, &t, 1.0, turn, flat, &far()),
    ]);
    let lean = (0.6 * DEG).tan();
    fit(
        &grids[0],
        ones,
        &far(),
        Point::new(0.0, 1.5, -1.3),
        Vector::new(1.0, lean * 0.6, lean * 0.8),
    )
}

#[test]
fn bilinear_faces_are_found_exactly_from_a_wrong_axis() {
    let (mut grids, ones) = (Vec::new(), vec![1.0; 1200]);
    let j = twisted(&mut grids, &ones, bilinear(90.375, 1.25));
    for (s, angle) in [(0.0, 89.125), (200.0, 90.375), (400.0, 91.625)] {
        assert_abs_diff_eq!(j.angle(s) / DEG, angle, epsilon = 1e-6);
    }
    assert_abs_diff_eq!(j.range[0], 2.0, epsilon = 0.1);
    assert_abs_diff_eq!(j.range[1], 398.0, epsilon = 0.1);
    let k = (j.angle(400.0) - j.angle(0.0)) / 400.0 / DEG * 100.0;
    assert_abs_diff_eq!(k, 0.625, epsilon = 1e-6);
    assert!((j.point(0.0) - far() * Point::origin()).norm() < 1e-6);
    assert!(j.sides_agree);
}

#[test]
fn linearly_turning_faces_are_found_within_two_ten_thousandths() {
    let (mut grids, ones) = (Vec::new(), vec![1.0; 1200]);
    let j = twisted(&mut grids, &ones, |s, _| 89.125 + 2.5 * s / 400.0);
    for (s, angle) in [(0.0, 89.125), (200.0, 90.375), (400.0, 91.625)] {
        assert_abs_diff_eq!(j.angle(s) / DEG, angle, epsilon = 2e-4);
    }
    let k = j.twist() / DEG * 100.0;
    assert!((0.624_955..=0.625_005).contains(&k), "{k}");
}

#[test]
fn a_window_belongs_to_its_middle() {
    let (mut grids, ones) = (Vec::new(), vec![1.0; 1200]);
    let j = twisted(&mut grids, &ones, bilinear(90.375, 1.25));
    let w = j.local([0.0, 25.0]).unwrap();
    assert_abs_diff_eq!(w.station, 12.5, epsilon = 1e-6);
    assert_abs_diff_eq!((w.angle - j.angle(0.0)) / DEG, 0.0781, epsilon = 1e-4);
    assert_abs_diff_eq!(w.angle / DEG, j.angle(w.station) / DEG, epsilon = 1e-4);
    // Half a window over the end: the middle of its area is not the middle of the window.
    let half = j.local([-11.0, 11.0]).unwrap();
    assert_abs_diff_eq!(half.station, 5.0, epsilon = 1e-6);
    assert_abs_diff_eq!(
        half.angle / DEG,
        j.angle(half.station) / DEG,
        epsilon = 1e-4
    );
}

#[test]
fn white_noise_gives_twice_the_doubt_at_the_ends() {
    // 600 readings on each face: 40 x 15 places over 400 x 30 mm, noise 0.05 mm.
    let (s, t) = (middles(0.0, 400.0, 40), middles(5.0, 35.0, 15));
    let grids = [
        face(&s, &t, 2.0, |_, _| 0.0, flat, &Rigid::identity()),
        face(&s, &t, 2.0, |_, _| 90.0, flat, &Rigid::identity()),
    ];
    let ones = vec![1.0; 600];
    let j = fit(
        &grids,
        &ones,
        &Rigid::identity(),
        Point::origin(),
        Vector::x(),
    );
    let u = |s: f64| j.angle_uncertainty(s, &NoiseModel::white(0.05), 0.0).s / DEG;
    assert_abs_diff_eq!(u(200.0), 0.0191, epsilon = 1e-4);
    assert_abs_diff_eq!(u(0.0), 0.0383, epsilon = 1e-4);
    assert_abs_diff_eq!(u(400.0), 0.0383, epsilon = 1e-4);
    assert_relative_eq!(u(0.0), 2.0 * u(200.0), max_relative = 1e-3);
    // The twist rate is the difference of the ends over the length.
    let k = NoiseModel::white(0.05).uncertainty(&j.twist_lagged()).s / DEG;
    let var = u(0.0).powi(2) - u(200.0).powi(2);
    assert_relative_eq!(k, 2.0 * var.sqrt() / 400.0, max_relative = 0.01);
}

#[test]
fn a_twist_of_two_and_a_half_degrees_is_a_third_of_a_millimetre_off_flat() {
    let (s, t) = (middles(0.0, 400.0, 200), middles(0.0, 30.0, 15));
    let slope = (2.5 * DEG).tan() / 400.0;
    let grids = [
        face(&s, &t, 2.0, |_, _| 0.0, flat, &far()),
        face(
            &s,
            &t,
            2.0,
            move |s, _| 90.0 + (slope * (s - 200.0)).atan() / DEG,
            flat,
            &far(),
        ),
    ];
    let ones = vec![1.0; 3000];
    let j = fit(&grids, &ones, &far(), Point::origin(), Vector::x());
    assert_abs_diff_eq!(j.coefficients[1][3], 1.0915e-4, epsilon = 1e-8);
    assert_abs_diff_eq!(j.widths[1], 30.0, epsilon = 0.02);
    assert_abs_diff_eq!(j.flat_error(1), 0.3275, epsilon = 1e-4);
    assert_abs_diff_eq!(2.0 * j.flat_error(1), 0.6549, epsilon = 2e-4);
    assert_abs_diff_eq!(j.flat_error(0), 0.0, epsilon = 1e-9);
}

#[test]
fn the_metal_side_decides_between_an_angle_and_its_rest_to_a_turn() {
    let (s, t) = (middles(0.0, 100.0, 50), middles(5.0, 35.0, 15));
    let ones = vec![1.0; 750];
    for angle in [30.0, 90.0, 135.0, 179.9, 180.0, 181.0, 270.0] {
        let grids = [
            face(&s, &t, 2.0, |_, _| 0.0, flat, &far()),
            face(&s, &t, 2.0, |_, _| angle, flat, &far()),
        ];
        let n = Vector::new(0.0, -(angle * DEG).sin(), (angle * DEG).cos());
        let fit = |inside: f64, along: f64| {
            let face = |k: usize, n: Vector| JunctionFace {
                cells: &grids[k],
                covered: &ones,
                outward: far() * (n * inside),
            };
            let faces = [face(0, -Vector::z()), face(1, n)];
            JunctionFit::fit(
                faces,
                far() * Point::new(3.0, 0.0, 0.0),
                &(far() * Vector::x() * along),
            )
            .unwrap()
        };
        for along in [1.0, -1.0] {
            let metal = fit(1.0, along);
            assert!(metal.sides_agree);
            assert_abs_diff_eq!(metal.angle(50.0) / DEG, angle, epsilon = 1e-6);
            assert_abs_diff_eq!(
                fit(-1.0, along).angle(50.0) / DEG,
                360.0 - angle,
                epsilon = 1e-6
            );
        }
    }
}

#[test]
fn a_face_taken_from_its_back_is_noticed() {
    let (s, t) = (middles(0.0, 100.0, 50), middles(5.0, 35.0, 15));
    let ones = vec![1.0; 750];
    let grids = [
        face(&s, &t, 2.0, |_, _| 0.0, flat, &far()),
        face(&s, &t, 2.0, |_, _| 90.0, flat, &far()),
    ];
    let face = |k: usize, n: Vector| JunctionFace {
        cells: &grids[k],
        covered: &ones,
        outward: far() * n,
    };
    let faces = [face(0, -Vector::z()), face(1, Vector::y())];
    let j = JunctionFit::fit(faces, far() * Point::origin(), &(far() * Vector::x())).unwrap();
    assert!(!j.sides_agree);
}

#[test]
fn a_bulge_along_the_junction_is_no_ruled_face() {
    let (s, t) = (middles(0.0, 400.0, 80), middles(5.0, 35.0, 15));
    let ones = vec![1.0; 1200];
    let noise = NoiseModel::white(0.05);
    for (bulge, fits) in [(0.0, true), (0.3, false)] {
        let turn = move |s: f64, _: f64| 90.0 + bulge * (s / 400.0 * std::f64::consts::TAU).cos();
        let grids = [
            face(&s, &t, 2.0, |_, _| 0.0, flat, &far()),
            face(&s, &t, 2.0, turn, flat, &far()),
        ];
        let j = fit(&grids, &ones, &far(), Point::origin(), Vector::x());
        let lack = j.lack_of_fit(&noise, 6).unwrap();
        assert_eq!(lack.dof, 4.0);
        assert_eq!(lack.p > 0.05, fits, "{lack:?}");
    }
}

#[test]
fn faces_that_share_no_stretch_or_have_no_width_are_refused() {
    let t = middles(5.0, 35.0, 15);
    let ones = vec![1.0; 750];
    let a = face(&middles(0.0, 100.0, 50), &t, 2.0, |_, _| 0.0, flat, &far());
    let apart = face(
        &middles(150.0, 250.0, 50),
        &t,
        2.0,
        |_, _| 90.0,
        flat,
        &far(),
    );
    let thin = face(
        &middles(0.0, 100.0, 50),
        &[10.0],
        2.0,
        |_, _| 90.0,
        flat,
        &far(),
    );
    for b in [apart, thin] {
        let face = |cells, n: Vector| JunctionFace {
            cells,
            covered: &ones[..],
            outward: far() * n,
        };
        let faces = [face(&a, -Vector::z()), face(&b, -Vector::y())];
        let j = JunctionFit::fit(faces, far() * Point::origin(), &(far() * Vector::x()));
        assert_eq!(j.err(), Some(FitError::Degenerate));
    }
}

#[test]
fn cells_of_several_readings_give_the_same_angles() {
    let (s, t) = (middles(0.0, 400.0, 200), middles(5.0, 65.0, 30));
    let place = Rigid::identity();
    let grids = [
        face(&s, &t, 4.0, |_, _| 0.0, flat, &place),
        face(&s, &t, 4.0, bilinear(90.375, 1.25), flat, &place),
    ];
    let ones = vec![1.0; 1600];
    let j = fit(
        &grids,
        &ones,
        &place,
        Point::new(0.0, 1.0, -1.0),
        Vector::new(1.0, 0.006, -0.008),
    );
    for (s, angle) in [(0.0, 89.125), (200.0, 90.375), (400.0, 91.625)] {
        assert_abs_diff_eq!(j.angle(s) / DEG, angle, epsilon = 2e-4);
    }
}

/// Weight of each reading in the angle at s, by moving it along the outward normal of its face.
fn weights(grids: &[CellGrid; 2], s: f64) -> Vec<(Point, f64)> {
    const STEP: f64 = 1e-3;
    let ones = vec![1.0; grids[0].cells.len()];
    let angle = |grids: &[CellGrid; 2]| {
        fit(
            grids,
            &ones,
            &Rigid::identity(),
            Point::origin(),
            Vector::x(),
        )
        .angle(s)
    };
    let outward = [-Vector::z(), -Vector::y()];
    let mut all = Vec::new();
    for k in 0..2 {
        for c in 0..grids[k].cells.len() {
            let moved = |by: f64| {
                let mut grids = grids.clone();
                let up = grids[k].axes.n.dot(&outward[k]).signum();
                grids[k].cells[c].h += up * by;
                angle(&grids)
            };
            let at = &grids[k].cells[c];
            let place = grids[k].axes.point(at.u, at.v, at.h);
            all.push((place, (moved(STEP) - moved(-STEP)) / (2.0 * STEP)));
        }
    }
    all
}

#[test]
fn noise_reaches_across_the_bend() {
    let (s, t) = (middles(0.0, 120.0, 24), middles(5.0, 45.0, 8));
    let place = Rigid::identity();
    let grids = [
        face(&s, &t, 5.0, |_, _| 0.0, flat, &place),
        face(&s, &t, 5.0, |_, _| 90.0, flat, &place),
    ];
    let ones = vec![1.0; 192];
    let j = fit(&grids, &ones, &place, Point::origin(), Vector::x());
    for (at, l, least) in [(0.0, 10.0, 1.1), (60.0, 10.0, 1.1), (60.0, 20.0, 1.2)] {
        let all = weights(&grids, at);
        let mut sums = [0.0; 2];
        for (i, (p, x)) in all.iter().enumerate() {
            for (k, (q, y)) in all.iter().enumerate() {
                let one_face = (i < 192) == (k < 192);
                sums[usize::from(!one_face)] +=
                    x * y * crate::Kernel::Gaussian.at((p - q).norm(), l);
            }
        }
        let found = j.angle_lagged(at).correlated(crate::Kernel::Gaussian, l);
        assert_relative_eq!(found, sums[0] + sums[1], max_relative = 0.02);
        // It is no small part of it.
        assert!((sums[0] + sums[1]) / sums[0] > least, "{sums:?}");
    }
}
