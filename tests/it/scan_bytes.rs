//! Scans as bytes of every format that is read, for the checks of the readers.

use std::fmt::Write as _;
use std::io::Write as _;
use std::path::PathBuf;

/// A mesh with all that a format may carry.
#[derive(Clone, Debug)]
pub struct Sheet {
    pub points: Vec<[f32; 3]>,
    pub triangles: Vec<[u32; 3]>,
    pub colours: Vec<[u8; 3]>,
    pub normals: Vec<[f32; 3]>,
}

/// A bent sheet of n x n points 1.37 mm apart, two triangles per square.
pub fn sheet(n: u16) -> Sheet {
    let mut s = Sheet {
        points: Vec::new(),
        triangles: Vec::new(),
        colours: Vec::new(),
        normals: Vec::new(),
    };
    for i in 0..n {
        for j in 0..n {
            let (x, y) = (f32::from(i) * 1.37, f32::from(j) * 1.37);
            s.points.push([x, y, 40.0 + (x * 0.05).sin() * 8.0]);
            s.colours.push([(i % 256) as u8, (j % 256) as u8, 77]);
            s.normals.push([0.0, 0.6, 0.8]);
        }
    }
    let at = |i: u16, j: u16| u32::from(i) * u32::from(n) + u32::from(j);
    for i in 0..n - 1 {
        for j in 0..n - 1 {
            s.triangles.push([at(i, j), at(i + 1, j), at(i + 1, j + 1)]);
            s.triangles.push([at(i, j), at(i + 1, j + 1), at(i, j + 1)]);
        }
    }
    s
}

impl Sheet {
    pub fn corners(&self, t: [u32; 3]) -> [[f32; 3]; 3] {
        t.map(|i| self.points[i as usize])
    }
}

pub fn binary_stl(sheet: &Sheet, head: &[u8]) -> Vec<u8> {
    let mut out = vec![b' '; 80];
    out[..head.len()].copy_from_slice(head);
    out.extend((sheet.triangles.len() as u32).to_le_bytes());
    for &t in &sheet.triangles {
        for value in [[0.0, 0.0, 1.0]].iter().chain(&sheet.corners(t)).flatten() {
            out.extend(value.to_le_bytes());
        }
        out.extend([0, 0]);
    }
    out
}

pub fn text_stl(sheet: &Sheet, solids: usize, end: &str) -> Vec<u8> {
    let mut out = String::new();
    let each = sheet.triangles.len().div_ceil(solids);
    for (k, part) in sheet.triangles.chunks(each).enumerate() {
        write!(out, "solid piece {k}{end}").unwrap();
        for &t in part {
            write!(out, "  facet normal 0 0 1{end}    outer loop{end}").unwrap();
            for [x, y, z] in sheet.corners(t) {
                write!(out, "      vertex {x:e} {y} {z}{end}").unwrap();
            }
            write!(out, "    endloop{end}  endfacet{end}").unwrap();
        }
        write!(out, "endsolid piece {k}{end}").unwrap();
    }
    out.into_bytes()
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub enum PlyOrder {
    Text,
    Little,
    Big,
}

/// A PLY with everything; `odd` puts the properties in another order, with doubles, lists and strange elements.
pub fn ply(sheet: &Sheet, order: PlyOrder, odd: bool) -> Vec<u8> {
    let word = match order {
        PlyOrder::Text => "ascii",
        PlyOrder::Little => "binary_little_endian",
        PlyOrder::Big => "binary_big_endian",
    };
    let (n, m) = (sheet.points.len(), sheet.triangles.len());
    let mut out = format!("ply\nformat {word} 1.0\ncomment unit mm\n").into_bytes();
    if odd {
        let properties = "property uchar blue\nproperty double z\nproperty list uchar short tags\nproperty uchar red\n\
            property float y\nproperty uchar green\nproperty double x\n";
        write!(
            out,
            "element camera 2\nproperty float view\nproperty int shot\nelement face {m}\nproperty float quality\n\
             property list int uint vertex_index\nelement vertex {n}\n{properties}end_header\n"
        )
        .unwrap();
    } else {
        let properties = "property float x\nproperty float y\nproperty float z\nproperty float nx\nproperty float ny\n\
            property float nz\nproperty uchar red\nproperty uchar green\nproperty uchar blue\n";
        write!(
            out,
            "element vertex {n}\n{properties}element face {m}\nproperty list uchar int vertex_indices\nend_header\n"
        )
        .unwrap();
    }
    let mut w = Writer { out, order };
    if odd {
        for shot in 0..2 {
            w.f32(1.5);
            w.i32(shot);
            w.end();
        }
        for t in &sheet.triangles {
            w.f32(0.25);
            w.i32(3);
            for i in t {
                w.i32(i.cast_signed());
            }
            w.end();
        }
        for (i, (p, c)) in sheet.points.iter().zip(&sheet.colours).enumerate() {
            w.u8(c[2]);
            w.f64(f64::from(p[2]));
            let tags = (i % 3) as u8;
            w.u8(tags);
            for t in 0..tags {
                w.i16(-i16::from(t));
            }
            w.u8(c[0]);
            w.f32(p[1]);
            w.u8(c[1]);
            w.f64(f64::from(p[0]));
            w.end();
        }
    } else {
        for ((p, c), v) in sheet.points.iter().zip(&sheet.colours).zip(&sheet.normals) {
            for &x in p.iter().chain(v) {
                w.f32(x);
            }
            for &x in c {
                w.u8(x);
            }
            w.end();
        }
        for t in &sheet.triangles {
            w.u8(3);
            for i in t {
                w.i32(i.cast_signed());
            }
            w.end();
        }
    }
    w.out
}

/// Writes values as text or in either byte order.
struct Writer {
    out: Vec<u8>,
    order: PlyOrder,
}

macro_rules! values {
    ($($name:ident),+) => {$(
        fn $name(&mut self, value: $name) {
            match self.order {
                PlyOrder::Text => write!(self.out, "{value} ").unwrap(),
                PlyOrder::Little => self.out.extend(value.to_le_bytes()),
                PlyOrder::Big => self.out.extend(value.to_be_bytes()),
            }
        }
    )+};
}

impl Writer {
    values!(u8, i16, i32, f32, f64);

    fn end(&mut self) {
        if self.order == PlyOrder::Text {
            self.out.push(b'\n');
        }
    }
}

/// A table with a mark between columns and a decimal mark.
pub fn table(sheet: &Sheet, head: &str, between: &str, comma: bool) -> Vec<u8> {
    let mut out = String::from(head);
    for [x, y, z] in &sheet.points {
        let row = format!("{x:.4}{between}{y:.4}{between}{z:.4}\n");
        out += &if comma { row.replace('.', ",") } else { row };
    }
    out.into_bytes()
}

/// A folder that goes when it is dropped, and a file in it.
pub fn file(name: &str, bytes: &[u8]) -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join(name);
    std::fs::write(&path, bytes).unwrap();
    (folder, path)
}

/// What the readers make of bytes under a name.
pub fn read(name: &str, bytes: &[u8]) -> Result<record::RawScan, formats::Error> {
    let (_folder, path) = file(name, bytes);
    formats::read_scan(&path, &record::Quiet)
}
