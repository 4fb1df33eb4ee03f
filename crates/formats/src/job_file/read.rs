//! Text to job.

use std::path::Path;

use record::Job;
use ron::error::SpannedError;
use ron::extensions::Extensions;
use serde::Deserialize;

use super::nearest::nearest;
use super::{SCHEMA, from_wire, wire};
use crate::{Error, read_hand, read_places};

/// A job is typed and clicked: kilobytes. More than this is another kind of file.
const LARGEST: u64 = 16 << 20;

/// Reads a job file.
///
/// The job is as it stands in the file, with what was left out filled in; whether its names and numbers make sense
/// is told by [`crate::check_job`]. Scan paths stay as written, relative to the folder of the job file. Hand tables and the table
/// of places that stand beside the job are read as well; one that cannot be read says so itself.
///
/// # Errors
/// With file and line: what was expected and, for a misspelt field or word, the nearest known one.
pub fn read_job(path: &Path) -> Result<Job, Error> {
    let mut job = text_of(path)
        .and_then(|text| job_from_str(&text))
        .map_err(|e| e.in_file(path))?;
    read_hand::fill(&mut job, path.parent().unwrap_or(Path::new("")));
    read_places::fill(&mut job, path.parent().unwrap_or(Path::new("")));
    Ok(job)
}

/// As [`read_job`], with the places of `table` (a path of its own) instead of those of the table the job names.
///
/// # Errors
/// As [`read_job`]; also if the table cannot be read.
pub fn read_job_with_places(path: &Path, table: &Path) -> Result<Job, Error> {
    let mut job = read_job(path)?;
    job.places_table = Some(read_places::table_of(table, &job)?);
    Ok(job)
}

fn text_of(path: &Path) -> Result<String, Error> {
    let about = std::fs::metadata(path).map_err(|e| Error::io("read", e))?;
    let hint = "give the path of a job file, which ends in .ron";
    if !about.is_file() {
        return Err(
            Error::unknown_format("expected a job file, found a folder or a device").hinting(hint),
        );
    }
    if about.len() > LARGEST {
        let says = format!(
            "expected a job file of at most 16 MiB, found {} bytes",
            about.len()
        );
        return Err(Error::unknown_format(says).hinting(hint));
    }
    let bytes = std::fs::read(path).map_err(|e| Error::io("read", e))?;
    if bytes.is_empty() {
        let earlier = "an earlier version may stand in the folder \".previous\" beside it";
        return Err(Error::empty("expected a job, the file has 0 bytes").hinting(earlier));
    }
    String::from_utf8(bytes).map_err(|e| {
        let valid = e.utf8_error().valid_up_to();
        let line = e.as_bytes()[..valid].split(|&b| b == b'\n').count() as u64;
        Error::malformed("expected text in UTF-8, found other bytes")
            .at_line(line)
            .hinting(hint)
    })
}

#[derive(Deserialize)]
struct Version {
    schema: Option<u32>,
}

/// Reads a job from the text of a job file.
///
/// # Errors
/// As [`read_job`], without the path.
pub fn job_from_str(text: &str) -> Result<Job, Error> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let options = ron::Options::default().with_default_extension(Extensions::IMPLICIT_SOME);
    let version: Version = options.from_str(text).map_err(|e| told(&e))?;
    match version.schema {
        Some(SCHEMA) => {}
        Some(later) if later > SCHEMA => {
            return Err(Error::newer_schema(format!(
                "the job has schema {later}, this program knows schema {SCHEMA}"
            ))
            .at_line(line_of_schema(text)));
        }
        Some(other) => {
            let says = format!("expected \"schema: {SCHEMA}\", found \"schema: {other}\"");
            return Err(Error::malformed(says)
                .at_line(line_of_schema(text))
                .hinting("the first schema is 1"));
        }
        None => {
            let says =
                format!("expected \"schema: {SCHEMA},\" after the opening bracket, found none");
            return Err(Error::malformed(says)
                .at_line(1)
                .hinting("add that line; it says how the file is laid out"));
        }
    }
    let job: wire::Job = options.from_str(text).map_err(|e| told(&e))?;
    Ok(from_wire::job(job))
}

/// The line on which the schema is said, or the first.
fn line_of_schema(text: &str) -> u64 {
    let said = |l: &str| {
        l.trim_start()
            .trim_start_matches('(')
            .trim_start()
            .starts_with("schema")
    };
    text.lines().position(said).map_or(1, |k| k as u64 + 1)
}

/// The parser's error in our words.
fn told(error: &SpannedError) -> Error {
    use ron::Error as R;
    let syntax = "look at this line and the one before it: every field ends with a comma, every bracket is closed";
    let (says, hint) = match &error.code {
        R::NoSuchStructField {
            expected, found, ..
        } => unknown("field", found, expected),
        R::NoSuchEnumVariant {
            expected, found, ..
        } => unknown("word", found, expected),
        R::MissingStructField { field, .. } => (
            format!("the field \"{field}\" is missing in the brackets that end here"),
            format!("add \"{field}: ...,\""),
        ),
        R::DuplicateStructField { field, .. } => (
            format!("the field \"{field}\" is given twice"),
            "take one of them out".to_owned(),
        ),
        R::Eof => (
            "the text ends before the last bracket is closed".to_owned(),
            syntax.to_owned(),
        ),
        R::InvalidValueForType { expected, found } => (
            format!("expected {expected}, found {found}"),
            "correct the value".to_owned(),
        ),
        R::ExpectedFloat | R::ExpectedInteger => number(),
        R::ExpectedBoolean => ("expected true or false".to_owned(), value()),
        R::ExpectedString => ("expected text in double quotes".to_owned(), value()),
        other => (plain(&other.to_string()), syntax.to_owned()),
    };
    let error_at = error.span.end.line as u64;
    Error::malformed(says).hinting(hint).at_line(error_at)
}

fn number() -> (String, String) {
    (
        "expected a number".to_owned(),
        "give a number with a decimal dot and without a unit".to_owned(),
    )
}

fn value() -> String {
    "correct the value".to_owned()
}

fn unknown(what: &str, found: &str, expected: &[&str]) -> (String, String) {
    let known = format!("known here are: {}", expected.join(", "));
    match nearest(found, expected) {
        Some(near) => (
            format!("no {what} is called \"{found}\" here, the nearest is \"{near}\""),
            known,
        ),
        None => (format!("no {what} is called \"{found}\" here"), known),
    }
}

/// A sentence of the parser with our marks: lower case, names in double quotes.
fn plain(text: &str) -> String {
    let text = text.replace('`', "\"");
    let mut letters = text.chars();
    letters
        .next()
        .map(|first| first.to_lowercase().chain(letters).collect())
        .unwrap_or_default()
}
