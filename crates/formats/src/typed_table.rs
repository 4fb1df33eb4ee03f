//! Tables that people type: a few columns known by their heads, in any order.

use std::path::Path;

use crate::Error;

/// A table is typed: more than this is another kind of file.
const LARGEST: u64 = 4 << 20;
/// So many wrong rows are named.
const NAMED: usize = 5;

/// What a kind of table looks like.
pub(crate) struct TypedTable {
    /// What it is a table of: "places".
    pub of: &'static str,
    /// The heads of the columns, in the order in which tables are written.
    pub columns: &'static [&'static str],
    /// Those that must be there.
    pub needed: &'static [&'static str],
    /// What to do with a wrong row.
    pub remedy: &'static str,
}

/// A row of a table.
pub(crate) struct TypedRow<'t> {
    /// Its line in the file, from 1.
    pub line: u64,
    columns: &'static [&'static str],
    column: &'t [Option<usize>],
    fields: &'t csv::StringRecord,
}

impl<'t> TypedRow<'t> {
    /// What stands under a head of the kind of table; empty where the column is not there or blank.
    pub fn field(&self, head: &str) -> &'t str {
        let k = self.columns.iter().position(|c| *c == head);
        let at = k.and_then(|k| self.column[k]);
        at.and_then(|c| self.fields.get(c)).unwrap_or("").trim()
    }

    fn is_blank(&self) -> bool {
        self.columns.iter().all(|c| self.field(c).is_empty())
    }
}

impl TypedTable {
    /// The text of the table at `path`.
    ///
    /// # Errors
    /// Where it cannot be read, is no file of at most 4 MiB, or is not UTF-8.
    pub fn text(&self, path: &Path) -> Result<String, Error> {
        let about = std::fs::metadata(path).map_err(|e| Error::io("read", e))?;
        if !about.is_file() || about.len() > LARGEST {
            let says = format!("expected a table of {} of at most 4 MiB", self.of);
            return Err(Error::unknown_format(says).hinting("give the path of the table"));
        }
        let bytes = std::fs::read(path).map_err(|e| Error::io("read", e))?;
        String::from_utf8(bytes).map_err(|e| {
            let valid = e.utf8_error().valid_up_to();
            let line = e.as_bytes()[..valid].split(|&b| b == b'\n').count() as u64;
            Error::malformed("expected text in UTF-8, found other bytes")
                .at_line(line)
                .hinting("save the table as CSV in UTF-8")
        })
    }

    /// The rows of a table, each made by `row`, which may pass one over or say what is wrong with it. Heads in the first line,
    /// columns between semicolons, tabs or commas; lines that begin with `#` and blank rows are passed over.
    ///
    /// # Errors
    /// With the line, what was expected and a remedy; several rows are named if several are wrong.
    pub fn rows<T>(
        &self,
        text: &str,
        row: &dyn Fn(&TypedRow) -> Result<Option<T>, String>,
    ) -> Result<Vec<T>, Error> {
        let text = text.strip_prefix('\u{feff}').unwrap_or(text);
        let first = heads_of(text).ok_or_else(|| {
            Error::empty(format!("expected a table of {}, found no line", self.of))
                .hinting(format!("begin with the heads: {}", self.columns.join(";")))
        })?;
        let between = [b';', b'\t', b',']
            .into_iter()
            .max_by_key(|b| (first.bytes().filter(|c| c == b).count(), *b == b';'))
            .unwrap_or(b';');
        let mut reader = csv::ReaderBuilder::new()
            .delimiter(between)
            .comment(Some(b'#'))
            .flexible(true)
            .trim(csv::Trim::All)
            .from_reader(text.as_bytes());
        let heads = reader
            .headers()
            .map_err(|_| Error::malformed("the heads of the columns cannot be read").at_line(1))?
            .clone();
        let column = self.column(&heads)?;
        let mut found = Vec::new();
        let mut wrong: Vec<(u64, String)> = Vec::new();
        for fields in reader.records() {
            let fields = fields.map_err(|e| {
                let line = e.position().map_or(1, csv::Position::line);
                Error::malformed("the row cannot be taken apart")
                    .at_line(line)
                    .hinting("close every double quote")
            })?;
            let one = TypedRow {
                line: fields.position().map_or(0, |p| line_of(text, p)),
                columns: self.columns,
                column: &column,
                fields: &fields,
            };
            let beyond = fields
                .iter()
                .skip(heads.len())
                .any(|f| !f.trim().is_empty());
            if beyond {
                let says = format!(
                    "expected {} columns, found {}; a decimal comma needs semicolons between columns",
                    heads.len(),
                    fields.len()
                );
                wrong.push((one.line, says));
            } else if !one.is_blank() {
                match row(&one) {
                    Ok(made) => found.extend(made),
                    Err(says) => wrong.push((one.line, says)),
                }
            }
        }
        self.all_right(&wrong).map(|()| found)
    }

    fn all_right(&self, wrong: &[(u64, String)]) -> Result<(), Error> {
        let Some(((line, says), rest)) = wrong.split_first() else {
            return Ok(());
        };
        let more: Vec<String> = rest
            .iter()
            .take(NAMED)
            .map(|(l, s)| format!("line {l}: {s}"))
            .collect();
        let says = if more.is_empty() {
            says.clone()
        } else {
            format!("{says}; also {}", more.join("; "))
        };
        Err(Error::malformed(says).at_line(*line).hinting(self.remedy))
    }

    /// Where each known column stands.
    fn column(&self, heads: &csv::StringRecord) -> Result<Vec<Option<usize>>, Error> {
        let refused = |says: String| {
            let all = format!("the heads are: {}", self.columns.join(";"));
            Err(Error::malformed(says).at_line(1).hinting(all))
        };
        let known = |h: &str| self.columns.iter().any(|c| c.eq_ignore_ascii_case(h));
        if let Some(odd) = heads.iter().find(|h| !h.is_empty() && !known(h)) {
            return refused(format!(
                "no column is called \"{odd}\" in a table of {}",
                self.of
            ));
        }
        let at = |c: &str| heads.iter().position(|h| c.eq_ignore_ascii_case(h));
        if let Some(missing) = self.needed.iter().find(|c| at(c).is_none()) {
            return refused(format!("the column \"{missing}\" is missing"));
        }
        Ok(self.columns.iter().map(|c| at(c)).collect())
    }
}

/// The line of the heads: the first that is neither blank nor a remark.
pub(crate) fn heads_of(text: &str) -> Option<&str> {
    text.lines()
        .find(|l| !l.trim().is_empty() && !l.starts_with('#'))
}

/// The line of a row: remarks and blank lines before it count with it where it was looked for.
fn line_of(text: &str, at: &csv::Position) -> u64 {
    let rest = text.get(at.byte() as usize..).unwrap_or("");
    let before = rest
        .lines()
        .take_while(|l| l.trim().is_empty() || l.starts_with('#'));
    at.line() + before.count() as u64
}
