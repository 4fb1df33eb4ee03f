//! Text STL: solids of facets, one keyword per line.

#![allow(
    clippy::inline_always,
    reason = "instruction sets are chosen at run time for what is inlined there"
)]

use crate::Error;
use crate::read_decimal::decimal_single;
use crate::read_lines::{Share, after_line, line_end, next_lines, share};
use crate::read_number::{number, quoted};
use crate::read_scan::{Content, LARGEST, Note, without_mark};
use crate::read_source::Source;
use crate::read_stl_binary::{Facets, Soup};

/// Text without the end of a facet is not drawn into memory beyond this, bytes.
const LONGEST_FACET: usize = 4 << 20;

/// Reads a text STL; several solids become one mesh.
pub(crate) fn read(source: &mut Source, how: Facets) -> Result<Content, Error> {
    let mark = source.window().len() - without_mark(source.window()).len();
    source.consume(mark);
    let end = line_end(source.window());
    let mut soup: Option<Soup> = None;
    let (mut line, mut solids, mut ended) = (0, 0, 0);
    loop {
        let take = next_lines(source, end)?;
        if take == 0 {
            break;
        }
        let whole = if source.is_last() {
            take
        } else {
            last_facet(&source.window()[..take], end)
        };
        if whole == 0 && take < LONGEST_FACET {
            source.more()?;
            continue;
        }
        let whole = if whole == 0 { take } else { whole };
        let shares = share(
            &source.window()[..whole],
            |t, at| after_facet(t, at, end),
            |text| facets(text, end, how == Facets::Joined),
        );
        // A wrong last line without a line end is a file that was cut off.
        let cut = source.is_last() && source.window().last() != Some(&end);
        let last = line + shares.iter().map(|s| s.lines).sum::<u64>();
        let found: usize = shares.iter().map(|s| s.rows.facets.len()).sum();
        let room = (source.size() as f64 / whole as f64 * found as f64 * 1.02) as usize;
        let soup = soup.get_or_insert_with(|| Soup::with_room(how, room));
        for part in shares {
            let before = soup.seen();
            soup.add_lot(&part.rows.facets, part.rows.normals.into_iter())?;
            if let Some(error) = part.error {
                let error = if cut && error.line() == Some(part.lines) && line + part.lines == last
                {
                    Error::truncated("the file ends within a facet").at_line(part.lines)
                } else {
                    error
                };
                return Err(error
                    .further_down(line)
                    .at_record("facet", before + part.rows.facets.len() as u64 + 1));
            }
            line += part.lines;
            solids += part.rows.solids;
            ended += part.rows.ended;
        }
        source.consume(whole);
    }
    let mut content = soup
        .unwrap_or_else(|| Soup::with_room(how, 0))
        .finish("text STL")
        .map_err(|e| e.at_line(line))?;
    if solids > 1 {
        content.notes.push(Note::plain(format!(
            "{solids} solids were read as one mesh"
        )));
    }
    if ended < solids {
        content.notes.push(Note {
            severity: record::Severity::Doubt,
            says: "the file ends without \"endsolid\" and may have been cut off".to_owned(),
            advice: "look whether the scan is complete; if not, export it once more",
            count: None,
        });
    }
    Ok(content)
}

#[derive(Default)]
struct Rows {
    facets: Vec<[[f32; 3]; 3]>,
    normals: Vec<[f32; 3]>,
    solids: u64,
    ended: u64,
}

/// Whether a trimmed line is `endfacet`.
fn closes(line: &[u8]) -> bool {
    line.trim_ascii().eq_ignore_ascii_case(b"endfacet")
}

/// The place after the first whole facet that ends at or after `from`.
fn after_facet(text: &[u8], from: usize, end: u8) -> usize {
    let mut start = after_line(text, from, end);
    while start < text.len() {
        let next = after_line(text, start, end);
        if closes(
            text[start..next]
                .strip_suffix(&[end])
                .unwrap_or(&text[start..next]),
        ) {
            return next;
        }
        start = next;
    }
    text.len()
}

/// The place after the last whole facet; all of `text` if it holds none (solid lines, garbage) and no open one.
fn last_facet(text: &[u8], end: u8) -> usize {
    let mut stop = text.len();
    while stop > 0 {
        let start = text[..stop - 1]
            .iter()
            .rposition(|&b| b == end)
            .map_or(0, |i| i + 1);
        let line = &text[start..stop];
        if closes(line.strip_suffix(&[end]).unwrap_or(line)) {
            return stop;
        }
        stop = start;
    }
    0
}

fn facets(text: &[u8], end: u8, normals: bool) -> Share<Rows> {
    let mut rows = Rows::default();
    let mut open = Open::default();
    let mut count = 0;
    let mut rest = text;
    while !rest.is_empty() {
        if !open.within {
            let before = rows.facets.len();
            let used = pulp::Arch::new().dispatch(UsualFacets {
                text: rest,
                end,
                normals,
                rows: &mut rows,
            });
            rest = &rest[used..];
            count += 7 * (rows.facets.len() - before) as u64;
        }
        if rest.is_empty() {
            break;
        }
        count += 1;
        let stop = rest.iter().position(|&b| b == end).unwrap_or(rest.len());
        let line = rest[..stop].trim_ascii();
        rest = rest.get(stop + 1..).unwrap_or_default();
        if let Err(error) = open.take(line, &mut rows) {
            return Share {
                rows,
                lines: count,
                error: Some(error.at_line(count)),
            };
        }
    }
    let error = open
        .within
        .then(|| Error::truncated("the file ends within a facet").at_line(count));
    Share {
        rows,
        lines: count,
        error,
    }
}

/// Takes facets of seven lines from the start of a text up to the first that is unusual; the bytes used.
struct UsualFacets<'a> {
    text: &'a [u8],
    end: u8,
    normals: bool,
    rows: &'a mut Rows,
}

impl pulp::NullaryFnOnce for UsualFacets<'_> {
    type Output = usize;

    #[inline(always)]
    fn call(self) -> usize {
        let mut used = 0;
        while let Some((facet, bytes)) = usual_facet(&self.text[used..], self.end, self.normals) {
            self.rows.facets.push([facet[1], facet[2], facet[3]]);
            self.rows.normals.push(facet[0]);
            used += bytes;
        }
        used
    }
}

/// A facet of seven lines at the start of `text` as every program writes it: its normal (zero if `normals` is false), its
/// corners and the bytes it takes. `None` for anything unusual, which is then read line by line.
#[inline(always)]
fn usual_facet(text: &[u8], end: u8, normals: bool) -> Option<([[f32; 3]; 4], usize)> {
    let mut at = Cursor { text, at: 0, end };
    let mut facet = [[0.0; 3]; 4];
    at.word(b"facet normal")?;
    if normals {
        facet[0] = at.triple()?;
        at.line_end()?;
    } else {
        at.rest_of_line()?;
    }
    at.word(b"outer loop")?;
    at.line_end()?;
    for corner in &mut facet[1..] {
        at.word(b"vertex")?;
        *corner = at.triple()?;
        at.line_end()?;
        if !corner.iter().all(|c| c.abs() <= LARGEST as f32) {
            return None;
        }
    }
    at.word(b"endloop")?;
    at.line_end()?;
    at.word(b"endfacet")?;
    at.line_end()?;
    Some((facet, at.at))
}

/// Goes through the lines of a facet.
struct Cursor<'t> {
    text: &'t [u8],
    at: usize,
    end: u8,
}

impl Cursor<'_> {
    #[inline(always)]
    fn blanks(&mut self) {
        while let Some(b' ' | b'\t') = self.text.get(self.at) {
            self.at += 1;
        }
    }

    #[inline(always)]
    fn word(&mut self, word: &[u8]) -> Option<()> {
        self.blanks();
        let found = self.text.get(self.at..self.at + word.len())?;
        self.at += word.len();
        (found == word).then_some(())
    }

    #[inline(always)]
    fn triple(&mut self) -> Option<[f32; 3]> {
        let mut triple = [0.0; 3];
        for value in &mut triple {
            let before = self.at;
            self.blanks();
            if self.at == before {
                return None;
            }
            let used;
            (*value, used) = decimal_single(&self.text[self.at..])?;
            self.at += used;
        }
        Some(triple)
    }

    #[inline(always)]
    fn line_end(&mut self) -> Option<()> {
        self.blanks();
        if self.end == b'\n' && self.text.get(self.at) == Some(&b'\r') {
            self.at += 1;
        }
        let found = *self.text.get(self.at)?;
        self.at += 1;
        (found == self.end).then_some(())
    }

    #[inline(always)]
    fn rest_of_line(&mut self) -> Option<()> {
        let stop = self.text[self.at..].iter().position(|b| *b == self.end)?;
        self.at += stop + 1;
        Some(())
    }
}

/// The facet being read.
#[derive(Default)]
struct Open {
    within: bool,
    normal: [f32; 3],
    corners: [[f32; 3]; 3],
    count: usize,
}

impl Open {
    fn take(&mut self, line: &[u8], rows: &mut Rows) -> Result<(), Error> {
        let mut words = line
            .split(u8::is_ascii_whitespace)
            .filter(|w| !w.is_empty());
        let Some(first) = words.next() else {
            return Ok(());
        };
        if first.eq_ignore_ascii_case(b"vertex") {
            self.corner(words)
        } else if first.eq_ignore_ascii_case(b"facet") {
            if self.within {
                return Err(Error::malformed("expected \"endfacet\", found \"facet\""));
            }
            *self = Self {
                within: true,
                normal: triple(words.skip(1)).unwrap_or([0.0; 3]),
                ..Self::default()
            };
            Ok(())
        } else if first.eq_ignore_ascii_case(b"endfacet") {
            if self.count != 3 || !self.within {
                return Err(Error::malformed(format!(
                    "expected 3 corners in a facet, found {}",
                    self.count
                )));
            }
            rows.facets.push(self.corners);
            rows.normals.push(self.normal);
            self.within = false;
            Ok(())
        } else if first.eq_ignore_ascii_case(b"solid") {
            rows.solids += 1;
            Ok(())
        } else if first.eq_ignore_ascii_case(b"endsolid") {
            rows.ended += 1;
            Ok(())
        } else if first.eq_ignore_ascii_case(b"outer") || first.eq_ignore_ascii_case(b"endloop") {
            Ok(())
        } else {
            Err(Error::malformed(format!(
                "expected a line of an STL (facet, vertex, endfacet), found {}",
                quoted(first)
            )))
        }
    }

    fn corner<'t>(&mut self, words: impl Iterator<Item = &'t [u8]> + Clone) -> Result<(), Error> {
        let corner = triple(words.clone())
            .filter(|c| c.iter().all(|c| c.abs() <= LARGEST as f32))
            .ok_or_else(|| {
                let found: Vec<String> = words
                    .map(|w| String::from_utf8_lossy(w).into_owned())
                    .collect();
                Error::malformed(format!(
                    "expected three coordinates, found {}",
                    quoted(found.join(" ").as_bytes())
                ))
            })?;
        if self.count == 3 || !self.within {
            return Err(Error::malformed(
                "expected 3 corners in a facet, found one more",
            ));
        }
        self.corners[self.count] = corner;
        self.count += 1;
        Ok(())
    }
}

fn triple<'t>(mut words: impl Iterator<Item = &'t [u8]>) -> Option<[f32; 3]> {
    let mut next = || {
        words.next().and_then(|w| {
            fast_float2::parse(w)
                .ok()
                .or_else(|| number(w, true).map(|v| v as f32))
        })
    };
    Some([next()?, next()?, next()?])
}
