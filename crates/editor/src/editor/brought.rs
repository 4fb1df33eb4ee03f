//! What else of another job comes into this one with its scans: joins, places, taped lengths, gaps, hinges and body work, under
//! names of their own; and what cannot come, in words.
//!
//! A job has one centreline, and places of two bodies that are not joined to each other would leave it without any. So where this
//! job has places of its own on a side, those of the other only come as far as joins and taped lengths rest on them, and then
//! without a side: the side stands in their name.

use record::{BodyWork, CentrelineWay, Job, OpeningId, Place, PlaceName, ScanId, Side};

use crate::command::Command;
use crate::command_name::counted;

/// What was brought in with another job.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BroughtIn {
    /// What it is called here: the name of the car or of the visit.
    pub called: String,
    /// How many sides are there before and after body work now.
    pub together: usize,
    /// What else came, in words: "2 joins".
    pub with: Vec<String>,
    /// What stayed behind and why, a sentence each.
    pub left_out: Vec<String>,
}

/// What comes beside scans and openings.
pub(super) struct Beside {
    /// In the order in which they can be carried out, after the scans and openings.
    pub commands: Vec<Command>,
    /// The body work of both jobs.
    pub works: Vec<BodyWork>,
    pub with: Vec<String>,
    pub left_out: Vec<String>,
}

/// How names of the other job become names of this one: as [`study::named_apart`] does it.
struct Apart<'a> {
    before: &'a str,
    /// Whether places come without a side.
    no_sides: bool,
}

impl Apart<'_> {
    fn tag(&self, name: &str) -> String {
        format!("{}: {name}", self.before)
    }

    fn scan(&self, id: &ScanId) -> ScanId {
        ScanId(self.tag(&id.0))
    }

    fn opening(&self, id: &OpeningId) -> OpeningId {
        OpeningId(self.tag(&id.0))
    }

    fn place(&self, name: &str, side: Side) -> PlaceName {
        match side_word(side).filter(|_| self.no_sides) {
            Some(word) => PlaceName {
                name: self.tag(&format!("{name}, {word}")),
                side: Side::NotSaid,
            },
            None => PlaceName {
                name: self.tag(name),
                side,
            },
        }
    }
}

fn side_word(side: Side) -> Option<&'static str> {
    match side {
        Side::Left => Some("left"),
        Side::Right => Some("right"),
        Side::Centre => Some("centre"),
        Side::NotSaid => None,
    }
}

fn has_sides(job: &Job) -> bool {
    job.every_place().any(|p| p.side != Side::NotSaid)
}

/// Whether a centreline is laid by what the job says.
fn lays_a_line(job: &Job) -> bool {
    match job.centreline.way {
        CentrelineWay::None => false,
        CentrelineWay::OwnImage => true,
        _ => has_sides(job),
    }
}

/// All that `theirs` says of its scans beyond openings, under names with `before` in front, for `ours`.
pub(super) fn beside(theirs: &Job, ours: &Job, before: &str) -> Beside {
    let keeps_own = lays_a_line(ours) || has_sides(ours);
    let apart = Apart {
        before,
        no_sides: keeps_own,
    };
    let mut out = Beside {
        commands: Vec::new(),
        works: ours.body_work.clone(),
        with: Vec::new(),
        left_out: Vec::new(),
    };
    places(theirs, ours, &apart, &mut out);
    let joins = joins(theirs, &apart);
    out.with.extend(counted(joins.len(), "join", "joins"));
    if !joins.is_empty() {
        let all = ours.joins.iter().cloned().chain(joins).collect();
        out.commands.push(Command::Joins(all));
    }
    panels(theirs, ours, &apart, &mut out);
    for w in &theirs.body_work {
        out.works.push(BodyWork {
            name: apart.tag(&w.name),
            before: apart.scan(&w.before),
            after: apart.scan(&w.after),
            ..w.clone()
        });
    }
    let works = theirs.body_work.len();
    out.with.extend(counted(
        works,
        "side before and after",
        "sides before and after",
    ));
    if theirs.sections != ours.sections && theirs.sections != record::SectionPlan::default() {
        out.left_out.push(
            "How its sections are cut was left out: this job cuts them in its own way.".to_owned(),
        );
    }
    out
}

fn joins(theirs: &Job, apart: &Apart) -> Vec<record::Join> {
    let one = |j: &record::Join| {
        // Without sides a join rests on each of the places it names under the name of its side.
        let mut places: Vec<String> = Vec::new();
        for [p, _] in theirs.places_in_both(j) {
            let name = apart.place(&p.name, p.side).name;
            if !j.places.is_empty() && !places.contains(&name) {
                places.push(name);
            }
        }
        record::Join {
            scan: apart.scan(&j.scan),
            to: apart.scan(&j.to),
            places,
            ..j.clone()
        }
    };
    theirs.joins.iter().map(one).collect()
}

fn places(theirs: &Job, ours: &Job, apart: &Apart, out: &mut Beside) {
    let joined = |scan: &ScanId| {
        let mut joins = theirs.joins.iter();
        joins.any(|j| j.scan == *scan || j.to == *scan)
    };
    let taped = |p: &Place| {
        let mut ends = theirs.taped.iter().flat_map(|t| [&t.from, &t.to]);
        ends.any(|n| n.name == p.name && n.side == p.side)
    };
    let comes =
        |p: &&Place| !apart.no_sides || p.side == Side::NotSaid || joined(&p.scan) || taped(p);
    let coming: Vec<Place> = theirs
        .every_place()
        .filter(comes)
        .map(|p| {
            let PlaceName { name, side } = apart.place(&p.name, p.side);
            Place {
                name,
                side,
                scan: apart.scan(&p.scan),
                ..p.clone()
            }
        })
        .collect();
    out.with.extend(counted(coming.len(), "place", "places"));
    let behind = theirs.every_place().count() - coming.len();
    let line = &theirs.centreline;
    if apart.no_sides && (lays_a_line(theirs) || line.image_of.is_some()) {
        let places = counted(behind, "place", "places");
        let places = places.map_or_else(String::new, |n| format!(", with {n} for it"));
        let sides = if coming.iter().any(|p| p.side == Side::NotSaid) && has_sides(theirs) {
            " Places that its joins or taped lengths rest on came without a side."
        } else {
            ""
        };
        out.left_out.push(format!(
            "Its centreline was left out{places}: this job keeps its own.{sides}"
        ));
    }
    if !coming.is_empty() {
        out.commands.push(Command::AddPlaces(coming));
    }
    if !apart.no_sides && *line != record::Centreline::default() {
        let mut to = line.clone();
        for end in [&mut to.front, &mut to.rear].into_iter().flatten() {
            *end = apart.tag(end);
        }
        if let Some(scan) = &mut to.image_of {
            *scan = apart.scan(scan);
        }
        if let CentrelineWay::ThreeTwoOne { level, line, start } = &mut to.way {
            for name in level.iter_mut().chain(line).chain([start]) {
                *name = apart.place(&name.name, name.side);
            }
        }
        out.with.push("how the centreline is laid".to_owned());
        out.commands.push(Command::Centreline(Box::new(to)));
    }
    let taped = theirs.taped.iter().map(|t| record::TapedLength {
        from: apart.place(&t.from.name, t.from.side),
        to: apart.place(&t.to.name, t.to.side),
        ..t.clone()
    });
    out.with
        .extend(counted(theirs.taped.len(), "taped length", "taped lengths"));
    if !theirs.taped.is_empty() {
        let all = ours.taped.iter().cloned().chain(taped).collect();
        out.commands.push(Command::Taped(all));
    }
}

fn panels(theirs: &Job, ours: &Job, apart: &Apart, out: &mut Beside) {
    let mut gaps = theirs.gaps.clone();
    for g in &mut gaps {
        g.name = apart.tag(&g.name);
        for t in g.left.iter_mut().chain(&mut g.right) {
            t.scan = apart.scan(&t.scan);
        }
    }
    let mut hinges = theirs.hinges.clone();
    for h in &mut hinges {
        h.name = apart.tag(&h.name);
        h.scan = apart.scan(&h.scan);
        if let Some(s) = &mut h.swing {
            s.part = apart.opening(&s.part);
            s.body = apart.opening(&s.body);
        }
    }
    out.with.extend(counted(gaps.len(), "gap", "gaps"));
    out.with.extend(counted(hinges.len(), "hinge", "hinges"));
    if !gaps.is_empty() {
        let all = ours.gaps.iter().cloned().chain(gaps).collect();
        out.commands.push(Command::Gaps(all));
    }
    if !hinges.is_empty() {
        let all = ours.hinges.iter().cloned().chain(hinges).collect();
        out.commands.push(Command::Hinges(all));
    }
}
