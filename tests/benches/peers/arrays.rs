//! Raw little-endian arrays: inputs in, results out. Not timed.

use std::io::{BufWriter, Write};
use std::path::Path;

use geom::{CutPiece, NearTriangle, Point, RawPoints};

/// A result as it lies in memory.
pub enum Array {
    F32x3(Vec<[f32; 3]>),
    F64x3(Vec<[f64; 3]>),
    F64(Vec<f64>),
    U32(Vec<u32>),
    U32x3(Vec<[u32; 3]>),
    Places(Vec<Point>),
    Pieces(Vec<CutPiece>),
    Distances(Vec<NearTriangle>),
    Near(Vec<geom::NearPoint>),
    Bool(Vec<bool>),
}

impl Array {
    /// Points of a file.
    pub fn points(points: RawPoints) -> Self {
        match points {
            RawPoints::F32(v) => Self::F32x3(v),
            RawPoints::F64(v) => Self::F64x3(v),
        }
    }

    /// Writes `NAME.kind` into `folder`.
    pub fn save(&self, folder: &Path, name: &str) -> Result<(), String> {
        let (kind, bytes): (&str, Box<dyn Iterator<Item = Vec<u8>> + '_>) = match self {
            Self::F32x3(v) => (
                "f32",
                Box::new(v.as_flattened().iter().map(|x| x.to_le_bytes().to_vec())),
            ),
            Self::F64x3(v) => (
                "f64",
                Box::new(v.as_flattened().iter().copied().map(double)),
            ),
            Self::F64(v) => ("f64", Box::new(v.iter().copied().map(double))),
            Self::U32(v) => ("u32", Box::new(v.iter().map(|x| x.to_le_bytes().to_vec()))),
            Self::U32x3(v) => (
                "u32",
                Box::new(v.as_flattened().iter().map(|x| x.to_le_bytes().to_vec())),
            ),
            Self::Places(v) => (
                "f64",
                Box::new(v.iter().flat_map(|p| p.iter().copied().map(double))),
            ),
            Self::Pieces(v) => (
                "f64",
                Box::new(
                    v.iter()
                        .flat_map(|p| p.ends.iter().flat_map(|e| e.iter().copied().map(double))),
                ),
            ),
            Self::Distances(v) => ("f64", Box::new(v.iter().map(|n| double(n.distance)))),
            Self::Near(v) => (
                "u32",
                Box::new(v.iter().map(|x| x.index.to_le_bytes().to_vec())),
            ),
            Self::Bool(v) => ("u8", Box::new(v.iter().map(|x| vec![u8::from(*x)]))),
        };
        let path = folder.join(format!("{name}.{kind}"));
        let write = || -> std::io::Result<()> {
            let mut file = BufWriter::with_capacity(1 << 20, std::fs::File::create(&path)?);
            for b in bytes {
                file.write_all(&b)?;
            }
            file.flush()
        };
        write().map_err(|e| format!("{}: {e}", path.display()))
    }
}

fn double(x: f64) -> Vec<u8> {
    x.to_le_bytes().to_vec()
}

fn bytes(data: &Path, name: &str) -> Result<Vec<u8>, String> {
    let path = data.join(name);
    std::fs::read(&path).map_err(|e| format!("{}: {e}", path.display()))
}

/// `NAME` as doubles.
pub fn doubles(data: &Path, name: &str) -> Result<Vec<f64>, String> {
    Ok(bytes(data, name)?
        .as_chunks::<8>()
        .0
        .iter()
        .map(|b| f64::from_le_bytes(*b))
        .collect())
}

/// `NAME` as points.
pub fn points(data: &Path, name: &str) -> Result<Vec<Point>, String> {
    Ok(doubles(data, name)?
        .as_chunks::<3>()
        .0
        .iter()
        .map(|p| Point::from(*p))
        .collect())
}

/// `NAME` as singles.
pub fn singles(data: &Path, name: &str) -> Result<Vec<f32>, String> {
    Ok(bytes(data, name)?
        .as_chunks::<4>()
        .0
        .iter()
        .map(|b| f32::from_le_bytes(*b))
        .collect())
}

/// `NAME` as whole numbers.
pub fn whole(data: &Path, name: &str) -> Result<Vec<u32>, String> {
    Ok(bytes(data, name)?
        .as_chunks::<4>()
        .0
        .iter()
        .map(|b| u32::from_le_bytes(*b))
        .collect())
}
