//! A scan that is renamed, read in another unit or taken out, and what names it elsewhere in the job.

use editor::{Command, Editor, OpeningChange, ScanChange};
use geom::{Point, Vector};
use record::{
    BarrelPick, BodyWork, CentrelineWay, GapPick, GapTrack, HingePick, Job, Join, LengthUnit,
    OpeningId, Place, PlaceName, Region, RegionShape, ScanId, Side, StartPose, SwingPick,
    TapedLength, UnitSource, Visit,
};

use crate::stand::{Stand, settings, stand};

fn place(name: &str, scan: &str, x: f64) -> Place {
    Place {
        name: name.to_owned(),
        side: Side::Left,
        scan: scan.into(),
        at: Point::new(x, 2.0, 3.0),
        sigma_mm: 0.5,
        note: String::new(),
    }
}

fn named(name: &str) -> PlaceName {
    PlaceName {
        name: name.to_owned(),
        side: Side::Left,
    }
}

fn taped(from: &str, to: &str) -> TapedLength {
    TapedLength {
        from: named(from),
        to: named(to),
        length_mm: 900.0,
        u95_mm: 1.0,
        note: String::new(),
    }
}

fn join(scan: &str, to: &str) -> Join {
    Join {
        scan: scan.into(),
        to: to.into(),
        places: Vec::new(),
        start: Some(StartPose {
            axis: Vector::z(),
            turn_deg: 0.0,
            shift: Vector::zeros(),
            within_mm: None,
        }),
        refine: true,
        note: String::new(),
    }
}

fn track(scan: &str) -> GapTrack {
    GapTrack {
        scan: scan.into(),
        along: vec![Point::new(1.0, 0.0, 0.0), Point::new(9.0, 0.0, 0.0)],
        on_first: Point::new(1.0, 5.0, 0.0),
        outward: None,
    }
}

fn gap(name: &str, left: Option<GapTrack>, right: Option<GapTrack>) -> GapPick {
    GapPick {
        name: name.to_owned(),
        first: "door".to_owned(),
        second: "wing".to_owned(),
        left,
        right,
        every_mm: 40.0,
        reach_mm: 25.0,
    }
}

fn hinge(job: &Job, scan: &str) -> HingePick {
    let mut here = job.openings.iter().filter(|o| o.scan.0 == scan);
    let mut next = || here.next().unwrap().id.clone();
    HingePick {
        name: format!("hinges {scan}"),
        scan: scan.into(),
        barrels: vec![BarrelPick {
            name: "upper".to_owned(),
            from: Point::new(0.0, 0.0, 0.0),
            to: Point::new(0.0, 0.0, 30.0),
            diameter_mm: Some(12.0),
        }],
        swing: Some(SwingPick {
            part: next(),
            body: next(),
            open_deg: 60.0,
        }),
    }
}

/// A job in which everything that can name a scan names "left", and something else names "right".
fn knotted() -> (Stand, Editor) {
    let stand = stand();
    let mut job = formats::read_job(&stand.job).unwrap();
    job.visits.push(Visit {
        id: "later".into(),
        ..job.visits[0].clone()
    });
    let after = record::ScanRef {
        id: "left again".into(),
        visit: "later".into(),
        ..job.scans.iter().find(|s| s.id.0 == "left").unwrap().clone()
    };
    job.scans.push(after);
    job.joins = vec![
        join("left", "centre"),
        join("right", "centre"),
        join("left again", "left"),
    ];
    job.places = ["sill", "pillar", "cowl", "roof", "wheel arch", "beading"]
        .iter()
        .enumerate()
        .map(|(k, name)| place(name, "left", k as f64))
        .collect();
    job.places.push(place("sill", "right", 9.0));
    job.places.push(place("foot", "right", 8.0));
    job.taped = vec![taped("sill", "pillar"), taped("sill", "foot")];
    job.centreline.way = CentrelineWay::ThreeTwoOne {
        level: ["sill", "pillar", "cowl"].map(named),
        line: ["roof", "wheel arch"].map(named),
        start: named("beading"),
    };
    job.gaps = vec![
        gap("door to wing", Some(track("left")), Some(track("right"))),
        gap("left alone", Some(track("left")), None),
    ];
    job.hinges = vec![hinge(&job, "left"), hinge(&job, "right")];
    job.body_work = vec![BodyWork {
        name: "flange".to_owned(),
        before: "left".into(),
        after: "left again".into(),
        worked: vec![Region {
            shape: RegionShape::Box {
                low: Point::new(0.0, 0.0, 0.0),
                high: Point::new(10.0, 10.0, 10.0),
            },
            note: "dent".to_owned(),
        }],
        start: None,
        most_mm: 6.0,
        note: String::new(),
    }];
    assert_eq!(formats::check_job(&job), Vec::new());
    formats::write_job(&job, &stand.job).unwrap();
    let editor = Editor::open(&stand.job, settings()).unwrap();
    (stand, editor)
}

fn left() -> ScanId {
    ScanId::from("left")
}

/// The job with another name in place of one, wherever it stands alone between quotes.
fn renamed(job: &Job, from: &str, to: &str) -> String {
    format!("{job:?}").replace(&format!("(\"{from}\")"), &format!("(\"{to}\")"))
}

#[test]
fn everything_that_names_a_scan_follows_its_new_name() {
    let (_stand, mut editor) = knotted();
    let before = editor.document().job().clone();
    let to = ScanChange::Rename("near side".into());
    editor.apply(&Command::scan(left(), to)).unwrap();
    let job = editor.document().job().clone();
    assert_eq!(format!("{job:?}"), renamed(&before, "left", "near side"));
    assert_eq!(formats::check_job(&job), Vec::new());
    editor.undo().unwrap();
    assert_eq!(*editor.document().job(), before);
}

#[test]
fn what_hangs_on_a_scan_that_is_taken_out_goes_with_it_and_is_said() {
    let (_stand, mut editor) = knotted();
    let before = editor.document().job().clone();
    editor.apply(&Command::RemoveScan(left())).unwrap();
    let job = editor.document().job().clone();
    assert_eq!(formats::check_job(&job), Vec::new());
    assert_eq!(job.joins, [join("right", "centre")]);
    assert!(job.body_work.is_empty() && job.taped.len() == 1);
    assert_eq!(job.taped[0].to.name, "foot", "both ends are in the right");
    let door = gap("door to wing", None, Some(track("right")));
    assert_eq!(job.gaps, [door]);
    assert_eq!(job.hinges, before.hinges[1..]);
    assert_eq!(job.centreline.way, CentrelineWay::Pairs);
    assert_eq!(
        editor.document().undo_names().next(),
        Some(
            "delete scan left with 2 joins, 1 taped length, 1 side before and after, 1 gap, 1 hinge, how the centreline is laid"
        )
    );
    editor.undo().unwrap();
    assert_eq!(*editor.document().job(), before);
    // One on which nothing hangs.
    let again = ScanId::from("left again");
    let command = Command::Several {
        name: "nothing hangs on it".to_owned(),
        commands: vec![Command::Joins(Vec::new()), Command::BodyWork(Vec::new())],
    };
    editor.apply(&command).unwrap();
    editor.apply(&Command::RemoveScan(again)).unwrap();
    assert_eq!(
        editor.document().undo_names().next(),
        Some("delete scan left again")
    );
}

#[test]
fn places_in_a_scan_of_another_unit_are_scaled_and_what_was_typed_in_mm_is_not() {
    let (_stand, mut editor) = knotted();
    let before = editor.document().job().clone();
    let inch = ScanChange::Unit {
        unit: LengthUnit::Inch,
        source: UnitSource::Stated,
    };
    editor.apply(&Command::scan(left(), inch)).unwrap();
    let job = editor.document().job().clone();
    let door = &job.gaps[0];
    let track = door.left.as_ref().unwrap();
    assert!((track.along[1].x - 9.0 * 25.4).abs() < 1e-9);
    assert!((track.on_first.y - 5.0 * 25.4).abs() < 1e-9);
    assert_eq!(door.right, before.gaps[0].right);
    assert_eq!(door.every_mm, 40.0);
    let barrel = &job.hinges[0].barrels[0];
    assert!((barrel.to.z - 30.0 * 25.4).abs() < 1e-9);
    assert_eq!(barrel.diameter_mm, Some(12.0));
    assert_eq!(job.hinges[1], before.hinges[1]);
    let RegionShape::Box { high, .. } = &job.body_work[0].worked[0].shape else {
        panic!("a box")
    };
    assert!((high.x - 254.0).abs() < 1e-9);
    assert_eq!(job.taped, before.taped);
}

#[test]
fn hinges_and_repeats_follow_an_opening() {
    let (_stand, mut editor) = knotted();
    let before = editor.document().job().clone();
    let first = before.hinges[0].swing.as_ref().unwrap().part.clone();
    let at = before.openings.iter().position(|o| o.id == first).unwrap();
    // A further reading is in a scan of its own, of the same visit.
    let scan = before.scans.iter().find(|s| s.id == left()).unwrap();
    for k in 0..2 {
        let id = ScanId(format!("left, reading {k}"));
        let seated = record::ScanRef {
            id: id.clone(),
            ..scan.clone()
        };
        editor.apply(&Command::AddScan(Box::new(seated))).unwrap();
        let again = record::Opening {
            id: format!("again {k}").as_str().into(),
            scan: id,
            repeat_of: Some(first.clone()),
            ..before.openings[at].clone()
        };
        let add = Command::AddOpening(Box::new(again));
        editor.apply(&add).unwrap();
    }
    let to = OpeningChange::Rename("nose".into());
    editor.apply(&Command::opening(first, to)).unwrap();
    let job = editor.document().job().clone();
    let nose = OpeningId::from("nose");
    assert_eq!(job.hinges[0].swing.as_ref().unwrap().part, nose);
    let repeats = |job: &Job| -> Vec<(String, Option<OpeningId>)> {
        let all = job.openings.iter().filter(|o| o.id.0.starts_with("again"));
        all.map(|o| (o.id.0.clone(), o.repeat_of.clone())).collect()
    };
    let both = |a: Option<OpeningId>, b: Option<OpeningId>| {
        vec![("again 0".to_owned(), a), ("again 1".to_owned(), b)]
    };
    assert_eq!(repeats(&job), both(Some(nose.clone()), Some(nose.clone())));
    editor.apply(&Command::RemoveOpening(nose)).unwrap();
    let job = editor.document().job().clone();
    assert_eq!(job.hinges[0].swing, None);
    assert_eq!(job.hinges[0].barrels, before.hinges[0].barrels);
    assert_eq!(repeats(&job), both(None, Some("again 0".into())));
    assert_eq!(formats::check_job(&job), Vec::new());
}

#[test]
fn what_names_a_place_follows_its_new_name() {
    let (_stand, mut editor) = knotted();
    let place = |e: &Editor, scan: &str| {
        let places = &e.document().job().places;
        let at = places
            .iter()
            .position(|p| p.name == "sill" && p.scan.0 == scan);
        at.unwrap()
    };
    let rename = |e: &mut Editor, scan: &str| {
        let number = place(e, scan);
        let to = Place {
            name: "rocker".to_owned(),
            ..e.document().job().places[number].clone()
        };
        let to = Box::new(to);
        e.apply(&Command::ChangePlace { number, to }).unwrap();
    };
    let ends = |e: &Editor| -> Vec<String> {
        let taped = &e.document().job().taped;
        taped.iter().map(|t| t.from.name.clone()).collect()
    };
    // As long as one scan shows it under its old name, that is what was taped.
    rename(&mut editor, "right");
    assert_eq!(ends(&editor), ["sill", "sill"]);
    rename(&mut editor, "left");
    assert_eq!(ends(&editor), ["rocker", "rocker"]);
    let job = editor.document().job().clone();
    let CentrelineWay::ThreeTwoOne { level, .. } = &job.centreline.way else {
        panic!("three, two, one")
    };
    assert_eq!(level[0], named("rocker"));
    assert_eq!(formats::check_job(&job), Vec::new());
}
