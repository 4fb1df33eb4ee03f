//! PLY: every good form of it, and the same answer as an independent reader.

use std::io::Cursor;

use geom::RawPoints;
use ply_rs_bw::parser::Parser;
use ply_rs_bw::ply::{DefaultElement, Property};
use record::{LengthUnit, RawScan};

use crate::scan_bytes::{PlyOrder, Sheet, ply, read, sheet};

const ORDERS: [PlyOrder; 3] = [PlyOrder::Text, PlyOrder::Little, PlyOrder::Big];

/// In single precision: text of a file with doubles is read as such.
fn same_points(scan: &RawScan, sheet: &Sheet) {
    let single = |i: usize| <[f64; 3]>::from(scan.points.get(i)).map(|c| c as f32);
    let found: Vec<[f32; 3]> = (0..scan.points.len()).map(single).collect();
    assert!(found == sheet.points);
}

#[test]
fn every_order_of_bytes_gives_the_same() {
    let sheet = sheet(90);
    for order in ORDERS {
        let scan = read("a.ply", &ply(&sheet, order, false)).unwrap();
        assert!(matches!(scan.points, RawPoints::F32(_)));
        same_points(&scan, &sheet);
        assert_eq!(
            (&scan.triangles, &scan.colours),
            (&sheet.triangles, &sheet.colours)
        );
        assert!(scan.normals == sheet.normals);
        assert_eq!(
            (scan.unit, scan.notes.len()),
            (Some(LengthUnit::Millimetre), 0)
        );
    }
}

#[test]
fn properties_in_any_order_and_type_lists_and_strange_elements() {
    let sheet = sheet(90);
    for order in ORDERS {
        let scan = read("a.bin", &ply(&sheet, order, true)).unwrap();
        assert!(matches!(scan.points, RawPoints::F64(_)));
        same_points(&scan, &sheet);
        assert_eq!(
            (&scan.triangles, &scan.colours),
            (&sheet.triangles, &sheet.colours)
        );
        assert!(scan.normals.is_empty());
        assert_eq!(
            scan.notes[0].says,
            "the elements \"camera\" were passed over"
        );
    }
}

#[test]
fn the_same_as_an_independent_reader() {
    let sheet = sheet(30);
    for order in ORDERS {
        let bytes = ply(&sheet, order, false);
        let ours = read("a.ply", &bytes).unwrap();
        let theirs = Parser::<DefaultElement>::new()
            .read_ply(&mut Cursor::new(&bytes))
            .unwrap();
        let value = |e: &DefaultElement, name: &str| match e[name] {
            Property::Float(v) => f64::from(v),
            _ => panic!("{name} is not a float"),
        };
        for (i, v) in theirs.payload["vertex"].iter().enumerate() {
            let p = ours.points.get(i);
            assert_eq!([p.x, p.y, p.z], ["x", "y", "z"].map(|n| value(v, n)));
        }
        for (ours, theirs) in ours.triangles.iter().zip(&theirs.payload["face"]) {
            let Property::ListInt(list) = &theirs["vertex_indices"] else {
                panic!("a list of integers")
            };
            assert!(
                list.iter()
                    .copied()
                    .eq(ours.iter().map(|i| i.cast_signed()))
            );
        }
    }
}

fn text(vertices: &str, count: usize, faces: &str, face_count: usize) -> Vec<u8> {
    format!(
        "ply\nformat ascii 1.0\nelement vertex {count}\nproperty float x\nproperty float y\nproperty float z\n\
         element face {face_count}\nproperty list uchar int vertex_indices\nend_header\n{vertices}{faces}"
    )
    .into_bytes()
}

#[test]
fn polygons_become_fans_and_collapsed_faces_go() {
    let square = "0 0 0\n1 0 0\n1 1 0\n\n0 1 0\n2 2 2\n";
    let scan = read(
        "a.ply",
        &text(square, 5, "5 0 1 2 3 4\n3 0 1 1\n2 0 1\n", 3),
    )
    .unwrap();
    assert_eq!(scan.triangles, [[0, 1, 2], [0, 2, 3], [0, 3, 4]]);
    let says: Vec<&str> = scan.notes.iter().map(|n| n.says.as_str()).collect();
    let expected = [
        "1 faces with more than three corners were cut into triangles",
        "2 faces with two equal corners were left out",
    ];
    assert_eq!(says, expected);
}

#[test]
fn strips_become_triangles_that_face_one_way() {
    let bytes = "ply\nformat ascii 1.0\nelement vertex 5\nproperty float x\nproperty float y\nproperty float z\n\
        element tristrips 1\nproperty list int int vertex_indices\nend_header\n\
        0 0 0\n1 0 0\n0 1 0\n1 1 0\n0 2 0\n9 0 1 2 3 -1 2 3 4 -1\n";
    let scan = read("a.ply", bytes.as_bytes()).unwrap();
    assert_eq!(scan.triangles, [[0, 1, 2], [2, 1, 3], [2, 3, 4]]);
}

#[test]
fn nothing_came_back_is_left_out_of_clouds_only() {
    let with_gaps = "0 0 0\nnan nan nan\n1 2 nan\n1 1 1\n";
    let scan = read("a.ply", &text(with_gaps, 4, "", 0)).unwrap();
    assert_eq!(scan.points.len(), 2);
    assert!(
        scan.notes[0]
            .says
            .starts_with("2 points without coordinates"),
        "{:?}",
        scan.notes
    );
    let e = read("a.ply", &text(with_gaps, 4, "3 0 1 3\n", 1)).unwrap_err();
    assert_eq!(
        (e.record(), e.line()),
        (Some(("vertex", 2)), Some(11)),
        "{e}"
    );
}

#[test]
fn colours_as_fractions_and_normals_of_any_length() {
    let bytes = "ply\nformat ascii 1.0\nelement vertex 2\nproperty float x\nproperty float y\nproperty float z\n\
        property float red\nproperty float green\nproperty float blue\nproperty float nx\nproperty float ny\nproperty float nz\n\
        end_header\n0 0 0 1 0.5 0 0 3 4\n1 1 1 0 0 2 0 0 0\n";
    let scan = read("a.ply", bytes.as_bytes()).unwrap();
    assert_eq!(scan.colours, [[255, 128, 0], [0, 0, 255]]);
    assert_eq!(scan.normals, [[0.0, 0.6, 0.8], [0.0; 3]]);
}
