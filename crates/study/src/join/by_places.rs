//! A join from places picked in both scans.

use geom::{FitError, TwicePlace, join_places};
use record::{
    Code, Figure, Finding, Job, Join, JoinedBy, JoinedPlaceRow, JoinedScan, Place, Quantity,
    Severity,
};

use super::doubts;

/// The join of `join` by its places alone.
pub(super) fn join(job: &Job, join: &Join) -> Result<JoinedScan, Finding> {
    let both: Vec<[&Place; 2]> = job.places_in_both(join).collect();
    let twice: Vec<TwicePlace> = both
        .iter()
        .map(|[from, to]| TwicePlace {
            from: from.at,
            to: to.at,
            sigma: from.sigma_mm.hypot(to.sigma_mm),
        })
        .collect();
    let fit = join_places(&twice).map_err(|e| {
        let says = match e {
            FitError::TooFewPoints { .. } => format!(
                "{} places are in both, three are the least and five are wanted",
                both.len()
            ),
            FitError::NotFinite => "a place has no sound numbers".to_owned(),
            // Nothing calls this fit off.
            FitError::Degenerate | FitError::NoConvergence | FitError::CalledOff => {
                "its places lie on one line, so it can turn about that line".to_owned()
            }
        };
        not_made(join, &says)
    })?;
    // One number for the scatter: of a place with the mean sigma.
    let mean: f64 = twice.iter().map(|p| p.sigma.powi(-2)).sum::<f64>() / twice.len() as f64;
    Ok(JoinedScan {
        scan: join.scan.clone(),
        to: join.to.clone(),
        by: JoinedBy::Places,
        to_from: fit.to_from,
        doubt: fit.doubt,
        places: both
            .iter()
            .zip(&fit.places)
            .map(|([p, _], j)| JoinedPlaceRow {
                name: p.name.clone(),
                side: p.side,
                off: [0, 1, 2].map(|k| Figure {
                    value: j.off[k],
                    ..super::figure(Some(j.off_u[k]), Quantity::Length)
                }),
                kept: j.kept,
                chance: j.chance,
            })
            .collect(),
        scatter_mm: Some(fit.scatter.s / mean.sqrt()),
        overlap: None,
        weak: Vec::new(),
        at: Vec::new(),
    })
}

/// That a join could not be made.
pub(super) fn not_made(join: &Join, why: &str) -> Finding {
    Finding {
        code: Code::JoinNotMade,
        severity: Severity::Stop,
        subject: join.scan.0.clone(),
        says: format!("{} could not be joined to {}: {why}", join.scan, join.to),
        advice: doubts::ASK_FOR_PLACES.to_owned(),
        numbers: Vec::new(),
    }
}
