//! The lane that keeps an answer beside the job, so that it is there at once when the job is opened again. That it fails
//! costs nothing but time, so nothing is said.

use std::path::PathBuf;
use std::sync::Arc;
use std::sync::mpsc::Receiver;

use formats::{KeptFigures, Key};
use record::{Job, Measured, Study};

use super::Teller;
use super::decide::asked_of;
use crate::event::Lane;

/// An answer to keep.
pub(crate) struct KeepWish {
    /// The folder of what is kept beside the job.
    pub folder: PathBuf,
    /// What was measured was measured from this.
    pub key: Key,
    pub job: Arc<Job>,
    pub measured: Arc<Measured>,
    /// What was decided of it, chances and all.
    pub study: Arc<Study>,
    /// Draws per chance.
    pub draws: u32,
}

pub(crate) fn start(wishes: Receiver<KeepWish>, teller: Teller) -> std::thread::JoinHandle<()> {
    std::thread::spawn(move || {
        while let Ok(wish) = wishes.recv() {
            teller.guarded(Lane::Measure, || keep(&wish));
        }
    })
}

fn keep(wish: &KeepWish) {
    let decided = wish.measured.compares.iter().enumerate();
    let decided = decided.filter_map(|(i, c)| {
        let of = wish.study.decided.compares.iter().find(|d| d.id == c.id)?;
        let asked = asked_of(&wish.job, &wish.measured, wish.draws, i);
        Some((asked, of.clone()))
    });
    let figures = KeptFigures {
        measured: Measured::clone(&wish.measured),
        decided: decided.collect(),
    };
    let path = formats::kept_figures_path(&wish.folder);
    let _ = formats::make_folder(&wish.folder)
        .and_then(|()| formats::keep_figures(&figures, study::ENGINE, &wish.key, &path));
}
