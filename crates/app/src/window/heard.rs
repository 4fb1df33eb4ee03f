//! What the editor tells, taken in.

use editor::Event;

use super::{UNDERLINED, Window};
use crate::state::Step;

impl Window {
    /// Takes down which shares an edit made other ones: they stand underlined for a while.
    fn shares_came(&mut self) {
        let Some(editor) = &self.open else { return };
        let now = self.wake.input(|i| i.time);
        for pair in report::Pair::all(editor.document().study()) {
            for option in pair.options() {
                let key = (pair.measured.id.clone(), option.kind);
                let text = report::sheet::uses_text(&pair, option);
                let held = self.view.uses.get(&key);
                if held.is_none_or(|(before, _)| *before != text) {
                    let since = held.filter(|_| self.edited).map(|_| now);
                    self.view.uses.insert(key, (text, since));
                }
            }
        }
        self.wake.request_repaint_after(UNDERLINED);
    }

    pub(super) fn heard(&mut self, event: Event) {
        match event {
            Event::Probed(answer) => {
                self.view.places.looking = false;
                self.view.places.says = None;
                self.view.places.found = Some(answer);
            }
            Event::HandedOver(done) => {
                let handing = &mut self.view.hand_over;
                handing.writing = false;
                let study = self.handed.take();
                let (papers, lost) = study.map_or_else(Default::default, |study| {
                    crate::printing::papers(&done, &study)
                });
                handing.last = Some(done.written.len() + papers);
                handing.says = vec![format!(
                    "{} files written to {} and read back, and {papers} pictures and pages.",
                    done.written.len(),
                    done.folder.display()
                )];
                handing.says.extend(lost);
                handing.changed = crate::pages::hand_over::changed(&done);
                handing.says.extend(
                    done.refused
                        .iter()
                        .map(|(name, why)| format!("Not written: {name}: {why}.")),
                );
            }
            Event::Proposed { openings } => {
                self.view.said = Some(match openings {
                    0 => "no opening was found".to_owned(),
                    1 => "1 opening is proposed".to_owned(),
                    n => format!("{n} openings are proposed"),
                });
                if openings > 0 {
                    self.view.step = Step::Places;
                    self.view.scan = None;
                }
            }
            Event::Study { chances } => {
                self.shares_came();
                self.edited &= !chances;
            }
            Event::Notice(notice) => self.view.said = Some(without_folders(&notice.says)),
            Event::BroughtIn(scan) => {
                self.view.scan = Some(scan);
                if self.view.hand_over.folder.is_empty() {
                    self.view.hand_over.folder = self.beside_scans("handed-over");
                }
            }
            Event::Rests(editor::Lane::HandOver) => self.view.hand_over.writing = false,
            _ => {}
        }
    }
}

/// A sentence with quoted paths cut down to the names of the files: it has one line.
fn without_folders(says: &str) -> String {
    let name = |part: &str| {
        let from = part.rfind(['/', '\\']).map_or(0, |at| at + 1);
        part[from..].to_owned()
    };
    let parts = says.split('"').enumerate();
    let parts: Vec<String> = parts
        .map(|(k, part)| {
            if k % 2 == 1 {
                name(part)
            } else {
                part.to_owned()
            }
        })
        .collect();
    parts.concat()
}
