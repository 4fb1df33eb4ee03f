//! STL: every good form of it, and the same answer as an independent reader.

use std::io::Cursor;

use geom::RawPoints;
use record::RawScan;

use crate::scan_bytes::{Sheet, binary_stl, read, sheet, text_stl};

fn points(scan: &RawScan) -> &[[f32; 3]] {
    match &scan.points {
        RawPoints::F32(points) => points,
        RawPoints::F64(_) => panic!("an STL is single precision"),
    }
}

/// The corners of every triangle, bit by bit, whatever the numbering.
fn soup(scan: &RawScan) -> Vec<[[f32; 3]; 3]> {
    let p = points(scan);
    scan.triangles
        .iter()
        .map(|t| t.map(|i| p[i as usize]))
        .collect()
}

fn same_sheet(scan: &RawScan, sheet: &Sheet) {
    assert_eq!(scan.points.len(), sheet.points.len(), "corners are joined");
    let expected: Vec<_> = sheet.triangles.iter().map(|&t| sheet.corners(t)).collect();
    assert!(soup(scan) == expected);
}

#[test]
fn binary_with_any_header() {
    let sheet = sheet(40);
    for head in [
        &b"made by nobody"[..],
        b"solid as a rock",
        b"",
        b"ply?",
        &[0xff; 80],
    ] {
        let bytes = binary_stl(&sheet, head);
        let scan = read("left.stl", &bytes).unwrap();
        same_sheet(&scan, &sheet);
        assert_eq!(
            (&*scan.format, &*scan.name, scan.bytes),
            ("binary STL", "left.stl", bytes.len() as u64)
        );
        assert_eq!(scan.notes, []);
        same_sheet(&read("no ending", &bytes).unwrap(), &sheet);
    }
}

#[test]
fn text_with_any_line_end_and_several_solids() {
    let sheet = sheet(60);
    for (solids, end) in [(1, "\n"), (1, "\r\n"), (1, "\r"), (3, "\n")] {
        let bytes = text_stl(&sheet, solids, end);
        assert!(bytes.len() > 1 << 20, "several pieces");
        let scan = read("scan.stl", &bytes).unwrap();
        same_sheet(&scan, &sheet);
        assert_eq!(scan.format, "text STL");
        assert_eq!(
            scan.notes.len(),
            usize::from(solids > 1),
            "{:?}",
            scan.notes
        );
        let upper = String::from_utf8(bytes).unwrap().to_uppercase();
        same_sheet(&read("SCAN.STL", upper.as_bytes()).unwrap(), &sheet);
    }
}

#[test]
fn a_decimal_comma_is_read() {
    let sheet = sheet(5);
    let text = String::from_utf8(text_stl(&sheet, 1, "\n"))
        .unwrap()
        .replace('.', ",");
    same_sheet(&read("a.stl", text.as_bytes()).unwrap(), &sheet);
}

#[test]
fn the_same_as_an_independent_reader() {
    let sheet = sheet(70);
    for bytes in [binary_stl(&sheet, b"x"), text_stl(&sheet, 1, "\n")] {
        let ours = read("a.stl", &bytes).unwrap();
        let theirs = stl_io::read_stl(&mut Cursor::new(&bytes)).unwrap();
        assert_eq!(ours.points.len(), theirs.vertices.len());
        let corner = |i: usize| theirs.vertices[i].0;
        let soup_of: Vec<_> = theirs
            .faces
            .iter()
            .map(|f| f.vertices.map(corner))
            .collect();
        assert!(soup(&ours) == soup_of);
    }
}

#[test]
fn what_is_odd_is_noted() {
    let mut sheet = sheet(4);
    sheet.triangles.push([0, 0, 1]);
    let mut bytes = binary_stl(&sheet, b"x");
    bytes[84 + 48] = 1;
    let scan = read("a.stl", &bytes).unwrap();
    assert_eq!(scan.triangles.len(), 18);
    let says: Vec<&str> = scan.notes.iter().map(|n| n.says.as_str()).collect();
    assert_eq!(
        says,
        [
            "1 facets with two equal corners were left out",
            "1 facets carry extra bytes (often a colour) that were passed over"
        ]
    );
    sheet.triangles.pop();
    sheet.triangles.iter_mut().for_each(|t| t.swap(0, 1));
    let scan = read("a.stl", &binary_stl(&sheet, b"x")).unwrap();
    assert!(
        scan.notes[0]
            .says
            .contains("against the order of their corners"),
        "{:?}",
        scan.notes
    );
    let text = String::from_utf8(text_stl(&sheet, 1, "\n")).unwrap();
    let scan = read("a.stl", text.split("endsolid").next().unwrap().as_bytes()).unwrap();
    assert!(
        scan.notes
            .iter()
            .any(|n| n.says.contains("without \"endsolid\"")),
        "{:?}",
        scan.notes
    );
}

#[test]
fn the_hash_is_that_of_the_file() {
    let a = read("a.stl", &binary_stl(&sheet(9), b"x")).unwrap();
    let b = read("b.stl", &binary_stl(&sheet(9), b"x")).unwrap();
    let c = read("c.stl", &binary_stl(&sheet(9), b"y")).unwrap();
    assert_eq!(a.hash, b.hash);
    assert_ne!(a.hash, c.hash);
    assert_eq!(a.hash.len(), 64);
}
