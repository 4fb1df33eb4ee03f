//! Sections and panels: cut beside everything else while somebody looks at them, and kept by what they came from.

use std::sync::Arc;

use record::Sections;

use super::Editor;
use crate::event::Event;
use crate::lanes::Mailbox;
use crate::lanes::sections::{SectionsKey, SectionsWish};

/// So many answers are kept, the latest: what is undone is there at once.
const KEPT: usize = 4;

/// What is wanted of the lane of sections, and what is on its way.
pub(super) struct Cutting {
    pub wishes: Arc<Mailbox<Option<SectionsWish>>>,
    /// Somebody looks at them.
    wanted: bool,
    called_off: bool,
    asked: Option<SectionsKey>,
}

impl Cutting {
    pub(super) fn new() -> Self {
        Self {
            wishes: Mailbox::new(),
            wanted: false,
            called_off: false,
            asked: None,
        }
    }

    /// The lane ended in the midst of it: nothing is cut until it is asked for again.
    pub(super) fn broke(&mut self) {
        self.wanted = false;
        self.asked = None;
        self.called_off = true;
    }
}

impl Editor {
    /// Says whether sections are looked at. While they are, those of the job as it is are cut whenever it changed; they
    /// come as [`Event::Sections`] and stand in [`crate::Document::sections`].
    pub fn want_sections(&mut self, wanted: bool) {
        self.cutting.wanted = wanted;
        self.cutting.called_off = false;
        self.wish_sections();
    }

    /// Calls off the cutting that is under way; nothing is cut until [`Editor::want_sections`].
    pub fn call_off_sections(&mut self) {
        self.cutting.wanted = false;
        self.cutting.called_off = true;
        self.cutting.asked = None;
        self.cutting.wishes.put(None);
        self.document.work.remove(&crate::event::Lane::Sections);
    }

    /// Whether cutting was called off and nothing came since.
    pub fn sections_are_called_off(&self) -> bool {
        self.cutting.called_off
    }

    /// Whether sections were asked for and did not come yet.
    pub fn sections_are_coming(&self) -> bool {
        self.cutting.asked.is_some()
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
        if !self.cutting.wanted || here || self.cutting.asked.as_ref() == Some(&key) {
            return;
        }
        self.cutting.asked = Some(key.clone());
        self.cutting.wishes.put(Some(SectionsWish {
            key,
            job,
            scans: self.document.scans.clone(),
            measured: Arc::clone(&basis.measured),
            draws: self.draws,
        }));
    }

    pub(super) fn sections_came(&mut self, key: SectionsKey, sections: Arc<Sections>) {
        if self.cutting.asked.as_ref() == Some(&key) {
            self.cutting.asked = None;
        }
        let held = &mut self.document.sections;
        held.retain(|(k, _)| *k != key);
        held.insert(0, (key, sections));
        held.truncate(KEPT);
        self.events.push(Event::Sections);
    }
}
