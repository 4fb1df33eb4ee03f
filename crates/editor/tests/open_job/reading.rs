//! Files come in, are kept, and are pointed at.

use editor::{Command, Editor, Event, Lane, ProbeAt, Probed, ScanChange, ScanState, edge_pick};
use geom::Point;
use record::{FacePick, LengthUnit, Region, RegionShape, ScanId, UnitSource};

use crate::stand::{bits, cold, settings, settle, stand, until};

#[test]
fn a_file_becomes_a_scan_with_a_likely_unit_and_its_reason() {
    let folder = tempfile::tempdir().unwrap();
    let rows: Vec<String> = (0..40_000)
        .map(|i| {
            format!(
                "{:.4} {:.4} 0.01",
                f64::from(i % 200) * 0.003,
                f64::from(i / 200) * 0.003
            )
        })
        .collect();
    let file = folder.path().join("wing left.xyz");
    std::fs::write(&file, rows.join("\n")).unwrap();
    let bad = folder.path().join("notes.pdf");
    std::fs::write(&bad, b"%PDF-1.4 no scan at all").unwrap();
    let mut editor = Editor::new_job(settings());
    editor.bring_in([bad.clone(), file.clone()]);
    assert_eq!(editor.document().incoming().len(), 2);
    let events = until(&mut editor, |_, e| matches!(e, Event::ScanReady(_)));
    assert!(
        events
            .iter()
            .any(|e| matches!(e, Event::NotRead(p) if *p == bad))
    );
    let notice = &editor.document().notices()[0];
    assert_eq!(notice.lane, Lane::Read);
    assert!(
        notice.says.contains("PDF") && !notice.advice.is_empty(),
        "{notice:?}"
    );
    let number = notice.number;
    editor.put_away(number);
    assert!(editor.document().notices().is_empty());
    let id = ScanId::from("wing left");
    let scan = editor.document().job().scans[0].clone();
    assert_eq!((&scan.id, scan.unit), (&id, LengthUnit::Metre));
    assert_eq!(scan.unit_source, UnitSource::Guessed);
    assert!(scan.hash.is_some());
    assert_eq!(
        editor.document().undo_names().next(),
        Some("bring in wing left")
    );
    let question = editor.document().unit_question(&id).unwrap();
    assert!(question.reason.contains("597 mm"), "{question:?}");
    let unit = LengthUnit::Millimetre;
    let source = UnitSource::Stated;
    editor
        .apply(&Command::scan(
            id.clone(),
            ScanChange::Unit { unit, source },
        ))
        .unwrap();
    assert_eq!(editor.document().unit_question(&id), None);
    until(&mut editor, |e, event| {
        matches!(event, Event::ScanReady(_)) && e.document().scan_state(&id) == ScanState::Ready
    });
    let size = editor.document().scans()[&id].blocks.bounds().size();
    assert!((size.x - 0.597).abs() < 1e-6, "{size}");
    editor.undo().unwrap();
    editor.undo().unwrap();
    assert!(editor.document().job().scans.is_empty());
    assert!(editor.document().scans().is_empty());
}

#[test]
fn a_pasted_table_stays_beside_the_job() {
    let stand = stand();
    let mut editor = stand.open();
    let table = "name;x_mm;y_mm;z_mm\nA;1,5;0;0\nB;200;0;0\nC;200;150,25;0\n";
    let path = editor.paste(table).unwrap();
    until(
        &mut editor,
        |_, e| matches!(e, Event::ScanReady(id) if id.0 == "pasted-1"),
    );
    assert_eq!(path, stand.folder.path().join("pasted-1.csv"));
    let scan = &editor.document().scans()[&ScanId::from("pasted-1")];
    assert_eq!(scan.blocks.len(), 3);
    let b = scan.blocks.bounds();
    assert!(
        (b.high.y - 150.25).abs() < 1e-5 && (b.low.x - 1.5).abs() < 1e-5,
        "{b:?}"
    );
    let second = editor.paste(table).unwrap();
    assert_ne!(second, path);
    let mut nowhere = Editor::new_job(settings());
    assert!(matches!(
        nowhere.paste(table),
        Err(editor::NotSaved::NoName)
    ));
}

#[test]
fn a_large_file_is_there_thinned_before_it_is_ready() {
    let folder = tempfile::tempdir().unwrap();
    let rows: Vec<String> = (0..150_000)
        .map(|i| format!("{} {} 0.5", i % 500, i / 500))
        .collect();
    let file = folder.path().join("large.xyz");
    std::fs::write(&file, rows.join("\n")).unwrap();
    let mut editor = Editor::new_job(settings());
    editor.bring_in([file.clone()]);
    let events = until(&mut editor, |e, event| {
        if let Event::Coarse(path) = event {
            let cloud = e.document().coarse(path).unwrap();
            assert!(cloud.blocks.len() <= 120_000 && cloud.blocks.len() > 50_000);
        }
        matches!(event, Event::ScanReady(_))
    });
    let coarse = events
        .iter()
        .position(|e| *e == Event::Coarse(file.clone()));
    let came = events.iter().position(|e| matches!(e, Event::BroughtIn(_)));
    assert!(coarse.unwrap() < came.unwrap(), "{events:?}");
    assert!(
        editor.document().coarse(&file).is_none(),
        "no longer needed"
    );
}

#[test]
fn what_is_put_aside_is_not_used_and_comes_back() {
    let stand = stand();
    let mut editor = stand.open();
    settle(&mut editor);
    let scan = editor.document().job().scans[0].id.clone();
    let points = |e: &Editor| e.document().scans()[&scan].blocks.len();
    let all = points(&editor);
    let b = editor.document().scans()[&scan].blocks.bounds();
    let middle = nalgebra::center(&b.low, &b.high);
    let region = Region {
        shape: RegionShape::Box {
            low: b.low,
            high: Point::new(middle.x, b.high.y, b.high.z),
        },
        note: "not of the body".to_owned(),
    };
    editor
        .apply(&Command::scan(scan.clone(), ScanChange::PutAside(region)))
        .unwrap();
    assert_eq!(editor.document().scan_state(&scan), ScanState::BeingCut);
    settle(&mut editor);
    let fewer = points(&editor);
    assert!(fewer < all && fewer > 0, "{fewer} of {all}");
    let job = editor.document().as_written();
    assert_eq!(bits(editor.document().study()), bits(&cold(&job, &editor)));
    editor.undo().unwrap();
    settle(&mut editor);
    assert_eq!(points(&editor), all);
    let job = editor.document().as_written();
    assert_eq!(bits(editor.document().study()), bits(&cold(&job, &editor)));
}

#[test]
fn the_second_time_a_job_opens_with_the_scans_that_were_kept() {
    let folder = tempfile::tempdir().unwrap();
    demo::write_demo(folder.path(), 400_000, 5, &record::Quiet).unwrap();
    let job = folder.path().join("coach.ron");
    let kept = formats::kept_folder(&job);
    let mut editor = Editor::open(&job, settings()).unwrap();
    settle(&mut editor);
    let first = bits(editor.document().study());
    let files = || {
        let list = std::fs::read_dir(&kept).map(|d| d.map(|f| f.unwrap().path()).collect());
        let mut list: Vec<_> = list.unwrap_or_default();
        list.retain(|p: &std::path::PathBuf| p.extension().is_some_and(|e| e == "scan"));
        list.sort();
        list
    };
    for _ in 0..5000 {
        if files().len() >= 2 {
            break;
        }
        std::thread::sleep(std::time::Duration::from_millis(10));
    }
    assert!(files().len() >= 2, "{:?}", files());
    drop(editor);
    let mut editor = Editor::open(&job, settings()).unwrap();
    let events = settle(&mut editor);
    assert_eq!(bits(editor.document().study()), first);
    let prepared = |e: &Event| matches!(e, Event::Coarse(_));
    assert!(!events.iter().any(prepared), "nothing was prepared anew");
    drop(editor);
    // Damaged ones are not used, and nobody hears of it.
    for file in files() {
        let mut bytes = std::fs::read(&file).unwrap();
        let at = bytes.len() / 2;
        bytes[at] ^= 1;
        std::fs::write(&file, bytes).unwrap();
    }
    let mut editor = Editor::open(&job, settings()).unwrap();
    settle(&mut editor);
    assert_eq!(bits(editor.document().study()), first);
    assert!(editor.document().notices().is_empty());
}

#[test]
fn what_is_pointed_at_equals_what_is_measured() {
    let stand = stand();
    let mut editor = stand.open();
    settle(&mut editor);
    let job = editor.document().job().clone();
    let study = editor.document().study().clone();
    let (mut faces, mut edges, mut holes) = (0, 0, 0);
    let mut look = |scan: &ScanId, at: ProbeAt| {
        let number = editor.probe(scan, at).unwrap();
        let mut found = None;
        until(&mut editor, |_, e| match e {
            Event::Probed(a) if a.number == number => {
                found = Some(a.found.clone());
                true
            }
            _ => false,
        });
        found.unwrap()
    };
    for o in &job.openings {
        let m = study
            .measured
            .openings
            .iter()
            .find(|m| m.id == o.id)
            .unwrap();
        for f in &o.faces {
            let measured = m.faces.iter().find(|m| m.id == f.id);
            match (look(&o.scan, ProbeAt::Face(f.clone())), measured) {
                (Ok(Probed::Face(at)), Some(measured)) => {
                    assert_eq!(format!("{:?}", at.face), format!("{measured:?}"));
                    assert!(at.area_mm2 > 0.0 && at.normal.u95 > 0.0 && at.flatness_mm > 0.0);
                    assert_eq!(at.points.len(), measured.points);
                    faces += 1;
                }
                (Err(_), None) => {}
                (a, b) => panic!("{a:?} {b:?}"),
            }
        }
        let (Some(pick), Some(measured)) = (&o.edge, &m.edge) else {
            continue;
        };
        let Ok(Probed::Edge(near)) = look(&o.scan, ProbeAt::Edge(pick.clone())) else {
            panic!("no edge at {}", o.id);
        };
        assert_eq!((near.kind, near.closed), (measured.kind, measured.closed));
        assert_eq!(near.gaps, measured.gaps);
        assert_eq!(near.stations.len(), measured.stations.len());
        for (p, s) in near.stations.iter().zip(&measured.stations) {
            assert_eq!(m.part_from_scan * p.at, s.at);
            assert_eq!(p.seen, s.seen);
        }
        edges += 1;
        for h in &o.holes {
            let Some(measured) = m.holes.iter().find(|m| m.id == h.id) else {
                continue;
            };
            let at = ProbeAt::Hole(h.clone(), o.edge.clone());
            let Ok(Probed::Hole(near)) = look(&o.scan, at) else {
                panic!("no hole at {}", h.id);
            };
            assert_eq!(m.part_from_scan * near.centre, measured.centre);
            assert_eq!(near.diameter, measured.diameter);
            assert_eq!(near.centre_u95, measured.centre_u95);
            holes += 1;
        }
    }
    assert!(
        faces > 8 && edges > 4 && holes > 4,
        "{faces} {edges} {holes}"
    );
}

#[test]
fn only_the_newest_place_pointed_at_is_looked_at() {
    let stand = stand();
    let mut editor = stand.open();
    settle(&mut editor);
    let o = editor.document().job().openings[0].clone();
    let edge = o.edge.unwrap();
    let nowhere = FacePick {
        id: "x".into(),
        near: Point::new(9e4, 0.0, 0.0),
        facing: None,
        reach_mm: None,
        band_mm: None,
    };
    editor.probe(&o.scan, ProbeAt::Face(nowhere)).unwrap();
    let mut last = 0;
    for k in 0..50 {
        let near = edge.near + geom::Vector::new(0.01 * f64::from(k), 0.0, 0.0);
        last = editor
            .probe(&o.scan, ProbeAt::Edge(edge_pick(near)))
            .unwrap();
    }
    let events = until(
        &mut editor,
        |_, e| matches!(e, Event::Probed(a) if a.number == last),
    );
    let answers: Vec<u64> = events
        .iter()
        .filter_map(|e| match e {
            Event::Probed(a) => Some(a.number),
            _ => None,
        })
        .collect();
    assert!(answers.is_sorted() && answers.len() < 50, "{answers:?}");
    assert_eq!(editor.probe(&"none".into(), ProbeAt::Edge(edge)), None);
}

/// Taken out and put back faster than the reading lane looks: what it had told of the scan was thrown away meanwhile, and is
/// told again.
#[test]
fn a_scan_put_back_at_once_is_there_again() {
    let stand = stand();
    let mut editor = stand.open();
    settle(&mut editor);
    let id = editor.document().job().scans[0].id.clone();
    for _ in 0..20 {
        editor.apply(&Command::RemoveScan(id.clone())).unwrap();
        editor.undo().unwrap();
        let began = std::time::Instant::now();
        while editor.document().scan_state(&id) != ScanState::Ready {
            assert!(began.elapsed().as_secs() < 60, "the scan is lost");
            std::thread::sleep(std::time::Duration::from_millis(2));
            drop(editor.drain());
        }
    }
    settle(&mut editor);
}
