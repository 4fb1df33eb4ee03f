//! The open job without pixels: commands go in, events come out, and nothing waits.
//!
//! ```
//! use editor::{Command, Editor, Event, Settings};
//!
//! let mut editor = Editor::new_job(Settings {
//!     // Called from any thread when there is something to drain: ask for a repaint here.
//!     wake: Box::new(|| {}),
//!     ..Settings::default()
//! });
//! editor.apply(&Command::Title("Touring coach".to_owned()))?;
//! assert_eq!(editor.document().undo_names().next(), Some("title: Touring coach"));
//! editor.undo()?;
//! assert_eq!(editor.document().job().title, "New job");
//!
//! // Once a frame: take what happened, then paint the document, which is up to date with it.
//! for event in editor.drain() {
//!     if event == Event::JobChanged {
//!         assert_eq!(editor.document().redo_names().count(), 1);
//!     }
//! }
//! # Ok::<(), editor::Refused>(())
//! ```
//!
//! - [`Document`] is everything to be shown: the job, its scans, the study, what of it is stale
//!   ([`Document::freshness`]), what is being worked at, notices, offers. View state and preferences are not in it.
//! - [`Command`] is every change a person can make; [`Editor::apply`] carries it out or refuses it with a sentence
//!   ([`Refused`]). Dragging and typing go through [`Editor::apply_live`], so that one gesture is one step of undo.
//! - Work is done in lanes, each a thread: reading; measuring (the newest wish wins, what is under way is called off);
//!   deciding (never called off, answers while the others work); chances; looking for openings; looking at what is pointed
//!   at ([`Editor::probe`]); writing. A fault in one becomes a notice, and the job survives.
//! - Every committed command goes to a journal beside the job at once. After a crash the changes are offered by name
//!   ([`Document::recovery`]).
//! - Prepared scans are kept beside the job, so that it opens quickly the second time. They can be deleted at any time.
//!
//! No pixel, no window and no clock that decides a result is in here; the clock only says when progress is told.

mod apply;
mod by_hand;
mod command;
mod command_name;
mod document;
mod editor;
mod event;
mod gesture;
mod history;
mod lanes;
mod names;
mod offer;
mod paths;
mod recovery;
mod refused;
mod tags;
mod wanted;

pub use by_hand::{HandBox, HandForm, HandSide};
pub use command::{
    Command, CompareChange, FaceChange, FastenerChange, HandChange, HoleChange, JunctionChange,
    OpeningChange, PartChange, ScanChange, VisitChange,
};
pub use document::{Document, ScanState, UnitQuestion};
pub use editor::{
    BroughtIn, DRAWS, Editor, NotOpened, NotSaved, Settings, TypedLength, TypedPlace, TypedStart,
};
pub use event::{Event, Lane, Notice, Work};
pub use lanes::hand_over::HandedOver;
pub use lanes::probe::{ProbeAnswer, ProbeAt, Probed};
pub use lanes::two::{Two, TwoFound};
pub use offer::{Offer, Remark};
pub use recovery::{LeftOver, Recovery, left_over};
pub use refused::Refused;
pub use study::probe::{EdgeNear, EdgePlace, FaceAt, NotFound, edge_pick, hole_pick};
pub use tags::{Freshness, Subject};
pub use wanted::Wanted;
