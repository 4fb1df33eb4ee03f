//! Turns a study into sentences, terminal text and sheets.
//!
//! Nothing is computed here that a decision could rest on: every number shown comes from one field of the
//! [`record::Study`], rounded to what its give-or-take can carry. No file is opened; writers get text back.
//!
//! | module | what |
//! |---|---|
//! | [`body_work`] | what body work changed between two visits |
//! | [`cars`] | parts of one car in the openings of another |
//! | [`explain`] | what a figure means, how it was got, how to try it at the car |
//! | [`hand_over`] | who gets what, and what has changed since |
//! | [`joins`] | how the scans of a body are joined |
//! | [`number`] | a figure as text: digits, units, decimal comma |
//! | [`words`] | the words for sides, choices, verdicts, directions |
//! | [`pair`] | what belongs to one comparison, gathered from the study |
//! | [`positions`] | positions on the car, apart from the answer |
//! | [`sections`] | sections and panels in sentences and tables |
//! | [`sentence`] | the verdict sentences |
//! | [`sheet`] | a picture per comparison, and its SVG |
//! | [`theme`] | colours by role, type and spacing of sheets and window |
//! | [`terminal`] | the whole answer on one screen of text |
//! | [`tried`] | a part drawn to one opening, in another |

pub mod body_work;
pub mod cars;
pub mod explain;
pub mod hand_over;
pub mod joins;
pub mod next_step;
pub mod number;
pub mod pair;
pub mod positions;
pub mod sections;
pub mod sentence;
pub mod sheet;
pub mod terminal;
#[cfg(test)]
pub(crate) mod testing;
pub mod theme;
pub mod tried;
pub mod words;

pub use body_work::body_work_text;
pub use cars::cars_text;
pub use joins::joins_text;
pub use pair::Pair;
pub use positions::positions_text;
pub use sections::sections_text;
pub use sentence::{PairText, finding_text, pair_text};
pub use sheet::{Sheet, pair_sheet};
pub use terminal::{Look, terminal_text};
pub use theme::Theme;
