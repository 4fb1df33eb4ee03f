//! The reading lane: files are read and put in order once, then cut to what is used of them.

use std::collections::{BTreeMap, HashMap};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};

use geom::RawPoints;
use record::{Cancelled, LengthUnit, Prepared, RawScan, ScanId, ScanRef};

use super::progress::LaneProgress;
use super::{FileFacts, Mailbox, Teller, Told, Unread};
use crate::event::Lane;

/// Points of a first, thinned cloud.
const COARSE_POINTS: usize = 120_000;

/// Smaller scans are prepared anew as quickly as they are read back.
const WORTH_KEEPING: usize = 100_000;

/// Everything that is to be there.
#[derive(Clone, Debug, Default)]
pub(crate) struct ReadWish {
    /// Scans of the job.
    pub scans: Vec<ScanWish>,
    /// Files that are to become scans.
    pub incoming: Vec<PathBuf>,
    /// Folder of the prepared scans that are kept beside the job.
    pub kept: Option<PathBuf>,
}

/// A scan of the job.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct ScanWish {
    /// Only what reading hangs on; with the full path.
    pub scan: ScanRef,
    /// What the content of the file probably is.
    pub hash: Option<String>,
    /// Tells a scan that was taken out of the job and put back from the one before, whether or not the lane saw it gone:
    /// what was told of that one was thrown away. Given by [`ReadLane::wish`].
    pub asked: u64,
}

impl ReadWish {
    fn wants_file(&self, path: &Path, unit: Option<LengthUnit>) -> bool {
        match unit {
            Some(unit) => self
                .scans
                .iter()
                .any(|s| s.scan.path == path && s.scan.unit == unit),
            None => self.incoming.iter().any(|p| p == path),
        }
    }
}

/// What tells one prepared scan from another: content, unit and what is used of it.
pub(crate) fn scan_key(scan: &ScanRef, hash: &str) -> String {
    format!(
        "{hash}|{:?}|{:?}|{:?}|{}",
        scan.unit, scan.keep, scan.aside, scan.largest_piece_only
    )
}

/// What is asked for of a scan, before its content is known.
fn wish_key(scan: &ScanRef) -> String {
    scan_key(scan, &scan.path.to_string_lossy())
}

type File = (PathBuf, LengthUnit);

/// The lane's own memory.
struct Reader {
    wishes: Arc<Mailbox<ReadWish>>,
    /// The newest wish, for asking whether what is being read is still wanted.
    newest: Arc<Mutex<ReadWish>>,
    teller: Teller,
    /// Whole files; nothing depends on their order.
    whole: HashMap<File, Arc<Prepared>>,
    /// What was told of each scan last: which it was and what was asked for.
    told: BTreeMap<ScanId, (u64, String)>,
    brought: Vec<PathBuf>,
    /// Folder of the kept scans, as wished last.
    kept: Option<PathBuf>,
    /// Prepared anew and not kept yet.
    to_keep: Vec<File>,
}

/// The door to the lane.
pub(crate) struct ReadLane {
    wishes: Arc<Mailbox<ReadWish>>,
    newest: Arc<Mutex<ReadWish>>,
    /// The scans asked for last, numbered in the order in which they came into the job.
    asked: BTreeMap<ScanId, u64>,
    count: u64,
}

impl ReadLane {
    pub fn start(teller: Teller) -> (Self, std::thread::JoinHandle<()>) {
        let wishes = Mailbox::new();
        let newest = Arc::new(Mutex::new(ReadWish::default()));
        let mut reader = Reader {
            wishes: Arc::clone(&wishes),
            newest: Arc::clone(&newest),
            teller,
            whole: HashMap::new(),
            told: BTreeMap::new(),
            brought: Vec::new(),
            kept: None,
            to_keep: Vec::new(),
        };
        let thread = std::thread::spawn(move || reader.run());
        let lane = Self {
            wishes,
            newest,
            asked: BTreeMap::new(),
            count: 0,
        };
        (lane, thread)
    }

    pub fn wish(&mut self, mut wish: ReadWish) {
        let before = std::mem::take(&mut self.asked);
        for s in &mut wish.scans {
            s.asked = before.get(&s.scan.id).copied().unwrap_or_else(|| {
                self.count += 1;
                self.count
            });
            self.asked.insert(s.scan.id.clone(), s.asked);
        }
        self.newest
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .clone_from(&wish);
        self.wishes.put(wish);
    }

    pub fn close(&self) {
        self.wishes.close();
    }
}

impl Reader {
    fn run(&mut self) {
        while let Some(wish) = self.wishes.take() {
            self.forget(&wish);
            let mut busy = false;
            self.kept.clone_from(&wish.kept);
            for s in &wish.scans {
                let key = (s.asked, wish_key(&s.scan));
                if self.told.get(&s.scan.id) == Some(&key) {
                    continue;
                }
                busy = true;
                let teller = self.teller.clone();
                match teller.guarded(Lane::Read, || self.scan(s)) {
                    Some(Err(Cancelled)) => break,
                    // After a panic the file is not tried again until something about it changes.
                    Some(Ok(())) | None => {
                        self.told.insert(s.scan.id.clone(), key);
                    }
                }
            }
            for path in &wish.incoming {
                if self.wishes.wants_attention() {
                    break;
                }
                if self.brought.contains(path) {
                    continue;
                }
                busy = true;
                let teller = self.teller.clone();
                match teller.guarded(Lane::Read, || self.incoming(path)) {
                    Some(Err(Cancelled)) => break,
                    Some(Ok(())) => self.brought.push(path.clone()),
                    None => {
                        self.brought.push(path.clone());
                        let facts = Err(Unread {
                            says: format!("\"{}\" was not read", path.display()),
                            hint: "export it anew, or as another format".to_owned(),
                        });
                        teller.tell(Told::BroughtIn {
                            path: path.clone(),
                            facts,
                        });
                    }
                }
            }
            if busy && !self.wishes.wants_attention() {
                self.teller.tell(Told::Rests(Lane::Read));
            }
            if !self.wishes.wants_attention() {
                let teller = self.teller.clone();
                teller.guarded(Lane::Read, || self.keep(&wish));
            }
        }
    }

    /// Keeps what was prepared anew for the next time, and clears away what no scan of the job asks for. That it
    /// fails costs nothing but time, so nothing is said.
    fn keep(&mut self, wish: &ReadWish) {
        let Some(folder) = &wish.kept else {
            return;
        };
        let mut made = false;
        while let Some((path, unit)) = self.to_keep.pop() {
            let of_job = wish
                .scans
                .iter()
                .any(|s| s.scan.path == path && s.scan.unit == unit);
            let Some(whole) = self.whole.get(&(path, unit)).filter(|_| of_job) else {
                continue;
            };
            let to = formats::kept_scan_path(folder, &whole.hash, unit);
            made |= to.exists()
                || (formats::make_folder(folder).is_ok()
                    && formats::keep_scan(whole, unit, &to).is_ok());
            if self.wishes.wants_attention() {
                return;
            }
        }
        if made {
            let known: Vec<PathBuf> = self
                .whole
                .iter()
                .map(|((_, unit), whole)| formats::kept_scan_path(folder, &whole.hash, *unit))
                .collect();
            clear_away(folder, &known);
        }
    }

    /// Drops what nobody asks for any more.
    fn forget(&mut self, wish: &ReadWish) {
        self.whole.retain(|(path, unit), _| {
            wish.wants_file(path, Some(*unit)) || wish.wants_file(path, None)
        });
        self.told
            .retain(|id, _| wish.scans.iter().any(|s| s.scan.id == *id));
        self.brought.retain(|p| wish.incoming.contains(p));
    }

    /// One scan of the job.
    fn scan(&mut self, wish: &ScanWish) -> Result<(), Cancelled> {
        let scan = &wish.scan;
        let read = match self.file(&scan.path, Some(scan.unit), wish.hash.as_deref())? {
            Ok((whole, _)) => {
                let newest = Arc::clone(&self.newest);
                let wishes = Arc::clone(&self.wishes);
                let stop = move || {
                    wishes.is_closed()
                        || !newest
                            .lock()
                            .unwrap_or_else(PoisonError::into_inner)
                            .scans
                            .iter()
                            .any(|s| s.scan == *scan)
                };
                let at = LaneProgress::new(&self.teller, Lane::Read, name_of(&scan.path), &stop);
                Ok(study::regions::apply_regions(scan, &whole, &at)?)
            }
            Err(unread) => Err(unread),
        };
        let key = read.as_ref().map_or_else(
            |_| String::new(),
            |p: &Arc<Prepared>| scan_key(scan, &p.hash),
        );
        self.teller.tell(Told::Scan {
            scan: scan.id.clone(),
            key,
            read,
        });
        Ok(())
    }

    /// A file that is to become a scan.
    fn incoming(&mut self, path: &Path) -> Result<(), Cancelled> {
        let facts = self.file(path, None, None)?.map(|(_, facts)| facts);
        self.teller.tell(Told::BroughtIn {
            path: path.to_owned(),
            facts,
        });
        Ok(())
    }

    /// A whole file, in the unit given or else the one it states or most likely has.
    fn file(
        &mut self,
        path: &Path,
        unit: Option<LengthUnit>,
        hash: Option<&str>,
    ) -> Result<Result<(Arc<Prepared>, FileFacts), Unread>, Cancelled> {
        if let Some(unit) = unit
            && let Some(whole) = self.whole.get(&(path.to_owned(), unit))
        {
            return Ok(Ok((Arc::clone(whole), facts_of(whole, unit, false, None))));
        }
        let newest = Arc::clone(&self.newest);
        let wishes = Arc::clone(&self.wishes);
        let wanted = path.to_owned();
        let stop = move || {
            wishes.is_closed()
                || !newest
                    .lock()
                    .unwrap_or_else(PoisonError::into_inner)
                    .wants_file(&wanted, unit)
        };
        if let (Some(folder), Some(unit)) = (&self.kept, unit)
            && let Some(whole) = kept(folder, path, unit, hash, &stop)
        {
            let whole = Arc::new(whole);
            self.whole
                .insert((path.to_owned(), unit), Arc::clone(&whole));
            let facts = facts_of(&whole, unit, false, None);
            return Ok(Ok((whole, facts)));
        }
        let at = LaneProgress::new(&self.teller, Lane::Read, name_of(path), &stop);
        let raw = match formats::read_scan(path, &at) {
            Ok(raw) => raw,
            Err(e) if e.is_cancelled() => return Err(Cancelled),
            Err(e) => {
                return Ok(Err(Unread {
                    says: e.to_string(),
                    hint: e.hint().to_owned(),
                }));
            }
        };
        let stated = raw.unit.is_some();
        let guess = (unit.is_none() && !stated).then(|| formats::guess_unit(&raw.points));
        let reason = guess.as_ref().map(|g| g.reason.clone());
        let unit = unit
            .or(raw.unit)
            .or(guess.map(|g| g.unit))
            .unwrap_or(LengthUnit::Millimetre);
        if let Some(cloud) = coarse(&raw, unit) {
            self.teller.tell(Told::Coarse {
                path: path.to_owned(),
                cloud: Arc::new(cloud),
            });
        }
        let whole = Arc::new(study::prepare(raw, unit, &at)?);
        self.whole
            .insert((path.to_owned(), unit), Arc::clone(&whole));
        if whole.blocks.len() >= WORTH_KEEPING {
            self.to_keep.push((path.to_owned(), unit));
        }
        let facts = facts_of(&whole, unit, stated, reason);
        Ok(Ok((whole, facts)))
    }
}

fn facts_of(whole: &Prepared, unit: LengthUnit, stated: bool, reason: Option<String>) -> FileFacts {
    FileFacts {
        hash: whole.hash.clone(),
        unit,
        stated,
        reason,
    }
}

/// A kept scan of the file as it is now. The file is hashed while the likely one is read back.
fn kept(
    folder: &Path,
    path: &Path,
    unit: LengthUnit,
    likely: Option<&str>,
    stop: &(dyn Fn() -> bool + Sync),
) -> Option<Prepared> {
    if !folder.is_dir() {
        return None;
    }
    let back = |hash: &str| {
        formats::read_kept_scan(&formats::kept_scan_path(folder, hash, unit), hash, unit)
    };
    let (hash, held) = rayon::join(
        || formats::file_hash(path, &|| !stop()).ok().flatten(),
        || likely.and_then(back),
    );
    let hash = hash?;
    let held = match held {
        Some(held) if held.hash == hash => held,
        _ => back(&hash)?,
    };
    // What was noted while reading names the file.
    (held.name == name_of(path)).then_some(held)
}

/// Removes kept scans that are not among `known`.
fn clear_away(folder: &Path, known: &[PathBuf]) {
    let Ok(files) = std::fs::read_dir(folder) else {
        return;
    };
    for path in files.filter_map(|f| Some(f.ok()?.path())) {
        let ours = path.extension().is_some_and(|e| e == "scan");
        if ours && !known.contains(&path) {
            // It can stay: it is only in the way.
            let _ = std::fs::remove_file(path);
        }
    }
}

fn name_of(path: &Path) -> String {
    path.file_name()
        .map(|n| n.to_string_lossy().into_owned())
        .unwrap_or_default()
}

/// Evenly thinned points of a file, to look at while the rest is put in order; `None` for a small file.
fn coarse(raw: &RawScan, unit: LengthUnit) -> Option<Prepared> {
    let n = raw.points.len();
    if n <= COARSE_POINTS {
        return None;
    }
    let picks: Vec<usize> = (0..COARSE_POINTS)
        .map(|k| (k as u128 * n as u128 / COARSE_POINTS as u128) as usize)
        .collect();
    let points = picks.iter().map(|&i| raw.points.get(i).coords.into());
    let colours = if raw.colours.len() == n {
        picks.iter().map(|&i| raw.colours[i]).collect()
    } else {
        Vec::new()
    };
    let thinned = RawScan {
        name: raw.name.clone(),
        format: raw.format.clone(),
        hash: raw.hash.clone(),
        bytes: raw.bytes,
        points: RawPoints::F64(points.collect()),
        triangles: Vec::new(),
        colours,
        normals: Vec::new(),
        names: Vec::new(),
        unit: raw.unit,
        notes: Vec::new(),
    };
    study::prepare(thinned, unit, &record::Quiet).ok()
}
