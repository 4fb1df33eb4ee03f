//! One comparison on one sheet of 1280 x 800: answer, open book, choices, what next, title block.

use super::answer::answer_field;
use super::book::{BookView, book_field};
use super::choices::{Choosing, choices_field};
use super::foot::{next_field, title_block, units_word};
use super::{Dash, Sheet};
use crate::theme::{Ink, line, space};
use crate::{Pair, pair_text};

const WIDTH: f64 = 1280.0;
const HEIGHT: f64 = 800.0;
const INSIDE: f64 = WIDTH - 2.0 * space::EDGE;
const BLOCK: [f64; 2] = [440.0, 80.0];

/// The sheet of a comparison, 1280 x 800.
///
/// Degenerate: without edges the pages say so; with one side only the right page says what is missing.
pub fn pair_sheet(pair: &Pair) -> Sheet {
    let text = pair_text(pair);
    let mut sheet = Sheet::empty([WIDTH, HEIGHT], text.full());
    sheet.border();
    let foot_top = HEIGHT - space::EDGE - BLOCK[1];
    let choices_top = foot_top - 122.0;
    let book_top = space::EDGE + 104.0;
    let at = |y: f64| [space::EDGE, y];
    sheet.put(
        answer_field(&text, [INSIDE, book_top - space::EDGE]),
        at(space::EDGE),
    );
    let book = book_field(pair, [INSIDE, choices_top - book_top], &BookView::PRINTED);
    sheet.put(book.sheet, at(book_top));
    let choices = choices_field(pair, [INSIDE, 122.0], &Choosing::PRINTED);
    sheet.put(choices, at(choices_top));
    sheet.put(
        next_field(pair, [INSIDE - BLOCK[0], BLOCK[1]]),
        at(foot_top),
    );
    for y in [book_top, choices_top, foot_top] {
        sheet.line(&[at(y), [WIDTH - space::EDGE, y]], Ink::Rule, line::FIELD);
    }
    let provenance = &pair.study.provenance;
    let hash: String = provenance.job_hash.chars().take(8).collect();
    let cells = [
        ("Units", units_word(pair.study.units).to_owned()),
        ("Left, right", "seated facing forward".to_owned()),
        (
            "Job",
            if hash.is_empty() {
                "not kept".to_owned()
            } else {
                hash
            },
        ),
        ("Pair", pair.measured.id.0.clone()),
        ("Centreline", "not needed".to_owned()),
        (
            "Chances",
            format!("draws {}, seed {}", provenance.draws, provenance.seed),
        ),
    ];
    let block_at = [WIDTH - space::EDGE - BLOCK[0], foot_top];
    sheet.put(title_block(&cells, BLOCK), block_at);
    sheet
}

impl Sheet {
    /// The ground, the edge of the sheet and the centring marks on its four sides.
    pub fn border(&mut self) {
        let (w, h) = (self.width, self.height);
        let edge = space::EDGE;
        self.rect([0.0, 0.0], [w, h], None, Some(Ink::Margin));
        self.rect(
            [edge, edge],
            [w - 2.0 * edge, h - 2.0 * edge],
            Some((Ink::Rule, line::SHEET, Dash::Full)),
            Some(Ink::Sheet),
        );
        for (from, to) in [
            ([w / 2.0, 0.0], [w / 2.0, 2.0 * edge]),
            ([w / 2.0, h], [w / 2.0, h - 2.0 * edge]),
            ([0.0, h / 2.0], [2.0 * edge, h / 2.0]),
            ([w, h / 2.0], [w - 2.0 * edge, h / 2.0]),
        ] {
            self.line(&[from, to], Ink::Rule, 1.0);
        }
    }
}
