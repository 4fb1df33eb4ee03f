//! Tables of a comparison as CSV, to be pasted into a spreadsheet.
//!
//! One head line; the unit stands in the head. With a decimal comma the columns are parted by semicolons. A blank cell
//! means: not measured. Text is UTF-8 with a byte order mark, which spreadsheets need to see it as such.

use geom::Point;
use record::{
    DecidedCompare, DisplayUnits, Figure, LengthDisplay, MeasuredCompare, MeasuredEdge, Quantity,
    Study, Through,
};

use crate::Refused;
use crate::study_json::{direction_word, mode_word, need_word, option_word, verdict_word};

/// A table ready to be written.
#[derive(Clone, Debug, PartialEq)]
pub struct Table {
    /// What it holds: "angles", "edge", "holes", "sizes", "options".
    pub name: &'static str,
    /// The file.
    pub bytes: Vec<u8>,
}

/// The tables of one comparison of a study; tables without rows are left out.
///
/// # Errors
/// When a table does not read back with the cells that were written.
pub fn tables(
    study: &Study,
    compare: &MeasuredCompare,
    units: DisplayUnits,
) -> Result<Vec<Table>, Refused> {
    let decided = study.decided.compares.iter().find(|d| d.id == compare.id);
    let edges = [Some(&compare.a), compare.b.as_ref()].map(|id| {
        study
            .measured
            .openings
            .iter()
            .find(|o| Some(&o.id) == id)
            .and_then(|o| o.edge.as_ref())
    });
    let sheets = [
        ("angles", angles(compare, units)),
        ("edge", stations(compare, units)),
        ("holes", holes(compare, units)),
        ("sizes", sizes(compare, edges, units)),
        ("options", options(decided, units)),
    ];
    let mut found = Vec::new();
    for (name, sheet) in sheets {
        if sheet.rows.len() > 1 {
            found.push(Table {
                name,
                bytes: sheet.bytes(name)?,
            });
        }
    }
    Ok(found)
}

/// Rows of cells as text, the head first.
pub(crate) struct Sheet {
    rows: Vec<Vec<String>>,
    units: DisplayUnits,
}

impl Sheet {
    pub(crate) fn new(units: DisplayUnits, head: &[&str]) -> Self {
        let inch = units.length == LengthDisplay::Inch;
        let name = |h: &&str| match h.strip_suffix("_mm") {
            Some(stem) if inch => format!("{stem}_in"),
            _ => (*h).to_owned(),
        };
        Self {
            rows: vec![head.iter().map(name).collect()],
            units,
        }
    }

    pub(crate) fn row(&mut self, cells: impl IntoIterator<Item = String>) {
        self.rows.push(cells.into_iter().collect());
    }

    pub(crate) fn number(&self, x: f64, digits: usize) -> String {
        if !x.is_finite() {
            return String::new();
        }
        let text = format!("{x:.digits$}");
        // No "-0.000".
        let text = if text
            .trim_start_matches('-')
            .chars()
            .all(|c| c == '0' || c == '.')
        {
            text.trim_start_matches('-').to_owned()
        } else {
            text
        };
        if self.units.decimal_comma {
            text.replace('.', ",")
        } else {
            text
        }
    }

    pub(crate) fn length(&self, mm: f64) -> String {
        match self.units.length {
            LengthDisplay::Millimetre => self.number(mm, 3),
            LengthDisplay::Inch => self.number(mm / 25.4, 4),
        }
    }

    /// Value and give-or-take of a figure; two blanks where it was not measured.
    pub(crate) fn pair(&self, f: Option<&Figure>) -> [String; 2] {
        f.map_or([String::new(), String::new()], |f| {
            [f.value, f.u95].map(|x| match f.quantity {
                Quantity::Length => self.length(x),
                Quantity::Percent => self.number(x, 1),
                Quantity::Area if self.units.length == LengthDisplay::Inch => {
                    self.number(x / (25.4 * 25.4), 4)
                }
                Quantity::Angle | Quantity::TwistRate | Quantity::Area => self.number(x, 3),
            })
        })
    }

    pub(crate) fn place(&self, p: &Point) -> [String; 3] {
        [p.x, p.y, p.z].map(|x| self.length(x))
    }

    fn delimiter(&self) -> u8 {
        if self.units.decimal_comma { b';' } else { b',' }
    }

    /// Writes and reads back.
    pub(crate) fn bytes(&self, name: &str) -> Result<Vec<u8>, Refused> {
        let failed = |e: &dyn std::fmt::Display| Refused::because(format!("table \"{name}\": {e}"));
        let mut bytes = "\u{feff}".as_bytes().to_vec();
        {
            let mut writer = csv::WriterBuilder::new()
                .delimiter(self.delimiter())
                .terminator(csv::Terminator::CRLF)
                .from_writer(&mut bytes);
            for row in &self.rows {
                writer.write_record(row).map_err(|e| failed(&e))?;
            }
            writer.flush().map_err(|e| failed(&e))?;
        }
        let mut reader = csv::ReaderBuilder::new()
            .delimiter(self.delimiter())
            .has_headers(false)
            .from_reader(&bytes[3..]);
        let mut read = 0;
        for (record, row) in reader.records().zip(&self.rows) {
            let record = record.map_err(|e| failed(&e))?;
            if !record.iter().eq(row.iter().map(String::as_str)) {
                return Err(failed(&"a row did not read back"));
            }
            read += 1;
        }
        if read != self.rows.len() {
            return Err(failed(&"rows are missing"));
        }
        Ok(bytes)
    }
}

fn text(s: &str) -> [String; 1] {
    [s.to_string()]
}

/// The unit of a figure as the sheet shows it.
pub(crate) fn unit_of(f: &Figure, units: DisplayUnits) -> &'static str {
    match (f.quantity, units.length) {
        (Quantity::Length, LengthDisplay::Inch) => "in",
        (Quantity::Area, LengthDisplay::Inch) => "in2",
        (q, _) => q.unit(),
    }
}

fn angles(compare: &MeasuredCompare, units: DisplayUnits) -> Sheet {
    let mut sheet = Sheet::new(
        units,
        &[
            "junction",
            "place",
            "share",
            "taken",
            "drawn_deg",
            "a_deg",
            "a_u95_deg",
            "b_deg",
            "b_u95_deg",
            "a_minus_b_deg",
            "a_minus_b_u95_deg",
        ],
    );
    for r in &compare.angles {
        let taken = match r.through {
            Through::Material => "through the metal",
            Through::Air => "through the air",
        };
        let mut cells = vec![
            r.junction.0.clone(),
            r.place.clone(),
            sheet.number(r.share, 4),
            taken.to_owned(),
        ];
        cells.push(r.drawn_deg.map_or(String::new(), |d| sheet.number(d, 3)));
        for f in [&r.a, &r.b, &r.difference] {
            cells.extend(sheet.pair(f.as_ref()));
        }
        sheet.row(cells);
    }
    sheet
}

fn stations(compare: &MeasuredCompare, units: DisplayUnits) -> Sheet {
    let mut sheet = Sheet::new(
        units,
        &[
            "station",
            "place",
            "share",
            "seen",
            "a_x_mm",
            "a_y_mm",
            "a_z_mm",
            "b_x_mm",
            "b_y_mm",
            "b_z_mm",
            "gap_a_minus_b_mm",
            "gap_u95_mm",
            "flush_a_minus_b_mm",
            "flush_u95_mm",
        ],
    );
    for (i, s) in compare.stations.iter().enumerate() {
        let mut cells = vec![
            (i + 1).to_string(),
            s.place.clone(),
            sheet.number(s.share, 5),
        ];
        cells.extend(text(if s.seen { "yes" } else { "no" }));
        cells.extend(sheet.place(&s.a));
        cells.extend(sheet.place(&s.b));
        cells.extend(sheet.pair(Some(&s.gap)));
        cells.extend(sheet.pair(Some(&s.flush)));
        sheet.row(cells);
    }
    sheet
}

fn holes(compare: &MeasuredCompare, units: DisplayUnits) -> Sheet {
    let mut sheet = Sheet::new(
        units,
        &[
            "hole",
            "a_x_mm",
            "a_y_mm",
            "a_z_mm",
            "b_x_mm",
            "b_y_mm",
            "b_z_mm",
            "right_a_minus_b_mm",
            "right_u95_mm",
            "up_a_minus_b_mm",
            "up_u95_mm",
            "a_diameter_mm",
            "a_diameter_u95_mm",
            "b_diameter_mm",
            "b_diameter_u95_mm",
            "pattern_rest_mm",
        ],
    );
    for h in &compare.holes {
        let mut cells = vec![h.id.0.clone()];
        cells.extend(sheet.place(&h.a));
        cells.extend(sheet.place(&h.b));
        for f in [&h.right, &h.up, &h.a_diameter, &h.b_diameter] {
            cells.extend(sheet.pair(Some(f)));
        }
        cells.push(sheet.length(h.pattern_rest_mm));
        sheet.row(cells);
    }
    sheet
}

/// Sizes of both edges by name, corner radii, then the named ways of differing.
fn sizes(
    compare: &MeasuredCompare,
    edges: [Option<&MeasuredEdge>; 2],
    units: DisplayUnits,
) -> Sheet {
    let mut sheet = Sheet::new(
        units,
        &[
            "size",
            "unit",
            "a",
            "a_u95",
            "b",
            "b_u95",
            "a_minus_b",
            "a_minus_b_u95",
        ],
    );
    let named = |e: &MeasuredEdge| -> Vec<(String, Figure)> {
        let sizes = e.dimensions.iter().map(|d| (d.name.clone(), d.figure));
        let corners = e
            .corners
            .iter()
            .map(|c| (format!("radius, {}", c.place), c.radius));
        sizes.chain(corners).collect()
    };
    let [a, b] = edges.map(|e| e.map(named).unwrap_or_default());
    let find = |all: &[(String, Figure)], name: &str| all.iter().find(|x| x.0 == name).map(|x| x.1);
    let mut names: Vec<String> = a.iter().map(|x| x.0.clone()).collect();
    names.extend(
        b.iter()
            .map(|x| x.0.clone())
            .filter(|n| find(&a, n).is_none()),
    );
    for name in names {
        let (x, y) = (find(&a, &name), find(&b, &name));
        let unit = x.or(y).map_or("", |f| unit_of(&f, units));
        let mut cells = vec![name, unit.to_owned()];
        cells.extend(sheet.pair(x.as_ref()));
        cells.extend(sheet.pair(y.as_ref()));
        // The give-or-take of a difference is not that of its parts: it is given where it was worked out, below.
        cells.extend([String::new(), String::new()]);
        sheet.row(cells);
    }
    for m in &compare.modes {
        let mut cells = vec![format!("difference of shape: {}", mode_word(m.kind))];
        cells.push(unit_of(&m.amount, units).to_owned());
        cells.extend(std::iter::repeat_n(String::new(), 4));
        cells.extend(sheet.pair(Some(&m.amount)));
        sheet.row(cells);
    }
    sheet
}

fn options(decided: Option<&DecidedCompare>, units: DisplayUnits) -> Sheet {
    let mut sheet = Sheet::new(
        units,
        &[
            "option",
            "verdict",
            "uses_percent",
            "uses_u95_percent",
            "chance_fits_percent",
            "worst_place",
            "worst_way",
            "worst",
            "worst_u95",
            "worst_unit",
            "needs",
        ],
    );
    for o in decided.map(|d| d.options.as_slice()).unwrap_or_default() {
        let mut cells = vec![
            option_word(o.kind).to_owned(),
            verdict_word(o.verdict).to_owned(),
        ];
        cells.extend(sheet.pair(o.uses.as_ref()));
        cells.push(
            o.chance
                .map_or(String::new(), |c| sheet.number(c.fits * 100.0, 1)),
        );
        let worst = o.worst.as_ref();
        cells.push(worst.map_or(String::new(), |w| w.place.clone()));
        cells.push(worst.map_or(String::new(), |w| direction_word(w.direction).to_owned()));
        cells.extend(sheet.pair(worst.map(|w| &w.amount)));
        cells.push(worst.map_or(String::new(), |w| unit_of(&w.amount, units).to_owned()));
        let needs: Vec<String> = o
            .needs
            .iter()
            .map(|n| {
                let hole = n
                    .hole
                    .as_ref()
                    .map_or(String::new(), |h| format!(" at {h}"));
                format!("{}{hole} {}", need_word(n.kind), sheet.length(n.amount_mm))
            })
            .collect();
        cells.push(needs.join(" / "));
        sheet.row(cells);
    }
    sheet
}

#[cfg(test)]
mod tests;
