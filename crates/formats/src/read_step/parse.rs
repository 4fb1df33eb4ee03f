//! Instances and values of the clear-text encoding of ISO 10303-21.

use std::collections::BTreeMap;

use crate::Refused;

/// One instance of the data section.
pub(super) struct Instance {
    /// Name of the entity; empty for a complex instance.
    pub kind: String,
    /// Its fields.
    pub fields: Vec<Value>,
    /// As written, without the number.
    pub text: String,
}

/// A field.
pub(super) enum Value {
    Reference(u64),
    Real(f64),
    Text(String),
    List(Vec<Value>),
    /// A value with the name of its type before it.
    Typed(Vec<Value>),
    /// `$`, `*`, or a word between points.
    Other,
}

/// All instances of the data section by number.
pub(super) fn instances(text: &str) -> Result<BTreeMap<u64, Instance>, Refused> {
    let broken = || Refused::because("this is not a STEP data section");
    if !text.starts_with("ISO-10303-21;") || !text.trim_end().ends_with("END-ISO-10303-21;") {
        return Err(broken());
    }
    let data = text.split_once("DATA;").ok_or_else(broken)?.1;
    let mut all = BTreeMap::new();
    for statement in statements(data) {
        let statement = statement.trim();
        if statement == "ENDSEC" {
            break;
        }
        let (id, body) = statement
            .strip_prefix('#')
            .and_then(|s| s.split_once('='))
            .ok_or_else(broken)?;
        let id = id.trim().parse().map_err(|_| broken())?;
        let body = body.trim();
        let mut cursor = Cursor {
            chars: body.chars().collect(),
            at: 0,
            depth: 0,
        };
        let kind = cursor.word();
        let fields = cursor.list()?;
        let instance = Instance {
            kind,
            fields,
            text: body.to_owned(),
        };
        if all.insert(id, instance).is_some() {
            return Err(Refused::because(format!("instance #{id} is there twice")));
        }
    }
    Ok(all)
}

/// Statements without their semicolons; those inside strings do not count.
fn statements(data: &str) -> Vec<&str> {
    let mut found = Vec::new();
    let (mut from, mut quoted) = (0, false);
    for (i, c) in data.char_indices() {
        match c {
            '\'' => quoted = !quoted,
            ';' if !quoted => {
                found.push(&data[from..i]);
                from = i + 1;
            }
            _ => {}
        }
    }
    found
}

/// Lists in lists; what is written has two or three.
const DEEPEST: usize = 16;

struct Cursor {
    chars: Vec<char>,
    at: usize,
    depth: usize,
}

impl Cursor {
    fn peek(&self) -> Option<char> {
        self.chars.get(self.at).copied()
    }

    fn take_while(&mut self, keep: impl Fn(char) -> bool) -> String {
        let from = self.at;
        while self.peek().is_some_and(&keep) {
            self.at += 1;
        }
        self.chars[from..self.at].iter().collect()
    }

    fn word(&mut self) -> String {
        self.take_while(|c| c.is_ascii_alphanumeric() || c == '_')
    }

    fn stray(&self) -> Refused {
        Refused::because(format!(
            "something else than a value stands at place {} of an instance",
            self.at
        ))
    }

    fn expect(&mut self, c: char) -> Result<(), Refused> {
        if self.peek() != Some(c) {
            return Err(self.stray());
        }
        self.at += 1;
        Ok(())
    }

    /// Values in brackets; typed values may follow each other without commas in a complex instance.
    fn list(&mut self) -> Result<Vec<Value>, Refused> {
        self.expect('(')?;
        self.depth += 1;
        if self.depth > DEEPEST {
            return Err(self.stray());
        }
        let mut values = Vec::new();
        loop {
            self.take_while(|c| c.is_whitespace() || c == ',');
            match self.peek() {
                Some(')') => {
                    self.at += 1;
                    self.depth -= 1;
                    return Ok(values);
                }
                Some(_) => values.push(self.value()?),
                None => return Err(self.stray()),
            }
        }
    }

    fn value(&mut self) -> Result<Value, Refused> {
        match self.peek() {
            Some('#') => {
                self.at += 1;
                let digits = self.take_while(|c| c.is_ascii_digit());
                digits
                    .parse()
                    .map(Value::Reference)
                    .map_err(|_| self.stray())
            }
            Some('\'') => self.text().map(Value::Text),
            Some('(') => self.list().map(Value::List),
            Some('$' | '*') => {
                self.at += 1;
                Ok(Value::Other)
            }
            Some('.') => {
                self.at += 1;
                self.take_while(|c| c != '.');
                self.expect('.')?;
                Ok(Value::Other)
            }
            Some(c) if c.is_ascii_alphabetic() => {
                self.word();
                self.list().map(Value::Typed)
            }
            _ => {
                let number = self.take_while(|c| c.is_ascii_digit() || "+-.E".contains(c));
                let number = number.parse().ok().filter(|x: &f64| x.is_finite());
                number.map(Value::Real).ok_or_else(|| self.stray())
            }
        }
    }

    /// A string with its escapes undone.
    fn text(&mut self) -> Result<String, Refused> {
        self.expect('\'')?;
        let mut raw = String::new();
        loop {
            raw.push_str(&self.take_while(|c| c != '\''));
            self.expect('\'')?;
            if self.peek() != Some('\'') {
                return unescape(&raw).ok_or_else(|| self.stray());
            }
            raw.push('\'');
            self.at += 1;
        }
    }
}

/// Undoes `\\` and `\X2\...\X0\`.
fn unescape(raw: &str) -> Option<String> {
    let mut out = String::new();
    let mut rest = raw;
    while let Some((before, after)) = rest.split_once('\\') {
        out.push_str(before);
        if let Some(hex) = after.strip_prefix("X2\\") {
            let (hex, after) = hex.split_once("\\X0\\")?;
            let units: Option<Vec<u16>> = (0..hex.len() / 4)
                .map(|i| u16::from_str_radix(hex.get(4 * i..4 * i + 4)?, 16).ok())
                .collect();
            out.push_str(&String::from_utf16(&units?).ok()?);
            rest = after;
        } else {
            rest = after.strip_prefix('\\')?;
            out.push('\\');
        }
    }
    out.push_str(rest);
    Some(out)
}
