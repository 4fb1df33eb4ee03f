//! Reads the small tables of published check values in `tests/data`.

use std::collections::BTreeMap;

/// A table: `certified,NAME,VALUE[,SD]` lines, a `columns,...` line, then rows of numbers.
pub struct Table {
    certified: BTreeMap<String, (f64, f64)>,
    columns: Vec<String>,
    rows: Vec<Vec<f64>>,
}

impl Table {
    /// The table in the text of a file; any line that is not understood fails the test.
    pub fn read(text: &str) -> Self {
        let mut table = Self {
            certified: BTreeMap::new(),
            columns: Vec::new(),
            rows: Vec::new(),
        };
        for line in text
            .lines()
            .filter(|l| !l.starts_with('#') && !l.trim().is_empty())
        {
            let fields: Vec<&str> = line.split(',').map(str::trim).collect();
            let number = |k: usize| -> f64 {
                fields[k]
                    .parse()
                    .unwrap_or_else(|_| panic!("no number in {line:?}"))
            };
            match fields[0] {
                "certified" => {
                    let sd = if fields.len() > 3 { number(3) } else { 0.0 };
                    table
                        .certified
                        .insert(fields[1].to_owned(), (number(2), sd));
                }
                "columns" => table.columns = fields[1..].iter().map(|&f| f.to_owned()).collect(),
                _ => {
                    assert_eq!(fields.len(), table.columns.len(), "{line:?}");
                    table.rows.push((0..fields.len()).map(number).collect());
                }
            }
        }
        table
    }

    /// The certified value of a name.
    pub fn value(&self, name: &str) -> f64 {
        self.certified[name].0
    }

    /// The certified standard deviation of a name.
    pub fn sd(&self, name: &str) -> f64 {
        self.certified[name].1
    }

    /// A column by its name.
    pub fn column(&self, name: &str) -> Vec<f64> {
        let k = self
            .columns
            .iter()
            .position(|c| c == name)
            .unwrap_or_else(|| panic!("no column {name:?}"));
        self.rows.iter().map(|r| r[k]).collect()
    }

    /// The names of the columns.
    pub fn columns(&self) -> &[String] {
        &self.columns
    }
}
