//! Positions on the car: the centreline from named places, and what hangs on it.
//!
//! - `line`: the landmarks, the centreline and its doubt, its rivals.
//! - `own_image`: a scan of the whole body on its own mirror image.
//! - `pose`: where an opening is, and how well its edge tells.
//! - `judge`: figures of pairs and central openings under every centreline.
//! - `worlds`: what the doubt of the joins does to a figure.
//! - `doubts`: what has to be said before a position is believed.

mod doubts;
mod judge;
mod line;
mod own_image;
mod pose;
mod worlds;

pub(crate) use own_image::own_image;
pub(crate) use pose::{Spot, pose_covariance};
use record::{CentrelineWay, Code, Finding, Job, Measured, Number, Positions, Severity};

/// The centreline of `job` and the positions of what was measured; `None` where no place is given or no centreline is
/// wanted. All places and openings must be in one scan or in scans that are joined. Nothing else of a study depends on it.
///
/// Differences are left minus mirrored right; the give-or-take of each holds the doubt of the centreline, which counts
/// double in a difference of position, that of the edges and that of the joins. Cost: 2^N subsets of N places up to 16.
pub fn positions(job: &Job, measured: &Measured) -> Option<Positions> {
    let by_image = job.centreline.way == CentrelineWay::OwnImage;
    let none = job.every_place().next().is_none() && !by_image;
    if none || job.centreline.way == CentrelineWay::None {
        return None;
    }
    let mut out = Positions::default();
    if let Some(image) = measured.own_image.as_ref().filter(|_| !by_image) {
        out.findings.extend(image.findings.iter().cloned());
    }
    match line::lay(job, measured) {
        Ok(lines) => out.laid = Some(judge::laid(job, measured, &lines, &mut out.findings)),
        Err(finding) => out.findings.push(finding),
    }
    Some(out)
}

fn finding(code: Code, severity: Severity, subject: &str, says: String, advice: &str) -> Finding {
    Finding {
        code,
        severity,
        subject: subject.to_owned(),
        says,
        advice: advice.to_owned(),
        numbers: Vec::new(),
    }
}

fn count(name: &str, value: usize) -> Number {
    Number {
        name: name.to_owned(),
        value: value as f64,
        quantity: None,
    }
}
