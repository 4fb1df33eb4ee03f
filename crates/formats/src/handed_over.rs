//! What was handed over before: a small file in the folder of the hand-overs, so that the next one can say what has
//! changed since.

use std::path::Path;

use serde::{Deserialize, Serialize};

use crate::error::lower_first;
use crate::{Error, atomic_save};

/// Name of the file in the folder.
const NAME: &str = "handed over.ron";
/// How the file is laid out.
const SCHEMA: u32 = 1;
const HEAD: &str = "\
// What was handed over from this folder, the oldest first. Kept by unmirror; nothing of a scan, an owner or a vehicle
// stands here.
";

/// A file that was handed over.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct HandedFile {
    /// Folder of the receiver and name.
    pub name: String,
    /// BLAKE3 of the file, hex.
    pub blake3: String,
}

/// One hand-over.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct HandOver {
    /// Its revision: "A".
    pub revision: String,
    /// BLAKE3 of the job as this version writes it, hex.
    pub job_blake3: String,
    /// What was said, by name: verdicts, choices, sizes, angles, as shown.
    pub figures: Vec<(String, String)>,
    /// Files.
    pub files: Vec<HandedFile>,
}

/// All hand-overs of a folder, the oldest first.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct HandOverLog {
    /// The hand-overs.
    pub done: Vec<HandOver>,
}

impl HandOverLog {
    /// The revision that comes next: A, B, ... Z, AA, AB, ...
    pub fn next_revision(&self) -> String {
        let Some(last) = self.done.last() else {
            return "A".to_owned();
        };
        let mut letters: Vec<char> = last.revision.chars().collect();
        for c in letters.iter_mut().rev() {
            match *c {
                'A'..='Y' => {
                    *c = char::from_u32(u32::from(*c) + 1).unwrap_or('Z');
                    return letters.into_iter().collect();
                }
                _ => *c = 'A',
            }
        }
        format!("A{}", letters.into_iter().collect::<String>())
    }
}

#[derive(Serialize, Deserialize)]
#[serde(rename = "HandedOver", deny_unknown_fields)]
struct Wire {
    schema: u32,
    done: Vec<HandOver>,
}

impl HandedFile {
    /// A file with its hash.
    pub fn new(name: String, bytes: &[u8]) -> Self {
        let blake3 = blake3::hash(bytes).to_hex().to_string();
        Self { name, blake3 }
    }
}

/// Reads what was handed over from `folder`; nothing if there is no file yet.
///
/// # Errors
/// When the file is there and cannot be read: then nobody may write over it.
pub fn read_hand_overs(folder: &Path) -> Result<HandOverLog, Error> {
    let path = folder.join(NAME);
    let text = match std::fs::read_to_string(&path) {
        Ok(text) => text,
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => return Ok(HandOverLog::default()),
        Err(e) => return Err(Error::io("read", e).in_file(&path)),
    };
    let wire: Wire = ron::from_str(&text).map_err(|e| {
        Error::malformed(lower_first(&e.code.to_string().replace('`', "\"")))
            .at_line(e.span.start.line as u64)
            .hinting("bring back the former file from .previous, or hand over into another folder")
            .in_file(&path)
    })?;
    if wire.schema != SCHEMA {
        let says = format!(
            "the file has schema {}, this program knows schema {SCHEMA}",
            wire.schema
        );
        return Err(Error::newer_schema(says).in_file(&path));
    }
    Ok(HandOverLog { done: wire.done })
}

/// Writes it, whole or not at all, the versions before kept.
///
/// # Errors
/// With the path and a remedy.
pub fn write_hand_overs(log: &HandOverLog, folder: &Path) -> Result<(), Error> {
    let path = folder.join(NAME);
    let wire = Wire {
        schema: SCHEMA,
        done: log.done.clone(),
    };
    let pretty = ron::ser::PrettyConfig::new()
        .new_line("\n")
        .indentor("    ");
    let text = ron::ser::to_string_pretty(&wire, pretty)
        .map_err(|e| Error::malformed(format!("it cannot be written: {e}")).in_file(&path))?;
    atomic_save(&path, format!("{HEAD}{text}\n").as_bytes())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn revisions_count_up() {
        assert_eq!(HandOverLog::default().next_revision(), "A");
        for (last, next) in [
            ("A", "B"),
            ("Y", "Z"),
            ("Z", "AA"),
            ("AZ", "BA"),
            ("ZZ", "AAA"),
        ] {
            let mut log = log();
            log.done[0].revision = last.to_owned();
            assert_eq!(log.next_revision(), next);
        }
    }

    fn log() -> HandOverLog {
        HandOverLog {
            done: vec![HandOver {
                revision: "A".to_owned(),
                job_blake3: "ab".to_owned(),
                figures: vec![("Lamp, choice".to_owned(), "two \"hands\"".to_owned())],
                files: vec![HandedFile::new("cutter/x, rev A.dxf".to_owned(), b"x")],
            }],
        }
    }

    #[test]
    fn it_reads_back_and_a_new_folder_has_none() {
        let folder = tempfile::tempdir().unwrap();
        assert_eq!(
            read_hand_overs(folder.path()).unwrap(),
            HandOverLog::default()
        );
        write_hand_overs(&log(), folder.path()).unwrap();
        assert_eq!(read_hand_overs(folder.path()).unwrap(), log());
    }

    #[test]
    fn a_spoilt_file_is_named_with_its_line() {
        let folder = tempfile::tempdir().unwrap();
        write_hand_overs(&log(), folder.path()).unwrap();
        let path = folder.path().join(NAME);
        let text = std::fs::read_to_string(&path).unwrap();
        std::fs::write(&path, text.replace("figures", "figure")).unwrap();
        let error = read_hand_overs(folder.path()).unwrap_err();
        assert!(error.is_malformed() && error.line().is_some(), "{error}");
        std::fs::write(&path, text.replace("schema: 1", "schema: 9")).unwrap();
        assert!(
            read_hand_overs(folder.path())
                .unwrap_err()
                .is_newer_schema()
        );
    }
}
