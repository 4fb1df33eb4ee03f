//! A retained 2-D picture: strokes, fills and text by role, with names of what can be pointed at.
//!
//! Coordinates are pixels of a 96 dpi screen, x to the right, y down. Colours are roles ([`Ink`]); a [`Theme`] gives
//! them a value. The same sheet is written as SVG and can be painted by a window.

mod book;
mod ladder;
mod marks;
mod svg;

pub use book::pair_sheet;

use record::{CompareId, OptionKind};

/// The role of a colour.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Ink {
    /// Around the sheet, and inside of an opening.
    Margin,
    /// The sheet.
    Sheet,
    /// Empty part of a bar.
    Field,
    /// Text and the worst place.
    Ink,
    /// Second line, captions.
    Ink2,
    /// Give-or-take, hints.
    Ink3,
    /// Lines between fields.
    Rule,
    /// Row lines; never the only sign of anything.
    Hair,
    /// Left side.
    Left,
    /// Right side.
    Right,
    /// Verdict.
    Fits,
    /// Verdict, an open question.
    NotProven,
    /// Verdict.
    WillNotFit,
    /// Ground of the best choice.
    FitsTint,
    /// Text on a black label.
    OnInk,
}

/// Values of the roles.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Theme {
    /// Light.
    #[default]
    Paper,
    /// Dark.
    Slate,
}

impl Theme {
    /// The value of a role, `#RRGGBB`.
    pub fn hex(self, ink: Ink) -> &'static str {
        let (paper, slate) = match ink {
            Ink::Margin => ("#E6EAE7", "#12191D"),
            Ink::Sheet | Ink::OnInk => ("#FBFCFA", "#1C252B"),
            Ink::Field => ("#EFF2EF", "#232E35"),
            Ink::Ink => ("#14222B", "#EEF1ED"),
            Ink::Ink2 => ("#43525A", "#BBC5C9"),
            Ink::Ink3 => ("#5C6970", "#98A5AB"),
            Ink::Rule => ("#14222B", "#7E8D95"),
            Ink::Hair => ("#CBD3D0", "#37444C"),
            Ink::Left => ("#0A5A96", "#7FBDF2"),
            Ink::Right => ("#A84A05", "#F2A562"),
            Ink::Fits => ("#0B6657", "#63C9B3"),
            Ink::NotProven => ("#6E5A0A", "#DBC062"),
            Ink::WillNotFit => ("#A3123F", "#FF93AC"),
            Ink::FitsTint => ("#DCECE7", "#1E3B38"),
        };
        match self {
            Self::Paper => paper,
            Self::Slate => slate,
        }
    }
}

/// Line styles, in pixels.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Dash {
    /// Unbroken: the left side and everything else.
    Full,
    /// 8 3: the right side.
    Right,
    /// 12 3 3 3: a middle.
    Chain,
    /// 2 3: not measured.
    Dotted,
}

/// Which way text runs from its place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Anchor {
    /// It begins there.
    Start,
    /// Its middle is there.
    Middle,
    /// It ends there.
    End,
}

/// What is pointed at.
#[derive(Clone, Debug, PartialEq)]
pub enum Hit {
    /// A station of a comparison.
    Station(CompareId, usize),
    /// A rung of the ladder, by its place in the study.
    Rung(CompareId, usize),
    /// A choice.
    Choice(CompareId, OptionKind),
}

/// A piece of the picture.
#[derive(Clone, Debug, PartialEq)]
pub enum Item {
    /// A line through points.
    Path {
        /// Corners.
        points: Vec<[f64; 2]>,
        /// Whether it closes.
        closed: bool,
        /// Its line and width, if any.
        stroke: Option<(Ink, f64, Dash)>,
        /// Its inside, if any.
        fill: Option<Ink>,
        /// What it is.
        hit: Option<Hit>,
    },
    /// A disc.
    Disc {
        /// Middle.
        at: [f64; 2],
        /// Radius.
        radius: f64,
        /// Its inside.
        fill: Ink,
        /// What it is.
        hit: Option<Hit>,
    },
    /// A line of text.
    Text {
        /// Place of its base line.
        at: [f64; 2],
        /// Height of the type.
        size: f64,
        /// Weight of the type, 400 to 600.
        weight: u16,
        /// Which way it runs.
        anchor: Anchor,
        /// Its colour.
        ink: Ink,
        /// The text.
        text: String,
        /// What it is.
        hit: Option<Hit>,
    },
}

/// A picture.
#[derive(Clone, Debug, PartialEq)]
pub struct Sheet {
    /// Width.
    pub width: f64,
    /// Height.
    pub height: f64,
    /// What it shows, for those who cannot see it.
    pub says: String,
    /// Pieces, the later above the earlier.
    pub items: Vec<Item>,
}

impl Sheet {
    /// The sheet as an SVG 1.1 file.
    pub fn svg(&self, theme: Theme) -> String {
        svg::write(self, theme)
    }

    fn line(&mut self, points: &[[f64; 2]], ink: Ink, width: f64) {
        self.path(points.to_vec(), false, Some((ink, width, Dash::Full)), None);
    }

    fn path(
        &mut self,
        points: Vec<[f64; 2]>,
        closed: bool,
        stroke: Option<(Ink, f64, Dash)>,
        fill: Option<Ink>,
    ) {
        self.items.push(Item::Path {
            points,
            closed,
            stroke,
            fill,
            hit: None,
        });
    }

    fn rect(
        &mut self,
        [x, y]: [f64; 2],
        [w, h]: [f64; 2],
        stroke: Option<(Ink, f64, Dash)>,
        fill: Option<Ink>,
    ) {
        self.path(
            vec![[x, y], [x + w, y], [x + w, y + h], [x, y + h]],
            true,
            stroke,
            fill,
        );
    }

    fn text(
        &mut self,
        at: [f64; 2],
        (size, weight): (f64, u16),
        anchor: Anchor,
        ink: Ink,
        text: impl Into<String>,
    ) {
        self.items.push(Item::Text {
            at,
            size,
            weight,
            anchor,
            ink,
            text: text.into(),
            hit: None,
        });
    }

    /// Gives the last piece a name by which it can be pointed at.
    fn named(&mut self, name: Hit) {
        match self.items.last_mut() {
            Some(Item::Path { hit, .. } | Item::Disc { hit, .. } | Item::Text { hit, .. }) => {
                *hit = Some(name);
            }
            None => {}
        }
    }
}

/// Width of `text` as a condensed type sets it. Where another type stands in, the text is set to this width.
fn width_of(text: &str, size: f64) -> f64 {
    let em = |c: char| match c {
        'i' | 'l' | 'j' | '.' | ',' | ':' | ';' | '\'' | '|' | ' ' | '\u{202f}' => 0.25,
        't' | 'f' | 'r' | '(' | ')' | '-' | '/' | '°' | 'I' => 0.33,
        'm' | 'w' | 'M' | 'W' | '%' | '@' => 0.76,
        c if c.is_uppercase() => 0.56,
        _ => 0.49,
    };
    text.chars().map(em).sum::<f64>() * size
}

/// How many letters of running text of that size go into `width`.
fn letters(width: f64, size: f64) -> usize {
    (width / (size * 0.44)) as usize
}

#[cfg(test)]
mod tests;
