//! The coach in two visits with body work between them, and a second coach of the same pattern.

use std::path::{Path, PathBuf};

use formats::{Error, write_ply};
use record::{BodyWork, Cancelled, Car, Job, Progress, ScanRef, Side, Visit};

use crate::body::Place;
use crate::coach::{Coach, DemoScan, Form};
use crate::numbers::Differences;
use crate::truth::Truth;
use crate::work::Work;

/// Name of the later visit.
const SECOND_VISIT: &str = "second visit";
/// Folder of the second coach beside the first.
const SECOND_COACH: &str = "second coach";

/// The files of two visits to one coach and one to another.
#[derive(Clone, Debug)]
pub struct TwoCoaches {
    /// The job of the first coach: two visits, with body work between them.
    pub first: PathBuf,
    /// The job of the second coach.
    pub second: PathBuf,
    /// The job of the first as written.
    pub first_job: Job,
    /// The job of the second as written.
    pub second_job: Job,
    /// What is true of the first coach at the first visit, of the same after the work, and of the second.
    pub truths: [Truth; 3],
}

impl Coach {
    /// The same coach after body work; read once more, with other noise, poses and clicks.
    #[must_use]
    pub fn after(self, work: Work) -> Self {
        Self {
            work: Some(work),
            ..self
        }
        .reading(1)
    }

    /// The scan of one side as a cloud, as dense as if all three together had about `points` points.
    ///
    /// # Errors
    /// [`Cancelled`] if `at` says so.
    pub fn scan_side(
        &self,
        side: Side,
        points: usize,
        at: &dyn Progress,
    ) -> Result<DemoScan, Cancelled> {
        let place = place_of(side);
        self.scan_one(place, Form::Cloud, self.step_for(points), at)
    }

    /// Another coach of the same pattern, with deviations of its own on both sides.
    pub fn second(seed: u64) -> Self {
        Self {
            left: Differences {
                lamp_corner_mm: -0.9,
                marker_width_mm: 0.2,
                step_holes_mm: 0.9,
                vent_corner_mm: 0.05,
                ..Differences::NONE
            },
            ..Self::new(seed).with(Differences {
                junction_top_deg: 89.7,
                junction_bottom_deg: 89.5,
                lamp_twist_mm: 0.2,
                lamp_corner_mm: 0.15,
                vent_corner_mm: -1.1,
                vent_hole_mm: 0.05,
                step_holes_mm: 0.0,
                marker_width_mm: 0.1,
                grille_corner_mm: 2.6,
            })
        }
    }

    /// Writes this coach in two visits, `work` between them, and `second` beside it (each about `points` points).
    ///
    /// # Errors
    /// With the path and a remedy; cancelled if `at` says so.
    pub fn write_two_coaches(
        &self,
        second: &Self,
        work: Work,
        folder: &Path,
        points: usize,
        at: &dyn Progress,
    ) -> Result<TwoCoaches, Error> {
        let first = self.write(folder, points, at)?;
        let after = self.clone().after(work);
        let place = place_of(work.side);
        let scan = after.scan_one(place, place.form(), after.step_for(points), at)?;
        let id = format!("{}-worked", scan.id);
        let file = format!("{id}.ply");
        let written = write_ply(&folder.join(&file), &scan.raw, at)?;
        let mut job = first.job;
        "Touring coach, two visits".clone_into(&mut job.title);
        job.visits.push(Visit {
            id: SECOND_VISIT.into(),
            date: "second Thursday".to_owned(),
            ..job.visits[0].clone()
        });
        job.scans.push(ScanRef {
            id: id.as_str().into(),
            visit: SECOND_VISIT.into(),
            path: file.into(),
            hash: Some(written.hash),
            ..job.scans[0].clone()
        });
        // One opening is picked again, which says how the scans lie; the others are carried over.
        for o in after.openings(place) {
            if o.id.0.starts_with("vent") {
                job.openings.push(record::Opening {
                    id: format!("{}-worked", o.id).as_str().into(),
                    scan: id.as_str().into(),
                    ..o
                });
            }
        }
        job.body_work.push(BodyWork {
            name: "flange dressed".to_owned(),
            before: scan.id.clone(),
            after: id.as_str().into(),
            worked: Vec::new(),
            start: None,
            most_mm: BodyWork::MOST_MM,
            note: String::new(),
        });
        formats::write_job(&job, &first.job_path)?;

        let beside = folder.join(SECOND_COACH);
        let mut other = second.write(&beside, points, at)?;
        "Second coach".clone_into(&mut other.job.title);
        other.job.cars = vec![Car {
            name: SECOND_COACH.to_owned(),
            note: "Of the same pattern, by the same hands.".to_owned(),
        }];
        for v in &mut other.job.visits {
            SECOND_COACH.clone_into(&mut v.car);
        }
        formats::write_job(&other.job, &other.job_path)?;
        Ok(TwoCoaches {
            first: first.job_path,
            second: other.job_path,
            first_job: job,
            second_job: other.job,
            truths: [first.truth, after.truth(), other.truth],
        })
    }
}

fn place_of(side: Side) -> Place {
    match side {
        Side::Left => Place::Left,
        Side::Right => Place::Right,
        Side::Centre | Side::NotSaid => Place::Centre,
    }
}
