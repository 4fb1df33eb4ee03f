//! A job of the made-up coach on disk, and an editor that is waited for.

use std::path::PathBuf;
use std::sync::OnceLock;
use std::time::{Duration, Instant};

use editor::{Editor, Event, Settings};
use record::{Job, Quiet, Study};

/// Longer than any of this takes on a busy machine: only a hang reaches it.
const PATIENCE: Duration = Duration::from_mins(5);

/// A folder of its own with the coach in it.
pub struct Stand {
    pub folder: tempfile::TempDir,
    pub job: PathBuf,
}

/// The coach, drawn once and copied for every test.
pub fn stand() -> Stand {
    static COACH: OnceLock<tempfile::TempDir> = OnceLock::new();
    let coach = COACH.get_or_init(|| {
        let folder = tempfile::tempdir().unwrap();
        demo::write_demo(folder.path(), 60_000, 7, &Quiet).unwrap();
        folder
    });
    let folder = tempfile::tempdir().unwrap();
    for file in std::fs::read_dir(coach.path()).unwrap() {
        let file = file.unwrap();
        if file.file_type().unwrap().is_file() {
            std::fs::copy(file.path(), folder.path().join(file.file_name())).unwrap();
        }
    }
    let job = folder.path().join("coach.ron");
    Stand { folder, job }
}

/// Draws in these tests: few, for speed; the same everywhere.
pub const DRAWS: u32 = 200;

pub fn settings() -> Settings {
    Settings {
        draws: DRAWS,
        ..Settings::default()
    }
}

impl Stand {
    pub fn open(&self) -> Editor {
        Editor::open(&self.job, settings()).unwrap()
    }
}

/// Drains until `enough`; everything that happened.
pub fn until(editor: &mut Editor, mut enough: impl FnMut(&Editor, &Event) -> bool) -> Vec<Event> {
    let began = Instant::now();
    let mut all = Vec::new();
    loop {
        for event in editor.drain() {
            let done = enough(editor, &event);
            all.push(event);
            if done {
                return all;
            }
        }
        assert!(began.elapsed() < PATIENCE, "nothing came of it: {all:#?}");
        std::thread::sleep(Duration::from_millis(2));
    }
}

/// Drains until every figure and chance is fresh.
pub fn settle(editor: &mut Editor) -> Vec<Event> {
    let began = Instant::now();
    let mut all = Vec::new();
    loop {
        all.extend(editor.drain());
        let d = editor.document();
        if d.is_fresh() && d.chances_are_drawn() {
            return all;
        }
        assert!(began.elapsed() < PATIENCE, "never fresh: {all:#?}");
        std::thread::sleep(Duration::from_millis(2));
    }
}

/// The study of a job worked out from nothing, as a command line does it.
pub fn cold(job: &Job, editor: &Editor) -> Study {
    let scans = editor.document().scans().clone();
    let mut study = study::run(job, &scans, &mut study::Kept::default(), DRAWS, &Quiet).unwrap();
    study.provenance.job_hash = formats::job_hash(job).unwrap();
    study
}

/// Every figure of a study, to the last bit.
pub fn bits(study: &Study) -> String {
    format!("{study:?}")
}
