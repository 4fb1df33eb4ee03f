//! Points read as a surface: closed, lit, calm.

use geom::{Blocks, Point, RawPoints, Vector};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use view3d::{Camera, Look, Object, Picture, Points, Scene, Shape, View, draw};

use crate::scenes::{GO, METAL, SHEET, flat, front, panel, paper};

/// `n` points at random on a square of 100 mm about the origin, noise 0.05 mm, turned about X by `tip`.
fn square(n: usize, tip: f64, seed: u64) -> Blocks {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let points = (0..n)
        .map(|_| {
            let (u, v) = (rng.random_range(-50.0..50.0), rng.random_range(-50.0..50.0));
            let off: f64 = rng.random_range(-0.08..0.08);
            let (s, c) = f64::sin_cos(tip);
            [u, v * s + off * c, v * c - off * s]
        })
        .collect();
    Blocks::build(RawPoints::F64(points), 1.0, Vec::new(), Vec::new(), GO).unwrap()
}

fn taken(blocks: &Blocks, mm_per_px: f64, look: Look) -> Picture {
    let scene = Scene {
        objects: vec![Object::new(Shape::Points(Points::new(blocks, METAL)))],
    };
    let mut view = front(120, 120);
    view.camera.mm_per_px = mm_per_px;
    draw(&scene, view, look)
}

/// Mean and spread of the grey of the middle of a picture, 0 to 255.
fn grey(p: &Picture) -> (f64, f64) {
    let values: Vec<f64> = (40..80)
        .flat_map(|y| (40..80).map(move |x| (x, y)))
        .map(|(x, y)| f64::from(p.colour(x, y).unwrap()[1]))
        .collect();
    let mean = values.iter().sum::<f64>() / values.len() as f64;
    let var = values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / values.len() as f64;
    (mean, var.sqrt())
}

#[test]
fn a_scan_closes_to_a_surface() {
    // From 0.4 to 16 points per pixel.
    for (n, mm_per_px) in [(4_000, 1.0), (40_000, 1.0), (40_000, 0.5), (40_000, 2.0)] {
        let p = taken(&square(n, 0.0, 1), mm_per_px, flat());
        let half = (48.0 / mm_per_px).min(58.0) as u32;
        let open = (60 - half..60 + half)
            .flat_map(|y| (60 - half..60 + half).map(move |x| (x, y)))
            .filter(|(x, y)| p.colour(*x, *y) == Some(SHEET))
            .count();
        let share = open as f64 / f64::from(4 * half * half);
        assert!(share < 0.01, "{share} of {n} points at {mm_per_px} is open");
    }
}

#[test]
fn light_comes_from_above_left_and_is_calm() {
    let grey_at = |tip: f64| grey(&taken(&square(60_000, tip, 2), 0.6, paper()));
    let (head_on, up, down) = (grey_at(0.0), grey_at(0.5), grey_at(-0.5));
    // Head-on the colour is the one asked for; turned up it is lighter, turned down darker.
    assert!((head_on.0 - f64::from(METAL[1])).abs() < 3.0, "{head_on:?}");
    assert!(
        up.0 > head_on.0 + 3.0,
        "{up:?} is not lighter than {head_on:?}"
    );
    assert!(
        down.0 < head_on.0 - 8.0,
        "{down:?} is not darker than {head_on:?}"
    );
    // Noise of 0.05 mm on pixels of 0.6 mm hardly shows.
    for g in [head_on, up, down] {
        assert!(g.1 < 4.0, "grain of {}", g.1);
    }
}

#[test]
fn what_lies_behind_an_edge_is_darker_beside_it() {
    // A square 60 mm behind another that covers its left half.
    let mut points = Vec::new();
    let mut rng = ChaCha8Rng::seed_from_u64(4);
    for _ in 0..80_000 {
        let (x, z): (f64, f64) = (rng.random_range(-50.0..50.0), rng.random_range(-50.0..50.0));
        points.push([x, 60.0, z]);
        if x < 0.0 {
            points.push([x, 0.0, z]);
        }
    }
    let blocks = Blocks::build(RawPoints::F64(points), 1.0, Vec::new(), Vec::new(), GO).unwrap();
    let p = taken(&blocks, 1.0, paper());
    let column = |x: u32| {
        (30..90)
            .map(|y| f64::from(p.colour(x, y).unwrap()[1]))
            .sum::<f64>()
            / 60.0
    };
    let (front, beside, away) = (column(40), column(61), column(80));
    assert!(
        beside < away - 15.0,
        "{beside} beside the edge, {away} away from it"
    );
    assert!((front - away).abs() < 3.0, "{front} and {away}");
}

#[test]
fn a_closed_picture_shows_no_back_through_the_front() {
    // 1.5 points per pixel on each of two squares 30 mm apart: the front closes.
    let mut points = Vec::new();
    let mut rng = ChaCha8Rng::seed_from_u64(9);
    for side in 0..2 {
        for _ in 0..15_000 {
            let (x, z): (f64, f64) = (rng.random_range(-50.0..50.0), rng.random_range(-50.0..50.0));
            points.push([x, 30.0 * f64::from(side), z]);
        }
    }
    let blocks = Blocks::build(RawPoints::F64(points), 1.0, Vec::new(), Vec::new(), GO).unwrap();
    let p = taken(&blocks, 1.0, paper());
    let through = (15..105)
        .flat_map(|y| (15..105).map(move |x| (x, y)))
        .filter(|(x, y)| p.hit(*x, *y).is_none_or(|h| h.depth > 10.0))
        .count();
    assert!(through < 81, "{through} of 8,100 pixels show the back");
}

#[test]
fn from_far_away_blocks_shrink_to_their_coarse_level() {
    let blocks = panel(50_000, Point::origin(), 1);
    let camera = Camera {
        mm_per_px: 100.0,
        ..Camera::along(Point::origin(), &Vector::y(), &Vector::z())
    };
    let view = View {
        camera,
        width: 21,
        height: 21,
    };
    let scene = Scene {
        objects: vec![Object::new(Shape::Points(Points::new(&blocks, METAL)))],
    };
    let p = draw(&scene, view, flat());
    assert!(p.hit(10, 10).is_some() || p.hit(9, 10).is_some());
    assert!(p.filled() < 0.05);
}
