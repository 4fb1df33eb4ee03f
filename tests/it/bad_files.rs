//! Files that are broken, lie, or are something else: each is told with its name, its place and a remedy, in little
//! memory, and none ends the program.

use std::sync::atomic::{AtomicUsize, Ordering};

use formats::Error;
use proptest::prelude::*;
use record::{Cancelled, Progress, Quiet, Stage};

use crate::counting_allocator::peak_of;
use crate::read_others::{PcdData, e57, obj, off, pcd};
use crate::scan_bytes::{PlyOrder, binary_stl, file, ply, read, sheet, table, text_stl};

/// A bad file: name, bytes, what its error says, and which part of the place it must name.
struct Bad {
    name: &'static str,
    bytes: Vec<u8>,
    says: &'static str,
    place: Place,
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Place {
    /// The file as a whole.
    File,
    Line(u64),
    Record(u64),
    Byte(u64),
    /// The byte after the last.
    End,
}

fn bad(name: &'static str, bytes: impl Into<Vec<u8>>, says: &'static str, place: Place) -> Bad {
    Bad {
        name,
        bytes: bytes.into(),
        says,
        place,
    }
}

fn with_count(mut stl: Vec<u8>, count: u32) -> Vec<u8> {
    stl[80..84].copy_from_slice(&count.to_le_bytes());
    stl
}

fn with_f32(mut bytes: Vec<u8>, at: usize, value: f32) -> Vec<u8> {
    bytes[at..at + 4].copy_from_slice(&value.to_le_bytes());
    bytes
}

fn replaced(bytes: Vec<u8>, from: &str, to: &str) -> Vec<u8> {
    let text = String::from_utf8(bytes).unwrap();
    assert!(text.contains(from), "{from:?} is in the file");
    text.replacen(from, to, 1).into_bytes()
}

fn cut(mut bytes: Vec<u8>, keep: usize) -> Vec<u8> {
    bytes.truncate(keep);
    bytes
}

const COLLAPSED: &str =
    "solid\nfacet\nvertex 1 1 1\nvertex 1 1 1\nvertex 1 1 2\nendfacet\nendsolid\n";

fn bad_stl() -> Vec<Bad> {
    use Place::{Byte, File, Line, Record};
    let stl = || binary_stl(&sheet(4), b"x");
    let text = || text_stl(&sheet(3), 1, "\n");
    vec![
        bad("empty.stl", b"", "0 bytes", File),
        bad(
            "short.stl",
            &b"\x00\x01\x02"[..],
            "header of 84 bytes, found 3",
            Byte(3),
        ),
        bad("none.stl", with_count(cut(stl(), 84), 0), "0 facets", File),
        bad(
            "zero count.stl",
            with_count(stl(), 0),
            "promises 0 facets; the file has room for 18",
            Byte(80),
        ),
        bad(
            "lies.stl",
            with_count(stl(), u32::MAX),
            "promises 4294967295 facets, the file ends after 18",
            Record(19),
        ),
        bad(
            "one too many.stl",
            with_count(stl(), 19),
            "ends after 18",
            Record(19),
        ),
        bad(
            "cut.stl",
            cut(stl(), 84 + 50 * 7 + 13),
            "ends after 7",
            Record(8),
        ),
        bad(
            "solid cut.stl",
            cut(binary_stl(&sheet(4), b"solid\0"), 84 + 50 * 7 + 13),
            "ends after 7",
            Record(8),
        ),
        bad(
            "nan.stl",
            with_f32(stl(), 84 + 50 * 5 + 16, f32::NAN),
            "found \"",
            Record(6),
        ),
        bad(
            "nan byte.stl",
            with_f32(stl(), 84 + 50 * 5 + 16, f32::NAN),
            "NaN",
            Byte(84 + 50 * 5),
        ),
        bad(
            "inf.stl",
            with_f32(stl(), 84 + 12, f32::INFINITY),
            "inf",
            Record(1),
        ),
        bad(
            "huge.stl",
            with_f32(stl(), 84 + 12, 3e38),
            "expected three coordinates",
            Record(1),
        ),
        bad(
            "text nan.stl",
            replaced(text(), "vertex 0e0 0 40", "vertex 0e0 nan 40"),
            "found \"0e0 nan 40\"",
            Line(4),
        ),
        bad(
            "two corners.stl",
            replaced(text(), "      vertex 0e0 0 40\n", ""),
            "3 corners in a facet, found 2",
            Line(7),
        ),
        bad(
            "four.stl",
            replaced(text(), "outer loop", "outer loop\nvertex 1 2 3"),
            "found one more",
            Line(7),
        ),
        bad(
            "text cut.stl",
            cut(text(), 120),
            "ends within a facet",
            Line(6),
        ),
        bad(
            "words.stl",
            replaced(text(), "outer", "inner"),
            "found \"inner\"",
            Line(3),
        ),
        bad(
            "few.stl",
            replaced(text(), "vertex 0e0 0 40", "vertex 0e0 0"),
            "found \"0e0 0\"",
            Line(4),
        ),
        bad(
            "no facet.stl",
            [
                &b"solid x\n"[..],
                &b"facet normal 0 0 1\nouter loop\n".repeat(1 << 18),
            ]
            .concat(),
            "found \"facet\"",
            Line(4),
        ),
        bad(
            "solid only.stl",
            "solid x\nendsolid x\n",
            "expected facets, found none",
            Line(2),
        ),
        bad(
            "collapsed.stl",
            COLLAPSED,
            "all 1 facets have two equal corners",
            Line(7),
        ),
    ]
}

fn bad_ply() -> Vec<Bad> {
    use Place::{Byte, End, File, Line, Record};
    let text = || ply(&sheet(3), PlyOrder::Text, false);
    let little = || ply(&sheet(3), PlyOrder::Little, false);
    let head = String::from_utf8_lossy(&little())
        .find("end_header\n")
        .unwrap()
        + 11;
    let faces = head + 9 * 27;
    let with_byte = |mut bytes: Vec<u8>, at: usize, value: u8| {
        bytes[at] = value;
        bytes
    };
    let lies = |from: &str, to: &str| {
        let bytes = little();
        let (text, data) = bytes.split_at(head);
        [replaced(text.to_vec(), from, to), data.to_vec()].concat()
    };
    vec![
        bad(
            "head.ply",
            "ply\nformat ascii 1.0\n",
            "without \"end_header\"",
            Line(3),
        ),
        bad(
            "none.ply",
            replaced(text(), "vertex 9", "vertex 0"),
            "0 vertices",
            Line(16),
        ),
        bad(
            "no x.ply",
            replaced(text(), "float x", "float u"),
            "property \"x\", found none",
            Line(16),
        ),
        bad(
            "no vertex.ply",
            "ply\nformat ascii 1.0\nelement dot 1\nproperty int x\nend_header\n1\n",
            "element \"vertex\"",
            Line(5),
        ),
        bad(
            "type.ply",
            replaced(text(), "float x", "flaot x"),
            "found \"flaot\"",
            Line(5),
        ),
        bad(
            "count.ply",
            lies("vertex 9", "vertex 4000000000"),
            "4000000000 records",
            End,
        ),
        bad(
            "faces.ply",
            lies("face 8", "face 3999999999999999999"),
            "3999999999999999999 records",
            End,
        ),
        bad(
            "text count.ply",
            replaced(text(), "face 8", "face 9999999"),
            "9999999 records",
            End,
        ),
        bad(
            "text one more.ply",
            replaced(text(), "face 8", "face 9"),
            "ends after 8 of 9",
            Line(34),
        ),
        bad(
            "cut.ply",
            cut(little(), little().len() - 9),
            "a list promises 3 items",
            Record(8),
        ),
        bad(
            "long list.ply",
            with_byte(little(), faces, 255),
            "a list promises 255 items",
            Record(1),
        ),
        bad(
            "beyond.ply",
            with_byte(little(), faces + 13 + 1, 77),
            "from 0 to 8, found \"77\"",
            Record(2),
        ),
        bad(
            "negative.ply",
            with_byte(little(), faces + 4, 0xff),
            "from 0 to 8, found \"-",
            Record(1),
        ),
        bad(
            "nan.ply",
            with_f32(little(), head + 27 * 4 + 4, f32::NAN),
            "NaN",
            Record(5),
        ),
        bad(
            "nan byte.ply",
            with_f32(little(), head + 27 * 4 + 4, f32::NAN),
            "NaN",
            Byte(head as u64 + 27 * 4),
        ),
        bad(
            "word.ply",
            replaced(text(), "end_header\n0 ", "end_header\nzero "),
            "\"x\", found \"zero\"",
            Line(17),
        ),
        bad(
            "text beyond.ply",
            replaced(text(), "\n3 0 3 4", "\n3 0 3 44"),
            "found \"44\"",
            Line(26),
        ),
        bad(
            "text list.ply",
            replaced(text(), "\n3 0 3 4", "\n4000000000 0 3 4"),
            "length of the list",
            Line(26),
        ),
        bad(
            "text short.ply",
            replaced(text(), "\n3 0 3 4", "\n3 0 3"),
            "the line ends",
            Line(26),
        ),
        bad(
            "all gaps.ply",
            "ply\nformat ascii 1.0\nelement vertex 1\nproperty float x\nproperty float y\nproperty float z\nend_header\nnan nan nan\n",
            "none of the 1 vertices",
            File,
        ),
    ]
}

fn bad_tables() -> Vec<Bad> {
    use Place::{File, Line};
    let rows = || String::from_utf8(table(&sheet(3), "", " ", false)).unwrap();
    vec![
        bad("blank.xyz", "\n\n  \n", "blank lines only", Line(1)),
        bad(
            "prose.txt",
            "Dear Sir,\nhere is the scan.\n",
            "the first line is \"Dear Sir,\"",
            Line(1),
        ),
        bad(
            "two.xyz",
            "1 2\n3 4\n",
            "rows of three coordinates",
            Line(1),
        ),
        bad(
            "word.xyz",
            rows() + "1 2 three\n",
            "column 3, found \"three\"",
            Line(10),
        ),
        bad(
            "short.xyz",
            rows() + "1 2\n",
            "expected 3 columns, found 2",
            Line(10),
        ),
        bad(
            "comma.xyz",
            "1,25,3,50,7,75\n2,25,4,50,8,75\n",
            "both the decimal mark",
            Line(1),
        ),
        bad(
            "comma later.csv",
            "x,y,z\n1,2,3\n1,5,2,5,3,5\n",
            "expected 3 columns, found more",
            Line(3),
        ),
        bad(
            "huge.xyz",
            "1 2 3\n1e300 2 3\n",
            "column 1, found \"1e300\"",
            Line(2),
        ),
        bad(
            "gaps.xyz",
            "x y z\nnan nan nan\n",
            "found none (1 rows",
            Line(2),
        ),
        bad(
            "project.xyz",
            b"\x89\x00SCANPROJ\x00\x01\x02\x03".repeat(100),
            "binary file of an unknown kind",
            File,
        ),
        bad(
            "project.stl.zip",
            &b"PK\x03\x04\x14\x00\x08\x00"[..],
            "a zip archive",
            File,
        ),
        bad(
            "scan.e57",
            &b"ASTM-E57\x01\x00\x00\x00"[..],
            "expected a header of 48 bytes",
            Place::Byte(12),
        ),
        bad(
            "wide.txt",
            &b"\xff\xfe1\x00 \x002\x00 \x003\x00\n\x00"[..],
            "text in UTF-16",
            File,
        ),
        bad(
            "one line.txt",
            b"1.5 ".repeat(1 << 20),
            "without a line end",
            Place::Byte(0),
        ),
    ]
}

/// The same bytes with a number of a header put in.
fn with_u64(mut bytes: Vec<u8>, at: usize, value: u64) -> Vec<u8> {
    bytes[at..at + 8].copy_from_slice(&value.to_le_bytes());
    bytes
}

fn bad_others() -> Vec<Bad> {
    use Place::{Byte, Line, Record};
    let pcd = |data| pcd(&sheet(4), data);
    let e57 = || e57(&sheet(4), 1);
    vec![
        bad("few.obj", b"v 1 2\n", "expected three coordinates, found 2", Line(1)),
        bad("word.obj", b"v 1 2 3\nv 1 b 3\n", "found \"b\"", Line(2)),
        bad("nan.obj", b"v 1 2 3\nv 1 nan 3\n", "expected three coordinates", Line(2)),
        bad("far.obj", b"v 1 2 3\nv 2 2 2\nf 1 2 3\n", "found vertex 3", Line(3)),
        bad("back.obj", b"v 1 2 3\nv 2 2 2\nf -1 -2 -3\n", "before the first", Line(3)),
        bad("zero.obj", b"v 1 2 3\nf 0 1 1\n", "found \"0\"", Line(2)),
        bad("two.obj", b"v 1 2 3\nv 1 2 4\nf 1 2\n", "3 corners or more", Line(3)),
        bad("odd.obj", b"v 1 2 3\n<xml>\n", "found \"<xml>\"", Line(2)),
        bad("none.off", b"OFF\n0 0 0\n", "0 vertices", Line(2)),
        bad("lies.off", b"OFF\n4000000000 1 0\n0 0 0\n", "the file has 25 bytes", Line(2)),
        bad("cut.off", b"OFF\n3 1 0\n0 0 0\n1.000 0.000 0.00\n", "after 2 of 3 vertices", Line(4)),
        bad("faces.off", b"OFF\n3 1 0\n0 0 0\n1 0 0\n0 1 0\n", "after 0 of 1 faces", Line(5)),
        bad("far.off", b"OFF\n3 1 0\n0 0 0\n1 0 0\n0 1 0\n3 0 1 3\n", "from 0 to 2, found \"3\"", Line(6)),
        bad("counts.off", b"OFF\nx 1 0\n0 0 0\n", "found \"x\"", Line(2)),
        bad("binary.off", b"OFF BINARY\n3 1 0\n", "only text is read", Line(1)),
        bad("cut.pcd", cut(pcd(PcdData::Binary), 400), "the file ends after", Record(11)),
        bad("cut text.pcd", cut(pcd(PcdData::Text), 500), "the line ends", Line(22)),
        bad("cut packed.pcd", cut(pcd(PcdData::Compressed), 300), "packed piece of", Byte(198)),
        bad("no data.pcd", b"VERSION 0.7\nFIELDS x y z\n", "before its line \"DATA\"", Line(2)),
        bad("no z.pcd", replaced(pcd(PcdData::Text), "FIELDS x y z", "FIELDS x y q"), "a field \"z\"", Line(3)),
        bad("kinds.pcd", replaced(pcd(PcdData::Text), "TYPE F F F U F", "TYPE F F F U"), "found 5, 4 and 5", Line(3)),
        bad("size.pcd", replaced(pcd(PcdData::Text), "SIZE 4 4 4", "SIZE 4 4 3"), "\"F\" of 3", Line(3)),
        bad("grid.pcd", replaced(pcd(PcdData::Text), "WIDTH 16", "WIDTH 17"), "promises 16 points", Line(11)),
        bad("none.pcd", b"VERSION 0.7\nFIELDS x y z\nSIZE 4 4 4\nTYPE F F F\nPOINTS 0\nDATA ascii\n", "0 points", Line(6)),
        bad("lies.pcd", b"VERSION 0.7\nFIELDS x y z\nSIZE 4 4 4\nTYPE F F F\nPOINTS 4000000000\nDATA binary\n1234", "after 0 of 4000000000", Record(1)),
        bad("short.e57", cut(e57(), 30), "expected a header of 48 bytes", Byte(30)),
        bad("cut.e57", cut(e57(), 2000), "the header promises", Byte(16)),
        bad("pages.e57", with_u64(e57(), 40, 1 << 40), "pages of 1024 bytes", Byte(40)),
        bad("far.e57", with_u64(e57(), 24, 1 << 40), "of description at byte", Byte(24)),
        bad("large.e57", with_u64(e57(), 32, 1 << 40), "bytes of description", Byte(24)),
    ]
}

fn corpus() -> Vec<Bad> {
    bad_stl()
        .into_iter()
        .chain(bad_ply())
        .chain(bad_tables())
        .chain(bad_others())
        .collect()
}

fn names_place(error: &Error, place: Place, size: usize) -> bool {
    match place {
        Place::File => true,
        Place::Line(line) => error.line() == Some(line),
        Place::Record(number) => error.record().map(|r| r.1) == Some(number),
        Place::Byte(byte) => error.byte() == Some(byte),
        Place::End => error.byte() == Some(size as u64),
    }
}

#[test]
fn every_bad_file_is_told_with_name_place_and_remedy() {
    let mut wrong = Vec::new();
    for bad in corpus() {
        match read(bad.name, &bad.bytes) {
            Ok(scan) => wrong.push(format!(
                "{}: read as {} with {} points",
                bad.name,
                scan.format,
                scan.points.len()
            )),
            Err(e) => {
                let text = e.to_string();
                let remedy = !e.hint().is_empty() && !e.hint().ends_with('.');
                let named = text.contains(&format!("{}\"", bad.name)) && text.contains(bad.says);
                if !(remedy && named && names_place(&e, bad.place, bad.bytes.len()))
                    || text.ends_with('.')
                {
                    wrong.push(format!(
                        "{text} [{}] expected {:?} at {:?}",
                        e.hint(),
                        bad.says,
                        bad.place
                    ));
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn no_remedy_names_a_product_and_unknown_files_name_three_formats() {
    let e = read("a.xyz", b"\x00\x01\x02\x03").unwrap_err();
    assert!(e.is_unknown_format());
    for format in ["STL", "PLY", "XYZ"] {
        assert!(e.hint().contains(format), "{}", e.hint());
    }
}

#[test]
fn lies_in_headers_cost_no_memory() {
    for bad in corpus() {
        let (_folder, path) = file(bad.name, &bad.bytes);
        let (result, peak) = peak_of(|| formats::read_scan(&path, &Quiet));
        assert!(result.is_err());
        let most = (64 << 20) + 4 * bad.bytes.len();
        assert!(
            peak < most,
            "{}: {peak} bytes for a file of {}",
            bad.name,
            bad.bytes.len()
        );
    }
}

#[test]
fn good_files_take_little_more_than_what_they_hold() {
    let sheet = sheet(600);
    let held = |scan: &record::RawScan| {
        let each = if matches!(scan.points, geom::RawPoints::F32(_)) {
            12
        } else {
            24
        };
        scan.points.len() * each
            + scan.triangles.len() * 12
            + scan.colours.len() * 3
            + scan.normals.len() * 12
    };
    for (name, bytes) in [
        ("a.stl", binary_stl(&sheet, b"x")),
        ("b.stl", text_stl(&sheet, 1, "\n")),
        ("a.ply", ply(&sheet, PlyOrder::Little, false)),
        ("b.ply", ply(&sheet, PlyOrder::Text, false)),
        ("a.xyz", table(&sheet, "", " ", false)),
        ("a.obj", obj(&sheet, false, true)),
        ("a.off", off(&sheet, "OFF")),
        ("a.pcd", pcd(&sheet, PcdData::Binary)),
        ("a.e57", e57(&sheet, 1)),
    ] {
        let (_folder, path) = file(name, &bytes);
        let (scan, peak) = peak_of(|| formats::read_scan(&path, &Quiet));
        let held = held(&scan.unwrap());
        assert!(
            peak < held * 3 / 2 + (12 << 20),
            "{name}: {peak} bytes at the peak for {held} that stay"
        );
    }
}

#[test]
fn missing_files_and_folders_are_told() {
    let folder = tempfile::tempdir().unwrap();
    let e = formats::read_scan(&folder.path().join("none.stl"), &Quiet).unwrap_err();
    assert!(
        e.is_not_found() && e.to_string().contains("none.stl\": cannot read"),
        "{e}"
    );
    let e = formats::read_scan(folder.path(), &Quiet).unwrap_err();
    assert!(e.is_unknown_format() && e.says().contains("folder"), "{e}");
}

#[test]
fn any_name_will_do() {
    let bytes = binary_stl(&sheet(3), b"x");
    for name in ["Tür links.stl", "左.STL", "a b;c.stl", ".stl", "x"] {
        assert_eq!(read(name, &bytes).unwrap().name, name);
    }
}

/// Stops at the n-th question and remembers when.
struct Stops {
    left: AtomicUsize,
    asked: AtomicUsize,
}

impl Progress for Stops {
    fn at(&self, stage: Stage, done: usize, total: usize) -> Result<(), Cancelled> {
        assert!(stage == Stage::Read && done <= total);
        self.asked.fetch_add(1, Ordering::Relaxed);
        let left = self.left.load(Ordering::Relaxed);
        self.left.store(left.saturating_sub(1), Ordering::Relaxed);
        if left == 0 { Err(Cancelled) } else { Ok(()) }
    }
}

#[test]
fn reading_stops_at_the_next_piece() {
    let sheet = sheet(400);
    for (name, bytes) in [
        ("a.stl", binary_stl(&sheet, b"x")),
        ("b.stl", text_stl(&sheet, 1, "\n")),
        ("a.ply", ply(&sheet, PlyOrder::Little, false)),
        ("b.ply", ply(&sheet, PlyOrder::Text, true)),
        ("a.xyz", table(&sheet, "", " ", false)),
        ("a.obj", obj(&sheet, false, true)),
        ("a.off", off(&sheet, "OFF")),
        ("a.pcd", pcd(&sheet, PcdData::Binary)),
    ] {
        let (_folder, path) = file(name, &bytes);
        let at = Stops {
            left: AtomicUsize::new(usize::MAX),
            asked: AtomicUsize::new(0),
        };
        formats::read_scan(&path, &at).unwrap();
        let asked = at.asked.load(Ordering::Relaxed);
        assert!(asked >= bytes.len() >> 20, "{name}: asked {asked} times");
        for stop in 0..asked.min(4) {
            let at = Stops {
                left: AtomicUsize::new(stop),
                asked: AtomicUsize::new(0),
            };
            assert!(formats::read_scan(&path, &at).unwrap_err().is_cancelled());
            assert_eq!(at.asked.load(Ordering::Relaxed), stop + 1);
        }
    }
}

fn good_files() -> Vec<(&'static str, Vec<u8>)> {
    let sheet = sheet(6);
    vec![
        ("a.stl", binary_stl(&sheet, b"solid")),
        ("b.stl", text_stl(&sheet, 2, "\r\n")),
        ("a.ply", ply(&sheet, PlyOrder::Little, true)),
        ("b.ply", ply(&sheet, PlyOrder::Big, false)),
        ("c.ply", ply(&sheet, PlyOrder::Text, true)),
        ("d.ply", ply(&sheet, PlyOrder::Text, false)),
        ("a.xyz", table(&sheet, "# unit mm\nx y z\n", " ", false)),
        ("a.csv", table(&sheet, "X [mm];Y [mm];Z [mm]\n", ";", true)),
        ("a.obj", obj(&sheet, false, true)),
        ("b.obj", obj(&sheet, true, false)),
        ("a.off", off(&sheet, "CNOFF")),
        ("a.pcd", pcd(&sheet, PcdData::Text)),
        ("b.pcd", pcd(&sheet, PcdData::Binary)),
        ("c.pcd", pcd(&sheet, PcdData::Compressed)),
        ("a.e57", e57(&sheet, 2)),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    /// Whatever is done to a good file, it is read or refused; what is read hangs together.
    #[test]
    fn spoilt_files_never_panic(
        which in 0..15_usize,
        keep in 0.0..1.2_f64,
        flips in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 0..12),
    ) {
        let (name, mut bytes) = good_files().swap_remove(which);
        bytes.truncate((bytes.len() as f64 * keep) as usize);
        for (at, value) in &flips {
            if !bytes.is_empty() {
                let at = at.index(bytes.len());
                bytes[at] = *value;
            }
        }
        match read(name, &bytes) {
            Ok(scan) => {
                let n = scan.points.len();
                prop_assert!(n > 0);
                prop_assert!(scan.triangles.iter().flatten().all(|&i| (i as usize) < n));
                for len in [scan.colours.len(), scan.normals.len(), scan.names.len()] {
                    prop_assert!(len == 0 || len == n);
                }
                prop_assert!((0..n).all(|i| scan.points.get(i).iter().all(|c| c.is_finite())));
            }
            Err(e) => prop_assert!(!e.says().is_empty() && !e.hint().is_empty() && e.path().is_some()),
        }
    }
}
