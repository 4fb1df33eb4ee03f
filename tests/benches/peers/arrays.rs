//! Raw little-endian arrays: inputs in, results out. Not timed.

use std::io::{BufWriter, Write};
use std::path::Path;

use geom::Point;

/// A result as it lies in memory.
pub enum Array {
    F32x3(Vec<[f32; 3]>),
    Near(Vec<geom::NearPoint>),
    Bool(Vec<bool>),
}

impl Array {
    /// Writes `NAME.kind` into `folder`.
    pub fn save(&self, folder: &Path, name: &str) -> Result<(), String> {
        let (kind, bytes): (&str, Box<dyn Iterator<Item = Vec<u8>> + '_>) = match self {
            Self::F32x3(v) => (
                "f32",
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
