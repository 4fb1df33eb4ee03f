//! One side of a car before and after body work.
//!
//! - `lay`: the scan from after laid on the one from before by what was not worked.
//! - `again`: the openings after beside those before, with the comparisons they take part in.
//! - `touches`: which named places an area reaches.

mod again;
mod lay;
mod touches;

use record::{
    BodyWork, Cancelled, Code, Finding, Job, Measured, Number, Progress, Quantity, Scans, Severity,
    WorkFound, WorkStudy,
};

use crate::measure::Kept;

/// Finds what moved between the visits of each piece of body work in the job, and measures and decides again with the openings as
/// they are after it. `draws` as for [`crate::run()`].
///
/// The result depends on the job and the scans alone, not on the number of threads.
///
/// # Errors
/// [`Cancelled`] when `at` says so.
pub fn body_work(
    job: &Job,
    scans: &Scans,
    draws: u32,
    at: &dyn Progress,
) -> Result<WorkStudy, Cancelled> {
    let mut kept = Kept::default();
    // The openings as picked: they tell where the scans lie, and what the areas reach.
    let mut wider = job.clone();
    for work in &job.body_work {
        again::compare_twins(&mut wider, work);
    }
    let before = crate::measure(&wider, scans, &mut kept, at)?;
    let mut works = Vec::new();
    for work in &job.body_work {
        let mut found = WorkFound {
            work: work.clone(),
            laid: None,
            openings: Vec::new(),
            findings: Vec::new(),
        };
        let laid = lay::lay(job, scans, &before, work, at)?;
        let undone = match &laid {
            Ok(l) if l.films_mm != [0.0; 2] => {
                "the films were taken off both, the rest is not undone"
            }
            _ => "what moved by that is not told from what was worked",
        };
        found.findings.extend(crate::join::unlike_states(
            job,
            &work.after,
            &work.before,
            undone,
        ));
        match laid {
            Ok(mut laid) => {
                touches::touches(job, &before, work, &mut laid);
                found.findings.extend(doubts(work, &laid));
                found.laid = Some(laid);
            }
            Err(finding) => found.findings.push(finding),
        }
        works.push(found);
    }
    let (wider, added) = again::with_openings_after(job, scans, &mut works);
    let mut study = crate::run(&wider, scans, &mut kept, draws, at)?;
    study.title.clone_from(&job.title);
    Ok(WorkStudy {
        study,
        works,
        added,
    })
}

/// Beyond this share of the points the metal that stayed may be the smaller part.
const MUCH: f64 = 0.4;

fn doubts(work: &BodyWork, laid: &record::LaidWork) -> Vec<Finding> {
    let mut out = Vec::new();
    let outside = laid.areas.iter().filter(|a| !a.as_said).count();
    if outside > 0 {
        out.push(Finding {
            code: Code::ChangedOutsideWorked,
            severity: Severity::Doubt,
            subject: work.name.clone(),
            says: format!(
                "{outside} of the areas that moved lie outside what was said to be worked"
            ),
            advice: "look at them: metal that sprang, a knock, a cover, or work that was not written down"
                .to_owned(),
            numbers: vec![Number {
                name: "areas outside".to_owned(),
                value: outside as f64,
                quantity: None,
            }],
        });
    }
    if laid.aside > MUCH {
        out.push(Finding {
            code: Code::MuchChanged,
            severity: Severity::Doubt,
            subject: work.name.clone(),
            says: format!(
                "{:.0} % of what both scans show was worked or moved: what stayed may be what moved, and the other way round",
                100.0 * laid.aside
            ),
            advice: "say in the job what was worked, or join the two scans by five places on metal that was not touched"
                .to_owned(),
            numbers: vec![Number {
                name: "set aside".to_owned(),
                value: 100.0 * laid.aside,
                quantity: Some(Quantity::Percent),
            }],
        });
    }
    out
}

/// The measured opening of that name.
fn opening<'m>(
    measured: &'m Measured,
    id: &record::OpeningId,
) -> Option<&'m record::MeasuredOpening> {
    measured.openings.iter().find(|o| o.id == *id)
}
