//! The worked example: eight sentences, each done by doing what it says.

use record::{Choices, CompareId};

use crate::state::{FACTORS, Panel, Step, ViewState};

/// The sentences, in order.
pub const PROMPTS: [&str; 8] = [
    "Click another part in the plan above: each has an answer of its own.",
    "Hold Space: the left edge lies over the right one. Let go again.",
    "Press X, and again: differences are drawn 5, then 20 times as large.",
    "Point at the edge, or press the down arrow: one station is marked everywhere.",
    "Click an angle of the ladder: what the figure means and how it was got.",
    "Close the box (Esc). Below the choices stands what you allow, in boxes: type another number, and the answer follows.",
    "Click a choice and say why you take it.",
    "Go to Hand over and write the files.",
];

/// The fifth sentence where the part on the page has no ladder of angles.
pub const NO_LADDER: &str =
    "Click the number of a station at the edge: what the figure means and how it was got.";

/// The largest factor, by its place.
const LARGEST: usize = FACTORS.len() - 1;

/// What the prompts look at.
#[derive(Clone, Debug, PartialEq)]
struct Seen {
    pair: Option<CompareId>,
    laid_over: bool,
    factor: usize,
    pointed: Option<usize>,
    figure: bool,
    choices: Choices,
    written: Option<usize>,
}

impl Seen {
    fn of(view: &ViewState, choices: &Choices) -> Self {
        Self {
            pair: view.pair.clone(),
            laid_over: view.laid_over,
            factor: view.factor,
            pointed: view.pointed,
            figure: matches!(view.panel, Some(Panel::Figure(_))),
            choices: choices.clone(),
            written: view.hand_over.last,
        }
    }
}

/// How far somebody is.
#[derive(Clone, Debug)]
pub struct Lesson {
    at: usize,
    before: Seen,
}

impl Lesson {
    /// At the first sentence.
    pub fn begin(view: &ViewState, choices: &Choices) -> Self {
        Self {
            at: 0,
            before: Seen::of(view, choices),
        }
    }

    /// Which sentence, counted from 0, and its words for a part with or without a ladder of angles.
    pub fn prompt(&self, ladder: bool) -> (usize, &'static str) {
        let words = match self.at {
            4 if !ladder => NO_LADDER,
            at => PROMPTS[at],
        };
        (self.at, words)
    }

    /// Looks at what was done; `None` once the last sentence is done.
    #[must_use]
    pub fn go_on(mut self, view: &ViewState, choices: &Choices) -> Option<Self> {
        let now = Seen::of(view, choices);
        let was = &self.before;
        let done = match self.at {
            0 => now.pair.is_some() && now.pair != was.pair,
            // Let go again.
            1 => was.laid_over && !now.laid_over,
            2 => now.factor % FACTORS.len() == LARGEST && now.factor != was.factor,
            3 => now.pointed.is_some() && now.pointed != was.pointed,
            4 => now.figure && !was.figure,
            5 => now.choices.parts != was.choices.parts,
            6 => now.choices.chosen != was.choices.chosen,
            _ => now.written.is_some() && view.step == Step::HandOver,
        };
        self.before = now;
        if done {
            self.at += 1;
        }
        (self.at < PROMPTS.len()).then_some(self)
    }
}
