//! What may be wrong with the body work a job states.

use record::{BodyWork, Job, ScanId};

use super::check::Check;

impl Check {
    /// Sides scanned before and after body work.
    pub(super) fn body_work(&mut self, job: &Job) {
        self.unique(
            "body work",
            job.body_work.iter().map(|w| w.name.as_str()),
            "",
        );
        for w in &job.body_work {
            let place = format!("body work \"{}\"", w.name);
            let mut known = true;
            for id in [&w.before, &w.after] {
                let scans = job.scans.iter().map(|s| s.id.0.as_str());
                known &= self.leads(&place, "scan", &id.0, scans);
            }
            if known {
                self.two_visits(&place, job, w);
            }
            for r in &w.worked {
                self.region(&format!("{place}, worked"), r);
            }
            self.start(&place, w.start.as_ref());
            self.positive(&place, "most_mm", Some(w.most_mm));
        }
    }

    /// Before and after are two scans of two visits of one car.
    fn two_visits(&mut self, place: &str, job: &Job, w: &BodyWork) {
        let visit = |id: &ScanId| {
            let scan = job.scans.iter().find(|s| s.id == *id)?;
            job.visits.iter().find(|v| v.id == scan.visit)
        };
        if w.before == w.after {
            self.add(
                place,
                "before and after are one scan",
                "name the scan of the later visit as \"after\"",
            );
        } else if let (Some(a), Some(b)) = (visit(&w.before), visit(&w.after)) {
            if a.id == b.id {
                self.add(
                    place,
                    format!("before and after are both of the visit \"{}\"", a.id),
                    "add a visit for the day after the work, with the state the body was in then",
                );
            } else if a.car != b.car {
                self.add(
                    place,
                    format!("before shows \"{}\", after shows \"{}\"", a.car, b.car),
                    "name two scans of one car; for two cars see unmirror cars",
                );
            }
        }
    }
}
