//! Results that are kept while a job is edited.

use std::collections::BTreeMap;
use std::sync::Arc;

use record::{Cancelled, ImageOf, Opening, Prepared, ScanRef};

use super::opening::Found;

/// What the picks of openings led to, by scan and picks. A kept result is the very one that would be worked out
/// again, so that keeping changes nothing but the time.
#[derive(Clone, Debug, Default)]
pub struct Kept {
    /// With the round in which each was used last.
    found: BTreeMap<String, (u64, Arc<Found>)>,
    /// The own mirror image of a scan that was worked out last.
    own_image: Option<(String, ImageOf)>,
    round: u64,
}

/// Results that were not used for so many rounds are forgotten: undo comes back to those before soon or never.
const ROUNDS: u64 = 24;

impl Kept {
    /// The key of an opening: the content of its scan, what is used of it and in which unit, and everything in its
    /// picks that matters. The name stands in what is said about holes of the scan.
    pub(super) fn key(prepared: &Prepared, scan: Option<&ScanRef>, opening: &Opening) -> String {
        format!(
            "{}|{}|{:?}|{:?}|{:?}",
            Self::scan_key(prepared, scan),
            opening.name,
            opening.edge,
            opening.faces,
            opening.holes
        )
    }

    /// The content of a scan, what is used of it and in which unit.
    fn scan_key(prepared: &Prepared, scan: Option<&ScanRef>) -> String {
        let used = scan.map(|s| (s.unit, &s.keep, &s.aside, s.largest_piece_only));
        format!("{}|{}|{used:?}", prepared.hash, prepared.blocks.len())
    }

    /// The own mirror image of a scan: the one that was kept, or the one that `work_out` finds.
    ///
    /// # Errors
    /// Those of `work_out`.
    pub(crate) fn own_image_or(
        &mut self,
        prepared: &Prepared,
        scan: Option<&ScanRef>,
        work_out: impl FnOnce() -> Result<ImageOf, Cancelled>,
    ) -> Result<ImageOf, Cancelled> {
        let key = Self::scan_key(prepared, scan);
        if let Some((of, image)) = &self.own_image
            && *of == key
        {
            return Ok(image.clone());
        }
        let image = work_out()?;
        self.own_image = Some((key, image.clone()));
        Ok(image)
    }

    pub(super) fn get(&self, key: &str) -> Option<Arc<Found>> {
        self.found.get(key).map(|f| Arc::clone(&f.1))
    }

    pub(super) fn put(&mut self, key: String, found: Arc<Found>) {
        self.found.insert(key, (self.round, found));
    }

    /// Another measuring begins: what was not used for long is forgotten.
    pub(super) fn next_round(&mut self) {
        self.round += 1;
        let round = self.round;
        self.found.retain(|_, f| f.0 + ROUNDS >= round);
    }

    /// Forgets everything.
    pub fn clear(&mut self) {
        self.found.clear();
        self.own_image = None;
    }
}
