//! Offers: picks that were carried from the other side and wait for a person to keep or skip them.

use record::Opening;

use crate::command::Command;

/// Something proposed that is not in the job yet; drawn dashed.
#[derive(Clone, Debug, PartialEq)]
pub struct Offer {
    /// Its number; grows.
    pub number: u64,
    /// What it is: "face panel of nose-right".
    pub name: String,
    /// The picks offered, in their scan: only these, the rest of the opening is not repeated.
    pub picks: Opening,
    /// How sure it is, 0 to 1.
    pub sureness: f64,
    /// What keeping it does.
    pub(crate) command: Command,
}

/// A remark of the search on something it proposed.
#[derive(Clone, Debug, PartialEq)]
pub struct Remark {
    /// What it is about: the name of a scan, an opening or a comparison.
    pub about: String,
    /// What was seen and what to do about it.
    pub says: String,
    /// How sure it is, 0 to 1.
    pub sureness: f64,
}
