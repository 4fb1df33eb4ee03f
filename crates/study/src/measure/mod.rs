//! Measuring: faces, junctions, opening edges and holes, each with its uncertainty, and the comparison of sides.

mod doubts;
mod edge;
mod edge_fit;
mod edge_line;
mod edge_trace;
mod face;
mod face_grow;
mod films;
mod hand;
mod hole_edge;
mod hole_fit;
mod junction;
mod kept;
mod opening;
mod part_axes;
mod repeats;
mod robust;
mod strip_fit;
mod strip_noise;
mod surface;
mod tile;

pub use kept::Kept;

pub(crate) use edge::station_shares;
pub(crate) use edge_fit::FittedEdge;
pub(crate) use edge_trace::NoEdge;
pub(crate) use face::{FittedFace, fit_face, measured_face};
pub(crate) use face_grow::NoFace;
pub(crate) use films::{Cover, Film, film_of};
pub(crate) use hand::places_by_hand;
pub(crate) use opening::{OpeningWork, edge_of, hole_of, measured_hole};
pub(crate) use strip_noise::StripNoise;
pub use surface::Normals;
pub(crate) use surface::Surface;

use std::collections::BTreeMap;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use geom::NoiseModel;
use rayon::prelude::*;
use record::{
    Cancelled, Code, Finding, Job, Measured, Number, Opening, OpeningId, Progress, Quantity, Scans,
    Severity, Stage, VisitId, VisitNoise,
};

use crate::compare::compare;
use opening::{Found, find, measure_opening};
use tile::Tile;

/// Noise that is assumed of an instrument while too few faces speak for it, mm.
const ASSUMED_NOISE: f64 = 0.05;
/// Range over which it is then taken to be correlated, mm.
const ASSUMED_RANGE: f64 = 3.0;
/// Fewer square patches than this do not speak for a visit.
const FEWEST_PATCHES: usize = 4;

/// The noise of a visit in the forms it is used in.
struct Visit {
    model: NoiseModel,
    strips: StripNoise,
    flatness: f64,
}

/// Measures every opening of the job and compares them.
///
/// Openings whose scan is missing from `scans` are passed over; [`crate::run()`] says why. The result depends on the
/// job and the scans alone, not on `kept`, on the number of threads or on earlier calls.
///
/// # Errors
/// [`Cancelled`] when `at` says so.
pub fn measure(
    job: &Job,
    scans: &Scans,
    kept: &mut Kept,
    at: &dyn Progress,
) -> Result<Measured, Cancelled> {
    let found = find_all(job, scans, kept, at)?;
    let mut measured = Measured {
        joined: crate::joined(job, scans, at)?,
        own_image: crate::positions::own_image(job, scans, kept, at)?,
        findings: doubts::units(job),
        ..Measured::default()
    };
    let visits = noise_of_visits(job, &found, &mut measured, at)?;
    let mut work: BTreeMap<OpeningId, OpeningWork> = BTreeMap::new();
    let films = films::films(job);
    let list: Vec<_> = job
        .openings
        .iter()
        .filter_map(|o| Some((o, found.get(&o.id)?, visits.get(visit_of(job, o)?)?)))
        .collect();
    let mut done: Vec<OpeningWork> = list
        .par_iter()
        .map(|(o, f, v)| {
            at.at(Stage::Measure, 0, list.len())?;
            let film = films.get(&o.id).unwrap_or(&Film::NONE);
            let total = list.len();
            let go_on = || at.at(Stage::Measure, 0, total).is_ok();
            measure_opening(o, f, &v.model, &v.strips, v.flatness, film, &go_on).ok_or(Cancelled)
        })
        .collect::<Result<_, Cancelled>>()?;
    for o in &job.openings {
        if let Some(table) = job.hand_of(o) {
            at.at(Stage::Measure, 0, list.len())?;
            done.push(hand::measure_by_hand(job, o, table));
        }
    }
    done.sort_by_key(|w| job.openings.iter().position(|o| o.id == w.measured.id));
    let done = repeats::with_repeats(job, scans, done, &mut measured.findings);
    for w in done {
        measured.openings.push(w.measured.clone());
        work.insert(w.measured.id.clone(), w);
    }
    at.at(Stage::Compare, 0, job.compares.len())?;
    measured.compares = job
        .compares
        .par_iter()
        .filter_map(|c| {
            let a = work.get(&c.a)?;
            let b = c.b.as_ref().and_then(|b| work.get(b));
            Some((c, a, b))
        })
        .map(|(c, a, b)| {
            at.at(Stage::Compare, 0, job.compares.len())?;
            let mut m = compare(c, a, b);
            let opening = |id: &OpeningId| job.openings.iter().find(|o| o.id == *id);
            if let Some(oa) = opening(&c.a) {
                let ob = c.b.as_ref().and_then(opening);
                m.findings.extend(doubts::body_states(job, c, oa, ob));
                m.findings.extend(doubts::side_as_named(c, oa));
            }
            Ok(m)
        })
        .collect::<Result<_, Cancelled>>()?;
    Ok(measured)
}

/// Follows the picks of all openings, those in `kept` not again.
fn find_all(
    job: &Job,
    scans: &Scans,
    kept: &mut Kept,
    at: &dyn Progress,
) -> Result<BTreeMap<OpeningId, Arc<Found>>, Cancelled> {
    let total = job.openings.len();
    let off = AtomicBool::new(false);
    // Asked from deep inside; once it was no it stays no.
    let stopped = || {
        if !off.load(Ordering::Relaxed) && at.at(Stage::Measure, 0, total).is_err() {
            off.store(true, Ordering::Relaxed);
        }
        off.load(Ordering::Relaxed)
    };
    let surfaces: BTreeMap<_, _> = scans
        .iter()
        .map(|(id, p)| (id, Surface::watched(p, &stopped)))
        .collect();
    let found: Vec<Result<_, Cancelled>> = job
        .openings
        .par_iter()
        .filter_map(|o| surfaces.get(&o.scan).map(|s| (o, s)))
        .map(|(o, surface)| {
            at.at(Stage::Measure, 0, total)?;
            let scan = job.scans.iter().find(|s| s.id == o.scan);
            let key = Kept::key(surface.prepared(), scan, o);
            let found = match kept.get(&key) {
                Some(f) => f,
                None => Arc::new(find(surface, o)),
            };
            if stopped() {
                return Err(Cancelled);
            }
            Ok((o.id.clone(), key, found))
        })
        .collect();
    kept.next_round();
    let mut all = BTreeMap::new();
    let mut called_off = false;
    for one in found {
        if let Ok((id, key, f)) = one {
            // What was found before the work was called off is good for the next time.
            kept.put(key, Arc::clone(&f));
            all.insert(id, f);
        } else {
            called_off = true;
        }
    }
    if called_off { Err(Cancelled) } else { Ok(all) }
}

/// The noise that is assumed of a visit as long as too few faces speak for it.
pub(crate) fn assumed_noise() -> NoiseModel {
    NoiseModel::known(
        geom::Kernel::Gaussian,
        ASSUMED_NOISE,
        ASSUMED_RANGE,
        ASSUMED_NOISE,
    )
}

fn visit_of<'a>(job: &'a Job, opening: &Opening) -> Option<&'a VisitId> {
    job.visit_of(opening)
}

fn noise_of_visits(
    job: &Job,
    found: &BTreeMap<OpeningId, Arc<Found>>,
    measured: &mut Measured,
    at: &dyn Progress,
) -> Result<BTreeMap<VisitId, Visit>, Cancelled> {
    let mut visits = BTreeMap::new();
    let go_on = || at.at(Stage::Measure, 0, job.openings.len()).is_ok();
    for visit in &job.visits {
        let tiles: Vec<_> = job
            .openings
            .iter()
            .filter(|o| visit_of(job, o) == Some(&visit.id))
            .filter_map(|o| found.get(&o.id))
            .flat_map(|f| f.tiles.iter().cloned())
            .collect();
        let (patches, scatter) = Tile::smooth(&tiles);
        if patches.is_empty() && !job.scans.iter().any(|s| s.visit == visit.id) {
            continue;
        }
        let estimated = if patches.len() >= FEWEST_PATCHES {
            let found = NoiseModel::estimate_while(&patches, &go_on);
            at.at(Stage::Measure, 0, job.openings.len())?;
            found.map(|m| m.with_point_sd(scatter.sd_mm, scatter.size_mm))
        } else {
            None
        };
        let model = estimated.unwrap_or_else(|| {
            measured.findings.push(Finding {
                code: Code::FewFaces,
                severity: Severity::Doubt,
                subject: format!("visit {}", visit.id),
                says: format!(
                    "only {} smooth patches speak for the noise of this visit: {ASSUMED_NOISE} mm is assumed",
                    patches.len()
                ),
                advice: "pick four faces or more, or scan twice".to_owned(),
                numbers: vec![Number {
                    name: "assumed noise".to_owned(),
                    value: ASSUMED_NOISE,
                    quantity: Some(Quantity::Length),
                }],
            });
            assumed_noise()
        });
        measured.noise.push(VisitNoise {
            visit: visit.id.clone(),
            model: model.clone(),
            faces: patches.len(),
        });
        visits.insert(
            visit.id.clone(),
            Visit {
                strips: StripNoise::new(&model),
                model,
                flatness: visit.flatness_mm,
            },
        );
    }
    Ok(visits)
}
