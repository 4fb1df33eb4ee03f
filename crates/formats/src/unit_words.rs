//! Units that a file states in words.

use record::LengthUnit;

/// The unit that a word names.
pub(crate) fn unit_of(word: &str) -> Option<LengthUnit> {
    let word = word.trim().to_ascii_lowercase();
    Some(match word.as_str() {
        "mm" | "millimetre" | "millimetres" | "millimeter" | "millimeters" => {
            LengthUnit::Millimetre
        }
        "cm" | "centimetre" | "centimetres" | "centimeter" | "centimeters" => {
            LengthUnit::Centimetre
        }
        "m" | "metre" | "metres" | "meter" | "meters" => LengthUnit::Metre,
        "in" | "inch" | "inches" => LengthUnit::Inch,
        "ft" | "foot" | "feet" => LengthUnit::Foot,
        _ => return None,
    })
}

/// The unit that a comment ends with: "unit mm", "Units: metres", "length unit = in", "units are in feet".
pub(crate) fn stated(comment: &str) -> Option<LengthUnit> {
    let mut words = comment
        .split(|c: char| !c.is_alphanumeric())
        .filter(|w| !w.is_empty());
    words.find(|w| w.eq_ignore_ascii_case("unit") || w.eq_ignore_ascii_case("units"))?;
    let rest: Vec<&str> = words
        .filter(|w| !w.eq_ignore_ascii_case("is") && !w.eq_ignore_ascii_case("are"))
        .collect();
    match rest[..] {
        [word] => unit_of(word),
        [little, word] if little.eq_ignore_ascii_case("in") => unit_of(word),
        _ => None,
    }
}

/// The head of a column without its unit, in lower case, and the unit: `X [mm]`, "x_mm", "x (in)", "x/m".
pub(crate) fn head_and_unit(head: &str) -> (String, Option<LengthUnit>) {
    let head = head.trim().trim_matches('"').trim().to_ascii_lowercase();
    let bare = head.trim_end_matches([']', ')', '}']);
    if let Some(at) = bare.rfind(['[', '(', '{', '/', '_', ' ', '-'])
        && let Some(unit) = unit_of(&bare[at + 1..])
    {
        return (
            bare[..at].trim_end_matches([' ', '_', '-']).to_owned(),
            Some(unit),
        );
    }
    (head, None)
}

#[cfg(test)]
mod tests {
    use super::*;
    use LengthUnit::{Foot, Inch, Metre, Millimetre};

    #[test]
    fn comments() {
        for (text, unit) in [
            ("unit mm", Some(Millimetre)),
            ("Units: Metres", Some(Metre)),
            ("length unit = in", Some(Inch)),
            ("units are feet", Some(Foot)),
            ("unit", None),
            ("unit vector", None),
            ("units are in mm", Some(Millimetre)),
            ("made by a unit in the shop", None),
            ("scan of a door, mm", None),
        ] {
            assert_eq!(stated(text), unit, "{text}");
        }
    }

    #[test]
    fn heads() {
        for (text, head, unit) in [
            ("X [mm]", "x", Some(Millimetre)),
            ("x_mm", "x", Some(Millimetre)),
            (" \"Y (in)\" ", "y", Some(Inch)),
            ("z/m", "z", Some(Metre)),
            ("x", "x", None),
            ("normal_x", "normal_x", None),
            ("", "", None),
            ("[mm]", "", Some(Millimetre)),
        ] {
            assert_eq!(head_and_unit(text), (head.to_owned(), unit), "{text}");
        }
    }
}
