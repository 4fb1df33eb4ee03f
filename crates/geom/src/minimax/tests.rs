use microlp::{ComparisonOp, OptimizationDirection, Problem};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::*;

fn optimum(p: &Minimax) -> Optimum {
    match p.solve() {
        Outcome::Optimal(o) => o,
        Outcome::Infeasible(rows) => panic!("no solution: {rows:?}"),
    }
}

fn column(p: &Minimax, j: usize) -> Vec<f64> {
    let factor = |i| {
        p.row(i)
            .iter()
            .find(|e| e.0 as usize == j)
            .map_or(0.0, |e| e.1)
    };
    (0..p.rows()).map(factor).collect()
}

fn columns(p: &Minimax) -> Vec<Vec<f64>> {
    (0..p.unknowns).map(|j| column(p, j)).collect()
}

/// The same problem through the general solver; `None` where it finds none.
fn general(p: &Minimax) -> Option<f64> {
    let mut lp = Problem::new(OptimizationDirection::Minimize);
    let x: Vec<_> = (0..p.unknowns)
        .map(|_| lp.add_var(0.0, (f64::NEG_INFINITY, f64::INFINITY)))
        .collect();
    let s = lp.add_var(1.0, (0.0, f64::INFINITY));
    for i in 0..p.rows() {
        let factors = p.row(i).iter();
        let mut row: Vec<_> = factors.map(|(j, v)| (x[*j as usize], *v)).collect();
        row.push((s, -p.slack[i]));
        lp.add_constraint(row, ComparisonOp::Le, p.bound[i]);
    }
    match lp.solve().ok()? {
        microlp::SolveOutcome::Solution(s) => Some(s.objective()),
        microlp::SolveOutcome::Interrupted(_) => panic!("the general solver was stopped"),
    }
}

fn random(rng: &mut ChaCha8Rng, unknowns: usize, soft: usize, hard: usize, room: f64) -> Minimax {
    let mut p = Minimax::new(unknowns);
    let scale: Vec<f64> = (0..unknowns)
        .map(|j| if j % 2 == 0 { 1.0 } else { 100.0 })
        .collect();
    let row = |rng: &mut ChaCha8Rng| -> Vec<f64> {
        scale
            .iter()
            .map(|s| s * rng.random_range(-1.0..1.0))
            .collect()
    };
    for _ in 0..soft {
        let g = row(rng);
        let start = rng.random_range(-2.0..2.0);
        p.within(
            &g,
            start,
            rng.random_range(0.1..1.0),
            rng.random_range(0.1..1.0),
        );
    }
    for _ in 0..hard {
        let g = row(rng);
        p.at_most(&g, rng.random_range(-1.0..1.0) + room, 0.0);
    }
    p
}

fn check_certificate(p: &Minimax, o: &Optimum) {
    let dual: f64 = -o
        .active
        .iter()
        .map(|a| a.multiplier * p.bound[a.row])
        .sum::<f64>();
    assert!(
        (dual - o.value).abs() < 1e-9 * (1.0 + o.value),
        "dual {dual} value {}",
        o.value
    );
    for (j, c) in columns(p).iter().enumerate() {
        let sum: f64 = o.active.iter().map(|a| a.multiplier * c[a.row]).sum();
        let size: f64 = o
            .active
            .iter()
            .map(|a| (a.multiplier * c[a.row]).abs())
            .sum();
        assert!(sum.abs() < 1e-9 * (1.0 + size), "unknown {j}: {sum}");
    }
    for i in 0..p.rows() {
        let over = p.excess(i, &o.x) - p.slack[i] * o.value;
        assert!(over < 1e-9, "row {i} exceeded by {over}");
    }
    assert!(o.active.iter().all(|a| a.multiplier > 0.0));
}

#[test]
fn agrees_with_the_general_solver_on_random_problems() {
    let mut rng = ChaCha8Rng::seed_from_u64(11);
    let (mut solved, mut refused) = (0, 0);
    for case in 0..500 {
        let unknowns = 1 + case % 13;
        let hard = [0, 3, 20, 60][case % 4];
        let room = [0.0, 0.5, 1.0][case % 3];
        let soft = 1 + case % 40;
        let p = random(&mut rng, unknowns, soft, hard, room);
        match (p.solve(), general(&p)) {
            (Outcome::Optimal(o), Some(v)) => {
                assert!(
                    (o.value - v).abs() < 1e-7 * (1.0 + v),
                    "case {case}: {} against {v}",
                    o.value
                );
                check_certificate(&p, &o);
                assert!(p.least_violation() < 1e-9);
                solved += 1;
            }
            (Outcome::Infeasible(rows), None) => {
                let sum: f64 = rows.iter().map(|a| a.multiplier * p.bound[a.row]).sum();
                assert!(
                    sum < 0.0,
                    "case {case}: the contradiction does not contradict"
                );
                assert!(
                    rows.iter().all(|a| p.slack[a.row] == 0.0),
                    "case {case}: {rows:?}"
                );
                assert!(p.least_violation() > 1e-9);
                refused += 1;
            }
            (ours, theirs) => panic!("case {case}: {ours:?} against {theirs:?}"),
        }
    }
    assert!(
        solved > 200 && refused > 50,
        "{solved} solved, {refused} refused"
    );
}

#[test]
fn a_warm_start_gives_the_same_value() {
    let mut rng = ChaCha8Rng::seed_from_u64(12);
    let p = random(&mut rng, 6, 200, 30, 3.0);
    let mut solver = Solver::new(&p);
    let Outcome::Optimal(first) = solver.solve_and_keep(p.bounds()) else {
        panic!()
    };
    let mut exchanges = 0;
    for _ in 0..200 {
        let moved: Vec<f64> = p
            .bounds()
            .iter()
            .map(|b| b + rng.random_range(-0.05..0.05))
            .collect();
        let Outcome::Optimal(warm) = solver.solve(&moved) else {
            panic!()
        };
        let Outcome::Optimal(cold) = Solver::new(&p).solve(&moved) else {
            panic!()
        };
        assert!(
            (warm.value - cold.value).abs() < 1e-11,
            "{} {}",
            warm.value,
            cold.value
        );
        exchanges += warm.exchanges;
    }
    assert!(
        exchanges < 200 * first.exchanges,
        "a warm start should save work"
    );
}

#[test]
fn middle_of_two_values() {
    let mut p = Minimax::new(1);
    p.within(&[1.0], 0.0, 1.0, 1.0);
    p.within(&[1.0], -3.0, 1.0, 1.0);
    let o = optimum(&p);
    assert_eq!((o.value, o.x[0]), (1.5, 1.5));
    assert_eq!(
        o.active.iter().map(|a| a.multiplier).collect::<Vec<_>>(),
        [0.5, 0.5]
    );
}

#[test]
fn nothing_to_do_and_unseen_unknowns() {
    let o = optimum(&Minimax::new(3));
    assert_eq!((o.value, o.x), (0.0, vec![0.0; 3]));
    let mut p = Minimax::new(2);
    p.within(&[1.0, 0.0], 0.0, 1.0, 1.0);
    p.within(&[1.0, 0.0], -2.0, 1.0, 1.0);
    let o = optimum(&p);
    assert_eq!((o.value, o.x), (1.0, vec![1.0, 0.0]));
}

#[test]
fn many_equal_rows_do_not_cycle() {
    // A regular polygon of rows that all meet in one point, each given several times over.
    let mut p = Minimax::new(2);
    for k in 0..64 {
        let a = f64::from(k % 16) * std::f64::consts::TAU / 16.0;
        p.within(&[a.cos(), a.sin()], 0.0, 1.0, 1.0);
        p.at_most(&[a.cos(), a.sin()], 0.0, 0.0);
    }
    let o = optimum(&p);
    assert_eq!(o.value, 0.0);
    assert!(o.x.iter().all(|v| v.abs() < 1e-12));
}

#[test]
fn least_violation_of_a_contradiction() {
    let mut p = Minimax::new(1);
    p.at_most(&[1.0], 1.0, 0.0);
    p.at_most(&[-1.0], -2.0, 0.0);
    p.within(&[1.0], 0.0, 1.0, 1.0);
    assert!(matches!(p.solve(), Outcome::Infeasible(_)));
    assert!((p.least_violation() - 0.5).abs() < 1e-12);
}

#[test]
fn a_dozen_microseconds_for_six_unknowns() {
    // Counted in exchanges, not in time: 6 unknowns x 400 rows must not need more than a few dozen.
    let mut rng = ChaCha8Rng::seed_from_u64(13);
    let worst = (0..100)
        .map(|_| optimum(&random(&mut rng, 6, 200, 0, 0.0)).exchanges)
        .max();
    assert!(worst.unwrap() <= 60, "{worst:?}");
}

/// Stations with two rows each and an unknown of their own, as those of a gasket that gives way station by station.
fn stations(rng: &mut ChaCha8Rng, count: usize, room: f64) -> Minimax {
    let mut p = Minimax::new(4 + count);
    for k in 0..count {
        for own in [1.0, 0.3] {
            let mut g = vec![0.0; 4 + count];
            for v in &mut g[..4] {
                *v = rng.random_range(-1.0..1.0);
            }
            g[4 + k] = own;
            p.within(
                &g,
                rng.random_range(-2.0..2.0),
                1.0,
                rng.random_range(0.5..1.0),
            );
        }
        p.between(4 + k, -room, room);
    }
    p.at_most(&[1.0, 1.0, 1.0, 1.0], 3.0, 0.0);
    p
}

#[test]
fn unknowns_of_single_stations_are_taken_out_exactly() {
    let mut rng = ChaCha8Rng::seed_from_u64(41);
    for (count, room) in [(25, 0.2), (40, 0.0), (60, 1.0)] {
        for _ in 0..10 {
            let p = stations(&mut rng, count, room);
            assert!(private::Reduced::of(&p).is_some());
            let o = optimum(&p);
            check_certificate(&p, &o);
            let value = general(&p).expect("a solution");
            assert!(
                (o.value - value).abs() < 1e-8 * (1.0 + value),
                "{} {value}",
                o.value
            );
            assert!(o.x[4..].iter().all(|v| v.abs() <= room + 1e-12));
            let Outcome::Optimal(whole) = Solver::new(&p).solve(&p.bound) else {
                panic!("no solution as a whole");
            };
            assert!((o.value - whole.value).abs() < 1e-9 * (1.0 + value));
        }
    }
}

#[test]
fn a_contradiction_of_single_stations_is_proved_by_the_rows_given() {
    let mut p = Minimax::new(30);
    for j in 2..30 {
        p.between(j, -0.1, 0.1);
        p.within(&[1.0, 0.5], -1.0, 1.0, 1.0);
    }
    // x_5 is to reach 0.3 with the help of x_0 + x_1 <= 0.1.
    let mut g = vec![0.0; 30];
    (g[0], g[1], g[5]) = (-1.0, -1.0, -1.0);
    p.at_most(&g, -0.3, 0.0);
    p.at_most(&[1.0, 1.0], 0.1, 0.0);
    let Outcome::Infeasible(rows) = p.solve() else {
        panic!("a solution");
    };
    let total = |of: &[f64]| rows.iter().map(|a| a.multiplier * of[a.row]).sum::<f64>();
    assert!(columns(&p).iter().all(|c| total(c).abs() < 1e-12));
    assert!(total(&p.bound) < -1e-3 && total(&p.slack).abs() < 1e-12);
}
