//! Figures: warm equals cold, and what is stale says so.

use std::collections::BTreeMap;

use editor::{
    Command, Editor, Event, FaceChange, Freshness, Lane, OpeningChange, PartChange, Subject,
};
use proptest::prelude::*;
use record::{Job, Study};

use crate::commands::made;
use crate::stand::{bits, cold, settle, stand};

#[test]
fn an_opened_job_is_measured_and_decided_as_from_the_command_line() {
    let stand = stand();
    let mut editor = stand.open();
    let events = settle(&mut editor);
    let study = editor.document().study().clone();
    assert_eq!(
        study.decided.compares.len(),
        editor.document().job().compares.len()
    );
    let job = formats::read_job(&stand.job).unwrap();
    assert_eq!(bits(&study), bits(&cold(&job, &editor)));
    // The exact answer came before the chances.
    let chances: Vec<bool> = events
        .iter()
        .filter_map(|e| match e {
            Event::Study { chances } => Some(*chances),
            _ => None,
        })
        .collect();
    assert_eq!(chances.first(), Some(&false), "{chances:?}");
    assert_eq!(chances.last(), Some(&true), "{chances:?}");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 5, max_shrink_iters: 0, ..ProptestConfig::default() })]

    /// After any edits, waited for or not, every figure is the one that is worked out from nothing.
    #[test]
    fn warm_equals_cold(list in prop::collection::vec(((0..22_usize, 0..40_usize, -1.0..6.0_f64), 0..4_u8), 2..12)) {
        let stand = stand();
        let mut editor = stand.open();
        for (c, wait) in list {
            let before = editor.document().job().clone();
            if let Some(command) = made(&before, c) {
                // Some are refused; that changes nothing.
                let _ = editor.apply(&command);
            }
            match wait {
                0 => drop(settle(&mut editor)),
                1 => drop(editor.undo()),
                2 => drop(editor.drain()),
                _ => {}
            }
        }
        settle(&mut editor);
        let job = editor.document().as_written();
        prop_assert_eq!(bits(editor.document().study()), bits(&cold(&job, &editor)));
    }
}

fn freshness(editor: &Editor, subject: &Subject) -> Freshness {
    editor.document().freshness(subject)
}

#[test]
fn an_allowance_asks_for_its_own_verdict_only() {
    let stand = stand();
    let mut editor = stand.open();
    settle(&mut editor);
    let job = editor.document().job().clone();
    let before = editor.document().study().clone();
    let (mine, other) = (&job.compares[0], &job.compares[1]);
    assert_ne!(mine.part, other.part);
    let command = Command::part(mine.part.clone(), PartChange::Wide(5.0));
    editor.apply(&command).unwrap();
    assert_eq!(
        freshness(&editor, &Subject::Decided(mine.id.clone())),
        Freshness::Waits
    );
    assert_eq!(
        freshness(&editor, &Subject::Decided(other.id.clone())),
        Freshness::Fresh
    );
    assert_eq!(
        freshness(&editor, &Subject::Compare(mine.id.clone())),
        Freshness::Fresh
    );
    let events = settle(&mut editor);
    let measured = |e: &Event| matches!(e, Event::Working(w) if w.lane == Lane::Measure);
    assert!(!events.iter().any(measured), "nothing is measured for it");
    let after = editor.document().study();
    let of = |s: &Study, id| {
        let c = s.decided.compares.iter().find(|c| c.id == id);
        c.unwrap().clone()
    };
    assert_eq!(of(&before, other.id.clone()), of(after, other.id.clone()));
    assert_ne!(of(&before, mine.id.clone()), of(after, mine.id.clone()));
}

#[test]
fn figures_wait_one_by_one_while_a_face_is_measured_anew() {
    let stand = stand();
    let mut editor = stand.open();
    settle(&mut editor);
    let job = editor.document().job().clone();
    let o = job.openings.iter().find(|o| o.faces.len() >= 2).unwrap();
    let (mine, other) = (&o.faces[0], &o.faces[1]);
    let change = FaceChange::Reach(Some(25.0));
    let command = Command::face(o.id.clone(), mine.id.clone(), change);
    editor.apply(&command).unwrap();
    let face = |f: &record::FacePick| Subject::Face(o.id.clone(), f.id.clone());
    assert_eq!(freshness(&editor, &face(mine)), Freshness::Waits);
    assert_eq!(freshness(&editor, &face(other)), Freshness::DoubtWaits);
    assert_eq!(
        freshness(&editor, &Subject::Edge(o.id.clone())),
        Freshness::DoubtWaits
    );
    settle(&mut editor);
    assert_eq!(freshness(&editor, &face(mine)), Freshness::Fresh);
    // Back again: what was known then is known now.
    editor.undo().unwrap();
    assert_eq!(freshness(&editor, &face(mine)), Freshness::Waits);
    settle(&mut editor);
    assert_eq!(
        bits(editor.document().study()),
        bits(&cold(&editor.document().as_written(), &editor))
    );
}

/// What is told of every subject: its figures, and its values without their doubts.
fn told(study: &Study) -> BTreeMap<Subject, (String, String)> {
    let mut all = BTreeMap::new();
    for o in &study.measured.openings {
        for f in &o.faces {
            let values = format!("{:?}", (&f.plane, &f.centre, &f.size_mm, f.points, f.seen));
            all.insert(
                Subject::Face(o.id.clone(), f.id.clone()),
                (format!("{f:?}"), values),
            );
        }
        for j in &o.junctions {
            let subject = Subject::Junction(o.id.clone(), j.id.clone());
            all.insert(subject, (format!("{j:?}"), format!("{:?}", j.id)));
        }
        for h in &o.holes {
            let subject = Subject::Hole(o.id.clone(), h.id.clone());
            let values = format!("{:?}", (&h.centre, &h.axis, &h.diameter, h.arc_deg));
            all.insert(subject, (format!("{h:?}"), values));
        }
        if let Some(e) = &o.edge {
            let at: Vec<_> = e
                .stations
                .iter()
                .map(|s| (s.at, s.along_mm, s.seen))
                .collect();
            let values = format!("{:?}", (at, &o.part_from_scan, &e.gaps));
            all.insert(Subject::Edge(o.id.clone()), (format!("{e:?}"), values));
        }
    }
    for c in &study.measured.compares {
        let subject = Subject::Compare(c.id.clone());
        all.insert(subject, (format!("{c:?}"), format!("{:?}", c.id)));
    }
    for c in &study.decided.compares {
        let subject = Subject::Decided(c.id.clone());
        all.insert(subject, (format!("{c:?}"), format!("{:?}", c.id)));
    }
    all
}

/// Edits that touch one thing each.
fn single_edits(job: &Job) -> Vec<Command> {
    let o = &job.openings[0];
    let of = |change| Command::opening(o.id.clone(), change);
    let mut list = vec![
        Command::face(
            o.id.clone(),
            o.faces[0].id.clone(),
            FaceChange::Reach(Some(25.0)),
        ),
        Command::part(job.choices.parts[0].id.clone(), PartChange::Gap(3.5)),
        of(OpeningChange::Top(
            o.top.map(|t| t + geom::Vector::new(3.0, 1.0, 2.0)),
        )),
        of(OpeningChange::Name("another name".to_owned())),
        of(OpeningChange::Note("a note".to_owned())),
        Command::Seed(99),
        Command::visit(job.visits[0].id.clone(), editor::VisitChange::Flatness(0.2)),
    ];
    list.extend(
        o.holes
            .first()
            .map(|h| of(OpeningChange::RemoveHole(h.id.clone()))),
    );
    list.extend(
        o.junctions
            .first()
            .map(|j| of(OpeningChange::RemoveJunction(j.id.clone()))),
    );
    list
}

#[test]
fn what_is_called_fresh_is_what_would_be_worked_out() {
    let stand = stand();
    let mut editor = stand.open();
    settle(&mut editor);
    let job = editor.document().job().clone();
    let before = told(editor.document().study());
    let (mut fresh, mut doubtful, mut waiting) = (0, 0, 0);
    for command in single_edits(&job) {
        editor.apply(&command).unwrap();
        let after = told(&cold(&editor.document().as_written(), &editor));
        for (subject, (figures, values)) in &before {
            let now = after.get(subject);
            match editor.document().freshness(subject) {
                Freshness::Fresh => {
                    fresh += 1;
                    assert_eq!(
                        Some(figures),
                        now.map(|n| &n.0),
                        "{subject:?} after {command:?}"
                    );
                }
                Freshness::DoubtWaits => {
                    doubtful += 1;
                    assert_eq!(
                        Some(values),
                        now.map(|n| &n.1),
                        "{subject:?} after {command:?}"
                    );
                }
                Freshness::Waits => waiting += 1,
            }
        }
        editor.undo().unwrap();
        settle(&mut editor);
    }
    assert!(
        fresh > 50 && doubtful > 20 && waiting > 10,
        "{fresh} {doubtful} {waiting}"
    );
}
