//! A first job from scans alone: openings, faces, junctions and holes that were found, and which left one belongs to
//! which right one. Everything in it is an offer with its sureness; a person looks at it before anything is believed.

mod across;
mod judge;
mod junctions;
mod outline;
mod pair;
mod profile;
mod shape;
mod side_words;
mod skin;
mod top;
mod write;

use geom::{Point, Vector};
use rayon::prelude::*;
use record::{Cancelled, Job, Prepared, Progress, ScanId, ScanRef, Scans, Side, Stage};

pub use across::{Across, Carried, carried, find_across};
pub use write::starting_part;

use judge::{Found, OPENING_MM};
use junctions::Line;
use pair::Pair;
use shape::Flat;
use skin::Skin;

/// What was found, as a job to be looked over.
#[derive(Clone, Debug, PartialEq)]
pub struct Proposal {
    /// The job. Every opening carries its sureness.
    pub job: Job,
    /// Why, and what to look at, in the order of the job.
    pub comments: Vec<Comment>,
}

/// A remark on something proposed.
#[derive(Clone, Debug, PartialEq)]
pub struct Comment {
    /// What it is about: the name of a scan, an opening or a comparison.
    pub about: String,
    /// What was seen and what to do about it.
    pub says: String,
    /// How sure it is, 0 to 1.
    pub sureness: f64,
}

/// Everything found, with what belongs together.
struct Findings<'a> {
    refs: &'a [ScanRef],
    found: Vec<Found>,
    flats: Vec<Flat>,
    sides: Vec<(Side, f64)>,
    pairs: Vec<Pair>,
    /// Up in each scan: direction, name of the axis, sureness.
    ups: Vec<(ScanId, Vector, &'static str, f64)>,
    /// Junctions with the opening each belongs to.
    lines: Vec<(usize, Line)>,
}

/// Looks for openings in every scan and pairs left with right. `refs` are the scans as the job is to name them;
/// those without points in `scans` stand in the job with a comment. Openings are inner borders 100 to 3,000 mm long
/// with a panel round them, with a return flange or at least a smooth line; the border of the scan itself and the
/// scanner's own small ragged holes are neither. Cost: a second or two a scan, hardly growing with its size.
///
/// # Errors
/// [`Cancelled`] if `at` says so; it is asked between steps of some 100 ms.
pub fn propose(refs: &[ScanRef], scans: &Scans, at: &dyn Progress) -> Result<Proposal, Cancelled> {
    let total = 4 * refs.len() + 1;
    let mut found: Vec<Found> = Vec::new();
    let mut lines = Vec::new();
    let mut ups = Vec::new();
    for (k, r) in refs.iter().enumerate() {
        at.at(Stage::Find, 4 * k, total)?;
        let Some(scan) = scans.get(&r.id) else {
            continue;
        };
        let skin = Skin::of(scan);
        at.at(Stage::Find, 4 * k + 1, total)?;
        let mut here = openings_in(&r.id, scan, &skin, &mut || {
            at.at(Stage::Find, 4 * k + 2, total)
        })?;
        at.at(Stage::Find, 4 * k + 3, total)?;
        let (up, axis, sure) = top::up_axis(&here.iter().collect::<Vec<_>>());
        ups.push((r.id.clone(), up, axis, sure));
        if !here.is_empty() {
            let panels: Vec<Point> = here.iter().map(|o| o.panel_face.0).collect();
            for line in junctions::junctions(&skin, &panels) {
                let middle = nalgebra::center(&line.ends[0], &line.ends[1]);
                lines.push((found.len() + nearest_opening(&here, &middle), line));
            }
        }
        found.append(&mut here);
    }
    at.at(Stage::Find, total - 1, total)?;
    let mut sides: Vec<(Side, f64)> = found.iter().map(|o| side_of_scan(refs, &o.scan)).collect();
    let flats: Vec<Flat> = found.iter().map(Flat::of).collect();
    let known: Vec<Side> = sides.iter().map(|s| s.0).collect();
    let mut pairs = pair::pairs(&found, &known, &flats);
    for p in &mut pairs {
        settle_sides(p, &found, &mut sides, &ups, &flats);
    }
    settle_turns(&mut pairs, &found, &flats);
    pairs.sort_by(|x, y| found[y.a].perimeter.total_cmp(&found[x.a].perimeter));
    at.at(Stage::Find, total, total)?;
    Ok(write::proposal(&Findings {
        refs,
        found,
        flats,
        sides,
        pairs,
        ups,
        lines,
    }))
}

/// The openings of one scan, longest first.
pub(crate) fn find(
    id: &ScanId,
    scan: &Prepared,
    at: &dyn Progress,
) -> Result<Vec<Found>, Cancelled> {
    let skin = Skin::of(scan);
    openings_in(id, scan, &skin, &mut || at.at(Stage::Find, 2, 3))
}

/// Openings of one scan with their holes, longest first.
fn openings_in(
    id: &ScanId,
    scan: &Prepared,
    skin: &Skin,
    at: &mut dyn FnMut() -> Result<(), Cancelled>,
) -> Result<Vec<Found>, Cancelled> {
    let outlines = outline::outlines(scan, skin, 6.0, OPENING_MM.1 * 1.2);
    at()?;
    let mut here: Vec<Found> = Vec::new();
    for some in outlines.chunks(16) {
        here.extend(
            some.par_iter()
                .filter_map(|o| judge::opening(id, o, skin))
                .collect::<Vec<_>>(),
        );
        at()?;
    }
    here.sort_by(|a, b| b.perimeter.total_cmp(&a.perimeter));
    let mut once: Vec<Found> = Vec::new();
    for o in here {
        // Front and back of one edge: the surer stands for both.
        let same = |p: &Found| {
            (p.centre - o.centre).norm() < 8.0 && (p.perimeter / o.perimeter).ln().abs() < 0.15
        };
        match once.iter_mut().find(|p| same(p)) {
            Some(p) if p.sureness < o.sureness => *p = o,
            Some(_) => {}
            None => once.push(o),
        }
    }
    let holes: Vec<judge::Round> = outlines
        .par_iter()
        .filter_map(|o| judge::round_hole(o, skin))
        .collect();
    judge::attach(&mut once, &holes);
    Ok(once)
}

fn nearest_opening(openings: &[Found], p: &Point) -> usize {
    let distance = |o: &Found| {
        o.edge
            .iter()
            .map(|q| (q - p).norm())
            .fold(f64::INFINITY, f64::min)
    };
    (0..openings.len())
        .min_by(|&i, &j| distance(&openings[i]).total_cmp(&distance(&openings[j])))
        .unwrap_or(0)
}

/// The side a scan shows: as a person said, else by the words of its file name.
fn side_of_scan(refs: &[ScanRef], id: &ScanId) -> (Side, f64) {
    match refs.iter().find(|r| r.id == *id).map(|r| r.side) {
        Some(Side::NotSaid) | None => side_words::side_of(&file_name(refs, id)),
        Some(said) => (said, 1.0),
    }
}

fn file_name(refs: &[ScanRef], id: &ScanId) -> String {
    let path = refs
        .iter()
        .find(|r| r.id == *id)
        .and_then(|r| r.path.file_name());
    path.map_or_else(|| id.0.clone(), |n| n.to_string_lossy().into_owned())
}

/// Turns of pairs that fit in several ways: by the surest pair of the same two scans that fits in one way only.
fn settle_turns(pairs: &mut [Pair], found: &[Found], flats: &[Flat]) {
    let scans = |p: &Pair| (found[p.a].scan.clone(), found[p.b].scan.clone());
    for k in 0..pairs.len() {
        if !pairs[k].laid.ambiguous {
            continue;
        }
        let anchor = pairs
            .iter()
            .filter(|p| !p.laid.ambiguous && scans(p) == scans(&pairs[k]))
            .max_by(|x, y| x.sureness.total_cmp(&y.sureness));
        if let Some(p) = anchor {
            let sure = shape::map_of(&flats[p.a], &flats[p.b], &p.laid);
            let Pair { a, b, laid, .. } = &mut pairs[k];
            shape::agree_with(&flats[*a], &flats[*b], laid, &sure);
        }
    }
}

/// Sides of a pair: by the words in the names, where only one has one the other is its opposite, else by place in the
/// scan if both are in one.
fn settle_sides(
    p: &mut Pair,
    found: &[Found],
    sides: &mut [(Side, f64)],
    ups: &[(ScanId, Vector, &'static str, f64)],
    flats: &[Flat],
) {
    let swap = match (sides[p.a].0, sides[p.b].0) {
        (Side::NotSaid, Side::NotSaid) => {
            let (a, b) = (&found[p.a], &found[p.b]);
            let up = ups.iter().find(|u| u.0 == a.scan);
            let told = up
                .filter(|_| a.scan == b.scan)
                .and_then(|u| Some((top::first_is_left(a, b, &u.1)?, u.3)));
            let (first_left, sure) = told.unwrap_or((true, 0.2));
            sides[p.a] = (if first_left { Side::Left } else { Side::Right }, sure);
            sides[p.b] = (if first_left { Side::Right } else { Side::Left }, sure);
            !first_left
        }
        (Side::NotSaid, Side::Right) => {
            sides[p.a] = (Side::Left, sides[p.b].1 * p.sureness);
            false
        }
        (Side::Left, Side::NotSaid) => {
            sides[p.b] = (Side::Right, sides[p.a].1 * p.sureness);
            false
        }
        _ => false,
    };
    if swap {
        std::mem::swap(&mut p.a, &mut p.b);
        p.laid = shape::lay_mirrored(&flats[p.a], &flats[p.b]);
    }
}
