//! The one error of this crate.

use std::fmt;
use std::path::{Path, PathBuf};

use record::Cancelled;

/// What went wrong with a file: which file, where in it, what was expected, and what to do.
///
/// Its text is one lower-case sentence without a final period, with names in quotes:
/// `"door.stl", facet 12, byte 684: expected three finite coordinates, found "NaN"`.
/// The remedy is a sentence of its own, see [`Error::hint`].
#[derive(Debug)]
pub struct Error(Box<Inner>);

#[derive(Debug)]
struct Inner {
    kind: Kind,
    path: Option<PathBuf>,
    line: Option<u64>,
    record: Option<(&'static str, u64)>,
    byte: Option<u64>,
    says: String,
    hint: String,
    cause: Option<std::io::Error>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Kind {
    NotFound,
    NoAccess,
    InputOutput,
    Truncated,
    Malformed,
    UnknownFormat,
    Empty,
    TooLarge,
    NewerSchema,
    Cancelled,
}

impl Error {
    fn new(kind: Kind, says: String, hint: &str) -> Self {
        Self(Box::new(Inner {
            kind,
            path: None,
            line: None,
            record: None,
            byte: None,
            says: one_line(says),
            hint: hint.to_owned(),
            cause: None,
        }))
    }

    /// The content is not what its format asks for.
    pub(crate) fn malformed(says: impl Into<String>) -> Self {
        let hint =
            "export the file once more from the program that made it, as binary STL, PLY or XYZ";
        Self::new(Kind::Malformed, says.into(), hint)
    }

    /// The file ends before what it promised.
    pub(crate) fn truncated(says: impl Into<String>) -> Self {
        let hint = "the file was cut off: copy or export it once more";
        Self::new(Kind::Truncated, says.into(), hint)
    }

    /// The file is of a kind this program does not read.
    pub(crate) fn unknown_format(says: impl Into<String>) -> Self {
        let hint = "open it in the program that made it and export it as STL, PLY or XYZ";
        Self::new(Kind::UnknownFormat, says.into(), hint)
    }

    /// The file is readable and holds nothing.
    pub(crate) fn empty(says: impl Into<String>) -> Self {
        let hint =
            "check that something was selected when it was exported, and export it once more";
        Self::new(Kind::Empty, says.into(), hint)
    }

    /// The file is larger than this program can number.
    pub(crate) fn too_large(says: impl Into<String>) -> Self {
        Self::new(
            Kind::TooLarge,
            says.into(),
            "export it in several pieces or thinned out",
        )
    }

    /// The job file was written by a later version of this program.
    pub(crate) fn newer_schema(says: impl Into<String>) -> Self {
        Self::new(
            Kind::NewerSchema,
            says.into(),
            "open it with the version of the program that wrote it, or a later one",
        )
    }

    /// The operating system refused; `doing` is what was tried: "read", "write".
    pub(crate) fn io(doing: &str, cause: std::io::Error) -> Self {
        use std::io::ErrorKind as E;
        let (kind, says, hint) = match cause.kind() {
            E::NotFound => (
                Kind::NotFound,
                format!("cannot {doing}: no such file or folder"),
                "check the path; paths in a job file start at the folder of the job file",
            ),
            E::PermissionDenied | E::ReadOnlyFilesystem => (
                Kind::NoAccess,
                format!("cannot {doing}: access was refused"),
                "check that you may read and write there and that no other program holds the file",
            ),
            E::StorageFull | E::QuotaExceeded => (
                Kind::InputOutput,
                format!("cannot {doing}: the disk is full"),
                "make room and try again; nothing was replaced",
            ),
            _ => (
                Kind::InputOutput,
                format!("cannot {doing}: {}", lower_first(&cause.to_string())),
                "check the disk, stick or network and try again",
            ),
        };
        let mut error = Self::new(kind, says, hint);
        error.0.cause = Some(cause);
        error
    }

    /// The same with another remedy.
    pub(crate) fn hinting(mut self, hint: impl Into<String>) -> Self {
        self.0.hint = one_line(hint.into());
        self
    }

    /// The same in a file; a path already known is kept.
    pub(crate) fn in_file(mut self, path: &Path) -> Self {
        self.0.path.get_or_insert_with(|| path.to_owned());
        self
    }

    /// The same at a line, counted from one.
    pub(crate) fn at_line(mut self, line: u64) -> Self {
        self.0.line = Some(line);
        self
    }

    /// The same `lines` further down, if it has a line.
    pub(crate) fn further_down(mut self, lines: u64) -> Self {
        self.0.line = self.0.line.map(|l| l + lines);
        self
    }

    /// The same at a record ("facet", "vertex"), counted from one.
    pub(crate) fn at_record(mut self, word: &'static str, number: u64) -> Self {
        self.0.record = Some((word, number));
        self
    }

    /// The same at a byte, counted from zero.
    pub(crate) fn at_byte(mut self, byte: u64) -> Self {
        self.0.byte = Some(byte);
        self
    }

    /// The file.
    pub fn path(&self) -> Option<&Path> {
        self.0.path.as_deref()
    }

    /// The line, counted from one, in a text file.
    pub fn line(&self) -> Option<u64> {
        self.0.line
    }

    /// The record and its number counted from one: ("facet", 12).
    pub fn record(&self) -> Option<(&'static str, u64)> {
        self.0.record
    }

    /// The byte, counted from zero, in a binary file.
    pub fn byte(&self) -> Option<u64> {
        self.0.byte
    }

    /// What was expected and what was found, without the file and the place.
    pub fn says(&self) -> &str {
        &self.0.says
    }

    /// What to do about it: one sentence, lower case, no final period.
    pub fn hint(&self) -> &str {
        &self.0.hint
    }

    /// There is no such file or folder.
    pub fn is_not_found(&self) -> bool {
        self.0.kind == Kind::NotFound
    }

    /// The operating system did not let us.
    pub fn is_no_access(&self) -> bool {
        self.0.kind == Kind::NoAccess
    }

    /// The operating system failed in any way, including the two above.
    pub fn is_input_output(&self) -> bool {
        matches!(
            self.0.kind,
            Kind::NotFound | Kind::NoAccess | Kind::InputOutput
        )
    }

    /// The file ends before what it promised.
    pub fn is_truncated(&self) -> bool {
        self.0.kind == Kind::Truncated
    }

    /// The content is not what its format asks for.
    pub fn is_malformed(&self) -> bool {
        self.0.kind == Kind::Malformed
    }

    /// The file is of a kind that is not read here.
    pub fn is_unknown_format(&self) -> bool {
        self.0.kind == Kind::UnknownFormat
    }

    /// The file holds nothing.
    pub fn is_empty(&self) -> bool {
        self.0.kind == Kind::Empty
    }

    /// The file is larger than can be numbered.
    pub fn is_too_large(&self) -> bool {
        self.0.kind == Kind::TooLarge
    }

    /// The job file was written by a later version.
    pub fn is_newer_schema(&self) -> bool {
        self.0.kind == Kind::NewerSchema
    }

    /// The person called it off; not a failure.
    pub fn is_cancelled(&self) -> bool {
        self.0.kind == Kind::Cancelled
    }
}

/// Text that quotes a file may carry anything: control characters become question marks, and what is very long is cut.
fn one_line(text: String) -> String {
    const LONGEST: usize = 800;
    if text.len() <= LONGEST && !text.chars().any(char::is_control) {
        return text;
    }
    let mut line: String = text
        .chars()
        .take(LONGEST)
        .map(|c| if c.is_control() { '?' } else { c })
        .collect();
    if text.chars().nth(LONGEST).is_some() {
        line.push_str("...");
    }
    line
}

/// `text` with its first letter in lower case, unless the second is a capital too.
pub(crate) fn lower_first(text: &str) -> String {
    let mut letters = text.chars();
    match (letters.next(), letters.clone().next()) {
        (Some(first), Some(second)) if !second.is_uppercase() => {
            first.to_lowercase().chain(letters).collect()
        }
        _ => text.to_owned(),
    }
}

impl fmt::Display for Error {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let inner = &*self.0;
        let mut places = Vec::new();
        if let Some(path) = &inner.path {
            places.push(format!("\"{}\"", path.display()));
        }
        if let Some(line) = inner.line {
            places.push(format!("line {line}"));
        }
        if let Some((word, number)) = inner.record {
            places.push(format!("{word} {number}"));
        }
        if let Some(byte) = inner.byte {
            places.push(format!("byte {byte}"));
        }
        if !places.is_empty() {
            write!(f, "{}: ", places.join(", "))?;
        }
        f.write_str(&inner.says)
    }
}

impl std::error::Error for Error {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        self.0.cause.as_ref().map(|c| c as _)
    }
}

impl From<Cancelled> for Error {
    fn from(_: Cancelled) -> Self {
        Self::new(
            Kind::Cancelled,
            "cancelled".to_owned(),
            "start it again when you are ready",
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_file_place_and_remedy() {
        let e = Error::malformed("expected a number, found \"abc\"")
            .at_line(3)
            .in_file(Path::new("a b.csv"));
        assert_eq!(
            e.to_string(),
            "\"a b.csv\", line 3: expected a number, found \"abc\""
        );
        assert!(e.hint().contains("export"));
        assert_eq!((e.line(), e.record(), e.byte()), (Some(3), None, None));
        assert!(e.is_malformed() && !e.is_truncated() && !e.is_cancelled());
    }

    #[test]
    fn says_what_the_system_said() {
        let e = Error::io("read", std::io::Error::from(std::io::ErrorKind::NotFound))
            .in_file(Path::new("x.stl"));
        assert_eq!(
            e.to_string(),
            "\"x.stl\": cannot read: no such file or folder"
        );
        assert!(e.is_not_found() && e.is_input_output());
        assert!(std::error::Error::source(&e).is_some());
    }

    #[test]
    fn whatever_is_quoted_the_text_stays_a_line() {
        let e = Error::malformed("found \"a\0b\n\"").hinting("take \"\r\" out");
        assert_eq!((e.says(), e.hint()), ("found \"a?b?\"", "take \"?\" out"));
        let long = Error::malformed("\u{e4}".repeat(10_000));
        assert!(long.says().ends_with("\u{e4}...") && long.says().chars().count() == 803);
    }

    #[test]
    fn cancelling_is_told_apart() {
        assert!(Error::from(Cancelled).is_cancelled());
    }
}
