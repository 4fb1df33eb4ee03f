//! What a job that can be read may still have wrong: names that lead nowhere, names given twice, sides that do not go
//! with the comparison, numbers that cannot be.

use std::collections::BTreeSet;
use std::fmt;

use geom::{Point, Vector};
use record::{
    Compare, EdgePick, Fastener, Fixing, HandTable, Job, JunctionPick, Opening, Part, Region,
    RegionShape, Relation, ScanRef, Side, Stations, UnitSource, Visit,
};

use super::nearest::nearest;

/// Something wrong with a job.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Problem {
    /// Where: `opening "lamp-left", junction "A"`.
    pub place: String,
    /// What is wrong; lower case, no final period.
    pub says: String,
    /// What to do about it; lower case, no final period.
    pub hint: String,
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.place, self.says)
    }
}

/// Everything that is wrong with a job, in the order of its parts; empty if it can be measured.
pub fn check_job(job: &Job) -> Vec<Problem> {
    let mut check = Check::default();
    check.unique("car", job.cars.iter().map(|c| c.name.as_str()), "");
    check.unique("visit", job.visits.iter().map(|v| v.id.0.as_str()), "");
    check.unique("scan", scan_names(job), "");
    check.unique("opening", job.openings.iter().map(|o| o.id.0.as_str()), "");
    check.unique(
        "part",
        job.choices.parts.iter().map(|p| p.id.0.as_str()),
        "",
    );
    check.unique("compare", job.compares.iter().map(|c| c.id.0.as_str()), "");
    for visit in &job.visits {
        check.visit(job, visit);
    }
    for scan in &job.scans {
        check.scan(job, scan);
    }
    for table in &job.hand {
        check.hand(job, table);
    }
    check.places(job);
    check.joins(job);
    check.body_work(job);
    check.panels(job);
    for opening in &job.openings {
        check.opening(job, opening);
    }
    for part in &job.choices.parts {
        check.part(job, part);
    }
    for compare in &job.compares {
        check.compare(job, compare);
    }
    check.chosen(job);
    check.problems
}

/// Names of scans and of hand tables, which openings are in alike.
fn scan_names(job: &Job) -> impl Iterator<Item = &str> {
    let scans = job.scans.iter().map(|s| s.id.0.as_str());
    scans.chain(job.hand.iter().map(|h| h.id.0.as_str()))
}

#[derive(Default)]
pub(super) struct Check {
    problems: Vec<Problem>,
}

impl Check {
    pub(super) fn add(&mut self, place: &str, says: impl Into<String>, hint: impl Into<String>) {
        self.problems.push(Problem {
            place: place.to_owned(),
            says: says.into(),
            hint: hint.into(),
        });
    }

    pub(super) fn unique<'n>(
        &mut self,
        what: &str,
        names: impl Iterator<Item = &'n str>,
        within: &str,
    ) {
        let mut seen = BTreeSet::new();
        for name in names {
            let place = format!("{within}{what} \"{name}\"");
            if name.trim().is_empty() {
                self.add(&place, "the name is empty", "give it a name of its own");
            } else if !seen.insert(name) {
                self.add(
                    &place,
                    "this name is given twice",
                    format!("give every {what} a name of its own"),
                );
            }
        }
    }

    /// `name` must be one of `known`.
    pub(super) fn leads<'n>(
        &mut self,
        place: &str,
        what: &str,
        name: &str,
        known: impl Iterator<Item = &'n str>,
    ) -> bool {
        let known: Vec<&str> = known.collect();
        if known.contains(&name) {
            return true;
        }
        let hint = match nearest(name, &known) {
            Some(near) => format!("the nearest name is \"{near}\""),
            None if known.is_empty() => format!("the job has no {what} yet: add it"),
            None => format!("known are: {}", known.join(", ")),
        };
        self.add(place, format!("there is no {what} called \"{name}\""), hint);
        false
    }

    pub(super) fn number(
        &mut self,
        place: &str,
        field: &str,
        value: f64,
        fits: impl Fn(f64) -> bool,
        wanted: &str,
    ) {
        if !value.is_finite() || !fits(value) {
            let says = format!("\"{field}\" is {value}, expected {wanted}");
            self.add(place, says, format!("correct \"{field}\""));
        }
    }

    fn not_negative(&mut self, place: &str, field: &str, value: f64) {
        self.number(place, field, value, |v| v >= 0.0, "a number of at least 0");
    }

    pub(super) fn positive(&mut self, place: &str, field: &str, value: Option<f64>) {
        if let Some(value) = value {
            self.number(place, field, value, |v| v > 0.0, "a number above 0");
        }
    }

    pub(super) fn point(&mut self, place: &str, field: &str, p: &Point) {
        if !p.iter().all(|c| c.is_finite()) {
            self.add(
                place,
                format!("\"{field}\" is no point"),
                format!("give \"{field}\" as three numbers"),
            );
        }
    }

    pub(super) fn direction(&mut self, place: &str, field: &str, v: Option<&Vector>) {
        if let Some(v) = v
            && !(v.norm() > 0.0 && v.norm().is_finite())
        {
            self.add(
                place,
                format!("\"{field}\" is no direction"),
                "give three numbers that are not all 0",
            );
        }
    }

    fn visit(&mut self, job: &Job, visit: &Visit) {
        let place = format!("visit \"{}\"", visit.id);
        if !(job.cars.is_empty() && visit.car.is_empty()) {
            self.leads(
                &place,
                "car",
                &visit.car,
                job.cars.iter().map(|c| c.name.as_str()),
            );
        }
        self.positive(&place, "flatness_mm", Some(visit.flatness_mm));
        for (field, film) in [
            ("left_film_um", visit.state.left_film_um),
            ("right_film_um", visit.state.right_film_um),
            ("left_film_u95_um", visit.state.left_film_u95_um),
            ("right_film_u95_um", visit.state.right_film_u95_um),
        ] {
            if let Some(film) = film {
                self.not_negative(&place, field, film);
            }
        }
        if let Some(t) = visit.state.temperature_c {
            self.number(
                &place,
                "temperature_c",
                t,
                |t| (-60.0..=80.0).contains(&t),
                "a temperature from -60 to 80",
            );
        }
    }

    fn scan(&mut self, job: &Job, scan: &ScanRef) {
        let place = format!("scan \"{}\"", scan.id);
        self.leads(
            &place,
            "visit",
            &scan.visit.0,
            job.visits.iter().map(|v| v.id.0.as_str()),
        );
        if scan.path.as_os_str().is_empty() {
            self.add(
                &place,
                "\"path\" is empty",
                "give the path of the scan file, from the folder of the job file",
            );
        }
        if let UnitSource::Checked { from, to, taped_mm } = &scan.unit_source {
            self.point(&place, "from_mm", from);
            self.point(&place, "to_mm", to);
            self.positive(&place, "taped_mm", Some(*taped_mm));
            if from == to {
                self.add(
                    &place,
                    "\"from_mm\" and \"to_mm\" are one point",
                    "give the two ends of the taped length",
                );
            }
        }
        for (field, regions) in [("keep", &scan.keep), ("aside", &scan.aside)] {
            for (i, region) in regions.iter().enumerate() {
                self.region(&format!("{place}, {field} {}", i + 1), region);
            }
        }
    }

    fn hand(&mut self, job: &Job, table: &HandTable) {
        let place = format!("hand table \"{}\"", table.id);
        self.leads(
            &place,
            "visit",
            &table.visit.0,
            job.visits.iter().map(|v| v.id.0.as_str()),
        );
        if let Some([says, hint]) = &table.unread {
            self.add(&place, says.clone(), hint.clone());
        }
        for i in &table.instruments {
            let place = format!("{place}, instrument \"{}\"", i.name);
            self.positive(&place, "reading", Some(i.reading));
            self.not_negative(&place, "own", i.own);
            self.not_negative(&place, "own_per_m", i.own_per_m);
        }
    }

    pub(super) fn region(&mut self, place: &str, region: &Region) {
        match &region.shape {
            RegionShape::Box { low, high } => {
                self.point(place, "low_mm", low);
                self.point(place, "high_mm", high);
                if (0..3).any(|a| low[a] > high[a]) {
                    self.add(
                        place,
                        "\"low_mm\" is above \"high_mm\"",
                        "swap the numbers that are the wrong way round",
                    );
                }
            }
            RegionShape::Lasso {
                origin,
                right,
                up,
                corners,
            } => {
                self.point(place, "origin_mm", origin);
                self.direction(place, "right", Some(right));
                self.direction(place, "up", Some(up));
                if corners.len() < 3 || !corners.iter().flatten().all(|c| c.is_finite()) {
                    let says = format!(
                        "\"corners_mm\" has {} corners, expected 3 or more",
                        corners.len()
                    );
                    self.add(place, says, "draw the region again");
                }
            }
        }
    }

    fn opening(&mut self, job: &Job, o: &Opening) {
        let place = format!("opening \"{}\"", o.id);
        self.leads(&place, "scan", &o.scan.0, scan_names(job));
        self.repeat(&place, job, o);
        let within = format!("{place}, ");
        self.unique("face", o.faces.iter().map(|f| f.id.0.as_str()), &within);
        self.unique(
            "junction",
            o.junctions.iter().map(|j| j.id.0.as_str()),
            &within,
        );
        self.unique("hole", o.holes.iter().map(|h| h.id.0.as_str()), &within);
        if let Some(edge) = &o.edge {
            self.edge(&format!("{place}, edge"), edge);
        }
        if let Some(top) = &o.top {
            self.point(&place, "top_mm", top);
        }
        self.direction(&place, "outward", o.outward.as_ref());
        if let Some(sureness) = o.sureness {
            self.number(
                &place,
                "sureness",
                sureness,
                |s| (0.0..=1.0).contains(&s),
                "a share from 0 to 1",
            );
        }
        for face in &o.faces {
            let place = format!("{place}, face \"{}\"", face.id);
            self.point(&place, "near_mm", &face.near);
            self.direction(&place, "facing", face.facing.as_ref());
            self.positive(&place, "reach_mm", face.reach_mm);
            if let Some(band) = face.band_mm {
                self.not_negative(&place, "band_mm", band);
            }
        }
        for junction in &o.junctions {
            self.junction(
                &format!("{place}, junction \"{}\"", junction.id),
                o,
                junction,
            );
        }
        for hole in &o.holes {
            let place = format!("{place}, hole \"{}\"", hole.id);
            self.point(&place, "near_mm", &hole.near);
            self.positive(&place, "diameter_mm", hole.diameter_mm);
        }
    }

    /// A further reading is of the same metal, in another scan of the same visit.
    fn repeat(&mut self, place: &str, job: &Job, o: &Opening) {
        let Some(first) = &o.repeat_of else { return };
        let known = job.openings.iter().map(|o| o.id.0.as_str());
        if !self.leads(place, "opening", &first.0, known) {
            return;
        }
        let Some(first) = job.openings.iter().find(|x| x.id == *first) else {
            return;
        };
        let name = &first.id;
        let visit = |o: &Opening| job.visit_of(o);
        let mut wrong = |says: String, hint: &str| self.add(place, says, hint);
        if first.id == o.id {
            wrong(
                "\"repeat_of\" names the opening itself".to_owned(),
                "name the first reading of the same opening",
            );
        } else if first.repeat_of.is_some() {
            wrong(
                format!("\"{name}\" is a further reading itself"),
                "name the first reading of the same opening",
            );
        } else if first.scan == o.scan {
            wrong(
                format!("\"{name}\" is in the same scan"),
                "a further reading needs a scan of its own, re-seated",
            );
        } else if first.side != o.side {
            wrong(
                format!("\"{name}\" is on another side"),
                "name an opening of the same side, or correct \"side\"",
            );
        } else if visit(first) != visit(o) {
            wrong(
                format!("\"{name}\" is of another visit"),
                "compare readings of two visits with the relation \"same\" instead",
            );
        }
        if job
            .compares
            .iter()
            .any(|c| c.a == o.id || c.b.as_ref() == Some(&o.id))
        {
            let says = "it is a further reading and compared by itself as well";
            self.add(
                place,
                says,
                "compare the first reading: the others are in it",
            );
        }
    }

    fn edge(&mut self, place: &str, edge: &EdgePick) {
        if edge.by_hand.is_empty() {
            self.point(place, "near_mm", &edge.near);
            return;
        }
        let least = if edge.closed { 3 } else { 2 };
        if edge.by_hand.len() < least {
            let says = format!(
                "\"by_hand_mm\" has {} points, expected {least} or more",
                edge.by_hand.len()
            );
            self.add(
                place,
                says,
                "measure more points along the edge, or take the field out",
            );
        }
        for p in &edge.by_hand {
            self.point(place, "by_hand_mm", p);
        }
    }

    fn junction(&mut self, place: &str, o: &Opening, j: &JunctionPick) {
        for face in [&j.a, &j.b] {
            self.leads(
                place,
                "face",
                &face.0,
                o.faces.iter().map(|f| f.id.0.as_str()),
            );
        }
        if j.a == j.b {
            self.add(
                place,
                format!("both faces are \"{}\"", j.a),
                "name the two faces that meet",
            );
        }
        self.point(place, "start_mm", &j.start);
        if j.start_name == j.end_name {
            let says = format!("both ends are called \"{}\"", j.start_name);
            self.add(
                place,
                says,
                "call them by where they are: \"top\" and \"bottom\"",
            );
        }
        if let Stations::Every(spacing) = j.stations {
            self.positive(place, "spacing_mm", Some(spacing));
        }
        if let Some(drawn) = j.drawn_deg {
            self.number(
                place,
                "drawn_deg",
                drawn,
                |d| d > 0.0 && d < 360.0,
                "an angle between 0 and 360",
            );
        }
    }

    fn part(&mut self, job: &Job, part: &Part) {
        let place = format!("part \"{}\"", part.id);
        self.not_negative(&place, "gap_mm", part.gap_mm);
        self.not_negative(&place, "cutter_radius_mm", part.cutter_radius_mm);
        let a = &part.allowed;
        for (field, value) in [
            ("tight_mm", a.tight_mm),
            ("wide_mm", a.wide_mm),
            ("proud_mm", a.proud_mm),
            ("shy_mm", a.shy_mm),
            ("angle_deg", a.angle_deg),
        ] {
            self.not_negative(&format!("{place}, allowed"), field, value);
        }
        if part
            .place
            .is_some_and(|p| p.iter().any(|v| !(0.0..=1.0).contains(v)))
        {
            let says = "\"place\" lies outside the body".to_owned();
            self.add(&place, says, "give two shares between 0 and 1");
        }
        if let Some(e) = part.evenness {
            let place = format!("{place}, evenness");
            self.positive(&place, "within_mm", Some(e.within_mm));
            self.positive(&place, "taper_mm", Some(e.taper_mm));
        }
        self.not_negative(&format!("{place}, finish"), "part_mm", part.finish.part_mm);
        self.not_negative(&format!("{place}, finish"), "body_mm", part.finish.body_mm);
        if let Some(g) = part.gasket {
            let place = format!("{place}, gasket");
            self.positive(&place, "thickness_mm", Some(g.thickness_mm));
            if !(0.0 <= g.least && g.least <= g.most && g.most <= 1.0) {
                let says = format!(
                    "\"least_share\" is {} and \"most_share\" {}",
                    g.least, g.most
                );
                self.add(&place, says, "give shares between 0 and 1, the least first");
            }
        }
        let holes: BTreeSet<&str> = job
            .compares
            .iter()
            .filter(|c| c.part == part.id)
            .flat_map(|c| [Some(&c.a), c.b.as_ref()])
            .flatten()
            .filter_map(|id| job.openings.iter().find(|o| o.id == *id))
            .flat_map(|o| o.holes.iter().map(|h| h.id.0.as_str()))
            .collect();
        let used = job.compares.iter().any(|c| c.part == part.id);
        for fastener in &part.fasteners {
            let place = format!("{place}, fastener \"{}\"", fastener.hole);
            if used {
                self.leads(
                    &place,
                    "hole in its openings",
                    &fastener.hole.0,
                    holes.iter().copied(),
                );
            }
            self.fastener(&place, fastener);
        }
        self.unique(
            "fastener",
            part.fasteners.iter().map(|f| f.hole.0.as_str()),
            &format!("{place}, "),
        );
    }

    fn fastener(&mut self, place: &str, f: &Fastener) {
        self.positive(place, "fastener_mm", Some(f.fastener_mm));
        let wider = |v: f64| v >= f.fastener_mm;
        self.number(
            place,
            "part_hole_mm",
            f.part_hole_mm,
            wider,
            "at least \"fastener_mm\"",
        );
        if f.fixing == Fixing::Floating {
            self.number(
                place,
                "body_hole_mm",
                f.body_hole_mm,
                wider,
                "at least \"fastener_mm\" where a bolt floats",
            );
        }
        let (least, most) = f.shim_mm;
        if !(0.0 <= least && least <= most && most.is_finite()) {
            self.add(
                place,
                format!("\"shim_mm\" is ({least}, {most})"),
                "give the least and the most, both at least 0",
            );
        }
        if let Some(slot) = f.slot {
            self.not_negative(place, "extra_mm", slot.extra_mm);
            let along = slot.along[0].hypot(slot.along[1]);
            if along == 0.0 || !along.is_finite() {
                self.add(
                    place,
                    "\"along\" is no direction",
                    "give two numbers that are not both 0",
                );
            }
        }
    }

    fn compare(&mut self, job: &Job, c: &Compare) {
        let place = format!("compare \"{}\"", c.id);
        let openings = || job.openings.iter().map(|o| o.id.0.as_str());
        self.leads(&place, "opening", &c.a.0, openings());
        if let Some(b) = &c.b {
            self.leads(&place, "opening", &b.0, openings());
        }
        self.leads(
            &place,
            "part",
            &c.part.0,
            job.choices.parts.iter().map(|p| p.id.0.as_str()),
        );
        let side =
            |id: &record::OpeningId| job.openings.iter().find(|o| o.id == *id).map(|o| o.side);
        let (a, b) = (side(&c.a), c.b.as_ref().and_then(side));
        match c.relation {
            Relation::Mirrored => {
                if matches!(a, Some(Side::Right | Side::Centre))
                    || matches!(b, Some(Side::Left | Side::Centre))
                {
                    let hint = "name the left opening as \"a\" and the right one as \"b\", or correct their \"side\"";
                    let says = "a mirrored comparison takes the left opening as \"a\" and the right one as \"b\"";
                    self.add(&place, says, hint);
                }
            }
            Relation::Itself if c.b.is_some() => {
                self.add(
                    &place,
                    "an opening compared with itself has no \"b\"",
                    "take \"b\" out, or name another relation",
                );
            }
            Relation::Itself | Relation::Same => {}
        }
        if c.b.as_ref() == Some(&c.a) {
            self.add(
                &place,
                format!("\"a\" and \"b\" are both \"{}\"", c.a),
                "name two openings, or take the relation \"itself\"",
            );
        }
    }

    fn chosen(&mut self, job: &Job) {
        let mut seen = BTreeSet::new();
        for (id, _, _) in &job.choices.chosen {
            let place = format!("chosen for \"{id}\"");
            self.leads(
                &place,
                "compare",
                &id.0,
                job.compares.iter().map(|c| c.id.0.as_str()),
            );
            if !seen.insert(id) {
                self.add(&place, "an option is chosen twice", "keep one of them");
            }
        }
    }
}
