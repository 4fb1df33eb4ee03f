//! Pages for paper: the page itself, and one comparison on it.

use super::answer::answer_field;
use super::book::{BookView, book_field};
use super::choices::{Choosing, choices_field};
use super::foot::{next_field, title_block, units_word};
use super::strip::strip_field;
use super::{Anchor, Dash, Sheet, cut, wrapped};
use crate::terminal::CAUTION;
use crate::theme::{Ink, line, size, space, text_width, weight};
use crate::words::capital;
use crate::{Pair, pair_text};

/// Pixels of a sheet per mm of paper: a pixel is 1/96 inch.
pub const PX_PER_MM: f64 = 96.0 / 25.4;
/// ISO 216 sizes, mm, short side first.
pub(super) const PAPER_MM: [(&str, [f64; 2]); 5] = [
    ("A4", [210.0, 297.0]),
    ("A3", [297.0, 420.0]),
    ("A2", [420.0, 594.0]),
    ("A1", [594.0, 841.0]),
    ("A0", [841.0, 1189.0]),
];
/// White border of the paper, mm: what common printers leave free and a hand to hold it.
pub(super) const BORDER_MM: f64 = 10.0;
/// Width of the page as it is set, pixels: type is then read from the paper as well as from a screen.
const SET_WIDTH: f64 = 1280.0;
/// Heights of the fields of a page, pixels as set.
const ANSWER: f64 = 104.0;
const STRIP: f64 = 190.0;
const CHOICES: f64 = 122.0;
/// Height of the line at the top and of the title block, pixels.
pub(super) const HEAD: f64 = 36.0;
pub(super) const BLOCK: [f64; 2] = [440.0, 80.0];

/// A blank page with the edge of the sheet, its centring marks and a line that says what it is.
pub(super) fn page(
    paper_mm: [f64; 2],
    px_per_mm: f64,
    says: &str,
    name: &str,
    what: &str,
) -> (Sheet, [f64; 4]) {
    let [w, h] = paper_mm.map(|mm| mm * px_per_mm);
    let mut sheet = Sheet::empty([w, h], says.to_owned());
    let m = BORDER_MM * px_per_mm;
    let inside = [m, m, w - m, h - m];
    sheet.rect(
        [m, m],
        [w - 2.0 * m, h - 2.0 * m],
        Some((Ink::Rule, line::SHEET, Dash::Full)),
        None,
    );
    let mark = 2.0 * space::EDGE;
    for (from, to) in [
        ([w / 2.0, m - mark], [w / 2.0, m + mark / 2.0]),
        ([w / 2.0, h - m + mark], [w / 2.0, h - m - mark / 2.0]),
        ([m - mark, h / 2.0], [m + mark / 2.0, h / 2.0]),
        ([w - m + mark, h / 2.0], [w - m - mark / 2.0, h / 2.0]),
    ] {
        sheet.line(&[from, to], Ink::Rule, 1.0);
    }
    let base = m + HEAD - 12.0;
    let right = text_width(what, size::CAPTION, weight::REGULAR);
    let room = w - 2.0 * m - 3.0 * space::INSIDE - right;
    let name = cut(name, room, size::HEAD, weight::SEMI_BOLD);
    sheet.text(
        [m + space::INSIDE, base],
        (size::HEAD, weight::SEMI_BOLD),
        Anchor::Start,
        Ink::Ink,
        name,
    );
    sheet.text(
        [w - m - space::INSIDE, base],
        (size::CAPTION, weight::REGULAR),
        Anchor::End,
        Ink::Ink2,
        what,
    );
    sheet.line(&[[m, m + HEAD], [w - m, m + HEAD]], Ink::Rule, line::FIELD);
    (sheet, inside)
}

fn job_title(pair: &Pair) -> String {
    if pair.study.title.is_empty() {
        "Untitled job".to_owned()
    } else {
        pair.study.title.clone()
    }
}

pub(super) fn job_mark(pair: &Pair) -> String {
    let hash: String = pair.study.provenance.job_hash.chars().take(8).collect();
    if hash.is_empty() {
        "not kept".to_owned()
    } else {
        hash
    }
}

/// What is printed of a comparison: the page that says what fits and why, then per side the edge and its angles at true
/// size, where they go on a sheet of paper.
pub fn print_pages(pair: &Pair) -> Vec<Sheet> {
    let drawings = pair.study.drawings.iter();
    let sides = drawings
        .filter(|d| d.compare == pair.measured.id)
        .filter_map(|d| super::true_size(pair, d));
    std::iter::once(printed_pair(pair)).chain(sides).collect()
}

/// One comparison on one page A4 across: sentence, open book, strip along the edge, choices, doubts, title block.
///
/// Degenerate: fields without anything to show say so in one line.
pub fn printed_pair(pair: &Pair) -> Sheet {
    let text = pair_text(pair);
    let [short, long] = PAPER_MM[0].1;
    // Set as on a screen of this width, then taken to the size of the paper.
    let px_per_mm = SET_WIDTH / long;
    let (mut sheet, [left, top, right, bottom]) = page(
        [long, short],
        px_per_mm,
        &text.full(),
        &capital(pair.title()),
        &job_title(pair),
    );
    let wide = right - left;
    let block_top = bottom - BLOCK[1];
    let choices_top = block_top - CHOICES;
    let strip_top = choices_top - STRIP;
    let answer_top = top + HEAD;
    let book_top = answer_top + ANSWER;
    sheet.put(answer_field(&text, [wide, ANSWER]), [left, answer_top]);
    let book = book_field(pair, [wide, strip_top - book_top], &BookView::PRINTED);
    sheet.put(book.sheet, [left, book_top]);
    sheet.put(
        strip_field(pair, [wide, STRIP], None).sheet,
        [left, strip_top],
    );
    sheet.put(
        choices_field(pair, [wide, CHOICES], &Choosing::PRINTED),
        [left, choices_top],
    );
    sheet.put(
        next_field(pair, [wide - BLOCK[0], BLOCK[1]]),
        [left, block_top],
    );
    for y in [book_top, strip_top, choices_top, block_top] {
        sheet.line(&[[left, y], [right, y]], Ink::Rule, line::FIELD);
    }
    let provenance = &pair.study.provenance;
    let cells = [
        ("Units", units_word(pair.study.units).to_owned()),
        ("Left, right", "seated facing forward".to_owned()),
        ("Job", job_mark(pair)),
        ("Pair", pair.measured.id.0.clone()),
        ("Centreline", "not needed".to_owned()),
        (
            "Chances",
            format!("draws {}, seed {}", provenance.draws, provenance.seed),
        ),
    ];
    sheet.put(title_block(&cells, BLOCK), [right - BLOCK[0], block_top]);
    sheet.scaled(PX_PER_MM / px_per_mm)
}

pub(super) fn caution(sheet: &mut Sheet, [x, top]: [f64; 2], width: f64) {
    let lines = wrapped(
        CAUTION,
        width - 2.0 * space::INSIDE,
        size::CAPTION,
        weight::REGULAR,
    );
    for (i, text) in lines.into_iter().enumerate() {
        sheet.text(
            [x + space::INSIDE, top + space::CAPTION + i as f64 * 18.0],
            (size::CAPTION, weight::REGULAR),
            Anchor::Start,
            Ink::Ink2,
            text,
        );
    }
}
