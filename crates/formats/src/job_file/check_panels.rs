//! What may be wrong with sections, gaps and hinges of a job.

use record::{GapTrack, HingePick, Job};

use super::check::Check;

/// Most steps across the panel.
const MOST_STEPS: f64 = 60.0;

impl Check {
    /// Sections, gaps to neighbours and hinges.
    pub(super) fn panels(&mut self, job: &Job) {
        let plan = &job.sections;
        for (field, value) in [
            ("width_mm", plan.width_mm),
            ("step_mm", plan.step_mm),
            ("every_mm", plan.every_mm),
        ] {
            self.positive("sections", field, Some(value));
        }
        if plan.width_mm < plan.step_mm + 3.0 || plan.width_mm > MOST_STEPS * plan.step_mm {
            self.add(
                "sections",
                "\"width_mm\" does not hold from 1 to 60 steps beside the bend",
                "make the width larger than a step and 3 mm, and smaller than 60 steps",
            );
        }
        self.unique("gap", job.gaps.iter().map(|g| g.name.as_str()), "");
        self.unique("hinge", job.hinges.iter().map(|h| h.name.as_str()), "");
        for gap in &job.gaps {
            let place = format!("gap \"{}\"", gap.name);
            self.positive(&place, "every_mm", Some(gap.every_mm));
            self.positive(&place, "reach_mm", Some(gap.reach_mm));
            if gap.left.is_none() && gap.right.is_none() {
                self.add(
                    &place,
                    "neither \"left\" nor \"right\" is given",
                    "pick the gap on one side at least",
                );
            }
            for (side, track) in [("left", &gap.left), ("right", &gap.right)] {
                if let Some(track) = track {
                    self.track(&format!("{place}, {side}"), job, track);
                }
            }
        }
        for hinge in &job.hinges {
            self.hinge(job, hinge);
        }
    }

    fn track(&mut self, place: &str, job: &Job, track: &GapTrack) {
        self.in_scan(place, job, &track.scan.0);
        if track.along.len() < 2 {
            self.add(
                place,
                "\"along_mm\" has fewer than two points",
                "give the start and the end of the gap at least",
            );
        }
        for p in &track.along {
            self.point(place, "along_mm", p);
        }
        self.point(place, "on_first_mm", &track.on_first);
        self.direction(place, "outward", track.outward.as_ref());
    }

    fn hinge(&mut self, job: &Job, hinge: &HingePick) {
        let place = format!("hinge \"{}\"", hinge.name);
        self.in_scan(&place, job, &hinge.scan.0);
        if hinge.barrels.is_empty() {
            self.add(&place, "it has no barrel", "pick two barrels or more");
        }
        let within = format!("{place}, ");
        self.unique(
            "barrel",
            hinge.barrels.iter().map(|b| b.name.as_str()),
            &within,
        );
        for b in &hinge.barrels {
            let place = format!("{place}, barrel \"{}\"", b.name);
            self.point(&place, "from_mm", &b.from);
            self.point(&place, "to_mm", &b.to);
            self.positive(&place, "diameter_mm", b.diameter_mm);
            if (b.to - b.from).norm() < 1.0 {
                self.add(
                    &place,
                    "\"from_mm\" and \"to_mm\" are one place",
                    "pick the wall of the barrel near both of its ends",
                );
            }
        }
        if let Some(swing) = &hinge.swing {
            let place = format!("{place}, swing");
            let openings = || job.openings.iter().map(|o| o.id.0.as_str());
            self.leads(&place, "opening", &swing.part.0, openings());
            self.leads(&place, "opening", &swing.body.0, openings());
            self.number(
                &place,
                "open_deg",
                swing.open_deg,
                |v| v > 0.0 && v <= 180.0,
                "a number above 0 and up to 180",
            );
            let elsewhere = |id: &record::OpeningId| {
                job.openings
                    .iter()
                    .any(|o| o.id == *id && o.scan != hinge.scan)
            };
            if elsewhere(&swing.part) || elsewhere(&swing.body) {
                self.add(
                    &place,
                    "an opening is in another scan than the hinge",
                    "use one scan that shows the barrels and both edges",
                );
            }
        }
    }

    fn in_scan(&mut self, place: &str, job: &Job, scan: &str) {
        self.leads(
            place,
            "scan",
            scan,
            job.scans.iter().map(|s| s.id.0.as_str()),
        );
    }
}
