//! Openings that the search finds, and picks carried to the other side.

use std::collections::BTreeMap;
use std::sync::Arc;

use record::{Compare, Job, Opening, OpeningId, Part, Relation, ScanRef, Side};
use study::propose::{Across, Carried, Proposal, carried};

use super::{Editor, pairing};
use crate::command::{Command, CompareChange, OpeningChange};
use crate::event::{Event, Lane};
use crate::lanes::find::{FindWish, Found};
use crate::names::free_name;
use crate::offer::{Offer, Remark};
use crate::refused::Refused;

impl Editor {
    /// Looks for openings in every scan that has none picked yet, and for pairs among them. What is found joins the job
    /// as one step, each opening proposed (its sureness is set) until it is kept or skipped; remarks stand in
    /// [`crate::Document::remarks`]. Ends with [`Event::Proposed`].
    pub fn propose(&mut self) {
        let job = self.document.job();
        let empty = |s: &&ScanRef| job.openings.iter().all(|o| o.scan != s.id);
        let refs: Vec<ScanRef> = job.scans.iter().filter(empty).cloned().collect();
        let scans = self.document.scans.clone();
        self.find.put(FindWish::Openings { refs, scans });
    }

    /// Proposes on the other side what was picked in an opening. Where the two sides are laid on each other already, the
    /// picks the other one lacks are offered at once; else the other scans are searched for its mirror image, which
    /// takes some seconds. Offers stand in [`crate::Document::offers`]. Ends with [`Event::Offered`].
    ///
    /// # Errors
    /// If there is no such opening, its scan is not there, or nothing is left to carry.
    pub fn copy_across(&mut self, opening: &OpeningId) -> Result<(), Refused> {
        let job = Arc::clone(self.document.job());
        let from = find_opening(&job, opening)?;
        if let Some((to, across, relation)) = self.measured_across(&job, from) {
            let Some(scan) = self.document.scans.get(&to.scan) else {
                return Err(not_there(&to.scan.0));
            };
            let all = carried(from, &across, relation, (&to.scan, scan));
            let offers = missing(to, &all);
            if offers.is_empty() {
                return Err(Refused::NotMeasured {
                    says: format!("{} has everything that was picked in {}", to.id, from.id),
                    hint: "Pick something in one of them first.".to_owned(),
                });
            }
            for (name, picks, command) in offers {
                self.offer(name, picks, across.sureness, command);
            }
            self.events.push(Event::Offered);
            return Ok(());
        }
        let Some(own) = self.document.scans.get(&from.scan) else {
            return Err(not_there(&from.scan.0));
        };
        if from.edge.is_none() {
            return Err(Refused::NotMeasured {
                says: format!("{} has no opening edge to know the other side by", from.id),
                hint: "Pick its edge, or pick the faces on the other side by hand.".to_owned(),
            });
        }
        let (own, opening) = (Arc::clone(own), Box::new(from.clone()));
        let others = self
            .document
            .scans
            .iter()
            .map(|(id, p)| (id.clone(), Arc::clone(p)))
            .collect();
        self.find.put(FindWish::Across {
            opening,
            own,
            others,
        });
        Ok(())
    }

    /// The opening an opening is compared with, and how the two lie, where that is measured.
    fn measured_across<'j>(
        &self,
        job: &'j Job,
        from: &Opening,
    ) -> Option<(&'j Opening, Across, Relation)> {
        let measured = &self.document.study.measured;
        job.compares.iter().find_map(|c| {
            let b = c.b.as_ref()?;
            let from_a = c.a == from.id;
            let other = if from_a {
                b
            } else if *b == from.id {
                &c.a
            } else {
                return None;
            };
            let pair = measured.compares.iter().find(|m| m.id == c.id)?;
            let a = measured.openings.iter().find(|o| o.id == c.a)?;
            let across = Across::measured(pair, a, from_a)?;
            let to = job.openings.iter().find(|o| o.id == *other)?;
            Some((to, across, c.relation))
        })
    }

    fn offer(&mut self, name: String, picks: Opening, sureness: f64, command: Command) {
        self.offers += 1;
        self.document.offers.push(Offer {
            number: self.offers,
            name,
            picks,
            sureness,
            command,
        });
    }

    /// Keeps an offer: it becomes a step of the job.
    ///
    /// # Errors
    /// If it is gone, or the job does not allow it any more; it then stays offered.
    pub fn keep_offer(&mut self, number: u64) -> Result<(), Refused> {
        let offer = self.document.offers.iter().find(|o| o.number == number);
        let Some(offer) = offer else {
            return Err(Refused::NoSuch {
                what: "offer",
                name: number.to_string(),
            });
        };
        let command = offer.command.clone();
        self.apply(&command)?;
        self.skip_offer(number);
        Ok(())
    }

    /// Keeps all offers as one step.
    ///
    /// # Errors
    /// If the job does not allow them; all then stay offered.
    pub fn keep_all_offers(&mut self) -> Result<(), Refused> {
        let commands: Vec<Command> = self
            .document
            .offers
            .iter()
            .map(|o| o.command.clone())
            .collect();
        if commands.is_empty() {
            return Ok(());
        }
        self.apply(&Command::Several {
            name: format!("keep {} offers", commands.len()),
            commands,
        })?;
        self.document.offers.clear();
        Ok(())
    }

    /// Skips an offer.
    pub fn skip_offer(&mut self, number: u64) {
        self.document.offers.retain(|o| o.number != number);
    }

    pub(super) fn found(&mut self, found: Found) {
        match found {
            Found::Openings(proposal) => self.proposed(*proposal),
            Found::Across { of, carried } => match carried {
                Some(carried) => self.across_found(&of, *carried),
                None => self.notice(
                    Lane::Find,
                    format!("Nothing like {of} was found on the other side."),
                    "Click near its edge there.".to_owned(),
                ),
            },
        }
    }

    fn proposed(&mut self, proposal: Proposal) {
        let job = Arc::clone(self.document.job());
        let Proposal { job: new, comments } = proposal;
        let openings = new.openings.len();
        if openings > 0 {
            let command = Command::Several {
                name: format!("{openings} proposed openings"),
                commands: joined(&job, new),
            };
            if let Err(refused) = self.apply(&command) {
                let hint = refused.hint().to_owned();
                self.notice(Lane::Find, refused.says(), hint);
                return;
            }
        }
        self.document.remarks = comments
            .into_iter()
            .map(|c| Remark {
                about: c.about,
                says: c.says,
                sureness: c.sureness,
            })
            .collect();
        self.events.push(Event::Proposed { openings });
    }

    fn across_found(&mut self, of: &OpeningId, carried: Carried) {
        let job = Arc::clone(self.document.job());
        let Ok(from) = find_opening(&job, of) else {
            return;
        };
        let mut opening = carried.opening;
        opening.id = other_side_name(&job, from);
        let sureness = opening.sureness.unwrap_or(0.0);
        // Kept means looked at.
        let kept = Opening {
            sureness: None,
            ..opening.clone()
        };
        let mut commands = vec![Command::AddOpening(Box::new(kept))];
        commands.extend(compared(&job, from, &opening));
        let name = opening.id.to_string();
        let command = Command::Several {
            name: format!("keep {name}"),
            commands,
        };
        if !carried.lost.is_empty() {
            self.notice(
                Lane::Find,
                format!("Not carried to {name}: {}.", carried.lost.join(", ")),
                "There is no metal in the scan where they would be. Pick them there by hand."
                    .to_owned(),
            );
        }
        self.offer(name, opening, sureness, command);
        self.events.push(Event::Offered);
    }
}

fn find_opening<'j>(job: &'j Job, id: &OpeningId) -> Result<&'j Opening, Refused> {
    let found = job.openings.iter().find(|o| o.id == *id);
    found.ok_or_else(|| Refused::NoSuch {
        what: "opening",
        name: id.to_string(),
    })
}

fn not_there(scan: &str) -> Refused {
    Refused::NotMeasured {
        says: format!("The scan {scan} is not there yet"),
        hint: "Wait until it is read.".to_owned(),
    }
}

/// What `all` has and `to` lacks, one by one: name, picks, command.
fn missing(to: &Opening, all: &Carried) -> Vec<(String, Opening, Command)> {
    let new = &all.opening;
    let mut out = Vec::new();
    let nothing = Opening {
        edge: None,
        top: None,
        outward: None,
        faces: Vec::new(),
        junctions: Vec::new(),
        holes: Vec::new(),
        ..to.clone()
    };
    let mut add = |what: String, picks: Opening, change: OpeningChange| {
        let name = format!("{what} of {}", to.id);
        out.push((name, picks, Command::opening(to.id.clone(), change)));
    };
    if let (None, Some(top)) = (to.top, new.top) {
        let picks = Opening {
            top: Some(top),
            ..nothing.clone()
        };
        add("top".to_owned(), picks, OpeningChange::Top(Some(top)));
    }
    for f in &new.faces {
        if to.faces.iter().all(|g| g.id != f.id) {
            let picks = Opening {
                faces: vec![f.clone()],
                ..nothing.clone()
            };
            add(
                format!("face {}", f.id),
                picks,
                OpeningChange::AddFace(f.clone()),
            );
        }
    }
    for j in &new.junctions {
        if to.junctions.iter().all(|k| k.id != j.id) {
            let picks = Opening {
                junctions: vec![j.clone()],
                ..nothing.clone()
            };
            let change = OpeningChange::AddJunction(j.clone());
            add(format!("junction {}", j.id), picks, change);
        }
    }
    for h in &new.holes {
        if to.holes.iter().all(|g| g.id != h.id) {
            let picks = Opening {
                holes: vec![h.clone()],
                ..nothing.clone()
            };
            add(
                format!("hole {}", h.id),
                picks,
                OpeningChange::AddHole(h.clone()),
            );
        }
    }
    out
}

/// A name for the other side of an opening: left becomes right where the name says so.
fn other_side_name(job: &Job, from: &Opening) -> OpeningId {
    let id = &from.id.0;
    let swapped = [
        ("left", "right"),
        ("right", "left"),
        ("Left", "Right"),
        ("Right", "Left"),
    ]
    .iter()
    .find(|(a, _)| id.contains(a))
    .map_or_else(|| format!("{id}-other"), |(a, b)| id.replace(a, b));
    OpeningId(free_name(&swapped, |n| {
        job.openings.iter().any(|o| o.id.0 == n)
    }))
}

/// How a new opening joins the comparison of the one it was carried from; where there is none, one begins.
fn compared(job: &Job, from: &Opening, new: &Opening) -> Vec<Command> {
    let Some(c) = job
        .compares
        .iter()
        .find(|c| c.a == from.id || c.b.as_ref() == Some(&from.id))
    else {
        return pairing::of(job, from, new);
    };
    let (a, b) = match (from.side, c.relation) {
        (Side::Right, Relation::Mirrored) => (new.id.clone(), from.id.clone()),
        _ => (from.id.clone(), new.id.clone()),
    };
    if c.b.is_some() {
        return Vec::new();
    }
    vec![Command::Compare {
        compare: c.id.clone(),
        change: CompareChange::Openings(a, Some(b)),
    }]
}

/// The openings, parts and comparisons of a proposal with names that are free in the job.
fn joined(job: &Job, new: Job) -> Vec<Command> {
    let mut openings: BTreeMap<String, String> = BTreeMap::new();
    let mut commands = Vec::new();
    for mut o in new.openings {
        let name = free_name(&o.id.0, |n| {
            job.openings.iter().any(|x| x.id.0 == n) || openings.values().any(|x| x == n)
        });
        openings.insert(o.id.0.clone(), name.clone());
        o.id = OpeningId(name);
        commands.push(Command::AddOpening(Box::new(o)));
    }
    let mut parts: BTreeMap<String, String> = BTreeMap::new();
    for p in new.choices.parts {
        let name = free_name(&p.id.0, |n| {
            job.choices.parts.iter().any(|x| x.id.0 == n) || parts.values().any(|x| x == n)
        });
        parts.insert(p.id.0.clone(), name.clone());
        let id = name.as_str().into();
        commands.push(Command::AddPart(Box::new(Part { id, ..p })));
    }
    let mut compares: Vec<String> = Vec::new();
    let renamed = |names: &BTreeMap<String, String>, id: &str| {
        names.get(id).map_or(id.to_owned(), Clone::clone)
    };
    for c in new.compares {
        let name = free_name(&c.id.0, |n| {
            job.compares.iter().any(|x| x.id.0 == n) || compares.iter().any(|x| x == n)
        });
        compares.push(name.clone());
        commands.push(Command::AddCompare(Compare {
            id: name.as_str().into(),
            a: OpeningId(renamed(&openings, &c.a.0)),
            b: c.b.map(|b| OpeningId(renamed(&openings, &b.0))),
            relation: c.relation,
            part: renamed(&parts, &c.part.0).as_str().into(),
        }));
    }
    commands
}
