//! Text in pieces of whole lines, worked on by all cores, put together in order.

use rayon::prelude::*;

use crate::Error;
use crate::read_source::Source;

/// No line of a scan is longer; a file without line ends must not be drawn into memory whole.
const LONGEST_LINE: usize = 1 << 20;
/// A piece for one core, bytes: small enough to balance, large enough to be worth handing over.
const SHARE: usize = 1 << 18;

/// What one core made of its lines.
pub(crate) struct Share<T> {
    /// What was read, up to the error if there is one.
    pub rows: T,
    /// How many lines there were.
    pub lines: u64,
    /// The first error; its line is counted from one within the share.
    pub error: Option<Error>,
}

/// The byte that ends lines: a carriage return only where there is no line feed.
pub(crate) fn line_end(head: &[u8]) -> u8 {
    if head.contains(&b'\r') && !head.contains(&b'\n') {
        b'\r'
    } else {
        b'\n'
    }
}

/// The lines of `text` without their ends and without surrounding white space.
pub(crate) fn lines(text: &[u8], end: u8) -> impl Iterator<Item = &[u8]> {
    let text = text.strip_suffix(&[end]).unwrap_or(text);
    text.split(move |&b| b == end).map(<[u8]>::trim_ascii)
}

/// How many of the window's first bytes are whole lines (at the end of the file: all of it); 0 at the end only.
pub(crate) fn whole_lines(source: &mut Source, end: u8) -> Result<usize, Error> {
    loop {
        if source.is_last() {
            return Ok(source.window().len());
        }
        if let Some(last) = source.window().iter().rposition(|&b| b == end) {
            return Ok(last + 1);
        }
        if source.window().len() > LONGEST_LINE {
            let says = format!(
                "expected lines of text, found {} bytes without a line end",
                source.window().len()
            );
            return Err(Error::malformed(says).at_byte(source.offset()));
        }
        source.more()?;
    }
}

/// Lengthens the window to a good piece of work, then as [`whole_lines`].
pub(crate) fn next_lines(source: &mut Source, end: u8) -> Result<usize, Error> {
    source.in_large_pieces();
    if source.window().len() < crate::read_source::PIECE {
        source.more()?;
    }
    whole_lines(source, end)
}

/// Cuts `text` at line ends into shares and works on them side by side; `cut` gives the place after which a share
/// may end, at or after the place asked for.
pub(crate) fn share<T: Send>(
    text: &[u8],
    cut: impl Fn(&[u8], usize) -> usize,
    work: impl Fn(&[u8]) -> Share<T> + Sync + Send,
) -> Vec<Share<T>> {
    let mut rest = text;
    let mut shares = Vec::new();
    while !rest.is_empty() {
        let at = if rest.len() <= SHARE {
            rest.len()
        } else {
            cut(rest, SHARE).min(rest.len())
        };
        let (head, tail) = rest.split_at(at.max(1));
        shares.push(head);
        rest = tail;
    }
    shares.into_par_iter().map(work).collect()
}

/// The place after the first line end at or after `from`.
pub(crate) fn after_line(text: &[u8], from: usize, end: u8) -> usize {
    text[from..]
        .iter()
        .position(|&b| b == end)
        .map_or(text.len(), |i| from + i + 1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::read_source::tests::file_of;
    use record::Quiet;

    #[test]
    fn splits_lines_of_every_system() {
        let unix: Vec<&[u8]> = lines(b"a\nb c\n\nd", b'\n').collect();
        assert_eq!(unix, [&b"a"[..], b"b c", b"", b"d"]);
        let windows: Vec<&[u8]> = lines(b"a\r\nb\r\n", b'\n').collect();
        assert_eq!(windows, [&b"a"[..], b"b"]);
        assert_eq!(line_end(b"a\rb\r"), b'\r');
        assert_eq!(line_end(b"a\r\nb"), b'\n');
        assert_eq!(lines(b"a\rb\r", b'\r').count(), 2);
    }

    #[test]
    fn shares_hold_every_line_once_in_order() {
        let text: Vec<u8> = (0..200_000)
            .flat_map(|i| format!("{i}\n").into_bytes())
            .collect();
        let shares = share(
            &text,
            |t, at| after_line(t, at, b'\n'),
            |part| Share {
                rows: lines(part, b'\n')
                    .map(|l| String::from_utf8_lossy(l).parse::<u32>().unwrap())
                    .collect::<Vec<_>>(),
                lines: lines(part, b'\n').count() as u64,
                error: None,
            },
        );
        assert!(shares.len() > 3);
        assert_eq!(shares.iter().map(|s| s.lines).sum::<u64>(), 200_000);
        let all: Vec<u32> = shares.into_iter().flat_map(|s| s.rows).collect();
        assert!(all.iter().copied().eq(0..200_000));
    }

    #[test]
    fn a_line_without_end_is_refused_early() {
        let file = file_of(&vec![b'1'; 5 << 20]);
        let mut source = Source::open(file.path(), &Quiet).unwrap();
        let error = whole_lines(&mut source, b'\n').unwrap_err();
        assert!(error.to_string().contains("without a line end"), "{error}");
    }
}
