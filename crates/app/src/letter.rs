//! The roles type has on the sheet: size and weight of each.

use report::theme::{size, weight};

/// Size in points of a sheet at scale 1, and weight (400, 500 or 600).
pub type Letter = (f64, u16);

pub const BODY: Letter = (size::BODY, weight::REGULAR);
/// What is pressed, and names among text.
pub const NAMED: Letter = (size::BODY, weight::MEDIUM);
/// What a line is about.
pub const STRONG: Letter = (size::BODY, weight::SEMI_BOLD);
pub const CAPTION: Letter = (size::CAPTION, weight::REGULAR);
pub const CAPTION_NAMED: Letter = (size::CAPTION, weight::MEDIUM);
/// Above a column or a group.
pub const CAPTION_HEAD: Letter = (size::CAPTION, weight::SEMI_BOLD);
pub const HEAD: Letter = (size::HEAD, weight::SEMI_BOLD);
/// A sentence at the head of a page.
pub const SAID: Letter = (size::HEAD, weight::MEDIUM);
/// The same where another line stands below it.
pub const HEADED: Letter = (size::VERDICT_TWO_LINES, weight::MEDIUM);
pub const VERDICT: Letter = (size::VERDICT, weight::MEDIUM);
