//! What may be wrong with the places of a job and with what its centreline asks for.

use std::collections::BTreeSet;

use record::{CentrelineWay, Job, PlaceName};

use super::check::Check;
use crate::side_word::side_word;

impl Check {
    /// Places, their table, and the places that the centreline names.
    pub(super) fn places(&mut self, job: &Job) {
        if let Some(table) = &job.places_table
            && let Some([says, hint]) = &table.unread
        {
            let place = format!("places_file \"{}\"", table.path.display());
            self.add(&place, says.clone(), hint.clone());
        }
        let mut seen = BTreeSet::new();
        for p in job.every_place() {
            let side = side_word(p.side);
            let place = format!("place \"{}\" ({side})", p.name);
            if p.name.trim().is_empty() {
                self.add(&place, "the name is empty", "give the place a name");
            } else if !seen.insert((p.scan.0.as_str(), p.name.as_str(), side)) {
                self.add(
                    &place,
                    format!(
                        "it is given twice on the same side in the scan \"{}\"",
                        p.scan
                    ),
                    "take one of them out, or give the other place a name of its own",
                );
            }
            self.leads(
                &place,
                "scan",
                &p.scan.0,
                job.scans.iter().map(|s| s.id.0.as_str()),
            );
            self.point(&place, "at_mm", &p.at);
            self.positive(&place, "sigma_mm", Some(p.sigma_mm));
        }
        let c = &job.centreline;
        for (field, name) in [("front", &c.front), ("rear", &c.rear)] {
            if let Some(name) = name {
                self.leads(
                    &format!("centreline, {field}"),
                    "place",
                    name,
                    job.every_place().map(|p| p.name.as_str()),
                );
            }
        }
        if let Some(scan) = &c.image_of {
            self.leads(
                "centreline, image_of",
                "scan",
                &scan.0,
                job.scans.iter().map(|s| s.id.0.as_str()),
            );
        } else if c.way == CentrelineWay::OwnImage {
            self.add(
                "centreline",
                "it is laid by the own mirror image of no scan",
                "name the scan of the whole body in image_of",
            );
        }
        if c.front.is_some() != c.rear.is_some() || (c.front.is_some() && c.front == c.rear) {
            self.add(
                "centreline",
                "\"front\" and \"rear\" do not name two places",
                "name a place at the front and one at the rear, or neither",
            );
        }
        if let CentrelineWay::ThreeTwoOne { level, line, start } = &c.way {
            for name in level.iter().chain(line).chain([start]) {
                self.named_place(job, "centreline, three_two_one", name);
            }
        }
    }

    /// A place by name and side.
    pub(super) fn named_place(&mut self, job: &Job, place: &str, wanted: &PlaceName) {
        let known: Vec<String> = job
            .every_place()
            .map(|p| format!("{} ({})", p.name, side_word(p.side)))
            .collect();
        self.leads(
            place,
            "place",
            &format!("{} ({})", wanted.name, side_word(wanted.side)),
            known.iter().map(String::as_str),
        );
    }
}
