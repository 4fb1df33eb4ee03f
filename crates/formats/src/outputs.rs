//! Everything that is handed over, in one folder.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use geom::Polyline;
use nalgebra::Point2;
use record::{CompareId, DisplayUnits, Drawing, LengthDisplay, Study};

use crate::{
    Error, Refused, atomic_write, dxf_bytes, read_dxf, read_step, side_word, step_text, study_json,
    tables,
};

/// How files are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct OutputOptions {
    /// Unit of DXF files. STEP and JSON are always in millimetres.
    pub dxf_unit: LengthDisplay,
    /// Unit and decimal sign of tables.
    pub tables: DisplayUnits,
}

impl OutputOptions {
    /// As the job shows its numbers.
    pub fn of(study: &Study) -> Self {
        Self {
            dxf_unit: study.units.length,
            tables: study.units,
        }
    }
}

/// What a file is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum OutputKind {
    /// Outline for the cutter.
    Dxf,
    /// Curves for CAD.
    Step,
    /// Table.
    Csv,
    /// The whole study.
    StudyJson,
    /// Pages for paper.
    Pdf,
}

/// A file that was written and read back.
#[derive(Clone, Debug, PartialEq)]
pub struct WrittenFile {
    /// Where it is.
    pub path: PathBuf,
    /// What it is.
    pub kind: OutputKind,
    /// What it holds, in words: "Lamp surround, left: outline for the cutter".
    pub says: String,
    /// Size, bytes.
    pub bytes: usize,
}

/// What came of [`write_outputs`].
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Outputs {
    /// Files written, in order.
    pub written: Vec<WrittenFile>,
    /// Files that were not written, by name, with the reason: one bad drawing does not stop the rest.
    pub refused: Vec<(String, Refused)>,
}

/// A file made and read back, not yet on disk.
#[derive(Clone, Debug, PartialEq)]
pub struct OutputFile {
    /// Its name without the ending: "Lamp surround, left".
    pub stem: String,
    /// The ending: "dxf".
    pub ending: &'static str,
    /// What it is.
    pub kind: OutputKind,
    /// What it holds, in words.
    pub says: String,
    /// The file.
    pub bytes: Vec<u8>,
    /// The comparison it belongs to; `None`: to all.
    pub compare: Option<CompareId>,
    /// Read back: the farthest that the measured edge lies from the opening edge in the file, mm, where it holds one.
    pub off_mm: Option<f64>,
}

impl OutputFile {
    /// A name that every common system takes, with `mark` (", rev B") before the ending.
    pub fn name(&self, mark: &str) -> String {
        file_name(&format!("{}{mark}.{}", self.stem, self.ending))
    }
}

/// Everything that can be handed over, made and read back, and what was not made, with the reason: one bad drawing does
/// not stop the rest.
///
/// The study as JSON, per side of each part a DXF, per part a STEP with all its sides, and per comparison its tables.
/// Names are the part and the side in words: `Lamp surround, left.dxf`. Where two comparisons are about the same part,
/// the name of the comparison comes first.
pub fn outputs(
    study: &Study,
    options: &OutputOptions,
) -> (Vec<OutputFile>, Vec<(String, Refused)>) {
    let mut made = Vec::new();
    let mut refused = Vec::new();
    let mut add = |file: OutputFile, bytes: Result<Vec<u8>, Refused>| match bytes {
        Ok(bytes) => made.push(OutputFile { bytes, ..file }),
        Err(why) => refused.push((file.name(""), why)),
    };
    let blank = |stem: String, ending, kind, says| OutputFile {
        stem,
        ending,
        kind,
        says,
        bytes: Vec::new(),
        compare: None,
        off_mm: None,
    };
    add(
        blank(
            "study".to_owned(),
            "json",
            OutputKind::StudyJson,
            "all figures".to_owned(),
        ),
        Ok(study_json(study).into_bytes()),
    );
    let names = output_names(study);
    let name_of = |id: &CompareId| names.get(id).map_or("part", String::as_str);
    for d in &study.drawings {
        let stem = format!("{}, {}", name_of(&d.compare), side_word(d.side));
        let says = format!("{stem}: outline for the cutter");
        let bytes = dxf_bytes(d, options.dxf_unit);
        let off_mm = bytes.as_ref().ok().and_then(|b| dxf_off_mm(b, d));
        let file = OutputFile {
            compare: Some(d.compare.clone()),
            off_mm,
            ..blank(stem, "dxf", OutputKind::Dxf, says)
        };
        add(file, bytes);
    }
    for (id, sides) in sides(&study.drawings) {
        let name = name_of(id);
        let program = format!("unmirror {}", study.provenance.version);
        let text = step_text(&sides, &program);
        let off_mm = text.as_ref().ok().and_then(|t| step_off_mm(t, &sides));
        let says = format!("{name}: curves for CAD");
        let file = OutputFile {
            compare: Some(id.clone()),
            off_mm,
            ..blank(name.to_owned(), "step", OutputKind::Step, says)
        };
        add(file, text.map(String::into_bytes));
    }
    let mut without_tables = Vec::new();
    for compare in &study.measured.compares {
        let name = name_of(&compare.id);
        match tables(study, compare, options.tables) {
            Ok(all) => {
                for table in all {
                    let says = format!("{name}, {}", table.name);
                    let file = OutputFile {
                        compare: Some(compare.id.clone()),
                        ..blank(says.clone(), "csv", OutputKind::Csv, says)
                    };
                    add(file, Ok(table.bytes));
                }
            }
            Err(why) => without_tables.push((format!("{name}, tables"), why)),
        }
    }
    refused.extend(without_tables);
    (made, refused)
}

/// Writes [`outputs`] into `folder`, which is made if need be. What reads back wrong is not written and stands in
/// `refused`. Files of the same names are replaced whole.
///
/// # Errors
/// When the folder cannot be made or a file not written, with its path.
pub fn write_outputs(
    study: &Study,
    folder: &Path,
    options: &OutputOptions,
) -> Result<Outputs, Error> {
    std::fs::create_dir_all(folder).map_err(|e| Error::io("make the folder", e).in_file(folder))?;
    let (made, refused) = outputs(study, options);
    let mut done = Outputs {
        written: Vec::new(),
        refused,
    };
    for file in made {
        let path = folder.join(file.name(""));
        atomic_write(&path, &file.bytes)?;
        done.written.push(WrittenFile {
            path,
            kind: file.kind,
            bytes: file.bytes.len(),
            says: file.says,
        });
    }
    Ok(done)
}

/// Farthest distance of the measured edge from the opening edge of a DXF file as it reads back, mm.
fn dxf_off_mm(bytes: &[u8], drawing: &Drawing) -> Option<f64> {
    let read = read_dxf(std::str::from_utf8(bytes).ok()?).ok()?;
    let inch = read.insunits == Some(1);
    let path = &read.paths.iter().find(|p| p.0 == "MARK")?.1;
    let path = path.scaled(if inch { 25.4 } else { 1.0 });
    let flat = drawing.edge.iter().map(|p| Point2::new(p.x, p.y));
    flat.map(|p| path.distance(&p)).reduce(f64::max)
}

/// The same for the edges of a STEP file, all sides.
fn step_off_mm(text: &str, drawings: &[&Drawing]) -> Option<f64> {
    let products = read_step(text).ok()?;
    let off = products.iter().zip(drawings).filter_map(|(product, d)| {
        let curve = product.curve("opening edge")?;
        let chain = Polyline::new(curve.samples(8), false)?;
        d.edge.iter().map(|p| chain.distance(p)).reduce(f64::max)
    });
    off.reduce(f64::max)
}

/// Drawings by comparison, in order.
fn sides(drawings: &[Drawing]) -> Vec<(&CompareId, Vec<&Drawing>)> {
    let mut found: Vec<(&CompareId, Vec<&Drawing>)> = Vec::new();
    for d in drawings {
        match found.iter_mut().find(|f| *f.0 == d.compare) {
            Some(f) => f.1.push(d),
            None => found.push((&d.compare, vec![d])),
        }
    }
    found
}

/// What the files of each comparison begin with: the name of the part, and that of the comparison where the part
/// alone would not tell them apart.
pub fn output_names(study: &Study) -> BTreeMap<CompareId, String> {
    let part_name = |id: &record::PartId| {
        let part = study.choices.parts.iter().find(|p| p.id == *id);
        part.map_or(id.0.as_str(), |p| {
            if p.name.is_empty() { &p.id.0 } else { &p.name }
        })
        .to_owned()
    };
    let all: Vec<_> = study
        .measured
        .compares
        .iter()
        .map(|c| (c.id.clone(), part_name(&c.part)))
        .collect();
    all.iter()
        .map(|(id, name)| {
            let alone = all
                .iter()
                .filter(|a| file_name(&a.1).eq_ignore_ascii_case(&file_name(name)))
                .count()
                == 1;
            let name = if alone {
                name.clone()
            } else {
                format!("{id}, {name}")
            };
            (id.clone(), name)
        })
        .collect()
}

/// A name that every common system takes: no separators, no control characters, no dots or blanks at its ends, not
/// one of the names Windows keeps for itself.
pub fn file_name(name: &str) -> String {
    let clean: String = name
        .chars()
        .map(|c| {
            if c.is_control() || "/\\:*?\"<>|".contains(c) {
                '_'
            } else {
                c
            }
        })
        .collect();
    let clean = clean.trim_matches([' ', '.']);
    let stem = clean
        .split('.')
        .next()
        .unwrap_or_default()
        .to_ascii_uppercase();
    let device = ["CON", "PRN", "AUX", "NUL"].contains(&stem.as_str())
        || (stem.len() == 4 && (stem.starts_with("COM") || stem.starts_with("LPT")));
    if clean.is_empty() || device {
        format!("_{clean}")
    } else {
        clean.to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sample::study;

    fn listing(folder: &Path) -> Vec<String> {
        let mut names: Vec<String> = std::fs::read_dir(folder)
            .unwrap()
            .map(|f| f.unwrap().file_name().into_string().unwrap())
            .collect();
        names.sort();
        names
    }

    #[test]
    fn everything_is_written_and_named_by_part_and_side() {
        let folder = tempfile::tempdir().unwrap();
        let study = study();
        let out = write_outputs(&study, folder.path(), &OutputOptions::of(&study)).unwrap();
        assert!(out.refused.is_empty(), "{:?}", out.refused);
        assert_eq!(
            listing(folder.path()),
            [
                "Lamp surround, angles.csv",
                "Lamp surround, edge.csv",
                "Lamp surround, holes.csv",
                "Lamp surround, left.dxf",
                "Lamp surround, options.csv",
                "Lamp surround, right.dxf",
                "Lamp surround, sizes.csv",
                "Lamp surround.step",
                "study.json",
            ]
        );
        for f in &out.written {
            assert_eq!(std::fs::metadata(&f.path).unwrap().len() as usize, f.bytes);
        }
    }

    #[test]
    fn one_bad_drawing_does_not_stop_the_rest() {
        let folder = tempfile::tempdir().unwrap();
        let mut study = study();
        study.drawings[0].cut = None;
        study.drawings[0].mark = None;
        let out = write_outputs(&study, folder.path(), &OutputOptions::of(&study)).unwrap();
        assert_eq!(out.refused.len(), 1);
        assert_eq!(out.refused[0].0, "Lamp surround, left.dxf");
        assert!(!listing(folder.path()).contains(&"Lamp surround, left.dxf".to_owned()));
        assert!(listing(folder.path()).contains(&"Lamp surround, right.dxf".to_owned()));
    }

    #[test]
    fn two_comparisons_of_one_part_do_not_overwrite_each_other() {
        let mut study = study();
        let mut second = study.measured.compares[0].clone();
        second.id = "after body work".into();
        study.measured.compares.push(second);
        let names = output_names(&study);
        assert_eq!(
            names[&CompareId::from("after body work")],
            "after body work, Lamp surround"
        );
    }

    #[test]
    fn names_are_safe() {
        assert_eq!(file_name("a/b: c?.dxf"), "a_b_ c_.dxf");
        assert_eq!(file_name(" ..x. "), "x");
        assert_eq!(file_name("nul.csv"), "_nul.csv");
        assert_eq!(file_name("Größe, links.dxf"), "Größe, links.dxf");
    }
}
