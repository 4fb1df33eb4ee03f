//! Commands in words.

use record::{
    Centreline, CentrelineWay, Fixing, HoleKind, Job, Mounting, OpeningId, OptionKind, Place,
    Relation, ScanId, Side, Surface, Through,
};

use crate::command::{
    Command, CompareChange, FaceChange, FastenerChange, HandChange, HoleChange, JunctionChange,
    OpeningChange, PartChange, ScanChange, VisitChange,
};

pub(crate) fn name(command: &Command, job: &Job) -> String {
    match command {
        Command::Title(to) => format!("title: {to}"),
        Command::Note(_) => "note of the job".to_owned(),
        Command::Seed(to) => format!("seed {to}"),
        Command::Show(_) => "how numbers are shown".to_owned(),
        Command::AddCar(car) => format!("add car {}", car.name),
        Command::RemoveCar(name) => format!("delete car {name}"),
        Command::AddVisit(visit) => format!("add visit {}", visit.id),
        Command::RemoveVisit(id) => format!("delete visit {id}"),
        Command::Visit { visit, change } => format!("{visit}: {}", visit_change(change)),
        Command::AddScan(scan) => format!("bring in {}", scan.id),
        Command::RemoveScan(id) => remove_scan(job, id),
        Command::Scan { scan, change } => scan_change(&scan.0, change),
        Command::AddHand(table) => format!("add table {}", table.id),
        Command::RemoveHand(id) => format!("delete table {id}"),
        Command::Hand { table, change } => hand_change(job, &table.0, change),
        Command::AddPlaces(places) => match places.as_slice() {
            [one] => format!("add place {}", place_words(one)),
            more => format!("add {} places", more.len()),
        },
        Command::ChangePlace { to, .. } => format!("place {}", place_words(to)),
        Command::RemovePlace(number) => {
            let place = job.every_place().nth(*number).map(place_words);
            format!("delete place {}", place.unwrap_or_default())
        }
        Command::Joins(joins) if joins.len() > job.joins.len() => "join scans".to_owned(),
        Command::Joins(joins) if joins.len() < job.joins.len() => "take scans apart".to_owned(),
        Command::Joins(_) => "how scans are joined".to_owned(),
        Command::Taped(all) if all.len() > job.taped.len() => "add taped length".to_owned(),
        Command::Taped(all) if all.len() < job.taped.len() => "delete taped length".to_owned(),
        Command::Taped(_) => "taped lengths".to_owned(),
        Command::Gaps(_) => "gaps to neighbours".to_owned(),
        Command::Hinges(_) => "hinges".to_owned(),
        Command::BodyWork(works) => match works.len().cmp(&job.body_work.len()) {
            std::cmp::Ordering::Greater => "scans before and after".to_owned(),
            std::cmp::Ordering::Less => "scans before and after taken apart".to_owned(),
            std::cmp::Ordering::Equal => "what is said of the body work".to_owned(),
        },
        Command::Centreline(to) => centreline(&job.centreline, to),
        Command::AddOpening(opening) => format!("add {}", opening.id),
        Command::RemoveOpening(id) => format!("delete {id}"),
        Command::Opening { opening, change } => opening_change(job, opening, change),
        Command::AddCompare(compare) => format!("compare {}", compare.id),
        Command::RemoveCompare(id) => format!("delete comparison {id}"),
        Command::Compare { compare, change } => format!("{compare}: {}", compare_change(change)),
        Command::AddPart(part) => format!("add part {}", part.name),
        Command::RemovePart(id) => format!("delete part {}", part_name(job, &id.0)),
        Command::Part { part, change } => {
            let says = part_change(change);
            if job.choices.parts.len() > 1 {
                format!("{}: {says}", part_name(job, &part.0))
            } else {
                says
            }
        }
        Command::Choose {
            compare, option, ..
        } => format!("choose for {compare}: {}", option_word(*option)),
        Command::Unchoose(id) => format!("take back the choice for {id}"),
        Command::Several { name, .. } => name.clone(),
    }
}

/// A scan that is taken out, with what goes with it beside the openings and places picked in it.
fn remove_scan(job: &Job, id: &ScanId) -> String {
    let mut after = job.clone();
    let mut with = Vec::new();
    if crate::apply::scan::remove(&mut after, id).is_ok() {
        for (before, now, one, more) in [
            (job.joins.len(), after.joins.len(), "join", "joins"),
            (
                job.taped.len(),
                after.taped.len(),
                "taped length",
                "taped lengths",
            ),
            (
                job.body_work.len(),
                after.body_work.len(),
                "side before and after",
                "sides before and after",
            ),
            (job.gaps.len(), after.gaps.len(), "gap", "gaps"),
            (job.hinges.len(), after.hinges.len(), "hinge", "hinges"),
        ] {
            with.extend(counted(before.saturating_sub(now), one, more));
        }
        if job.centreline.way != after.centreline.way {
            with.push("how the centreline is laid".to_owned());
        }
    }
    if with.is_empty() {
        format!("delete scan {id}")
    } else {
        format!("delete scan {id} with {}", with.join(", "))
    }
}

/// What of the centreline is changed.
fn centreline(was: &Centreline, to: &Centreline) -> String {
    let image = to.image_of.as_ref().map_or("a scan", |s| &s.0);
    if was.way != to.way {
        return match to.way {
            CentrelineWay::Pairs => "centreline by pairs".to_owned(),
            CentrelineWay::CentrePlaces => "centreline by places on the centre".to_owned(),
            CentrelineWay::ThreeTwoOne { .. } => {
                "centreline by three, two and one places".to_owned()
            }
            CentrelineWay::OwnImage => format!("centreline by the own mirror image of {image}"),
            CentrelineWay::None => "no centreline".to_owned(),
        };
    }
    if was.image_of != to.image_of {
        return match &to.image_of {
            Some(scan) => format!("own mirror image of {scan} looked at"),
            None => "own mirror image not looked at".to_owned(),
        };
    }
    "what is forward".to_owned()
}

fn place_words(place: &Place) -> String {
    format!("{}, {}", place.name, side_word(place.side))
}

/// At least one decimal, and no more digits than were typed.
fn number(value: f64) -> String {
    format!("{value:?}")
}

fn maybe(value: Option<f64>) -> String {
    value.map_or_else(|| "not said".to_owned(), number)
}

fn part_name(job: &Job, id: &str) -> String {
    let part = job.choices.parts.iter().find(|p| p.id.0 == id);
    part.map_or_else(|| id.to_owned(), |p| p.name.clone())
}

/// `1 join`, `3 joins`; nothing where there is none.
pub(crate) fn counted(count: usize, one: &str, more: &str) -> Option<String> {
    match count {
        0 => None,
        1 => Some(format!("1 {one}")),
        n => Some(format!("{n} {more}")),
    }
}

fn yes_no(on: bool) -> &'static str {
    if on { "yes" } else { "no" }
}

fn side_word(side: Side) -> &'static str {
    match side {
        Side::Left => "left",
        Side::Right => "right",
        Side::Centre => "across the centre",
        Side::NotSaid => "not said",
    }
}

fn surface_word(surface: Surface) -> &'static str {
    match surface {
        Surface::NotNoted => "not noted",
        Surface::Bare => "bare",
        Surface::Primed => "primed",
        Surface::Painted => "painted",
    }
}

fn option_word(option: OptionKind) -> &'static str {
    match option {
        OptionKind::OneShape => "one shape",
        OptionKind::MirrorA => "the first one, mirrored",
        OptionKind::MirrorB => "the second one, mirrored",
        OptionKind::Midway => "midway shape, mirrored",
        OptionKind::OneShapeWithSlots => "one shape, with slots",
        OptionKind::OneShapeWithShims => "one shape, with shims",
        OptionKind::MirrorAWithSlots => "the first one, mirrored, with slots",
        OptionKind::MidwayWithSlots => "midway shape, with slots",
        OptionKind::MirrorAWithShims => "the first one, mirrored, with shims",
        OptionKind::MidwayWithShims => "midway shape, with shims",
        OptionKind::TwoHands => "two hands",
    }
}

fn visit_change(change: &VisitChange) -> String {
    match change {
        VisitChange::Rename(to) => format!("rename to {to}"),
        VisitChange::Car(to) => format!("car {to}"),
        VisitChange::Date(to) => format!("date {to}"),
        VisitChange::Operator(to) => format!("measured by {to}"),
        VisitChange::Instrument(to) => format!("instrument {to}"),
        VisitChange::Flatness(to) => format!("flatness {}", number(*to)),
        VisitChange::Mounting(to) => format!(
            "body {}",
            match to {
                Mounting::NotNoted => "mounting not noted",
                Mounting::OnMounts => "on its mounts",
                Mounting::OnStands => "on stands",
            }
        ),
        VisitChange::Surface { side, surface } => {
            format!("{} is {}", side_word(*side), surface_word(*surface))
        }
        VisitChange::Film { side, film_um } => {
            format!("film on the {} {}", side_word(*side), maybe(*film_um))
        }
        VisitChange::DoorsHung(to) => {
            format!("doors hung: {}", to.map_or("not noted", yes_no))
        }
        VisitChange::Temperature(to) => format!("temperature {}", maybe(*to)),
        VisitChange::Note(_) => "note".to_owned(),
    }
}

fn scan_change(scan: &str, change: &ScanChange) -> String {
    match change {
        ScanChange::Rename(to) => format!("rename {scan} to {to}"),
        ScanChange::Unit { unit, .. } => format!("unit of {scan}: {}", unit.word()),
        ScanChange::Side(side) => format!("side of {scan}: {}", side_word(*side)),
        ScanChange::Visit(to) => format!("visit of {scan}: {to}"),
        ScanChange::Path(_) => format!("file of {scan}"),
        ScanChange::Hash(_) => format!("accept the file of {scan}"),
        ScanChange::Keep(_) => format!("keep a part of {scan}"),
        ScanChange::PutAside(_) => format!("put a part of {scan} aside"),
        ScanChange::RemoveRegion { kept, .. } => {
            let which = if *kept { "kept" } else { "put aside" };
            format!("take back what was {which} in {scan}")
        }
        ScanChange::LargestPieceOnly(on) => {
            let how = if *on {
                "largest piece only"
            } else {
                "all pieces"
            };
            format!("{scan}: {how}")
        }
        ScanChange::Note(_) => format!("note of {scan}"),
    }
}

fn hand_change(job: &Job, table: &str, change: &HandChange) -> String {
    match change {
        HandChange::Reading {
            opening,
            of,
            written,
        } => {
            let o = job.openings.iter().find(|o| o.id == *opening);
            let whose = o.map_or(table, |o| match o.side {
                Side::Left | Side::Right => side_word(o.side),
                Side::Centre | Side::NotSaid => &o.name,
            });
            let written = written.trim();
            let what = if written.is_empty() { "blank" } else { written };
            format!("{whose}, {}: {what}", of.says())
        }
        HandChange::Flat(on) => format!("{table} lies in one plane: {}", yes_no(*on)),
        HandChange::RemoveInstrument(name) => format!("delete instrument {name} of {table}"),
        HandChange::RemoveOperator(name) => format!("delete {name}, who read {table}"),
        HandChange::Note(_) => format!("note of {table}"),
    }
}

fn opening_change(job: &Job, id: &OpeningId, change: &OpeningChange) -> String {
    let set = |what: &str, is: bool| {
        if is {
            format!("{what} of {id}")
        } else {
            format!("delete the {what} of {id}")
        }
    };
    match change {
        OpeningChange::Rename(to) => format!("rename {id} to {to}"),
        OpeningChange::Name(to) => format!("call {id} \"{to}\""),
        OpeningChange::Side(side) => format!("side of {id}: {}", side_word(*side)),
        OpeningChange::Edge(edge) => set("edge", edge.is_some()),
        OpeningChange::Top(top) => set("top", top.is_some()),
        OpeningChange::Outward(out) => set("outward direction", out.is_some()),
        OpeningChange::AddFace(face) => format!("add face {} of {id}", face.id),
        OpeningChange::RemoveFace(face) => format!("delete face {face} of {id}"),
        OpeningChange::Face { face, change } => match change {
            FaceChange::Rename(to) => format!("rename face {face} of {id} to {to}"),
            FaceChange::Near(_) => format!("move face {face} of {id}"),
            FaceChange::Facing(_) => format!("facing of face {face} of {id}"),
            FaceChange::Reach(to) => {
                let before = job
                    .openings
                    .iter()
                    .find(|o| o.id == *id)
                    .and_then(|o| o.faces.iter().find(|f| f.id == *face))
                    .and_then(|f| f.reach_mm);
                let larger = to.unwrap_or(f64::INFINITY) > before.unwrap_or(f64::INFINITY);
                let word = if larger { "grow" } else { "shrink" };
                format!("{word} face {face} of {id}")
            }
            FaceChange::Band(to) => format!("band of face {face} of {id} {}", maybe(*to)),
        },
        OpeningChange::AddJunction(j) => format!("add junction {} of {id}", j.id),
        OpeningChange::RemoveJunction(j) => format!("delete junction {j} of {id}"),
        OpeningChange::Junction { junction, change } => {
            let what = match change {
                JunctionChange::Rename(to) => {
                    return format!("rename junction {junction} to {to}");
                }
                JunctionChange::Faces(a, b) => format!("faces {a} and {b}"),
                JunctionChange::Start(_) => "start".to_owned(),
                JunctionChange::EndNames(a, b) => format!("from {a} to {b}"),
                JunctionChange::Through(Through::Material) => "through the metal".to_owned(),
                JunctionChange::Through(Through::Air) => "through the air".to_owned(),
                JunctionChange::Stations(_) => "where angles are given".to_owned(),
                JunctionChange::Drawn(to) => format!("drawn {}", maybe(*to)),
            };
            format!("junction {junction} of {id}: {what}")
        }
        OpeningChange::AddHole(h) => format!("add hole {} of {id}", h.id),
        OpeningChange::RemoveHole(h) => format!("delete hole {h} of {id}"),
        OpeningChange::Hole { hole, change } => match change {
            HoleChange::Rename(to) => format!("rename hole {hole} to {to}"),
            HoleChange::Near(_) => format!("move hole {hole} of {id}"),
            HoleChange::Kind(HoleKind::Hole) => format!("{hole} of {id} is a hole"),
            HoleChange::Kind(HoleKind::Stud) => format!("{hole} of {id} is a stud"),
            HoleChange::Diameter(to) => format!("diameter of hole {hole} of {id} {}", maybe(*to)),
        },
        OpeningChange::Keep => format!("keep {id}"),
        OpeningChange::Skip => format!("skip {id}"),
        OpeningChange::Note(_) => format!("note of {id}"),
    }
}

fn compare_change(change: &CompareChange) -> String {
    match change {
        CompareChange::Rename(to) => format!("rename to {to}"),
        CompareChange::Openings(a, Some(b)) => format!("{a} with {b}"),
        CompareChange::Openings(a, None) => format!("{a} alone"),
        CompareChange::Relation(Relation::Mirrored, _) => "left with mirrored right".to_owned(),
        CompareChange::Relation(Relation::Same, _) => "like with like".to_owned(),
        CompareChange::Relation(Relation::Itself, _) => "with its own mirror image".to_owned(),
        CompareChange::Part(part) => format!("part {part}"),
    }
}

fn part_change(change: &PartChange) -> String {
    match change {
        PartChange::Rename(to) => format!("rename to {to}"),
        PartChange::Name(to) => format!("called {to}"),
        PartChange::Gap(to) => format!("gap {}", number(*to)),
        PartChange::Tight(to) => format!("tighter by at most {}", number(*to)),
        PartChange::Wide(to) => format!("wider by at most {}", number(*to)),
        PartChange::Proud(to) => format!("proud by at most {}", number(*to)),
        PartChange::Shy(to) => format!("shy by at most {}", number(*to)),
        PartChange::Angle(to) => format!("angle off by at most {}", number(*to)),
        PartChange::AddFastener(f) => format!("add fastener at {}", f.hole),
        PartChange::RemoveFastener(hole) => format!("delete fastener at {hole}"),
        PartChange::Fastener { hole, change } => {
            let what = match change {
                FastenerChange::Diameter(to) => format!("diameter {}", number(*to)),
                FastenerChange::PartHole(to) => format!("hole in the part {}", number(*to)),
                FastenerChange::BodyHole(to) => format!("hole in the body {}", number(*to)),
                FastenerChange::Fixing(Fixing::Fixed) => "held by the body".to_owned(),
                FastenerChange::Fixing(Fixing::Floating) => "bolt and nut".to_owned(),
                FastenerChange::Slot(Some(s)) => format!("slot {}", number(s.extra_mm)),
                FastenerChange::Slot(None) => "no slot".to_owned(),
                FastenerChange::Shim(a, b) => format!("shims {} to {}", number(*a), number(*b)),
            };
            format!("fastener at {hole}: {what}")
        }
        PartChange::Gasket(Some(g)) => format!("gasket {}", number(g.thickness_mm)),
        PartChange::Gasket(None) => "no gasket".to_owned(),
        PartChange::Finish(f) if f.name.is_empty() => "finish".to_owned(),
        PartChange::Finish(f) => format!("finish: {}", f.name),
        PartChange::CutterRadius(to) => format!("cutter radius {}", number(*to)),
        PartChange::LoadBearing(on) => format!("carries load: {}", yes_no(*on)),
        PartChange::MustNotMirror(_) => "what must not be mirrored".to_owned(),
        PartChange::SeenTogether(on) => format!("seen together: {}", yes_no(*on)),
        PartChange::Place(Some(_)) => "place on the coach".to_owned(),
        PartChange::Place(None) => "off the plan".to_owned(),
        PartChange::Note(_) => "note".to_owned(),
    }
}
