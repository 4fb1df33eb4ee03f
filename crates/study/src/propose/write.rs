//! What was found, written down as a job with comments.

use geom::Point;
use record::{
    Allowed, BodyState, Car, Choices, Compare, EdgeKind, EdgePick, FacePick, Finish, HoleKind,
    HolePick, Job, JunctionPick, Opening, Part, PartId, Relation, Side, Stations, Through, Visit,
    VisitId,
};

use super::pair::Pair;
use super::shape::carry;
use super::{Comment, Findings, Proposal};

/// Starting values of a part; the comments say that they are to be replaced.
const GAP_MM: f64 = 2.0;
const ALLOWED_MM: f64 = 0.5;
const ALLOWED_DEG: f64 = 0.5;
const CUTTER_RADIUS_MM: f64 = 3.0;
/// Floor of face figures until the instrument is known, mm.
const FLATNESS_MM: f64 = 0.05;

struct Writer<'a> {
    f: &'a Findings<'a>,
    job: Job,
    comments: Vec<Comment>,
    tops: Vec<(Point, f64)>,
}

pub(super) fn proposal(f: &Findings) -> Proposal {
    let mut w = Writer {
        f,
        job: base(f),
        comments: Vec::new(),
        tops: tops(f),
    };
    w.scans();
    for (k, pair) in f.pairs.iter().enumerate() {
        w.pair(k + 1, pair);
    }
    let mut number = f.pairs.len();
    for i in 0..f.found.len() {
        if f.pairs.iter().all(|p| p.a != i && p.b != i) {
            number += 1;
            w.alone(number, i);
        }
    }
    Proposal {
        job: w.job,
        comments: w.comments,
    }
}

fn base(f: &Findings) -> Job {
    let mut visits: Vec<VisitId> = f.refs.iter().map(|r| r.visit.clone()).collect();
    visits.sort();
    visits.dedup();
    Job {
        title: "New job".to_owned(),
        seed: 1,
        cars: vec![Car {
            name: "car".to_owned(),
            note: String::new(),
        }],
        visits: visits
            .into_iter()
            .map(|id| Visit {
                id,
                car: "car".to_owned(),
                date: String::new(),
                operator: String::new(),
                instrument: String::new(),
                flatness_mm: FLATNESS_MM,
                state: BodyState::default(),
                note: String::new(),
            })
            .collect(),
        scans: f.refs.to_vec(),
        ..Job::default()
    }
}

/// Top of every opening with how sure it is: up in its scan; in a pair the surer one is carried to the other by shape,
/// so that both name the same place.
fn tops(f: &Findings) -> Vec<(Point, f64)> {
    let mut out: Vec<(Point, f64)> = f
        .found
        .iter()
        .zip(&f.flats)
        .map(|(o, flat)| {
            let up = f.ups.iter().find(|u| u.0 == o.scan);
            up.map_or((o.centre, 0.0), |u| {
                (flat.edge_towards(flat.direction_of(&(o.centre + u.1))), u.3)
            })
        })
        .collect();
    for p in &f.pairs {
        let (from, to) = if out[p.b].1 > out[p.a].1 {
            (p.b, p.a)
        } else {
            (p.a, p.b)
        };
        let sure = out[from].1 * if p.laid.ambiguous { 0.5 } else { 0.95 };
        out[to] = (
            carry(&f.flats[from], &f.flats[to], &p.laid, &out[from].0),
            sure,
        );
    }
    out
}

fn word(side: Side) -> &'static str {
    match side {
        Side::Left => "left",
        Side::Right => "right",
        Side::Centre => "centre",
        Side::NotSaid => "side-not-said",
    }
}

impl Writer<'_> {
    fn say(&mut self, about: &str, sureness: f64, says: String) {
        self.comments.push(Comment {
            about: about.to_owned(),
            says,
            sureness,
        });
    }

    fn scans(&mut self) {
        for r in self.f.refs {
            let count = self.f.found.iter().filter(|o| o.scan == r.id).count();
            match self.f.ups.iter().find(|u| u.0 == r.id) {
                None => self.say(
                    &r.id.0,
                    1.0,
                    "Not read: nothing was looked for in it.".to_owned(),
                ),
                Some(_) if count == 0 => {
                    let says =
                        "No opening was found. Pick its edge, or measure it by hand.".to_owned();
                    self.say(&r.id.0, 0.9, says);
                }
                Some(up) => {
                    let says = format!(
                        "{count} found; the scan's own {} axis is taken as up.",
                        up.2
                    );
                    let sure = up.3;
                    self.say(&r.id.0, sure, says);
                }
            }
        }
    }

    fn pair(&mut self, number: usize, p: &Pair) {
        let stem = format!("opening-{number}");
        let names: Vec<String> = [p.a, p.b]
            .iter()
            .map(|&i| format!("{stem}-{}", word(self.f.sides[i].0)))
            .collect();
        let hole_names = hole_names(
            self.f.found[p.a].holes.len(),
            self.f.found[p.b].holes.len(),
            &p.laid.holes,
        );
        self.opening(&names[0], number, p.a, &hole_names.0);
        self.opening(&names[1], number, p.b, &hole_names.1);
        let (a, b) = (&self.f.found[p.a], &self.f.found[p.b]);
        let mut says = format!(
            "Left and right put together by shape: {:.0} and {:.0} mm round, edges {:.1} mm apart on the mean.",
            a.perimeter, b.perimeter, p.laid.rest_mm
        );
        let unmatched = a.holes.len() + b.holes.len() - 2 * p.laid.holes.len();
        if unmatched > 0 {
            let holes = format!(" {unmatched} of the holes have no partner on the other side.");
            says.push_str(&holes);
        }
        if p.laid.ambiguous {
            says.push_str(
                " The shape fits in more than one turn: check that both tops name the same place.",
            );
        }
        self.compare(
            &stem,
            number,
            &names[0],
            Some(&names[1]),
            Relation::Mirrored,
        );
        self.say(&stem, p.sureness, says);
    }

    fn alone(&mut self, number: usize, i: usize) {
        let side = self.f.sides[i].0;
        let stem = format!("opening-{number}");
        let name = format!("{stem}-{}", word(side));
        let holes = hole_names(self.f.found[i].holes.len(), 0, &[]).0;
        self.opening(&name, number, i, &holes);
        match side {
            Side::Centre => {
                self.compare(&stem, number, &name, None, Relation::Itself);
                let says = "Across the centre: compared with its own mirror image.".to_owned();
                self.say(&stem, 0.8, says);
            }
            Side::Left => {
                self.compare(&stem, number, &name, None, Relation::Mirrored);
                self.say(
                    &stem,
                    0.7,
                    "No opening like it was found on the other side.".to_owned(),
                );
            }
            Side::Right | Side::NotSaid => {
                let says = "No partner was found, so it is compared with nothing yet.".to_owned();
                self.say(&stem, 0.7, says);
            }
        }
    }

    fn opening(&mut self, name: &str, number: usize, i: usize, hole_names: &[String]) {
        let o = &self.f.found[i];
        let (side, side_sure) = self.f.sides[i];
        let (top, top_sure) = self.tops[i];
        let mut faces = vec![face("panel", o.panel_face)];
        faces.extend(o.flange_face.map(|f| face("flange", f)));
        let mut junctions = Vec::new();
        let up = top - o.centre;
        let lines = self.f.lines.iter().filter(|l| l.0 == i);
        for (k, (_, line)) in lines.enumerate() {
            let id = format!("junction-{}", k + 1);
            let (a, b) = (format!("{id}-a"), format!("{id}-b"));
            faces.push(face(&a, line.faces[0]));
            faces.push(face(&b, line.faces[1]));
            let first_higher = (line.ends[0] - line.ends[1]).dot(&up) >= 0.0;
            junctions.push(JunctionPick {
                id: id.as_str().into(),
                a: a.as_str().into(),
                b: b.as_str().into(),
                start: line.ends[usize::from(!first_higher)],
                start_name: "top".to_owned(),
                end_name: "bottom".to_owned(),
                through: Through::Material,
                stations: Stations::Quarters,
                drawn_deg: None,
            });
        }
        let holes = o
            .holes
            .iter()
            .zip(hole_names)
            .map(|(h, id)| HolePick {
                id: id.as_str().into(),
                near: h.centre,
                kind: HoleKind::Hole,
                diameter_mm: Some((h.diameter * 10.0).round() / 10.0),
            })
            .collect();
        let mut says = format!(
            "{:.0} mm round, {} holes, {} junctions; {}.",
            o.perimeter,
            o.holes.len(),
            junctions.len(),
            o.because
        );
        if let Some(l) = self.f.lines.iter().find(|l| l.0 == i) {
            let longest = format!(
                " Its longest junction turns by about {:.0} degrees.",
                l.1.turn_deg
            );
            says.push_str(&longest);
        }
        if top_sure < 0.5 {
            says.push_str(" Click its top: which way is up could not be told from the scan.");
        }
        if side != Side::NotSaid && side_sure < 0.5 {
            says.push_str(" Check its side.");
        }
        let sureness = (o.sureness * 100.0).round() / 100.0;
        self.job.openings.push(Opening {
            id: name.into(),
            name: format!("Opening {number}"),
            scan: o.scan.clone(),
            side,
            edge: Some(EdgePick {
                near: o.near,
                kind: EdgeKind::Auto,
                by_hand: Vec::new(),
                closed: true,
            }),
            top: Some(top),
            outward: None,
            repeat_of: None,
            faces,
            junctions,
            holes,
            sureness: Some(sureness),
            note: String::new(),
        });
        self.say(name, sureness, says);
    }

    fn compare(&mut self, stem: &str, number: usize, a: &str, b: Option<&str>, relation: Relation) {
        let part = format!("part-{number}");
        self.job.compares.push(Compare {
            id: stem.into(),
            a: a.into(),
            b: b.map(Into::into),
            relation,
            part: part.as_str().into(),
        });
        let Choices { parts, .. } = &mut self.job.choices;
        parts.push(starting_part(
            part.as_str().into(),
            format!("Part {number}"),
        ));
    }
}

/// A part of which nothing is known yet but its name: gap and allowances (mm, degrees) are starting values of ours, and
/// its note asks for the agreed ones.
pub fn starting_part(id: PartId, name: String) -> Part {
    Part {
        id,
        name,
        gap_mm: GAP_MM,
        allowed: Allowed {
            tight_mm: ALLOWED_MM,
            wide_mm: ALLOWED_MM,
            proud_mm: ALLOWED_MM,
            shy_mm: ALLOWED_MM,
            angle_deg: ALLOWED_DEG,
        },
        evenness: None,
        fasteners: Vec::new(),
        gasket: None,
        finish: Finish::default(),
        cutter_radius_mm: CUTTER_RADIUS_MM,
        load_bearing: false,
        must_not_mirror: Vec::new(),
        seen_together: true,
        place: None,
        note: "Gap and what is allowed are starting values: put in what was agreed, and the fasteners."
            .to_owned(),
    }
}

fn face(id: &str, (near, facing): (Point, geom::Vector)) -> FacePick {
    FacePick {
        id: id.into(),
        near,
        facing: Some(facing),
        reach_mm: None,
        band_mm: None,
    }
}

/// Names of the holes of two openings: the same for partners, others for the rest.
fn hole_names(a: usize, b: usize, same: &[(usize, usize)]) -> (Vec<String>, Vec<String>) {
    let mut names = (vec![String::new(); a], vec![String::new(); b]);
    let mut number = 0;
    let mut fresh = || {
        number += 1;
        format!("hole-{number}")
    };
    for &(i, j) in same {
        let name = fresh();
        names.0[i].clone_from(&name);
        names.1[j] = name;
    }
    for n in names
        .0
        .iter_mut()
        .chain(&mut names.1)
        .filter(|n| n.is_empty())
    {
        *n = fresh();
    }
    names
}

#[cfg(test)]
mod tests {
    use super::hole_names;

    #[test]
    fn partners_share_a_name_and_the_rest_does_not() {
        let (a, b) = hole_names(3, 2, &[(2, 0)]);
        assert_eq!(a, ["hole-2", "hole-3", "hole-1"]);
        assert_eq!(b, ["hole-1", "hole-4"]);
    }
}
