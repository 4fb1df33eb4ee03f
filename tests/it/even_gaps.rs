//! Evenness of a gap: the second programme against cases that can be worked out by hand.

use geom::{Point, Vector};
use study::fit::{Even, FitProblem, FitStation, Limits, about_start, evenness};

/// A rectangle of half-sizes 100 x 60 with 60 places a side; `gap(side, share)` is how much the part is away from the opening
/// there: sides 0 to 3 are bottom, right, top, left.
fn rectangle(gap: impl Fn(usize, f64) -> f64) -> FitProblem {
    let corners = [
        [-100.0, -60.0],
        [100.0, -60.0],
        [100.0, 60.0],
        [-100.0, 60.0],
    ];
    let inward = [Vector::y(), -Vector::x(), -Vector::y(), Vector::x()];
    let along = [Vector::x(), Vector::y(), -Vector::x(), -Vector::y()];
    let mut stations = Vec::new();
    for s in 0..4 {
        let (a, b) = (corners[s], corners[(s + 1) % 4]);
        for k in 0..60 {
            let f = (f64::from(k) + 0.5) / 60.0;
            let p = Point::new(a[0] + f * (b[0] - a[0]), a[1] + f * (b[1] - a[1]), 0.0);
            stations.push(FitStation {
                opening: p,
                part: p + inward[s] * gap(s, f),
                tangent: geom::Unit::new_normalize(along[s]),
                gap_dir: geom::Unit::new_normalize(inward[s]),
                flush_dir: Vector::z_axis(),
            });
        }
    }
    FitProblem {
        stations,
        curve: None,
        fasteners: Vec::new(),
        limits: Limits::even(0.5, 0.5),
    }
}

fn share(p: &FitProblem, pairs: Vec<(usize, usize, f64)>) -> (f64, f64) {
    let (linear, starts) = about_start(p);
    let even = Even { within: 0.4, pairs };
    let (t, wider, _) = evenness(&linear, &starts, &p.limits, &[], &even).unwrap();
    (t, wider)
}

#[track_caller]
fn near(a: f64, b: f64) {
    assert!((a - b).abs() < 1e-9, "{a} {b}");
}

#[test]
fn a_wider_gap_all_round_is_even() {
    // However wide: the eye does not mind, and nothing is lost by it.
    let (t, wider) = share(&rectangle(|_, _| 1.7), Vec::new());
    near(t, 0.0);
    near(wider, 1.7);
    // So is one that only wants the part moved.
    let (t, wider) = share(&rectangle(|s, _| [0.9, 0.2, -0.9, -0.2][s]), Vec::new());
    near(t, 0.0);
    near(wider, 0.0);
}

#[test]
fn sides_of_unlike_gap_share_what_is_allowed() {
    // The gap is 0.6 wider left and right than above and below: 0.3 to either side of the middle, of 0.4.
    let (t, wider) = share(
        &rectangle(|s, _| if s % 2 == 1 { 0.6 } else { 0.0 }),
        Vec::new(),
    );
    near(t, 0.75);
    near(wider, 0.3);
}

#[test]
fn a_step_in_one_side_is_a_taper() {
    // The right side jumps by 0.3 in its middle, where the places 10 further on may differ by 0.2.
    let p = rectangle(|s, f| if s == 1 && f > 0.5 { 0.3 } else { 0.0 });
    let pairs = (60..110).map(|i| (i, i + 10, 0.2)).collect();
    let (loose, _) = share(&p, Vec::new());
    let (t, _) = share(&p, pairs);
    assert!(t > loose + 1e-6, "{t} {loose}");
    // The part may turn against it, but no more than the other sides bear.
    assert!(t < 1.5 && t > 0.5, "{t}");
}

#[test]
fn the_share_follows_the_gap_by_its_pull() {
    let wavy = |s: usize, f: f64| 0.2 * (f * 9.0 + s as f64).sin();
    let p = rectangle(wavy);
    let (linear, starts) = about_start(&p);
    let even = Even {
        within: 0.4,
        pairs: (0..240).map(|i| (i, (i + 30) % 240, 0.3)).collect(),
    };
    let (t, _, pull) = evenness(&linear, &starts, &p.limits, &[], &even).unwrap();
    let k = (0..240)
        .max_by(|a, b| pull[*a].abs().total_cmp(&pull[*b].abs()))
        .unwrap();
    let mut moved = starts.clone();
    moved.gap[k] += 1e-6;
    let (more, ..) = evenness(&linear, &moved, &p.limits, &[], &even).unwrap();
    assert!(
        ((more - t) / 1e-6 - pull[k]).abs() < 1e-3,
        "{} {}",
        (more - t) / 1e-6,
        pull[k]
    );
}
