//! Raw little-endian arrays: inputs in, results out. Not timed.

use std::io::{BufWriter, Write};
use std::path::Path;

use geom::Point;

/// A result as it lies in memory.
pub enum Array {
    #[allow(dead_code)]
    Points(Vec<Point>),
    F64(Vec<f64>),
    F32(Vec<f32>),
    F32x3(Vec<[f32; 3]>),
    U32(Vec<u32>),
    U32x3(Vec<[u32; 3]>),
    Near(Vec<geom::NearPoint>),
    Bool(Vec<bool>),
}

impl Array {
    /// Writes `NAME.kind` into `folder`.
    pub fn save(&self, folder: &Path, name: &str) -> Result<(), String> {
        let (kind, bytes): (&str, Box<dyn Iterator<Item = Vec<u8>> + '_>) = match self {
            Self::Points(v) => (
                "f64",
                Box::new(
                    v.iter()
                        .flat_map(|p| [p.x, p.y, p.z])
                        .map(|x| x.to_le_bytes().to_vec()),
                ),
            ),
            Self::F64(v) => ("f64", Box::new(v.iter().map(|x| x.to_le_bytes().to_vec()))),
            Self::F32(v) => ("f32", Box::new(v.iter().map(|x| x.to_le_bytes().to_vec()))),
            Self::F32x3(v) => (
                "f32",
                Box::new(v.as_flattened().iter().map(|x| x.to_le_bytes().to_vec())),
            ),
            Self::U32(v) => ("u32", Box::new(v.iter().map(|x| x.to_le_bytes().to_vec()))),
            Self::U32x3(v) => (
                "u32",
                Box::new(v.as_flattened().iter().map(|x| x.to_le_bytes().to_vec())),
            ),
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

/// `NAME` (i32) as triangles.
#[allow(dead_code)]
pub fn triangles(data: &Path, name: &str) -> Result<Vec<[u32; 3]>, String> {
    let all: Vec<u32> = bytes(data, name)?
        .as_chunks::<4>()
        .0
        .iter()
        .map(|b| u32::from_le_bytes(*b))
        .collect();
    Ok(all.as_chunks::<3>().0.to_vec())
}
