//! Figures kept on disk beside the prepared scans, so that a job that is opened again shows its answer at once.
//!
//! They are a convenience: they can be deleted at any time, and they count only if the same engine made them from the
//! same scans and the same picks, and nothing in them is damaged; else all is measured anew. After eight bytes that name
//! the format come the name of the engine, the key of what they were made from, what was measured, what was decided, and
//! the BLAKE3 of all of it.

mod decided;
mod measured;
mod plain;

use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};

use record::{DecidedCompare, Measured};

use crate::Error;
use crate::atomic_save::atomic_stream;
use plain::Plain;

const HEAD: &[u8; 8] = b"unmirrF1";
/// Larger than any job makes it: whatever is larger is not ours.
const LARGEST: u64 = 1 << 30;

/// What a thing was made from.
pub type Key = [u8; 32];

/// What was measured, and what was decided of it under the key of what each decision was made from.
#[derive(Clone, Debug)]
pub struct KeptFigures {
    /// What was measured.
    pub measured: Measured,
    /// What was decided, chances and all.
    pub decided: Vec<(Key, DecidedCompare)>,
}

/// Where in the folder of kept things ([`crate::kept_folder`]) the figures lie.
pub fn kept_figures_path(folder: &Path) -> PathBuf {
    folder.join("answer.figures")
}

/// Keeps figures that `engine` made from what `key` stands for, whole or not at all, in place of those before.
///
/// # Errors
/// With the path and a remedy.
pub fn keep_figures(
    figures: &KeptFigures,
    engine: &str,
    key: &Key,
    path: &Path,
) -> Result<(), Error> {
    let mut bytes = start(engine);
    key.put(&mut bytes);
    figures.measured.put(&mut bytes);
    figures.decided.put(&mut bytes);
    let sum = blake3::hash(&bytes);
    bytes.extend_from_slice(sum.as_bytes());
    // An answer that was taken from here is not written again.
    if std::fs::read(path).is_ok_and(|before| before == bytes) {
        return Ok(());
    }
    atomic_stream(path, |file| file.write_all(&bytes))
}

/// Whether figures that this engine made lie there, of whatever they are.
pub fn are_kept_figures(path: &Path, engine: &str) -> bool {
    let begins = || {
        let mut bytes = vec![0; start(engine).len()];
        File::open(path).ok()?.read_exact(&mut bytes).ok()?;
        Some(bytes == start(engine))
    };
    begins().unwrap_or(false)
}

fn start(engine: &str) -> Vec<u8> {
    let mut bytes = HEAD.to_vec();
    engine.to_owned().put(&mut bytes);
    bytes
}

/// Reads kept figures back; `None` if there are none, if another engine made them or from something else, or if they
/// are damaged. Figures that come back are the very ones that were kept, bit for bit.
pub fn read_kept_figures(path: &Path, engine: &str, key: &Key) -> Option<KeptFigures> {
    let mut file = File::open(path).ok()?;
    let length = file.metadata().ok().filter(|m| m.len() <= LARGEST)?.len();
    let mut start = start(engine);
    key.put(&mut start);
    // Those of another engine or job are not read any further.
    let mut bytes = vec![0; start.len()];
    file.read_exact(&mut bytes).ok()?;
    if bytes != start {
        return None;
    }
    bytes.reserve(usize::try_from(length).ok()?.saturating_sub(start.len()));
    file.take(LARGEST).read_to_end(&mut bytes).ok()?;
    let (inside, sum) = bytes.split_last_chunk::<32>()?;
    if blake3::hash(inside).as_bytes() != sum {
        return None;
    }
    let mut from = inside.get(start.len()..)?;
    let figures = KeptFigures {
        measured: Plain::take(&mut from)?,
        decided: Plain::take(&mut from)?,
    };
    from.is_empty().then_some(figures)
}

impl<A: Plain, B: Plain> Plain for (A, B) {
    fn put(&self, to: &mut Vec<u8>) {
        self.0.put(to);
        self.1.put(to);
    }

    fn take(from: &mut &[u8]) -> Option<Self> {
        Some((A::take(from)?, B::take(from)?))
    }
}

#[cfg(test)]
mod tests;
