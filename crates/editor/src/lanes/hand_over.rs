//! The lane that writes files to hand over; one folder at a time, in order.

use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::mpsc::Receiver;

use formats::{OutputOptions, WrittenFile};
use record::{CompareId, Stage, Study};

use super::{Teller, Told};
use crate::event::{Lane, Work};

/// What is to be written, and where.
pub(crate) struct HandOverWish {
    pub study: Arc<Study>,
    pub folder: PathBuf,
}

/// What came of handing over.
#[derive(Clone, Debug, PartialEq)]
pub struct HandedOver {
    /// The folder.
    pub folder: PathBuf,
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
            let done = teller.guarded(Lane::HandOver, || {
                let options = OutputOptions::of(&wish.study);
                formats::write_outputs(&wish.study, &wish.folder, &options)
            });
            match done {
                Some(Ok(out)) => teller.tell(Told::HandedOver(HandedOver {
                    folder: wish.folder,
                    names: formats::output_names(&wish.study),
                    written: out.written,
                    refused: out
                        .refused
                        .into_iter()
                        .map(|(name, why)| (name, why.to_string()))
                        .collect(),
                })),
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
