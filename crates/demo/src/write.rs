//! The coach as files.

use std::path::{Path, PathBuf};

use formats::{Error, write_ply, write_stl, write_xyz};
use record::{Job, Progress, ScanId};

use crate::body::Place;
use crate::coach::{Coach, PLACES};
use crate::scanner::PlantedHole;
use crate::truth::Truth;

/// The files of a demonstration.
#[derive(Clone, Debug)]
pub struct DemoFiles {
    /// The job file.
    pub job_path: PathBuf,
    /// The scan files.
    pub scan_paths: Vec<PathBuf>,
    /// The job as it was written.
    pub job: Job,
    /// What is true.
    pub truth: Truth,
    /// Holes of the scans where the metal has none.
    pub planted_holes: Vec<(ScanId, Vec<PlantedHole>)>,
    /// Points of all scans together.
    pub points: usize,
}

/// Name of the job file.
const JOB_FILE: &str = "coach.ron";

impl Coach {
    /// Writes the three scans (together about `points` points) and the job into a folder, which is made if need be. One
    /// scan is in memory at a time.
    ///
    /// # Errors
    /// With the path and a remedy; cancelled if `at` says so.
    pub fn write(
        &self,
        folder: &Path,
        points: usize,
        at: &dyn Progress,
    ) -> Result<DemoFiles, Error> {
        formats::make_folder(folder)?;
        let step = self.step_for(points);
        let mut files = DemoFiles {
            job_path: folder.join(JOB_FILE),
            scan_paths: Vec::new(),
            job: self.job(),
            truth: self.truth(),
            planted_holes: Vec::new(),
            points: 0,
        };
        for place in PLACES {
            let scan = self.scan_one(place, place.form(), step, at)?;
            let path = folder.join(scan.file_name);
            let written = match place {
                Place::Left => write_ply(&path, &scan.raw, at)?,
                Place::Right => write_stl(&path, &scan.raw, at)?,
                Place::Centre => write_xyz(&path, &scan.raw, at)?,
            };
            if let Some(s) = files.job.scans.iter_mut().find(|s| s.id == scan.id) {
                s.hash = Some(written.hash);
            }
            files.points += scan.raw.points.len();
            files.scan_paths.push(path);
            files.planted_holes.push((scan.id, scan.planted_holes));
        }
        formats::write_job(&files.job, &files.job_path)?;
        Ok(files)
    }
}

/// Writes the coach of the demonstration: its scans (together about `points` points) and its job.
///
/// # Errors
/// With the path and a remedy; cancelled if `at` says so.
pub fn write_demo(
    folder: &Path,
    points: usize,
    seed: u64,
    at: &dyn Progress,
) -> Result<DemoFiles, Error> {
    Coach::new(seed).write(folder, points, at)
}

#[cfg(test)]
mod tests {
    use formats::{check_job, read_job, read_scan};
    use record::Quiet;

    use super::*;

    #[test]
    fn what_is_written_is_what_is_read() {
        let dir = tempfile::tempdir().unwrap();
        let folder = dir.path().join("coach");
        let coach = Coach::new(3);
        let files = coach.write(&folder, 30_000, &Quiet).unwrap();
        let job = read_job(&files.job_path).unwrap();
        assert_eq!(check_job(&job), []);
        assert_eq!(job.openings.len(), files.job.openings.len());
        assert_eq!(job.compares, files.job.compares);
        let made = coach.scans(30_000, &Quiet).unwrap();
        for ((made, path), listed) in made.iter().zip(&files.scan_paths).zip(&job.scans) {
            let read = read_scan(path, &Quiet).unwrap();
            assert_eq!(Some(&read.hash), listed.hash.as_ref());
            assert_eq!(
                read.points.len(),
                made.raw.points.len(),
                "{}",
                made.file_name
            );
            assert_eq!(read.triangles.len(), made.raw.triangles.len());
            assert_eq!(read.unit, made.raw.unit);
            assert!(read.notes.is_empty(), "{:?}", read.notes);
        }
        // A mesh keeps its points and triangles exactly, however it is stored.
        for k in [0, 1] {
            let read = read_scan(&files.scan_paths[k], &Quiet).unwrap();
            assert!(read.points == made[k].raw.points, "{k}");
            assert!(read.triangles == made[k].raw.triangles, "{k}");
        }
    }
}
