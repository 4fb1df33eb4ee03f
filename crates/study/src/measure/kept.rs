//! Results that are kept while a job is edited.

use std::collections::BTreeMap;
use std::sync::Arc;

use record::Opening;

use super::opening::Found;

/// What the picks of openings led to, by scan and picks. A kept result is the very one that would be worked out
/// again, so that keeping changes nothing but the time.
#[derive(Clone, Debug, Default)]
pub struct Kept {
    found: BTreeMap<String, Arc<Found>>,
}

impl Kept {
    /// The key of an opening: the content of its scan and everything in its picks that matters.
    pub(super) fn key(scan_hash: &str, opening: &Opening) -> String {
        format!(
            "{scan_hash}|{:?}|{:?}|{:?}",
            opening.edge, opening.faces, opening.holes
        )
    }

    pub(super) fn get(&self, key: &str) -> Option<Arc<Found>> {
        self.found.get(key).map(Arc::clone)
    }

    pub(super) fn put(&mut self, key: String, found: Arc<Found>) {
        self.found.insert(key, found);
    }

    /// Forgets everything.
    pub fn clear(&mut self) {
        self.found.clear();
    }
}
