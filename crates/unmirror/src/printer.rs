//! What is printed and how it may look.

use std::io::{IsTerminal, Write};

use report::Look;

/// What the terminal and its owner allow on standard output.
pub fn look() -> Look {
    let terminal = std::io::stdout().is_terminal();
    let set = |name: &str| std::env::var_os(name).is_some_and(|v| !v.is_empty());
    let dumb = std::env::var_os("TERM").is_some_and(|t| t == "dumb");
    Look {
        colour: terminal && !set("NO_COLOR") && !dumb,
        ascii: terminal && !speaks_unicode(),
        width: width(terminal),
        ..Look::default()
    }
}

/// Columns to keep to: those of `COLUMNS` or of the terminal, from 72 to 100; 100 where neither is known.
fn width(terminal: bool) -> usize {
    let asked = std::env::var("COLUMNS").ok().and_then(|v| v.parse().ok());
    let seen = || terminal.then(|| usize::from(console::Term::stdout().size().1));
    asked
        .or_else(seen)
        .filter(|w| *w > 0)
        .map_or(Look::default().width, |w: usize| {
            w.clamp(NARROWEST, Look::default().width)
        })
}

/// Fewer columns than this do not hold a choice on one line.
const NARROWEST: usize = 72;

/// Whether the terminal can be trusted with signs beyond ASCII: a UTF-8 locale, or Windows, where it is the rule.
fn speaks_unicode() -> bool {
    if cfg!(windows) {
        return true;
    }
    let first = ["LC_ALL", "LC_CTYPE", "LANG"]
        .into_iter()
        .filter_map(std::env::var_os)
        .find(|v| !v.is_empty());
    first.is_none_or(|v| {
        let v = v.to_string_lossy().to_ascii_lowercase();
        v.contains("utf-8") || v.contains("utf8")
    })
}

/// Prints `text` to standard output.
pub fn plain(text: &str) -> anyhow::Result<()> {
    let mut out = std::io::stdout().lock();
    out.write_all(text.as_bytes())?;
    out.flush()?;
    Ok(())
}

/// Says something beside the answer, on standard error.
pub fn aside(text: &str) {
    eprintln!("{text}");
}
