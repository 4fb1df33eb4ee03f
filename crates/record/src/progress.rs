//! Progress and cancelling.

/// The long steps.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Stage {
    /// A file is being read; counted in bytes.
    Read,
    /// A scan is being put in order; counted in points.
    Prepare,
    /// Scans are being joined; counted in joins.
    Join,
    /// Openings are being looked for.
    Find,
    /// Faces, junctions, edges and holes are being measured.
    Measure,
    /// Sides are being compared.
    Compare,
    /// Chances are being worked out.
    Chances,
    /// Files are being written.
    Write,
}

/// The work was called off by the person. The only error of the engine; not a failure.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Cancelled;

impl std::fmt::Display for Cancelled {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("cancelled")
    }
}

impl std::error::Error for Cancelled {}

/// Told how far long work has come, and able to call it off.
pub trait Progress: Sync {
    /// `done` of `total` in `stage`.
    ///
    /// # Errors
    /// [`Cancelled`] when the work is to stop; the caller returns it at once.
    fn at(&self, stage: Stage, done: usize, total: usize) -> Result<(), Cancelled>;
}

/// Says nothing and never stops.
#[derive(Clone, Copy, Debug, Default)]
pub struct Quiet;

impl Progress for Quiet {
    fn at(&self, _: Stage, _: usize, _: usize) -> Result<(), Cancelled> {
        Ok(())
    }
}
