//! What a page is given to show: everything by reference, nothing to change.

use editor::{Document, Editor, Freshness, Subject};
use record::CompareId;
use report::Pair;

use crate::state::ViewState;

/// What a page is given to show.
#[derive(Clone, Copy)]
pub struct Shown<'a> {
    /// The open job.
    pub editor: &'a Editor,
    /// Where one is.
    pub view: &'a ViewState,
}

impl<'a> Shown<'a> {
    /// The open job as data.
    pub fn document(&self) -> &'a Document {
        self.editor.document()
    }

    /// Every pair of the study.
    pub fn pairs(&self) -> Vec<Pair<'a>> {
        Pair::all(self.document().study())
    }

    /// The pair on the page: the chosen one, else the first.
    pub fn pair(&self) -> Option<Pair<'a>> {
        let pairs = self.pairs();
        pairs
            .iter()
            .find(|p| self.view.pair.as_ref() == Some(&p.measured.id))
            .or_else(|| pairs.first())
            .copied()
    }

    /// Whether figures of a pair wait for new ones.
    pub fn waits(&self, pair: &CompareId) -> bool {
        let document = self.document();
        let waits = |s: Subject| document.freshness(&s) == Freshness::Waits;
        waits(Subject::Compare(pair.clone())) || waits(Subject::Decided(pair.clone()))
    }
}
