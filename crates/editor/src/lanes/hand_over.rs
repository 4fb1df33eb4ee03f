//! The lane that writes files to hand over; one folder at a time, in order.

use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::mpsc::Receiver;

use formats::{HandOver, HandedFile, OutputOptions, WrittenFile};
use record::{CompareId, Stage, Study};

use super::{Teller, Told};
use crate::event::{Lane, Work};

/// What is to be written, and where.
pub(crate) struct HandOverWish {
    pub study: Arc<Study>,
    pub folder: PathBuf,
    /// What is said in it, by name, to be held against the next time.
    pub figures: Vec<(String, String)>,
}

/// What came of handing over.
#[derive(Clone, Debug, PartialEq)]
pub struct HandedOver {
    /// The folder.
    pub folder: PathBuf,
    /// The revision it got there.
    pub revision: String,
    /// What was said, by name.
    pub figures: Vec<(String, String)>,
    /// Names of the files without folder.
    pub files: Vec<String>,
    /// What was handed over into this folder the time before.
    pub before: Option<HandOver>,
    /// Files written and read back, in order.
    pub written: Vec<WrittenFile>,
    /// Files that were not written, by name, with the reason.
    pub refused: Vec<(String, String)>,
    /// What the names of files of each comparison begin with.
    pub names: BTreeMap<CompareId, String>,
}

impl HandedOver {
    /// Puts one more file into the folder, whole or not at all: a picture or a page, drawn where there are letters and
    /// colours. `name` without folder; signs that a common system does not take are replaced.
    ///
    /// # Errors
    /// With the path and a remedy, in words.
    pub fn add(&self, name: &str, bytes: &[u8]) -> Result<(), String> {
        let file = self.folder.join(formats::file_name(name));
        formats::atomic_write(&file, bytes).map_err(|e| format!("{e}. {}", e.hint()))
    }
}

pub(crate) fn start(wishes: Receiver<HandOverWish>, teller: Teller) -> std::thread::JoinHandle<()> {
    std::thread::spawn(move || {
        while let Ok(wish) = wishes.recv() {
            teller.tell(Told::Working(Work {
                lane: Lane::HandOver,
                what: wish.folder.display().to_string(),
                stage: Stage::Write,
                done: 0,
                total: 1,
                seconds_left: None,
            }));
            let done = teller.guarded(Lane::HandOver, || hand_over(&wish));
            match done {
                Some(Ok(done)) => teller.tell(Told::HandedOver(done)),
                Some(Err(error)) => teller.tell(Told::NotHandedOver {
                    says: error.to_string(),
                    hint: error.hint().to_owned(),
                }),
                None => {}
            }
            teller.tell(Told::Rests(Lane::HandOver));
        }
    })
}

/// Writes the files, and that they were handed over.
fn hand_over(wish: &HandOverWish) -> Result<HandedOver, formats::Error> {
    // Before anything is written: nobody writes over a log that cannot be read.
    let mut log = formats::read_hand_overs(&wish.folder)?;
    let options = OutputOptions::of(&wish.study);
    let out = formats::write_outputs(&wish.study, &wish.folder, &options)?;
    let before = log.done.last().cloned();
    let revision = log.next_revision();
    let mut files = Vec::new();
    for file in &out.written {
        let name = file.path.file_name().unwrap_or(file.path.as_os_str());
        files.push(HandedFile {
            name: name.to_string_lossy().into_owned(),
            blake3: formats::file_hash(&file.path, &|| true)?.unwrap_or_default(),
        });
    }
    let names = files.iter().map(|f| f.name.clone()).collect();
    log.done.push(HandOver {
        revision: revision.clone(),
        job_blake3: wish.study.provenance.job_hash.clone(),
        figures: wish.figures.clone(),
        files,
    });
    formats::write_hand_overs(&log, &wish.folder)?;
    Ok(HandedOver {
        folder: wish.folder.clone(),
        revision,
        figures: wish.figures.clone(),
        files: names,
        before,
        names: formats::output_names(&wish.study),
        written: out.written,
        refused: out
            .refused
            .into_iter()
            .map(|(name, why)| (name, why.to_string()))
            .collect(),
    })
}
