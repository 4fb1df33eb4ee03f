//! The window without a screen: by role and label, on the coach of the demonstration.

mod answer;
mod bring_in;
mod brought_in;
mod by_hand;
mod centreline;
mod clicked_places;
mod decide;
mod focus;
mod from_empty;
mod hand_over;
mod joining;
mod pictures;
mod places;
mod rules;
mod sections;
mod start;
mod taped;
mod two;
mod whole_job;
mod whole_window;

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::sync::{LazyLock, Mutex, PoisonError};
use std::time::{Duration, Instant};

use egui::{Role, vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;

use crate::{Preferences, Window, look};

/// The coach, made once for all tests.
static COACH: LazyLock<(tempfile::TempDir, PathBuf)> = LazyLock::new(|| {
    let folder = tempfile::tempdir().unwrap();
    let files = demo::write_demo(folder.path(), 120_000, 1, &record::Quiet).unwrap();
    (folder, files.job_path)
});

/// A window of a size, empty.
fn window(size: [f32; 2]) -> Harness<'static, Window> {
    Harness::builder()
        .with_size(vec2(size[0], size[1]))
        .with_theme(egui::Theme::Light)
        .with_max_steps(40)
        .build_eframe(|cc| {
            look::dress(&cc.egui_ctx);
            Window::new(&cc.egui_ctx, Preferences::default())
        })
}

/// The window on a copy of the coach's job, with the answer there.
fn window_on_coach(size: [f32; 2]) -> Harness<'static, Window> {
    let mut harness = window(size);
    let job = copied_job();
    harness.state_mut().open_job(&job);
    settle(&mut harness);
    harness
}

/// A copy of the job beside the scans, so that tests do not meet in one file.
fn copied_job() -> PathBuf {
    use std::sync::atomic::{AtomicUsize, Ordering};
    static NUMBER: AtomicUsize = AtomicUsize::new(0);
    let number = NUMBER.fetch_add(1, Ordering::Relaxed);
    copied(&COACH.1, &format!("coach-{number}.ron"))
}

/// A copy of a job beside its scans, with the answer that is kept beside the job: each job is measured once for all tests.
fn copied(job: &Path, name: &str) -> PathBuf {
    static KEPT: Mutex<BTreeSet<PathBuf>> = Mutex::new(BTreeSet::new());
    {
        let mut kept = KEPT.lock().unwrap_or_else(PoisonError::into_inner);
        if kept.insert(job.to_owned()) {
            let mut harness = window([1280.0, 800.0]);
            harness.state_mut().open_job(job);
            settle(&mut harness);
            // Closed, it waits for what is being kept.
        }
    }
    let copy = job.with_file_name(name);
    std::fs::copy(job, &copy).unwrap();
    let (from, to) = (formats::kept_folder(job), formats::kept_folder(&copy));
    std::fs::create_dir(&to).unwrap();
    for file in std::fs::read_dir(from).unwrap() {
        let file = file.unwrap();
        std::fs::copy(file.path(), to.join(file.file_name())).unwrap();
    }
    copy
}

/// Takes the choice of that label, for a reason.
fn choose(harness: &mut Harness<'static, Window>, label: &str, why: &str) {
    harness.get_by_role_and_label(Role::Button, label).click();
    harness.run_steps(3);
    harness
        .get_by_role_and_label(Role::TextInput, "Why")
        .focus();
    harness.run_steps(2);
    harness.event(egui::Event::Text(why.to_owned()));
    harness.run_steps(2);
    harness
        .get_by_role_and_label(Role::Button, "Choose it")
        .click();
    harness.run_steps(3);
}

/// Passes until every figure and chance is there. The bound only ends a test that hangs.
fn settle(harness: &mut Harness<'static, Window>) {
    let begun = Instant::now();
    loop {
        harness.step();
        let done = harness.state().editor().is_none_or(|e| {
            let d = e.document();
            d.is_fresh() && d.chances_are_drawn() && d.work().next().is_none()
        });
        if done {
            break;
        }
        assert!(
            begun.elapsed() < Duration::from_mins(5),
            "the answer never came"
        );
        std::thread::sleep(Duration::from_millis(20));
    }
    harness.run_steps(3);
}

/// Passes until the sections of the job as it is are there.
fn settle_sections(harness: &mut Harness<'static, Window>) {
    settle(harness);
    let begun = Instant::now();
    let coming = |h: &Harness<'static, Window>| {
        let editor = h.state().editor().expect("an open job");
        editor.sections_are_coming()
    };
    while coming(harness) {
        assert!(
            begun.elapsed() < Duration::from_mins(5),
            "the sections never came"
        );
        std::thread::sleep(Duration::from_millis(20));
        harness.step();
    }
    harness.run_steps(3);
}
