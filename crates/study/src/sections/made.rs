//! Made-up scans for the tests of sections: points with normals, moved along them by noise of a known kind.

use std::sync::Arc;

use geom::{Kernel, NoiseModel, Point, RawPoints, Vector};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{ChiSquared, Distribution, StandardNormal};
use record::{
    Job, LengthUnit, Measured, Prepared, Quiet, RawScan, ScanRef, Scans, Side, UnitSource, Visit,
    VisitNoise,
};

/// Points of exact surfaces with the normal there.
pub(super) type Exact = Vec<(Point, Vector)>;

/// A scan of `exact` with noise of this kind along the normals.
pub(super) fn scanned(exact: &Exact, noise: &NoiseModel, seed: u64) -> Arc<Prepared> {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let kind = noise.points[0];
    let heavy = match kind.kernel {
        Kernel::Gaussian => None,
        Kernel::Exponential => Some(1.0),
        Kernel::Matern => Some(3.0),
    };
    // A random function as a sum of plane waves, the wave numbers drawn from the spectrum of the kernel.
    let waves: Vec<(Vector, f64)> = (0..200)
        .map(|_| {
            let z = Vector::from_fn(|_, _| StandardNormal.sample(&mut rng));
            let longer = heavy.map_or(1.0, |dof: f64| {
                let chi: f64 = ChiSquared::new(dof).unwrap().sample(&mut rng);
                (dof / chi).sqrt()
            });
            (
                z * (longer / kind.range_mm),
                rng.random::<f64>() * std::f64::consts::TAU,
            )
        })
        .collect();
    let points = exact
        .iter()
        .map(|(p, n)| {
            let white: f64 = StandardNormal.sample(&mut rng);
            let mut h = kind.white_var.sqrt() * white;
            if kind.corr_var > 0.0 {
                let sum: f64 = waves
                    .iter()
                    .map(|(k, f)| (k.dot(&p.coords) + f).cos())
                    .sum();
                h += kind.corr_var.sqrt() * sum * (2.0_f64 / 200.0).sqrt();
            }
            (p + n * h).coords.into()
        })
        .collect();
    let raw = RawScan {
        name: "made.ply".to_owned(),
        format: "made".to_owned(),
        hash: seed.to_string(),
        bytes: 0,
        points: RawPoints::F64(points),
        triangles: Vec::new(),
        colours: Vec::new(),
        normals: exact
            .iter()
            .map(|(_, n)| [n.x, n.y, n.z].map(|v| v as f32))
            .collect(),
        names: Vec::new(),
        unit: None,
        notes: Vec::new(),
    };
    Arc::new(crate::prepare(raw, LengthUnit::Millimetre, &Quiet).unwrap())
}

/// A job of these scans in one visit of known noise.
pub(super) fn job_of(
    scans: Vec<(&str, Arc<Prepared>)>,
    noise: &NoiseModel,
) -> (Job, Scans, Measured) {
    let mut job = Job::default();
    job.visits.push(Visit {
        id: "visit".into(),
        car: String::new(),
        date: String::new(),
        operator: String::new(),
        instrument: String::new(),
        flatness_mm: 0.0,
        state: record::BodyState::default(),
        note: String::new(),
    });
    let mut all = Scans::new();
    for (id, scan) in scans {
        job.scans.push(ScanRef {
            id: id.into(),
            visit: "visit".into(),
            path: id.into(),
            hash: None,
            unit: LengthUnit::Millimetre,
            unit_source: UnitSource::Stated,
            side: Side::NotSaid,
            keep: Vec::new(),
            aside: Vec::new(),
            largest_piece_only: false,
            note: String::new(),
        });
        all.insert(id.into(), scan);
    }
    let measured = Measured {
        noise: vec![VisitNoise {
            visit: "visit".into(),
            model: noise.clone(),
            faces: 0,
        }],
        ..Measured::default()
    };
    (job, all, measured)
}

/// `count` numbers from 0 to 1, drawn evenly.
pub(super) fn even(count: usize, seed: u64) -> impl Iterator<Item = [f64; 2]> {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    (0..count).map(move |_| [rng.random(), rng.random()])
}
