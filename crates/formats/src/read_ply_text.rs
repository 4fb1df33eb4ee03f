//! Text records of a PLY: one per line.

use crate::Error;
use crate::read_lines::{Share, after_line, lines, next_lines, share};
use crate::read_number::{number, quoted};
use crate::read_ply::{KEPT, Mesh, Role, kept_as, list_of_corners};
use crate::read_ply_header::{Element, Header, Shape};
use crate::read_source::Source;

/// Reads all records of an element; `line` is the number of the last line read.
pub(crate) fn element(
    source: &mut Source,
    header: &Header,
    element: &Element,
    role: Role,
    mesh: &mut Mesh,
    line: &mut u64,
) -> Result<(), Error> {
    let mut left = element.count;
    while left > 0 {
        let whole = next_lines(source, header.end)?;
        if whole == 0 {
            let says = format!(
                "the file ends after {} of {} records of \"{}\"",
                element.count - left,
                element.count,
                element.name
            );
            return Err(Error::truncated(says).at_line(*line + 1));
        }
        let (take, records) = records_in(&source.window()[..whole], header.end, left);
        let text = &source.window()[..take];
        if role == Role::Pass {
            *line += lines(text, header.end).count() as u64;
        } else {
            let work = |part: &[u8]| rows(part, header.end, element, role);
            for part in share(text, |t, at| after_line(t, at, header.end), work) {
                take_rows(mesh, role, &part.rows).map_err(|(rel, e)| e.at_line(*line + rel))?;
                if let Some(error) = part.error {
                    return Err(error.further_down(*line));
                }
                *line += part.lines;
            }
        }
        source.consume(take);
        left -= records;
    }
    Ok(())
}

/// How many bytes hold up to `most` lines that are not blank, and how many those are.
fn records_in(text: &[u8], end: u8, most: u64) -> (usize, u64) {
    let (mut at, mut records) = (0, 0);
    while at < text.len() && records < most {
        let next = after_line(text, at, end);
        records += u64::from(!text[at..next].trim_ascii().is_empty());
        at = next;
    }
    (at, records)
}

/// Values of one share: vertices with their line, or corners of faces with line and length.
#[derive(Default)]
struct Rows {
    vertices: Vec<(u64, [f64; KEPT])>,
    faces: Vec<(u64, u32)>,
    corners: Vec<f64>,
}

fn rows(text: &[u8], end: u8, element: &Element, role: Role) -> Share<Rows> {
    let mut rows = Rows::default();
    let corners_at = list_of_corners(element);
    let mut count = 0;
    for line in lines(text, end) {
        count += 1;
        if line.is_empty() {
            continue;
        }
        if let Err(error) = row(line, count, element, role, corners_at, &mut rows) {
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

fn row(
    line: &[u8],
    at: u64,
    element: &Element,
    role: Role,
    corners_at: Option<usize>,
    rows: &mut Rows,
) -> Result<(), Error> {
    let mut words = line
        .split(u8::is_ascii_whitespace)
        .filter(|w| !w.is_empty());
    let mut next = |name: &str| {
        let word = words.next().ok_or_else(|| {
            Error::malformed(format!("expected a number for \"{name}\", the line ends"))
        })?;
        number(word, true).ok_or_else(|| {
            Error::malformed(format!(
                "expected a number for \"{name}\", found {}",
                quoted(word)
            ))
        })
    };
    let mut v = [0.0; KEPT];
    let mut seen = [false; KEPT];
    for (i, p) in element.properties.iter().enumerate() {
        match p.shape {
            Shape::One(_) => {
                let value = next(&p.name)?;
                if let Some(which) = kept_as(&p.name)
                    && !std::mem::replace(&mut seen[which], true)
                {
                    v[which] = value;
                }
            }
            Shape::List { .. } => {
                let n = next(&p.name)?;
                if !(n >= 0.0 && n <= line.len() as f64 && n.fract() == 0.0) {
                    return Err(Error::malformed(format!(
                        "expected the length of the list \"{}\", found \"{n}\"",
                        p.name
                    )));
                }
                let keep = corners_at == Some(i) && role != Role::Vertex;
                if keep {
                    rows.faces.push((at, n as u32));
                }
                for _ in 0..n as u32 {
                    let value = next(&p.name)?;
                    if keep {
                        rows.corners.push(value);
                    }
                }
            }
        }
    }
    if role == Role::Vertex {
        rows.vertices.push((at, v));
    }
    Ok(())
}

/// Hands the values over; an error comes with its line within the share.
fn take_rows(mesh: &mut Mesh, role: Role, rows: &Rows) -> Result<(), (u64, Error)> {
    for (line, v) in &rows.vertices {
        mesh.vertex(v).map_err(|e| (*line, e))?;
    }
    let mut rest = &rows.corners[..];
    let mut corners = Vec::new();
    for &(line, n) in &rows.faces {
        // The last face of a share with an error may be cut short; the error is reported after the rows.
        let Some((these, after)) = rest.split_at_checked(n as usize) else {
            break;
        };
        rest = after;
        corners.clear();
        for &value in these {
            let corner = mesh.corner(value, role).map_err(|e| (line, e))?;
            mesh.corner_of_list(corner, &mut corners);
        }
        if role == Role::Face {
            mesh.face(&corners);
        } else {
            mesh.strip(&corners);
        }
    }
    Ok(())
}
