//! What to do next, the doubts, and the title block.

use record::{Finding, LengthDisplay, Severity};

use super::{Anchor, Dash, Hit, Sheet, cut, wrapped};
use crate::Pair;
use crate::next_step::next_step;
use crate::sentence::finding_text;
use crate::theme::{Ink, size, space, weight};

/// Doubts and stops of a pair, worst first.
pub fn doubts<'a>(pair: &Pair<'a>) -> Vec<&'a Finding> {
    pair.findings()
        .into_iter()
        .filter(|f| f.severity > Severity::Note)
        .collect()
}

/// One line what to do next, one line of doubts, one of caution, in `width` x `height`.
pub fn next_field(pair: &Pair, [width, height]: [f64; 2]) -> Sheet {
    let mut sheet = Sheet::empty([width, height], String::new());
    let doubts = doubts(pair);
    let left = space::INSIDE + 128.0;
    let rows: [(&str, String, Hit); 2] = [
        (
            "Do this next",
            next_step(pair),
            Hit::Next(pair.measured.id.clone()),
        ),
        (
            "Doubts",
            doubts
                .first()
                .map_or_else(|| "none".to_owned(), |f| doubt_text(f)),
            Hit::Doubts(pair.measured.id.clone()),
        ),
    ];
    for (i, (head, text, hit)) in rows.into_iter().enumerate() {
        let y = 24.0 + 21.0 * i as f64;
        sheet.text(
            [space::INSIDE, y],
            (size::CAPTION, weight::SEMI_BOLD),
            Anchor::Start,
            Ink::Ink2,
            head,
        );
        let room = width - left - 44.0;
        let line = cut(&text, room, size::CAPTION, weight::REGULAR);
        sheet.text(
            [left, y],
            (size::CAPTION, weight::REGULAR),
            Anchor::Start,
            Ink::Ink,
            line,
        );
        sheet.named(hit);
    }
    if doubts.len() > 1 {
        let count = doubts.len().to_string();
        let at = [width - space::INSIDE, 45.0];
        let wide = crate::theme::text_width(&count, size::CAPTION, weight::SEMI_BOLD);
        sheet.text(
            at,
            (size::CAPTION, weight::SEMI_BOLD),
            Anchor::End,
            Ink::Ink,
            count,
        );
        sheet.named(Hit::Doubts(pair.measured.id.clone()));
        sheet.line(
            &[[at[0] - wide, at[1] + 3.0], [at[0], at[1] + 3.0]],
            Ink::Ink,
            1.0,
        );
    }
    let caution = cut(
        crate::terminal::CAUTION,
        width - 2.0 * space::INSIDE,
        size::CAPTION,
        weight::REGULAR,
    );
    sheet.text(
        [space::INSIDE, 66.0],
        (size::CAPTION, weight::REGULAR),
        Anchor::Start,
        Ink::Ink3,
        caution,
    );
    sheet
}

/// What to do next and all doubts, each in full, in `width` x `height`; those without room fold to a count.
pub fn next_column(pair: &Pair, [width, height]: [f64; 2]) -> Sheet {
    let mut sheet = Sheet::empty([width, height], String::new());
    let room = width - 2.0 * space::INSIDE;
    let line_height = size::BODY * size::LINE;
    let mut y = space::CAPTION;
    let head = |sheet: &mut Sheet, y: f64, text: &str| {
        sheet.text(
            [space::INSIDE, y],
            (size::CAPTION, weight::SEMI_BOLD),
            Anchor::Start,
            Ink::Ink2,
            text,
        );
    };
    head(&mut sheet, y, "Do this next");
    for line in wrapped(&next_step(pair), room, size::BODY, weight::REGULAR) {
        y += line_height;
        sheet.text(
            [space::INSIDE, y],
            (size::BODY, weight::REGULAR),
            Anchor::Start,
            Ink::Ink,
            line,
        );
        sheet.named(Hit::Next(pair.measured.id.clone()));
    }
    y += space::INSIDE;
    sheet.line(&[[0.0, y], [width, y]], Ink::Hair, 1.0);
    y += space::CAPTION;
    let doubts = doubts(pair);
    head(&mut sheet, y, "Doubts");
    if doubts.is_empty() {
        y += line_height;
        sheet.text(
            [space::INSIDE, y],
            (size::CAPTION, weight::REGULAR),
            Anchor::Start,
            Ink::Ink2,
            "none",
        );
    }
    let caption_line = size::CAPTION * 1.42;
    for (i, doubt) in doubts.iter().enumerate() {
        let lines = wrapped(&doubt_text(doubt), room, size::CAPTION, weight::REGULAR);
        let last = i + 1 == doubts.len();
        let needs = caption_line * lines.len() as f64 + space::UNIT;
        let keep = if last { 0.0 } else { caption_line };
        if y + needs + keep + space::UNIT > height {
            y += caption_line;
            let more = format!("and {} more", doubts.len() - i);
            sheet.text(
                [space::INSIDE, y],
                (size::CAPTION, weight::SEMI_BOLD),
                Anchor::Start,
                Ink::Ink,
                more,
            );
            sheet.named(Hit::Doubts(pair.measured.id.clone()));
            break;
        }
        y += space::UNIT;
        for line in lines {
            y += caption_line;
            sheet.text(
                [space::INSIDE, y],
                (size::CAPTION, weight::REGULAR),
                Anchor::Start,
                Ink::Ink2,
                line,
            );
            sheet.named(Hit::Doubts(pair.measured.id.clone()));
        }
    }
    sheet
}

/// A finding below a caption that says "Doubts": only a stop keeps its word.
fn doubt_text(finding: &Finding) -> String {
    let text = finding_text(finding);
    match text.strip_prefix("Doubt: ") {
        Some(rest) => crate::words::capital(rest),
        None => text,
    }
}

/// How units read in a title block.
pub fn units_word(units: record::DisplayUnits) -> &'static str {
    match units.length {
        LengthDisplay::Inch => "inch, degrees",
        LengthDisplay::Millimetre => "mm, degrees",
    }
}

/// The title block: six cells, each a caption and a line.
pub fn title_block(cells: &[(&str, String); 6], [width, height]: [f64; 2]) -> Sheet {
    let mut sheet = Sheet::empty([width, height], String::new());
    sheet.rect(
        [0.0, 0.0],
        [width, height],
        Some((Ink::Rule, 2.0, Dash::Full)),
        Some(Ink::Sheet),
    );
    let columns = [(0.0, 0.31), (0.31, 0.36), (0.67, 0.33)];
    let tall = height / 2.0;
    for (i, (head, text)) in cells.iter().enumerate() {
        let (from, share) = columns[i % 3];
        let [x, y] = [width * from, tall * (i / 3) as f64];
        let wide = width * share;
        sheet.rect(
            [x, y],
            [wide, tall],
            Some((Ink::Rule, 1.0, Dash::Full)),
            None,
        );
        sheet.text(
            [x + 10.0, y + 15.0],
            (size::CAPTION, weight::REGULAR),
            Anchor::Start,
            Ink::Ink2,
            *head,
        );
        let line = cut(text, wide - 14.0, size::BODY, weight::MEDIUM);
        sheet.text(
            [x + 10.0, y + 33.0],
            (size::BODY, weight::MEDIUM),
            Anchor::Start,
            Ink::Ink,
            line,
        );
    }
    sheet
}
