//! What must hold of every reader, whatever bytes it is given: no panic, little memory, an error that says file, place, what was
//! expected and a remedy; and of what is read that it hangs together.
//!
//! One function per target. `tests/fuzz/run` builds and runs them; the targets themselves are one line each.

mod allocated;
mod checksums;
mod files;
mod kept;
mod scans;
mod texts;

use libfuzzer_sys::Corpus;

pub use kept::{handed_over, journal, kept_figures, kept_scan};
pub use scans::{e57, obj, off, pcd, ply, stl, table};
pub use texts::{dxf, hand, job, numbers, places, step};

/// What the seeds of kept scans and figures are made from.
pub use kept::{ENGINE, HASH, KEY, UNIT};

/// Keeps an input for further changes only if it is of the kind the target is for.
fn kept_if(of_the_kind: bool) -> Corpus {
    if of_the_kind {
        Corpus::Keep
    } else {
        Corpus::Reject
    }
}

/// Most that may be held at the peak for an input, bytes.
fn most(input: usize) -> usize {
    (64 << 20) + 4 * input
}

/// Does `work`, which reads `input` bytes, and looks at the memory it takes at its peak.
fn bounded<T>(input: usize, work: impl FnOnce() -> T) -> T {
    let (result, peak) = allocated::peak_of(work);
    assert!(
        peak <= most(input),
        "{peak} bytes at the peak for {input} read"
    );
    result
}

/// An error says what was expected, where, and what to do, as `formats::Error` promises.
fn well_told(error: &formats::Error, of_file: bool) {
    let whole = error.to_string();
    assert!(!of_file || error.path().is_some(), "no file: {whole}");
    for (what, text) in [("text", error.says()), ("remedy", error.hint())] {
        assert!(!text.is_empty(), "no {what}: {whole}");
        assert!(
            !text.ends_with('.') || text.ends_with(".."),
            "{what} ends with a period: {text}"
        );
        assert!(
            !text.contains(['\n', '\r', '\0']),
            "{what} is more than a line: {text:?}"
        );
        let mut letters = text.chars();
        let (first, second) = (letters.next(), letters.next());
        let capital =
            first.is_some_and(char::is_uppercase) && second.is_some_and(char::is_lowercase);
        assert!(!capital, "{what} begins with a capital: {text}");
    }
    let placed = error.line().is_some() || error.record().is_some() || error.byte().is_some();
    let of_the_whole = error.is_empty() || error.is_unknown_format() || error.is_newer_schema();
    assert!(
        placed || of_the_whole || error.is_input_output(),
        "no place: {whole}"
    );
    assert!(
        whole.len() < 2_000,
        "{} bytes of text: {whole}",
        whole.len()
    );
}
