//! Readers of scans.

use std::path::Path;

use formats::{Geometry, StlCorners, guess_unit, read_geometry, read_scan};
use libfuzzer_sys::Corpus;
use record::{Quiet, RawScan};

use crate::{bounded, files, kept_if, well_told};

/// STL, binary and text.
pub fn stl(data: &[u8]) -> Corpus {
    scan("a.stl", data, "STL")
}

/// PLY, text and both binary orders.
pub fn ply(data: &[u8]) -> Corpus {
    if !data.starts_with(b"ply") {
        return Corpus::Reject;
    }
    scan("a.ply", data, "PLY")
}

/// Tables of points.
pub fn table(data: &[u8]) -> Corpus {
    let read = scan("a.xyz", data, "");
    let another = [
        &b"ply"[..],
        b"solid",
        b"OFF",
        b"v ",
        b"VERSION",
        b"# .PCD",
        b"ASTM",
    ];
    kept_if(matches!(read, Corpus::Keep) && !another.iter().any(|a| data.starts_with(a)))
}

/// OBJ.
pub fn obj(data: &[u8]) -> Corpus {
    if !data.windows(2).any(|w| w == b"v ") {
        return Corpus::Reject;
    }
    scan("a.obj", data, "OBJ")
}

/// OFF with every head.
pub fn off(data: &[u8]) -> Corpus {
    if !data[..data.len().min(64)].windows(3).any(|w| w == b"OFF") {
        return Corpus::Reject;
    }
    scan("a.off", data, "OFF")
}

/// PCD, text, binary and compressed.
pub fn pcd(data: &[u8]) -> Corpus {
    if !data.starts_with(b"VERSION") && !data.starts_with(b"# .PCD") {
        return Corpus::Reject;
    }
    scan("a.pcd", data, "PCD")
}

/// E57, the checksums of its pages made right.
pub fn e57(data: &[u8]) -> Corpus {
    if !data.starts_with(b"ASTM-E57") {
        return Corpus::Reject;
    }
    let mut bytes = data.to_vec();
    crate::checksums::mend_pages(&mut bytes);
    scan("a.e57", &bytes, "E57")
}

fn scan(name: &str, data: &[u8], kind: &str) -> Corpus {
    let path = files::file(name, data);
    let of_the_kind = match bounded(data.len(), || read_scan(&path, &Quiet)) {
        Ok(scan) => {
            hangs_together(&scan);
            same_geometry(&path, &scan, data.len());
            bounded(data.len(), || guess_unit(&scan.points));
            scan.format.contains(kind)
        }
        Err(e) => {
            well_told(&e, true);
            let without = read_geometry(&path, StlCorners::Joined, &Quiet);
            assert!(without.is_err(), "read without its hash only: {e}");
            true
        }
    };
    if let Ok(apart) = bounded(data.len(), || {
        read_geometry(&path, StlCorners::Apart, &Quiet)
    }) {
        sound(&apart.points, &apart.triangles);
    }
    kept_if(of_the_kind)
}

fn sound(points: &geom::RawPoints, triangles: &[[u32; 3]]) {
    let n = points.len();
    assert!(n > 0, "nothing was read and nothing said");
    assert!((0..n).all(|i| points.get(i).iter().all(|c| c.is_finite())));
    assert!(triangles.iter().flatten().all(|&i| (i as usize) < n));
}

fn hangs_together(scan: &RawScan) {
    let n = scan.points.len();
    sound(&scan.points, &scan.triangles);
    for len in [scan.colours.len(), scan.normals.len(), scan.names.len()] {
        assert!(len == 0 || len == n, "{len} of {n} points");
    }
    assert!(scan.normals.iter().flatten().all(|c| c.is_finite()));
    assert!(!scan.format.is_empty() && !scan.hash.is_empty());
    for note in &scan.notes {
        assert!(
            !note.says.is_empty() && !note.says.contains('\n'),
            "{:?}",
            note.says
        );
    }
}

fn same_geometry(path: &Path, scan: &RawScan, input: usize) {
    let Geometry {
        points,
        triangles,
        apart,
    } = bounded(input, || read_geometry(path, StlCorners::Joined, &Quiet))
        .expect("what is read with its hash is read without");
    assert!(!apart && triangles == scan.triangles && points == scan.points);
}
