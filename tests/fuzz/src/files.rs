//! Bytes as a file: readers take paths.

use std::path::{Path, PathBuf};
use std::sync::OnceLock;

/// A folder of this process. `TMPDIR` in memory makes the runs several times faster.
pub fn folder() -> &'static Path {
    static FOLDER: OnceLock<PathBuf> = OnceLock::new();
    FOLDER.get_or_init(|| {
        let path = std::env::temp_dir().join(format!("unmirror-fuzz-{}", std::process::id()));
        std::fs::create_dir_all(&path).expect("a folder for the input can be made");
        path
    })
}

/// A file of that name with these bytes, in place of the one before.
pub fn file(name: &str, bytes: &[u8]) -> PathBuf {
    let path = folder().join(name);
    std::fs::write(&path, bytes).expect("the input can be written");
    path
}
