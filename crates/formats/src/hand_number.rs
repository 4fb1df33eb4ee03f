//! Numbers as they are written on a field sheet: decimals with dot or comma, fractions, feet and inches, degrees and
//! minutes.

use record::LengthUnit;

/// A number as it was written, with the unit that stood in it, if one did.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Written {
    /// In `unit`, or in the unit of the column.
    pub value: f64,
    /// The unit that stood in it; degrees and minutes come as degrees, without one.
    pub unit: Option<LengthUnit>,
    /// Whether a fraction was written: its unit must be said.
    pub fraction: bool,
}

/// A length: `12.5`, `12,5`, `3/16`, `4 1/2`, `3' 4 1/2"`, `12.5 mm`. The error says what was expected.
pub(crate) fn length(text: &str) -> Result<Written, String> {
    let text = text.trim();
    let (negative, body) = signed(text);
    let expected = || {
        format!(
            "expected a length such as 412.5, 412,5, 3/16, 4 1/2 or 3' 4 1/2\", found \"{text}\""
        )
    };
    let sign = if negative { -1.0 } else { 1.0 };
    let lower = body.to_lowercase().replace(['\u{2019}', '\u{2032}'], "'");
    let lower = lower
        .replace(['\u{201d}', '\u{2033}'], "\"")
        .replace("''", "\"");
    if let Some((feet, inches)) = split_feet(&lower) {
        let feet = plain(feet).ok_or_else(expected)?;
        let inches = inches
            .trim()
            .trim_start_matches('-')
            .trim_end_matches('"')
            .trim_end_matches("in")
            .trim();
        let inches = if inches.is_empty() {
            0.0
        } else {
            mixed(inches).ok_or_else(expected)?.0
        };
        if inches >= 12.0 || feet.fract() != 0.0 {
            return Err(format!(
                "expected whole feet and less than 12 inches, found \"{text}\""
            ));
        }
        return Ok(Written {
            value: sign * (12.0 * feet + inches),
            unit: Some(LengthUnit::Inch),
            fraction: false,
        });
    }
    let (number, unit) = split_unit(&lower);
    let (value, fraction) = mixed(number).ok_or_else(expected)?;
    Ok(Written {
        value: sign * value,
        unit,
        fraction,
    })
}

/// An angle in degrees: `89.25`, `89,25`, `89 1/4`, `89° 15'`, `89 deg 15 min`.
pub(crate) fn angle(text: &str) -> Result<f64, String> {
    let (negative, body) = signed(text.trim());
    let sign = if negative { -1.0 } else { 1.0 };
    let lower = body
        .to_lowercase()
        .replace(['\u{2019}', '\u{2032}'], "'")
        .replace("deg", "\u{b0}")
        .replace("min", "'");
    let expected = || {
        format!(
            "expected an angle such as 89.25, 89,25 or 89\u{b0} 15', found \"{}\"",
            text.trim()
        )
    };
    let value = match lower.split_once('\u{b0}') {
        None => mixed(lower.trim()).ok_or_else(expected)?.0,
        Some((degrees, minutes)) => {
            let minutes = minutes.trim().trim_end_matches('\'').trim();
            let degrees = mixed(degrees.trim()).ok_or_else(expected)?.0;
            if minutes.is_empty() {
                degrees
            } else {
                let m = mixed(minutes).ok_or_else(expected)?.0;
                if m >= 60.0 || degrees.fract() != 0.0 {
                    return Err(expected());
                }
                degrees + m / 60.0
            }
        }
    };
    Ok(sign * value)
}

fn signed(text: &str) -> (bool, &str) {
    let minus = text
        .strip_prefix('-')
        .or_else(|| text.strip_prefix('\u{2212}'));
    match minus {
        Some(rest) => (true, rest.trim_start()),
        None => (false, text.strip_prefix('+').unwrap_or(text).trim_start()),
    }
}

fn split_feet(text: &str) -> Option<(&str, &str)> {
    let (feet, rest) = text.split_once('\'').or_else(|| text.split_once("ft"))?;
    Some((feet.trim(), rest))
}

fn split_unit(text: &str) -> (&str, Option<LengthUnit>) {
    let text = text.trim();
    let words = [
        ("mm", LengthUnit::Millimetre),
        ("cm", LengthUnit::Centimetre),
        ("inch", LengthUnit::Inch),
        ("in", LengthUnit::Inch),
        ("\"", LengthUnit::Inch),
        ("m", LengthUnit::Metre),
    ];
    for (word, unit) in words {
        if let Some(number) = text.strip_suffix(word) {
            return (number.trim(), Some(unit));
        }
    }
    (text, None)
}

/// A whole number and a fraction, either, or a decimal; and whether a fraction was in it.
fn mixed(text: &str) -> Option<(f64, bool)> {
    let Some((before, under)) = text.split_once('/') else {
        return plain(text).map(|v| (v, false));
    };
    let under: u32 = under.trim().parse().ok().filter(|u| *u > 0)?;
    let before = before.trim().replace('-', " ");
    let mut parts = before.split_whitespace();
    let (first, second, more) = (parts.next()?, parts.next(), parts.next());
    if more.is_some() {
        return None;
    }
    let (whole, over) = match second {
        Some(over) => (first.parse::<u32>().ok()?, over),
        None => (0, first),
    };
    let over: u32 = over.parse().ok()?;
    // 5/4 is no fraction that a tape shows.
    (over < under).then(|| (f64::from(whole) + f64::from(over) / f64::from(under), true))
}

/// Digits with at most one dot or comma.
fn plain(text: &str) -> Option<f64> {
    let text = text.trim();
    let digits = text
        .chars()
        .all(|c| c.is_ascii_digit() || c == '.' || c == ',');
    let marks = text.chars().filter(|c| matches!(c, '.' | ',')).count();
    if text.is_empty() || !digits || marks > 1 || text.len() == marks {
        return None;
    }
    text.replace(',', ".").parse().ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(text: &str, value: f64, unit: Option<LengthUnit>) {
        let w = length(text).unwrap();
        assert!((w.value - value).abs() < 1e-12, "{text}: {w:?}");
        assert_eq!(w.unit, unit, "{text}");
    }

    #[test]
    fn lengths_as_people_write_them() {
        check("412.5", 412.5, None);
        check(" 412,5 ", 412.5, None);
        check("0", 0.0, None);
        check("3/16", 0.1875, None);
        check("4 1/2", 4.5, None);
        check("4-1/2", 4.5, None);
        check("16 7/32\"", 16.21875, Some(LengthUnit::Inch));
        check("3' 4 1/2\"", 40.5, Some(LengthUnit::Inch));
        check("3'-4 1/2\"", 40.5, Some(LengthUnit::Inch));
        check("3 ft 4 in", 40.0, Some(LengthUnit::Inch));
        check("3'", 36.0, Some(LengthUnit::Inch));
        check("41.25 cm", 41.25, Some(LengthUnit::Centimetre));
        check("0,4125m", 0.4125, Some(LengthUnit::Metre));
        check("-3/16", -0.1875, None);
        check("\u{2212}1,5 mm", -1.5, Some(LengthUnit::Millimetre));
        assert!(length("3/16").unwrap().fraction && !length("4.5").unwrap().fraction);
    }

    #[test]
    fn what_is_no_length_is_refused() {
        for text in [
            "", "abc", "1.234,5", "1,2,3", "5/4", "1/0", "3' 13\"", "3.5' 2\"", "1 2 3/4", ".",
            "--3", "nan", "1e5", "4 1/", "inf",
        ] {
            let e = length(text).unwrap_err();
            assert!(e.contains("expected"), "{text}: {e}");
        }
    }

    #[test]
    fn angles_as_people_write_them() {
        for (text, value) in [
            ("89.25", 89.25),
            ("89,25", 89.25),
            ("89 1/4", 89.25),
            ("89\u{b0} 15'", 89.25),
            ("89 deg 15 min", 89.25),
            ("89\u{b0}", 89.0),
        ] {
            assert_eq!(angle(text), Ok(value), "{text}");
        }
        for text in ["89\u{b0} 75'", "89.5\u{b0} 10'", "x", ""] {
            assert!(angle(text).is_err(), "{text}");
        }
    }
}
