//! Round holes in a flat panel, read about every millimetre at places that know nothing of the hole.

use std::f64::consts::TAU;

use geom::{Kernel, Point, RawPoints};
use rand::RngExt;
use rayon::prelude::*;
use record::{LengthUnit, Prepared, Quiet, RawScan};
use study::probe::{hole_near, hole_pick};

use super::fields::{Fields, Noise, place, rng};
use super::{Tally, seeds};

/// A hole as it was made, and the panel about it as a scanner sees it.
struct Seen {
    middle: [f64; 2],
    diameter: f64,
    scan: Prepared,
}

/// One place in every square millimetre of 30 x 30 mm, anywhere within it; those that lie in the hole are not there. The
/// noise moves them along the line of sight, which slants by 20 to 50 degrees, so that it moves them along the panel too.
fn seen(fields: &Fields, experiment: u64, seed: u64) -> Seen {
    let mut r = rng(experiment, seed);
    let middle = [r.random_range(-1.0..1.0), r.random_range(-1.0..1.0)];
    let diameter = r.random_range(5.0..11.0);
    let slant = r.random_range(20_f64..50.0).to_radians();
    let round = r.random_range(0.0..TAU);
    let sight = [
        slant.sin() * round.cos(),
        slant.sin() * round.sin(),
        slant.cos(),
    ];
    let points: Vec<[f64; 3]> = fields
        .draw(&mut r)
        .iter()
        .enumerate()
        .map(|(k, h)| {
            let (u, v) = place(k);
            let at = [
                u + r.random_range(-0.5..0.5),
                v + r.random_range(-0.5..0.5),
                0.0,
            ];
            (at, *h)
        })
        .filter(|(p, _)| (p[0] - middle[0]).hypot(p[1] - middle[1]) > 0.5 * diameter)
        .map(|(p, h)| [0, 1, 2].map(|i| p[i] + h * sight[i]))
        .collect();
    let raw = RawScan {
        name: "panel".to_owned(),
        format: "made".to_owned(),
        hash: String::new(),
        bytes: 0,
        points: RawPoints::F64(points),
        triangles: Vec::new(),
        colours: Vec::new(),
        normals: Vec::new(),
        names: Vec::new(),
        unit: None,
        notes: Vec::new(),
    };
    let scan = study::prepare(raw, LengthUnit::Millimetre, &Quiet).expect("never called off");
    Seen {
        middle,
        diameter,
        scan,
    }
}

/// Middle (both ways) and diameter of many holes.
fn holes(noise: Noise, experiment: u64) -> [Tally; 2] {
    let fields = Fields::new(noise);
    let each: Vec<_> = (0..seeds())
        .into_par_iter()
        .map(|seed| {
            let made = seen(&fields, experiment, seed);
            let [x, y] = made.middle;
            let found = hole_near(&made.scan, &hole_pick("h", Point::new(x, y, 0.0)), None)
                .expect("a round hole");
            let (u, d) = (found.centre_u95.u95, &found.diameter);
            (
                [(found.centre.x - x, u), (found.centre.y - y, u)],
                (d.value - made.diameter, d.u95),
            )
        })
        .collect();
    let (mut middle, mut diameter) = (Tally::default(), Tally::default());
    for (m, d) in each {
        middle.rows.extend(m);
        diameter.rows.push(d);
    }
    [middle, diameter]
}

#[test]
fn coverage_of_holes() {
    let kinds = [
        ("white", Noise::White),
        ("Gaussian 3 mm", Noise::One(Kernel::Gaussian, 3.0)),
        ("Gaussian 10 mm", Noise::One(Kernel::Gaussian, 10.0)),
        ("exponential 3 mm", Noise::One(Kernel::Exponential, 3.0)),
        ("Matern 5 mm", Noise::One(Kernel::Matern, 5.0)),
    ];
    for (k, (name, noise)) in kinds.into_iter().enumerate() {
        for (of, t) in ["middle", "diameter"]
            .iter()
            .zip(holes(noise, 60 + k as u64))
        {
            println!(
                "hole {of:8} {name:16} covered {:5.1} %  width {:.2}  mean error {:+.4}  rms {:.4}  ({})",
                t.covered(),
                t.width(),
                t.mean_error(),
                t.root_mean_square(),
                t.rows.len()
            );
            assert!(
                t.covered() > 89.0,
                "hole {of}, {name}: {:.1} %",
                t.covered()
            );
            assert!(t.width() < 1.5, "hole {of}, {name}: {:.2} wide", t.width());
        }
    }
}
