//! Sections and panels: cut beside everything else while somebody looks at them, and kept by what they came from.

use std::sync::Arc;

use record::Sections;

use super::Editor;
use crate::event::Event;
use crate::lanes::sections::{SectionsKey, SectionsWish};

/// So many answers are kept, the latest: what is undone is there at once.
const KEPT: usize = 4;

impl Editor {
    /// Says whether sections are looked at. While they are, those of the job as it is are cut whenever it changed; they
    /// come as [`Event::Sections`] and stand in [`crate::Document::sections`].
    pub fn want_sections(&mut self, wanted: bool) {
        self.sections_wanted = wanted;
        self.sections_called_off = false;
        self.wish_sections();
    }

    /// Calls off the cutting that is under way; nothing is cut until [`Editor::want_sections`].
    pub fn call_off_sections(&mut self) {
        self.sections_wanted = false;
        self.sections_called_off = true;
        self.sections_asked = None;
        self.sections.put(None);
        self.document.work.remove(&crate::event::Lane::Sections);
    }

    /// Whether cutting was called off and nothing came since.
    pub fn sections_are_called_off(&self) -> bool {
        self.sections_called_off
    }

    /// Whether sections were asked for and did not come yet.
    pub fn sections_are_coming(&self) -> bool {
        self.sections_asked.is_some()
    }

    /// Asks for sections if they are wanted, not there and not on their way.
    pub(super) fn wish_sections(&mut self) {
        let basis = self.basis.as_ref().filter(|b| b.serial == self.serial);
        let (Some(basis), Some(measured)) = (basis, self.asked) else {
            return;
        };
        let job = Arc::clone(self.document.job());
        let key = SectionsKey::of(&job, measured);
        self.document.sections_now = Some(key.clone());
        let here = self.document.sections.iter().any(|(k, _)| *k == key);
        if !self.sections_wanted || here || self.sections_asked.as_ref() == Some(&key) {
            return;
        }
        self.sections_asked = Some(key.clone());
        self.sections.put(Some(SectionsWish {
            key,
            job,
            scans: self.document.scans.clone(),
            measured: Arc::clone(&basis.measured),
            draws: self.draws,
        }));
    }

    pub(super) fn sections_came(&mut self, key: SectionsKey, sections: Arc<Sections>) {
        if self.sections_asked.as_ref() == Some(&key) {
            self.sections_asked = None;
        }
        let held = &mut self.document.sections;
        held.retain(|(k, _)| *k != key);
        held.insert(0, (key, sections));
        held.truncate(KEPT);
        self.events.push(Event::Sections);
    }
}
