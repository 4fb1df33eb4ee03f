//! PCD: a head of named fields, points as text, binary, or binary compressed.

use crate::Error;
use crate::read_lines::{after_line, line_end, lines, next_lines};
use crate::read_number::{number, quoted};
use crate::read_pcd_compressed::unpacked;
use crate::read_ply::{KEPT, Mesh, Role, kept_as};
use crate::read_ply_binary;
use crate::read_ply_header::{Element, Order, Property, Shape, Type};
use crate::read_scan::{Content, Note, without_mark};
use crate::read_source::Source;

/// Longest head, bytes.
const LONGEST_HEAD: usize = 1 << 16;
/// Most values of one field of a point (a list of features).
const MOST_VALUES: u64 = 4096;

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Data {
    Text,
    Binary,
    Compressed,
}

/// A field: its name, type, how many values it has.
#[derive(Clone, Debug)]
struct Field {
    name: String,
    kind: Type,
    values: u64,
}

impl Field {
    /// A colour of three bytes in one word.
    fn packed_colour(&self) -> bool {
        matches!(self.name.as_str(), "rgb" | "rgba")
            && self.values == 1
            && matches!(self.kind, Type::F32 | Type::U32 | Type::I32)
    }
}

#[derive(Debug)]
struct Head {
    fields: Vec<Field>,
    points: u64,
    data: Data,
    /// The pose of the scanner, unless it is that of the axes themselves.
    viewpoint: Option<String>,
    lines: u64,
    bytes: usize,
}

/// Whether a file begins as a PCD does.
pub(crate) fn begins(start: &[u8]) -> bool {
    let mut rows = start[..start.len().min(4096)]
        .split(|b| *b == b'\n')
        .map(<[u8]>::trim_ascii)
        .filter(|l| !l.is_empty());
    let Some(first) = rows.next() else {
        return false;
    };
    let says = |row: &[u8], word: &[u8]| {
        row.strip_prefix(word)
            .is_some_and(|r| r.first().is_none_or(u8::is_ascii_whitespace))
    };
    if first.starts_with(b"#") {
        return rows
            .find(|l| !l.starts_with(b"#"))
            .is_some_and(|l| says(l, b"VERSION"));
    }
    says(first, b"VERSION") || says(first, b"FIELDS")
}

/// Reads a PCD. Points that are not a number came back from nowhere and are left out. The pose of the scanner that the
/// head may give is told, not applied: points are in the axes of the file already.
pub(crate) fn read(source: &mut Source) -> Result<Content, Error> {
    let mark = source.window().len() - without_mark(source.window()).len();
    source.consume(mark);
    let end = line_end(&source.window()[..source.window().len().min(4096)]);
    let head = header(source, end)?;
    source.consume(head.bytes);
    let mut mesh = Mesh::growing();
    mesh.may_lack_places();
    let format = match head.data {
        Data::Text => {
            text(source, &head, end, &mut mesh)?;
            "text PCD"
        }
        Data::Binary => {
            let element = element(&head);
            mesh.as_given(&element);
            read_ply_binary::element(source, Order::Little, &element, Role::Vertex, &mut mesh)?;
            "binary PCD"
        }
        Data::Compressed => {
            compressed(source, &head, &mut mesh)?;
            "binary PCD, compressed"
        }
    };
    let mut content = mesh.finish(format)?;
    content.notes.extend(head.viewpoint.map(|v| {
        Note::plain(format!(
            "the file names {v} as the place of the scanner; the points are taken as they stand"
        ))
    }));
    Ok(content)
}

fn header(source: &mut Source, end: u8) -> Result<Head, Error> {
    let mut head = Head {
        fields: Vec::new(),
        points: 0,
        data: Data::Text,
        viewpoint: None,
        lines: 0,
        bytes: 0,
    };
    let (mut sizes, mut kinds, mut counts) = (Vec::new(), Vec::new(), Vec::new());
    let mut names: Vec<String> = Vec::new();
    // Where what the fields are stands, for what is wrong with them.
    let mut fields_at = 0;
    let (mut width, mut height, mut points) = (None, None, None);
    loop {
        while !source.window()[head.bytes..].contains(&end) && source.window().len() < LONGEST_HEAD
        {
            if !source.more()? {
                break;
            }
        }
        let window = source.window();
        if head.bytes >= window.len() || head.bytes > LONGEST_HEAD {
            let says = "the head ends before its line \"DATA\"";
            return Err(Error::truncated(says).at_line(head.lines));
        }
        let stop = after_line(window, head.bytes, end);
        let row = window[head.bytes..stop].trim_ascii();
        head.bytes = stop;
        head.lines += 1;
        let line = head.lines;
        let mut words = row.split(u8::is_ascii_whitespace).filter(|w| !w.is_empty());
        let Some(word) = words.next() else { continue };
        let rest: Vec<&[u8]> = words.collect();
        let text = |w: &&[u8]| String::from_utf8_lossy(w).into_owned();
        let whole = |w: &&[u8]| {
            let found = std::str::from_utf8(w)
                .ok()
                .and_then(|t| t.parse::<u64>().ok());
            found.ok_or_else(|| {
                Error::malformed(format!("expected a whole number, found {}", quoted(w)))
                    .at_line(line)
            })
        };
        match word {
            b"FIELDS" | b"COLUMNS" => {
                names = rest.iter().map(text).collect();
                fields_at = line;
            }
            b"SIZE" => sizes = rest.iter().map(whole).collect::<Result<_, _>>()?,
            b"TYPE" => kinds = rest.iter().map(text).collect(),
            b"COUNT" => counts = rest.iter().map(whole).collect::<Result<_, _>>()?,
            b"WIDTH" => width = rest.first().map(whole).transpose()?,
            b"HEIGHT" => height = rest.first().map(whole).transpose()?,
            b"POINTS" => points = rest.first().map(whole).transpose()?,
            b"VIEWPOINT" => {
                let given = rest.iter().map(text).collect::<Vec<_>>().join(" ");
                let numbers: Vec<f64> = rest.iter().filter_map(|w| number(w, false)).collect();
                let plain = numbers == [0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0];
                head.viewpoint = (!plain && !given.is_empty()).then_some(given);
            }
            b"DATA" => {
                head.data = match rest.first() {
                    Some(w) if w.eq_ignore_ascii_case(b"ascii") => Data::Text,
                    Some(w) if w.eq_ignore_ascii_case(b"binary") => Data::Binary,
                    Some(w) if w.eq_ignore_ascii_case(b"binary_compressed") => Data::Compressed,
                    other => {
                        let found = quoted(other.copied().unwrap_or_default());
                        return Err(Error::malformed(format!(
                            "expected \"ascii\", \"binary\" or \"binary_compressed\", found {found}"
                        ))
                        .at_line(line));
                    }
                };
                break;
            }
            _ => {}
        }
    }
    let line = head.lines;
    if fields_at == 0 {
        let says = "expected a line \"FIELDS x y z\" in the head, found none";
        return Err(Error::malformed(says).at_line(line));
    }
    head.fields = fields(names, &sizes, &kinds, &counts).map_err(|e| e.at_line(fields_at))?;
    let grid = width.and_then(|w: u64| w.checked_mul(height.unwrap_or(1)));
    head.points = match (points, grid) {
        (Some(p), Some(g)) if p != g => {
            let says = format!("the head promises {p} points and a width and height of {g} points");
            return Err(Error::malformed(says).at_line(line));
        }
        (Some(n), _) | (None, Some(n)) => n,
        (None, None) => {
            return Err(
                Error::malformed("expected \"POINTS\" in the head, found none").at_line(line),
            );
        }
    };
    if head.points == 0 {
        return Err(Error::empty("the head promises 0 points").at_line(line));
    }
    Ok(head)
}

fn fields(
    names: Vec<String>,
    sizes: &[u64],
    kinds: &[String],
    counts: &[u64],
) -> Result<Vec<Field>, Error> {
    let n = names.len();
    if sizes.len() != n || kinds.len() != n || !(counts.is_empty() || counts.len() == n) {
        return Err(Error::malformed(format!(
            "expected as many sizes, types and counts as fields ({n}), found {}, {} and {}",
            sizes.len(),
            kinds.len(),
            counts.len()
        )));
    }
    let all: Vec<Field> = names
        .into_iter()
        .enumerate()
        .map(|(k, name)| {
            let kind = match (kinds[k].as_str(), sizes[k]) {
                ("F", 4) => Type::F32,
                ("F", 8) => Type::F64,
                ("I", 1) => Type::I8,
                ("I", 2) => Type::I16,
                ("I", 4) => Type::I32,
                ("U", 1) => Type::U8,
                ("U", 2) => Type::U16,
                ("U", 4) => Type::U32,
                (t, s) => {
                    return Err(Error::malformed(format!(
                        "expected a type F, I or U of 1, 2, 4 or 8 bytes for \"{name}\", found \"{t}\" of {s}"
                    )));
                }
            };
            let values = counts.get(k).copied().unwrap_or(1);
            if !(1..=MOST_VALUES).contains(&values) {
                return Err(Error::malformed(format!(
                    "expected 1 to {MOST_VALUES} values for \"{name}\", found {values}"
                )));
            }
            Ok(Field { name, kind, values })
        })
        .collect::<Result<_, _>>()?;
    for wanted in ["x", "y", "z"] {
        if !all.iter().any(|f| f.name == wanted && f.values == 1) {
            return Err(Error::malformed(format!(
                "expected a field \"{wanted}\", found none"
            )));
        }
    }
    Ok(all)
}

/// The fields as properties of one size; a packed colour as its bytes, blue first.
fn element(head: &Head) -> Element {
    let mut properties = Vec::new();
    let mut add = |name: &str, kind| {
        properties.push(Property {
            name: name.to_owned(),
            shape: Shape::One(kind),
        });
    };
    for f in &head.fields {
        if f.packed_colour() {
            for name in ["blue", "green", "red", "alpha"] {
                add(name, Type::U8);
            }
        } else if f.values == 1 {
            add(&f.name, f.kind);
        } else {
            for _ in 0..f.values {
                add("passed over", f.kind);
            }
        }
    }
    Element {
        name: "point".to_owned(),
        count: head.points,
        properties,
    }
}

fn text(source: &mut Source, head: &Head, end: u8, mesh: &mut Mesh) -> Result<(), Error> {
    let (mut line, mut taken) = (head.lines, 0);
    while taken < head.points {
        let take = next_lines(source, end)?;
        if take == 0 {
            let says = format!("the file ends after {taken} of {} points", head.points);
            return Err(Error::truncated(says).at_line(line + 1));
        }
        for row in lines(&source.window()[..take], end) {
            line += 1;
            if row.is_empty() || taken == head.points {
                continue;
            }
            let (v, coloured) = point(row, head).map_err(|e| e.at_line(line))?;
            mesh.vertex_with(&v, coloured)
                .map_err(|e| e.at_line(line))?;
            taken += 1;
        }
        source.consume(take);
    }
    Ok(())
}

fn point(row: &[u8], head: &Head) -> Result<([f64; KEPT], bool), Error> {
    let mut words = row.split(u8::is_ascii_whitespace).filter(|w| !w.is_empty());
    let mut v = [0.0; KEPT];
    let mut coloured = false;
    for f in &head.fields {
        for _ in 0..f.values {
            let word = words.next().ok_or_else(|| {
                Error::malformed(format!(
                    "expected a number for \"{}\", the line ends",
                    f.name
                ))
            })?;
            let value = number(word, false).ok_or_else(|| {
                Error::malformed(format!(
                    "expected a number for \"{}\", found {}",
                    f.name,
                    quoted(word)
                ))
            })?;
            if f.packed_colour() {
                let bits = if f.kind == Type::F32 {
                    (value as f32).to_bits()
                } else {
                    value as i64 as u32
                };
                let [b, g, r, _] = bits.to_le_bytes();
                v[3..6].copy_from_slice(&[r, g, b].map(f64::from));
                coloured = true;
            } else if let Some(which) = kept_as(&f.name).filter(|_| f.values == 1) {
                v[which] = value;
                coloured |= which == 3;
            }
        }
    }
    Ok((v, coloured))
}

/// One packed piece: all values of the first field, then of the second, and so on.
fn compressed(source: &mut Source, head: &Head, mesh: &mut Mesh) -> Result<(), Error> {
    let here = source.offset();
    let fail = |e: Error| e.at_byte(here);
    if !source.at_least(8)? {
        return Err(fail(Error::truncated("the file ends before its points")));
    }
    let word = |at: usize| {
        let mut raw = [0; 4];
        raw.copy_from_slice(&source.window()[at..at + 4]);
        u64::from(u32::from_le_bytes(raw))
    };
    let (packed, plain) = (word(0), word(4));
    let each: u64 = head
        .fields
        .iter()
        .map(|f| f.kind.size() as u64 * f.values)
        .sum();
    if head.points.checked_mul(each) != Some(plain) {
        return Err(fail(Error::malformed(format!(
            "expected {} points of {each} bytes, the packed piece says {plain} bytes in all",
            head.points
        ))));
    }
    if packed + 8 > source.left() {
        return Err(fail(Error::truncated(format!(
            "a packed piece of {packed} bytes is promised, the file has {} bytes left",
            source.left().saturating_sub(8)
        ))));
    }
    source.at_least(8 + packed as usize)?;
    let bytes =
        unpacked(&source.window()[8..8 + packed as usize], plain as usize).map_err(|at| {
            fail(Error::malformed(format!(
                "the packed piece is damaged at its byte {at}"
            )))
        })?;
    source.consume(8 + packed as usize);
    let element = element(head);
    mesh.as_given(&element);
    let n = head.points as usize;
    // Where each kept value begins, how far apart two points' values are, and its type.
    let mut kept: Vec<(usize, usize, usize, Type)> = Vec::new();
    let mut at = 0;
    for f in &head.fields {
        let size = f.kind.size() * f.values as usize;
        if f.packed_colour() {
            for (k, which) in [(0, 5), (1, 4), (2, 3)] {
                kept.push((which, at + k, size, Type::U8));
            }
        } else if let Some(which) = kept_as(&f.name).filter(|_| f.values == 1) {
            kept.push((which, at, size, f.kind));
        }
        at += size * n;
    }
    for i in 0..n {
        let mut v = [0.0; KEPT];
        for &(which, from, step, kind) in &kept {
            v[which] = kind.value(&bytes[from + i * step..], Order::Little);
        }
        mesh.vertex(&v)
            .map_err(|e| e.at_record("point", i as u64 + 1))?;
    }
    Ok(())
}
