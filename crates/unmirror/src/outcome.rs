//! How a command ends, and the exit code of that.

use std::fmt::Write as _;
use std::process::ExitCode;

use record::Cancelled;

/// Exit code after Ctrl-C: 128 + 2, as shells have it.
pub const CALLED_OFF: u8 = 130;

/// How a command ended that did its work.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// Done.
    Done,
    /// Done, but these conditions do not hold.
    Unmet(Vec<String>),
}

/// Prints what went wrong, if something did, and gives the exit code.
pub fn exit(result: anyhow::Result<Outcome>) -> ExitCode {
    match result {
        Ok(Outcome::Done) => ExitCode::SUCCESS,
        Ok(Outcome::Unmet(conditions)) => {
            for condition in conditions {
                eprintln!("unmirror: does not hold: {condition}");
            }
            ExitCode::from(1)
        }
        Err(error) if is_called_off(&error) => {
            eprintln!("unmirror: called off; nothing was left half-written");
            ExitCode::from(CALLED_OFF)
        }
        Err(error) if is_closed_pipe(&error) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("unmirror: {}", text(&error));
            ExitCode::from(2)
        }
    }
}

/// The error with its causes, and the remedy where one is known.
fn text(error: &anyhow::Error) -> String {
    let mut out = String::new();
    for (i, cause) in error.chain().enumerate() {
        let said = cause.to_string();
        if i == 0 || !out.contains(&said) {
            let _ = write!(out, "{}{said}", if i > 0 { ": " } else { "" });
        }
        // It names file, place and what was wrong itself; what the operating system said is in it.
        if let Some(error) = cause.downcast_ref::<formats::Error>() {
            if !error.hint().is_empty() {
                let _ = write!(out, "\n  what to do: {}", error.hint());
            }
            break;
        }
    }
    out
}

/// Ctrl-C, wherever it was noticed.
fn is_called_off(error: &anyhow::Error) -> bool {
    error.chain().any(|e| {
        e.downcast_ref::<Cancelled>().is_some()
            || e.downcast_ref::<formats::Error>()
                .is_some_and(formats::Error::is_cancelled)
    })
}

/// Whoever read the output has stopped reading; not an error of ours.
fn is_closed_pipe(error: &anyhow::Error) -> bool {
    error.chain().any(|e| {
        e.downcast_ref::<std::io::Error>()
            .is_some_and(|e| e.kind() == std::io::ErrorKind::BrokenPipe)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn causes_follow_what_was_tried_and_are_not_said_twice() {
        let error = anyhow::anyhow!("line 14 reads \"3 5/1\"").context("tape.csv");
        assert_eq!(text(&error), "tape.csv: line 14 reads \"3 5/1\"");
        let error = anyhow::anyhow!("disk full").context("not written: disk full");
        assert_eq!(text(&error), "not written: disk full");
    }

    #[test]
    fn a_file_that_cannot_be_read_comes_with_a_remedy() {
        let error = formats::read_scan(std::path::Path::new("no such file.ply"), &record::Quiet)
            .unwrap_err();
        let said = text(&anyhow::Error::from(error).context("look"));
        assert!(said.starts_with("look: \"no such file.ply\""), "{said}");
        assert!(said.contains("\n  what to do: check the path"), "{said}");
        assert!(!said.contains("os error"), "{said}");
    }

    #[test]
    fn a_closed_pipe_is_no_error() {
        let error = anyhow::Error::from(std::io::Error::from(std::io::ErrorKind::BrokenPipe))
            .context("printing");
        assert!(is_closed_pipe(&error));
        assert!(!is_closed_pipe(&anyhow::anyhow!("other")));
    }
}
