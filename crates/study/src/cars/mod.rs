//! The part drawn for one car tried in the openings of another.

mod together;

use record::{
    Cancelled, CarFit, CarsStudy, Compare, CompareId, Job, Opening, OpeningId, PartId, Progress,
    Relation, Scans,
};

pub use together::{named_apart, together};

use crate::measure::Kept;

/// Tries every part drawn for an opening of car `from` in the openings of car `to`: on its own side, and turned over on the other.
/// What is allowed is what stands with the part. `draws` as for [`crate::run()`].
///
/// Openings of the two belong together if they take part in comparisons for one part, by its name, or are called alike.
///
/// # Errors
/// [`Cancelled`] when `at` says so.
pub fn cars(
    job: &Job,
    [from, to]: [&str; 2],
    scans: &Scans,
    draws: u32,
    at: &dyn Progress,
) -> Result<CarsStudy, Cancelled> {
    let (wider, fits, without) = tried(job, from, to);
    let study = crate::run(&wider, scans, &mut Kept::default(), draws, at)?;
    Ok(CarsStudy {
        cars: [from.to_owned(), to.to_owned()],
        study,
        fits,
        without,
    })
}

/// The car an opening belongs to.
fn car_of<'j>(job: &'j Job, o: &Opening) -> Option<&'j str> {
    let visit = job.visit_of(o)?;
    let visit = job.visits.iter().find(|v| v.id == *visit)?;
    Some(&visit.car)
}

/// Openings of a car, each with its parts. One that was scanned in several visits stands for its latest: visits are in the order of
/// the job.
fn openings_of<'j>(job: &'j Job, car: &str) -> Vec<(&'j Opening, Vec<PartId>)> {
    let mut out: Vec<(&Opening, Vec<PartId>)> = Vec::new();
    let visit = |o: &Opening| {
        let id = job.visit_of(o);
        job.visits.iter().position(|v| Some(&v.id) == id)
    };
    for o in &job.openings {
        if car_of(job, o) != Some(car) || o.repeat_of.is_some() {
            continue;
        }
        let mut parts: Vec<PartId> = Vec::new();
        for c in &job.compares {
            if (c.a == o.id || c.b.as_ref() == Some(&o.id)) && !parts.contains(&c.part) {
                parts.push(c.part.clone());
            }
        }
        match out
            .iter_mut()
            .find(|(x, _)| x.side == o.side && x.name == o.name)
        {
            Some(known) => {
                parts.extend(
                    known
                        .1
                        .iter()
                        .filter(|p| !parts.contains(p))
                        .cloned()
                        .collect::<Vec<_>>(),
                );
                if visit(o) > visit(known.0) {
                    known.0 = o;
                }
                known.1 = parts;
            }
            None => out.push((o, parts)),
        }
    }
    out
}

/// The job of nothing but the parts of `from` in the openings of `to`.
fn tried(job: &Job, from: &str, to: &str) -> (Job, Vec<CarFit>, Vec<String>) {
    let mut wider = job.clone();
    wider.compares.clear();
    wider.choices.chosen.clear();
    let (drawn, into) = (openings_of(job, from), openings_of(job, to));
    let (mut fits, mut without) = (Vec::new(), Vec::new());
    for (a, parts) in &drawn {
        for part in parts {
            let mut found: Vec<&Opening> = into
                .iter()
                .filter(|(b, their)| their.contains(part) || b.name == a.name)
                .map(|(b, _)| *b)
                .collect();
            // Its own side first.
            found.sort_by_key(|b| b.side != a.side);
            if found.is_empty() {
                without.push(a.name.clone());
            }
            for b in found {
                let mirrored = a.side != b.side;
                let id = CompareId(format!("{} in {}", a.id, b.id));
                if fits.iter().any(|f: &CarFit| f.compare == id) {
                    continue;
                }
                wider.compares.push(Compare {
                    id: id.clone(),
                    a: a.id.clone(),
                    b: Some(b.id.clone()),
                    relation: if mirrored {
                        Relation::Mirrored
                    } else {
                        Relation::Same
                    },
                    part: part.clone(),
                });
                fits.push(CarFit {
                    compare: id,
                    part: part.clone(),
                    drawn: a.id.clone(),
                    tried: b.id.clone(),
                    sides: [a.side, b.side],
                    mirrored,
                });
            }
        }
    }
    let used = |o: &Opening| fits.iter().any(|f| f.drawn == o.id || f.tried == o.id);
    // The faces of all openings speak for the noise of their visit: none is taken out.
    let named: Vec<(OpeningId, String)> = wider
        .openings
        .iter()
        .filter(|o| used(o))
        .filter_map(|o| Some((o.id.clone(), format!("{} of {}", o.name, car_of(job, o)?))))
        .collect();
    for o in &mut wider.openings {
        if let Some((_, name)) = named.iter().find(|(id, _)| *id == o.id) {
            o.name.clone_from(name);
        }
    }
    (wider, fits, without)
}
