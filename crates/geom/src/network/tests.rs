use approx::assert_abs_diff_eq;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

use super::*;
use crate::{Point, chi_square_quantile};

fn distance(from: usize, to: usize, value: f64, sigma: f64) -> Observation {
    Observation {
        what: Observed::Distance { from, to },
        value,
        sigma,
    }
}

fn net(dimensions: usize, points: &[Point], observations: Vec<Observation>) -> Network {
    Network {
        dimensions,
        points: points.iter().map(|p| NetPoint::near(*p)).collect(),
        observations,
    }
}

fn without_starts(net: &Network) -> Network {
    Network {
        points: vec![NetPoint::unknown(); net.points.len()],
        ..net.clone()
    }
}

fn exact(points: &[Point], ties: &[(usize, usize)], sigma: f64) -> Vec<Observation> {
    ties.iter()
        .map(|(a, b)| distance(*a, *b, (points[*a] - points[*b]).norm(), sigma))
        .collect()
}

fn flat(x: f64, y: f64) -> Point {
    Point::new(x, y, 0.0)
}

fn rectangle() -> Vec<Point> {
    vec![
        flat(0.0, 0.0),
        flat(4.0, 0.0),
        flat(4.0, 3.0),
        flat(0.0, 3.0),
    ]
}

const ALL_SIX: [(usize, usize); 6] = [(0, 1), (1, 2), (2, 3), (3, 0), (0, 2), (1, 3)];

#[test]
fn six_distances_of_a_rectangle_check_each_other_and_name_nothing() {
    // method.md 11 and case 21: r = .16 .09 .16 .09 .25 .25, every correlation 1.
    let points = rectangle();
    let mut six = exact(&points, &ALL_SIX, 0.001);
    let quiet = net(2, &points, six.clone()).adjust().unwrap();
    for (r, expected) in quiet
        .redundancy
        .iter()
        .zip([0.16, 0.09, 0.16, 0.09, 0.25, 0.25])
    {
        assert_abs_diff_eq!(*r, expected, epsilon = 1e-9);
    }
    assert_abs_diff_eq!(quiet.redundancy.iter().sum::<f64>(), 1.0, epsilon = 1e-9);
    assert_eq!(quiet.dof, 1);
    for i in 0..6 {
        for j in 0..6 {
            let m = &quiet.residual_cofactor;
            let rho = m[(i, j)] / (m[(i, i)] * m[(j, j)]).sqrt();
            assert_abs_diff_eq!(rho.abs(), 1.0, epsilon = 1e-9);
        }
    }
    assert_eq!(quiet.verdict, Blunder::None);
    assert_eq!(quiet.weak_ties().len(), 6);
    six[0].value += 0.1;
    let loud = net(2, &points, six).adjust().unwrap();
    for w in &loud.w {
        assert!((w.abs() - loud.w[0].abs()).abs() < 0.02 * loud.w[0].abs());
    }
    let Blunder::Among { observations, tie } = &loud.verdict else {
        panic!("{:?}", loud.verdict)
    };
    assert_eq!(observations.len(), 6);
    assert!(tie.is_none(), "every pair is tied already");
}

#[test]
fn a_net_without_a_check_is_adjusted_and_says_so() {
    let points = rectangle();
    let five = net(2, &points, exact(&points, &ALL_SIX[..5], 0.001));
    let a = five.adjust().unwrap();
    assert_eq!((a.dof, &a.verdict), (0, &Blunder::NoCheck));
    assert_eq!(a.global, GlobalTest::NoCheck);
    assert!(a.sigma0.is_nan());
    assert_eq!((a.scale(), a.nu()), (1.0, f64::INFINITY));
    assert!(a.minimal.iter().all(|m| m.is_infinite()));
    assert!(a.w.iter().all(|w| *w == 0.0));
    // Corner 1 is tied to 0 and 2 only, corner 3 as well: either may lie on the other side of the diagonal.
    let moved: Vec<&Vec<usize>> = a.flips.iter().map(|f| &f.points).collect();
    assert!(!a.flips.is_empty(), "{moved:?}");
}

#[test]
fn a_point_that_is_not_held_is_named() {
    let mut points = rectangle();
    points.push(flat(2.0, 5.0));
    let mut ties = ALL_SIX.to_vec();
    ties.push((0, 4));
    let one = net(2, &points, exact(&points, &ties, 0.001));
    assert_eq!(one.adjust().unwrap_err(), NetworkError::Loose(vec![4]));
    assert_eq!(
        without_starts(&one).adjust().unwrap_err(),
        NetworkError::NoStart(vec![4])
    );
    let mut wrong = one.clone();
    wrong.observations[2].sigma = 0.0;
    assert_eq!(wrong.adjust().unwrap_err(), NetworkError::BadObservation(2));
    // Fixed by two points: nothing is free any more.
    let mut fixed = net(2, &points[..4], exact(&points[..4], &ALL_SIX, 0.001));
    fixed.points[0].fixed = true;
    fixed.points[1].fixed = true;
    let a = fixed.adjust().unwrap();
    assert_eq!(
        a.dof, 2,
        "the distance between the fixed points checks them alone"
    );
    assert_eq!(a.points[1], points[1]);
}

fn shape(dimensions: usize, n: usize, rng: &mut ChaCha8Rng) -> Vec<Point> {
    let mut points: Vec<Point> = Vec::new();
    while points.len() < n {
        let mut c = || rng.random_range(0.0..1000.0);
        let p = Point::new(c(), c(), if dimensions == 3 { c() } else { 0.0 });
        if points.iter().all(|q| (p - q).norm() > 150.0) {
            points.push(p);
        }
    }
    points
}

/// Points about evenly round an opening, in space up to a third of its radius out of its flat.
fn round(dimensions: usize, n: usize, rng: &mut ChaCha8Rng) -> Vec<Point> {
    (0..n)
        .map(|i| {
            let a = std::f64::consts::TAU * (i as f64 + rng.random_range(-0.3..0.3)) / n as f64;
            let r = 400.0 * rng.random_range(0.7..1.3);
            let z = if dimensions == 3 {
                rng.random_range(-150.0..150.0)
            } else {
                0.0
            };
            Point::new(r * a.cos(), r * a.sin(), z)
        })
        .collect()
}

/// Each point tied to those `steps` further round.
fn ring(n: usize, steps: &[usize]) -> Vec<(usize, usize)> {
    let mut all = Vec::new();
    for s in steps {
        let count = if 2 * s == n { n / 2 } else { n };
        all.extend((0..count).map(|i| (i, (i + s) % n)));
    }
    all
}

#[test]
fn points_are_placed_from_their_distances_alone() {
    let mut found = 0;
    for seed in 0..40 {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        for (dimensions, n, steps) in [
            (2, 8, &[1, 2, 3][..]),
            (3, 10, &[1, 2, 3]),
            (3, 12, &[1, 2, 3, 5]),
        ] {
            let points = shape(dimensions, n, &mut rng);
            let mut ties = exact(&points, &ring(n, steps), 0.5);
            for t in &mut ties {
                let e: f64 = StandardNormal.sample(&mut rng);
                t.value += 0.5 * e;
            }
            let known = net(dimensions, &points, ties);
            let a = known.adjust().unwrap();
            let b = without_starts(&known).adjust().unwrap();
            // The same shape, or one that was listed as fitting as well, or better still.
            assert!(
                b.chi_square < a.chi_square + 6.7,
                "seed {seed}: {} against {}",
                b.chi_square,
                a.chi_square
            );
            found += usize::from((a.chi_square - b.chi_square).abs() < 1e-6);
        }
    }
    println!("the very shape in {found} of 120 nets");
    assert!(found >= 114);
}

#[test]
fn a_point_that_may_be_above_or_below_is_told() {
    // Three corners and a fifth point raised over them, tied to all four: up or down.
    let mut points = rectangle();
    points.push(Point::new(2.0, 1.0, 1.5));
    let mut ties = ALL_SIX.to_vec();
    ties.extend([(0, 4), (1, 4), (2, 4), (3, 4)]);
    let mut n = net(3, &points, exact(&points, &ties, 0.001));
    // Not flat, so that space is determined at all.
    points[2].z = 0.8;
    n.observations = exact(&points, &ties, 0.001);
    let a = n.adjust().unwrap();
    assert_eq!(a.dof, 1);
    let heights = Observation {
        what: Observed::FromPlane {
            point: 4,
            a: 0,
            b: 1,
            c: 3,
        },
        value: 1.5,
        sigma: 0.001,
    };
    // Two triangles on one side: the tip of a flap may lie either way until a height says so.
    let flap = vec![
        flat(0.0, 0.0),
        flat(4.0, 0.0),
        flat(1.0, 3.0),
        Point::new(2.0, 1.0, 1.0),
    ];
    let ties = [(0, 1), (1, 2), (2, 0), (0, 3), (1, 3), (2, 3)];
    let open = net(3, &flap, exact(&flap, &ties, 0.001));
    // The mirror image of the whole is no flip.
    assert!(open.adjust().unwrap().flips.is_empty());
    let mut more = flap.clone();
    more.push(Point::new(3.0, 2.0, 0.9));
    let mut ties = ties.to_vec();
    ties.extend([(0, 4), (1, 4), (2, 4)]);
    let mut both = net(3, &more, exact(&more, &ties, 0.001));
    let flips = both.adjust().unwrap().flips;
    assert_eq!(flips.len(), 1, "{flips:?}");
    both.observations.push(Observation {
        what: Observed::FromPlane {
            point: 3,
            a: 0,
            b: 1,
            c: 2,
        },
        ..heights
    });
    both.observations.last_mut().unwrap().value = 1.0;
    both.observations.push(Observation {
        what: Observed::FromPlane {
            point: 4,
            a: 0,
            b: 1,
            c: 2,
        },
        value: 0.9,
        sigma: 0.001,
    });
    assert!(both.adjust().unwrap().flips.is_empty());
}

#[test]
fn heights_and_offsets_stand_with_lengths() {
    // Plumb heights and level bars: the axes of the floor, without any start.
    let truth: Vec<Point> = (0..6)
        .map(|k| {
            let a = f64::from(k);
            Point::new(300.0 * a.cos(), 200.0 * a.sin(), 40.0 * (1.3 * a).sin())
        })
        .collect();
    let mut all = exact(&truth, &ring(6, &[1, 2, 3]), 0.5);
    for (i, p) in truth.iter().enumerate() {
        all.push(Observation {
            what: Observed::Coordinate { point: i, axis: 2 },
            value: p.z + 850.0,
            sigma: 0.5,
        });
    }
    let plan = (truth[1] - truth[4]).xy().norm();
    all.push(Observation {
        what: Observed::Plan { from: 1, to: 4 },
        value: plan,
        sigma: 0.5,
    });
    let drop = 60.0_f64;
    let bar = ((truth[0] - truth[3]).norm_squared() - drop * drop).sqrt();
    all.push(Observation {
        what: Observed::Bar {
            from: 0,
            to: 3,
            drop,
        },
        value: bar,
        sigma: 0.5,
    });
    let n = without_starts(&net(3, &truth, all.clone()));
    let a = n.adjust().unwrap();
    assert!(a.chi_square < 1e-9, "{}", a.chi_square);
    for (p, t) in a.points.iter().zip(&truth) {
        assert_abs_diff_eq!(p.z, t.z + 850.0, epsilon = 1e-5);
    }
    // 23 readings of 18 coordinates of which two shifts and one turn stay open.
    assert_eq!(a.dof, all.len() - (18 - 3));
}

#[test]
fn the_answer_does_not_hang_on_the_datum_or_the_pose() {
    let mut rng = ChaCha8Rng::seed_from_u64(5);
    let points = shape(3, 9, &mut rng);
    let mut ties = exact(&points, &ring(9, &[1, 2, 3, 4]), 0.4);
    for t in &mut ties {
        let e: f64 = StandardNormal.sample(&mut rng);
        t.value += 0.4 * e;
    }
    let a = net(3, &points, ties.clone()).adjust().unwrap();
    let pose = crate::Rigid::new(
        crate::Vector::new(1e4, -3e3, 500.0),
        crate::Vector::new(0.3, 2.0, -0.7),
    );
    let turned: Vec<Point> = points.iter().map(|p| pose * p).collect();
    let mut other = net(3, &turned, ties);
    for i in 0..4 {
        other.points[i].datum = true;
    }
    let b = other.adjust().unwrap();
    for i in 0..a.w.len() {
        assert_abs_diff_eq!(a.w[i], b.w[i], epsilon = 1e-6);
        assert_abs_diff_eq!(a.redundancy[i], b.redundancy[i], epsilon = 1e-8);
    }
    // A datum on four points says less of the others and more of them.
    let trace = |a: &Adjusted, i: usize| a.covariance(i).trace();
    assert!(trace(&b, 0) < trace(&a, 0) && trace(&b, 7) > trace(&a, 7));
    let f = a.factor();
    let c = &f * f.transpose();
    assert_abs_diff_eq!(c[(3, 3)], a.covariance(1)[(0, 0)], epsilon = 1e-9);
}

/// Right and wrong names in nets of one shape with a blunder of ten standard deviations.
#[derive(Default)]
struct Names {
    detected: usize,
    largest_right: usize,
    right: usize,
    wrong: usize,
    false_alarms: usize,
    unsettled: usize,
}

fn names(dimensions: usize, n: usize, steps: &[usize], about: bool, seeds: u64) -> Names {
    let ties = ring(n, steps);
    let mut all = Names::default();
    for seed in 0..seeds {
        let mut rng = ChaCha8Rng::seed_from_u64(1000 * n as u64 + seed);
        let points = if about {
            round(dimensions, n, &mut rng)
        } else {
            shape(dimensions, n, &mut rng)
        };
        let mut readings = exact(&points, &ties, 1.0);
        for r in &mut readings {
            let e: f64 = StandardNormal.sample(&mut rng);
            r.value += e;
        }
        let wrong = rng.random_range(0..readings.len());
        let by = if rng.random_bool(0.5) { 10.0 } else { -10.0 };
        let mut net = net(dimensions, &points, readings);
        if let Ok(a) = net.adjust_from(&points) {
            all.false_alarms += usize::from(!matches!(a.verdict, Blunder::None));
        }
        net.observations[wrong].value += by;
        let a = match net.adjust_from(&points) {
            Ok(a) => a,
            // No shape comes near the readings: seen, and nothing is named.
            Err(NetworkError::NoConvergence) => {
                all.unsettled += 1;
                all.detected += 1;
                continue;
            }
            Err(e) => panic!("{e}"),
        };
        match a.verdict {
            Blunder::None | Blunder::NoCheck => continue,
            Blunder::Named { observation, .. } if observation == wrong => all.right += 1,
            Blunder::Named { .. } => all.wrong += 1,
            Blunder::Among { .. } => {}
        }
        all.detected += 1;
        let largest = (0..a.w.len()).max_by(|i, j| a.w[*i].abs().total_cmp(&a.w[*j].abs()));
        all.largest_right += usize::from(largest == Some(wrong));
    }
    let share = |k: usize| 100.0 * k as f64 / all.detected.max(1) as f64;
    println!(
        "{dimensions}-D {n} points {} ties, {}: detected {:.1} % of {seeds} (not settled {}, false alarms {:.1} %); largest w right {:.1} %; \
         named right {:.1} %, wrong {:.2} %",
        2 * ties.len() / n,
        if about { "round" } else { "anywhere" },
        100.0 * all.detected as f64 / seeds as f64,
        all.unsettled,
        100.0 * all.false_alarms as f64 / seeds as f64,
        share(all.largest_right),
        share(all.right),
        share(all.wrong)
    );
    all
}

/// Shapes of nets: dimensions, points, steps round, least share named right (percent of detected) with the points
/// anywhere and about round an opening.
const SHAPES: [(usize, usize, &[usize], [f64; 2]); 6] = [
    (2, 6, &[1, 2], [12.0, 7.0]),
    (2, 8, &[1, 2], [4.0, 0.0]),
    (2, 8, &[1, 2, 3], [85.0, 93.0]),
    (3, 8, &[1, 2, 4], [0.0, 0.0]),
    (3, 10, &[1, 2, 3], [17.0, 17.0]),
    (2, 4, &[1, 2], [0.0, 0.0]),
];

/// `beyond`: how many standard deviations of the count above 1 % are let pass.
fn check_names(seeds: u64, beyond: f64) {
    for (dimensions, n, steps, power) in SHAPES {
        for about in [false, true] {
            let found = names(dimensions, n, steps, about, seeds);
            let detected = found.detected as f64;
            let most = 0.01 * detected + beyond * (0.01 * detected).sqrt();
            assert!(found.wrong as f64 <= most, "{} wrong", found.wrong);
            let power = power[usize::from(about)];
            assert!(found.right as f64 >= power / 100.0 * detected);
            if ring(n, steps).len() + dimensions * (dimensions + 1) / 2 == n * dimensions + 1 {
                assert_eq!((found.right, found.wrong), (0, 0), "one degree of freedom");
            }
        }
    }
}

#[test]
fn a_blunder_is_named_rightly_or_not_at_all() {
    check_names(200, 2.5);
}

#[test]
#[ignore = "1,500 nets of each of six shapes: cargo test -p geom 1500_nets -- --ignored --nocapture"]
fn a_blunder_is_named_rightly_or_not_at_all_in_1500_nets() {
    check_names(1500, 0.0);
}

#[test]
fn the_sum_of_squares_is_a_chi_square() {
    let (mut above, mut below) = (0, 0);
    for seed in 0..400 {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let points = shape(2, 8, &mut rng);
        let mut readings = exact(&points, &ring(8, &[1, 2, 3]), 1.0);
        for r in &mut readings {
            let e: f64 = StandardNormal.sample(&mut rng);
            r.value += e;
        }
        let a = net(2, &points, readings).adjust_from(&points).unwrap();
        above += usize::from(a.chi_square > chi_square_quantile(0.95, 11.0));
        below += usize::from(a.chi_square < chi_square_quantile(0.05, 11.0));
    }
    // 5 % of 400 is 20; 99.9 % of the binomial lies in 8..=36.
    assert!(
        (8..=36).contains(&above) && (8..=36).contains(&below),
        "{above} {below}"
    );
}

#[test]
fn covariances_cover_the_truth() {
    let (mut inside, mut all) = (0, 0);
    for seed in 0..300 {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let points = shape(3, 10, &mut rng);
        let mut readings = exact(&points, &ring(10, &[1, 2, 3]), 1.0);
        for r in &mut readings {
            let e: f64 = StandardNormal.sample(&mut rng);
            r.value += e;
        }
        let a = net(3, &points, readings).adjust_from(&points).unwrap();
        // A distance that was not read says nothing of the datum.
        let d = |p: &[Point]| (p[0] - p[5]).norm();
        let u = (a.points[5] - a.points[0]).normalize();
        let f = a.factor();
        let row = (0..3).fold(f.row(0) * 0.0, |sum, axis| {
            sum + (f.row(15 + axis) - f.row(axis)) * u[axis]
        });
        inside += usize::from((d(&a.points) - d(&points)).abs() < crate::u95(row.norm(), a.nu()));
        all += 1;
    }
    println!("{inside} of {all} within");
    assert!((276..=295).contains(&inside), "{inside} of {all}");
}
