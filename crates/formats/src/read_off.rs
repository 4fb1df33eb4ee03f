//! OFF: a head, counts, vertices, faces, all as text.

use crate::Error;
use crate::read_lines::{after_line, line_end, next_lines};
use crate::read_number::{number, quoted};
use crate::read_ply::{KEPT, Mesh};
use crate::read_scan::{Content, without_mark};
use crate::read_source::Source;

/// What the first word promises of each vertex.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Head {
    normals: bool,
    colours: bool,
}

/// The head by its first word; `None` if it is none that can be read.
fn head(word: &[u8]) -> Option<Head> {
    let before = word.strip_suffix(b"OFF")?;
    let before = before.strip_prefix(b"ST").unwrap_or(before);
    let (colours, before) = match before.strip_prefix(b"C") {
        Some(rest) => (true, rest),
        None => (false, before),
    };
    match before {
        b"" | b"N" => Some(Head {
            normals: before == b"N",
            colours,
        }),
        _ => None,
    }
}

/// Whether a file begins as an OFF does.
pub(crate) fn begins(start: &[u8]) -> bool {
    let word = start
        .split(u8::is_ascii_whitespace)
        .next()
        .unwrap_or_default();
    head(word).is_some()
}

/// Reads an OFF; polygons become fans of triangles.
pub(crate) fn read(source: &mut Source) -> Result<Content, Error> {
    let mark = source.window().len() - without_mark(source.window()).len();
    source.consume(mark);
    let mut rows = Rows {
        end: line_end(source.window()),
        source,
        ready: 0,
        line: 0,
    };
    let first = rows.next()?.unwrap_or_default();
    let mut words = words(&first);
    let head = words
        .next()
        .and_then(head)
        .ok_or_else(|| Error::malformed("expected \"OFF\", \"COFF\" or \"NOFF\"").at_line(1))?;
    let same: Vec<u8> = words.collect::<Vec<_>>().join(&b' ');
    if same.starts_with(b"BINARY") {
        return Err(Error::unknown_format("a binary OFF; only text is read").at_line(1));
    }
    let counts = if same.is_empty() {
        rows.next()?.unwrap_or_default()
    } else {
        same
    };
    let counts = numbers(&counts).map_err(|e| rows.here(e))?;
    let [vertices, faces] = match counts[..] {
        [v, f] | [v, f, _] if [v, f].iter().all(|n| *n >= 0.0 && n.fract() == 0.0) => [v, f],
        _ => {
            return Err(rows.here(Error::malformed(
                "expected the numbers of vertices, faces and edges",
            )));
        }
    };
    if vertices == 0.0 {
        return Err(rows.here(Error::empty("the file promises 0 vertices")));
    }
    // A vertex takes six bytes at least, a face eight.
    if vertices * 6.0 + faces * 6.0 > rows.source.size() as f64 {
        return Err(rows.here(Error::truncated(format!(
            "{vertices} vertices and {faces} faces are promised, the file has {} bytes",
            rows.source.size()
        ))));
    }
    let (vertices, faces) = (vertices as u64, faces as u64);
    let mut mesh = Mesh::growing();
    for k in 0..vertices {
        let row = rows.promised("vertices", k, vertices)?;
        let (v, coloured) = vertex(&row, head).map_err(|e| rows.here(e))?;
        mesh.vertex_with(&v, coloured).map_err(|e| rows.here(e))?;
    }
    let mut corners = Vec::new();
    for k in 0..faces {
        let row = rows.promised("faces", k, faces)?;
        face(&row, vertices, &mut corners).map_err(|e| rows.here(e))?;
        mesh.face(&corners);
    }
    mesh.finish("OFF")
}

/// Lines that hold something, one at a time.
struct Rows<'s, 'a> {
    end: u8,
    source: &'s mut Source<'a>,
    /// Bytes of the window that are whole lines.
    ready: usize,
    /// Number of the line read last.
    line: u64,
}

impl Rows<'_, '_> {
    /// The next line that is neither blank nor a comment, without what follows a "#"; `None` at the end.
    fn next(&mut self) -> Result<Option<Vec<u8>>, Error> {
        loop {
            if self.ready == 0 {
                self.ready = next_lines(self.source, self.end)?;
                if self.ready == 0 {
                    return Ok(None);
                }
            }
            let text = &self.source.window()[..self.ready];
            let stop = after_line(text, 0, self.end);
            let row = text[..stop]
                .split(|b| *b == b'#')
                .next()
                .unwrap_or_default();
            let row = row.trim_ascii().to_vec();
            self.source.consume(stop);
            self.ready -= stop;
            self.line += 1;
            if !row.is_empty() {
                return Ok(Some(row));
            }
        }
    }

    fn promised(&mut self, what: &str, done: u64, of: u64) -> Result<Vec<u8>, Error> {
        match self.next()? {
            Some(row) => Ok(row),
            None => Err(self.here(Error::truncated(format!(
                "the file ends after {done} of {of} {what}"
            )))),
        }
    }

    fn here(&self, e: Error) -> Error {
        e.at_line(self.line)
    }
}

fn words(row: &[u8]) -> impl Iterator<Item = &[u8]> {
    row.split(u8::is_ascii_whitespace).filter(|w| !w.is_empty())
}

fn numbers(row: &[u8]) -> Result<Vec<f64>, Error> {
    words(row)
        .map(|w| {
            number(w, true)
                .ok_or_else(|| Error::malformed(format!("expected a number, found {}", quoted(w))))
        })
        .collect()
}

/// x y z, then normals and colours if the head says so (colours also where it does not, but four more numbers stand there).
fn vertex(row: &[u8], head: Head) -> Result<([f64; KEPT], bool), Error> {
    let values = numbers(row)?;
    let least = 3 + if head.normals { 3 } else { 0 };
    if values.len() < least {
        return Err(Error::malformed(format!(
            "expected {least} numbers, found {}",
            values.len()
        )));
    }
    let mut v = [0.0; KEPT];
    v[..3].copy_from_slice(&values[..3]);
    let colour = values.get(least..least + 3).filter(|_| head.colours);
    if let Some(c) = colour {
        v[3..6].copy_from_slice(c);
    }
    Ok((v, colour.is_some()))
}

/// A count, so many vertex numbers from zero, and what colours may follow.
fn face(row: &[u8], vertices: u64, corners: &mut Vec<u32>) -> Result<(), Error> {
    corners.clear();
    let mut words = words(row);
    let count = words.next().unwrap_or_default();
    let n = number(count, false)
        .filter(|n| (1.0..=1e4).contains(n) && n.fract() == 0.0)
        .ok_or_else(|| {
            Error::malformed(format!(
                "expected the number of corners of a face, found {}",
                quoted(count)
            ))
        })?;
    for _ in 0..n as u64 {
        let word = words.next().unwrap_or_default();
        let corner = number(word, false)
            .filter(|c| *c >= 0.0 && *c < vertices as f64 && c.fract() == 0.0)
            .ok_or_else(|| {
                Error::malformed(format!(
                    "expected a vertex number from 0 to {}, found {}",
                    vertices - 1,
                    quoted(word)
                ))
            })?;
        corners.push(corner as u32);
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn heads() {
        let of = |normals, colours| Some(Head { normals, colours });
        assert_eq!(head(b"OFF"), of(false, false));
        assert_eq!(head(b"COFF"), of(false, true));
        assert_eq!(head(b"NOFF"), of(true, false));
        assert_eq!(head(b"CNOFF"), of(true, true));
        assert_eq!(head(b"STCNOFF"), of(true, true));
        assert_eq!(head(b"4OFF"), None);
        assert_eq!(head(b"SCOFF"), None);
        assert!(begins(b"OFF\n3 1 0") && !begins(b"OFFSET 1 2 3"));
    }
}
