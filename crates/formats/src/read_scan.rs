//! Reads a scan: finds out what the file is, and reads it.

use std::path::Path;

use geom::RawPoints;
use record::{Code, Finding, LengthUnit, Number, Progress, RawScan, Severity};

use crate::read_source::{SMALL_PIECE, Source};
use crate::read_stl_binary::Facets;
use crate::{
    Error, read_e57, read_obj, read_off, read_pcd, read_ply, read_points, read_stl_binary,
    read_stl_text,
};

/// Coordinates beyond this are no places, whatever the unit.
pub(crate) const LARGEST: f64 = 1e12;

/// What a reader found in a file.
pub(crate) struct Content {
    pub format: &'static str,
    pub points: RawPoints,
    pub triangles: Vec<[u32; 3]>,
    pub colours: Vec<[u8; 3]>,
    pub normals: Vec<[f32; 3]>,
    pub names: Vec<String>,
    pub unit: Option<LengthUnit>,
    pub notes: Vec<Note>,
}

/// Something passed over while reading.
pub(crate) struct Note {
    pub severity: Severity,
    pub says: String,
    pub advice: &'static str,
    pub count: Option<u64>,
}

impl Note {
    /// A plain note with the count behind it, unless the count is zero.
    pub fn counted(count: u64, says: &str, advice: &'static str) -> Option<Self> {
        (count > 0).then(|| Self {
            severity: Severity::Note,
            says: format!("{count} {says}"),
            advice,
            count: Some(count),
        })
    }

    /// A plain note without a number.
    pub fn plain(says: impl Into<String>) -> Self {
        Self {
            severity: Severity::Note,
            says: says.into(),
            advice: "",
            count: None,
        }
    }
}

/// Reads a scan from an STL, PLY, OBJ, OFF, PCD, E57 or point-table file.
///
/// What the file is, is told by its content; the name's ending does not matter. Read are:
/// - STL, binary (also when its header begins with "solid") and text, one or several solids; corners with equal
///   coordinates are joined while reading, so the triangles share them;
/// - PLY, text and binary in both byte orders, properties in any order and type; polygons become fans of triangles;
/// - OBJ and OFF: vertices, their colours, faces (polygons become fans);
/// - PCD as text, binary and compressed; points that are not a number are left out;
/// - E57: all scans of a file with their poses, colours, in metres, every page's checksum checked;
/// - tables of points (XYZ, ASC, TXT, CSV, PTS): space, tab, comma or semicolon between columns, dot or comma in
///   numbers, with or without heads, names, colours and normals.
///
/// Coordinates stay in the unit and axes of the file, in the precision of the file (single for STL, double for text).
/// Not-a-number coordinates: in a point cloud they mean "nothing came back" and are left out with a note that
/// counts them; in a mesh they are an error that names the facet or vertex.
///
/// The file is read in pieces of 1 MiB at most and hashed on the way; `at` hears of every piece and can call it off.
/// Memory: what is returned, plus about 16 bytes per joined corner for STL, plus the packed and the unpacked points of a
/// compressed PCD, plus a few MiB. Sizes promised by a
/// header are checked against the size of the file before anything is set aside for them.
///
/// # Errors
/// With the file, the line, record or byte, what was expected, and a remedy; cancelled if `at` says so.
pub fn read_scan(path: &Path, at: &dyn Progress) -> Result<RawScan, Error> {
    read(path, at).map_err(|e| e.in_file(path))
}

/// Points and triangles of a file and nothing else.
#[derive(Clone, Debug, PartialEq)]
pub struct Geometry {
    /// Coordinates in the unit, axes and precision of the file.
    pub points: RawPoints,
    /// Triangles over the points.
    pub triangles: Vec<[u32; 3]>,
    /// Whether three points in a row are a facet each, which no triangle names.
    pub apart: bool,
}

/// What becomes of the corners of an STL, which are written once per facet.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StlCorners {
    /// Equal ones become one point, as in [`read_scan`].
    Joined,
    /// They stay as they are written, three points to a facet; facets with equal corners stay too.
    Apart,
}

/// Reads points and triangles as [`read_scan`] does, of the same kinds of files, by the same readers and with the same
/// checks, but takes no hash and keeps no colours, normals, names and notes. For callers that measure in a file
/// without keeping it; a job needs [`read_scan`], whose hash is the scan's identity.
///
/// # Errors
/// As [`read_scan`].
pub fn read_geometry(
    path: &Path,
    corners: StlCorners,
    at: &dyn Progress,
) -> Result<Geometry, Error> {
    let how = match corners {
        StlCorners::Joined => Facets::Joined,
        StlCorners::Apart => Facets::Apart,
    };
    let read = || {
        let mut source = Source::open(path, at)?.without_hash();
        let content = content(&mut source, path, how)?;
        Ok(Geometry {
            apart: how == Facets::Apart && content.format.ends_with("STL"),
            points: content.points,
            triangles: content.triangles,
        })
    };
    read().map_err(|e: Error| e.in_file(path))
}

/// What the file holds, by the reader of its kind.
fn content(source: &mut Source, path: &Path, facets: Facets) -> Result<Content, Error> {
    if source.size() == 0 {
        return Err(Error::empty("expected a scan, the file has 0 bytes"));
    }
    source.at_least(SMALL_PIECE)?;
    match sniff(source, path)? {
        Sniffed::BinaryStl => read_stl_binary::read(source, facets),
        Sniffed::TextStl => read_stl_text::read(source, facets),
        Sniffed::Ply => read_ply::read(source),
        Sniffed::E57 => read_e57::read(source),
        Sniffed::Obj => read_obj::read(source),
        Sniffed::Off => read_off::read(source),
        Sniffed::Pcd => read_pcd::read(source),
        Sniffed::Table => read_points::read(source),
    }
}

fn read(path: &Path, at: &dyn Progress) -> Result<RawScan, Error> {
    let mut source = Source::open(path, at)?;
    let bytes = source.size();
    let content = content(&mut source, path, Facets::Joined)?;
    let name = path
        .file_name()
        .map(|n| n.to_string_lossy().into_owned())
        .unwrap_or_default();
    let notes = content
        .notes
        .into_iter()
        .map(|n| n.into_finding(&name))
        .collect();
    Ok(RawScan {
        name,
        format: content.format.to_owned(),
        hash: source.finish()?,
        bytes,
        points: content.points,
        triangles: content.triangles,
        colours: content.colours,
        normals: content.normals,
        names: content.names,
        unit: content.unit,
        notes,
    })
}

impl Note {
    fn into_finding(self, subject: &str) -> Finding {
        Finding {
            code: Code::ReadingNote,
            severity: self.severity,
            subject: subject.to_owned(),
            says: self.says,
            advice: self.advice.to_owned(),
            numbers: self
                .count
                .map(|c| Number {
                    name: "count".to_owned(),
                    value: c as f64,
                    quantity: None,
                })
                .into_iter()
                .collect(),
        }
    }
}

#[derive(Debug, PartialEq)]
enum Sniffed {
    BinaryStl,
    TextStl,
    Ply,
    E57,
    Obj,
    Off,
    Pcd,
    Table,
}

/// Tells the kind of file from its first piece, its size and, for a broken binary STL, its name.
fn sniff(source: &Source, path: &Path) -> Result<Sniffed, Error> {
    let head = source.window();
    let start = without_mark(head).trim_ascii_start();
    if start.starts_with(b"ply") && start.get(3).is_none_or(u8::is_ascii_whitespace) {
        return Ok(Sniffed::Ply);
    }
    if read_stl_binary::size_fits(head, source.size()) {
        return Ok(Sniffed::BinaryStl);
    }
    let text = looks_like_text(head);
    if begins_with_word(start, b"solid") && text {
        return Ok(Sniffed::TextStl);
    }
    let named_stl = path
        .extension()
        .is_some_and(|e| e.eq_ignore_ascii_case("stl"));
    if head.starts_with(b"ASTM-E57") {
        return Ok(Sniffed::E57);
    }
    if read_pcd::begins(start) {
        return Ok(Sniffed::Pcd);
    }
    if text && read_off::begins(start) {
        return Ok(Sniffed::Off);
    }
    if text && looks_like_obj(start) {
        return Ok(Sniffed::Obj);
    }
    if let Some(kind) = foreign(head) {
        let error = Error::unknown_format(format!(
            "expected a scan (STL, PLY, OBJ, OFF, PCD, E57 or a table of points), found {kind}"
        ));
        return Err(if kind == UTF_16 {
            error.hinting("save the table once more as text in UTF-8 or ASCII")
        } else {
            error
        });
    }
    if !text && (named_stl || begins_with_word(start, b"solid")) {
        return Ok(Sniffed::BinaryStl);
    }
    if !text {
        let says = "expected a scan (STL, PLY, OBJ, OFF, PCD, E57 or a table of points), found a binary file of an unknown kind";
        let hint = "if it is a scanner's own project file, open it in the scanner's program and export the scan as STL, PLY or XYZ";
        return Err(Error::unknown_format(says).hinting(hint));
    }
    Ok(Sniffed::Table)
}

fn begins_with_word(text: &[u8], word: &[u8]) -> bool {
    text.len() >= word.len()
        && text[..word.len()].eq_ignore_ascii_case(word)
        && text
            .get(word.len())
            .is_none_or(|b| !b.is_ascii_alphanumeric())
}

/// Whether the first line that says anything is one of OBJ, and one of the first 64 KiB is a vertex.
fn looks_like_obj(start: &[u8]) -> bool {
    let head = &start[..start.len().min(1 << 16)];
    let mut words = head
        .split(|b| matches!(b, b'\n' | b'\r'))
        .map(<[u8]>::trim_ascii)
        .filter(|l| !l.is_empty() && !l.starts_with(b"#"))
        .map(|l| l.split(u8::is_ascii_whitespace).next().unwrap_or_default());
    let first: [&[u8]; 9] = [
        b"v", b"vn", b"vt", b"o", b"g", b"s", b"mtllib", b"usemtl", b"f",
    ];
    words
        .next()
        .is_some_and(|w| first.contains(&w) && (w == b"v" || words.any(|w| w == b"v")))
}

/// The bytes without the UTF-8 byte order mark.
pub(crate) fn without_mark(bytes: &[u8]) -> &[u8] {
    bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes)
}

/// Whether the first 64 KiB hold no control characters other than those of text.
fn looks_like_text(head: &[u8]) -> bool {
    let odd = |b: &u8| *b < 0x20 && !matches!(b, b'\t' | b'\n' | b'\r' | 0x0b | 0x0c | 0x1a);
    !head[..head.len().min(1 << 16)].iter().any(odd)
}

const UTF_16: &str = "text in UTF-16";

/// Kinds of files that people try, by the open description of their first bytes.
fn foreign(head: &[u8]) -> Option<&'static str> {
    let starts: [(&[u8], &str); 11] = [
        (b"LASF", "a LAS file"),
        (b"PK\x03\x04", "a zip archive"),
        (b"\x1f\x8b", "a gzip archive"),
        (b"7z\xbc\xaf\x27\x1c", "a 7z archive"),
        (b"%PDF", "a PDF document"),
        (b"\x89PNG", "a PNG picture"),
        (b"\xff\xd8\xff", "a JPEG picture"),
        (b"glTF", "a glTF file"),
        (b"ISO-10303-21", "a STEP file"),
        (b"\xff\xfe", UTF_16),
        (b"\xfe\xff", UTF_16),
    ];
    starts
        .iter()
        .find(|(magic, _)| head.starts_with(magic))
        .map(|(_, kind)| *kind)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::read_source::tests::file_of;
    use record::Quiet;

    fn check(bytes: &[u8], expected: Result<Sniffed, &str>) {
        let file = file_of(bytes);
        let mut source = Source::open(file.path(), &Quiet).unwrap();
        source.at_least(SMALL_PIECE).unwrap();
        match (sniff(&source, Path::new("scan.bin")), expected) {
            (Ok(found), Ok(expected)) => assert_eq!(found, expected),
            (Err(e), Err(expected)) => assert!(e.to_string().contains(expected), "{e}"),
            (found, expected) => panic!("{found:?} instead of {expected:?}"),
        }
    }

    #[test]
    fn tells_by_content() {
        let mut stl = vec![b' '; 84];
        stl[..5].copy_from_slice(b"solid");
        stl[80..84].copy_from_slice(&1_u32.to_le_bytes());
        stl.extend([0; 50]);
        check(&stl, Ok(Sniffed::BinaryStl));
        check(b"solid x\nfacet normal 0 0 1\n", Ok(Sniffed::TextStl));
        check(b"  SOLID\n", Ok(Sniffed::TextStl));
        check(b"solidity 1 2 3\n", Ok(Sniffed::Table));
        check(b"ply\nformat ascii 1.0\n", Ok(Sniffed::Ply));
        check(
            b"# made up\nmtllib a.mtl\nv 1 2 3\nf 1 1 1\n",
            Ok(Sniffed::Obj),
        );
        check(b"v 1 2 3\n", Ok(Sniffed::Obj));
        check(b"velocity 1 2 3\n", Ok(Sniffed::Table));
        check(b"COFF\n3 1 0\n", Ok(Sniffed::Off));
        check(b"# .PCD v0.7\nVERSION 0.7\n", Ok(Sniffed::Pcd));
        check(b"VERSION .7\nFIELDS x y z\n", Ok(Sniffed::Pcd));
        check(b"ASTM-E57\x01", Ok(Sniffed::E57));
        check(b"plywood\n1 2 3", Ok(Sniffed::Table));
        check(b"1 2 3\n", Ok(Sniffed::Table));
        check(b"\xef\xbb\xbfx;y;z\n", Ok(Sniffed::Table));
        check(b"PK\x03\x04....", Err("a zip archive"));
        check(
            b"\x00\x01\x02project",
            Err("binary file of an unknown kind"),
        );
        check(b"\xff\xfe1\x00 \x002\x00", Err("UTF-16"));
    }
}
