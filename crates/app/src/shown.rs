//! What a page is given to show: everything by reference, nothing to change.

use editor::{Document, Editor, Freshness, Subject};
use record::{CompareId, Job, Opening, OptionKind, Verdict};
use report::Pair;

use crate::state::ViewState;

/// What a page is given to show.
#[derive(Clone, Copy)]
pub struct Shown<'a> {
    /// The open job.
    pub editor: &'a Editor,
    /// Where one is.
    pub view: &'a ViewState,
}

impl<'a> Shown<'a> {
    /// The open job as data.
    pub fn document(&self) -> &'a Document {
        self.editor.document()
    }

    /// Every pair of the study.
    pub fn every_pair(&self) -> Vec<Pair<'a>> {
        Pair::all(self.document().study())
    }

    /// The pairs of the car that is looked at; every one where the job is of one car.
    pub fn pairs(&self) -> Vec<Pair<'a>> {
        let mut all = self.every_pair();
        if let Some(car) = self.car() {
            let job = self.document().job();
            all.retain(|p| {
                let opening = job.openings.iter().find(|o| o.id == p.measured.a);
                opening.is_none_or(|o| car_of(job, o).is_none_or(|c| c == car))
            });
        }
        all
    }

    /// The cars of the job that have openings, where there are several; else none.
    pub fn cars(&self) -> Vec<&'a str> {
        cars_of(self.document().job())
    }

    /// The car that is looked at, where the job is of several.
    pub fn car(&self) -> Option<&'a str> {
        let all = self.cars();
        let held = self.view.car.as_deref();
        let known = all.iter().find(|c| held == Some(**c));
        known.or(all.first()).copied()
    }

    /// The pair on the page: the chosen one, else the first.
    pub fn pair(&self) -> Option<Pair<'a>> {
        let pairs = self.pairs();
        pairs
            .iter()
            .find(|p| self.view.pair.as_ref() == Some(&p.measured.id))
            .or_else(|| pairs.first())
            .copied()
    }

    /// What is chosen for a pair, and why.
    pub fn chosen(&self, pair: &Pair) -> Option<(OptionKind, &'a str)> {
        let all = &self.document().job().choices.chosen;
        let of = all.iter().find(|c| c.0 == pair.measured.id)?;
        Some((of.1, &of.2))
    }

    /// The verdict on what is chosen for a pair, where that is not proven to fit.
    pub fn chosen_in_doubt(&self, pair: &Pair) -> Option<Verdict> {
        let (kind, _) = self.chosen(pair)?;
        let verdict = pair.option(kind).map(|o| o.verdict);
        verdict.filter(|v| *v != Verdict::Fits)
    }

    /// Whether figures of a pair wait for new ones.
    pub fn waits(&self, pair: &CompareId) -> bool {
        let document = self.document();
        let waits = |s: Subject| document.freshness(&s) == Freshness::Waits;
        waits(Subject::Compare(pair.clone())) || waits(Subject::Decided(pair.clone()))
    }
}

/// The car an opening belongs to.
fn car_of<'j>(job: &'j Job, opening: &Opening) -> Option<&'j str> {
    let visit = job.visit_of(opening)?;
    let visit = job.visits.iter().find(|v| v.id == *visit)?;
    Some(&visit.car)
}

/// The cars of a job that have openings, in the order of the job, where there are several; else none.
pub(crate) fn cars_of(job: &Job) -> Vec<&str> {
    let mut all: Vec<&str> = Vec::new();
    for car in job.openings.iter().filter_map(|o| car_of(job, o)) {
        if !car.is_empty() && !all.contains(&car) {
            all.push(car);
        }
    }
    let place = |name: &str| job.cars.iter().position(|c| c.name == name);
    all.sort_by_key(|name| place(name).unwrap_or(usize::MAX));
    if all.len() < 2 {
        all.clear();
    }
    all
}
