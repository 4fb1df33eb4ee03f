//! Names for new things: the first number that is free.

use record::{FaceId, HoleId, JunctionId, OpeningId, PartId};

use crate::document::Document;

/// `name`, or with the first free number behind it.
pub(crate) fn free_name(name: &str, taken: impl Fn(&str) -> bool) -> String {
    let mut number = 1;
    let mut out = name.to_owned();
    while taken(&out) {
        number += 1;
        out = format!("{name}-{number}");
    }
    out
}

/// "face-1", or the next number that is free.
fn numbered(stem: &str, taken: impl Fn(&str) -> bool) -> String {
    let mut number = 1;
    loop {
        let name = format!("{stem}-{number}");
        if !taken(&name) {
            return name;
        }
        number += 1;
    }
}

impl Document {
    /// A name for a new opening: "opening-3".
    pub fn free_opening(&self) -> OpeningId {
        let taken = |n: &str| self.job().openings.iter().any(|o| o.id.0 == n);
        OpeningId(numbered("opening", taken))
    }

    /// A name for a new face of an opening: "face-2".
    pub fn free_face(&self, opening: &OpeningId) -> FaceId {
        let o = self.job().openings.iter().find(|o| o.id == *opening);
        let taken = |n: &str| o.is_some_and(|o| o.faces.iter().any(|f| f.id.0 == n));
        FaceId(numbered("face", taken))
    }

    /// A name for a new hole of an opening: "hole-2". The same name on the other side makes the two partners.
    pub fn free_hole(&self, opening: &OpeningId) -> HoleId {
        let o = self.job().openings.iter().find(|o| o.id == *opening);
        let taken = |n: &str| o.is_some_and(|o| o.holes.iter().any(|h| h.id.0 == n));
        HoleId(numbered("hole", taken))
    }

    /// A name for a new junction of an opening: "junction-1".
    pub fn free_junction(&self, opening: &OpeningId) -> JunctionId {
        let o = self.job().openings.iter().find(|o| o.id == *opening);
        let taken = |n: &str| o.is_some_and(|o| o.junctions.iter().any(|j| j.id.0 == n));
        JunctionId(numbered("junction", taken))
    }

    /// A name for a new part: "part-2".
    pub fn free_part(&self) -> PartId {
        let taken = |n: &str| self.job().choices.parts.iter().any(|p| p.id.0 == n);
        PartId(numbered("part", taken))
    }
}
