//! Paths of scans and tables: full while a job is open, as seen from the job file where it is written.

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
        if let Some(table) = &mut job.places_table {
            table.path = folder.join(&table.path);
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
        if let Some(table) = &mut job.places_table
            && let Ok(below) = table.path.strip_prefix(folder)
        {
            table.path = below.to_owned();
        }
    }
    job
}

#[cfg(test)]
mod tests {
    use std::path::PathBuf;

    use super::*;

    #[test]
    fn a_table_of_places_is_full_while_open_and_seen_from_its_folder_where_written() {
        let table = record::PlacesTable {
            path: PathBuf::from("places.csv"),
            hash: None,
            places: Vec::new(),
            unread: None,
        };
        let job = Job {
            places_table: Some(table),
            ..Job::default()
        };
        let path = |job: &Job| job.places_table.as_ref().map(|t| t.path.clone());
        let folder = Path::new("/coach");
        let open = full(job, Some(folder));
        assert_eq!(path(&open), Some(PathBuf::from("/coach/places.csv")));
        let elsewhere = from_folder(&open, Some(Path::new("/other")));
        assert_eq!(path(&elsewhere), path(&open));
        let written = from_folder(&open, Some(folder));
        assert_eq!(path(&written), Some(PathBuf::from("places.csv")));
    }
}
