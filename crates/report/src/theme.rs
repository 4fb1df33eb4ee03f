//! The look shared by sheets and window: colours by role, the type family, sizes, spacing.
//!
//! The values stand in `assets/theme/tokens.rs`, nowhere else.

use std::sync::OnceLock;

use ttf_parser::Face;

#[path = "../../../assets/theme/tokens.rs"]
mod tokens;

pub use tokens::{COLOURS, Ink, line, plex, size, space, weight};

/// Values of the roles.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum Theme {
    /// Light.
    #[default]
    Paper,
    /// Dark.
    Slate,
}

impl Theme {
    /// The value of a role: red, green, blue, sRGB.
    pub fn rgb(self, ink: Ink) -> [u8; 3] {
        // Every role stands at its own place of the table (tested).
        let (_, paper, slate) = COLOURS[ink as usize];
        match self {
            Self::Paper => paper,
            Self::Slate => slate,
        }
    }

    /// The value of a role, `#RRGGBB`.
    pub fn hex(self, ink: Ink) -> String {
        let [r, g, b] = self.rgb(ink);
        format!("#{r:02X}{g:02X}{b:02X}")
    }
}

/// The face nearest to a weight (400, 500 or 600).
///
/// `None` only if the embedded file could not be read, which a test rules out.
pub fn face(weight: u16) -> Option<&'static Face<'static>> {
    static FACES: [OnceLock<Option<Face<'static>>>; 3] = [const { OnceLock::new() }; 3];
    let (slot, bytes) = match weight {
        0..450 => (0, plex::REGULAR),
        450..550 => (1, plex::MEDIUM),
        _ => (2, plex::SEMI_BOLD),
    };
    FACES[slot]
        .get_or_init(|| Face::parse(bytes, 0).ok())
        .as_ref()
}

/// Width in pixels of one line of text of `size` pixels, as the family sets it without kerning.
///
/// Degenerate: a letter the family lacks counts as half the size; the thin space, which it lacks too, as a fifth.
pub fn text_width(text: &str, size: f64, weight: u16) -> f64 {
    let Some(face) = face(weight) else {
        return 0.5 * size * text.chars().count() as f64;
    };
    let per_em = f64::from(face.units_per_em());
    let advance = |c: char| {
        if c == crate::number::THIN {
            return 0.2;
        }
        face.glyph_index(c)
            .and_then(|g| face.glyph_hor_advance(g))
            .map_or(0.5, |a| f64::from(a) / per_em)
    };
    text.chars().map(advance).sum::<f64>() * size
}

/// Contrast of two colours, 1 to 21 (WCAG 2.1, definition of contrast ratio).
pub fn contrast(a: [u8; 3], b: [u8; 3]) -> f64 {
    // Relative luminance, WCAG 2.1.
    let luminance = |rgb: [u8; 3]| {
        let [r, g, b] = rgb.map(|v| {
            let v = f64::from(v) / 255.0;
            if v <= 0.03928 {
                v / 12.92
            } else {
                ((v + 0.055) / 1.055).powf(2.4)
            }
        });
        0.2126 * r + 0.7152 * g + 0.0722 * b
    };
    let (a, b) = (luminance(a), luminance(b));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

#[cfg(test)]
mod tests;
