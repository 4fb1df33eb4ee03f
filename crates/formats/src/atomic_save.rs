//! Saving so that a crash, a full disk or a pulled stick loses nothing.

use std::fs::{self, File, OpenOptions};
use std::io::Write;
use std::path::{Path, PathBuf};

use crate::Error;

/// How many earlier versions stay.
const KEPT: usize = 10;

/// Writes a file whole or not at all.
///
/// The bytes go to a new file in the same folder, are forced to the disk, and then take the name. Until that moment,
/// and after any error, the old file is as it was. Folders are not made.
///
/// # Errors
/// With the path and a remedy.
pub fn atomic_write(path: &Path, bytes: &[u8]) -> Result<(), Error> {
    let result = Waiting::beside(path, bytes).and_then(|waiting| waiting.take_name(path));
    result.map_err(|e| Error::io("write", e).in_file(path))
}

/// As [`atomic_write`], for what is too large to be held at once: `fill` writes it piece by piece. What can be made
/// again is not forced to the disk: after a power cut the file may be there and be damaged, so it needs a checksum.
///
/// # Errors
/// With the path and a remedy, also for what `fill` gives back.
pub(crate) fn atomic_stream(
    path: &Path,
    fill: impl FnOnce(&mut dyn Write) -> std::io::Result<()>,
) -> Result<(), Error> {
    let made = Waiting::open(path).and_then(|(waiting, file)| {
        let mut out = std::io::BufWriter::with_capacity(1 << 20, file);
        fill(&mut out)?;
        out.flush()?;
        drop(out);
        waiting.take_name(path)
    });
    made.map_err(|e| Error::io("write", e).in_file(path))
}

/// As [`atomic_write`], with the ten versions before it kept in the folder `.previous` beside it.
///
/// `.previous/job.1.ron` is the version before the present one, `.previous/job.10.ron` the oldest. Saving the same
/// bytes again changes nothing. The present file keeps its name at every moment: it is copied away, never moved.
///
/// # Errors
/// With the path and a remedy; the present file is then as it was, and no version is lost.
pub fn atomic_save(path: &Path, bytes: &[u8]) -> Result<(), Error> {
    save(path, bytes).map_err(|e| Error::io("save", e).in_file(path))
}

fn save(path: &Path, bytes: &[u8]) -> std::io::Result<()> {
    let before = match fs::read(path) {
        Ok(before) if before == bytes => return Ok(()),
        Ok(before) => Some(before),
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => None,
        Err(e) => return Err(e),
    };
    let waiting = Waiting::beside(path, bytes)?;
    if let Some(before) = before {
        keep(path, &before)?;
    }
    waiting.take_name(path)
}

/// Moves every kept version one place on and puts `before` in the first.
fn keep(path: &Path, before: &[u8]) -> std::io::Result<()> {
    let folder = folder_of(path).join(".previous");
    fs::create_dir_all(&folder)?;
    let first = kept(&folder, path, 1);
    // A save that stopped half way has kept this version already.
    if fs::read(&first).is_ok_and(|kept| kept == before) {
        return Ok(());
    }
    let waiting = Waiting::beside(&first, before)?;
    // Up to the first gap only: each move then goes to a free name, or over the oldest.
    let free = (1..KEPT)
        .find(|&n| !kept(&folder, path, n).exists())
        .unwrap_or(KEPT);
    for n in (1..free).rev() {
        fs::rename(kept(&folder, path, n), kept(&folder, path, n + 1))?;
    }
    waiting.take_name(&first)
}

fn kept(folder: &Path, path: &Path, n: usize) -> PathBuf {
    let mut name = path.file_stem().unwrap_or_default().to_owned();
    name.push(format!(".{n}"));
    if let Some(ending) = path.extension() {
        name.push(".");
        name.push(ending);
    }
    folder.join(name)
}

fn folder_of(path: &Path) -> &Path {
    path.parent()
        .filter(|p| !p.as_os_str().is_empty())
        .unwrap_or(Path::new("."))
}

/// A file that is complete on disk and waits for its name; removed if it never gets it.
struct Waiting {
    path: PathBuf,
    named: bool,
}

impl Waiting {
    fn beside(path: &Path, bytes: &[u8]) -> std::io::Result<Self> {
        let (this, mut file) = Self::open(path)?;
        file.write_all(bytes)?;
        file.sync_all()?;
        Ok(this)
    }

    fn open(path: &Path) -> std::io::Result<(Self, File)> {
        let name = path.file_name().ok_or_else(|| {
            std::io::Error::new(
                std::io::ErrorKind::InvalidInput,
                "the path has no file name",
            )
        })?;
        let mut tried = 0_u32;
        loop {
            let mut hidden = std::ffi::OsString::from(".");
            hidden.push(name);
            hidden.push(format!(".{}-{tried}.new", std::process::id()));
            let waiting = folder_of(path).join(hidden);
            match OpenOptions::new()
                .write(true)
                .create_new(true)
                .open(&waiting)
            {
                Ok(file) => {
                    let this = Self {
                        path: waiting,
                        named: false,
                    };
                    return Ok((this, file));
                }
                Err(e) if e.kind() == std::io::ErrorKind::AlreadyExists && tried < 100 => {
                    tried += 1;
                }
                Err(e) => return Err(e),
            }
        }
    }

    fn take_name(mut self, path: &Path) -> std::io::Result<()> {
        fs::rename(&self.path, path)?;
        self.named = true;
        // The name itself is on disk only once its folder is; systems that cannot open a folder do it with the rename.
        if let Ok(folder) = File::open(folder_of(path)) {
            folder.sync_all().or_else(|e| match e.kind() {
                std::io::ErrorKind::InvalidInput | std::io::ErrorKind::PermissionDenied => Ok(()),
                _ => Err(e),
            })?;
        }
        Ok(())
    }
}

impl Drop for Waiting {
    fn drop(&mut self) {
        if !self.named {
            // Already on the way out with an error that matters more; a leftover is harmless and hidden.
            let _ = fs::remove_file(&self.path);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(folder: &Path) -> Vec<String> {
        let mut names: Vec<String> = fs::read_dir(folder)
            .map(|entries| {
                entries
                    .map(|e| e.unwrap().file_name().into_string().unwrap())
                    .collect()
            })
            .unwrap_or_default();
        names.sort();
        names
    }

    #[test]
    fn keeps_ten_versions_in_order_and_leaves_nothing_lying_about() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("coach.v1.ron");
        for n in 0..15 {
            atomic_save(&path, format!("version {n}").as_bytes()).unwrap();
            atomic_save(&path, format!("version {n}").as_bytes()).unwrap();
        }
        assert_eq!(fs::read_to_string(&path).unwrap(), "version 14");
        let previous = folder.path().join(".previous");
        assert_eq!(names(&previous).len(), 10);
        for n in 1..=10 {
            let text = fs::read_to_string(previous.join(format!("coach.v1.{n}.ron"))).unwrap();
            assert_eq!(text, format!("version {}", 14 - n));
        }
        assert_eq!(names(folder.path()), [".previous", "coach.v1.ron"]);
    }

    #[test]
    fn a_gap_in_the_kept_versions_loses_none() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.ron");
        for n in 0..5 {
            atomic_save(&path, &[n]).unwrap();
        }
        let previous = folder.path().join(".previous");
        fs::remove_file(previous.join("a.2.ron")).unwrap();
        atomic_save(&path, &[5]).unwrap();
        let kept: Vec<u8> = (1..=4)
            .map(|n| fs::read(previous.join(format!("a.{n}.ron"))).unwrap()[0])
            .collect();
        assert_eq!(kept, [4, 3, 1, 0]);
    }

    #[test]
    fn an_error_leaves_the_present_file() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.ron");
        atomic_save(&path, b"good").unwrap();
        fs::write(
            folder.path().join(".previous"),
            b"a file where the folder should be",
        )
        .unwrap();
        let e = atomic_save(&path, b"new").unwrap_err();
        assert!(
            e.is_input_output() && e.path() == Some(&path) && !e.hint().is_empty(),
            "{e}"
        );
        assert_eq!(fs::read(&path).unwrap(), b"good");
        assert_eq!(names(folder.path()), [".previous", "a.ron"]);
    }

    #[test]
    fn no_folder_and_no_name_are_told() {
        let folder = tempfile::tempdir().unwrap();
        let e = atomic_write(&folder.path().join("none/a.dxf"), b"x").unwrap_err();
        assert!(e.is_not_found(), "{e}");
        assert!(atomic_write(Path::new("/"), b"x").is_err());
        assert!(atomic_save(folder.path(), b"x").is_err());
    }
}
