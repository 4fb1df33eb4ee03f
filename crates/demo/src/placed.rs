//! The coach in one scan with named places of the whole body, by which a centreline is laid.

use std::path::{Path, PathBuf};

use formats::Error;
use geom::{Point, Rigid, Vector};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use record::{Centreline, Place, Progress, ScanId, Side};

use crate::coach::Coach;

/// Names and car coordinates of places on the right, mm; the left ones are their mirror images.
const PAIRS: [(&str, [f64; 3]); 8] = [
    ("nose corner", [-250.0, 610.0, 160.0]),
    ("wing seam", [260.0, 690.0, -180.0]),
    ("door, front", [780.0, 705.0, -220.0]),
    ("belt, front", [800.0, 640.0, 420.0]),
    ("belt, rear", [1850.0, 650.0, 430.0]),
    ("door, rear", [1900.0, 710.0, -200.0]),
    ("tail seam", [2900.0, 660.0, -220.0]),
    ("roof corner", [3250.0, 560.0, 480.0]),
];
/// A place on the centre.
const BADGE: (&str, [f64; 3]) = ("badge", [-420.0, 0.0, 240.0]);
/// The left one of the first pair is bent back by this, mm.
pub const BENT: f64 = 8.0;
/// Scatter of a pick, mm.
const SIGMA: f64 = 0.4;
/// The left side of the body sits this much further back, and this much higher, mm.
pub const LEFT_SITS: [f64; 3] = [1.5, 0.0, 2.5];

impl Coach {
    /// Writes one scan of the whole front (about `points` points) and a job with eight pairs of places and one on the
    /// centre; the left nose corner is bent back by [`BENT`], everything named on the left sits off by [`LEFT_SITS`].
    /// The path of the job.
    ///
    /// # Errors
    /// With the path and a remedy; cancelled if `at` says so.
    pub fn write_with_places(
        &self,
        folder: &Path,
        points: usize,
        seed: u64,
        at: &dyn Progress,
    ) -> Result<PathBuf, Error> {
        formats::make_folder(folder)?;
        let scan_from_car = Rigid::new(
            Vector::new(420.0, -310.0, 95.0),
            Vector::new(0.02, -0.03, 1.1),
        );
        let moved = Rigid::translation(LEFT_SITS[0], LEFT_SITS[1], LEFT_SITS[2]);
        let (raw, mut job) = self.in_one_scan(points, &scan_from_car, &moved, at)?;
        let path = folder.join("body.ply");
        let written = formats::write_ply(&path, &raw, at)?;
        "Touring coach, one scan".clone_into(&mut job.title);
        job.scans[0].hash = Some(written.hash);
        let scan = job.scans[0].id.clone();
        job.places = places(&scan_from_car, &scan, seed);
        job.centreline = Centreline {
            front: Some("door, front".to_owned()),
            rear: Some("tail seam".to_owned()),
            ..Centreline::default()
        };
        let to = folder.join("body.ron");
        formats::write_job(&job, &to)?;
        Ok(to)
    }
}

fn places(scan_from_car: &Rigid, scan: &ScanId, seed: u64) -> Vec<Place> {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut one = |name: &str, side: Side, at: Point| {
        let off = Vector::from_fn(|_, _| {
            let e: f64 = StandardNormal.sample(&mut rng);
            e * SIGMA
        });
        let tenths = |v: f64| (v * 10.0).round() / 10.0;
        Place {
            name: name.to_owned(),
            side,
            scan: scan.clone(),
            at: (scan_from_car * (at + off)).map(tenths),
            sigma_mm: SIGMA,
            note: String::new(),
        }
    };
    let mut all = Vec::new();
    for (k, (name, [x, y, z])) in PAIRS.iter().enumerate() {
        let bent = if k == 0 { BENT } else { 0.0 };
        all.push(one(name, Side::Left, Point::new(x + bent, -y, *z)));
        all.push(one(name, Side::Right, Point::new(*x, *y, *z)));
    }
    let (name, [x, y, z]) = BADGE;
    all.push(one(name, Side::Centre, Point::new(x, y, z)));
    all
}

#[cfg(test)]
mod tests {
    use record::Quiet;

    use super::*;

    #[test]
    fn the_job_is_sound_and_its_places_are_in_its_scan() {
        let folder = tempfile::tempdir().unwrap();
        let path = Coach::new(1)
            .write_with_places(folder.path(), 20_000, 1, &Quiet)
            .unwrap();
        let job = formats::read_job(&path).unwrap();
        assert_eq!(formats::check_job(&job), []);
        assert_eq!(job.places.len(), 2 * PAIRS.len() + 1);
        assert!(job.places.iter().all(|p| p.scan == job.scans[0].id));
        assert_eq!(job.scans.len(), 1);
    }
}
