//! Prepared scans kept on disk, so that a job opens quickly the second time.
//!
//! A kept scan is a convenience: it can be deleted at any time, it is read only if it was made by the same version from the
//! same bytes in the same unit, and its checksum holds; else the scan is prepared anew. Numbers are written least byte
//! first. After eight bytes that name the format come the version, what the scan was made from, what is known of it, the
//! parts of its blocks, triangles and loops, and the BLAKE3 of all of it.

use std::fs::File;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};

use geom::{Blocks, BlocksParts, Point};
use record::{BoundaryLoop, Code, Finding, LengthUnit, Number, Prepared, Quantity, Severity};

use crate::Error;
use crate::atomic_save::atomic_stream;

const HEAD: &[u8; 8] = b"unmirrS1";
/// Grows whenever preparing gives other results, or the format changes.
const VERSION: &str = concat!(env!("CARGO_PKG_VERSION"), ".1");
/// Bytes handled at a time.
const PIECE: usize = 1 << 20;
/// No text in it is longer.
const LONGEST_TEXT: u64 = 1 << 20;

/// Where the scans of a job are kept: a folder beside the job file.
pub fn kept_folder(job: &Path) -> PathBuf {
    let mut name = job.file_name().unwrap_or_default().to_owned();
    name.push(".kept");
    job.with_file_name(name)
}

/// Where in `folder` the scan of a file is kept: by the hash of the file and its unit.
pub fn kept_scan_path(folder: &Path, hash: &str, unit: LengthUnit) -> PathBuf {
    let short = hash.get(..32).unwrap_or(hash);
    folder.join(format!("{short}-{}.scan", unit.word()))
}

/// BLAKE3 of a file, hex; `go_on` is asked between pieces, `Ok(None)`: it said no.
///
/// # Errors
/// With the path and a remedy.
pub fn file_hash(path: &Path, go_on: &dyn Fn() -> bool) -> Result<Option<String>, Error> {
    let hash = || -> std::io::Result<Option<String>> {
        let mut file = File::open(path)?;
        let mut hasher = blake3::Hasher::new();
        let mut piece = vec![0; PIECE];
        loop {
            if !go_on() {
                return Ok(None);
            }
            match file.read(&mut piece)? {
                0 => return Ok(Some(hasher.finalize().to_hex().to_string())),
                n => {
                    hasher.update(&piece[..n]);
                }
            }
        }
    };
    hash().map_err(|e| Error::io("read", e).in_file(path))
}

/// Keeps a prepared scan, whole or not at all.
///
/// # Errors
/// With the path and a remedy.
pub fn keep_scan(scan: &Prepared, unit: LengthUnit, path: &Path) -> Result<(), Error> {
    atomic_stream(path, |file| {
        let mut out = Out {
            to: file,
            hasher: blake3::Hasher::new(),
            piece: Vec::with_capacity(PIECE + 64),
        };
        out.scan(scan, unit)?;
        out.flush()?;
        let sum = *out.hasher.finalize().as_bytes();
        file.write_all(&sum)
    })
}

/// Reads a kept scan back; `None` if there is none, if it was made from another file, in another unit or by another
/// version, or if it is damaged. A scan that comes back is the very one that was kept.
pub fn read_kept_scan(path: &Path, hash: &str, unit: LengthUnit) -> Option<Prepared> {
    let file = File::open(path).ok()?;
    let left = file.metadata().ok()?.len().checked_sub(32)?;
    let mut from = In {
        from: file,
        hasher: blake3::Hasher::new(),
        left,
        piece: vec![0; PIECE],
    };
    let scan = from.scan(hash, unit)?;
    let mut sum = [0; 32];
    from.from.read_exact(&mut sum).ok()?;
    (from.left == 0 && *from.hasher.finalize().as_bytes() == sum).then_some(scan)
}

struct Out<'a> {
    to: &'a mut dyn Write,
    hasher: blake3::Hasher,
    piece: Vec<u8>,
}

impl Out<'_> {
    fn flush(&mut self) -> std::io::Result<()> {
        self.hasher.update(&self.piece);
        self.to.write_all(&self.piece)?;
        self.piece.clear();
        Ok(())
    }

    fn bytes(&mut self, bytes: &[u8]) -> std::io::Result<()> {
        self.piece.extend_from_slice(bytes);
        if self.piece.len() >= PIECE {
            self.flush()?;
        }
        Ok(())
    }

    fn number(&mut self, n: u64) -> std::io::Result<()> {
        self.bytes(&n.to_le_bytes())
    }

    fn real(&mut self, x: f64) -> std::io::Result<()> {
        self.bytes(&x.to_le_bytes())
    }

    fn text(&mut self, text: &str) -> std::io::Result<()> {
        self.number(text.len() as u64)?;
        self.bytes(text.as_bytes())
    }

    /// A list of things of `N` bytes.
    fn list<T: Copy, const N: usize>(
        &mut self,
        list: &[T],
        bytes: impl Fn(T) -> [u8; N],
    ) -> std::io::Result<()> {
        self.number(list.len() as u64)?;
        for x in list {
            self.bytes(&bytes(*x))?;
        }
        Ok(())
    }

    fn scan(&mut self, s: &Prepared, unit: LengthUnit) -> std::io::Result<()> {
        self.bytes(HEAD)?;
        self.text(VERSION)?;
        for text in [&s.hash, unit.word(), &s.name, &s.format] {
            self.text(text)?;
        }
        self.real(s.spacing_mm)?;
        self.number(s.notes.len() as u64)?;
        for note in &s.notes {
            self.note(note)?;
        }
        self.number(s.blocks.blocks().len() as u64)?;
        for b in s.blocks.blocks() {
            for x in b.origin.iter() {
                self.real(*x)?;
            }
            self.number(u64::from(b.len))?;
        }
        self.list(s.blocks.offsets(), |o| bytes_of_three(o.map(f32::to_bits)))?;
        self.list(s.blocks.colours(), |c| c)?;
        self.list(s.blocks.packed_normals(), u32::to_le_bytes)?;
        self.list(s.blocks.indices(), u32::to_le_bytes)?;
        self.list(&s.triangles, bytes_of_three)?;
        self.number(s.loops.len() as u64)?;
        for l in &s.loops {
            self.number(u64::from(l.closed))?;
            self.list(&l.slots, u32::to_le_bytes)?;
        }
        Ok(())
    }

    fn note(&mut self, note: &Finding) -> std::io::Result<()> {
        self.text(note.code.word())?;
        self.number(note.severity as u64)?;
        for text in [&note.subject, &note.says, &note.advice] {
            self.text(text)?;
        }
        self.number(note.numbers.len() as u64)?;
        for n in &note.numbers {
            self.text(&n.name)?;
            self.real(n.value)?;
            self.text(n.quantity.map_or("", Quantity::unit))?;
        }
        Ok(())
    }
}

fn bytes_of_three(v: [u32; 3]) -> [u8; 12] {
    let mut out = [0; 12];
    for (to, x) in out.chunks_exact_mut(4).zip(v) {
        to.copy_from_slice(&x.to_le_bytes());
    }
    out
}

struct In {
    from: File,
    hasher: blake3::Hasher,
    /// Bytes left before the checksum.
    left: u64,
    piece: Vec<u8>,
}

impl In {
    fn exact<const N: usize>(&mut self) -> Option<[u8; N]> {
        self.left = self.left.checked_sub(N as u64)?;
        let mut out = [0; N];
        self.from.read_exact(&mut out).ok()?;
        self.hasher.update(&out);
        Some(out)
    }

    fn number(&mut self) -> Option<u64> {
        self.exact().map(u64::from_le_bytes)
    }

    fn real(&mut self) -> Option<f64> {
        self.exact().map(f64::from_le_bytes)
    }

    /// A length of things of at least `size` bytes each: no more than what is left can hold.
    fn length(&mut self, size: u64) -> Option<usize> {
        let n = self.number()?;
        (n <= self.left / size.max(1)).then_some(n as usize)
    }

    fn text(&mut self) -> Option<String> {
        let n = self.length(1)?;
        if n as u64 > LONGEST_TEXT {
            return None;
        }
        let mut bytes = vec![0; n];
        self.left -= n as u64;
        self.from.read_exact(&mut bytes).ok()?;
        self.hasher.update(&bytes);
        String::from_utf8(bytes).ok()
    }

    /// A list of things of `N` bytes.
    fn list<T: Send, const N: usize>(
        &mut self,
        of: impl Fn([u8; N]) -> T + Sync,
    ) -> Option<Vec<T>> {
        let n = self.length(N as u64)?;
        let mut out = Vec::with_capacity(n);
        let each = PIECE / N * N;
        while out.len() < n {
            let bytes = each.min((n - out.len()) * N);
            let piece = &mut self.piece[..bytes];
            self.from.read_exact(piece).ok()?;
            self.left -= bytes as u64;
            let (hasher, read) = (&mut self.hasher, &self.piece[..bytes]);
            rayon::join(
                || {
                    hasher.update(read);
                },
                || out.extend(read.as_chunks::<N>().0.iter().map(|c| of(*c))),
            );
        }
        Some(out)
    }

    fn scan(&mut self, hash: &str, unit: LengthUnit) -> Option<Prepared> {
        if self.exact::<8>()? != *HEAD || self.text()? != VERSION {
            return None;
        }
        if self.text()? != hash || self.text()? != unit.word() {
            return None;
        }
        let (name, format) = (self.text()?, self.text()?);
        let spacing_mm = self.real()?;
        let notes = (0..self.length(1)?)
            .map(|_| self.note())
            .collect::<Option<_>>()?;
        let blocks = (0..self.length(32)?)
            .map(|_| {
                let origin = Point::new(self.real()?, self.real()?, self.real()?);
                Some((origin, u32::try_from(self.number()?).ok()?))
            })
            .collect::<Option<_>>()?;
        let parts = BlocksParts {
            blocks,
            offsets: self.list(|b| three(b).map(f32::from_bits))?,
            colours: self.list(|c: [u8; 3]| c)?,
            normals: self.list(u32::from_le_bytes)?,
            indices: self.list(u32::from_le_bytes)?,
        };
        let n = parts.offsets.len() as u64;
        let triangles = self.list(three)?;
        if triangles.iter().flatten().any(|s| u64::from(*s) >= n) {
            return None;
        }
        let loops = (0..self.length(16)?)
            .map(|_| {
                let closed = match self.number()? {
                    0 => false,
                    1 => true,
                    _ => return None,
                };
                let slots: Vec<u32> = self.list(u32::from_le_bytes)?;
                let inside = slots.iter().all(|s| u64::from(*s) < n);
                inside.then_some(BoundaryLoop { slots, closed })
            })
            .collect::<Option<_>>()?;
        Some(Prepared {
            name,
            format,
            hash: hash.to_owned(),
            blocks: Blocks::from_parts(parts)?,
            triangles,
            loops,
            spacing_mm,
            notes,
        })
    }

    fn note(&mut self) -> Option<Finding> {
        let word = self.text()?;
        let code = *Code::ALL.iter().find(|c| c.word() == word)?;
        let severity = match self.number()? {
            0 => Severity::Note,
            1 => Severity::Doubt,
            2 => Severity::Stop,
            _ => return None,
        };
        let (subject, says, advice) = (self.text()?, self.text()?, self.text()?);
        let numbers = (0..self.length(1)?)
            .map(|_| {
                let (name, value, unit) = (self.text()?, self.real()?, self.text()?);
                let quantity = QUANTITIES.iter().find(|q| q.unit() == unit).copied();
                (quantity.is_some() || unit.is_empty()).then_some(Number {
                    name,
                    value,
                    quantity,
                })
            })
            .collect::<Option<_>>()?;
        Some(Finding {
            code,
            severity,
            subject,
            says,
            advice,
            numbers,
        })
    }
}

const QUANTITIES: [Quantity; 5] = [
    Quantity::Length,
    Quantity::Angle,
    Quantity::TwistRate,
    Quantity::Area,
    Quantity::Percent,
];

fn three(bytes: [u8; 12]) -> [u32; 3] {
    let (words, _) = bytes.as_chunks::<4>();
    [0, 1, 2].map(|i| u32::from_le_bytes(words[i]))
}

#[cfg(test)]
mod tests {
    use geom::RawPoints;

    use super::*;

    fn scan() -> Prepared {
        let points: Vec<[f64; 3]> = (0..9000)
            .map(|i| {
                [
                    f64::from(i % 100),
                    f64::from(i / 100),
                    f64::from(i % 7) * 0.01,
                ]
            })
            .collect();
        let n = points.len();
        let mut blocks = Blocks::build(
            RawPoints::F64(points),
            1.0,
            vec![[9, 8, 7]; n],
            Vec::new(),
            &|| true,
        )
        .unwrap();
        blocks
            .set_normals(&vec![[0.0, 0.6, 0.8]; n], &|| true)
            .unwrap();
        Prepared {
            name: "left.ply".to_owned(),
            format: "binary PLY".to_owned(),
            hash: "ab".repeat(32),
            blocks,
            triangles: vec![[0, 1, 2], [8999, 17, 4096]],
            loops: vec![BoundaryLoop {
                slots: vec![3, 4, 5],
                closed: true,
            }],
            spacing_mm: 0.1 + 0.2,
            notes: vec![Finding {
                code: Code::ReadingNote,
                severity: Severity::Doubt,
                subject: "left.ply".to_owned(),
                says: "3 points were left out.".to_owned(),
                advice: String::new(),
                numbers: vec![Number {
                    name: "count".to_owned(),
                    value: 3.0,
                    quantity: None,
                }],
            }],
        }
    }

    fn same(a: &Prepared, b: &Prepared) -> bool {
        let words = |p: &Prepared| (p.name.clone(), p.format.clone(), p.hash.clone());
        words(a) == words(b)
            && a.blocks == b.blocks
            && a.triangles == b.triangles
            && a.loops == b.loops
            && a.spacing_mm.to_bits() == b.spacing_mm.to_bits()
            && a.notes == b.notes
    }

    #[test]
    fn what_is_kept_comes_back() {
        let folder = tempfile::tempdir().unwrap();
        let scan = scan();
        let unit = LengthUnit::Millimetre;
        let path = kept_scan_path(folder.path(), &scan.hash, unit);
        assert!(read_kept_scan(&path, &scan.hash, unit).is_none());
        keep_scan(&scan, unit, &path).unwrap();
        let back = read_kept_scan(&path, &scan.hash, unit).unwrap();
        assert!(same(&back, &scan));
        assert!(read_kept_scan(&path, &"cd".repeat(32), unit).is_none());
        assert!(read_kept_scan(&path, &scan.hash, LengthUnit::Inch).is_none());
    }

    #[test]
    fn a_damaged_one_does_not() {
        let folder = tempfile::tempdir().unwrap();
        let scan = scan();
        let unit = LengthUnit::Millimetre;
        let path = folder.path().join("a.scan");
        keep_scan(&scan, unit, &path).unwrap();
        let good = std::fs::read(&path).unwrap();
        let step = good.len() / 400;
        for at in (0..good.len()).step_by(step.max(1)) {
            let mut bad = good.clone();
            bad[at] ^= 1;
            std::fs::write(&path, &bad).unwrap();
            assert!(read_kept_scan(&path, &scan.hash, unit).is_none(), "{at}");
            std::fs::write(&path, &good[..at]).unwrap();
            assert!(
                read_kept_scan(&path, &scan.hash, unit).is_none(),
                "cut {at}"
            );
        }
    }

    #[test]
    fn corners_beyond_the_points_do_not_even_with_a_right_checksum() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.scan");
        let unit = LengthUnit::Millimetre;
        let mut scan = scan();
        scan.triangles[1][2] = scan.blocks.len() as u32;
        keep_scan(&scan, unit, &path).unwrap();
        assert!(read_kept_scan(&path, &scan.hash, unit).is_none());
    }

    #[test]
    fn a_loop_is_open_or_closed_even_with_a_right_checksum() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.scan");
        let unit = LengthUnit::Millimetre;
        let scan = scan();
        keep_scan(&scan, unit, &path).unwrap();
        let mut bytes = std::fs::read(&path).unwrap();
        let slots = scan.loops.last().unwrap().slots.len();
        let (end, last) = (bytes.len() - 32, bytes.len() - 32 - 4 * slots - 16);
        for (closed, comes_back) in [(0, true), (1, true), (2, false)] {
            bytes[last] = closed;
            let sum = blake3::hash(&bytes[..end]);
            bytes[end..].copy_from_slice(sum.as_bytes());
            std::fs::write(&path, &bytes).unwrap();
            let back = read_kept_scan(&path, &scan.hash, unit);
            assert_eq!(back.is_some(), comes_back, "{closed}");
        }
    }

    #[test]
    fn the_hash_of_a_file_is_that_of_its_bytes() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a");
        // Test vector of the BLAKE3 specification: the hash of no input.
        std::fs::write(&path, b"").unwrap();
        let hash = file_hash(&path, &|| true).unwrap().unwrap();
        assert!(
            hash.starts_with("af1349b9f5f9a1a6a0404dea36dcc949"),
            "{hash}"
        );
        assert_eq!(file_hash(&path, &|| false).unwrap(), None);
        assert!(file_hash(&folder.path().join("none"), &|| true).is_err());
    }
}
