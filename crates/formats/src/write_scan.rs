//! Writes scans: binary PLY, binary STL, tables of points.
//!
//! All three write piece by piece, tell `at` after each, and leave no half-written file behind: after an error or when
//! called off the file is removed.

use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::Path;

use geom::RawPoints;
use rayon::prelude::*;
use record::{LengthUnit, Progress, RawScan, Stage};

use crate::Error;

/// Points or triangles between two calls of the progress.
const PIECE: usize = 1 << 16;
/// Bytes gathered before they go to the disk.
const BUFFER: usize = 1 << 20;
/// Digits after the point in a table of points.
const PLACES: u32 = 4;

/// Writes a scan as binary little-endian PLY: points in their own precision, normals and colours if there are any,
/// triangles, and the unit as a comment if the scan states one.
///
/// # Errors
/// With the path and a remedy; cancelled if `at` says so.
pub fn write_ply(path: &Path, scan: &RawScan, at: &dyn Progress) -> Result<Written, Error> {
    into_file(path, |out| ply(out, scan, at))
}

/// Writes the triangles of a scan as binary STL, with their normals; coordinates in single precision. STL has no unit,
/// no colour and no single points.
///
/// # Errors
/// With the path and a remedy; cancelled if `at` says so; too large for more than 2^32 - 1 triangles.
pub fn write_stl(path: &Path, scan: &RawScan, at: &dyn Progress) -> Result<Written, Error> {
    into_file(path, |out| stl(out, scan, at))
}

/// Writes the points of a scan as a table with a space between columns: x y z, then nx ny nz if the scan has normals;
/// four digits after the point. Triangles are left out.
///
/// # Errors
/// With the path and a remedy; cancelled if `at` says so.
pub fn write_xyz(path: &Path, scan: &RawScan, at: &dyn Progress) -> Result<Written, Error> {
    into_file(path, |out| xyz(out, scan, at))
}

/// What was written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Written {
    /// BLAKE3 of the bytes, hex; the same that reading the file gives.
    pub hash: String,
    /// Size of the file, bytes.
    pub bytes: u64,
}

/// Makes a folder and those above it, unless they are there.
///
/// # Errors
/// With the path and a remedy.
pub fn make_folder(path: &Path) -> Result<(), Error> {
    std::fs::create_dir_all(path).map_err(|e| Error::io("make the folder", e).in_file(path))
}

/// Hashes what goes by.
struct Hashed {
    file: File,
    hasher: blake3::Hasher,
    bytes: u64,
}

impl Write for Hashed {
    fn write(&mut self, piece: &[u8]) -> std::io::Result<usize> {
        let n = self.file.write(piece)?;
        self.hasher.update(&piece[..n]);
        self.bytes += n as u64;
        Ok(n)
    }

    fn flush(&mut self) -> std::io::Result<()> {
        self.file.flush()
    }
}

type Out = BufWriter<Hashed>;

fn into_file(
    path: &Path,
    write: impl FnOnce(&mut Out) -> Result<(), Error>,
) -> Result<Written, Error> {
    let file = File::create(path).map_err(|e| Error::io("write", e).in_file(path))?;
    let hashed = Hashed {
        file,
        hasher: blake3::Hasher::new(),
        bytes: 0,
    };
    let mut out = BufWriter::with_capacity(BUFFER, hashed);
    let result = write(&mut out).and_then(|()| out.flush().map_err(|e| Error::io("write", e)));
    let written = Written {
        hash: out.get_ref().hasher.finalize().to_hex().to_string(),
        bytes: out.get_ref().bytes,
    };
    // Closed before it is removed: some systems do not remove an open file.
    drop(out.into_parts());
    match result {
        Ok(()) => Ok(written),
        Err(e) => {
            // What matters is why it failed; a half file that cannot be removed either is no further news.
            let _ = std::fs::remove_file(path);
            Err(e.in_file(path))
        }
    }
}

fn put(out: &mut Out, bytes: &[u8]) -> Result<(), Error> {
    out.write_all(bytes).map_err(|e| Error::io("write", e))
}

fn unit_word(unit: LengthUnit) -> &'static str {
    match unit {
        LengthUnit::Inch => "inch",
        other => other.word(),
    }
}

fn ply_header(scan: &RawScan) -> String {
    use std::fmt::Write as _;
    let float = match scan.points {
        RawPoints::F32(_) => "float",
        RawPoints::F64(_) => "double",
    };
    let mut h = String::from("ply\nformat binary_little_endian 1.0\n");
    if let Some(unit) = scan.unit {
        let _ = writeln!(h, "comment unit {}", unit_word(unit));
    }
    let _ = writeln!(h, "element vertex {}", scan.points.len());
    for name in ["x", "y", "z"] {
        let _ = writeln!(h, "property {float} {name}");
    }
    if !scan.normals.is_empty() {
        h.push_str("property float nx\nproperty float ny\nproperty float nz\n");
    }
    if !scan.colours.is_empty() {
        h.push_str("property uchar red\nproperty uchar green\nproperty uchar blue\n");
    }
    if !scan.triangles.is_empty() {
        let _ = writeln!(h, "element face {}", scan.triangles.len());
        h.push_str("property list uchar uint vertex_indices\n");
    }
    h.push_str("end_header\n");
    h
}

fn ply(out: &mut Out, scan: &RawScan, at: &dyn Progress) -> Result<(), Error> {
    let (points, faces) = (scan.points.len(), scan.triangles.len());
    put(out, ply_header(scan).as_bytes())?;
    for i in 0..points {
        if i % PIECE == 0 {
            at.at(Stage::Write, i, points + faces)?;
        }
        match &scan.points {
            RawPoints::F32(v) => put(out, &v[i].map(f32::to_le_bytes).concat())?,
            RawPoints::F64(v) => put(out, &v[i].map(f64::to_le_bytes).concat())?,
        }
        if let Some(n) = scan.normals.get(i) {
            put(out, &n.map(f32::to_le_bytes).concat())?;
        }
        if let Some(c) = scan.colours.get(i) {
            put(out, c)?;
        }
    }
    for (i, t) in scan.triangles.iter().enumerate() {
        if i % PIECE == 0 {
            at.at(Stage::Write, points + i, points + faces)?;
        }
        put(out, &[3])?;
        put(out, &t.map(u32::to_le_bytes).concat())?;
    }
    Ok(())
}

fn stl(out: &mut Out, scan: &RawScan, at: &dyn Progress) -> Result<(), Error> {
    let total = scan.triangles.len();
    let count = u32::try_from(total)
        .map_err(|_| Error::too_large(format!("{total} triangles, STL holds 4294967295")))?;
    // The header must not begin with "solid": readers would take the file for text.
    let mut header = [b' '; 80];
    header[..15].copy_from_slice(b"binary STL scan");
    put(out, &header)?;
    put(out, &count.to_le_bytes())?;
    for (i, t) in scan.triangles.iter().enumerate() {
        if i % PIECE == 0 {
            at.at(Stage::Write, i, total)?;
        }
        let [a, b, c] = t.map(|v| scan.points.get(v as usize));
        let n = (b - a)
            .cross(&(c - a))
            .try_normalize(0.0)
            .unwrap_or_default();
        let mut facet = [0u8; 50];
        let numbers = [n.x, n.y, n.z, a.x, a.y, a.z, b.x, b.y, b.z, c.x, c.y, c.z];
        for (place, v) in facet.chunks_exact_mut(4).zip(numbers) {
            place.copy_from_slice(&(v as f32).to_le_bytes());
        }
        put(out, &facet)?;
    }
    Ok(())
}

fn xyz(out: &mut Out, scan: &RawScan, at: &dyn Progress) -> Result<(), Error> {
    let total = scan.points.len();
    // Lines are made for many points at once and written in order.
    let batch = PIECE * rayon::current_num_threads();
    for from in (0..total).step_by(batch) {
        at.at(Stage::Write, from, total)?;
        let pieces: Vec<Vec<u8>> = (from..(from + batch).min(total))
            .into_par_iter()
            .chunks(PIECE)
            .map(|slots| {
                let mut text = Vec::with_capacity(64 * slots.len());
                for i in slots {
                    line(&mut text, scan, i);
                }
                text
            })
            .collect();
        for p in &pieces {
            put(out, p)?;
        }
    }
    Ok(())
}

fn line(text: &mut Vec<u8>, scan: &RawScan, i: usize) {
    let p = scan.points.get(i);
    for (k, v) in [p.x, p.y, p.z].into_iter().enumerate() {
        if k > 0 {
            text.push(b' ');
        }
        fixed(text, v);
    }
    if let Some(n) = scan.normals.get(i) {
        for v in n {
            text.push(b' ');
            fixed(text, f64::from(*v));
        }
    }
    text.push(b'\n');
}

/// A number with [`PLACES`] digits after the point.
fn fixed(text: &mut Vec<u8>, v: f64) {
    let scaled = (v * f64::from(10u32.pow(PLACES))).round();
    if !scaled.is_finite() || scaled.abs() >= 9e15 {
        // Not a place on any car; written so that a reader can refuse it.
        text.extend_from_slice(format!("{v}").as_bytes());
        return;
    }
    let sign = if scaled < 0.0 { "-" } else { "" };
    let (all, one) = (scaled.abs() as u64, 10u64.pow(PLACES));
    let (whole, part) = (all / one, all % one);
    // Writing into memory does not fail.
    let _ = write!(
        text,
        "{sign}{whole}.{part:0width$}",
        width = PLACES as usize
    );
}

#[cfg(test)]
mod tests {
    use record::{Cancelled, Quiet};

    use super::*;
    use crate::read_scan;

    fn scan() -> RawScan {
        RawScan {
            name: String::new(),
            format: String::new(),
            hash: String::new(),
            bytes: 0,
            points: RawPoints::F32(vec![
                [0.0, 0.5, -1200.25],
                [10.0, 0.0, 0.125],
                [0.0, 10.0, 0.0],
                [12.0, 11.0, 3.0],
            ]),
            triangles: vec![[0, 1, 2], [2, 1, 3]],
            colours: vec![[1, 2, 3], [4, 5, 6], [7, 8, 9], [250, 251, 252]],
            normals: vec![
                [0.0, 0.0, 1.0],
                [0.0, 0.6, 0.8],
                [1.0, 0.0, 0.0],
                [0.0, -1.0, 0.0],
            ],
            names: Vec::new(),
            unit: Some(LengthUnit::Inch),
            notes: Vec::new(),
        }
    }

    #[test]
    fn ply_comes_back_whole() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("a.ply");
        let s = scan();
        let written = write_ply(&path, &s, &Quiet).unwrap();
        let r = read_scan(&path, &Quiet).unwrap();
        assert_eq!((&r.hash, r.bytes), (&written.hash, written.bytes));
        assert_eq!((&r.points, &r.triangles), (&s.points, &s.triangles));
        assert_eq!(
            (&r.colours, &r.normals, r.unit),
            (&s.colours, &s.normals, s.unit)
        );
        let doubles = RawScan {
            points: RawPoints::F64(vec![[0.1, 0.2, 0.3]]),
            triangles: Vec::new(),
            colours: Vec::new(),
            normals: Vec::new(),
            unit: Some(LengthUnit::Metre),
            ..s
        };
        write_ply(&path, &doubles, &Quiet).unwrap();
        let r = read_scan(&path, &Quiet).unwrap();
        assert_eq!(
            (r.points, r.unit),
            (doubles.points, Some(LengthUnit::Metre))
        );
    }

    #[test]
    fn stl_comes_back_with_its_corners_joined() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("a.stl");
        let s = scan();
        write_stl(&path, &s, &Quiet).unwrap();
        let r = read_scan(&path, &Quiet).unwrap();
        assert_eq!((&r.points, &r.triangles), (&s.points, &s.triangles));
        assert!(r.notes.is_empty(), "{:?}", r.notes);
    }

    #[test]
    fn a_table_of_points_comes_back_to_four_digits() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("a.xyz");
        let s = scan();
        write_xyz(&path, &s, &Quiet).unwrap();
        let r = read_scan(&path, &Quiet).unwrap();
        assert_eq!(r.points.len(), 4);
        for i in 0..4 {
            assert!((r.points.get(i) - s.points.get(i)).norm() < 1e-4);
        }
        assert_eq!(r.normals.len(), 4);
    }

    #[test]
    fn numbers_are_written_as_rust_writes_them() {
        for v in [
            0.0,
            0.00004,
            0.00006,
            -0.00006,
            0.1,
            1.0,
            -1.5,
            9.99995,
            10.0,
            123_456.789_01,
            -3000.00049,
            1e11,
            f64::NAN,
            1e300,
        ] {
            let mut text = Vec::new();
            fixed(&mut text, v);
            let text = String::from_utf8(text).unwrap();
            if v.is_nan() {
                assert_eq!(text, "NaN");
            } else {
                let back: f64 = text.parse().unwrap();
                assert!((back - v).abs() <= 0.500_01e-4 || back == v, "{v} {text}");
                assert!(
                    v > 1e15 || text.rsplit('.').next().unwrap().len() == 4,
                    "{text}"
                );
            }
        }
    }

    #[test]
    fn called_off_it_leaves_nothing() {
        struct Stop;
        impl Progress for Stop {
            fn at(&self, _: Stage, _: usize, _: usize) -> Result<(), Cancelled> {
                Err(Cancelled)
            }
        }
        let dir = tempfile::tempdir().unwrap();
        for (name, write) in [
            (
                "a.ply",
                write_ply as fn(&Path, &RawScan, &dyn Progress) -> _,
            ),
            ("a.stl", write_stl),
            ("a.xyz", write_xyz),
        ] {
            let path = dir.path().join(name);
            let e: Error = write(&path, &scan(), &Stop).unwrap_err();
            assert!(e.is_cancelled());
            assert!(!path.exists());
        }
        let e = write_ply(&dir.path().join("no/such/folder.ply"), &scan(), &Quiet).unwrap_err();
        assert!(e.is_not_found());
    }
}
