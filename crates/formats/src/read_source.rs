//! A file read in pieces, with its hash, its progress and its cancelling.

use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};

use record::{Progress, Stage};

use crate::Error;

/// Bytes asked of the disk at a time where all cores work on them.
pub(crate) const PIECE: usize = 1 << 20;
/// Bytes asked at a time otherwise: they stay in the nearest caches.
pub(crate) const SMALL_PIECE: usize = 1 << 18;

/// A file seen through a sliding window of bytes. Every byte is hashed once, on the way in.
///
/// No memory map: a stick pulled out while a map is read ends the program, a failed read is an [`Error`].
pub(crate) struct Source<'a> {
    file: File,
    size: u64,
    read: u64,
    /// None where nobody asks for the hash.
    hasher: Option<blake3::Hasher>,
    piece: usize,
    buffer: Vec<u8>,
    from: usize,
    to: usize,
    at: &'a dyn Progress,
    path: PathBuf,
}

impl<'a> Source<'a> {
    /// Opens a plain file. Folders and devices are refused: reading them may never end.
    pub fn open(path: &Path, at: &'a dyn Progress) -> Result<Self, Error> {
        let about = std::fs::metadata(path).map_err(|e| Error::io("read", e))?;
        if !about.is_file() {
            let hint = "give the path of a scan: STL, PLY, OBJ, E57 or XYZ";
            return Err(
                Error::unknown_format("expected a file, found a folder or a device").hinting(hint),
            );
        }
        let file = File::open(path).map_err(|e| Error::io("read", e))?;
        Ok(Self {
            file,
            size: about.len(),
            read: 0,
            hasher: Some(blake3::Hasher::new()),
            piece: SMALL_PIECE,
            buffer: Vec::new(),
            from: 0,
            to: 0,
            at,
            path: path.to_owned(),
        })
    }

    /// The same without the hash: [`Self::finish`] then gives an empty one and reads no further.
    pub fn without_hash(mut self) -> Self {
        self.hasher = None;
        self
    }

    /// From here on asks for more at a time, to be worked on by all cores.
    pub fn in_large_pieces(&mut self) {
        self.piece = PIECE;
    }

    /// The file opened once more, for readers that go back and forth in it; its bytes are hashed here as before.
    pub fn again(&self) -> Result<File, Error> {
        File::open(&self.path).map_err(|e| Error::io("read", e))
    }

    /// Who is told how far it is.
    pub fn progress(&self) -> &'a dyn Progress {
        self.at
    }

    /// Size of the file when it was opened, bytes.
    pub fn size(&self) -> u64 {
        self.size
    }

    /// Place of the window in the file, bytes from its start.
    pub fn offset(&self) -> u64 {
        self.read - self.window().len() as u64
    }

    /// Bytes from the start of the window to the end of the file.
    pub fn left(&self) -> u64 {
        self.size - self.offset()
    }

    /// What has been read and not yet been used.
    pub fn window(&self) -> &[u8] {
        &self.buffer[self.from..self.to]
    }

    /// Whether the window reaches to the end of the file.
    pub fn is_last(&self) -> bool {
        self.read == self.size
    }

    /// Moves the start of the window on.
    pub fn consume(&mut self, bytes: usize) {
        self.from = (self.from + bytes).min(self.to);
    }

    /// Lengthens the window by up to a piece; `false` at the end of the file.
    pub fn more(&mut self) -> Result<bool, Error> {
        let want = self
            .piece
            .min(usize::try_from(self.size - self.read).unwrap_or(PIECE));
        if want == 0 {
            return Ok(false);
        }
        self.buffer.copy_within(self.from..self.to, 0);
        self.to -= self.from;
        self.from = 0;
        if self.buffer.len() < self.to + want {
            self.buffer.resize(self.to + want, 0);
        }
        let to = self.to;
        self.fetch(|buffer| &mut buffer[to..to + want])?;
        self.to += want;
        Ok(true)
    }

    /// Fills a place (in the buffer, which it is shown, or elsewhere) with the next bytes of the file.
    fn fetch<'t>(
        &'t mut self,
        place: impl FnOnce(&'t mut [u8]) -> &'t mut [u8],
    ) -> Result<(), Error> {
        let Self {
            file,
            buffer,
            hasher,
            size,
            read,
            at,
            ..
        } = self;
        let to = place(buffer);
        let mut got = 0;
        while got < to.len() {
            match file.read(&mut to[got..]) {
                Ok(0) => {
                    let says = format!("the file ended at byte {} of {size}", *read + got as u64);
                    return Err(Error::truncated(says).hinting(
                        "it changed while it was read: wait until it is written, then try again",
                    ));
                }
                Ok(n) => got += n,
                Err(e) if e.kind() == std::io::ErrorKind::Interrupted => {}
                Err(e) => return Err(Error::io("read", e)),
            }
        }
        if let Some(hasher) = hasher {
            hasher.update(to);
        }
        *read += got as u64;
        at.at(Stage::Read, *read as usize, *size as usize)?;
        Ok(())
    }

    /// Moves the next bytes of the file to where they stay: what the window holds, then straight from the disk.
    /// `to` is no longer than what is left; it is best a few hundred KiB long, so that what is looked at afterwards
    /// is still near by.
    pub fn take_into(&mut self, to: &mut [u8]) -> Result<(), Error> {
        let held = self.window().len().min(to.len());
        to[..held].copy_from_slice(&self.window()[..held]);
        self.consume(held);
        let rest = &mut to[held..];
        if rest.is_empty() {
            return Ok(());
        }
        self.fetch(|_| rest)
    }

    /// Lengthens the window until it holds `bytes`; `false` if the file ends before that.
    pub fn at_least(&mut self, bytes: usize) -> Result<bool, Error> {
        while self.window().len() < bytes {
            if !self.more()? {
                return Ok(false);
            }
        }
        Ok(true)
    }

    /// Reads what is left and gives the hash of the whole file, hex.
    pub fn finish(mut self) -> Result<String, Error> {
        while self.hasher.is_some() {
            self.consume(usize::MAX - self.from);
            if !self.more()? {
                break;
            }
        }
        Ok(self
            .hasher
            .map(|h| h.finalize().to_hex().to_string())
            .unwrap_or_default())
    }
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use record::{Cancelled, Quiet};
    use std::io::Write;
    use std::sync::atomic::{AtomicUsize, Ordering};

    /// A file that holds `bytes` and is removed when dropped.
    pub(crate) fn file_of(bytes: &[u8]) -> tempfile::NamedTempFile {
        let mut file = tempfile::NamedTempFile::new().unwrap();
        file.write_all(bytes).unwrap();
        file.flush().unwrap();
        file
    }

    #[test]
    fn hashes_every_byte_once_however_the_window_moves() {
        let bytes: Vec<u8> = (0..3 * PIECE + 17).map(|i| (i % 251) as u8).collect();
        let file = file_of(&bytes);
        for step in [1, 1000, PIECE, 2 * PIECE] {
            let mut source = Source::open(file.path(), &Quiet).unwrap();
            assert!(source.at_least(2 * PIECE).unwrap());
            assert_eq!(source.window(), &bytes[..2 * PIECE]);
            source.consume(step);
            assert_eq!(source.offset(), step as u64);
            assert!(source.more().unwrap());
            assert_eq!(source.window()[0], bytes[step % bytes.len()]);
            assert_eq!(
                source.finish().unwrap(),
                blake3::hash(&bytes).to_hex().to_string()
            );
        }
    }

    #[test]
    fn bytes_go_straight_to_their_place_and_into_the_hash() {
        let bytes: Vec<u8> = (0..2 * PIECE + 99).map(|i| (i % 249) as u8).collect();
        let file = file_of(&bytes);
        for held in [0, 10, PIECE + 1] {
            let mut source = Source::open(file.path(), &Quiet).unwrap();
            source.at_least(held).unwrap();
            source.consume(5);
            let start = source.offset() as usize;
            let mut to = vec![0; PIECE / 2 + 7];
            source.take_into(&mut to).unwrap();
            assert_eq!(to, bytes[start..start + to.len()]);
            assert_eq!(source.offset() as usize, start + to.len());
            source.in_large_pieces();
            assert_eq!(
                source.finish().unwrap(),
                blake3::hash(&bytes).to_hex().to_string()
            );
        }
        let source = Source::open(file.path(), &Quiet).unwrap().without_hash();
        assert_eq!(source.finish().unwrap(), "");
    }

    struct StopsAfter(AtomicUsize);

    impl Progress for StopsAfter {
        fn at(&self, _: Stage, done: usize, total: usize) -> Result<(), Cancelled> {
            assert!(done <= total);
            let left = self.0.load(Ordering::Relaxed);
            self.0.store(left.saturating_sub(1), Ordering::Relaxed);
            if left == 0 { Err(Cancelled) } else { Ok(()) }
        }
    }

    #[test]
    fn stops_when_told() {
        let file = file_of(&vec![0; 4 * PIECE]);
        let at = StopsAfter(AtomicUsize::new(2));
        let source = Source::open(file.path(), &at).unwrap();
        assert!(source.finish().unwrap_err().is_cancelled());
    }
}
