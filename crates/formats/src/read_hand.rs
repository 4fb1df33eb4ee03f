//! Tables of what was measured by hand.

use std::path::Path;

use record::{FieldPlan, HandKind, HandReading, Job, LengthUnit, PlanRole};

use crate::Error;
use crate::hand_number::{angle, length};
use crate::typed_table::{TypedRow, TypedTable, heads_of};

/// So many lines of a table are told apart.
const FARTHEST: usize = 100_000;
/// The heads of the columns, in the order in which tables are written.
const COLUMNS: &[&str] = &[
    "opening",
    "kind",
    "from",
    "to",
    "value",
    "unit",
    "give_or_take",
    "instrument",
    "operator",
    "station",
    "pointer_from",
    "pointer_to",
    "note",
];

/// Those that must be there.
const NEEDED: &[&str] = &["kind", "from", "value"];
const TABLE: TypedTable = TypedTable {
    of: "hand readings",
    columns: COLUMNS,
    needed: NEEDED,
    remedy: "correct the row; leave the value blank if it was not measured",
};

/// Reads a hand table: heads in the first line, columns between semicolons, tabs or commas, numbers with dot or comma,
/// fractions, feet and inches. A blank value is a reading that was not taken. Lines that begin with `#` are passed over.
///
/// # Errors
/// With file, line, what was expected and a remedy; several rows are named if several are wrong.
pub fn read_hand(path: &Path) -> Result<Vec<HandReading>, Error> {
    TABLE
        .text(path)
        .and_then(|text| hand_from_str(&text))
        .map_err(|e| e.in_file(path))
}

/// Whether a file is a hand table by the heads in its first line; only its beginning is read.
pub fn is_hand_table(path: &Path) -> bool {
    use std::io::Read;
    let mut bytes = Vec::new();
    let read = std::fs::File::open(path).and_then(|f| f.take(4096).read_to_end(&mut bytes));
    if read.is_err() {
        return false;
    }
    let text = String::from_utf8_lossy(&bytes);
    let text = text.strip_prefix('\u{feff}').unwrap_or(&text);
    let heads: Vec<String> = heads_of(text)
        .unwrap_or("")
        .split([';', '\t', ','])
        .map(|h| h.trim().trim_matches('"').to_lowercase())
        .collect();
    NEEDED
        .iter()
        .all(|wanted| heads.iter().any(|h| h == wanted))
}

/// Reads a hand table from its text; as [`read_hand`], without the path.
///
/// # Errors
/// As [`read_hand`].
pub fn hand_from_str(text: &str) -> Result<Vec<HandReading>, Error> {
    TABLE.rows(text, &reading)
}

/// A row; `None` where nothing was measured.
fn reading(row: &TypedRow) -> Result<Option<HandReading>, String> {
    let at = |head: &str| row.field(head);
    let word = at("kind").to_lowercase().replace('_', "-");
    let kind = HandKind::ALL
        .iter()
        .copied()
        .find(|k| k.word() == word)
        .ok_or_else(|| {
            let all: Vec<&str> = HandKind::ALL.iter().map(|k| k.word()).collect();
            format!(
                "no kind of reading is called \"{}\"; known are {}",
                at("kind"),
                all.join(", ")
            )
        })?;
    let written = at("value");
    if written.is_empty() && !kind.is_word() {
        return Ok(None);
    }
    let points = |head: &str| -> Vec<String> {
        at(head)
            .split(|c: char| c.is_whitespace() || c == '+')
            .filter(|p| !p.is_empty())
            .map(str::to_owned)
            .collect()
    };
    let (mut from, to) = (points("from"), points("to"));
    if matches!(kind, HandKind::Angle | HandKind::Gap | HandKind::Flush) && !from.is_empty() {
        // The name of a junction or of a place may have several words.
        from = vec![at("from").to_owned()];
    }
    for ((list, head), (least, most)) in [(&from, "from"), (&to, "to")]
        .into_iter()
        .zip(kind.points())
    {
        if list.len() < least || list.len() > most {
            let wanted = match (least, most) {
                (0, 0) => "nothing".to_owned(),
                (a, b) if a == b => format!("{a} point(s)"),
                (a, usize::MAX) => format!("{a} points or more"),
                (a, b) => format!("{a} or {b} points"),
            };
            return Err(format!(
                "a row of kind \"{}\" has {wanted} in \"{head}\", found \"{}\"",
                kind.word(),
                list.join(" ")
            ));
        }
    }
    let unit = unit_of(at("unit"), kind)?;
    let value = if kind.is_word() {
        0.0
    } else {
        value_of(written, unit, kind)?
    };
    let own = |head: &str| -> Result<Option<f64>, String> {
        let text = at(head);
        if text.is_empty() {
            Ok(None)
        } else {
            value_of(text, unit, kind).map(Some)
        }
    };
    let written = with_unit(written, value, unit, kind);
    let give_or_take = own("give_or_take")?;
    if give_or_take.is_some_and(|g| g <= 0.0) {
        return Err(
            "the give-or-take must be above 0; leave it blank to use the instrument's".to_owned(),
        );
    }
    let pointers_mm = match (own("pointer_from")?, own("pointer_to")?) {
        (Some(a), Some(b)) => Some([a, b]),
        (None, None) => None,
        _ => return Err("give the lengths of both pointers or of none".to_owned()),
    };
    if kind == HandKind::Tram && pointers_mm.is_none() {
        return Err("a tram reading needs \"pointer_from\" and \"pointer_to\"".to_owned());
    }
    Ok(Some(HandReading {
        opening: at("opening").to_owned(),
        kind,
        from,
        to,
        value,
        give_or_take,
        instrument: at("instrument").to_owned(),
        operator: at("operator").to_owned(),
        station: at("station").to_owned(),
        pointers_mm,
        written,
        line: row.line as u32,
        note: at("note").to_owned(),
    }))
}

fn unit_of(text: &str, kind: HandKind) -> Result<Option<LengthUnit>, String> {
    let word = text.to_lowercase();
    if word.is_empty() {
        return Ok(None);
    }
    if kind.is_angle() {
        return match word.as_str() {
            "deg" | "\u{b0}" => Ok(None),
            _ => Err(format!(
                "expected \"deg\" as the unit of an angle, found \"{text}\""
            )),
        };
    }
    let found = LengthUnit::ALL.into_iter().find(|u| u.word() == word);
    found
        .map(Some)
        .ok_or_else(|| format!("expected mm, cm, m, in or ft as a unit, found \"{text}\""))
}

/// What was written, with the unit its column says in it, so that it means the same by itself.
fn with_unit(written: &str, value: f64, unit: Option<LengthUnit>, kind: HandKind) -> String {
    let means = |text: &str| value_of(text, None, kind).is_ok_and(|v| v == value);
    if kind.is_word() || means(written) {
        return written.to_owned();
    }
    let said = unit.map(|u| match u {
        LengthUnit::Inch => format!("{written}\""),
        u => format!("{written} {}", u.word()),
    });
    said.filter(|s| means(s))
        .unwrap_or_else(|| format!("{value}"))
}

/// Reads one value as it is written on a field sheet: a length in mm, an angle in degrees. `unit` is that of a bare number;
/// `None`: mm, and a fraction must say its own.
///
/// # Errors
/// With what was expected and a remedy.
pub fn hand_value(text: &str, unit: Option<LengthUnit>, kind: HandKind) -> Result<f64, Error> {
    let own = length(text).ok().and_then(|w| w.unit);
    let unit = if kind.is_angle() || own.is_some() {
        None
    } else {
        unit
    };
    value_of(text, unit, kind).map_err(|says| {
        Error::malformed(says).hinting("correct the box; leave it blank if it was not measured")
    })
}

/// A value as it is kept: what was written, with its unit in it unless that is mm or degrees.
///
/// # Errors
/// As [`hand_value`].
pub fn hand_written(
    text: &str,
    unit: Option<LengthUnit>,
    kind: HandKind,
) -> Result<(f64, String), Error> {
    let text = text.trim();
    let value = hand_value(text, unit, kind)?;
    Ok((value, with_unit(text, value, unit, kind)))
}

/// A value in mm or degrees.
fn value_of(text: &str, unit: Option<LengthUnit>, kind: HandKind) -> Result<f64, String> {
    if kind.is_angle() {
        return angle(text);
    }
    let w = length(text)?;
    let own = match (w.unit, unit) {
        (None, None) if w.fraction => {
            return Err(format!(
                "\"{text}\" is a fraction and its unit is not said; put \"in\" into the column \"unit\""
            ));
        }
        (Some(a), Some(b)) if a != b && !(a == LengthUnit::Inch && b == LengthUnit::Foot) => {
            return Err(format!(
                "\"{text}\" says {}, its column says {}",
                a.word(),
                b.word()
            ));
        }
        (Some(u), _) | (None, Some(u)) => u,
        (None, None) => LengthUnit::Millimetre,
    };
    Ok(w.value * own.in_mm())
}

/// Reads the hand tables that stand beside a job; what cannot be read is said in the table.
pub(crate) fn fill(job: &mut Job, folder: &Path) {
    for table in &mut job.hand {
        let Some(path) = &table.path else { continue };
        let path = folder.join(path);
        match read_hand(&path).and_then(|r| Ok((r, crate::file_hash(&path, &|| true)?))) {
            Ok((readings, hash)) => (table.readings, table.hash) = (readings, hash),
            Err(e) => {
                table.readings.clear();
                table.unread = Some([e.to_string(), e.hint().to_owned()]);
            }
        }
    }
}

/// The rows of a hand table, heads first, as they stand in a job: as they were written, else lengths in mm, angles in
/// degrees.
///
/// # Errors
/// Never in practice: rows are written to memory.
pub(crate) fn hand_rows(readings: &[HandReading]) -> Result<Vec<String>, Error> {
    let failed = |_| Error::malformed("a hand table cannot be written");
    let mut out = csv::WriterBuilder::new()
        .delimiter(b';')
        .from_writer(Vec::new());
    out.write_record(COLUMNS).map_err(failed)?;
    for r in readings {
        let number = |v: Option<f64>| v.map_or_else(String::new, |v| format!("{v}"));
        let as_written =
            !r.written.is_empty() && value_of(&r.written, None, r.kind).is_ok_and(|v| v == r.value);
        let (value, unit) = if r.kind.is_word() {
            (String::new(), "")
        } else if as_written {
            let own = !r.kind.is_angle() && length(&r.written).is_ok_and(|w| w.unit.is_some());
            let unit = match (own, r.kind.is_angle()) {
                (true, _) => "",
                (false, true) => "deg",
                (false, false) => "mm",
            };
            (r.written.clone(), unit)
        } else {
            let unit = if r.kind.is_angle() { "deg" } else { "mm" };
            (number(r.value.is_finite().then_some(r.value)), unit)
        };
        out.write_record([
            r.opening.clone(),
            r.kind.word().to_owned(),
            r.from.join(" "),
            r.to.join(" "),
            value,
            unit.to_owned(),
            number(r.give_or_take),
            r.instrument.clone(),
            r.operator.clone(),
            r.station.clone(),
            number(r.pointers_mm.map(|p| p[0])),
            number(r.pointers_mm.map(|p| p[1])),
            r.note.replace(['\n', '\r'], " "),
        ])
        .map_err(failed)?;
    }
    let bytes = out
        .into_inner()
        .map_err(|_| Error::malformed("a hand table cannot be written"))?;
    Ok(String::from_utf8_lossy(&bytes)
        .lines()
        .map(str::to_owned)
        .collect())
}

/// As [`hand_rows`], each row at the line it says it is on: between them stand empty remarks.
///
/// # Errors
/// As [`hand_rows`].
pub(crate) fn hand_rows_on_lines(readings: &[HandReading]) -> Result<Vec<String>, Error> {
    let mut rows = hand_rows(readings)?.into_iter();
    let mut out: Vec<String> = rows.next().into_iter().collect();
    for (row, r) in rows.zip(readings) {
        while out.len() + 1 < r.line as usize && out.len() < FARTHEST {
            out.push("#".to_owned());
        }
        out.push(row);
    }
    Ok(out)
}

/// The words of a table that goes with a field sheet, before anything is measured: which points make up the edge, the top,
/// and which are raised.
pub fn hand_words(plan: &FieldPlan) -> Vec<HandReading> {
    let way = if plan.clockwise {
        "clockwise"
    } else {
        "counter-clockwise"
    };
    let mut rows = vec![blank(
        HandKind::Edge,
        names_of(plan, PlanRole::Edge),
        Vec::new(),
        way,
    )];
    if let Some(top) = &plan.top {
        let top = top.split(' ').map(str::to_owned).collect();
        rows.push(blank(HandKind::Top, top, Vec::new(), ""));
    }
    for name in names_of(plan, PlanRole::Raised) {
        rows.push(blank(HandKind::Raised, vec![name], Vec::new(), "outward"));
    }
    for (k, r) in rows.iter_mut().enumerate() {
        // Words have no value; the heads stand in the first line.
        (r.value, r.line) = (0.0, k as u32 + 2);
    }
    rows
}

fn names_of(plan: &FieldPlan, role: PlanRole) -> Vec<String> {
    let points = plan.points.iter().filter(|p| p.role == role);
    points.map(|p| p.name.clone()).collect()
}

/// A row without a value.
fn blank(kind: HandKind, from: Vec<String>, to: Vec<String>, station: &str) -> HandReading {
    HandReading {
        opening: String::new(),
        kind,
        from,
        to,
        value: f64::NAN,
        give_or_take: None,
        instrument: String::new(),
        operator: String::new(),
        station: station.to_owned(),
        pointers_mm: None,
        written: String::new(),
        line: 0,
        note: String::new(),
    }
}

/// The empty table that goes with a field sheet: its rows in the same order, values blank, to be filled in.
///
/// # Errors
/// Never in practice: rows are written to memory.
pub fn blank_hand_table(plan: &FieldPlan) -> Result<String, Error> {
    let mut rows = hand_words(plan);
    for b in &plan.boxes {
        for _ in 0..b.times {
            rows.push(blank(b.kind, b.from.clone(), b.to.clone(), &b.station));
        }
    }
    let mut text = hand_rows(&rows)?.join("\n");
    text.push('\n');
    Ok(text)
}

#[cfg(test)]
mod tests {
    use HandKind as K;

    use super::*;

    #[test]
    fn a_table_as_a_shop_writes_it() {
        let text = "\u{feff}kind;from;to;value;unit;instrument;operator;station;note\n\
                    # sheet 1\n\
                    edge;1 2 3 4;;;;;;clockwise;\n\
                    length;1;3;412,5;;tape;Ada;;\n\
                    length;1;3;16 1/4;in;tape;Bo;;second time\n\
                    length;2;4;3' 4 1/2\";;tape;;;\n\
                    length;2;3;;;;;;blank: not measured\n\
                    angle;bracket seam;;89\u{b0} 15';;protractor;;top;\n\
                    \n\
                    string;3;1 4;-1,5 mm;;rule;;;\n";
        let all = hand_from_str(text).unwrap();
        let kinds: Vec<HandKind> = all.iter().map(|r| r.kind).collect();
        assert_eq!(
            kinds,
            [
                K::Edge,
                K::Length,
                K::Length,
                K::Length,
                K::Angle,
                K::FromString
            ]
        );
        assert_eq!(all[0].from, ["1", "2", "3", "4"]);
        assert_eq!(all[0].station, "clockwise");
        assert_eq!(all[1].value, 412.5);
        assert_eq!(all[2].value, 16.25 * 25.4);
        assert_eq!((all[3].value, all[3].line), (40.5 * 25.4, 6));
        assert_eq!(
            (all[4].value, all[4].from[0].as_str()),
            (89.25, "bracket seam")
        );
        assert_eq!(all[5].to, ["1", "4"]);
    }

    #[test]
    fn commas_and_tabs_go_as_well() {
        let commas = hand_from_str("kind,from,to,value\nlength,1,2,\"412,5\"\n").unwrap();
        let tabs = hand_from_str("kind\tfrom\tto\tvalue\nlength\t1\t2\t412,5\n").unwrap();
        assert_eq!(commas, tabs);
    }

    fn check_error(text: &str, line: u64, part: &str) {
        let e = hand_from_str(text).unwrap_err();
        assert!(e.to_string().contains(part), "{e}");
        assert_eq!(e.line().unwrap_or(0), line, "{e}");
        assert!(!e.hint().is_empty());
    }

    #[test]
    fn what_is_wrong_is_named_with_its_line() {
        let head = "kind;from;to;value;unit\n";
        let row = |r: &str| format!("{head}{r}\n");
        check_error("", 0, "no line");
        check_error("kind;from\nlength;1\n", 1, "\"value\" is missing");
        check_error("kind;from;value;colour\n", 1, "\"colour\"");
        check_error(&row("lenght;1;2;3"), 2, "\"lenght\"");
        check_error(&row("length;1;;3"), 2, "\"to\"");
        check_error(&row("length;1;2;3/16"), 2, "its unit is not said");
        check_error(&row("length;1;2;3 cm;mm"), 2, "says cm");
        check_error(&row("length;1;2;3;furlong"), 2, "furlong");
        check_error(&row("angle;a;;91;mm"), 2, "deg");
        check_error(&row("tram;1;2;300"), 2, "pointer_from");
        let two = format!("{head}length;1;2;abc\nlength;1;2;4\nlength;;2;4\n");
        let e = hand_from_str(&two).unwrap_err().to_string();
        assert!(e.contains("line 2") && e.contains("line 4"), "{e}");
    }

    #[test]
    fn rows_come_back_as_they_were() {
        let text = "opening;kind;from;to;value;unit;give_or_take;instrument;operator;station;pointer_from;pointer_to;note\n\
                    left;tram;1;2;300.125;mm;0.7;trammel;A;;55;40;\"a; \"\"b\"\"\"\n\
                    left;edge;1 2 3;;;;;;;clockwise;;;\n\
                    left;angle;seam;;89.2;deg;;;;1/4;;;\n";
        let once = hand_from_str(text).unwrap();
        let again = hand_from_str(&hand_rows(&once).unwrap().join("\n")).unwrap();
        assert_eq!(once, again);
    }

    #[test]
    fn what_was_written_is_kept_with_its_unit_and_its_line() {
        let text = "kind;from;to;value;unit;give_or_take\n\
                    # left\n\
                    length;1;2;16 1/4;in;\n\
                    length;1;3;412,5;;0,7\n\
                    \n\
                    length;1;4;3' 4 1/2\"\"\";in;\n\
                    length;1;5;3.5;ft;\n\
                    corner-angle;1;2 3;89\u{b0} 15';;\n"
            .replace("\"\"\"", "\"");
        let once = hand_from_str(&text).unwrap();
        let written: Vec<&str> = once.iter().map(|r| r.written.as_str()).collect();
        assert_eq!(
            written,
            ["16 1/4\"", "412,5", "3' 4 1/2\"", "1066.8", "89\u{b0} 15'"]
        );
        let lines = hand_rows_on_lines(&once).unwrap();
        assert_eq!(lines[1], "#");
        assert_eq!(hand_from_str(&lines.join("\n")).unwrap(), once);
    }

    #[test]
    fn a_box_takes_what_a_tape_shows() {
        let inch = Some(LengthUnit::Inch);
        let check = |text: &str, unit, mm: f64, kept: &str| {
            let (value, written) = hand_written(text, unit, K::Length).unwrap();
            assert!((value - mm).abs() < 1e-9, "{text}: {value}");
            assert_eq!(written, kept, "{text}");
            assert_eq!(hand_value(&written, None, K::Length).unwrap(), value);
        };
        check("3/16", inch, 4.7625, "3/16\"");
        check(" 4 1/2 ", inch, 114.3, "4 1/2\"");
        check("3' 4 1/2\"", None, 1028.7, "3' 4 1/2\"");
        check("412,5", None, 412.5, "412,5");
        check("12 mm", inch, 12.0, "12 mm");
        let bare = hand_written("3/16", None, K::Length).unwrap_err();
        assert!(bare.to_string().contains("its unit is not said"), "{bare}");
        assert!(hand_written("5/4", inch, K::Length).is_err());
        assert_eq!(
            hand_written("89,25", inch, K::Angle).unwrap(),
            (89.25, "89,25".to_owned())
        );
    }

    #[test]
    fn an_empty_table_is_read_as_nothing_measured() {
        let plan = FieldPlan {
            opening: None,
            name: "Lamp".to_owned(),
            side: record::Side::Left,
            outline: Vec::new(),
            measured: false,
            points: ["1", "2", "3"]
                .iter()
                .map(|n| record::PlanPoint {
                    name: (*n).to_owned(),
                    at: [0.0, 0.0],
                    role: PlanRole::Edge,
                })
                .collect(),
            clockwise: true,
            top: Some("1 2".to_owned()),
            boxes: vec![record::PlanBox {
                kind: HandKind::Length,
                from: vec!["1".to_owned()],
                to: vec!["3".to_owned()],
                station: String::new(),
                times: 2,
            }],
            says: String::new(),
        };
        let text = blank_hand_table(&plan).unwrap();
        assert_eq!(text.lines().count(), 1 + 2 + 2);
        let read = hand_from_str(&text).unwrap();
        let kinds: Vec<HandKind> = read.iter().map(|r| r.kind).collect();
        assert_eq!(kinds, [HandKind::Edge, HandKind::Top]);
        let filled = text.replacen(";length;1;3;;", ";length;1;3;412,5;", 1);
        assert_eq!(hand_from_str(&filled).unwrap()[2].value, 412.5);
    }

    /// Read as 412 with a cell too many, the reading would be half a millimetre short and nobody would know.
    #[test]
    fn a_decimal_comma_between_commas_is_refused() {
        let e = hand_from_str("kind,from,to,value\nlength,A,B,412,5\n").unwrap_err();
        assert_eq!(e.line(), Some(2), "{e}");
        assert!(e.to_string().contains("semicolons"), "{e}");
        let blank = hand_from_str("kind,from,to,value\nlength,A,B,412,,\n").unwrap();
        assert_eq!(blank.len(), 1);
    }
}
