//! What each result came from: a tag per figure, so that a changed job says which figures are stale and which stand.
//!
//! A tag is a hash of all that a figure's value hangs on. Give-or-takes hang on the noise of the whole visit besides,
//! and that on every face and edge picked in it, so each subject has a second tag with that added.

use std::collections::BTreeMap;
use std::fmt::Debug;

use record::{
    Compare, CompareId, FaceId, HoleId, Job, JunctionId, Opening, OpeningId, ScanId, VisitId,
};

/// Something that figures are about.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Subject {
    /// The noise of a visit.
    Noise(VisitId),
    /// The axes of an opening and all that is said of it as a whole.
    Opening(OpeningId),
    /// The edge of an opening: its stations, sizes, corners.
    Edge(OpeningId),
    /// A face.
    Face(OpeningId, FaceId),
    /// A junction.
    Junction(OpeningId, JunctionId),
    /// A hole or stud.
    Hole(OpeningId, HoleId),
    /// The differences of two openings.
    Compare(CompareId),
    /// The options and verdicts of a comparison.
    Decided(CompareId),
}

/// Whether a figure on show still is what the job says.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Freshness {
    /// It is.
    Fresh,
    /// What it was measured on is as it was; only its give-or-take is being worked out anew.
    DoubtWaits,
    /// What it came from has changed, or it was not worked out yet.
    Waits,
}

type Hash = [u8; 32];

/// Both tags of a subject.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Tag {
    value: Hash,
    doubt: Hash,
}

/// The tags of everything a job asks for.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Tags {
    all: BTreeMap<Subject, Tag>,
}

fn hash(of: impl Debug) -> Hash {
    *blake3::hash(format!("{of:?}").as_bytes()).as_bytes()
}

impl Tags {
    /// The tags of `job` over scans told apart by `keys` (content, unit and what is used of them); a scan without a key
    /// is not there.
    pub fn of(job: &Job, keys: &BTreeMap<ScanId, String>) -> Self {
        let mut tags = Self::default();
        // A hand table is there as soon as it is in the job; repeats of one speak for the others of its visit.
        let mut keys = keys.clone();
        for table in &job.hand {
            let visit = job.hand.iter().filter(|t| t.visit == table.visit);
            let rows: Vec<_> = visit
                .map(|t| (t.id == table.id, t.flat, &t.readings, &t.instruments))
                .collect();
            keys.insert(
                table.id.clone(),
                format!("{:?}", hash((rows, &table.unread))),
            );
        }
        let keys = &keys;
        let mut noise: BTreeMap<&VisitId, Hash> = BTreeMap::new();
        for visit in &job.visits {
            let picks: Vec<_> = openings_of(job, &visit.id)
                .map(|o| (keys.get(&o.scan), &o.edge, &o.faces))
                .collect();
            let tag = hash((&visit.id, visit.flatness_mm, picks));
            noise.insert(&visit.id, tag);
            let subject = Subject::Noise(visit.id.clone());
            tags.all.insert(
                subject,
                Tag {
                    value: tag,
                    doubt: tag,
                },
            );
        }
        for o in &job.openings {
            let visit = job.visit_of(o);
            tags.opening(
                o,
                keys.get(&o.scan),
                visit.and_then(|v| noise.get(v)).copied(),
            );
        }
        for (index, c) in job.compares.iter().enumerate() {
            tags.compare(job, c);
            tags.decided(job, c, index);
        }
        tags
    }

    fn put(&mut self, subject: Subject, from: impl Debug, noise: Option<Hash>) {
        let value = hash(from);
        let doubt = hash((value, noise));
        self.all.insert(subject, Tag { value, doubt });
    }

    fn opening(&mut self, o: &Opening, scan: Option<&String>, noise: Option<Hash>) {
        let id = || o.id.clone();
        // Without an edge the axes come from the faces.
        let faces = o.edge.is_none().then_some(&o.faces);
        let axes = hash((scan, &o.edge, &o.top, &o.outward, faces));
        let named = (&o.name, o.side, &o.faces, &o.junctions, &o.holes);
        self.put(Subject::Opening(id()), (axes, named), noise);
        self.put(Subject::Edge(id()), axes, noise);
        for f in &o.faces {
            self.put(Subject::Face(id(), f.id.clone()), (scan, f), noise);
        }
        for j in &o.junctions {
            let faces: Vec<_> = o
                .faces
                .iter()
                .filter(|f| f.id == j.a || f.id == j.b)
                .collect();
            let subject = Subject::Junction(id(), j.id.clone());
            self.put(subject, (scan, j, faces), noise);
        }
        for h in &o.holes {
            self.put(Subject::Hole(id(), h.id.clone()), (axes, h), noise);
        }
    }

    fn compare(&mut self, job: &Job, c: &Compare) {
        let of: Vec<_> = std::iter::once(&c.a)
            .chain(&c.b)
            .map(|id| self.all.get(&Subject::Opening(id.clone())))
            .collect();
        let values: Vec<_> = of.iter().map(|t| t.map(|t| t.value)).collect();
        let doubts: Vec<_> = of.iter().map(|t| t.map(|t| t.doubt)).collect();
        let states: Vec<_> = std::iter::once(&c.a)
            .chain(&c.b)
            .filter_map(|id| job.openings.iter().find(|o| o.id == *id))
            .filter_map(|o| job.scans.iter().find(|s| s.id == o.scan))
            .map(|s| {
                let visit = job.visits.iter().find(|v| v.id == s.visit);
                (
                    s.unit,
                    &s.unit_source,
                    &s.visit,
                    visit.map(|v| (&v.state, &v.car)),
                )
            })
            .collect();
        let value = hash((c, values, states));
        let doubt = hash((value, doubts));
        self.all
            .insert(Subject::Compare(c.id.clone()), Tag { value, doubt });
    }

    fn decided(&mut self, job: &Job, c: &Compare, index: usize) {
        let measured = self.all.get(&Subject::Compare(c.id.clone())).copied();
        let part = job.choices.parts.iter().find(|p| p.id == c.part);
        // A unit that is proven wrong stops every decision.
        let units: Vec<_> = job.scans.iter().map(|s| (s.unit, &s.unit_source)).collect();
        let value = hash((measured, part, job.seed, index, units));
        let tag = Tag {
            value,
            doubt: value,
        };
        self.all.insert(Subject::Decided(c.id.clone()), tag);
    }

    /// How fresh a result made under `self` is for a job with the tags `now`.
    pub fn freshness(&self, now: &Self, subject: &Subject) -> Freshness {
        match (self.all.get(subject), now.all.get(subject)) {
            (Some(then), Some(now)) if then == now => Freshness::Fresh,
            (Some(then), Some(now)) if then.value == now.value => Freshness::DoubtWaits,
            _ => Freshness::Waits,
        }
    }

    /// Takes what is decided from `other`, as it was when that was worked out.
    pub fn with_decided_of(&self, other: &Self) -> Self {
        let keep = self
            .all
            .iter()
            .filter(|(s, _)| !matches!(s, Subject::Decided(_)));
        let decided = other
            .all
            .iter()
            .filter(|(s, _)| matches!(s, Subject::Decided(_)));
        Self {
            all: keep.chain(decided).map(|(s, t)| (s.clone(), *t)).collect(),
        }
    }

    /// Every subject.
    pub fn subjects(&self) -> impl Iterator<Item = &Subject> {
        self.all.keys()
    }
}

/// Everything of a job that measuring can see: jobs with equal ones measure alike over the same scans, wherever those
/// lie.
pub(crate) fn measure_key(job: &Job, keys: &BTreeMap<ScanId, String>) -> [u8; 32] {
    let mut seen = Job {
        visits: job.visits.clone(),
        scans: job.scans.clone(),
        hand: job.hand.clone(),
        openings: job.openings.clone(),
        compares: job.compares.clone(),
        ..Job::default()
    };
    seen.centreline
        .image_of
        .clone_from(&job.centreline.image_of);
    // Joins rest on places; without them no place is seen.
    if !job.joins.is_empty() {
        seen.joins.clone_from(&job.joins);
        seen.taped.clone_from(&job.taped);
        seen.places.clone_from(&job.places);
        seen.places_table.clone_from(&job.places_table);
    }
    for v in &mut seen.visits {
        v.note.clear();
    }
    for s in &mut seen.scans {
        s.note.clear();
        s.side = record::Side::NotSaid;
        // The content is in the keys.
        s.path.clear();
        s.hash = None;
    }
    for table in &mut seen.hand {
        table.path = None;
        table.hash = None;
    }
    for o in &mut seen.openings {
        o.note.clear();
        o.sureness = None;
    }
    hash((&seen, keys))
}

fn openings_of<'a>(job: &'a Job, visit: &'a VisitId) -> impl Iterator<Item = &'a Opening> {
    job.openings.iter().filter(move |o| {
        job.scans
            .iter()
            .any(|s| s.id == o.scan && s.visit == *visit)
    })
}
