//! Reads the scans of a job, each file once, several at a time where they are not too large.

use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex};

use record::{
    Cancelled, Code, Finding, Job, LengthUnit, Prepared, Progress, ScanRef, Scans, Severity,
};

/// Bytes of files read at the same time, at most; about four times as much memory is needed while they are prepared.
const AT_ONCE_BYTES: u64 = 1 << 30;

/// The scans that could be read and what has to be said about the others.
#[derive(Debug, Default)]
pub struct Loaded {
    /// The scans by name.
    pub scans: Scans,
    /// [`Code::ScanNotRead`] and [`Code::ScanChanged`].
    pub findings: Vec<Finding>,
}

/// A file with the unit its coordinates are taken in.
type Wanted = (PathBuf, LengthUnit);

/// Reads every scan file of `job`; paths are taken from `folder`. One bad file does not stop the rest.
///
/// # Errors
/// Only [`Cancelled`].
pub fn scans(job: &Job, folder: &Path, at: &dyn Progress) -> Result<Loaded, Cancelled> {
    let mut files: Vec<Wanted> = Vec::new();
    for scan in &job.scans {
        let key = (folder.join(&scan.path), scan.unit);
        if !files.contains(&key) {
            files.push(key);
        }
    }
    let read = read_all(&files, at)?;
    let mut loaded = Loaded::default();
    for scan in &job.scans {
        let key = (folder.join(&scan.path), scan.unit);
        let Some(k) = files.iter().position(|f| *f == key) else {
            continue;
        };
        match &read[k] {
            Ok(prepared) => {
                loaded.findings.extend(changed(scan, prepared));
                let used = study::regions::apply_regions(scan, prepared, at)?;
                loaded.scans.insert(scan.id.clone(), used);
            }
            Err(unread) => loaded.findings.push(not_read(scan, unread)),
        }
    }
    Ok(loaded)
}

/// Why a file could not be read, and what to do.
#[derive(Clone, Debug)]
pub struct Unread {
    /// What was wrong, with file and place.
    pub says: String,
    /// The remedy.
    pub hint: String,
}

/// Reads and prepares one file.
fn read_one(
    (path, unit): &Wanted,
    at: &dyn Progress,
) -> Result<Result<Arc<Prepared>, Unread>, Cancelled> {
    match formats::read_scan(path, at) {
        Ok(raw) => Ok(Ok(Arc::new(study::prepare(raw, *unit, at)?))),
        Err(error) if error.is_cancelled() => Err(Cancelled),
        Err(error) => Ok(Err(Unread {
            says: error.to_string(),
            hint: error.hint().to_owned(),
        })),
    }
}

type Read = Result<Result<Arc<Prepared>, Unread>, Cancelled>;

/// Reads `files`, as many at a time as processors and [`AT_ONCE_BYTES`] allow; results in their order.
fn read_all(
    files: &[Wanted],
    at: &dyn Progress,
) -> Result<Vec<Result<Arc<Prepared>, Unread>>, Cancelled> {
    let sizes: Vec<u64> = files
        .iter()
        .map(|(p, _)| std::fs::metadata(p).map_or(0, |m| m.len()))
        .collect();
    let threads = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
    let mut results: Vec<Result<Arc<Prepared>, Unread>> = Vec::new();
    let mut from = 0;
    while from < files.len() {
        let mut to = from + 1;
        let mut bytes = sizes[from];
        while to < files.len() && to - from < threads && bytes + sizes[to] <= AT_ONCE_BYTES {
            bytes += sizes[to];
            to += 1;
        }
        let slots: Vec<Mutex<Option<Read>>> = (from..to).map(|_| Mutex::new(None)).collect();
        let next = AtomicUsize::new(from);
        std::thread::scope(|scope| {
            for _ in from..to {
                scope.spawn(|| {
                    let k = next.fetch_add(1, Ordering::Relaxed);
                    let read = read_one(&files[k], at);
                    // Each slot is written once, by the thread that drew its number.
                    *slots[k - from]
                        .lock()
                        .unwrap_or_else(std::sync::PoisonError::into_inner) = Some(read);
                });
            }
        });
        for slot in slots {
            let read = slot
                .into_inner()
                .unwrap_or_else(std::sync::PoisonError::into_inner);
            results.push(read.unwrap_or(Err(Cancelled))?);
        }
        from = to;
    }
    Ok(results)
}

fn not_read(scan: &ScanRef, unread: &Unread) -> Finding {
    Finding {
        code: Code::ScanNotRead,
        severity: Severity::Stop,
        subject: scan.id.0.clone(),
        says: format!("scan {} was not read: {}", scan.id, unread.says),
        advice: unread.hint.clone(),
        numbers: Vec::new(),
    }
}

fn changed(scan: &ScanRef, prepared: &Prepared) -> Option<Finding> {
    let hash = scan.hash.as_ref()?;
    (*hash != prepared.hash).then(|| Finding {
        code: Code::ScanChanged,
        severity: Severity::Doubt,
        subject: scan.id.0.clone(),
        says: format!(
            "{} is not the file the picks of scan {} were made in",
            scan.path.display(),
            scan.id
        ),
        advice: "look at the picks again, or bring the former file back".to_owned(),
        numbers: Vec::new(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use record::{Quiet, UnitSource};

    fn scan(id: &str, path: &str, hash: Option<&str>) -> ScanRef {
        ScanRef {
            id: id.into(),
            visit: "v".into(),
            path: path.into(),
            hash: hash.map(str::to_owned),
            unit: LengthUnit::Millimetre,
            unit_source: UnitSource::Stated,
            side: record::Side::NotSaid,
            keep: Vec::new(),
            aside: Vec::new(),
            largest_piece_only: false,
            note: String::new(),
        }
    }

    #[test]
    fn one_bad_file_does_not_stop_the_rest_and_a_changed_one_is_named() {
        let folder = tempfile::tempdir().unwrap();
        let rows: Vec<String> = (0..400)
            .map(|i| format!("{} {} 0", i % 20, i / 20))
            .collect();
        let good = rows.join(
            "
",
        );
        std::fs::write(folder.path().join("good.xyz"), good).unwrap();
        let job = Job {
            scans: vec![
                scan("a", "missing.ply", None),
                scan("b", "good.xyz", Some("0000")),
                scan("c", "good.xyz", None),
            ],
            ..Job::default()
        };
        let loaded = scans(&job, folder.path(), &Quiet).unwrap();
        let codes: Vec<Code> = loaded.findings.iter().map(|f| f.code).collect();
        assert_eq!(codes, [Code::ScanNotRead, Code::ScanChanged]);
        assert!(
            loaded.findings[0].says.contains("missing.ply"),
            "{:?}",
            loaded.findings[0]
        );
        assert!(!loaded.findings[0].advice.is_empty());
        assert_eq!(loaded.scans.len(), 2);
        assert!(
            Arc::ptr_eq(&loaded.scans[&"b".into()], &loaded.scans[&"c".into()]),
            "read once"
        );
    }
}
