//! A retained 2-D picture: strokes, fills and text by role, with names of what can be pointed at.
//!
//! Coordinates are pixels of a 96 dpi screen, x to the right, y down. Colours are roles ([`Ink`]); a [`Theme`] gives
//! them a value. The same sheet is written as SVG and painted by the window.

mod answer;
mod bands;
mod body_work;
mod book;
mod cars;
mod centreline;
mod choices;
mod field;
mod foot;
mod joins;
mod ladder;
mod letters;
mod marks;
mod neighbours;
mod page;
mod pair_sheet;
mod pdf;
mod plan;
mod printed;
mod sections;
mod strip;
mod svg;
mod true_size;

pub use answer::answer_field;
pub use bands::inks as band_inks;
pub use body_work::{area_profile, work_openings};
pub use book::{Book, BookView, Pages, book_field, worst_station};
pub use cars::{cars_list, edges_laid};
pub use centreline::{centreline_doubt, places_from_above, positions_table};
pub use choices::{Choosing, Standing, choice_says, choices_field, uses_text};
pub use field::{field_sheets, field_sketch};
pub use foot::{doubts, next_column, next_field, title_block, units_word};
pub use joins::join_table;
pub use neighbours::{gap_strip, hinge_drawing};
pub use page::PageView;
pub use pair_sheet::pair_sheet;
pub use pdf::pdf_bytes;
pub use plan::{place_on_plan, plan_field};
pub use printed::{PX_PER_MM, print_pages, printed_pair};
pub use sections::{PanelMap, panel_answer, panel_map, section_profile, section_table};
pub use strip::{Strip, strip_field};
pub use true_size::true_size;

use record::{CompareId, OptionKind};

use crate::theme::{Ink, Theme, size, text_width, weight};

/// Line styles, in pixels.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Dash {
    /// Unbroken: the left side and everything else.
    Full,
    /// 8 3: the right side.
    Right,
    /// 12 3 3 3: a middle.
    Chain,
    /// 2 3: what is allowed; not measured.
    Dotted,
    /// 5 3: the contour of what stands further in.
    Minus,
    /// 4 3: hidden, proposed.
    Hidden,
}

impl Dash {
    /// Lengths of line and space in turn, pixels; empty for an unbroken line.
    pub fn pattern(self) -> &'static [f64] {
        match self {
            Self::Full => &[],
            Self::Right => &[8.0, 3.0],
            Self::Chain => &[12.0, 3.0, 3.0, 3.0],
            Self::Dotted => &[2.0, 3.0],
            Self::Minus => &[5.0, 3.0],
            Self::Hidden => &[4.0, 3.0],
        }
    }
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
    /// A comparison as a whole.
    Pair(CompareId),
    /// What to measure next.
    Next(CompareId),
    /// The doubts.
    Doubts(CompareId),
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
    /// An empty picture that `says` something.
    pub fn empty([width, height]: [f64; 2], says: String) -> Self {
        Self {
            width,
            height,
            says,
            items: Vec::new(),
        }
    }

    /// Puts another picture on this one, its upper left corner at `at`.
    pub fn put(&mut self, other: Self, [x, y]: [f64; 2]) {
        for mut item in other.items {
            match &mut item {
                Item::Path { points, .. } => {
                    for p in points {
                        *p = [p[0] + x, p[1] + y];
                    }
                }
                Item::Disc { at, .. } | Item::Text { at, .. } => *at = [at[0] + x, at[1] + y],
            }
            self.items.push(item);
        }
    }

    /// The same picture `factor` times as large, its lines and type with it.
    #[must_use]
    pub fn scaled(mut self, factor: f64) -> Self {
        self.width *= factor;
        self.height *= factor;
        for item in &mut self.items {
            match item {
                Item::Path { points, stroke, .. } => {
                    for p in points {
                        *p = p.map(|v| v * factor);
                    }
                    if let Some((_, width, _)) = stroke {
                        *width *= factor;
                    }
                }
                Item::Disc { at, radius, .. } => {
                    *at = at.map(|v| v * factor);
                    *radius *= factor;
                }
                Item::Text { at, size, .. } => {
                    *at = at.map(|v| v * factor);
                    *size *= factor;
                }
            }
        }
        self
    }

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

    fn disc(&mut self, at: [f64; 2], radius: f64, fill: Ink) {
        self.items.push(Item::Disc {
            at,
            radius,
            fill,
            hit: None,
        });
    }

    /// A number on a bare ground, its middle at `at`, inside the sheet.
    fn boxed_number(&mut self, at: [f64; 2], ink: Ink, number: String) {
        let wide = text_width(&number, size::CAPTION, weight::SEMI_BOLD) + 8.0;
        let x = at[0].clamp(wide / 2.0, (self.width - wide / 2.0).max(wide / 2.0));
        let y = at[1].clamp(9.0, (self.height - 9.0).max(9.0));
        self.rect(
            [x - wide / 2.0, y - 9.0],
            [wide, 18.0],
            None,
            Some(Ink::Sheet),
        );
        let type_of = (size::CAPTION, weight::SEMI_BOLD);
        self.text([x, y + 4.5], type_of, Anchor::Middle, ink, number);
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

/// `text` broken into lines no wider than `width` pixels; a longer word stands alone. At least one line.
pub fn wrapped(text: &str, width: f64, size: f64, weight: u16) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = String::new();
    for word in text.split(' ') {
        let longer = if line.is_empty() {
            word.to_owned()
        } else {
            format!("{line} {word}")
        };
        if !line.is_empty() && text_width(&longer, size, weight) > width {
            lines.push(std::mem::replace(&mut line, word.to_owned()));
        } else {
            line = longer;
        }
    }
    lines.push(line);
    lines
}

/// `text` as far as it goes into `width` pixels, with an ellipsis where something is left out.
pub fn cut(text: &str, width: f64, size: f64, weight: u16) -> String {
    if text_width(text, size, weight) <= width {
        return text.to_owned();
    }
    let mut kept = text.to_owned();
    while kept.pop().is_some() {
        let shown = format!("{}…", kept.trim_end());
        if text_width(&shown, size, weight) <= width {
            return shown;
        }
    }
    String::new()
}

#[cfg(test)]
mod tests;
