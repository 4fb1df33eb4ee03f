//! Sections across an opening edge and the panel round it, one side against the other.
//!
//! - `view`: one scan as seen in the part axes of the opening that stays where it is.
//! - `profile`: which points of a section belong to the panel and to the flange.
//! - `panel`: every step of every section on both sides, and the map they make.
//! - `gap`: gap and flush to a neighbour, station by station.
//! - `hinge`: barrels on one line or not, and how near what swings comes.
//! - `odds`: all differences of a pair weighed together.

mod gap;
mod hinge;
#[cfg(test)]
mod made;
mod odds;
mod panel;
mod profile;
mod view;

use record::{
    Cancelled, Code, Finding, Job, Measured, MeasuredCompare, Opening, OpeningId, Progress,
    Relation, Scans, Sections, Severity, Stage,
};

use crate::measure::{Surface, film_of};
use view::View;

/// Cuts sections round every pair of openings whose edges were laid on each other and compares both panels.
///
/// The other side is laid on this one by the opening edge, as [`crate::measure()`] did it, so no centreline is needed;
/// the doubt of that is in every difference. `draws` for the joint odds (0: nothing is called proven). The result depends
/// on the job, the scans and what was measured alone, not on the number of threads.
///
/// # Errors
/// [`Cancelled`] when `at` says so.
pub fn sections(
    job: &Job,
    scans: &Scans,
    measured: &Measured,
    draws: u32,
    at: &dyn Progress,
) -> Result<Sections, Cancelled> {
    let mut out = Sections::default();
    let plan = job.sections;
    let total = measured.compares.len();
    for (index, compare) in measured.compares.iter().enumerate() {
        at.at(Stage::Compare, index, total)?;
        let (a, b) = match views(job, scans, measured, compare) {
            Ok(Some(both)) => both,
            Ok(None) => continue,
            Err(finding) => {
                out.findings.push(finding);
                continue;
            }
        };
        let seed = job
            .seed
            .wrapping_add((index as u64).wrapping_mul(0x9E37_79B9_7F4A_7C15));
        let go_on = || at.at(Stage::Compare, index, total).is_ok();
        let pair = panel::pair(measured, compare, &a, &b, plan, seed, draws, &go_on);
        at.at(Stage::Compare, index + 1, total)?;
        if let Some(pair) = pair {
            out.findings.extend(not_seen(&pair));
            out.pairs.push(pair);
        }
    }
    for pick in &job.gaps {
        at.at(Stage::Compare, total, total)?;
        let found = gap::gap(job, scans, measured, pick, &mut out.findings);
        out.gaps.push(found);
    }
    for pick in &job.hinges {
        at.at(Stage::Compare, total, total)?;
        let found = hinge::hinge(job, scans, measured, pick, &mut out.findings);
        out.hinges.extend(found);
    }
    Ok(out)
}

/// Both sides of a comparison in a's part axes; `None` where there is no other side or the edges were not laid.
fn views<'a>(
    job: &'a Job,
    scans: &'a Scans,
    measured: &'a Measured,
    compare: &MeasuredCompare,
) -> Result<Option<(View<'a>, View<'a>)>, Finding> {
    let Some(a_from_b) = compare.b_on_a else {
        return Ok(None);
    };
    let b = match (&compare.b, compare.relation) {
        (Some(b), _) => b,
        (None, Relation::Itself) => &compare.a,
        (None, _) => return Ok(None),
    };
    let opening = |id: &OpeningId| job.openings.iter().find(|o| o.id == *id);
    let done = |id: &OpeningId| measured.openings.iter().find(|o| o.id == *id);
    let (Some(oa), Some(ob), Some(ma)) = (opening(&compare.a), opening(b), done(&compare.a)) else {
        return Ok(None);
    };
    let view = |o: &Opening, map: geom::Improper| -> Result<View<'a>, Finding> {
        let scan = scans.get(&o.scan).filter(|_| job.hand_of(o).is_none());
        let noise = job
            .visit_of(o)
            .and_then(|v| measured.noise.iter().find(|n| n.visit == *v));
        let (Some(scan), Some(noise)) = (scan, noise) else {
            return Err(Finding {
                code: Code::PanelNotSeen,
                severity: Severity::Note,
                subject: o.name.clone(),
                says: format!(
                    "no scan shows the panel round {}, so no section is cut",
                    o.id
                ),
                advice: "scan the panel beside the edge, 100 mm wide".to_owned(),
                numbers: Vec::new(),
            });
        };
        Ok(View::new(
            Surface::new(scan),
            map,
            film_of(job, &o.id),
            noise,
        ))
    };
    Ok(Some((
        view(oa, geom::Improper::proper(ma.part_from_scan))?,
        view(ob, a_from_b)?,
    )))
}

/// Share of the panel from which it is said that it was not seen.
const MUCH: f64 = 0.2;

fn not_seen(pair: &record::PairPanel) -> Option<Finding> {
    let percent = 100.0 * pair.not_seen;
    (pair.not_seen > MUCH).then(|| Finding {
        code: Code::PanelNotSeen,
        severity: if pair.not_seen > 0.5 {
            Severity::Doubt
        } else {
            Severity::Note
        },
        subject: pair.name.clone(),
        says: format!(
            "{percent:.0} % of the panel within {:.0} mm of the edge was not seen on both sides; nothing is guessed there",
            pair.plan.width_mm
        ),
        advice: "scan more of the panel beside the edge".to_owned(),
        numbers: vec![record::Number {
            name: "not seen on both sides".to_owned(),
            value: percent,
            quantity: Some(record::Quantity::Percent),
        }],
    })
}

#[cfg(test)]
mod tests;
