//! The whole study of a job.

use record::{
    Cancelled, Decided, HandTable, Job, Measured, OpeningNotMeasured, Progress, Provenance,
    ScanProvenance, Scans, Stage, Study, UnitSource,
};

use crate::measure::{Kept, measure};

/// Measures, then decides; `draws` per chance (0: none). `kept` may come from an earlier call.
///
/// # Errors
/// [`Cancelled`] when `at` says so.
pub fn run(
    job: &Job,
    scans: &Scans,
    kept: &mut Kept,
    draws: u32,
    at: &dyn Progress,
) -> Result<Study, Cancelled> {
    let measured = measure(job, scans, kept, at)?;
    at.at(Stage::Chances, 0, 1)?;
    let decided: Decided = crate::decide(&measured, &job.choices, job.seed, draws);
    Ok(assemble(job, scans, measured, decided, draws))
}

/// The study of what was measured and decided; `draws` as they were given to [`crate::decide()`]. [`run()`] ends with it.
pub fn assemble(
    job: &Job,
    scans: &Scans,
    measured: Measured,
    decided: Decided,
    draws: u32,
) -> Study {
    let drawings = crate::draw(&measured, &decided, &job.choices);
    let not_measured = job
        .openings
        .iter()
        .filter(|o| !measured.openings.iter().any(|m| m.id == o.id))
        .map(|o| OpeningNotMeasured {
            id: o.id.clone(),
            why: format!("scan {} is not there", o.scan),
        })
        .collect();
    Study {
        title: job.title.clone(),
        units: job.units,
        choices: job.choices.clone(),
        positions: crate::positions(job, &measured),
        measured,
        decided,
        drawings,
        not_measured,
        provenance: provenance(job, scans, draws),
    }
}

/// A hand table as a source like a scan; rows that stand in the job are told by the hash of the job.
fn by_hand(table: &HandTable) -> ScanProvenance {
    let path = table.path.as_ref();
    ScanProvenance {
        id: table.id.to_string(),
        file: path.map_or_else(|| "in the job".to_owned(), |p| p.display().to_string()),
        format: "hand readings".to_owned(),
        hash: table.hash.clone().unwrap_or_default(),
        points: table.readings.len(),
        unit: "as its rows say".to_owned(),
    }
}

fn provenance(job: &Job, scans: &Scans, draws: u32) -> Provenance {
    Provenance {
        version: env!("CARGO_PKG_VERSION").to_owned(),
        job_hash: String::new(),
        seed: job.seed,
        draws,
        scans: job
            .scans
            .iter()
            .filter_map(|s| {
                let p = scans.get(&s.id)?;
                let how = match s.unit_source {
                    UnitSource::Stated => "stated",
                    UnitSource::Guessed => "not checked",
                    UnitSource::Checked { .. } => "checked",
                };
                Some(ScanProvenance {
                    id: s.id.to_string(),
                    file: p.name.clone(),
                    format: p.format.clone(),
                    hash: p.hash.clone(),
                    points: p.blocks.len(),
                    unit: format!("{}, {how}", s.unit.word()),
                })
            })
            .chain(job.hand.iter().map(by_hand))
            .collect(),
    }
}
