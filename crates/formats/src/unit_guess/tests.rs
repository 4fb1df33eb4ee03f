use super::*;
use LengthUnit::{Centimetre, Foot, Inch, Metre, Millimetre};
use geom::{Point, Vector};

fn size_alone(largest: f64) -> UnitGuess {
    guess_unit(&RawPoints::F64(vec![
        [0.0; 3],
        [largest / 3.0, largest, 0.0],
    ]))
}

#[track_caller]
fn check(guess: &UnitGuess, unit: LengthUnit, words: &str) {
    assert_eq!(guess.unit, unit, "{guess:?}");
    assert!(guess.reason.contains(words), "{}", guess.reason);
    let sum: f64 = guess.candidates.iter().map(|c| c.chance).sum();
    assert!(sum > 0.9 && sum < 1.0 + 1e-9);
    assert!(
        guess
            .candidates
            .windows(2)
            .all(|w| w[0].chance >= w[1].chance)
    );
}

#[test]
fn by_size_alone() {
    check(&size_alone(250.0), Millimetre, "as mm it is 250 mm across");
    check(&size_alone(2310.0), Millimetre, "2310 mm");
    check(&size_alone(2.31), Metre, "also possible: ft (704 mm");
    check(&size_alone(0.42), Metre, "420 mm");
    check(&size_alone(30.0), Inch, "also possible: cm (300 mm");
    for nothing in [0.0, f64::NAN, f64::INFINITY] {
        check(&size_alone(nothing), Millimetre, "no size to judge by");
    }
    check(&guess_unit(&RawPoints::F32(vec![])), Millimetre, "no size");
}

/// A bowed panel 800 mm wide, seen every 1.1 mm with 0.05 mm of scatter, in millimetres divided by `per`.
fn panel(per: f64) -> RawPoints {
    let at = |k: usize| {
        let (u, v) = ((k % 720) as f64 * 1.1, (k / 720) as f64 * 1.1);
        // A scatter of 0.05 mm from two steps of a low-discrepancy sequence, summed to be nearly normal.
        let r = |s: f64| (k as f64 * s).fract() - 0.5;
        let noise = (r(0.754_877_666) + r(0.569_840_291) + r(0.324_717_957)) * 0.1;
        [900.0 + u, 300.0 + v, 1e-4 * (u - 400.0).powi(2) + noise].map(|c| (c / per) as f32)
    };
    RawPoints::F32((0..720 * 300).map(at).collect())
}

#[test]
fn a_panel_in_every_unit() {
    for unit in [Millimetre, Metre, Inch, Centimetre, Foot] {
        let guess = guess_unit(&panel(unit.in_mm()));
        check(&guess, unit, "points 1.1 mm apart, scatter 0.0");
    }
}

/// A room 9 x 6 x 3 m seen by a scanner that stands in it: equal angles, 4 mm of scatter along the ray.
fn room(per: f64) -> RawPoints {
    let mut out = Vec::new();
    for i in 0..360 {
        for j in 0..170 {
            let (a, e) = (f64::from(i).to_radians(), f64::from(j - 85).to_radians());
            let d = Vector::new(a.cos() * e.cos(), a.sin() * e.cos(), e.sin());
            let to = |c: f64, low: f64, high: f64| {
                if c > 0.0 { high / c } else { low / c }
            };
            let far = to(d.x, -3500.0, 5500.0)
                .min(to(d.y, -2500.0, 3500.0))
                .min(to(d.z, -1400.0, 1600.0));
            let noise = (f64::from(i * 170 + j) * 0.754_877_666).fract() - 0.5;
            let p = Point::from(d * (far + 14.0 * noise) / per);
            out.push([p.x as f32, p.y as f32, p.z as f32]);
            // Rays that met nothing stand as a heap of points about the scanner.
            let p = Point::from(d * (110.0 + noise) / per);
            out.push([p.x as f32, p.y as f32, p.z as f32]);
        }
    }
    RawPoints::F32(out)
}

#[test]
fn a_room_seen_from_within() {
    for unit in [Metre, Millimetre] {
        let guess = guess_unit(&room(unit.in_mm()));
        check(&guess, unit, "a scanner standing there");
    }
    // The same panel about the origin is no room: its points are as dense far away as near.
    let RawPoints::F32(mut p) = panel(25.4) else {
        unreachable!()
    };
    for q in &mut p {
        *q = [q[0] - 51.0, q[1] - 18.0, q[2] - 0.2];
    }
    let guess = guess_unit(&RawPoints::F32(p));
    check(&guess, Inch, "as in it is");
    assert!(!guess.reason.contains("standing"));
}

#[test]
fn few_or_spoilt_points_do_no_harm() {
    let mut points = vec![[0.0, 0.0, f64::NAN]; 500];
    points.extend((0..400).map(|k| [f64::from(k), 0.0, 0.0]));
    points.extend(std::iter::repeat_n([1.0, 2.0, 3.0], 3000));
    let guess = guess_unit(&RawPoints::F64(points));
    assert_eq!(guess.unit, Millimetre, "{guess:?}");
}
