//! The deciding lane: never called off, edits that come meanwhile are taken together. The exact answer comes at once;
//! chances follow from the lane of [`super::chances`] and are kept per comparison.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use formats::Key;
use record::{Decided, DecidedCompare, Finding, Job, Measured, Scans, Study};

use super::{Mailbox, Teller, Told};
use crate::event::Lane;
use crate::tags::Tags;

/// What is to be decided.
#[derive(Clone)]
pub(crate) struct DecideWish {
    pub job: Arc<Job>,
    pub scans: Scans,
    pub measured: Arc<Measured>,
    /// Tells one `measured` from another.
    pub serial: u64,
    /// The tags of `measured`, with those of what is decided for this job.
    pub tags: Tags,
    /// What is to be said of files that were not read.
    pub findings: Vec<Finding>,
    /// Draws per chance.
    pub draws: u32,
    /// Grows with every wish.
    pub number: u64,
}

/// Decisions by what they came from: of which `measured`, in which place, with which part and seed.
#[derive(Default)]
pub(crate) struct Decisions {
    known: BTreeMap<Key, Known>,
}

/// What came of one comparison: nothing, where its part is not there.
#[derive(Clone)]
struct Outcome(Option<DecidedCompare>);

#[derive(Clone, Default)]
struct Known {
    exact: Option<Outcome>,
    drawn: Option<Outcome>,
}

pub(crate) type SharedDecisions = Arc<Mutex<Decisions>>;

fn lock(shared: &SharedDecisions) -> MutexGuard<'_, Decisions> {
    // Entries are put whole.
    shared.lock().unwrap_or_else(PoisonError::into_inner)
}

/// What a decision is made from besides what was measured: its place, its part, seed and number of draws.
pub(crate) fn asked_of(job: &Job, measured: &Measured, draws: u32, index: usize) -> Key {
    let part = measured
        .compares
        .get(index)
        .and_then(|c| job.choices.parts.iter().find(|p| p.id == c.part));
    let text = format!("{index}|{}|{draws}|{part:?}", job.seed);
    *blake3::hash(text.as_bytes()).as_bytes()
}

/// The key of a decision: of which measured it is, and [`asked_of`].
fn keyed(serial: u64, asked: &Key) -> Key {
    let mut hasher = blake3::Hasher::new();
    hasher.update(&serial.to_le_bytes()).update(asked);
    *hasher.finalize().as_bytes()
}

fn key(wish: &DecideWish, index: usize) -> Key {
    let asked = asked_of(&wish.job, &wish.measured, wish.draws, index);
    keyed(wish.serial, &asked)
}

/// Takes in decisions that were kept on disk with the measured that has this serial.
pub(crate) fn take_in(shared: &SharedDecisions, serial: u64, kept: Vec<(Key, DecidedCompare)>) {
    let mut decisions = lock(shared);
    for (asked, decided) in kept {
        let known = decisions.known.entry(keyed(serial, &asked)).or_default();
        known.drawn = Some(Outcome(Some(decided)));
    }
}

/// Decides one comparison, or takes it from what is known. `draws`: with chances.
pub(crate) fn decide_one(
    wish: &DecideWish,
    shared: &SharedDecisions,
    index: usize,
    draws: bool,
) -> Option<DecidedCompare> {
    let key = key(wish, index);
    let slot = |k: &Known| {
        if draws {
            k.drawn.clone()
        } else {
            k.exact.clone()
        }
    };
    if let Some(found) = lock(shared).known.get(&key).and_then(slot) {
        return found.0;
    }
    let draws_now = if draws { wish.draws } else { 0 };
    let made = study::decide_one(
        &wish.measured,
        &wish.job.choices,
        index,
        wish.job.seed,
        draws_now,
    );
    let mut decisions = lock(shared);
    let known = decisions.known.entry(key).or_default();
    if draws {
        known.drawn = Some(Outcome(made.clone()));
    } else {
        known.exact = Some(Outcome(made.clone()));
    }
    made
}

/// What came of a comparison with its chances, if they are known.
fn drawn(wish: &DecideWish, shared: &SharedDecisions, index: usize) -> Option<Outcome> {
    lock(shared).known.get(&key(wish, index))?.drawn.clone()
}

/// The study as far as chances are known, and whether all are.
pub(crate) fn study_of(wish: &DecideWish, shared: &SharedDecisions) -> (Study, bool) {
    let mut all = true;
    let compares = (0..wish.measured.compares.len())
        .filter_map(|i| {
            if let Some(Outcome(known)) = drawn(wish, shared, i) {
                return known;
            }
            all = false;
            decide_one(wish, shared, i, false)
        })
        .collect();
    let all = all || wish.draws == 0;
    let draws = if all { wish.draws } else { 0 };
    let measured = Measured::clone(&wish.measured);
    let mut study = study::assemble(
        &wish.job,
        &wish.scans,
        measured,
        Decided { compares },
        draws,
    );
    if let Ok(hash) = formats::job_hash(&wish.job) {
        study.provenance.job_hash = hash;
    }
    study
        .measured
        .findings
        .splice(0..0, wish.findings.iter().cloned());
    (study, all)
}

/// Keeps only what belongs to the newest measured.
fn forget(wish: &DecideWish, shared: &SharedDecisions) {
    let keys: Vec<_> = (0..wish.measured.compares.len())
        .map(|i| key(wish, i))
        .collect();
    // Some of the former ones stay: undo comes back to them.
    let mut decisions = lock(shared);
    if decisions.known.len() > 200 {
        decisions.known.retain(|k, _| keys.contains(k));
    }
}

pub(crate) fn start(
    wishes: Arc<Mailbox<DecideWish>>,
    chances: Arc<Mailbox<DecideWish>>,
    shared: SharedDecisions,
    teller: Teller,
    pool: Option<Arc<rayon::ThreadPool>>,
) -> std::thread::JoinHandle<()> {
    std::thread::spawn(move || {
        while let Some(wish) = wishes.take() {
            let done = teller.guarded(Lane::Decide, || {
                forget(&wish, &shared);
                in_pool(pool.as_deref(), || study_of(&wish, &shared))
            });
            let Some((study, all)) = done else {
                lock(&shared).known.clear();
                continue;
            };
            teller.tell(Told::Study {
                study: Arc::new(study),
                tags: wish.tags.clone(),
                number: wish.number,
                chances: all,
            });
            if !all {
                chances.put(wish);
            }
        }
    })
}

/// Runs in threads of its own where there are any, so that heavy work does not stand in the way.
pub(crate) fn in_pool<T: Send>(
    pool: Option<&rayon::ThreadPool>,
    work: impl FnOnce() -> T + Send,
) -> T {
    match pool {
        Some(pool) => pool.install(work),
        None => work(),
    }
}
