//! What the program keeps for itself: journals, prepared scans, figures, the list of what was handed over.

use std::sync::OnceLock;

use formats::{
    keep_scan, read_hand_overs, read_journal, read_kept_figures, read_kept_scan, write_hand_overs,
};
use geom::{Blocks, BlocksParts};
use libfuzzer_sys::Corpus;
use record::{LengthUnit, Prepared};

use crate::{bounded, checksums, files, texts, well_told};

/// BLAKE3 of the file that the kept scan is of, as far as the seeds go.
pub const HASH: &str = "0123456789abcdef0123456789abcdef0123456789abcdef0123456789abcdef";
/// Its unit.
pub const UNIT: LengthUnit = LengthUnit::Millimetre;
/// The engine that made the kept figures.
pub const ENGINE: &str = "engine";
/// The key of what they were made from.
pub const KEY: [u8; 32] = [7; 32];

/// The journal of an open job, the checksums of its entries made right. Whatever is in it, the jobs of what is told are whole.
pub fn journal(data: &[u8]) -> Corpus {
    let mut bytes = b"unmirrJ1".to_vec();
    bytes.extend_from_slice(data);
    checksums::mend_journal(&mut bytes);
    let path = files::file("a.ron.journal", &bytes);
    // Every entry gives a whole job: as many jobs as there are entries.
    let (entries, peak) = crate::allocated::peak_of(|| read_journal(&path));
    let entries = entries.expect("a journal that is there is read");
    let jobs: usize = entries.iter().map(|e| texts_of(&e.job)).sum();
    assert!(
        peak <= crate::most(bytes.len()) + 8 * jobs,
        "{peak} bytes at the peak for {}",
        bytes.len()
    );
    if let Some(last) = entries.last() {
        texts::same_again(&last.job);
    }
    Corpus::Keep
}

fn texts_of(job: &record::Job) -> usize {
    formats::job_to_string(job).map_or(0, |t| t.len())
}

/// The list of what was handed over.
pub fn handed_over(data: &[u8]) -> Corpus {
    let folder = files::folder().join("over");
    std::fs::create_dir_all(&folder).expect("a folder for the input can be made");
    static NAME: OnceLock<std::path::PathBuf> = OnceLock::new();
    let path = NAME.get_or_init(|| {
        write_hand_overs(&formats::HandOverLog::default(), &folder)
            .expect("an empty list can be written");
        let mut files = std::fs::read_dir(&folder)
            .expect("the folder is there")
            .flatten()
            .map(|f| f.path());
        files.find(|p| p.is_file()).expect("the list is there")
    });
    std::fs::write(path, data).expect("the input can be written");
    match bounded(data.len(), || read_hand_overs(&folder)) {
        Ok(log) => assert!(!log.next_revision().is_empty()),
        Err(e) => well_told(&e, true),
    }
    Corpus::Keep
}

/// A kept scan behind the words that name what it is of; its checksum made right.
pub fn kept_scan(data: &[u8]) -> Corpus {
    static START: OnceLock<Vec<u8>> = OnceLock::new();
    let start = START.get_or_init(|| {
        let path = files::folder().join("empty.scan");
        let scan = Prepared {
            name: String::new(),
            format: String::new(),
            hash: HASH.to_owned(),
            blocks: Blocks::from_parts(BlocksParts::default()).expect("no blocks are blocks"),
            triangles: Vec::new(),
            loops: Vec::new(),
            spacing_mm: 1.0,
            notes: Vec::new(),
        };
        keep_scan(&scan, UNIT, &path).expect("an empty scan can be kept");
        let bytes = std::fs::read(&path).expect("it was kept");
        // Name of the format, version, hash and unit; each text after its length.
        let mut end = 8;
        for _ in 0..3 {
            let length = bytes[end..end + 8]
                .try_into()
                .map(u64::from_le_bytes)
                .expect("eight bytes");
            end += 8 + length as usize;
        }
        bytes[..end].to_vec()
    });
    let bytes = checksums::with_sum([start, data].concat());
    let path = files::file("a.scan", &bytes);
    let read = bounded(bytes.len(), || read_kept_scan(&path, HASH, UNIT));
    if let Some(scan) = read {
        let n = scan.blocks.len();
        assert!(
            scan.triangles.iter().flatten().all(|i| (*i as usize) < n),
            "a corner beyond the points"
        );
        assert!(
            scan.loops
                .iter()
                .flat_map(|l| &l.slots)
                .all(|i| (*i as usize) < n)
        );
        // The very one that was kept.
        let again = files::folder().join("again.scan");
        keep_scan(&scan, UNIT, &again).expect("it can be kept again");
        assert!(
            std::fs::read(&again).expect("it was kept") == bytes,
            "kept again it has other bytes"
        );
    }
    Corpus::Keep
}

/// Kept figures behind the words that name what they are of; their checksum made right.
pub fn kept_figures(data: &[u8]) -> Corpus {
    let mut bytes = b"unmirrF1".to_vec();
    bytes.extend((ENGINE.len() as u64).to_le_bytes());
    bytes.extend(ENGINE.as_bytes());
    bytes.extend(KEY);
    bytes.extend_from_slice(data);
    let bytes = checksums::with_sum(bytes);
    let path = files::file("answer.figures", &bytes);
    assert!(formats::are_kept_figures(&path, ENGINE));
    if let Some(figures) = bounded(bytes.len(), || read_kept_figures(&path, ENGINE, &KEY)) {
        let again = files::folder().join("again.figures");
        let _ = std::fs::remove_file(&again);
        formats::keep_figures(&figures, ENGINE, &KEY, &again).expect("they can be kept again");
        assert!(
            std::fs::read(&again).expect("they were kept") == bytes,
            "kept again they have other bytes"
        );
    }
    Corpus::Keep
}
