//! Stand-ins for calls of the engine that have not landed yet.

use std::path::{Path, PathBuf};

use record::{Cancelled, Job, Progress, Scans, Stage, Study};

/// Measures and decides.
pub fn run(job: &Job, scans: &Scans, draws: u32, at: &dyn Progress) -> Result<Study, Cancelled> {
    study::run(job, scans, &mut study::Kept::default(), draws, at)
}

/// Writes scans and job of the made-up coach; gives the path of the job.
pub fn write_demo(
    dir: &Path,
    points: usize,
    seed: u64,
    at: &dyn Progress,
) -> anyhow::Result<PathBuf> {
    formats::make_folder(dir)?;
    let coach = demo::Coach::new(seed);
    let mut job = coach.job();
    let scans = coach.scans(points, at)?;
    for (k, scan) in scans.iter().enumerate() {
        at.at(Stage::Write, k, scans.len())?;
        let path = dir.join(scan.file_name);
        let written = match path.extension().and_then(|e| e.to_str()) {
            Some("ply") => formats::write_ply(&path, &scan.raw, at)?,
            Some("stl") => formats::write_stl(&path, &scan.raw, at)?,
            _ => formats::write_xyz(&path, &scan.raw, at)?,
        };
        if let Some(known) = job.scans.iter_mut().find(|s| s.id == scan.id) {
            known.hash = Some(written.hash);
        }
    }
    let path = dir.join("coach.ron");
    formats::write_job(&job, &path)?;
    Ok(path)
}
