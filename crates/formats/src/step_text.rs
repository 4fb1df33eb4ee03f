//! The clear-text encoding of ISO 10303-21: numbers, strings and numbered instances.

use std::fmt::Write;

/// Instances of a data section in the order written; the first is #1.
#[derive(Default)]
pub(crate) struct StepText {
    data: String,
    last: u32,
}

impl StepText {
    /// Writes one instance, gives its number.
    pub(crate) fn add(&mut self, body: &str) -> u32 {
        self.last += 1;
        // Writing to a string cannot fail.
        let _ = writeln!(self.data, "#{}={body};", self.last);
        self.last
    }

    /// The whole file. No time is written: the same drawing gives the same bytes.
    pub(crate) fn file(&self, name: &str, description: &str, program: &str) -> String {
        format!(
            "ISO-10303-21;\nHEADER;\nFILE_DESCRIPTION(({}),'2;1');\n\
             FILE_NAME({},'1970-01-01T00:00:00',(''),(''),{p},{p},'');\n\
             FILE_SCHEMA(('AUTOMOTIVE_DESIGN {{ 1 0 10303 214 1 1 1 1 }}'));\nENDSEC;\nDATA;\n{}ENDSEC;\n\
             END-ISO-10303-21;\n",
            string(description),
            string(name),
            self.data,
            p = string(program),
        )
    }
}

/// A real as the encoding wants it: always with a point, exponent with E.
pub(crate) fn real(x: f64) -> String {
    let text = format!("{x:?}");
    let (mantissa, exponent) = text.split_once('e').unwrap_or((&text, ""));
    let mantissa = mantissa.strip_suffix(".0").unwrap_or(mantissa);
    let point = if mantissa.contains('.') { "" } else { "." };
    if exponent.is_empty() {
        format!("{mantissa}{point}")
    } else {
        format!("{mantissa}{point}E{exponent}")
    }
}

/// A list of reals in brackets.
pub(crate) fn reals(x: &[f64]) -> String {
    format!(
        "({})",
        x.iter().map(|v| real(*v)).collect::<Vec<_>>().join(",")
    )
}

/// A list of references in brackets.
pub(crate) fn refs(x: &[u32]) -> String {
    format!(
        "({})",
        x.iter()
            .map(|v| format!("#{v}"))
            .collect::<Vec<_>>()
            .join(",")
    )
}

/// A string in quotes: apostrophes and backslashes doubled, what is not ASCII as UTF-16 between \X2\ and \X0\.
pub(crate) fn string(text: &str) -> String {
    let mut out = String::from("'");
    let mut wide = false;
    for c in text.chars() {
        let plain = (' '..='~').contains(&c);
        if plain == wide {
            out.push_str(if plain { "\\X0\\" } else { "\\X2\\" });
            wide = !plain;
        }
        match c {
            '\'' => out.push_str("''"),
            '\\' => out.push_str("\\\\"),
            c if plain => out.push(c),
            c => {
                for unit in c.encode_utf16(&mut [0; 2]) {
                    let _ = write!(out, "{unit:04X}");
                }
            }
        }
    }
    if wide {
        out.push_str("\\X0\\");
    }
    out.push('\'');
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reals_have_a_point() {
        for (x, text) in [
            (1.0, "1."),
            (-2.5, "-2.5"),
            (1e-7, "1.E-7"),
            (2.5e-9, "2.5E-9"),
            (1e21, "1.E21"),
            (0.0, "0."),
        ] {
            assert_eq!(real(x), text);
        }
    }

    #[test]
    fn strings_are_escaped() {
        assert_eq!(string("l'\\"), "'l''\\\\'");
        assert_eq!(string("Grün"), "'Gr\\X2\\00FC\\X0\\n'");
        assert_eq!(string("日本"), "'\\X2\\65E5672C\\X0\\'");
    }
}
