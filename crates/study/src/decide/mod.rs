//! Decides from what was measured and what is allowed; sees no scan point.
//!
//! The drawn part is known, for it is made from the readings; what is uncertain is the body, each side with its own
//! doubt. Every option is therefore two placements of a known part, one per side, and its share is the larger one.

mod boxes;
mod chance;
mod cures;
mod even;
mod findings;
mod guarantee;
mod joint;
mod next;
mod options;
mod pairing;
mod task;
mod ways;

use rayon::prelude::*;
use record::{
    Choices, Decided, DecidedCompare, Finding, Measured, MeasuredCompare, OpeningId, Part,
    Relation, Severity,
};

pub(crate) use chance::{CHUNK, normal, scale, stream};
use pairing::Pairing;

/// Decides every comparison. `draws` per chance; with 0 the shares are exact and the verdicts rest on the normal
/// approximation of their doubt. The result depends on `seed` only through the draws, and not on the thread count.
pub fn decide(measured: &Measured, choices: &Choices, seed: u64, draws: u32) -> Decided {
    let compares = (0..measured.compares.len())
        .into_par_iter()
        .filter_map(|i| decide_one(measured, choices, i, seed, draws))
        .collect();
    Decided { compares }
}

/// Decides the comparison at `index` of what was measured, exactly as [`decide`] does; `None` if there is none or its
/// part is not among the choices. It depends on its own comparison, on the two openings and on its part alone.
pub fn decide_one(
    measured: &Measured,
    choices: &Choices,
    index: usize,
    seed: u64,
    draws: u32,
) -> Option<DecidedCompare> {
    let c = measured.compares.get(index)?;
    let part = choices.parts.iter().find(|p| p.id == c.part)?;
    // Each comparison has its own stream, so that adding one leaves the others as they were.
    let stream = seed.wrapping_add((index as u64).wrapping_mul(0x9E37_79B9_7F4A_7C15));
    Some(compare(measured, c, part, stream, draws))
}

fn compare(
    measured: &Measured,
    c: &MeasuredCompare,
    part: &Part,
    seed: u64,
    draws: u32,
) -> DecidedCompare {
    let pairing = Pairing::new(measured, c, part);
    if stopped(measured, c) {
        return DecidedCompare {
            id: c.id.clone(),
            part: c.part.clone(),
            options: Vec::new(),
            joint: None,
            boxes: Vec::new(),
            differs: Vec::new(),
            next: Vec::new(),
            findings: findings::findings(measured, &pairing),
        };
    }
    let mut plan = options::plan(&pairing);
    let drawn = chance::draw(&pairing, &plan.tasks, seed, draws);
    let mut results = options::results(&pairing, &mut plan, &drawn);
    even::even(&pairing, &plan, &mut results);
    guarantee::guarantee(&pairing, &plan, &mut results, seed, draws);
    let edges = joint::Edges::new(&pairing).filter(|_| pairing.measured);
    let joint = joint::joint(&pairing, edges.as_ref(), seed, draws);
    DecidedCompare {
        id: c.id.clone(),
        part: c.part.clone(),
        next: next::next(&pairing, &plan, &results),
        options: results,
        joint,
        boxes: boxes::boxes(measured, &pairing, edges.as_ref()),
        differs: ways::ways(&pairing),
        findings: findings::findings(measured, &pairing),
    }
}

/// Whether figures would mislead: something stops the comparison, or there is nothing to compare.
fn stopped(measured: &Measured, c: &MeasuredCompare) -> bool {
    let stop = |f: &Finding| f.severity == Severity::Stop;
    let of = |id: &OpeningId| measured.openings.iter().find(|o| o.id == *id);
    let nothing = c.stations.is_empty() && !c.angles.iter().any(|a| a.difference.is_some());
    let measured_both = c.b.is_some() || c.relation == Relation::Itself;
    measured.findings.iter().any(stop)
        || c.findings.iter().any(stop)
        || std::iter::once(&c.a)
            .chain(&c.b)
            .filter_map(of)
            .any(|o| o.findings.iter().any(stop))
        || (nothing && measured_both)
}
