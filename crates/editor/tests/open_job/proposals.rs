//! Openings that are found, and picks carried across.

use editor::{Command, CompareChange, Editor, Event, Lane, OpeningChange};
use record::{OpeningId, Relation, Side};

use crate::stand::{settings, settle, stand, until};

#[test]
fn scans_alone_become_proposed_openings_that_are_kept_or_skipped() {
    let stand = stand();
    let mut editor = Editor::new_job(settings());
    let files = ["left.ply", "right.stl"].map(|f| stand.folder.path().join(f));
    for f in &files {
        assert!(f.exists(), "{}", f.display());
    }
    editor.bring_in(files);
    let mut ready = 0;
    until(&mut editor, |_, e| {
        ready += usize::from(matches!(e, Event::ScanReady(_)));
        ready == 2
    });
    editor.propose();
    until(&mut editor, |_, e| matches!(e, Event::Proposed { .. }));
    let job = editor.document().job().clone();
    assert!(job.openings.len() >= 4, "{}", job.openings.len());
    assert!(job.openings.iter().all(|o| o.sureness.is_some()), "dashed");
    assert!(job.compares.iter().any(|c| c.b.is_some()), "paired");
    assert!(!editor.document().remarks().is_empty());
    assert_eq!(
        editor.document().undo_names().count(),
        3,
        "two scans, one search"
    );
    let first = job.openings[0].id.clone();
    let last = job.openings[job.openings.len() - 1].id.clone();
    editor
        .apply(&Command::opening(first.clone(), OpeningChange::Keep))
        .unwrap();
    editor
        .apply(&Command::opening(last.clone(), OpeningChange::Skip))
        .unwrap();
    let now = editor.document().job().clone();
    let kept = now.openings.iter().find(|o| o.id == first).unwrap();
    assert_eq!(kept.sureness, None);
    assert!(now.openings.iter().all(|o| o.id != last));
    settle(&mut editor);
    assert!(!editor.document().study().measured.openings.is_empty());
}

/// The openings of the coach that are compared left with right, with faces and holes.
fn pair(editor: &Editor) -> (OpeningId, OpeningId) {
    let job = editor.document().job();
    let c = job
        .compares
        .iter()
        .find(|c| {
            let a = job.openings.iter().find(|o| o.id == c.a).unwrap();
            c.b.is_some() && a.edge.is_some() && !a.faces.is_empty() && !a.holes.is_empty()
        })
        .unwrap();
    (c.a.clone(), c.b.clone().unwrap())
}

#[test]
fn what_one_side_lacks_is_offered_from_the_other() {
    let stand = stand();
    let mut editor = stand.open();
    settle(&mut editor);
    let (a, b) = pair(&editor);
    let job = editor.document().job().clone();
    let find = |id: &OpeningId| job.openings.iter().find(|o| o.id == *id).unwrap().clone();
    let (full, other) = (find(&a), find(&b));
    assert!(editor.copy_across(&a).is_err(), "nothing is missing there");
    let mut commands: Vec<Command> = other
        .faces
        .iter()
        .map(|f| Command::opening(b.clone(), OpeningChange::RemoveFace(f.id.clone())))
        .collect();
    let hole = &other.holes[0];
    commands.push(Command::opening(
        b.clone(),
        OpeningChange::Hole {
            hole: hole.id.clone(),
            change: editor::HoleChange::Near(hole.near),
        },
    ));
    for c in &commands {
        editor.apply(c).unwrap();
    }
    settle(&mut editor);
    editor.copy_across(&a).unwrap();
    let offers = editor.document().offers().to_vec();
    assert_eq!(
        offers.len(),
        full.faces.len() + full.junctions.len(),
        "{offers:#?}"
    );
    for f in &full.faces {
        let offered = offers
            .iter()
            .flat_map(|o| &o.picks.faces)
            .find(|g| g.id == f.id)
            .unwrap();
        // Where a person had clicked, to about the width of a face.
        let clicked = other.faces.iter().find(|g| g.id == f.id).unwrap();
        let off = (offered.near - clicked.near).norm();
        assert!(off < 25.0, "{}: {off}", f.id);
    }
    assert!(
        editor
            .document()
            .job()
            .openings
            .iter()
            .any(|o| o.id == b && o.faces.is_empty())
    );
    let first = offers[0].number;
    editor.keep_offer(first).unwrap();
    editor.skip_offer(offers[1].number);
    assert_eq!(editor.document().offers().len(), offers.len() - 2);
    let now = editor.document().job();
    let faces = &now.openings.iter().find(|o| o.id == b).unwrap().faces;
    assert_eq!(faces.len(), 1);
    assert!(editor.keep_offer(first).is_err(), "it is kept already");
    // The opening goes, and what was offered for it.
    editor.apply(&Command::RemoveOpening(b)).unwrap();
    assert!(editor.document().offers().is_empty());
}

#[test]
fn a_side_without_an_opening_is_searched_for_it() {
    let stand = stand();
    let mut editor = stand.open();
    settle(&mut editor);
    let (a, b) = pair(&editor);
    let job = editor.document().job().clone();
    let lost = job.openings.iter().find(|o| o.id == b).unwrap().clone();
    editor.apply(&Command::RemoveOpening(b)).unwrap();
    settle(&mut editor);
    editor.copy_across(&a).unwrap();
    until(&mut editor, |_, e| {
        matches!(e, Event::Offered)
            || matches!(e, Event::Notice(n) if n.lane == Lane::Find && n.says.starts_with("Nothing like"))
    });
    let offers = editor.document().offers().to_vec();
    assert_eq!(offers.len(), 1, "{:?}", editor.document().notices());
    let picks = &offers[0].picks;
    assert_eq!(picks.scan, lost.scan);
    assert_eq!(picks.side, Side::Right);
    let top = (picks.top.unwrap() - lost.top.unwrap()).norm();
    assert!(top < 60.0, "{top}");
    for h in &lost.holes {
        if let Some(carried) = picks.holes.iter().find(|g| g.id == h.id) {
            let off = (carried.near - h.near).norm();
            assert!(off < 6.0, "{}: {off}", h.id);
        }
    }
    editor.keep_all_offers().unwrap();
    let now = editor.document().job();
    let c = now.compares.iter().find(|c| c.a == a).unwrap();
    assert_eq!(c.b.as_ref(), Some(&picks.id));
    settle(&mut editor);
    let study = editor.document().study();
    let m = study
        .measured
        .compares
        .iter()
        .find(|m| m.id == c_id(&editor, &a))
        .unwrap();
    assert!(m.b_on_a.is_some(), "measured: {:?}", m.findings);
}

#[test]
fn two_openings_become_a_pair_by_hand() {
    let stand = stand();
    let mut editor = stand.open();
    let (a, b) = pair(&editor);
    assert!(editor.pair(&a, &b).is_err(), "they are one already");
    assert!(editor.pair(&a, &a).is_err());
    let before = editor.document().job().compares.clone();
    let old = before.iter().find(|c| c.a == a).unwrap().clone();
    editor
        .apply(&Command::RemoveCompare(old.id.clone()))
        .unwrap();
    // The right one first: left stays left.
    editor.pair(&b, &a).unwrap();
    let new = editor.document().job().compares.last().unwrap().clone();
    assert_eq!((&new.a, new.b.as_ref()), (&a, Some(&b)));
    assert_eq!(new.relation, Relation::Mirrored);
    let parts = &editor.document().job().choices.parts;
    assert!(parts.iter().any(|p| p.id == new.part && p.id != old.part));
    settle(&mut editor);
    let measured = &editor.document().study().measured.compares;
    let pair = measured.iter().find(|m| m.id == new.id).unwrap();
    assert!(pair.b_on_a.is_some(), "{:?}", pair.findings);
    editor.undo().unwrap();
    assert_eq!(editor.document().job().compares.len(), before.len() - 1);
    // Without its other side a comparison waits, and takes it in.
    editor.undo().unwrap();
    editor.apply(&Command::RemoveOpening(b.clone())).unwrap();
    editor.undo().unwrap();
    let alone = CompareChange::Openings(a.clone(), None);
    let alone = Command::Compare {
        compare: old.id.clone(),
        change: alone,
    };
    editor.apply(&alone).unwrap();
    editor.pair(&a, &b).unwrap();
    let compares = &editor.document().job().compares;
    assert_eq!(compares.len(), before.len());
    let now = compares.iter().find(|c| c.id == old.id).unwrap();
    assert_eq!(now.b.as_ref(), Some(&b));
}

fn c_id(editor: &Editor, a: &OpeningId) -> record::CompareId {
    let job = editor.document().job();
    job.compares.iter().find(|c| c.a == *a).unwrap().id.clone()
}

#[test]
fn files_are_handed_over_from_fresh_figures_only() {
    let stand = stand();
    let mut editor = stand.open();
    let out = stand.folder.path().join("release 1");
    assert!(
        editor.hand_over(&out, Vec::new()).is_err(),
        "nothing is worked out yet"
    );
    settle(&mut editor);
    editor.hand_over(&out, Vec::new()).unwrap();
    let events = until(&mut editor, |_, e| matches!(e, Event::HandedOver(_)));
    let Some(Event::HandedOver(done)) = events.last() else {
        panic!();
    };
    assert!(done.written.len() > 4);
    assert!(done.written.iter().all(|f| f.path.exists()));
    std::fs::write(stand.folder.path().join("a file"), "x").unwrap();
    editor
        .hand_over(&stand.folder.path().join("a file"), Vec::new())
        .unwrap();
    until(
        &mut editor,
        |_, e| matches!(e, Event::Notice(n) if n.lane == Lane::HandOver),
    );
}
