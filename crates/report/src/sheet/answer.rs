//! The answer: verdict mark, sentence, and one line of reason.

use super::marks::verdict_mark;
use super::{Anchor, Sheet, cut, wrapped};
use crate::PairText;
use crate::theme::{Ink, size, space, weight};

/// Sets the answer into `width` x `height`; what does not go in is left to [`Sheet::says`], which holds all of it.
///
/// The sentence stands in one line of 28 or two of 26 pixels, the reason below in as many lines as there is room for.
pub fn answer_field(text: &PairText, [width, height]: [f64; 2]) -> Sheet {
    let mut sheet = Sheet::empty([width, height], text.full());
    let left = space::INSIDE + 52.0;
    let room = width - left - space::INSIDE;
    let one = wrapped(&text.headline, room, size::VERDICT, weight::MEDIUM);
    let (lines, letter) = if one.len() == 1 {
        (one, size::VERDICT)
    } else {
        let letter = size::VERDICT_TWO_LINES;
        (
            wrapped(&text.headline, room, letter, weight::MEDIUM),
            letter,
        )
    };
    let reason = [&text.reason, &text.cure]
        .into_iter()
        .filter(|t| !t.is_empty())
        .map(String::as_str)
        .collect::<Vec<_>>()
        .join(" ");
    let mut below = wrapped(&reason, room, size::BODY, weight::REGULAR);
    let head_line = letter * 1.1;
    let below_line = size::BODY * size::LINE;
    let fits = ((height - 12.0 - head_line * lines.len() as f64) / below_line).floor();
    let fits = fits.max(1.0) as usize;
    if below.len() > fits {
        below.truncate(fits);
        // That there is more has to be seen.
        if let Some(last) = below.last_mut() {
            *last = cut(&format!("{last} …"), room, size::BODY, weight::REGULAR);
        }
    }
    let tall = head_line * lines.len() as f64 + below_line * below.len() as f64;
    let mut y = ((height - tall) / 2.0).max(4.0);
    verdict_mark(
        &mut sheet,
        text.verdict,
        [space::INSIDE + 6.0, y + 4.0],
        28.0,
    );
    for line in lines {
        y += head_line;
        sheet.text(
            [left, y - letter * 0.24],
            (letter, weight::MEDIUM),
            Anchor::Start,
            Ink::Ink,
            line,
        );
    }
    for line in below {
        y += below_line;
        sheet.text(
            [left, y - 4.0],
            (size::BODY, weight::REGULAR),
            Anchor::Start,
            Ink::Ink2,
            line,
        );
    }
    sheet
}
