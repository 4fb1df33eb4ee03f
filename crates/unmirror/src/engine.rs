//! The calls into the engine that have not landed yet.

use record::{Cancelled, Job, Progress, Scans, Study};

pub fn run(_: &Job, _: &Scans, _: u32, _: &dyn Progress) -> Result<Study, Cancelled> {
    Err(Cancelled)
}

/// The engine is not all there yet.
const MISSING: &str = "this step of the engine has not landed in this build";

pub fn read_job(_: &std::path::Path) -> anyhow::Result<Job> {
    anyhow::bail!(MISSING)
}

pub fn write_demo(
    _: &std::path::Path,
    _: usize,
    _: u64,
    _: &dyn Progress,
) -> anyhow::Result<std::path::PathBuf> {
    anyhow::bail!(MISSING)
}
