//! Names the engine by its sources, so that nothing kept on disk outlives a change of what it was made by.

use std::path::{Path, PathBuf};
use std::{env, fs, io};

/// What a figure can hang on: these crates, and the versions of the libraries below them.
const SOURCES: [&str; 4] = ["src", "../record/src", "../geom/src", "../../Cargo.lock"];

fn main() -> io::Result<()> {
    let mut sum = Sum::default();
    for source in SOURCES {
        println!("cargo:rerun-if-changed={source}");
        for file in files(Path::new(source))? {
            sum.add(file.to_string_lossy().as_bytes());
            sum.add(&fs::read(&file)?);
        }
    }
    sum.add(env::var("TARGET").unwrap_or_default().as_bytes());
    println!("cargo:rustc-env=UNMIRROR_ENGINE={sum}");
    Ok(())
}

/// All files below a folder, by name; of a file only itself.
fn files(at: &Path) -> io::Result<Vec<PathBuf>> {
    if at.is_file() {
        return Ok(vec![at.to_owned()]);
    }
    let mut entries: Vec<PathBuf> = fs::read_dir(at)?
        .map(|e| e.map(|e| e.path()))
        .collect::<io::Result<_>>()?;
    entries.sort();
    let mut all = Vec::new();
    for entry in entries {
        all.extend(files(&entry)?);
    }
    Ok(all)
}

/// Fowler, Noll and Vo, FNV-1a of 128 bits (RFC 9923): it has to tell versions apart, not to withstand anybody.
struct Sum(u128);

impl Default for Sum {
    fn default() -> Self {
        Self(0x6c62_272e_07bb_0142_62b8_2175_6295_c58d)
    }
}

impl Sum {
    fn add(&mut self, bytes: &[u8]) {
        let length = (bytes.len() as u64).to_le_bytes();
        for byte in length.iter().chain(bytes) {
            self.0 ^= u128::from(*byte);
            self.0 = self.0.wrapping_mul(0x0100_0000_0000_0000_0000_013b);
        }
    }
}

impl std::fmt::Display for Sum {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{:032x}", self.0)
    }
}
