//! Coloured pieces of text, lines and wrapping.

/// How the text may look. The caller knows the terminal and the wishes of its owner.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Look {
    /// Whether colours may be used. No meaning hangs on them.
    pub colour: bool,
    /// Only ASCII for marks, signs and lines; names stay as they were typed.
    pub ascii: bool,
    /// Number of columns.
    pub width: usize,
    /// Number of lines to keep to if it can be done.
    pub height: usize,
}

impl Default for Look {
    /// 100 columns, 40 lines, no colour.
    fn default() -> Self {
        Self {
            colour: false,
            ascii: false,
            width: 100,
            height: 40,
        }
    }
}

impl Look {
    /// `text` with our own signs replaced where only ASCII may be used.
    pub fn signs(self, text: &str) -> String {
        if !self.ascii {
            return text.to_owned();
        }
        let mut out = String::with_capacity(text.len());
        for c in text.chars() {
            match c {
                '\u{2212}' => out.push('-'),
                '±' => out.push_str("+-"),
                '°' => out.push_str(" deg"),
                '·' | '│' => out.push('|'),
                '…' => out.push_str("..."),
                '↔' => out.push_str("<->"),
                '↕' => out.push_str("^v"),
                '²' => out.push('2'),
                '\u{2009}' => out.push(' '),
                '■' => out.push_str("[#]"),
                '◪' => out.push_str("[/]"),
                '⊠' => out.push_str("[X]"),
                '⬚' => out.push_str("[.]"),
                other => out.push(other),
            }
        }
        out
    }
}

/// What a piece of text is, by role; the colour follows from it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Role {
    /// Running text.
    Ink,
    /// Names and main clauses.
    Strong,
    /// Give-or-take, hints.
    Light,
    /// A verdict.
    Fits,
    /// A verdict, an open question.
    NotProven,
    /// A verdict, a stop.
    WillNotFit,
}

impl Role {
    fn code(self) -> &'static str {
        match self {
            Self::Ink => "",
            Self::Strong => "1",
            Self::Light => "2",
            // Cyan, yellow, magenta: no pair of red and green.
            Self::Fits => "1;36",
            Self::NotProven => "1;33",
            Self::WillNotFit => "1;35",
        }
    }
}

/// One line of pieces.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Line(pub Vec<(Role, String)>);

impl Line {
    /// A line of one piece.
    pub fn of(role: Role, text: impl Into<String>) -> Self {
        Self(vec![(role, text.into())])
    }

    /// Adds a piece.
    pub fn and(mut self, role: Role, text: impl Into<String>) -> Self {
        self.0.push((role, text.into()));
        self
    }

    /// Number of letters.
    pub fn len(&self) -> usize {
        self.0.iter().map(|(_, t)| t.chars().count()).sum()
    }

    /// Fills up with spaces.
    pub fn padded(mut self, width: usize) -> Self {
        let missing = width.saturating_sub(self.len());
        self.0.push((Role::Ink, " ".repeat(missing)));
        self
    }

    /// The line as bytes for a terminal, without trailing spaces.
    pub fn render(&self, colour: bool) -> String {
        let plain: usize = self
            .0
            .iter()
            .map(|(_, t)| t.as_str())
            .collect::<String>()
            .trim_end()
            .chars()
            .count();
        let mut left = plain;
        let mut out = String::new();
        for (role, text) in &self.0 {
            let take: String = text.chars().take(left).collect();
            left -= take.chars().count();
            if colour && !role.code().is_empty() && !take.trim().is_empty() {
                out.extend(["\u{1b}[", role.code(), "m", &take, "\u{1b}[0m"]);
            } else {
                out.push_str(&take);
            }
        }
        out
    }
}

/// Paragraphs broken at the width of the screen; rows of tables, which start with two spaces, keep to their columns.
pub fn lines_of(paragraphs: &[String], look: Look) -> String {
    let mut text = String::new();
    for paragraph in paragraphs {
        let paragraph = look.signs(paragraph);
        if paragraph.starts_with("  ") || paragraph.is_empty() {
            text += paragraph.trim_end();
            text.push('\n');
        } else {
            for part in wrap(&paragraph, look.width, 0) {
                text += &part;
                text.push('\n');
            }
        }
    }
    text
}

/// `text` in lines of at most `width` letters; the first line has `first` letters already taken. Words longer than a
/// line are cut.
pub fn wrap(text: &str, width: usize, first: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    let mut room = width.saturating_sub(first);
    for word in text.split(' ').filter(|w| !w.is_empty()) {
        let mut word = word;
        let count = |s: &str| s.chars().count();
        loop {
            let last = lines.len() - 1;
            let gap = usize::from(!lines[last].is_empty());
            if count(word) + gap <= room {
                if gap == 1 {
                    lines[last].push(' ');
                }
                lines[last].push_str(word);
                room -= count(word) + gap;
                break;
            }
            if count(word) > width && lines[last].is_empty() && room > 0 {
                let cut = word.char_indices().nth(room).map_or(word.len(), |(i, _)| i);
                lines[last].push_str(&word[..cut]);
                word = &word[cut..];
            }
            lines.push(String::new());
            room = width.max(1);
        }
    }
    lines
}

/// `text` cut to `width` letters, with an ellipsis where something was cut.
pub fn cut(text: &str, width: usize, look: Look) -> String {
    if text.chars().count() <= width {
        return text.to_owned();
    }
    let dots = look.signs("…");
    let keep = width.saturating_sub(dots.chars().count());
    format!(
        "{}{dots}",
        text.chars().take(keep).collect::<String>().trim_end()
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_is_wrapped_at_words_and_long_words_are_cut() {
        assert_eq!(wrap("one two three", 7, 0), ["one two", "three"]);
        assert_eq!(wrap("one two three", 7, 4), ["one", "two", "three"]);
        assert_eq!(wrap("abcdefghij kl", 4, 0), ["abcd", "efgh", "ij", "kl"]);
        assert_eq!(wrap("", 4, 0), [""]);
        assert_eq!(wrap("wide", 4, 4), ["", "wide"]);
    }

    #[test]
    fn no_colour_means_no_escape_and_colour_never_changes_the_letters() {
        let line = Line::of(Role::WillNotFit, "⊠ WILL NOT FIT").and(Role::Ink, "  plain  ");
        assert_eq!(line.render(false), "⊠ WILL NOT FIT  plain");
        assert_eq!(
            line.render(true),
            "\u{1b}[1;35m⊠ WILL NOT FIT\u{1b}[0m  plain"
        );
    }

    #[test]
    fn ascii_replaces_our_signs_only() {
        let look = Look {
            ascii: true,
            ..Look::default()
        };
        assert_eq!(look.signs("⊠ −1.3° ±0.2 Tür"), "[X] -1.3 deg +-0.2 Tür");
        assert_eq!(cut("a long text", 8, look), "a lon...");
    }
}
