//! Scans of one body, each in axes of its own, brought to common axes.
//!
//! - `by_places`: a join from places picked in both scans.
//! - `by_surface`: from the surfaces that both show.
//! - `common_axes`: the axes of one scan, and where the others lie in them.
//! - `taped`: taped lengths against the joined scans.
//! - `doubts`: what has to be said of a join.

mod by_places;
mod by_surface;
mod common_axes;
mod doubts;
mod taped;

use record::{
    Cancelled, Job, JoinAt, Joined, JoinedScan, Progress, Quantity, Scans, Source, Stage,
};

pub(crate) use by_surface::{START_WITHIN, surface, surface_under, why};
pub(crate) use common_axes::{CommonAxes, JoinMotion, doubt_of, motions};
pub(crate) use doubts::{UNDOES_NOTHING, unlike_states};

/// Fewer places do not fix a pose.
const FEWEST: usize = 3;

/// Joins the scans of `job` as it asks for, and holds taped lengths against them.
///
/// What cannot be joined is said in the findings and left out. The result depends on the job and the scans alone.
///
/// # Errors
/// [`Cancelled`] when `at` says so.
pub fn joined(job: &Job, scans: &Scans, at: &dyn Progress) -> Result<Joined, Cancelled> {
    let mut out = Joined::default();
    for (k, join) in job.joins.iter().enumerate() {
        at.at(Stage::Join, k, job.joins.len())?;
        let few = job.places_in_both(join).count() < FEWEST;
        let placed = match by_places::join(job, join) {
            Err(finding) if !join.refine || !few => {
                // Places that are there and do not hold it are said in any case.
                out.findings.push(finding);
                if !join.refine {
                    continue;
                }
                None
            }
            placed => placed.ok(),
        };
        let made = if join.refine {
            by_surface::join(job, join, scans, placed, &mut out.findings, at)?
        } else {
            placed.ok_or_else(|| by_places::not_made(join, "it has no places"))
        };
        match made {
            Ok(mut made) => {
                made.at = at_openings(job, &made);
                out.findings.extend(doubts::unlike_states(
                    job,
                    &made.scan,
                    &made.to,
                    UNDOES_NOTHING,
                ));
                doubts::of_places(&made, &mut out.findings);
                out.joins.push(made);
            }
            Err(finding) => out.findings.push(finding),
        }
    }
    taped::check(job, &mut out);
    Ok(out)
}

/// How well a join is known in the middle of what it rests on, and at the openings of its scan.
fn at_openings(job: &Job, join: &JoinedScan) -> Vec<JoinAt> {
    let one = |opening, name: &str, p: &geom::Point| JoinAt {
        opening,
        name: name.to_owned(),
        shift: figure(join.doubt.worst_at(p), Quantity::Length),
        turn: figure(join.doubt.worst_turn(), Quantity::Angle),
    };
    let mut out = vec![one(None, "middle of the join", &join.doubt.about)];
    for o in job.openings.iter().filter(|o| o.scan == join.scan) {
        let near = o.edge.as_ref().map(|e| e.near);
        let picked = near.or_else(|| o.faces.first().map(|f| f.near));
        if let Some(p) = picked {
            out.push(one(Some(o.id.clone()), &o.name, &(join.to_from * p)));
        }
    }
    out
}

/// A figure of value 0 with the doubt of a join, given in mm or rad.
pub(crate) fn figure(doubt: Option<geom::Uncertain>, quantity: Quantity) -> record::Figure {
    let scale = if quantity == Quantity::Angle {
        1f64.to_degrees()
    } else {
        1.0
    };
    record::Figure {
        value: 0.0,
        u95: doubt.map_or(f64::NAN, |d| d.u95 * scale),
        nu: doubt.map_or(f64::NAN, |d| d.nu),
        source: Source::Join,
        quantity,
    }
}
