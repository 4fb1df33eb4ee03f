//! The journal of an open job: every committed command, on disk at once, for the day the power fails.
//!
//! A journal begins with eight bytes that name it and its version. Entries follow, each as its length (four bytes, least
//! first), the first eight bytes of the BLAKE3 of what follows, and then: the kind, the name of the command, and the job
//! after it as a change of the text of the job before (how much of its beginning and end stays, and what stands between).
//! An entry that was cut off or does not fit its checksum ends the journal: what stands before it holds.

use std::fs::{File, OpenOptions, TryLockError};
use std::io::{Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

use record::Job;

use crate::{Error, atomic_write, job_from_str, job_to_string_with_tables};

const HEAD: &[u8; 8] = b"unmirrJ1";
/// A job is kilobytes; a longer entry is no entry.
const LONGEST: u32 = 64 << 20;

/// What an entry tells.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum JournalKind {
    /// The job as it was opened, made or saved.
    Start,
    /// A command.
    Step,
    /// A command that belongs to the same gesture as the one before.
    Joined,
    /// A command was taken back.
    Undo,
    /// A command was done again.
    Redo,
}

impl JournalKind {
    const ALL: [Self; 5] = [
        Self::Start,
        Self::Step,
        Self::Joined,
        Self::Undo,
        Self::Redo,
    ];
}

/// One entry.
#[derive(Clone, Debug, PartialEq)]
pub struct JournalEntry {
    /// What it tells.
    pub kind: JournalKind,
    /// The name of the command; empty for others.
    pub name: String,
    /// The job after it.
    pub job: Job,
}

/// Where the journal of a job file is: beside it.
pub fn journal_path(job: &Path) -> PathBuf {
    let mut name = job.file_name().unwrap_or_default().to_owned();
    name.push(".journal");
    job.with_file_name(name)
}

/// Writes a journal. As long as it lives no other writer gets the same file, where the system can tell.
#[derive(Debug)]
pub struct JournalWriter {
    path: PathBuf,
    file: File,
    /// Text of the job after the last entry.
    last: String,
    /// So many bytes are known to be good; what a write that failed left behind them is cut off.
    good: u64,
}

impl JournalWriter {
    /// Takes a journal, or makes one, without changing what is in it. `Ok(None)`: another program has it.
    ///
    /// # Errors
    /// With the path and a remedy.
    pub fn take(path: &Path) -> Result<Option<Self>, Error> {
        let file = OpenOptions::new()
            .read(true)
            .write(true)
            .create(true)
            .truncate(false)
            .open(path)
            .map_err(|e| Error::io("write the journal", e).in_file(path))?;
        match file.try_lock() {
            Err(TryLockError::WouldBlock) => return Ok(None),
            // Some network drives know no locks: two windows on one job are then the person's own affair.
            Ok(()) | Err(TryLockError::Error(_)) => {}
        }
        Ok(Some(Self {
            path: path.to_owned(),
            file,
            last: String::new(),
            good: 0,
        }))
    }

    /// Where it is.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// What is in it; empty if it is new or no journal. What is added from now on goes behind that.
    ///
    /// # Errors
    /// With the path, if it cannot be read.
    pub fn entries(&mut self) -> Result<Vec<JournalEntry>, Error> {
        let mut bytes = Vec::new();
        self.file
            .seek(SeekFrom::Start(0))
            .and_then(|_| self.file.read_to_end(&mut bytes))
            .map_err(|e| Error::io("read the journal", e).in_file(&self.path))?;
        let (found, good, last) = parse(&bytes);
        self.good = good as u64;
        self.last = String::from_utf8(last).unwrap_or_default();
        Ok(found)
    }

    /// Copies what is in it to a file of the same name with ".before" behind it, which is replaced if it is there.
    ///
    /// # Errors
    /// With the path and a remedy.
    pub fn set_aside(&mut self) -> Result<PathBuf, Error> {
        let mut bytes = Vec::new();
        self.file
            .seek(SeekFrom::Start(0))
            .and_then(|_| self.file.read_to_end(&mut bytes))
            .map_err(|e| Error::io("read the journal", e).in_file(&self.path))?;
        let mut name = self.path.file_name().unwrap_or_default().to_owned();
        name.push(".before");
        let aside = self.path.with_file_name(name);
        atomic_write(&aside, &bytes)?;
        Ok(aside)
    }

    /// Empties it and begins anew with `job`, on disk when this returns.
    ///
    /// # Errors
    /// With the path and a remedy.
    pub fn begin(&mut self, job: &Job) -> Result<(), Error> {
        self.last = String::new();
        self.good = 0;
        let start = JournalEntry {
            kind: JournalKind::Start,
            name: String::new(),
            job: job.clone(),
        };
        self.write(HEAD.to_vec(), std::slice::from_ref(&start))
    }

    /// Adds entries, on disk when this returns.
    ///
    /// # Errors
    /// With the path and a remedy; what was in it before stays good.
    pub fn append(&mut self, new: &[JournalEntry]) -> Result<(), Error> {
        let head = if self.good == 0 {
            HEAD.to_vec()
        } else {
            Vec::new()
        };
        self.write(head, new)
    }

    fn write(&mut self, mut bytes: Vec<u8>, new: &[JournalEntry]) -> Result<(), Error> {
        let mut last = self.last.clone();
        for entry in new {
            let text = job_to_string_with_tables(&entry.job).map_err(|e| e.in_file(&self.path))?;
            bytes.extend(frame(entry, last.as_bytes(), text.as_bytes()));
            last = text;
        }
        self.file
            .set_len(self.good)
            .and_then(|()| self.file.seek(SeekFrom::Start(self.good)))
            .and_then(|_| self.file.write_all(&bytes))
            .and_then(|()| self.file.sync_data())
            .map_err(|e| Error::io("write the journal", e).in_file(&self.path))?;
        self.last = last;
        self.good += bytes.len() as u64;
        Ok(())
    }
}

fn frame(entry: &JournalEntry, last: &[u8], text: &[u8]) -> Vec<u8> {
    let (head, tail) = common(last, text);
    let mut body = vec![entry.kind as u8];
    for length in [entry.name.len(), head, tail] {
        body.extend((length as u32).to_le_bytes());
    }
    body.extend(entry.name.as_bytes());
    body.extend(&text[head..text.len() - tail]);
    let mut frame = (body.len() as u32).to_le_bytes().to_vec();
    frame.extend(check(&body));
    frame.extend(body);
    frame
}

/// Reads a journal that nobody writes; empty if there is none.
///
/// # Errors
/// With the path, if it is there and cannot be read.
pub fn read_journal(path: &Path) -> Result<Vec<JournalEntry>, Error> {
    match std::fs::read(path) {
        Ok(bytes) => Ok(parse(&bytes).0),
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => Ok(Vec::new()),
        Err(e) => Err(Error::io("read the journal", e).in_file(path)),
    }
}

fn check(body: &[u8]) -> [u8; 8] {
    let mut out = [0; 8];
    out.copy_from_slice(&blake3::hash(body).as_bytes()[..8]);
    out
}

/// Lengths of the common beginning and end of two texts; together never more than either.
fn common(a: &[u8], b: &[u8]) -> (usize, usize) {
    let head = a.iter().zip(b).take_while(|(x, y)| x == y).count();
    let (a, b) = (&a[head..], &b[head..]);
    let tail = a
        .iter()
        .rev()
        .zip(b.iter().rev())
        .take_while(|(x, y)| x == y)
        .count();
    (head, tail)
}

/// The entries, how many bytes they take, and the text of the last job.
fn parse(bytes: &[u8]) -> (Vec<JournalEntry>, usize, Vec<u8>) {
    let mut out = Vec::new();
    let mut last = Vec::new();
    let Some(mut rest) = bytes.strip_prefix(HEAD.as_slice()) else {
        return (out, 0, last);
    };
    while let Some((entry, text, left)) = entry(rest, &last) {
        out.push(entry);
        last = text;
        rest = left;
    }
    (out, bytes.len() - rest.len(), last)
}

/// The next entry, the text of its job, and what follows it; `None` where it was cut off or is damaged.
fn entry<'b>(bytes: &'b [u8], last: &[u8]) -> Option<(JournalEntry, Vec<u8>, &'b [u8])> {
    let (length, rest) = number(bytes)?;
    if length > LONGEST {
        return None;
    }
    let (sum, rest) = rest.split_at_checked(8)?;
    let (body, rest) = rest.split_at_checked(length as usize)?;
    if sum != check(body) {
        return None;
    }
    let (kind, body) = body.split_first()?;
    let kind = *JournalKind::ALL.get(usize::from(*kind))?;
    let (name, body) = number(body)?;
    let (head, body) = number(body)?;
    let (tail, body) = number(body)?;
    let (name, middle) = body.split_at_checked(name as usize)?;
    let name = String::from_utf8(name.to_vec()).ok()?;
    let mut text = last.get(..head as usize)?.to_vec();
    text.extend(middle);
    text.extend(last.get(last.len().checked_sub(tail as usize)?..)?);
    let job = job_from_str(std::str::from_utf8(&text).ok()?).ok()?;
    Some((JournalEntry { kind, name, job }, text, rest))
}

fn number(bytes: &[u8]) -> Option<(u32, &[u8])> {
    let (number, rest) = bytes.split_first_chunk::<4>()?;
    Some((u32::from_le_bytes(*number), rest))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn titled(kind: JournalKind, title: &str) -> JournalEntry {
        JournalEntry {
            kind,
            name: format!("title: {title}"),
            job: Job {
                title: title.to_owned(),
                ..Job::default()
            },
        }
    }

    fn written(folder: &Path) -> (PathBuf, Vec<JournalEntry>) {
        let path = folder.join("a.ron.journal");
        let mut journal = JournalWriter::take(&path).unwrap().unwrap();
        let start = titled(JournalKind::Start, "first");
        let steps = vec![
            titled(JournalKind::Step, "second"),
            titled(JournalKind::Joined, "second one"),
            titled(JournalKind::Undo, "first"),
            titled(JournalKind::Redo, "second one"),
        ];
        journal.begin(&start.job).unwrap();
        journal.append(&steps[..1]).unwrap();
        journal.append(&steps[1..]).unwrap();
        let mut all = vec![JournalEntry {
            name: String::new(),
            ..start
        }];
        all.extend(steps);
        assert_eq!(journal.entries().unwrap(), all);
        (path, all)
    }

    #[test]
    fn what_is_written_is_read() {
        let folder = tempfile::tempdir().unwrap();
        let (path, all) = written(folder.path());
        assert_eq!(read_journal(&path).unwrap(), all);
        assert_eq!(read_journal(&folder.path().join("none")).unwrap(), []);
    }

    #[test]
    fn a_journal_cut_anywhere_gives_what_stands_before_the_cut() {
        let folder = tempfile::tempdir().unwrap();
        let (path, all) = written(folder.path());
        let bytes = std::fs::read(&path).unwrap();
        let mut before = 0;
        for cut in 0..=bytes.len() {
            let read = parse(&bytes[..cut]).0;
            assert_eq!(read, all[..read.len()], "cut at {cut}");
            assert!(read.len() >= before, "cut at {cut}");
            before = read.len();
        }
        assert_eq!(before, all.len());
    }

    #[test]
    fn a_flipped_byte_ends_the_journal_and_never_gives_another_job() {
        let folder = tempfile::tempdir().unwrap();
        let (path, all) = written(folder.path());
        let bytes = std::fs::read(&path).unwrap();
        for at in 0..bytes.len() {
            let mut bad = bytes.clone();
            bad[at] ^= 0x10;
            let read = parse(&bad).0;
            assert!(read.len() < all.len(), "byte {at}");
            assert_eq!(read, all[..read.len()], "byte {at}");
        }
    }

    #[test]
    fn what_is_added_later_goes_behind_what_is_good() {
        let folder = tempfile::tempdir().unwrap();
        let (path, mut all) = written(folder.path());
        let mut bytes = std::fs::read(&path).unwrap();
        bytes.extend(b"cut off while writing");
        std::fs::write(&path, &bytes).unwrap();
        let mut journal = JournalWriter::take(&path).unwrap().unwrap();
        assert_eq!(journal.entries().unwrap(), all);
        let more = titled(JournalKind::Step, "third");
        journal.append(std::slice::from_ref(&more)).unwrap();
        all.push(more);
        drop(journal);
        assert_eq!(read_journal(&path).unwrap(), all);
    }

    #[test]
    fn a_second_writer_is_told() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.journal");
        let first = JournalWriter::take(&path).unwrap();
        assert!(first.is_some());
        assert!(JournalWriter::take(&path).unwrap().is_none());
        drop(first);
        assert!(JournalWriter::take(&path).unwrap().is_some());
    }
}
