//! What comes with the job of another visit or another car beside its scans, and what is said of the rest.

use std::path::PathBuf;

use egui::Role;
use geom::{Point, Vector};
use record::{
    BarrelPick, GapPick, GapTrack, HingePick, Job, Join, Place, PlaceName, Side, StartPose,
    SwingPick, TapedLength,
};

use super::two::{MADE, bring_in, click, job, on_page, says};
use super::{copied, settle};

const PAIRS: [&str; 3] = ["sill", "door, front", "cowl"];

fn place(name: &str, side: Side, scan: &str, at: [f64; 3]) -> Place {
    Place {
        name: name.to_owned(),
        side,
        scan: scan.into(),
        at: Point::new(at[0], at[1], at[2]),
        sigma_mm: 0.5,
        note: String::new(),
    }
}

fn places(scan: &str) -> Vec<Place> {
    let pair = |(k, name): (usize, &&str)| {
        let x = 900.0 * k as f64;
        [(Side::Left, -600.0), (Side::Right, 600.0)]
            .map(|(side, y)| place(name, side, scan, [x, y, 40.0 * k as f64]))
    };
    PAIRS.iter().enumerate().flat_map(pair).collect()
}

fn named(name: &str, side: Side) -> PlaceName {
    PlaceName {
        name: name.to_owned(),
        side,
    }
}

/// The second coach with everything that hangs on its scans.
fn full(name: &str) -> PathBuf {
    let path = copied(&MADE.files.second, name);
    let mut job = formats::read_job(&path).unwrap();
    let track = |scan: &str| GapTrack {
        scan: scan.into(),
        along: vec![Point::new(0.0, 0.0, 0.0), Point::new(90.0, 0.0, 0.0)],
        on_first: Point::new(0.0, 9.0, 0.0),
        outward: None,
    };
    job.gaps.push(GapPick {
        name: "door to wing".to_owned(),
        first: "door".to_owned(),
        second: "wing".to_owned(),
        left: Some(track("left")),
        right: Some(track("right")),
        every_mm: 40.0,
        reach_mm: 25.0,
    });
    let mut of_left = job.openings.iter().filter(|o| o.scan.0 == "left");
    let mut next = || of_left.next().unwrap().id.clone();
    let swing = SwingPick {
        part: next(),
        body: next(),
        open_deg: 60.0,
    };
    job.hinges.push(HingePick {
        name: "left door".to_owned(),
        scan: "left".into(),
        barrels: vec![BarrelPick {
            name: "upper".to_owned(),
            from: Point::new(0.0, 0.0, 0.0),
            to: Point::new(0.0, 0.0, 30.0),
            diameter_mm: None,
        }],
        swing: Some(swing),
    });
    // By three places that are named, and by the surfaces.
    job.places = places("left");
    job.places.extend(places("centre"));
    job.places
        .push(place("tail", Side::Centre, "right", [0.0; 3]));
    for (scan, rests) in [("left", true), ("right", false)] {
        job.joins.push(Join {
            scan: scan.into(),
            to: "centre".into(),
            places: if rests {
                PAIRS.map(str::to_owned).to_vec()
            } else {
                Vec::new()
            },
            start: Some(StartPose {
                axis: Vector::z(),
                turn_deg: 0.0,
                shift: Vector::zeros(),
                within_mm: None,
            }),
            refine: !rests,
            note: String::new(),
        });
    }
    job.taped.push(TapedLength {
        from: named("sill", Side::Left),
        to: named("cowl", Side::Right),
        length_mm: 2163.0,
        u95_mm: 2.0,
        note: String::new(),
    });
    job.centreline.front = Some("sill".to_owned());
    job.centreline.rear = Some("cowl".to_owned());
    assert_eq!(formats::check_job(&job), Vec::new());
    formats::write_job(&job, &path).unwrap();
    path
}

fn scans(job: &Job) -> Vec<[String; 2]> {
    let joins = job.joins.iter();
    joins.map(|j| [j.scan.0.clone(), j.to.0.clone()]).collect()
}

fn second(name: &str) -> String {
    format!("second coach: {name}")
}

#[test]
fn joins_places_gaps_and_hinges_of_another_car_come_with_it_under_names_of_their_own() {
    let theirs = full("with-all.ron");
    let mut harness = on_page(&MADE.first, "takes-all.ron");
    let before = job(&harness);
    click(&mut harness, Role::RadioButton, "Car to car");
    bring_in(&mut harness, "Bring in the other car", &theirs);
    let now = job(&harness);
    assert_eq!(formats::check_job(&now), Vec::new());
    assert_eq!(
        scans(&now),
        ["left", "right"].map(|s| [second(s), second("centre")])
    );
    assert_eq!(now.joins[0].places, PAIRS.map(second));
    assert_eq!(now.places_in_both(&now.joins[0]).count(), 6);
    assert_eq!(now.places.len(), 13);
    assert!(now.places.iter().all(|p| p.side != Side::NotSaid));
    assert_eq!(now.centreline.front, Some(second("sill")));
    assert_eq!(now.taped[0].from, named(&second("sill"), Side::Left));
    assert_eq!(now.gaps[0].name, second("door to wing"));
    assert_eq!(now.gaps[0].right.as_ref().unwrap().scan.0, second("right"));
    let swing = now.hinges[0].swing.as_ref().unwrap();
    assert!(now.openings.iter().any(|o| o.id == swing.part));
    assert!(swing.body.0.starts_with("second coach: "));
    assert!(says(
        &harness,
        "With second coach came: 13 places, how the centreline is laid, 1 taped length, 2 joins, 1 gap, 1 hinge."
    ));
    click(&mut harness, Role::Button, "Put this away");
    assert!(!says(&harness, "With second coach came"));
    harness.state_mut().ask(crate::state::Act::Undo);
    harness.run_steps(3);
    assert_eq!(job(&harness), before);
}

#[test]
fn this_jobs_own_centreline_stays_and_what_is_left_out_is_said() {
    let theirs = full("beside-own.ron");
    let own = copied(&MADE.first, "has-own.ron");
    let mut first = formats::read_job(&own).unwrap();
    first.places = places("left");
    first.joins.clear();
    formats::write_job(&first, &own).unwrap();
    let mut harness = on_page(&own, "has-own-line.ron");
    let before = job(&harness);
    let line = |h: &super::two::Seen| {
        let study = h.state().editor().unwrap().document().study();
        let positions = study.positions.as_ref();
        let positions = positions.expect("places are there");
        // Openings of scans that are not joined have no position, before and after.
        let mut of_line = positions.findings.iter();
        let stopped = of_line.any(|f| f.severity == record::Severity::Stop);
        assert!(!stopped, "{:?}", positions.findings);
        positions.laid.is_some()
    };
    let laid = line(&harness);
    click(&mut harness, Role::RadioButton, "Car to car");
    bring_in(&mut harness, "Bring in the other car", &theirs);
    settle(&mut harness);
    let now = job(&harness);
    assert_eq!(formats::check_job(&now), Vec::new());
    assert_eq!(now.centreline, before.centreline);
    assert_eq!(now.places[..6], before.places[..]);
    // The join by places rests on as many as before; they say nothing of a middle.
    assert_eq!(now.places_in_both(&now.joins[0]).count(), 6);
    assert!(now.places[6..].iter().all(|p| p.side == Side::NotSaid));
    let sill = named(&second("sill, left"), Side::NotSaid);
    assert_eq!(now.taped[0].from, sill);
    // So the line of this job is laid as it was.
    assert_eq!(line(&harness), laid);
    assert!(says(
        &harness,
        "Its centreline was left out: this job keeps its own. Places that its joins or taped lengths rest on came without a side."
    ));
}

#[test]
fn only_a_job_file_is_listed_and_taken_as_the_other_job() {
    let folder = tempfile::tempdir().unwrap();
    for name in ["nose.stl", "notes.ron", "other.RON"] {
        std::fs::write(folder.path().join(name), "solid nose").unwrap();
    }
    let mut harness = on_page(&MADE.first, "lists-jobs.ron");
    let before = job(&harness);
    click(&mut harness, Role::Button, "Bring in the other visit");
    let typed = format!("{}{}", folder.path().display(), std::path::MAIN_SEPARATOR);
    harness
        .state_mut()
        .ask(crate::state::Act::Panel(Some(crate::state::Panel::Other(
            typed,
        ))));
    harness.run_steps(3);
    assert!(says(&harness, "notes.ron") && says(&harness, "other.RON"));
    assert!(!says(&harness, "nose.stl"));
    harness.key_press(egui::Key::Escape);
    harness.run_steps(3);
    for (name, wrong, cure) in [
        ("nose.stl", "nose.stl is no job file", "it ends in .ron"),
        ("", "is a folder", "Give the job file in it"),
        ("notes.ron", "notes.ron", ""),
    ] {
        let path = folder.path().join(name);
        bring_in(&mut harness, "Bring in the other visit", &path);
        assert!(says(&harness, wrong), "{name}");
        assert!(says(&harness, cure), "{name}");
        assert_eq!(job(&harness), before);
    }
}
