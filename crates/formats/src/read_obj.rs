//! OBJ: lines of vertices and faces as text.

use crate::Error;
use crate::read_lines::{Share, after_line, line_end, lines, next_lines, share};
use crate::read_number::{number, quoted};
use crate::read_ply::{KEPT, Mesh};
use crate::read_scan::{Content, Note, without_mark};
use crate::read_source::Source;

/// Most corners of a face; more is no face of a scan.
const MOST_CORNERS: usize = 10_000;

/// Reads vertices (with colours, where six numbers or more stand in their lines) and faces; polygons become fans of
/// triangles. Everything else (texture, materials, names, free curves) is passed over. A face may name only vertices above
/// it, by their number or counted back.
pub(crate) fn read(source: &mut Source) -> Result<Content, Error> {
    let mark = source.window().len() - without_mark(source.window()).len();
    source.consume(mark);
    let end = line_end(source.window());
    let mut mesh = Mesh::growing();
    let mut corners = Vec::new();
    let (mut line, mut passed) = (0, 0);
    loop {
        let take = next_lines(source, end)?;
        if take == 0 {
            break;
        }
        let text = &source.window()[..take];
        let work = |part: &[u8]| rows(part, end);
        for part in share(text, |t, at| after_line(t, at, end), work) {
            let rows = part.rows;
            let before = mesh.taken();
            let mut faces = rows.faces.iter().peekable();
            let mut rest = &rows.corners[..];
            // Vertices and faces in the order of their lines: a face sees the vertices above it only.
            let mut next_face = |upto: u64, mesh: &mut Mesh| -> Result<(), Error> {
                while let Some(&&(at, n)) = faces.peek().filter(|f| f.0 < upto) {
                    faces.next();
                    let (these, after) = rest.split_at(n.min(rest.len()));
                    rest = after;
                    corners.clear();
                    for c in these {
                        corners.push(
                            vertex_of(*c, before, mesh.taken())
                                .map_err(|e| e.at_line(line + at))?,
                        );
                    }
                    mesh.face(&corners);
                }
                Ok(())
            };
            for (at, v, coloured) in &rows.vertices {
                next_face(*at, &mut mesh)?;
                mesh.vertex_with(v, *coloured)
                    .map_err(|e| e.at_line(line + at))?;
            }
            next_face(u64::MAX, &mut mesh)?;
            if let Some(error) = part.error {
                return Err(error.further_down(line));
            }
            line += part.lines;
            passed += rows.passed;
        }
        source.consume(take);
    }
    let mut content = mesh.finish("OBJ")?;
    content.notes.extend(Note::counted(
        passed,
        "lines that are neither vertices nor faces were passed over",
        "",
    ));
    Ok(content)
}

/// A corner of a face.
#[derive(Clone, Copy)]
enum Corner {
    /// Counted from one through the whole file.
    Number(u64),
    /// So many vertices after the first of the share (less than none: before it).
    After(i64),
}

/// The vertex of a corner, from zero; `before`: vertices above the share, `above`: above the face.
fn vertex_of(corner: Corner, before: u64, above: u64) -> Result<u32, Error> {
    let found = match corner {
        Corner::Number(n) => n.checked_sub(1),
        Corner::After(n) => before.checked_add_signed(n),
    };
    found
        .filter(|n| *n < above)
        .and_then(|n| u32::try_from(n).ok())
        .ok_or_else(|| {
            let named = match corner {
                Corner::Number(n) => format!("vertex {n}"),
                Corner::After(_) => "one before the first".to_owned(),
            };
            Error::malformed(format!(
                "expected a face of the {above} vertices above it, found {named}"
            ))
            .hinting(
                "the mesh is damaged there: repair or export it once more in the scanner's program",
            )
        })
}

#[derive(Default)]
struct Rows {
    /// Line within the share, values in the order of [`KEPT`], whether there is a colour among them.
    vertices: Vec<(u64, [f64; KEPT], bool)>,
    /// Line and number of corners.
    faces: Vec<(u64, usize)>,
    corners: Vec<Corner>,
    passed: u64,
}

fn rows(text: &[u8], end: u8) -> Share<Rows> {
    let mut rows = Rows::default();
    let mut count = 0;
    for line in lines(text, end) {
        count += 1;
        if let Err(error) = row(line, count, &mut rows) {
            return Share {
                rows,
                lines: count,
                error: Some(error.at_line(count)),
            };
        }
    }
    Share {
        rows,
        lines: count,
        error: None,
    }
}

fn row(line: &[u8], at: u64, rows: &mut Rows) -> Result<(), Error> {
    let mut words = line
        .split(u8::is_ascii_whitespace)
        .filter(|w| !w.is_empty());
    match words.next() {
        Some(b"v") => {
            let mut v = [0.0; 7];
            let mut n = 0;
            for word in words {
                let value = number(word, true).ok_or_else(|| {
                    Error::malformed(format!("expected a coordinate, found {}", quoted(word)))
                })?;
                if let Some(to) = v.get_mut(n) {
                    *to = value;
                }
                n += 1;
            }
            if n < 3 {
                return Err(Error::malformed(format!(
                    "expected three coordinates, found {n}"
                )));
            }
            // x y z, x y z w, x y z r g b, or x y z w r g b.
            let colour = match n {
                6 => Some([v[3], v[4], v[5]]),
                7 => Some([v[4], v[5], v[6]]),
                _ => None,
            };
            let [r, g, b] = colour.unwrap_or_default();
            let kept = [v[0], v[1], v[2], r, g, b, 0.0, 0.0, 0.0];
            rows.vertices.push((at, kept, colour.is_some()));
        }
        Some(b"f") => {
            let above = i64::try_from(rows.vertices.len()).unwrap_or(i64::MAX);
            let from = rows.corners.len();
            for word in words {
                rows.corners.push(corner(word, above)?);
            }
            let n = rows.corners.len() - from;
            if !(3..=MOST_CORNERS).contains(&n) {
                rows.corners.truncate(from);
                return Err(Error::malformed(format!(
                    "expected a face of 3 corners or more, found {n}"
                )));
            }
            rows.faces.push((at, n));
        }
        Some(word) if word.starts_with(b"#") => {}
        Some(b"vn" | b"vt" | b"vp" | b"o" | b"g" | b"s" | b"usemtl" | b"mtllib") | None => {}
        Some(word) if word.iter().all(|b| b.is_ascii_alphanumeric() || *b == b'_') => {
            rows.passed += 1;
        }
        Some(word) => {
            return Err(Error::malformed(format!(
                "expected a line of OBJ, found {}",
                quoted(word)
            )));
        }
    }
    Ok(())
}

/// "7", "7/1", "7//3" or "-1/..."; `above`: vertices of the share so far.
fn corner(word: &[u8], above: i64) -> Result<Corner, Error> {
    let first = word.split(|b| *b == b'/').next().unwrap_or_default();
    let n: Option<i64> = std::str::from_utf8(first).ok().and_then(|t| t.parse().ok());
    match n {
        Some(n) if n > 0 => Ok(Corner::Number(n as u64)),
        Some(n) if n < 0 => above
            .checked_add(n)
            .map(Corner::After)
            .ok_or_else(|| Error::malformed(format!("expected a vertex number, found \"{n}\""))),
        _ => Err(Error::malformed(format!(
            "expected a vertex number, found {}",
            quoted(word)
        ))),
    }
}
