//! The sheet as SVG 1.1.

use std::fmt::Write as _;

use super::letters::Letters;
use super::{Item, Sheet};
use crate::theme::Theme;

const FAMILY: &str =
    "IBM Plex Sans Condensed, Roboto Condensed, Arial Narrow, Liberation Sans Narrow, sans-serif";

pub(super) fn write(sheet: &Sheet, theme: Theme) -> String {
    let mut out = String::new();
    let (w, h) = (number(sheet.width), number(sheet.height));
    // Writing to a String cannot fail.
    let _ = writeln!(
        out,
        "<svg xmlns=\"http://www.w3.org/2000/svg\" xmlns:xlink=\"http://www.w3.org/1999/xlink\" width=\"{w}\" height=\"{h}\" viewBox=\"0 0 {w} {h}\" \
         font-family=\"{FAMILY}\" role=\"img\">"
    );
    let _ = writeln!(out, "<title>{}</title>", escaped(&sheet.says));
    let letters = Letters::of(sheet);
    let _ = writeln!(out, "{}", letters.definitions());
    for item in &sheet.items {
        if let Item::Path {
            stroke: None,
            fill: None,
            ..
        } = item
        {
            continue;
        }
        out.push_str(&piece(item, theme, &letters));
        out.push('\n');
    }
    out.push_str("</svg>\n");
    out
}

fn piece(item: &Item, theme: Theme, letters: &Letters) -> String {
    match item {
        Item::Path {
            points,
            closed,
            stroke,
            fill,
            ..
        } => {
            let mut d = String::new();
            for (i, p) in points.iter().enumerate() {
                let _ = write!(
                    d,
                    "{}{} {}",
                    if i == 0 { "M" } else { "L" },
                    number(p[0]),
                    number(p[1])
                );
            }
            if *closed {
                d.push('Z');
            }
            let fill = fill.map_or_else(|| "none".to_owned(), |ink| theme.hex(ink));
            let stroke = stroke.map_or(String::new(), |(ink, width, dash)| {
                let pattern: Vec<String> = dash.pattern().iter().map(|v| number(*v)).collect();
                let dashes = if pattern.is_empty() {
                    String::new()
                } else {
                    format!(" stroke-dasharray=\"{}\"", pattern.join(" "))
                };
                format!(
                    " stroke=\"{}\" stroke-width=\"{}\"{dashes}",
                    theme.hex(ink),
                    number(width)
                )
            });
            format!("<path d=\"{d}\" fill=\"{fill}\"{stroke}/>")
        }
        Item::Disc {
            at, radius, fill, ..
        } => format!(
            "<circle cx=\"{}\" cy=\"{}\" r=\"{}\" fill=\"{}\"/>",
            number(at[0]),
            number(at[1]),
            number(*radius),
            theme.hex(*fill)
        ),
        Item::Text { ink, .. } => letters.line(item, &theme.hex(*ink)),
    }
}

/// At most two decimals, no needless zeros, never `-0` or not-a-number.
pub(super) fn number(value: f64) -> String {
    let value = if value.is_finite() { value } else { 0.0 };
    let text = format!("{value:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" {
        "0".to_owned()
    } else {
        text.to_owned()
    }
}

/// Text safe inside an element; control characters have no place in XML.
pub(super) fn escaped(text: &str) -> String {
    let mut out = String::new();
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            c if c.is_control() => out.push(' '),
            c => out.push(c),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_and_text_are_safe() {
        assert_eq!(number(1.0), "1");
        assert_eq!(number(-0.001), "0");
        assert_eq!(number(2.345), "2.35");
        assert_eq!(number(f64::NAN), "0");
        assert_eq!(escaped("a < b & \u{7}c"), "a &lt; b &amp;  c");
    }
}
