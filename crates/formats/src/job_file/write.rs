//! Job to text and to disk.

use std::path::Path;

use record::{Job, OpeningId};
use ron::extensions::Extensions;
use ron::ser::PrettyConfig;

use super::to_wire;
use crate::{Error, atomic_save};

const HEAD: &str = "\
// A job of unmirror. Lengths in mm, angles in degrees, films in micrometres, as the names of the fields say;
// points and directions are in the axes of their scan. Paths start at the folder of this file.
// The \"note\" fields are kept when the program saves this file; comments such as this one are not.
";

/// The job as the text of a job file.
///
/// # Errors
/// Only if the path of a scan is not valid text.
pub fn job_to_string(job: &Job) -> Result<String, Error> {
    starter_job_to_string(job, &[])
}

/// BLAKE3 (hex) of the job as this version writes it: what a study says it was made from. Free comments and layout of a
/// hand-written file do not change it.
///
/// # Errors
/// Only if the path of a scan is not valid text.
pub fn job_hash(job: &Job) -> Result<String, Error> {
    Ok(blake3::hash(job_to_string(job)?.as_bytes())
        .to_hex()
        .to_string())
}

/// As [`job_to_string`], with comments before openings: a proposal says how sure it is and why.
///
/// Each comment belongs to an opening by name; it may have several lines, and an opening several comments.
///
/// # Errors
/// As [`job_to_string`].
pub fn starter_job_to_string(job: &Job, comments: &[(OpeningId, String)]) -> Result<String, Error> {
    text_of(&to_wire::job(job)?, job, comments)
}

/// As [`job_to_string`], with the rows of hand tables that stand beside the job too: for the journal, which tells what
/// the job was whatever becomes of those files.
///
/// # Errors
/// As [`job_to_string`].
pub fn job_to_string_with_tables(job: &Job) -> Result<String, Error> {
    text_of(&to_wire::job_with_tables(job)?, job, &[])
}

fn text_of(
    wire: &super::wire::Job,
    job: &Job,
    comments: &[(OpeningId, String)],
) -> Result<String, Error> {
    let pretty = PrettyConfig::new().new_line("\n").indentor("    ");
    let text = ron::Options::default()
        .with_default_extension(Extensions::IMPLICIT_SOME)
        .to_string_pretty(wire, pretty)
        .map_err(|e| Error::malformed(format!("the job cannot be written: {e}")))?;
    let mut out = String::from(HEAD);
    let (mut within, mut opening) = (false, job.openings.iter());
    for line in text.lines() {
        // Strings are written with their line ends escaped, so the indent alone tells where openings begin.
        match line {
            "    openings: [" => within = true,
            "    ]," => within = false,
            "        (" if within => {
                let id = opening.next().map(|o| &o.id);
                for (_, comment) in comments.iter().filter(|(of, _)| Some(of) == id) {
                    for words in comment.lines() {
                        out.push_str("        // ");
                        out.push_str(words);
                        out.push('\n');
                    }
                }
            }
            _ => {}
        }
        out.push_str(line);
        out.push('\n');
    }
    Ok(out)
}

/// Saves a job: whole or not at all, with the ten versions before it kept (see [`atomic_save()`]).
///
/// # Errors
/// With the path and a remedy; the file on disk is then as it was.
pub fn write_job(job: &Job, path: &Path) -> Result<(), Error> {
    write_starter_job(job, &[], path)
}

/// As [`write_job`], with comments as in [`starter_job_to_string`].
///
/// # Errors
/// As [`write_job`].
pub fn write_starter_job(
    job: &Job,
    comments: &[(OpeningId, String)],
    path: &Path,
) -> Result<(), Error> {
    let text = starter_job_to_string(job, comments).map_err(|e| e.in_file(path))?;
    atomic_save(path, text.as_bytes())
}
