//! Paths of scans and hand tables: full while a job is open, as seen from the job file where it is written.

use std::path::Path;

use record::Job;

/// The job with full paths, seen from the folder of its file.
pub(crate) fn full(mut job: Job, folder: Option<&Path>) -> Job {
    if let Some(folder) = folder {
        for s in &mut job.scans {
            s.path = folder.join(&s.path);
        }
        for path in job.hand.iter_mut().filter_map(|h| h.path.as_mut()) {
            *path = folder.join(&*path);
        }
    }
    job
}

/// The job as it is written into `folder`: scans below it are named from there, so that the folder can be moved.
pub(crate) fn from_folder(job: &Job, folder: Option<&Path>) -> Job {
    let mut job = job.clone();
    if let Some(folder) = folder {
        for s in &mut job.scans {
            if let Ok(below) = s.path.strip_prefix(folder) {
                s.path = below.to_owned();
            }
        }
        for path in job.hand.iter_mut().filter_map(|h| h.path.as_mut()) {
            if let Ok(below) = path.strip_prefix(folder) {
                *path = below.to_owned();
            }
        }
    }
    job
}
