//! Letters as outlines, so that a picture shows the same where the type is not installed.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use ttf_parser::{Face, GlyphId, OutlineBuilder};

use super::svg::{escaped, number};
use super::{Anchor, Item, Sheet};
use crate::theme::{face, text_width};

/// The glyphs that a sheet uses: weight and number, to their outlines in units of the type.
#[derive(Default)]
pub(super) struct Letters {
    outlines: BTreeMap<(u16, u16), String>,
}

fn glyph(face: &Face<'_>, c: char) -> GlyphId {
    face.glyph_index(c).unwrap_or_default()
}

impl Letters {
    /// Those of all text of a sheet.
    pub(super) fn of(sheet: &Sheet) -> Self {
        let mut letters = Self::default();
        for item in &sheet.items {
            let Item::Text { weight, text, .. } = item else {
                continue;
            };
            let Some(face) = face(*weight) else { continue };
            for c in text.chars() {
                let id = glyph(face, c);
                letters
                    .outlines
                    .entry((*weight, id.0))
                    .or_insert_with(|| outline(face, id));
            }
        }
        letters
    }

    /// The outlines as definitions of an SVG file, to be referred to.
    pub(super) fn definitions(&self) -> String {
        let mut out = String::from("<defs>\n");
        for ((weight, id), outline) in self.outlines.iter().filter(|(_, o)| !o.is_empty()) {
            let _ = writeln!(out, "<path id=\"w{weight}-{id}\" d=\"{outline}\"/>");
        }
        out.push_str("</defs>");
        out
    }

    /// A line of text: its letters as outlines, and the same once more unseen, to be read aloud, found and copied.
    pub(super) fn line(&self, item: &Item, colour: &str) -> String {
        let Item::Text {
            at,
            size,
            weight,
            anchor,
            text,
            ..
        } = item
        else {
            return String::new();
        };
        let wide = text_width(text, *size, *weight);
        let x = match anchor {
            Anchor::Start => at[0],
            Anchor::Middle => at[0] - wide / 2.0,
            Anchor::End => at[0] - wide,
        };
        let mut out = String::new();
        if let Some(face) = face(*weight) {
            let scale = size / f64::from(face.units_per_em());
            let _ = write!(
                out,
                "<g aria-hidden=\"true\" fill=\"{colour}\" transform=\"translate({} {}) scale({scale:.5} -{scale:.5})\">",
                number(x),
                number(at[1])
            );
            let mut along = 0_u32;
            for c in text.chars() {
                let id = glyph(face, c);
                if self
                    .outlines
                    .get(&(*weight, id.0))
                    .is_some_and(|o| !o.is_empty())
                {
                    let _ = write!(
                        out,
                        "<use xlink:href=\"#w{weight}-{}\" x=\"{along}\"/>",
                        id.0
                    );
                }
                let half = u32::from(face.units_per_em()) / 2;
                along += match face.glyph_index(c).and_then(|g| face.glyph_hor_advance(g)) {
                    Some(advance) => u32::from(advance),
                    None => half,
                };
            }
            out.push_str("</g>");
        }
        let fit = if text.chars().count() > 1 {
            format!(
                " textLength=\"{}\" lengthAdjust=\"spacingAndGlyphs\"",
                number(wide)
            )
        } else {
            String::new()
        };
        let _ = write!(
            out,
            "<text x=\"{}\" y=\"{}\" font-size=\"{}\" font-weight=\"{weight}\" fill-opacity=\"0\"{fit}>{}</text>",
            number(x),
            number(at[1]),
            number(*size),
            escaped(text)
        );
        out
    }
}

fn outline(face: &Face<'_>, id: GlyphId) -> String {
    let mut path = Outline(String::new());
    // `None`: a space, which has no outline.
    face.outline_glyph(id, &mut path);
    path.0
}

struct Outline(String);

impl OutlineBuilder for Outline {
    fn move_to(&mut self, x: f32, y: f32) {
        let _ = write!(self.0, "M{x} {y}");
    }

    fn line_to(&mut self, x: f32, y: f32) {
        let _ = write!(self.0, "L{x} {y}");
    }

    fn quad_to(&mut self, x1: f32, y1: f32, x: f32, y: f32) {
        let _ = write!(self.0, "Q{x1} {y1} {x} {y}");
    }

    fn curve_to(&mut self, x1: f32, y1: f32, x2: f32, y2: f32, x: f32, y: f32) {
        let _ = write!(self.0, "C{x1} {y1} {x2} {y2} {x} {y}");
    }

    fn close(&mut self) {
        self.0.push('Z');
    }
}
