//! What goes to the editor.

use std::path::PathBuf;

use editor::Refused;

use super::{Window, said};
use crate::state::{Act, Panel, Step};

impl Window {
    /// What goes to the editor.
    pub(super) fn change(&mut self, act: Act) {
        let Some(editor) = &mut self.open else { return };
        self.edited |= matches!(
            act,
            Act::Do(_)
                | Act::DoLive(_)
                | Act::Undo
                | Act::Redo
                | Act::KeepOffer(_)
                | Act::CompareWith(..)
        );
        let done: Result<Option<String>, Refused> = match act {
            // What goes with a scan is said, not only the scan.
            Act::Do(command @ editor::Command::RemoveScan(_)) => editor
                .apply(&command)
                .map(|()| editor.document().undo_names().next().map(str::to_owned)),
            Act::Do(command) => editor.apply(&command).map(|()| None),
            Act::DoLive(command) => editor.apply_live(&command).map(|()| None),
            Act::Settle => {
                editor.settle();
                Ok(None)
            }
            Act::Undo => editor.undo().map(|n| Some(format!("undone: {n}"))),
            Act::Redo => editor.redo().map(|n| Some(format!("done again: {n}"))),
            Act::Save => {
                match editor.save() {
                    Ok(()) => self.view.said = Some("saved".to_owned()),
                    Err(editor::NotSaved::NoName) => {
                        let beside = self.beside_scans("job.ron");
                        self.view.panel = Some(Panel::SaveAs(beside));
                    }
                    Err(error) => self.view.said = Some(error.to_string()),
                }
                return;
            }
            Act::SaveAs(path) => {
                self.view.said = Some(match editor.save_as(&path) {
                    Ok(()) => "saved".to_owned(),
                    Err(error) => said(&error.to_string(), error.hint()),
                });
                return;
            }
            Act::WantSections(wanted) => {
                editor.want_sections(wanted);
                Ok(None)
            }
            Act::CallOffSections => {
                editor.call_off_sections();
                Ok(Some("cutting was called off".to_owned()))
            }
            Act::CallOff(file) => {
                editor.call_off(&file);
                Ok(None)
            }
            Act::PutAway(notice) => {
                editor.put_away(notice);
                Ok(None)
            }
            Act::Find => {
                editor.propose();
                Ok(Some("looking for openings".to_owned()))
            }
            Act::CopyAcross(opening) => editor.copy_across(&opening).map(|()| None),
            Act::CompareWith(one, other) => editor.pair(&one, &other).map(|()| None),
            Act::KeepOffer(number) => editor.keep_offer(number).map(|()| None),
            Act::SkipOffer(number) => {
                editor.skip_offer(number);
                Ok(None)
            }
            Act::Recover => {
                editor.recover();
                Ok(Some("what was not saved is back".to_owned()))
            }
            Act::LeaveRecovery => {
                editor.leave_recovery();
                Ok(None)
            }
            Act::Paste(table) if self.view.step == Step::Centreline => editor
                .paste_places(&table)
                .map(|n| Some(format!("{n} places taken"))),
            Act::Paste(table) => {
                if let Err(error) = editor.paste(&table) {
                    self.view.said = Some(error.to_string());
                }
                return;
            }
            Act::HandOver => {
                let folder = PathBuf::from(self.view.hand_over.folder.trim());
                let figures = report::hand_over::figures(editor.document().study());
                let asked = editor.hand_over(&folder, figures);
                self.view.hand_over.writing = asked.is_ok();
                self.handed = Some(std::sync::Arc::clone(editor.document().study()));
                asked.map(|()| None)
            }
            Act::Probe(scan, at) => {
                self.view.places.looking = editor.probe(&scan, at).is_some();
                Ok(None)
            }
            _ => Ok(None),
        };
        match done {
            Ok(None) => {}
            Ok(says) => self.view.said = says,
            Err(refused) => self.view.said = Some(refused.to_string()),
        }
    }
}
