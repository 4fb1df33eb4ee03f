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
    /// Scan or point files (STL, PLY, OBJ, OFF, PCD, E57, XYZ, CSV and other tables of points)
    #[arg(required = true, value_name = "FILE")]
    files: Vec<PathBuf>,
    /// Unit of the files, where it is known: mm, cm, m, in, ft
    #[arg(long, value_name = "UNIT", value_parser = super::new::unit)]
    unit: Option<LengthUnit>,
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
            match read {
                Ok(raw) => {
                    let (unit, how) = unit_of(&raw, self.unit);
                    let mut said = text(file, &raw, unit, &how);
                    let prepared = study::prepare(raw, unit, &bar)?;
                    said.push_str(&seen(&study::look(&prepared, &bar)?));
                    bar.clear();
                    crate::printer::plain(&said)?;
                }
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

/// The unit of a file and the lines that say how it is known: stated on the command line or by the file, or guessed.
fn unit_of(raw: &RawScan, given: Option<LengthUnit>) -> (LengthUnit, Vec<String>) {
    let stated = given
        .map(|u| (u, "as you say"))
        .or(raw.unit.map(|u| (u, "the file says so")));
    if let Some((unit, why)) = stated {
        return (unit, vec![format!("unit: {}, stated: {why}", unit.word())]);
    }
    let guess = formats::guess_unit(&raw.points);
    let word = guess.unit.word();
    let mut lines = vec![format!(
        "unit: {word}, a guess; tape one length on the body to be sure"
    )];
    if let Some(sight) = &guess.sight {
        lines.push(format!("  {sight}"));
    }
    for (k, c) in guess.candidates.iter().enumerate() {
        let also = if k == 0 { "as" } else { "possible too: as" };
        lines.push(format!("  {also} {} it is {}", c.unit.word(), c.says));
    }
    (guess.unit, lines)
}

/// What is said about a file.
fn text(path: &Path, raw: &RawScan, unit: LengthUnit, how: &[String]) -> String {
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
        for said in how {
            line(format!("  {said}"));
        }
        line(format!("  size: {}", in_mm(size, unit)));
    }
    out
}

/// What is said about what was seen in it.
fn seen(look: &study::Look) -> String {
    let mut out = String::new();
    let mut line = |text: String| {
        let _ = writeln!(out, "{text}");
    };
    line(format!(
        "  {:.2} mm between neighbouring points",
        look.spacing_mm
    ));
    if let Some(noise) = &look.noise {
        let reach = if noise.reach_mm > 0.0 {
            format!(
                "; neighbours err together up to {:.0} mm apart",
                noise.reach_mm
            )
        } else {
            String::new()
        };
        line(format!(
            "  readings scatter by {:.3} mm{reach} (from {} smooth places)",
            noise.sd_mm, noise.patches
        ));
    }
    for (k, opening) in look.openings.iter().enumerate() {
        let holes = match opening.hole_diameters_mm.len() {
            0 => String::new(),
            n => format!(", {n} holes beside it"),
        };
        line(format!(
            "  opening {}: {:.0} mm round{holes}, near {:.0} {:.0} {:.0} ({:.0} % sure: {})",
            k + 1,
            opening.perimeter_mm,
            opening.near.x,
            opening.near.y,
            opening.near.z,
            opening.sureness * 100.0,
            opening.because
        ));
    }
    if look.openings.is_empty() {
        line("  no opening was found".to_owned());
    }
    for finding in &look.findings {
        line(format!("  {}", report::finding_text(finding)));
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
pub fn extent(points: &RawPoints) -> Option<Vector> {
    let mut low = Vector::repeat(f64::INFINITY);
    let mut high = Vector::repeat(f64::NEG_INFINITY);
    for i in 0..points.len() {
        let p = points.get(i).coords;
        low = low.inf(&p);
        high = high.sup(&p);
    }
    (!points.is_empty()).then(|| high - low)
}
