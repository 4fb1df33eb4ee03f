//! `look`: what is in a file.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use geom::{RawPoints, Vector};
use record::{Cancelled, LengthUnit, RawScan};

use crate::outcome::Outcome;
use crate::progress::Bar;

/// Arguments of `look`.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Scan or point files (STL, PLY, XYZ, CSV and other tables of points)
    #[arg(required = true, value_name = "FILE")]
    files: Vec<PathBuf>,
}

impl Args {
    /// Looks into each file and says what is there.
    ///
    /// # Errors
    /// If none of the files could be read, or it was called off.
    pub fn run(self) -> anyhow::Result<Outcome> {
        let mut bad = Vec::new();
        let many = self.files.len() > 1;
        for file in &self.files {
            let bar = Bar::new()?;
            let read = formats::read_scan(file, &bar);
            drop(bar);
            match read {
                Ok(raw) => crate::printer::plain(&text(file, &raw))?,
                Err(error) if error.is_cancelled() => return Err(Cancelled.into()),
                Err(error) => {
                    if many {
                        crate::printer::aside(&format!("unmirror: {error}"));
                    }
                    bad.push(error);
                }
            }
        }
        match bad.len() {
            0 => Ok(Outcome::Done),
            1 if !many => Err(bad.remove(0).into()),
            n => anyhow::bail!("{n} of {} files could not be read", self.files.len()),
        }
    }
}

/// What is said about a file.
fn text(path: &Path, raw: &RawScan) -> String {
    let mut out = String::new();
    let mut line = |text: String| {
        let _ = writeln!(out, "{text}");
    };
    line(format!(
        "{}: {}, {}",
        path.display(),
        raw.format,
        size_of_file(raw.bytes)
    ));
    let points = raw.points.len();
    let triangles = if raw.triangles.is_empty() {
        "no triangles (a cloud of points)".to_owned()
    } else {
        format!("{} triangles", raw.triangles.len())
    };
    let extras: Vec<&str> = [
        (!raw.colours.is_empty(), "colour"),
        (!raw.normals.is_empty(), "directions"),
        (!raw.names.is_empty(), "names"),
    ]
    .iter()
    .filter_map(|(has, word)| has.then_some(*word))
    .collect();
    let extras = if extras.is_empty() {
        String::new()
    } else {
        format!("; with {}", extras.join(", "))
    };
    line(format!("  {points} points, {triangles}{extras}"));
    if let Some(size) = extent(&raw.points) {
        line(format!(
            "  size as written: {:.4} x {:.4} x {:.4}",
            size.x, size.y, size.z
        ));
        let (guess, reason) = formats::guess_unit(size);
        let (unit, why) = match raw.unit {
            Some(unit) => (unit, "the file says so".to_owned()),
            None => (guess, reason),
        };
        line(format!(
            "  unit: {}, {}: {why}",
            unit.word(),
            if raw.unit.is_some() {
                "stated"
            } else {
                "a guess"
            }
        ));
        line(format!("  size: {}", in_mm(size, unit)));
    }
    for note in &raw.notes {
        line(format!("  {}", report::finding_text(note)));
    }
    out
}

fn in_mm(size: Vector, unit: LengthUnit) -> String {
    let mm = size * unit.in_mm();
    format!("{:.1} x {:.1} x {:.1} mm", mm.x, mm.y, mm.z)
}

fn size_of_file(bytes: u64) -> String {
    let mb = bytes as f64 / 1e6;
    if mb < 0.1 {
        format!("{bytes} bytes")
    } else {
        format!("{mb:.1} MB")
    }
}

/// Size of the box along the axes of the file, file unit; `None` without points.
fn extent(points: &RawPoints) -> Option<Vector> {
    let mut low = Vector::repeat(f64::INFINITY);
    let mut high = Vector::repeat(f64::NEG_INFINITY);
    for i in 0..points.len() {
        let p = points.get(i).coords;
        low = low.inf(&p);
        high = high.sup(&p);
    }
    (!points.is_empty()).then(|| high - low)
}
