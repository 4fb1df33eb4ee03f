//! Commands, undo and redo.

use editor::{
    Command, CompareChange, Editor, FaceChange, HoleChange, OpeningChange, PartChange, Refused,
    ScanChange, VisitChange,
};
use geom::Point;
use proptest::prelude::*;
use record::{Job, LengthUnit, OptionKind, Relation, Side, Surface, UnitSource};

use crate::stand::{settings, stand};

fn names(editor: &Editor) -> Vec<&str> {
    editor.document().undo_names().collect()
}

#[test]
fn steps_are_named_in_words() {
    let stand = stand();
    let mut editor = stand.open();
    let job = editor.document().job().clone();
    let (part, opening) = (&job.choices.parts[0], &job.openings[0]);
    let face = &opening.faces[0];
    for (command, name) in [
        (
            Command::part(part.id.clone(), PartChange::Gap(3.0)),
            format!("{}: gap 3.0", part.name),
        ),
        (
            Command::face(
                opening.id.clone(),
                face.id.clone(),
                FaceChange::Reach(Some(8.0)),
            ),
            format!("shrink face {} of {}", face.id, opening.id),
        ),
        (
            Command::face(opening.id.clone(), face.id.clone(), FaceChange::Reach(None)),
            format!("grow face {} of {}", face.id, opening.id),
        ),
        (
            Command::visit(
                job.visits[0].id.clone(),
                VisitChange::Surface {
                    side: Side::Left,
                    surface: Surface::Bare,
                },
            ),
            format!("{}: left is bare", job.visits[0].id),
        ),
        (
            Command::Choose {
                compare: job.compares[0].id.clone(),
                option: OptionKind::TwoHands,
                note: "agreed with the owner".to_owned(),
            },
            format!("choose for {}: two hands", job.compares[0].id),
        ),
    ] {
        editor.apply(&command).unwrap();
        assert_eq!(names(&editor)[0], name);
    }
}

#[test]
fn typing_and_dragging_is_one_step() {
    let stand = stand();
    let mut editor = stand.open();
    let job = editor.document().job().clone();
    let part = job.choices.parts[0].id.clone();
    for gap in [3.0, 3.2, 3.25] {
        let command = Command::part(part.clone(), PartChange::Gap(gap));
        editor.apply_live(&command).unwrap();
    }
    assert_eq!(names(&editor).len(), 1);
    let wide = Command::part(part.clone(), PartChange::Wide(0.9));
    editor.apply_live(&wide).unwrap();
    assert_eq!(names(&editor).len(), 2, "another field is another step");
    editor.settle();
    let wide = Command::part(part, PartChange::Wide(1.0));
    editor.apply_live(&wide).unwrap();
    assert_eq!(names(&editor).len(), 3, "a new gesture is another step");
    for _ in 0..3 {
        editor.undo().unwrap();
    }
    assert_eq!(editor.document().job(), &job);
    assert_eq!(editor.undo(), Err(Refused::NothingToUndo));
}

#[test]
fn what_the_job_does_not_allow_is_refused_in_a_sentence_and_changes_nothing() {
    let stand = stand();
    let mut editor = stand.open();
    let job = editor.document().job().clone();
    let part = job.choices.parts[0].id.clone();
    let (first, second) = (job.openings[0].id.clone(), job.openings[1].id.clone());
    for (command, words) in [
        (
            Command::part(part.clone(), PartChange::Gap(-1.0)),
            "\"gap_mm\" is -1",
        ),
        (
            Command::part("no such", PartChange::Gap(1.0)),
            "no part called",
        ),
        (
            Command::opening(first.clone(), OpeningChange::Rename(second)),
            "already",
        ),
        (
            Command::opening(first.clone(), OpeningChange::Rename("".into())),
            "the name is empty",
        ),
        (
            Command::opening(first, OpeningChange::Side(Side::Right)),
            "takes the left opening",
        ),
        (
            Command::Several {
                name: "two, one of them wrong".to_owned(),
                commands: vec![
                    Command::Title("other".to_owned()),
                    Command::part(part, PartChange::CutterRadius(f64::NAN)),
                ],
            },
            "cutter_radius_mm",
        ),
    ] {
        let refused = editor.apply(&command).unwrap_err();
        assert!(refused.says().contains(words), "{refused}");
        assert!(!refused.hint().is_empty(), "{refused}");
        assert_eq!(editor.document().job(), &job);
    }
    assert_eq!(names(&editor).len(), 0);
}

#[test]
fn what_hangs_together_goes_together() {
    let stand = stand();
    let mut editor = stand.open();
    let job = editor.document().job().clone();
    let compare = job
        .compares
        .iter()
        .find(|c| {
            let part = job.choices.parts.iter().find(|p| p.id == c.part).unwrap();
            c.b.is_some() && !part.fasteners.is_empty()
        })
        .unwrap();
    let (a, b) = (compare.a.clone(), compare.b.clone().unwrap());
    let opening = |job: &Job, id| {
        let o = job.openings.iter().find(|o| o.id == id);
        o.unwrap().clone()
    };
    let part = |job: &Job| {
        let p = job.choices.parts.iter().find(|p| p.id == compare.part);
        p.unwrap().clone()
    };
    let hole = part(&job).fasteners[0].hole.clone();
    editor
        .apply(&Command::opening(
            a.clone(),
            OpeningChange::Hole {
                hole: hole.clone(),
                change: HoleChange::Rename("north".into()),
            },
        ))
        .unwrap();
    let now = editor.document().job().clone();
    for id in [a.clone(), b.clone()] {
        let holes = opening(&now, id).holes;
        assert!(holes.iter().any(|h| h.id.0 == "north"));
        assert!(holes.iter().all(|h| h.id != hole));
    }
    assert_eq!(part(&now).fasteners[0].hole.0, "north");
    editor.apply(&Command::RemoveOpening(b)).unwrap();
    let now = editor.document().job().clone();
    let left = now.compares.iter().find(|c| c.id == compare.id).unwrap();
    assert_eq!(left.b, None);
    editor.apply(&Command::RemoveOpening(a)).unwrap();
    let now = editor.document().job().clone();
    assert!(now.compares.iter().all(|c| c.id != compare.id));
    for _ in 0..3 {
        editor.undo().unwrap();
    }
    assert_eq!(editor.document().job(), &job);
}

#[test]
fn places_stay_on_the_metal_when_the_unit_of_a_scan_is_corrected() {
    let stand = stand();
    let mut editor = stand.open();
    let scan = editor.document().job().openings[0].scan.clone();
    let near = |e: &Editor| e.document().job().openings[0].edge.as_ref().unwrap().near;
    let before = near(&editor);
    let to = |unit| {
        let source = UnitSource::Stated;
        Command::scan(scan.clone(), ScanChange::Unit { unit, source })
    };
    editor.apply(&to(LengthUnit::Inch)).unwrap();
    assert!((near(&editor) - before * 25.4).norm() < 1e-9);
    editor.apply(&to(LengthUnit::Millimetre)).unwrap();
    assert!((near(&editor) - before).norm() < 1e-9);
}

/// A command that may or may not fit the job.
fn command() -> impl Strategy<Value = (usize, usize, f64)> {
    (0..22_usize, 0..40_usize, -1.0..6.0_f64)
}

pub fn made(job: &Job, (kind, which, value): (usize, usize, f64)) -> Option<Command> {
    fn pick<T>(list: &[T], which: usize) -> Option<&T> {
        (!list.is_empty()).then(|| &list[which % list.len()])
    }
    let opening = pick(&job.openings, which);
    let part = pick(&job.choices.parts, which);
    let compare = pick(&job.compares, which);
    let of = |change| Some(Command::opening(opening?.id.clone(), change));
    let on = |change| Some(Command::part(part?.id.clone(), change));
    match kind {
        0 => on(PartChange::Gap(value)),
        1 => on(PartChange::Wide(value)),
        2 => on(PartChange::Angle(value)),
        3 => on(PartChange::Name(format!("part {which}"))),
        4 => on(PartChange::Rename(
            format!("part {}", which / 3).as_str().into(),
        )),
        5 => on(PartChange::LoadBearing(value > 2.0)),
        6 => of(OpeningChange::Rename(format!("o{which}").as_str().into())),
        7 => of(OpeningChange::Top(Some(Point::new(
            value,
            0.0,
            100.0 * value,
        )))),
        8 => of(OpeningChange::Side(if value > 2.0 {
            Side::Left
        } else {
            Side::Right
        })),
        9 => {
            let face = pick(&opening?.faces, which / 7)?.id.clone();
            of(OpeningChange::RemoveFace(face))
        }
        10 => {
            let face = pick(&opening?.faces, which / 7)?.id.clone();
            let change = FaceChange::Reach((value > 1.0).then_some(20.0 * value));
            of(OpeningChange::Face { face, change })
        }
        11 => {
            let hole = pick(&opening?.holes, which / 7)?.id.clone();
            of(OpeningChange::RemoveHole(hole))
        }
        12 => {
            let hole = pick(&opening?.holes, which / 7)?.id.clone();
            let change = HoleChange::Rename(format!("h{}", which / 4).as_str().into());
            of(OpeningChange::Hole { hole, change })
        }
        13 => Some(Command::RemoveOpening(opening?.id.clone())),
        14 => Some(Command::RemoveCompare(compare?.id.clone())),
        15 => Some(Command::Choose {
            compare: compare?.id.clone(),
            option: OptionKind::Midway,
            note: format!("{value}"),
        }),
        16 => Some(Command::Unchoose(compare?.id.clone())),
        17 => Some(Command::Compare {
            compare: compare?.id.clone(),
            change: CompareChange::Relation(Relation::Same, compare?.b.clone()),
        }),
        18 => Some(Command::RemovePart(part?.id.clone())),
        19 => Some(Command::scan(
            pick(&job.scans, which)?.id.clone(),
            ScanChange::Rename(format!("s{which}").as_str().into()),
        )),
        20 => Some(Command::Seed(which as u64)),
        _ => Some(Command::Title(format!("title {which}"))),
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, ..ProptestConfig::default() })]

    /// Whatever is done and refused: taking all back gives the job there was, doing all again the job there is.
    #[test]
    fn undo_then_redo_gives_the_same_job(list in prop::collection::vec((command(), any::<bool>()), 1..40)) {
        let mut editor = Editor::new_job(settings());
        let start = demo::Coach::new(3).job();
        let all = start_commands(&start);
        editor.apply(&all).unwrap();
        let first = editor.document().job().clone();
        let mut jobs = vec![first.clone()];
        for (c, live) in list {
            let before = editor.document().job().clone();
            let Some(command) = made(&before, c) else { continue };
            let done = if live { editor.apply_live(&command) } else { editor.apply(&command) };
            let after = editor.document().job().clone();
            if done.is_err() {
                prop_assert_eq!(&after, &before);
            }
            // A job that was sound stays sound.
            prop_assert_eq!(formats::check_job(&after), []);
            // Each step of undo is one entry, so that taken back they match from the end.
            let steps = editor.document().undo_names().count();
            jobs.truncate(steps);
            while jobs.len() < steps {
                jobs.push(after.clone());
            }
            if let Some(last) = jobs.last_mut().filter(|_| steps > 0) {
                *last = after;
            }
        }
        let last = editor.document().job().clone();
        let steps = editor.document().undo_names().count();
        for k in (1..steps).rev() {
            editor.undo().unwrap();
            prop_assert_eq!(editor.document().job(), &jobs[k - 1]);
        }
        for _ in 1..steps {
            editor.redo().unwrap();
        }
        prop_assert_eq!(editor.document().job(), &last);
        for _ in 1..steps {
            editor.undo().unwrap();
        }
        prop_assert_eq!(editor.document().job(), &first);
    }
}

/// The commands that make a job from nothing.
fn start_commands(job: &Job) -> Command {
    let mut commands = vec![Command::Title(job.title.clone()), Command::Seed(job.seed)];
    commands.extend(job.cars.iter().cloned().map(Command::AddCar));
    commands.extend(
        job.visits
            .iter()
            .map(|v| Command::AddVisit(Box::new(v.clone()))),
    );
    commands.extend(
        job.scans
            .iter()
            .map(|s| Command::AddScan(Box::new(s.clone()))),
    );
    commands.extend(
        job.openings
            .iter()
            .map(|o| Command::AddOpening(Box::new(o.clone()))),
    );
    commands.extend(
        job.choices
            .parts
            .iter()
            .map(|p| Command::AddPart(Box::new(p.clone()))),
    );
    commands.extend(job.compares.iter().cloned().map(Command::AddCompare));
    Command::Several {
        name: "the coach".to_owned(),
        commands,
    }
}

#[test]
fn a_job_made_by_commands_is_the_job() {
    let mut editor = Editor::new_job(settings());
    let want = demo::Coach::new(3).job();
    editor.apply(&start_commands(&want)).unwrap();
    let got = editor.document().job();
    assert_eq!(got.openings, want.openings);
    assert_eq!(got.compares, want.compares);
    assert_eq!(got.choices, want.choices);
    assert_eq!(got.scans, want.scans);
}
