//! OBJ, OFF and PCD in all their forms give the sheet that was written; OBJ and E57 are held against crates that read and
//! write them.

use std::fmt::Write as _;
use std::io::Cursor;

use e57::{
    E57Writer, Quaternion, Record, RecordDataType, RecordName, RecordValue, Transform, Translation,
};
use geom::{Point, RawPoints};
use record::{LengthUnit, RawScan};

use crate::scan_bytes::{Sheet, read, sheet};

fn points(scan: &RawScan) -> Vec<[f32; 3]> {
    let single = |i: usize| <[f64; 3]>::from(scan.points.get(i)).map(|c| c as f32);
    (0..scan.points.len()).map(single).collect()
}

fn same(scan: &RawScan, sheet: &Sheet) {
    assert!(points(scan) == sheet.points, "{}", scan.format);
    assert!(scan.triangles == sheet.triangles, "{}", scan.format);
    assert!(scan.colours == sheet.colours, "{}", scan.format);
}

/// `back`: faces count back from their place; `unit`: colours go to 1.
pub fn obj(sheet: &Sheet, back: bool, unit: bool) -> Vec<u8> {
    let mut out = "# made up\nmtllib none.mtl\no sheet\n".to_owned();
    for (p, c) in sheet.points.iter().zip(&sheet.colours) {
        let [r, g, b] = c.map(|c| {
            if unit {
                f64::from(c) / 255.0
            } else {
                f64::from(c)
            }
        });
        writeln!(out, "v {} {} {} {r} {g} {b}", p[0], p[1], p[2]).unwrap();
    }
    out += "vn 0 0 1\nvt 0 0\n";
    let n = i64::try_from(sheet.points.len()).unwrap();
    for t in &sheet.triangles {
        let [a, b, c] = t.map(|i| {
            if back {
                i64::from(i) - n
            } else {
                i64::from(i) + 1
            }
        });
        writeln!(out, "f {a}/1/1 {b}//1 {c}").unwrap();
    }
    out.into_bytes()
}

pub fn off(sheet: &Sheet, head: &str) -> Vec<u8> {
    let (n, m) = (sheet.points.len(), sheet.triangles.len());
    let mut out = format!("{head}\n# made up\n{n} {m} 0\n");
    for (p, c) in sheet.points.iter().zip(&sheet.colours) {
        write!(out, "{} {} {}", p[0], p[1], p[2]).unwrap();
        if head.contains('N') {
            out += " 0 0 1";
        }
        if head.contains('C') {
            write!(out, " {} {} {} 255", c[0], c[1], c[2]).unwrap();
        }
        out.push('\n');
    }
    for t in &sheet.triangles {
        writeln!(out, "3 {} {} {} 0.5 0.5 0.5", t[0], t[1], t[2]).unwrap();
    }
    out.into_bytes()
}

/// How a PCD holds its points.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum PcdData {
    Text,
    Binary,
    Compressed,
}

pub fn pcd(sheet: &Sheet, data: PcdData) -> Vec<u8> {
    let n = sheet.points.len();
    let word = match data {
        PcdData::Text => "ascii",
        PcdData::Binary => "binary",
        PcdData::Compressed => "binary_compressed",
    };
    let mut out = format!(
        "# .PCD v0.7 - Point Cloud Data file format\nVERSION 0.7\nFIELDS x y z tags rgb\nSIZE 4 4 4 2 4\nTYPE F F F U F\n\
         COUNT 1 1 1 2 1\nWIDTH {n}\nHEIGHT 1\nVIEWPOINT 0 0 0 1 0 0 0\nPOINTS {n}\nDATA {word}\n"
    )
    .into_bytes();
    let packed = |c: &[u8; 3]| f32::from_le_bytes([c[2], c[1], c[0], 0]);
    let all = sheet.points.iter().zip(&sheet.colours);
    match data {
        PcdData::Text => {
            for (p, c) in all {
                let line = format!("{} {} {} 7 8 {:e}\n", p[0], p[1], p[2], packed(c));
                out.extend(line.into_bytes());
            }
        }
        PcdData::Binary => {
            for (p, c) in all {
                out.extend(p.iter().flat_map(|v| v.to_le_bytes()));
                out.extend([7, 0, 8, 0]);
                out.extend(packed(c).to_le_bytes());
            }
        }
        PcdData::Compressed => {
            let mut plain = Vec::new();
            for k in 0..3 {
                plain.extend(sheet.points.iter().flat_map(|p| p[k].to_le_bytes()));
            }
            plain.extend((0..n).flat_map(|_| [7, 0, 8, 0]));
            plain.extend(sheet.colours.iter().flat_map(|c| packed(c).to_le_bytes()));
            let packed = lzf(&plain);
            out.extend((packed.len() as u32).to_le_bytes());
            out.extend((plain.len() as u32).to_le_bytes());
            out.extend(packed);
        }
    }
    out
}

/// Packs with literal runs, and with copies of four bytes where the four before are the same.
fn lzf(plain: &[u8]) -> Vec<u8> {
    let (mut out, mut at, mut literal) = (Vec::new(), 0, Vec::new());
    let flush = |literal: &mut Vec<u8>, out: &mut Vec<u8>| {
        for run in literal.chunks(32) {
            out.push(run.len() as u8 - 1);
            out.extend(run);
        }
        literal.clear();
    };
    while at < plain.len() {
        if at >= 4 && at + 4 <= plain.len() && plain[at..at + 4] == plain[at - 4..at] {
            flush(&mut literal, &mut out);
            out.extend([2 << 5, 3]);
            at += 4;
        } else {
            literal.push(plain[at]);
            at += 1;
        }
    }
    flush(&mut literal, &mut out);
    out
}

#[test]
fn obj_with_numbers_counted_up_and_back() {
    let sheet = sheet(90);
    for back in [false, true] {
        for unit in [false, true] {
            let scan = read("a.obj", &obj(&sheet, back, unit)).unwrap();
            same(&scan, &sheet);
            assert_eq!((scan.unit, scan.notes.len()), (None, 0));
        }
    }
}

#[test]
fn obj_polygons_become_fans_and_strange_lines_are_counted() {
    let text = b"v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nf 1 2 3 4\ncurv 0 1\nv 9 9 9\nf -1 1 2\n";
    let scan = read("a.obj", text).unwrap();
    assert_eq!(scan.triangles, [[0, 1, 2], [0, 2, 3], [4, 0, 1]]);
    assert!(scan.colours.is_empty());
    assert!(scan.notes.iter().any(|n| n.says.starts_with("1 lines")));
    // A cloud of vertices alone.
    assert_eq!(
        read("a.obj", b"v 1 2 3\nv 4 5 6\n").unwrap().points.len(),
        2
    );
}

#[test]
fn off_of_every_head() {
    let sheet = sheet(40);
    for head in ["COFF", "CNOFF"] {
        same(&read("a.off", &off(&sheet, head)).unwrap(), &sheet);
    }
    for head in ["OFF", "NOFF"] {
        let scan = read("a.off", &off(&sheet, head)).unwrap();
        assert!(points(&scan) == sheet.points && scan.colours.is_empty());
    }
    let one_line = b"OFF 3 1 0\n0 0 0\n1 0 0 # right\n0 1 0\n3 0 1 2\n";
    assert_eq!(read("a.off", one_line).unwrap().triangles, [[0, 1, 2]]);
}

#[test]
fn pcd_as_text_binary_and_compressed() {
    let sheet = sheet(60);
    for data in [PcdData::Text, PcdData::Binary, PcdData::Compressed] {
        let scan = read("a.pcd", &pcd(&sheet, data)).unwrap();
        assert!(points(&scan) == sheet.points, "{data:?}");
        assert!(scan.colours == sheet.colours, "{data:?}");
        assert!(scan.triangles.is_empty() && scan.notes.is_empty());
    }
}

#[test]
fn pcd_points_that_are_not_a_number_are_left_out() {
    let head = "VERSION 0.7\nFIELDS x y z\nSIZE 4 4 4\nTYPE F F F\nCOUNT 1 1 1\nWIDTH 3\nHEIGHT 1\n\
        VIEWPOINT 1 2 3 1 0 0 0\nPOINTS 3\n";
    let scan = read(
        "a.pcd",
        format!("{head}DATA ascii\n1 2 3\nnan nan nan\n4 5 6\n").as_bytes(),
    );
    let scan = scan.unwrap();
    assert_eq!(scan.points.len(), 2);
    let says: Vec<&str> = scan.notes.iter().map(|n| n.says.as_str()).collect();
    assert!(
        says[0].starts_with("1 points without coordinates"),
        "{says:?}"
    );
    assert!(says[1].contains("1 2 3 1 0 0 0"), "{says:?}");
}

/// Points of a made-up E57: each scan has a pose, and every tenth point is none.
pub fn e57(sheet: &Sheet, scans: usize) -> Vec<u8> {
    let mut bytes = Cursor::new(Vec::new());
    let mut file = E57Writer::new(&mut bytes, "file").unwrap();
    for k in 0..scans {
        let byte = RecordDataType::Integer { min: 0, max: 255 };
        let prototype = vec![
            Record::CARTESIAN_X_F64,
            Record::CARTESIAN_Y_F64,
            Record::CARTESIAN_Z_F64,
            Record {
                name: RecordName::ColorRed,
                data_type: byte.clone(),
            },
            Record {
                name: RecordName::ColorGreen,
                data_type: byte.clone(),
            },
            Record {
                name: RecordName::ColorBlue,
                data_type: byte,
            },
            Record::CARTESIAN_INVALID_STATE,
        ];
        let mut scan = file
            .add_pointcloud(&format!("scan {k}"), prototype)
            .unwrap();
        scan.set_transform(Some(pose(k)));
        for (i, (p, c)) in sheet.points.iter().zip(&sheet.colours).enumerate() {
            let mut values: Vec<RecordValue> = p
                .iter()
                .map(|v| RecordValue::Double(f64::from(*v) / 1000.0))
                .collect();
            values.extend(c.iter().map(|c| RecordValue::Integer(i64::from(*c))));
            values.push(RecordValue::Integer(if i % 10 == 9 { 2 } else { 0 }));
            scan.add_point(values).unwrap();
        }
        scan.finalize().unwrap();
    }
    file.finalize().unwrap();
    drop(file);
    bytes.into_inner()
}

/// A quarter turn about Z per scan, and a shift.
fn pose(k: usize) -> Transform {
    let half = k as f64 * std::f64::consts::FRAC_PI_4;
    Transform {
        rotation: Quaternion {
            w: half.cos(),
            x: 0.0,
            y: 0.0,
            z: half.sin(),
        },
        translation: Translation {
            x: k as f64,
            y: 0.5,
            z: 0.0,
        },
    }
}

#[test]
fn e57_scans_are_put_together_by_their_poses() {
    let sheet = sheet(30);
    let scan = read("a.e57", &e57(&sheet, 2)).unwrap();
    let kept: Vec<usize> = (0..sheet.points.len()).filter(|i| i % 10 != 9).collect();
    assert_eq!(scan.points.len(), 2 * kept.len());
    assert_eq!(scan.unit, Some(LengthUnit::Metre));
    assert!(matches!(scan.points, RawPoints::F64(_)));
    for (k, &i) in kept.iter().enumerate() {
        let [x, y, z] = sheet.points[i].map(|v| f64::from(v) / 1000.0);
        let first = Point::new(x, y + 0.5, z);
        // A quarter turn takes x to y and y to -x.
        let second = Point::new(1.0 - y, x + 0.5, z);
        for (of, at) in [(k, first), (k + kept.len(), second)] {
            let found = scan.points.get(of);
            assert!((found - at).norm() < 1e-12, "{found} {at}");
            assert_eq!(scan.colours[of], sheet.colours[i]);
        }
    }
    let says: Vec<&str> = scan.notes.iter().map(|n| n.says.as_str()).collect();
    assert!(says[0].starts_with(&format!("{} points", 2 * (sheet.points.len() / 10))));
    assert!(says[1].starts_with("2 scans were put together"), "{says:?}");
}

#[test]
fn e57_a_page_that_is_damaged_ends_the_reading() {
    let whole = e57(&sheet(60), 1);
    // The first pages hold points, the last the description.
    for at in [1500, whole.len() / 2, whole.len() - 300] {
        let mut bytes = whole.clone();
        bytes[at] ^= 1;
        let e = read("a.e57", &bytes).unwrap_err();
        assert!(e.is_malformed() && !e.hint().is_empty(), "{at}: {e}");
    }
}

/// `UNMIRROR_REAL=FOLDER cargo test -p it real_e57 -- --ignored`: the E57 of a public test set, 30,571 points.
#[test]
#[ignore = "needs the folder of real scans: UNMIRROR_REAL=FOLDER cargo test -p it real_e57 -- --ignored"]
fn real_e57() {
    let folder = std::env::var("UNMIRROR_REAL").expect("UNMIRROR_REAL is a folder");
    let path = std::path::Path::new(&folder).join("bunny.e57");
    let scan = formats::read_scan(&path, &record::Quiet).unwrap();
    assert_eq!(scan.points.len(), 30_571);
    println!("{:?} {:?}", scan.unit, scan.notes);
}
