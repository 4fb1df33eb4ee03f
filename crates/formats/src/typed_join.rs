//! A taped length and a start of a join, as they are typed.

use geom::Vector;
use record::{LengthUnit, PlaceName, Side, StartPose, TapedLength};

use crate::Error;
use crate::hand_number::length;

/// A taped length by what stands under the heads `from`, `to`, `length` and `u95`, trimmed: ends as "sill end, left" (without a
/// side: a place without one), lengths as on a field sheet, mm where no unit stands.
///
/// # Errors
/// What was expected, with a remedy.
pub fn taped_from_words<'w>(words: &dyn Fn(&str) -> &'w str) -> Result<TapedLength, Error> {
    let end = |head: &str| -> Result<PlaceName, Error> {
        let text = words(head);
        if text.is_empty() {
            return Err(wrong(format!("the end \"{head}\" of the tape is blank")));
        }
        Ok(place_name(text))
    };
    let over = |head: &str| -> Result<f64, Error> {
        let mm = number(words, head)?;
        if mm > 0.0 {
            Ok(mm)
        } else {
            Err(wrong(format!("\"{head}\" must be above 0")))
        }
    };
    Ok(TapedLength {
        from: end("from")?,
        to: end("to")?,
        length_mm: over("length")?,
        u95_mm: over("u95")?,
        note: String::new(),
    })
}

/// A start by what stands under the heads `axis x`, `axis y`, `axis z`, `turn`, `shift x`, `shift y`, `shift z` and `within`,
/// trimmed. A blank counts as 0, a blank `within` as not said. `None`: all are blank.
///
/// # Errors
/// What was expected, with a remedy.
pub fn start_from_words<'w>(words: &dyn Fn(&str) -> &'w str) -> Result<Option<StartPose>, Error> {
    const HEADS: [&str; 7] = [
        "axis x", "axis y", "axis z", "turn", "shift x", "shift y", "shift z",
    ];
    if HEADS.iter().all(|h| words(h).is_empty()) {
        return Ok(None);
    }
    let mut values = [0.0; 7];
    for (value, head) in values.iter_mut().zip(HEADS) {
        if !words(head).is_empty() {
            *value = number(words, head)?;
        }
    }
    let [ax, ay, az, turn_deg, x, y, z] = values;
    let axis = Vector::new(ax, ay, az);
    if turn_deg != 0.0 && axis.norm() == 0.0 {
        return Err(wrong("the turn has no axis".to_owned()));
    }
    let within_mm = match words("within") {
        "" => None,
        _ => Some(number(words, "within")?),
    };
    if within_mm.is_some_and(|w| w <= 0.0) {
        return Err(wrong("\"within\" must be above 0".to_owned()));
    }
    Ok(Some(StartPose {
        axis,
        turn_deg,
        shift: Vector::new(x, y, z),
        within_mm,
    }))
}

fn wrong(says: String) -> Error {
    Error::malformed(says).hinting("correct it and take it again")
}

fn number<'w>(words: &dyn Fn(&str) -> &'w str, head: &str) -> Result<f64, Error> {
    let text = words(head);
    let w = length(text).map_err(|e| wrong(format!("\"{head}\": {e}")))?;
    let value = w.value * w.unit.unwrap_or(LengthUnit::Millimetre).in_mm();
    if value.is_finite() {
        Ok(value)
    } else {
        Err(wrong(format!("\"{head}\" is no number: \"{text}\"")))
    }
}

/// "sill end, left": the name, and the side behind the last comma.
fn place_name(text: &str) -> PlaceName {
    let side = |word: &str| match word.trim().to_lowercase().as_str() {
        "left" | "l" => Some(Side::Left),
        "right" | "r" => Some(Side::Right),
        "centre" | "center" | "c" => Some(Side::Centre),
        _ => None,
    };
    let parts = text.rsplit_once(',');
    match parts.and_then(|(name, word)| Some((name.trim(), side(word)?))) {
        Some((name, side)) => PlaceName {
            name: name.to_owned(),
            side,
        },
        None => PlaceName {
            name: text.trim().to_owned(),
            side: Side::NotSaid,
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn taped(all: [&'static str; 4]) -> Result<TapedLength, Error> {
        taped_from_words(&|head| match head {
            "from" => all[0],
            "to" => all[1],
            "length" => all[2],
            _ => all[3],
        })
    }

    #[test]
    fn a_taped_length_is_read_as_it_is_said() {
        let t = taped(["sill end, left", "tail seam", "3' 4 1/2\"", "1,5"]).unwrap();
        assert_eq!(
            (t.from.name.as_str(), t.from.side),
            ("sill end", Side::Left)
        );
        assert_eq!(
            (t.to.name.as_str(), t.to.side),
            ("tail seam", Side::NotSaid)
        );
        assert!((t.length_mm - 40.5 * 25.4).abs() < 1e-9);
        assert!((t.u95_mm - 1.5).abs() < 1e-12);
        for bad in [
            ["", "b", "1", "1"],
            ["a", "b", "-3", "1"],
            ["a", "b", "far", "1"],
            ["a", "b", "1", "0"],
        ] {
            assert!(taped(bad).is_err(), "{bad:?}");
        }
    }

    #[test]
    fn a_start_may_be_blank_or_needs_an_axis_for_its_turn() {
        let of = |turn: &'static str, axis: &'static str, shift: &'static str| {
            start_from_words(&move |head| match head {
                "turn" => turn,
                "axis z" => axis,
                "shift x" => shift,
                _ => "",
            })
        };
        assert_eq!(of("", "", "").unwrap(), None);
        let start = of("40", "1", "1800").unwrap().unwrap();
        assert_eq!(start.turn_deg, 40.0);
        assert_eq!(start.axis, Vector::z());
        assert_eq!(start.shift, Vector::new(1800.0, 0.0, 0.0));
        assert_eq!(start.within_mm, None);
        assert!(of("40", "", "").is_err());
        assert!(of("turned", "1", "").is_err());
    }
}
