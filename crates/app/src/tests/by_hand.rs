//! A job measured with tape and protractor alone, in the window.

use std::path::Path;

use egui_kittest::kittest::Queryable;

use super::{settle, window};
use crate::state::{Act, Step};

/// Both sides of a lamp opening, taped: the tables and a job that names them.
const JOB: &str = r#"(
    schema: 1,
    title: "Taped",
    seed: 1,
    cars: [(name: "coach")],
    visits: [(id: "first", car: "coach", flatness_mm: 0.05)],
    hand: [
        (id: "lamp-left", visit: "first", path: "lamp-left.csv"),
        (id: "lamp-right", visit: "first", path: "lamp-right.csv"),
    ],
    openings: [
        (id: "lamp-left", name: "Lamp left", scan: "lamp-left", side: left),
        (id: "lamp-right", name: "Lamp right", scan: "lamp-right", side: right),
    ],
    parts: [(
        id: "surround", name: "Surround", gap_mm: 2.0,
        allowed: (tight_mm: 0.5, wide_mm: 0.5, proud_mm: 0.5, shy_mm: 0.5, angle_deg: 0.5),
    )],
    compares: [(id: "lamp", relation: mirrored, a: "lamp-left", b: "lamp-right", part: "surround")],
)"#;

/// A taped job in a folder that stays until the tests end, with a centimetre misread at one of the first boxes.
pub(super) fn taped_with_a_slip() -> std::path::PathBuf {
    static FOLDER: std::sync::LazyLock<tempfile::TempDir> =
        std::sync::LazyLock::new(|| tempfile::tempdir().unwrap());
    let folder = FOLDER.path();
    let tables = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/data/hand");
    for name in ["lamp-left.csv", "lamp-right.csv"] {
        let text = std::fs::read_to_string(tables.join(name)).unwrap();
        let text = text.replacen("length;A;Q;414,0;", "length;A;Q;424,0;", 1);
        std::fs::write(folder.join(name), text).unwrap();
    }
    let job = folder.join("taped.ron");
    std::fs::write(&job, JOB).unwrap();
    job
}

/// A taped job of which the left side was read by somebody named, with an instrument of the table's own.
pub(super) fn taped_by(operator: &str, instrument: &str) -> std::path::PathBuf {
    static FOLDER: std::sync::LazyLock<tempfile::TempDir> =
        std::sync::LazyLock::new(|| tempfile::tempdir().unwrap());
    let folder = FOLDER.path();
    let tables = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/data/hand");
    for name in ["lamp-left.csv", "lamp-right.csv"] {
        let text = std::fs::read_to_string(tables.join(name)).unwrap();
        let named = text.lines().enumerate().map(|(k, line)| match k {
            0 => format!("{line};operator\n"),
            _ => format!("{line};{operator}\n"),
        });
        let named: String = named.collect();
        let text = if name.contains("left") { named } else { text };
        std::fs::write(folder.join(name), text).unwrap();
    }
    let own = format!(
        "path: \"lamp-left.csv\", instruments: [(name: \"{instrument}\", reading: 1.0, own: 0.5)]"
    );
    let job = folder.join("taped.ron");
    std::fs::write(&job, JOB.replace("path: \"lamp-left.csv\"", &own)).unwrap();
    job
}

#[test]
fn a_taped_job_shows_its_answer_on_every_page() {
    let folder = tempfile::tempdir().unwrap();
    let tables = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/data/hand");
    for name in ["lamp-left.csv", "lamp-right.csv"] {
        std::fs::copy(tables.join(name), folder.path().join(name)).unwrap();
    }
    let job = folder.path().join("taped.ron");
    std::fs::write(&job, JOB).unwrap();
    let mut harness = window([1280.0, 800.0]);
    harness.state_mut().open_job(&job);
    settle(&mut harness);
    let study = {
        let document = harness.state().editor().unwrap().document();
        assert!(document.notices().is_empty(), "{:?}", document.notices());
        std::sync::Arc::clone(document.study())
    };
    assert_eq!(study.measured.openings.len(), 2);
    let pair = report::Pair::all(&study)[0];
    let headline = report::pair_text(&pair).headline;
    for step in Step::ALL {
        harness.state_mut().ask(Act::Go(step));
        harness.run_steps(4);
        if step == Step::Compare {
            let said = harness.query_all_by_label_contains(&headline).next();
            assert!(said.is_some(), "{headline} is not announced");
        }
    }
}
