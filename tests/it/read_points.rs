//! Tables of points: every way in which people write them, and the same answer as an independent reader.

use record::{LengthUnit, RawScan};

use crate::scan_bytes::{read, sheet, table};

fn rows(scan: &RawScan) -> Vec<[f64; 3]> {
    (0..scan.points.len())
        .map(|i| scan.points.get(i).into())
        .collect()
}

#[test]
fn every_mark_gives_the_same_points() {
    let sheet = sheet(250);
    let plain = read("a.xyz", &table(&sheet, "", " ", false)).unwrap();
    assert_eq!(plain.points.len(), 62_500);
    assert_eq!(plain.format, "table of points");
    for (head, between, comma) in [
        ("", ",", false),
        ("", ";", false),
        ("", "\t", false),
        ("", "   ", false),
        ("", ";", true),
        ("", " ", true),
        ("", "\t", true),
        ("x,y,z\n", ",", false),
        ("# scan of a door\n\nx y z\n", " ", false),
        ("\u{feff}X;Y;Z\n", ";", true),
        ("62500\n", " ", false),
    ] {
        let bytes = table(&sheet, head, between, comma);
        let scan =
            read("a.txt", &bytes).unwrap_or_else(|e| panic!("{head:?} {between:?} {comma}: {e}"));
        assert!(rows(&scan) == rows(&plain), "{head:?} {between:?} {comma}");
        let windows = String::from_utf8(bytes).unwrap().replace('\n', "\r\n");
        assert_eq!(
            rows(&read("a.csv", windows.as_bytes()).unwrap()),
            rows(&plain)
        );
    }
}

#[test]
fn the_same_as_an_independent_reader() {
    let sheet = sheet(40);
    let bytes = table(&sheet, "x,y,z\n", ",", false);
    let ours = read("a.csv", &bytes).unwrap();
    let mut theirs = csv::Reader::from_reader(&bytes[..]);
    let expected: Vec<[f64; 3]> = theirs
        .records()
        .map(|r| {
            let r = r.unwrap();
            [0, 1, 2].map(|i| r[i].parse().unwrap())
        })
        .collect();
    assert!(rows(&ours) == expected);
}

#[test]
fn names_colours_normals_and_unit() {
    let text = "Point;X [m];Y [m];Z [m];nx;ny;nz;red;green;blue\n\"P 1\";1,5;2;3;0;0;1;255;0;9\nP2;;2;3;0;0;1;1;2;3\nP3;4;5;6;0;3;4;1;2;3\n";
    let scan = read("targets.csv", text.as_bytes()).unwrap();
    assert_eq!(rows(&scan), [[1.5, 2.0, 3.0], [4.0, 5.0, 6.0]]);
    assert_eq!(scan.names, ["P 1", "P3"]);
    assert_eq!(scan.colours, [[255, 0, 9], [1, 2, 3]]);
    assert_eq!(scan.normals, [[0.0, 0.0, 1.0], [0.0, 0.6, 0.8]]);
    assert_eq!(scan.unit, Some(LengthUnit::Metre));
    assert!(
        scan.notes[0]
            .says
            .starts_with("1 rows without three coordinates"),
        "{:?}",
        scan.notes
    );
}

#[test]
fn blank_is_not_measured_never_zero() {
    let scan = read("a.csv", b"x,y,z\n1,2,3\n4,,6\nnan,1,1\n7,8,9\n").unwrap();
    assert_eq!(rows(&scan), [[1.0, 2.0, 3.0], [7.0, 8.0, 9.0]]);
}

#[test]
fn remarks_between_points_are_passed_over() {
    let scan = read("a.xyz", b"1 2 3\n# second pass\n4 5 6\n\n// end\n").unwrap();
    assert_eq!(rows(&scan).len(), 2);
}

#[test]
fn one_point_and_no_line_end() {
    assert_eq!(rows(&read("a.xyz", b"1 2 3").unwrap()), [[1.0, 2.0, 3.0]]);
}

#[test]
fn a_wrong_row_far_down_is_named_by_its_line() {
    let mut bytes = table(&sheet(300), "", " ", false);
    let lines = bytes.split(|&b| b == b'\n').count() - 1;
    bytes.extend(b"1.0 2.0 oops\n");
    bytes.extend(table(&sheet(100), "", " ", false));
    let e = read("a.xyz", &bytes).unwrap_err();
    assert_eq!(e.line(), Some(lines as u64 + 1));
    assert!(e.to_string().contains("column 3, found \"oops\""), "{e}");
}
