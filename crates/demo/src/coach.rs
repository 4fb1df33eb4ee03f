//! The coach and its scans.

use geom::{Improper, RawPoints, Rigid, Vector};
use nalgebra::UnitQuaternion;
use record::{Cancelled, LengthUnit, Progress, RawScan, ScanId};

use crate::body::{Body, Place};
use crate::chance::hash;
use crate::numbers::{Differences, RAKE_DEG};
use crate::scanner::{PlantedHole, Scanner, Shot, any_pose};
use crate::stand::stand;
use crate::weave::Weave;
use crate::work::Work;

/// A coach front of known truth, with a seed for all that is left to chance (noise, poses, clicks).
#[derive(Clone, Debug)]
pub struct Coach {
    pub(crate) seed: u64,
    pub(crate) differences: Differences,
    /// By what its left side differs from what is drawn.
    pub(crate) left: Differences,
    pub(crate) work: Option<Work>,
    pub(crate) scanner: Scanner,
    pub(crate) films_mm: [f64; 2],
    pub(crate) reading: u64,
}

/// A scan of the coach.
#[derive(Clone, Debug)]
pub struct DemoScan {
    /// Its name in the job.
    pub id: ScanId,
    /// The name of its file.
    pub file_name: &'static str,
    /// The scan as a reader would hand it over.
    pub raw: RawScan,
    /// Scan axes from car axes.
    pub scan_from_car: Rigid,
    /// Holes of the scan where the metal has none.
    pub planted_holes: Vec<PlantedHole>,
}

/// Triangles or points only.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    /// Points joined by triangles.
    Mesh,
    /// Points with normals.
    Cloud,
}

pub(crate) const PLACES: [Place; 3] = [Place::Left, Place::Right, Place::Centre];

impl Place {
    pub(crate) fn id(self) -> &'static str {
        match self {
            Self::Left => "left",
            Self::Right => "right",
            Self::Centre => "centre",
        }
    }

    pub(crate) fn file_name(self) -> &'static str {
        match self {
            Self::Left => "left.ply",
            Self::Right => "right.stl",
            Self::Centre => "centre.xyz",
        }
    }

    pub(crate) fn form(self) -> Form {
        match self {
            Self::Left | Self::Right => Form::Mesh,
            Self::Centre => Form::Cloud,
        }
    }

    /// Car axes from side axes: the left side is the mirror image; the front leans back.
    pub(crate) fn car_from_side(self) -> Improper {
        let lean = UnitQuaternion::from_axis_angle(&Vector::y_axis(), RAKE_DEG.to_radians());
        let rigid = Rigid::from_parts(Vector::zeros().into(), lean);
        match self {
            Self::Left => Improper::mirrored(rigid),
            Self::Right | Self::Centre => Improper::proper(rigid),
        }
    }
}

impl Coach {
    /// The coach of the demonstration.
    pub fn new(seed: u64) -> Self {
        Self {
            seed,
            differences: Differences::DEMO,
            left: Differences::NONE,
            work: None,
            scanner: Scanner::default(),
            films_mm: [0.0; 2],
            reading: 0,
        }
    }

    /// A coach whose right side is exactly the mirror image of its left.
    pub fn perfect(seed: u64) -> Self {
        Self::new(seed).with(Differences::NONE)
    }

    /// The same coach with other differences.
    #[must_use]
    pub fn with(self, differences: Differences) -> Self {
        Self {
            differences,
            ..self
        }
    }

    /// The same coach seen by another scanner.
    #[must_use]
    pub fn seen_by(self, scanner: Scanner) -> Self {
        Self { scanner, ..self }
    }

    /// The same coach with an even film on its left and its right side, mm. The centre goes with the left.
    #[must_use]
    pub fn under_films(self, films_mm: [f64; 2]) -> Self {
        Self { films_mm, ..self }
    }

    /// The same coach scanned once more: other noise, other poses, other clicks; 0 is the first reading.
    #[must_use]
    pub fn reading(self, reading: u64) -> Self {
        Self { reading, ..self }
    }

    /// By what its sides differ.
    pub fn differences(&self) -> Differences {
        self.differences
    }

    pub(crate) fn body(&self, place: Place) -> Body {
        let differences = match place {
            Place::Left => &self.left,
            Place::Right | Place::Centre => &self.differences,
        };
        Body::new(
            place,
            differences,
            self.work.as_ref().filter(|w| w.at(place)),
        )
    }

    pub(crate) fn scan_seed(&self, place: Place) -> u64 {
        let first = hash(&[self.seed, place as u64]);
        if self.reading == 0 {
            first
        } else {
            hash(&[first, self.reading])
        }
    }

    pub(crate) fn scan_from_car(&self, place: Place) -> Rigid {
        any_pose(self.scan_seed(place))
    }

    /// The distance between nodes, mm, with which all three scans together have about `points` points.
    pub(crate) fn step_for(&self, points: usize) -> f64 {
        let bodies = PLACES.map(|p| (self.body(p), self.stand(p)));
        let count = |step: f64| -> f64 {
            bodies
                .iter()
                .map(|(b, s)| f64::from(Weave::new(b, s, step, 0).nodes))
                .sum()
        };
        let mut step = (750_000.0 / points.max(1) as f64).sqrt();
        for _ in 0..3 {
            step *= (count(step) / points.max(1) as f64).sqrt();
        }
        step
    }

    fn stand(&self, place: Place) -> Vec<crate::stand::StandPiece> {
        if self.scanner.stand {
            stand(place)
        } else {
            Vec::new()
        }
    }

    /// One scan with nodes about `step` mm apart.
    pub(crate) fn scan_one(
        &self,
        place: Place,
        form: Form,
        step: f64,
        at: &dyn Progress,
    ) -> Result<DemoScan, Cancelled> {
        let body = self.body(place);
        let seed = self.scan_seed(place);
        let scan_from_car = self.scan_from_car(place);
        let weave = Weave::new(&body, &self.stand(place), step, seed);
        let shot = Shot {
            scanner: &self.scanner,
            car_from_side: place.car_from_side(),
            scan_from_car,
            seed,
            mesh: form == Form::Mesh,
            film_mm: self.films_mm[usize::from(place == Place::Right)],
        };
        let seen = shot.take(&weave, at)?;
        let format = match (place, form) {
            (Place::Left, Form::Mesh) => "binary PLY, little-endian",
            (_, Form::Mesh) => "binary STL",
            (_, Form::Cloud) => "table of points",
        };
        let named = |form, list| if form { list } else { Vec::new() };
        let cloud = form == Form::Cloud;
        let raw = RawScan {
            name: place.file_name().to_owned(),
            format: format.to_owned(),
            hash: fingerprint(&seen.points, &seen.triangles),
            bytes: (12 * seen.points.len() + 12 * seen.triangles.len()) as u64,
            points: RawPoints::F32(seen.points),
            triangles: seen.triangles,
            colours: if place == Place::Left && !cloud {
                seen.colours
            } else {
                Vec::new()
            },
            normals: named(cloud, seen.normals),
            names: Vec::new(),
            unit: (place == Place::Left && !cloud).then_some(LengthUnit::Millimetre),
            notes: Vec::new(),
        };
        Ok(DemoScan {
            id: place.id().into(),
            file_name: place.file_name(),
            raw,
            scan_from_car,
            planted_holes: seen.planted,
        })
    }

    /// The three scans, together about `points` points: left and right as meshes, the centre as a cloud.
    pub fn scans(&self, points: usize, at: &dyn Progress) -> Result<Vec<DemoScan>, Cancelled> {
        let step = self.step_for(points);
        PLACES
            .into_iter()
            .map(|p| self.scan_one(p, p.form(), step, at))
            .collect()
    }

    /// The same scans, all as clouds.
    pub fn scan_clouds(
        &self,
        points: usize,
        at: &dyn Progress,
    ) -> Result<Vec<DemoScan>, Cancelled> {
        let step = self.step_for(points);
        PLACES
            .into_iter()
            .map(|p| self.scan_one(p, Form::Cloud, step, at))
            .collect()
    }
}

/// Names the content of a scan that never was a file.
fn fingerprint(points: &[[f32; 3]], triangles: &[[u32; 3]]) -> String {
    let fold =
        |h: u64, x: u32| (h.rotate_left(23) ^ u64::from(x)).wrapping_mul(0x9fb2_1c65_1e98_df25);
    let a = points.iter().flatten().fold(1, |h, x| fold(h, x.to_bits()));
    let b = triangles.iter().flatten().fold(2, |h, &x| fold(h, x));
    format!("made-{:016x}{:016x}", hash(&[a, b, 1]), hash(&[a, b, 2]))
}

#[cfg(test)]
mod tests;
