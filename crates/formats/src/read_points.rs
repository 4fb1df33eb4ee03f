//! Tables of points as text: XYZ, ASC, TXT, CSV, PTS.

#![allow(
    clippy::inline_always,
    reason = "two rows are read in turns, which helps only where both are inlined"
)]

use geom::RawPoints;

use crate::Error;
use crate::points_layout::{Column, Layout, Split, is_comment, layout};
use crate::read_decimal::decimal;
use crate::read_lines::{Share, after_line, line_end, next_lines, share};
use crate::read_number::{number, quoted};
use crate::read_ply::unit;
use crate::read_scan::{Content, LARGEST, Note, without_mark};
use crate::read_source::Source;

/// Reads a table of points.
pub(crate) fn read(source: &mut Source) -> Result<Content, Error> {
    let mark = source.window().len() - without_mark(source.window()).len();
    source.consume(mark);
    let end = line_end(source.window());
    let mut take = next_lines(source, end)?;
    let layout = layout(&source.window()[..take], end)?;
    let mut table = Table::default();
    let mut line = layout.head_lines;
    source.consume(layout.head_bytes);
    take -= layout.head_bytes;
    loop {
        let text = &source.window()[..take];
        let shares = share(
            text,
            |t, at| after_line(t, at, end),
            |part| rows(part, end, &layout),
        );
        if table.points.is_empty() {
            let rows: usize = shares.iter().map(|s| s.rows.points.len()).sum();
            table.reserve(
                (source.left() as f64 / take.max(1) as f64 * rows as f64 * 1.02) as usize,
                &layout,
            );
        }
        for part in shares {
            if let Some(error) = part.error {
                return Err(error.further_down(line));
            }
            table.append(part.rows);
            line += part.lines;
        }
        if table.points.len() >= u32::MAX as usize {
            return Err(Error::too_large("more than 4294967294 points"));
        }
        source.consume(take);
        take = next_lines(source, end)?;
        if take == 0 {
            return table.finish(layout);
        }
    }
}

/// Columns as they come.
#[derive(Default)]
struct Table {
    points: Vec<[f64; 3]>,
    colours: Vec<[u8; 3]>,
    normals: Vec<[f32; 3]>,
    names: Vec<String>,
    dropped: u64,
}

impl Table {
    fn reserve(&mut self, points: usize, layout: &Layout) {
        self.points = geom::room_for(points);
        if layout.has(Column::Red) {
            self.colours.reserve_exact(points);
        }
        if layout.has(Column::NormalX) {
            self.normals.reserve_exact(points);
        }
        if layout.has(Column::Name) {
            self.names.reserve_exact(points);
        }
    }

    fn append(&mut self, mut rows: Self) {
        append(&mut self.points, &mut rows.points);
        append(&mut self.colours, &mut rows.colours);
        append(&mut self.normals, &mut rows.normals);
        append(&mut self.names, &mut rows.names);
        self.dropped += rows.dropped;
    }

    fn finish(self, layout: Layout) -> Result<Content, Error> {
        if self.points.is_empty() {
            let says = format!(
                "expected points, found none ({} rows without coordinates)",
                self.dropped
            );
            return Err(Error::empty(says).at_line(layout.head_lines + 1));
        }
        let mut notes: Vec<Note> = layout.notes.into_iter().map(Note::plain).collect();
        let nothing =
            "rows without three coordinates (blank or not a number: not measured) were left out";
        notes.extend(Note::counted(self.dropped, nothing, ""));
        Ok(Content {
            format: "table of points",
            points: RawPoints::F64(self.points),
            triangles: Vec::new(),
            colours: self.colours,
            normals: self.normals,
            names: self.names,
            unit: layout.unit,
            notes,
        })
    }
}

/// Appends; grows by a quarter instead of doubling.
fn append<T>(to: &mut Vec<T>, from: &mut Vec<T>) {
    if to.capacity() - to.len() < from.len() {
        to.reserve_exact(from.len() + to.len() / 4);
    }
    to.append(from);
}

fn rows(text: &[u8], end: u8, layout: &Layout) -> Share<Table> {
    let plain = Plain::of(layout, end);
    let mut table = Table::default();
    let Some(plain) = plain else {
        return more_rows(table, 0, text, end, layout, None);
    };
    // Two halves are read in turns: a number waits for the end of the one before it, but not for the other half's.
    let half = after_line(text, text.len() / 2, end);
    let (first, second) = text.split_at(half);
    let mut later = Table::default();
    let used = plain.take_both([first, second], [&mut table.points, &mut later.points]);
    let lines = [&table, &later].map(|t| t.points.len() as u64);
    let rest = &first[used[0]..];
    let mut share = more_rows(table, lines[0], rest, end, layout, Some(plain));
    if share.error.is_none() {
        let rest = &second[used[1]..];
        let later = more_rows(later, lines[1], rest, end, layout, Some(plain));
        share.error = later.error.map(|e| e.further_down(share.lines));
        share.lines += later.lines;
        share.rows.append(later.rows);
    }
    share
}

/// Adds the rows of `text` to a table of rows from `count` lines before it.
fn more_rows(
    mut table: Table,
    mut count: u64,
    text: &[u8],
    end: u8,
    layout: &Layout,
    plain: Option<Plain>,
) -> Share<Table> {
    let [colours, normals, names] =
        [Column::Red, Column::NormalX, Column::Name].map(|c| layout.has(c));
    let mut rest = text;
    while !rest.is_empty() {
        if let Some(plain) = plain {
            let before = table.points.len();
            rest = &rest[plain.take(rest, &mut table.points)..];
            count += (table.points.len() - before) as u64;
            if rest.is_empty() {
                break;
            }
        }
        count += 1;
        let stop = rest.iter().position(|&b| b == end).unwrap_or(rest.len());
        let line = rest[..stop].trim_ascii();
        rest = rest.get(stop + 1..).unwrap_or_default();
        if line.is_empty() || is_comment(line) {
            continue;
        }
        match row(line, layout) {
            Ok(Some(row)) => {
                table.points.push(row.at);
                if colours {
                    table
                        .colours
                        .push(row.rest[0].map(|c| (c * layout.colour_scale).round() as u8));
                }
                if normals {
                    table.normals.push(unit(row.rest[1]));
                }
                if names {
                    table
                        .names
                        .push(String::from_utf8_lossy(row.name).into_owned());
                }
            }
            Ok(None) => table.dropped += 1,
            Err(error) => {
                return Share {
                    rows: table,
                    lines: count,
                    error: Some(error.at_line(count)),
                };
            }
        }
    }
    Share {
        rows: table,
        lines: count,
        error: None,
    }
}

/// See [`Plain::take_both`].
struct InTurns<'a> {
    plain: Plain,
    text: [&'a [u8]; 2],
    points: [&'a mut Vec<[f64; 3]>; 2],
}

impl pulp::NullaryFnOnce for InTurns<'_> {
    type Output = [usize; 2];

    #[inline(always)]
    fn call(self) -> [usize; 2] {
        let [a, b] = self.points;
        let [first, second] = self.text;
        let mut used = [0; 2];
        while let (Some(p), Some(q)) = (
            self.plain.row(&first[used[0]..]),
            self.plain.row(&second[used[1]..]),
        ) {
            a.push(p.0);
            b.push(q.0);
            used = [used[0] + p.1, used[1] + q.1];
        }
        used
    }
}

/// Rows of three coordinates and nothing else, as most tables are.
#[derive(Clone, Copy)]
struct Plain {
    between: [u8; 2],
    end: u8,
}

impl Plain {
    fn of(layout: &Layout, end: u8) -> Option<Self> {
        let between = match layout.split {
            Split::Spaces => *b" \t",
            Split::Marks(mark) => [mark; 2],
        };
        (layout.columns == [Column::X, Column::Y, Column::Z] && !layout.comma)
            .then_some(Self { between, end })
    }

    /// Takes whole rows from the start of `text` up to the first that is not quite plain; the bytes used.
    fn take(self, text: &[u8], points: &mut Vec<[f64; 3]>) -> usize {
        let mut used = 0;
        while let Some((point, bytes)) = self.row(&text[used..]) {
            points.push(point);
            used += bytes;
        }
        used
    }

    /// The same for two texts in turns, until one of them has none left.
    fn take_both(self, text: [&[u8]; 2], points: [&mut Vec<[f64; 3]>; 2]) -> [usize; 2] {
        let [a, b] = points;
        a.reserve(text[0].len() / 20 + 1);
        b.reserve(text[1].len() / 20 + 1);
        pulp::Arch::new().dispatch(InTurns {
            plain: self,
            text,
            points: [a, b],
        })
    }

    /// Three numbers with one mark between them, and the end of the line.
    #[inline(always)]
    fn row(self, text: &[u8]) -> Option<([f64; 3], usize)> {
        let parts = |b: u8| b == self.between[0] || b == self.between[1];
        let (x, mut at) = decimal(text)?;
        let (y, used) = decimal(text.get(at + 1..).filter(|_| parts(text[at]))?)?;
        let second = at + 1;
        at = second + used;
        let (z, used) = decimal(text.get(at + 1..).filter(|_| parts(text[at]))?)?;
        at += 1 + used;
        if text[at] == b'\r' && self.end == b'\n' {
            at += 1;
        }
        let point = [x, y, z];
        (*text.get(at)? == self.end && point.iter().all(|v| v.abs() <= LARGEST))
            .then_some((point, at + 1))
    }
}

struct Row<'t> {
    name: &'t [u8],
    at: [f64; 3],
    /// Colour, normal.
    rest: [[f64; 3]; 2],
}

/// One row; `None` if its coordinates are blank or not a number.
#[inline]
fn row<'t>(line: &'t [u8], layout: &Layout) -> Result<Option<Row<'t>>, Error> {
    let mut row = Row {
        name: b"",
        at: [0.0; 3],
        rest: [[0.0; 3]; 2],
    };
    let mut blank = false;
    let mut fields = layout.split.fields(line);
    for (i, &column) in layout.columns.iter().enumerate() {
        let Some(field) = fields.next() else {
            let says = format!("expected {} columns, found {i}", layout.columns.len());
            return Err(Error::malformed(says).hinting("complete the row or take it out"));
        };
        if column == Column::Pass {
            continue;
        }
        if column == Column::Name {
            row.name = field;
            continue;
        }
        let (group, axis) = column.place();
        let value = number(field, layout.comma);
        let value = match value {
            Some(value) => value,
            None if field.is_empty() => f64::NAN,
            None => {
                let says = format!(
                    "expected a number in column {}, found {}",
                    i + 1,
                    quoted(field)
                );
                return Err(Error::malformed(says).hinting(
                    "correct the row or take it out; a line that starts with # is passed over",
                ));
            }
        };
        if group == 0 {
            if value.abs() > LARGEST && value.is_finite() {
                return Err(Error::malformed(format!(
                    "expected a coordinate of at most {LARGEST:e} in column {}, found {}",
                    i + 1,
                    quoted(field)
                )));
            }
            blank |= !value.is_finite();
            row.at[axis] = value;
        } else {
            row.rest[group - 1][axis] = value;
        }
    }
    if layout.split == Split::Marks(b',') && layout.whole_row && fields.next().is_some() {
        let says = format!("expected {} columns, found more", layout.columns.len());
        return Err(Error::malformed(says).hinting(
            "if the comma is the decimal mark too, export with semicolons or with decimal dots",
        ));
    }
    Ok(if blank { None } else { Some(row) })
}
