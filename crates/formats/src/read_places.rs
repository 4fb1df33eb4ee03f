//! Tables of named places of the body.

use std::path::Path;

use geom::Point;
use record::{Job, LengthUnit, Place, PlacesTable, ScanId, Side};

use crate::Error;
use crate::hand_number::length;
use crate::typed_table::{TypedRow, TypedTable};

const TABLE: TypedTable = TypedTable {
    of: "places",
    columns: &[
        "name", "side", "scan", "x", "y", "z", "sigma", "unit", "note",
    ],
    needed: &["name", "x", "y", "z", "sigma"],
    remedy: "correct the row, or take it out",
};

/// Reads a table of places: heads in the first line, columns between semicolons, tabs or commas, numbers with dot or
/// comma. Coordinates are those of the scan. The column `scan` may be left out or blank where the job has one scan; the
/// column `unit` where everything is in mm. A place without a side only joins scans. Lines that begin with `#` are passed over.
///
/// # Errors
/// With file, line, what was expected and a remedy; several rows are named if several are wrong.
pub fn read_places(path: &Path) -> Result<Vec<Place>, Error> {
    TABLE
        .text(path)
        .and_then(|text| places_from_str(&text))
        .map_err(|e| e.in_file(path))
}

/// Reads a table of places from its text; as [`read_places`], without the path.
///
/// # Errors
/// As [`read_places`].
pub fn places_from_str(text: &str) -> Result<Vec<Place>, Error> {
    TABLE.rows(text, &|row: &TypedRow| {
        place(&|head| row.field(head)).map(Some)
    })
}

/// One place as it is typed, by the heads of a table: `words` gives what stands under a head, trimmed; lengths as in
/// [`read_places`].
///
/// # Errors
/// What was expected, with a remedy.
pub fn place_from_words<'w>(words: &dyn Fn(&str) -> &'w str) -> Result<Place, Error> {
    place(words).map_err(|says| Error::malformed(says).hinting("correct it and take it again"))
}

fn place<'w>(field: &dyn Fn(&str) -> &'w str) -> Result<Place, String> {
    let name = field("name");
    if name.is_empty() {
        return Err("the place has no name".to_owned());
    }
    let side = match field("side").to_lowercase().as_str() {
        "left" | "l" => Side::Left,
        "right" | "r" => Side::Right,
        "centre" | "center" | "c" => Side::Centre,
        "" | "not_said" => Side::NotSaid,
        other => {
            return Err(format!(
                "expected left, right, centre or nothing as the side of \"{name}\", found \"{other}\""
            ));
        }
    };
    let word = field("unit").to_lowercase();
    let unit = if word.is_empty() {
        LengthUnit::Millimetre
    } else {
        LengthUnit::ALL
            .into_iter()
            .find(|u| u.word() == word)
            .ok_or_else(|| {
                format!("expected mm, cm, m, in or ft as the unit of \"{name}\", found \"{word}\"")
            })?
    };
    let number = |head: &str| -> Result<f64, String> {
        let text = field(head);
        if text.is_empty() {
            return Err(format!("\"{head}\" of \"{name}\" is blank"));
        }
        let w = length(text).map_err(|e| format!("\"{head}\" of \"{name}\": {e}"))?;
        let mm = w.value * w.unit.unwrap_or(unit).in_mm();
        if mm.is_finite() {
            Ok(mm)
        } else {
            Err(format!("\"{head}\" of \"{name}\" is no number: \"{text}\""))
        }
    };
    let sigma_mm = number("sigma")?;
    if sigma_mm <= 0.0 {
        return Err(format!(
            "\"sigma\" of \"{name}\" must be above 0: by how much a second pick of it would differ"
        ));
    }
    Ok(Place {
        name: name.to_owned(),
        side,
        scan: ScanId(field("scan").to_owned()),
        at: Point::new(number("x")?, number("y")?, number("z")?),
        sigma_mm,
        note: field("note").to_owned(),
    })
}

/// Reads the table of places that stands beside a job; one that cannot be read says so itself.
pub(crate) fn fill(job: &mut Job, folder: &Path) {
    let Some(name) = job.places_table.as_ref().map(|t| t.path.clone()) else {
        return;
    };
    let read = table_of(&folder.join(&name), job);
    job.places_table = Some(match read {
        Ok(table) => PlacesTable {
            path: name,
            ..table
        },
        Err(e) => PlacesTable {
            path: name,
            hash: None,
            places: Vec::new(),
            unread: Some([e.to_string(), e.hint().to_owned()]),
        },
    });
}

/// The table at `path`; a blank scan is the only one of `job`.
pub(crate) fn table_of(path: &Path, job: &Job) -> Result<PlacesTable, Error> {
    let mut places = read_places(path)?;
    if let [only] = job.scans.as_slice() {
        for p in places.iter_mut().filter(|p| p.scan.0.is_empty()) {
            p.scan = only.id.clone();
        }
    }
    Ok(PlacesTable {
        path: path.to_owned(),
        hash: crate::file_hash(path, &|| true)?,
        places,
        unread: None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_commas_and_dots_blank_scans_and_units() {
        let text = "# picked on Tuesday\nname;side;scan;x;y;z;sigma\n\
            sill end;left;front;-12,5;1.004,25;3;0,4\nsill end;R;;12.5;4;3;0.4\n\nnose;centre;front;0;0;1;1\n";
        let e = places_from_str(text).unwrap_err();
        assert!(e.to_string().contains("\"y\" of \"sill end\""), "{e}");
        let all = places_from_str(&text.replace("1.004,25", "1004,25")).unwrap();
        assert_eq!(all.len(), 3);
        assert_eq!(all[0].at, Point::new(-12.5, 1004.25, 3.0));
        assert_eq!(all[0].sigma_mm, 0.4);
        assert_eq!((all[1].side, all[1].scan.0.as_str()), (Side::Right, ""));
        assert_eq!(all[2].side, Side::Centre);
        let inch = "name,side,x,y,z,sigma,unit\nnose,c,\"1,5\",2,3,1/64,in\n";
        let all = places_from_str(inch).unwrap();
        assert!((all[0].at.x - 38.1).abs() < 1e-12);
        assert!((all[0].sigma_mm - 25.4 / 64.0).abs() < 1e-12);
    }

    #[test]
    fn wrong_rows_and_heads_are_named() {
        let refused = |text: &str, line: u64, words: &str| {
            let e = places_from_str(text).unwrap_err();
            assert_eq!(e.line(), Some(line), "{e}");
            assert!(e.to_string().contains(words), "{e}");
            assert!(!e.hint().is_empty());
        };
        let heads = "name,side,x,y,z,sigma\n";
        refused("name,side,x,y,z\n", 1, "\"sigma\" is missing");
        refused("name,side,x,y,z,sigma,colour\n", 1, "\"colour\"");
        refused(&format!("{heads}a,left,1,2,3,0\n"), 2, "above 0");
        refused(&format!("{heads}a,left,1,2,3,-1\n"), 2, "above 0");
        refused(&format!("{heads}a,left,nan,2,3,1\n"), 2, "\"x\" of \"a\"");
        refused(&format!("{heads}a,lefft,1,2,3,1\n"), 2, "\"lefft\"");
        refused(
            &format!("{heads}a,left,1,,3,1\n"),
            2,
            "\"y\" of \"a\" is blank",
        );
        refused(&format!("{heads},left,1,2,3,1\n"), 2, "no name");
        refused(&format!("{heads}a,left,1,5,2,0,3,1\n"), 2, "semicolons");
        // Remarks and blank lines count.
        let remarks = format!("# one\n{heads}\n# two\na,left,1,2,3,0\n");
        refused(&remarks, 5, "above 0");
        assert!(places_from_str("\n# nothing\n").is_err());
    }
}
