//! What may be wrong with the joins of a job and with its taped lengths.

use std::collections::BTreeSet;

use record::{Job, Join, ScanId, StartPose};

use super::check::Check;

/// Fewer places in both scans do not fix a join.
const FEWEST: usize = 3;

impl Check {
    /// Joins and taped lengths.
    pub(super) fn joins(&mut self, job: &Job) {
        let mut seen = BTreeSet::new();
        for j in &job.joins {
            let place = format!("join \"{}\" to \"{}\"", j.scan, j.to);
            let mut known = true;
            for id in [&j.scan, &j.to] {
                let scans = job.scans.iter().map(|s| s.id.0.as_str());
                known &= self.leads(&place, "scan", &id.0, scans);
            }
            if !seen.insert(&j.scan) {
                self.add(
                    &place,
                    format!("the scan \"{}\" is joined twice", j.scan),
                    "join every scan once; others may be joined to it in turn",
                );
            } else if known && in_a_ring(job, j) {
                self.add(
                    &place,
                    "the joins run round in a ring",
                    "let one scan be joined to none: its axes are the common ones",
                );
            }
            for name in &j.places {
                let both = job
                    .every_place()
                    .filter(|p| p.scan == j.scan || p.scan == j.to);
                self.leads(&place, "place", name, both.map(|p| p.name.as_str()));
            }
            self.start(&place, j.start.as_ref());
            if known && !j.refine && job.places_in_both(j).count() < FEWEST {
                self.add(
                    &place,
                    format!(
                        "{} places are in both scans, expected {FEWEST} or more",
                        job.places_in_both(j).count()
                    ),
                    "pick five places in both scans, each under one name and side, or say refine: true with a start",
                );
            }
        }
        for t in &job.taped {
            let place = format!("taped \"{}\" to \"{}\"", t.from.name, t.to.name);
            for end in [&t.from, &t.to] {
                self.named_place(job, &place, end);
            }
            if t.from == t.to {
                self.add(
                    &place,
                    "both ends are one place",
                    "name the two ends of the tape",
                );
            }
            self.positive(&place, "length_mm", Some(t.length_mm));
            self.positive(&place, "u95_mm", Some(t.u95_mm));
        }
    }
}

impl Check {
    /// Where a scan is said to lie.
    pub(super) fn start(&mut self, place: &str, start: Option<&StartPose>) {
        let Some(start) = start else { return };
        let numbers = start.pose().to_homogeneous();
        if !numbers.iter().all(|x| x.is_finite()) {
            self.add(
                place,
                "\"start\" is no pose",
                "give axis, turn_deg and shift_mm in finite numbers; an axis has a length",
            );
        }
        self.positive(place, "within_mm", start.within_mm);
    }
}

fn in_a_ring(job: &Job, first: &Join) -> bool {
    let mut at: &ScanId = &first.to;
    for _ in 0..=job.joins.len() {
        if *at == first.scan {
            return true;
        }
        match job.joins.iter().find(|j| j.scan == *at) {
            Some(next) => at = &next.to,
            None => return false,
        }
    }
    true
}
