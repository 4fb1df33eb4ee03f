//! Words for readings by hand.

use record::{Dimension, Figure, HandKind, Quantity, Source};

use super::pool::Pooled;

/// "1, 2 and 3".
pub fn list(words: impl Iterator<Item = String>) -> String {
    let all: Vec<String> = words.collect();
    match all.as_slice() {
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

/// "line 14: length from 3 to 7".
pub fn of_tie(r: &Pooled) -> String {
    format!("line {}: {}", r.lines[0], what(r))
}

fn what(r: &Pooled) -> String {
    let from = r.from.join(" ");
    let to = list(r.to.iter().cloned());
    match r.kind {
        HandKind::Length | HandKind::Tram | HandKind::Level => {
            format!("{} from {from} to {to}", r.kind.word())
        }
        HandKind::Rise => format!("rise from {from} to {to}"),
        HandKind::FromString => format!("distance of {from} from the string {to}"),
        HandKind::FromPlane => format!("distance of {from} from the plane of {to}"),
        HandKind::CornerAngle => format!("angle at {from} between {to}"),
        _ => format!("{} of {from}", r.kind.word()),
    }
}

/// "the length from 3 to 7, 412.5 mm (line 14)".
pub fn reading_words(r: &Pooled) -> String {
    let unit = if r.kind.is_angle() { "deg" } else { "mm" };
    let value = if r.written.is_empty() || r.written.replace(',', ".").parse::<f64>().is_ok() {
        format!("{:.1} {unit}", r.value)
    } else {
        format!("{} ({:.1} {unit})", r.written, r.value)
    };
    format!("the {}, {value} (line {})", what(r), r.lines[0])
}

/// What a wrong amount looks like: a mark, a fraction or an inch misread; `within` mm.
pub fn slip(by: f64, within: f64) -> Option<&'static str> {
    let inch = 25.4;
    let known = [
        (inch / 8.0, "an eighth of an inch"),
        (5.0, "half a centimetre"),
        (inch / 4.0, "a quarter of an inch"),
        (inch * 3.0 / 8.0, "three eighths of an inch"),
        (10.0, "one centimetre"),
        (inch / 2.0, "half an inch"),
        (inch * 5.0 / 8.0, "five eighths of an inch"),
        (inch * 3.0 / 4.0, "three quarters of an inch"),
        (20.0, "two centimetres"),
        (inch, "one inch"),
        (50.0, "five centimetres"),
        (100.0, "ten centimetres"),
    ];
    known
        .into_iter()
        .map(|(size, word)| ((by - size).abs(), word))
        .filter(|(off, _)| *off < within.min(2.0))
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .map(|b| b.1)
}

/// Gaps, steps and corner radii that were read at places, as named sizes.
pub fn at_places(readings: &[Pooled]) -> Vec<Dimension> {
    readings
        .iter()
        .filter(|r| matches!(r.kind, HandKind::Gap | HandKind::Flush | HandKind::Radius))
        .map(|r| {
            let place = r.from.join(" ");
            let at = if r.station.is_empty() {
                place
            } else {
                format!("{place}, {}", r.station)
            };
            let name = match r.kind {
                HandKind::Gap => format!("gap at {at}"),
                HandKind::Flush => format!("flush at {at}"),
                _ => format!("corner radius at {at}, by gauge"),
            };
            Dimension {
                name,
                figure: Figure {
                    value: r.value,
                    u95: geom::u95(r.sigma(), r.nu),
                    nu: r.nu,
                    source: if r.count > 1 {
                        Source::Repeats
                    } else {
                        Source::Instrument
                    },
                    quantity: Quantity::Length,
                },
            }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn usual_slips_are_recognised() {
        assert_eq!(slip(25.2, 1.0), Some("one inch"));
        assert_eq!(slip(9.8, 1.0), Some("one centimetre"));
        assert_eq!(slip(12.9, 1.0), Some("half an inch"));
        assert_eq!(slip(33.0, 1.0), None);
    }

    #[test]
    fn names_in_a_row() {
        let of = |w: &[&str]| list(w.iter().map(|s| (*s).to_owned()));
        assert_eq!(of(&["1", "2", "3"]), "1, 2 and 3");
        assert_eq!(of(&["1"]), "1");
    }
}
