//! How a table of points is laid out: what stands between columns, which mark is the decimal one, what the columns are.

use record::LengthUnit;

use crate::Error;
use crate::read_lines::lines;
use crate::read_number::{number, quoted};
use crate::unit_words::{head_and_unit, stated};

/// Lines looked at.
const LOOKED_AT: usize = 200;
/// Lines before the first point that may be anything.
const HEAD_LINES: u64 = 50;

/// What a column is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Column {
    Name,
    X,
    Y,
    Z,
    Red,
    Green,
    Blue,
    NormalX,
    NormalY,
    NormalZ,
    Pass,
}

impl Column {
    /// Group (coordinates, colour, normal) and axis of a number; not for names and what is passed over.
    #[inline]
    pub fn place(self) -> (usize, usize) {
        let i = self as usize - Self::X as usize;
        (i / 3, i % 3)
    }

    fn of_head(head: &str) -> Self {
        let head: String = head.chars().filter(|c| c.is_alphanumeric()).collect();
        match head.as_str() {
            "name" | "id" | "point" | "pointid" | "pointname" | "label" | "nr" | "no"
            | "number" => Self::Name,
            "x" | "xcoord" | "xcoordinate" | "coordx" | "coordinatex" | "posx" | "positionx"
            | "pointx" => Self::X,
            "y" | "ycoord" | "ycoordinate" | "coordy" | "coordinatey" | "posy" | "positiony"
            | "pointy" => Self::Y,
            "z" | "zcoord" | "zcoordinate" | "coordz" | "coordinatez" | "posz" | "positionz"
            | "pointz" => Self::Z,
            "r" | "red" => Self::Red,
            "g" | "green" => Self::Green,
            "b" | "blue" => Self::Blue,
            "nx" | "normalx" | "xnormal" => Self::NormalX,
            "ny" | "normaly" | "ynormal" => Self::NormalY,
            "nz" | "normalz" | "znormal" => Self::NormalZ,
            _ => Self::Pass,
        }
    }
}

/// What stands between columns.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Split {
    /// Any run of spaces and tabs.
    Spaces,
    /// One mark; two in a row leave a column blank.
    Marks(u8),
}

impl Split {
    /// The columns of a line, without white space and quotes around them.
    #[inline]
    pub fn fields(self, line: &[u8]) -> Fields<'_> {
        Fields {
            rest: Some(line),
            split: self,
        }
    }
}

/// Goes through the columns of a line.
pub(crate) struct Fields<'t> {
    rest: Option<&'t [u8]>,
    split: Split,
}

impl<'t> Iterator for Fields<'t> {
    type Item = &'t [u8];

    #[inline]
    fn next(&mut self) -> Option<&'t [u8]> {
        let rest = self.rest?;
        match self.split {
            Split::Spaces => {
                let rest = rest.trim_ascii_start();
                if rest.is_empty() {
                    return None;
                }
                if rest[0] == b'"' {
                    return Some(self.quoted(rest));
                }
                let stop = rest
                    .iter()
                    .position(u8::is_ascii_whitespace)
                    .unwrap_or(rest.len());
                self.rest = Some(&rest[stop..]);
                Some(&rest[..stop])
            }
            Split::Marks(mark) => {
                let trimmed = rest.trim_ascii_start();
                if trimmed.first() == Some(&b'"') {
                    return Some(self.quoted(trimmed));
                }
                let stop = rest.iter().position(|&b| b == mark).unwrap_or(rest.len());
                self.rest = rest.get(stop + 1..);
                Some(rest[..stop].trim_ascii())
            }
        }
    }
}

impl<'t> Fields<'t> {
    /// A column in quotes; what follows up to the next mark is passed over.
    fn quoted(&mut self, rest: &'t [u8]) -> &'t [u8] {
        let inner = &rest[1..];
        let stop = inner.iter().position(|&b| b == b'"').unwrap_or(inner.len());
        let after = inner.get(stop + 1..).unwrap_or_default();
        self.rest = match self.split {
            Split::Spaces => Some(after),
            Split::Marks(mark) => after
                .iter()
                .position(|&b| b == mark)
                .map(|i| &after[i + 1..]),
        };
        inner[..stop].trim_ascii()
    }
}

/// The layout of a table.
#[derive(Clone, Debug)]
pub(crate) struct Layout {
    pub split: Split,
    /// Whether numbers have a decimal comma.
    pub comma: bool,
    /// What the columns are, up to the last one that is used.
    pub columns: Vec<Column>,
    /// Whether `columns` are all that a row has.
    pub whole_row: bool,
    pub colour_scale: f64,
    pub unit: Option<LengthUnit>,
    /// Bytes and lines before the first point.
    pub head_bytes: usize,
    pub head_lines: u64,
    pub notes: Vec<String>,
}

impl Layout {
    pub fn has(&self, column: Column) -> bool {
        self.columns.contains(&column)
    }
}

/// Whether a trimmed line is a remark.
#[inline]
pub(crate) fn is_comment(line: &[u8]) -> bool {
    matches!(line.first(), Some(b'#' | b'%' | b'!')) || line.starts_with(b"//")
}

/// Finds the layout from the first whole lines of a file.
pub(crate) fn layout(text: &[u8], end: u8) -> Result<Layout, Error> {
    let head = Head::find(text, end)?;
    let sample: Vec<&[u8]> = lines(&text[head.bytes..], end)
        .filter(|l| !l.is_empty() && !is_comment(l))
        .take(LOOKED_AT)
        .collect();
    let (split, comma) = marks(&sample).map_err(|e| e.at_line(head.lines + 1))?;
    let mut layout = Layout {
        split,
        comma,
        columns: Vec::new(),
        whole_row: false,
        colour_scale: 1.0,
        unit: head.unit,
        head_bytes: head.bytes,
        head_lines: head.lines,
        notes: head.notes,
    };
    let rows: Vec<Vec<&[u8]>> = sample.iter().map(|l| split.fields(l).collect()).collect();
    let width = rows[0].len();
    let from_heads = head
        .heads
        .iter()
        .rev()
        .find_map(|line| by_heads(line, split, width));
    if let Some((columns, unit)) = from_heads {
        layout.columns = columns;
        layout.unit = unit.or(layout.unit);
    } else {
        layout.columns = by_values(&rows, comma).map_err(|e| e.at_line(head.lines + 1))?;
    }
    layout.colour_scale = colour_scale(&rows, &layout);
    let passed = layout
        .columns
        .iter()
        .filter(|c| **c == Column::Pass)
        .count();
    if passed > 0 {
        layout
            .notes
            .push(format!("{passed} of {width} columns were passed over"));
    }
    layout.whole_row = layout.columns.len() == width;
    while layout.columns.last() == Some(&Column::Pass) {
        layout.columns.pop();
        layout.whole_row = false;
    }
    Ok(layout)
}

/// What stands before the first point.
struct Head<'t> {
    bytes: usize,
    lines: u64,
    /// Lines that may hold the heads of columns, in order.
    heads: Vec<&'t [u8]>,
    unit: Option<LengthUnit>,
    notes: Vec<String>,
}

impl<'t> Head<'t> {
    fn find(text: &'t [u8], end: u8) -> Result<Self, Error> {
        let mut head = Self {
            bytes: 0,
            lines: 0,
            heads: Vec::new(),
            unit: None,
            notes: Vec::new(),
        };
        let mut strange = 0;
        for raw in text.split(|&b| b == end) {
            let line = raw.trim_ascii();
            let note = is_comment(line);
            if !note && numbers_in(line) >= 3 {
                if strange > 1 {
                    head.notes.push(format!(
                        "{strange} lines before the first point were passed over"
                    ));
                }
                return Ok(head);
            }
            if note {
                head.unit = head.unit.or_else(|| stated(&String::from_utf8_lossy(line)));
                head.heads.push(line.trim_ascii_start().trim_prefix_marks());
            } else if !line.is_empty() {
                strange += 1;
                head.heads.push(line);
            }
            if strange > HEAD_LINES {
                break;
            }
            head.bytes = (head.bytes + raw.len() + 1).min(text.len());
            head.lines += 1;
        }
        let first = head.heads.first().copied().unwrap_or_default();
        let says = format!(
            "expected rows of three coordinates, the first line is {}",
            quoted(first)
        );
        let error = if head.heads.is_empty() {
            Error::empty("expected rows of three coordinates, found blank lines only")
        } else {
            Error::unknown_format(says)
        };
        Err(error
            .at_line(1)
            .hinting("export the scan as STL, PLY or XYZ: one point per line, x y z"))
    }
}

/// Takes the marks of a comment away.
trait TrimMarks {
    fn trim_prefix_marks(&self) -> &[u8];
}

impl TrimMarks for [u8] {
    fn trim_prefix_marks(&self) -> &[u8] {
        let start = self
            .iter()
            .position(|b| !matches!(b, b'#' | b'%' | b'!' | b'/' | b' ' | b'\t'))
            .unwrap_or(self.len());
        &self[start..]
    }
}

/// How many numbers a line holds, whatever stands between them.
fn numbers_in(line: &[u8]) -> usize {
    let count = |split: Split, comma: bool| {
        split
            .fields(line)
            .filter(|f| number(f, comma).is_some())
            .count()
    };
    let by_mark = [b';', b'\t', b','].into_iter().filter(|m| line.contains(m));
    by_mark
        .map(|m| count(Split::Marks(m), m != b','))
        .chain([count(Split::Spaces, true)])
        .max()
        .unwrap_or(0)
}

/// What stands between columns, and whether the comma is the decimal mark, from rows of points.
fn marks(sample: &[&[u8]]) -> Result<(Split, bool), Error> {
    let all = |mark: u8| sample.iter().all(|l| l.contains(&mark));
    let any = |mark: u8| sample.iter().any(|l| l.contains(&mark));
    let numeric = |split: Split, comma: bool| {
        sample.iter().all(|l| {
            split
                .fields(l)
                .filter(|f| number(f, comma).is_some())
                .count()
                >= 3
        })
    };
    for split in [Split::Marks(b';'), Split::Marks(b'\t')] {
        let Split::Marks(mark) = split else { continue };
        if all(mark) {
            return Ok((split, any(b',')));
        }
    }
    if !any(b',') {
        return Ok((Split::Spaces, false));
    }
    // "1,5 2,5 3,5" has a comma inside numbers; "1.5, 2.5" and "1, 2, 3" between them.
    if !any(b'.') && numeric(Split::Spaces, true) && !sample.iter().any(|l| comma_ends_word(l)) {
        return Ok((Split::Spaces, true));
    }
    let whole = |f: &[u8]| {
        !f.is_empty()
            && f.iter()
                .all(|b| b.is_ascii_digit() || matches!(b, b'-' | b'+'))
    };
    let doubtful = !any(b'.')
        && sample.iter().all(|l| {
            let fields: Vec<&[u8]> = Split::Marks(b',').fields(l).collect();
            fields.len() == 6 && fields.iter().all(|f| whole(f))
        });
    if doubtful {
        return Err(Error::malformed(
            "the comma seems to be both the decimal mark and the mark between columns",
        )
        .hinting("export with semicolons between columns or with decimal dots"));
    }
    Ok((Split::Marks(b','), false))
}

fn comma_ends_word(line: &[u8]) -> bool {
    line.windows(2)
        .any(|w| w[0] == b',' && w[1].is_ascii_whitespace())
        || line.last() == Some(&b',')
}

/// Columns by their heads, if they name x, y and z; and the unit that the heads state.
fn by_heads(line: &[u8], split: Split, width: usize) -> Option<(Vec<Column>, Option<LengthUnit>)> {
    let heads: Vec<(String, Option<LengthUnit>)> = split
        .fields(line)
        .map(|f| head_and_unit(&String::from_utf8_lossy(f)))
        .collect();
    if heads.len() != width {
        return None;
    }
    let mut columns: Vec<Column> = Vec::new();
    for (head, _) in &heads {
        let column = Column::of_head(head);
        columns.push(if columns.contains(&column) {
            Column::Pass
        } else {
            column
        });
    }
    let has = |three: [Column; 3]| three.iter().all(|c| columns.contains(c));
    if !has([Column::X, Column::Y, Column::Z]) {
        return None;
    }
    let unit = heads
        .iter()
        .zip(&columns)
        .find(|(_, c)| **c == Column::X)
        .and_then(|((_, unit), _)| *unit);
    for three in [
        [Column::Red, Column::Green, Column::Blue],
        [Column::NormalX, Column::NormalY, Column::NormalZ],
    ] {
        if !three.iter().all(|c| columns.contains(c)) {
            for column in columns.iter_mut().filter(|c| three.contains(c)) {
                *column = Column::Pass;
            }
        }
    }
    Some((columns, unit))
}

/// Columns by what stands in them.
fn by_values(rows: &[Vec<&[u8]>], comma: bool) -> Result<Vec<Column>, Error> {
    let width = rows[0].len();
    let value = |row: &Vec<&[u8]>, i: usize| row.get(i).and_then(|f| number(f, comma));
    let mut columns = Vec::new();
    let is_word = |row: &Vec<&[u8]>| {
        row.first()
            .is_some_and(|f| !f.is_empty() && number(f, comma).is_none())
    };
    if width > 3 && (rows.iter().any(is_word) || counts_up(rows, comma)) {
        columns.push(Column::Name);
    }
    columns.extend([Column::X, Column::Y, Column::Z]);
    if columns.len() > width {
        return Err(Error::malformed(format!(
            "expected three coordinates, found {width} columns"
        )));
    }
    let unit_length = |i: usize| {
        rows.iter().all(|r| {
            let squares: Option<f64> = (i..i + 3).map(|k| value(r, k).map(|v| v * v)).sum();
            squares.is_some_and(|s| (s.sqrt() - 1.0).abs() < 0.02)
        })
    };
    let colour = |i: usize| {
        let fits = |v: f64| (0.0..=255.0).contains(&v) && v.fract() == 0.0;
        rows.iter()
            .all(|r| (i..i + 3).all(|k| value(r, k).is_some_and(fits)))
    };
    let (mut normals, mut colours) = (false, false);
    while columns.len() < width {
        let i = columns.len();
        let left = width - i;
        if left >= 3 && !normals && unit_length(i) {
            columns.extend([Column::NormalX, Column::NormalY, Column::NormalZ]);
            normals = true;
        } else if left >= 3 && left.is_multiple_of(3) && !colours && colour(i) {
            columns.extend([Column::Red, Column::Green, Column::Blue]);
            colours = true;
        } else {
            columns.push(Column::Pass);
        }
    }
    Ok(columns)
}

/// Whether the first column is a running number: whole, up by one each row, in at least three rows.
fn counts_up(rows: &[Vec<&[u8]>], comma: bool) -> bool {
    let firsts: Option<Vec<f64>> = rows
        .iter()
        .map(|r| r.first().and_then(|f| number(f, comma)))
        .collect();
    let whole = rows
        .iter()
        .all(|r| r.first().is_some_and(|f| f.iter().all(u8::is_ascii_digit)));
    firsts.is_some_and(|f| whole && f.len() >= 3 && f.windows(2).all(|w| w[1] == w[0] + 1.0))
}

/// Fractions up to one are stretched to 255.
fn colour_scale(rows: &[Vec<&[u8]>], layout: &Layout) -> f64 {
    let Some(red) = layout.columns.iter().position(|c| *c == Column::Red) else {
        return 1.0;
    };
    let values: Vec<f64> = rows
        .iter()
        .flat_map(|r| (red..red + 3).filter_map(|k| r.get(k).and_then(|f| number(f, layout.comma))))
        .collect();
    let fractions =
        values.iter().all(|v| (0.0..=1.0).contains(v)) && values.iter().any(|v| v.fract() != 0.0);
    if fractions { 255.0 } else { 1.0 }
}

#[cfg(test)]
mod tests;
