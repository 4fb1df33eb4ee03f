//! The likely unit of a scan that states none.

use geom::Vector;
use record::LengthUnit;

/// Smallest largest extent of a scan of body work, mm.
const SMALL_MM: f64 = 100.0;
/// Largest, mm.
const LARGE_MM: f64 = 6000.0;
/// Units in the order in which they are believed: scanners write millimetres, some metres, some inches.
const BELIEVED: [LengthUnit; 5] = [
    LengthUnit::Millimetre,
    LengthUnit::Metre,
    LengthUnit::Inch,
    LengthUnit::Centimetre,
    LengthUnit::Foot,
];

/// The likely unit of a scan, from the size of its box in the unit of the file, and the reason in words.
///
/// A scan of a body or of an opening is between 0.1 m and 6 m at its largest. The first unit in the order mm, m, in,
/// cm, ft that makes it so is taken; the reason names the others that would. It is a guess: a taped length settles it.
/// Degenerate: a box of no size or one that no unit makes plausible gives millimetres, and the reason says so.
pub fn guess_unit(size: Vector) -> (LengthUnit, String) {
    let largest = size.x.abs().max(size.y.abs()).max(size.z.abs());
    let plausible = |u: &LengthUnit| (SMALL_MM..=LARGE_MM).contains(&(largest * u.in_mm()));
    let mut fitting = BELIEVED.into_iter().filter(plausible);
    let Some(unit) = fitting.next() else {
        let says = format!(
            "no unit makes a size of {} plausible for body work; taken as mm",
            short(largest)
        );
        return (LengthUnit::Millimetre, says);
    };
    let (word, mm) = (unit.word(), largest * unit.in_mm());
    let mut reason = format!(
        "the largest extent is {}, which as {word} is {mm:.0} mm, the size of body work",
        short(largest)
    );
    let others: Vec<String> = fitting
        .map(|u| format!("{} ({:.0} mm)", u.word(), largest * u.in_mm()))
        .collect();
    if !others.is_empty() {
        reason = format!("{reason}; also possible: {}", others.join(", "));
    }
    (unit, reason)
}

/// Four figures.
fn short(value: f64) -> String {
    if value == 0.0 || !value.is_finite() {
        return format!("{value}");
    }
    let decimals = (3 - value.abs().log10().floor() as i32).clamp(0, 6) as usize;
    format!("{value:.decimals$}")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(largest: f64, unit: LengthUnit, words: &str) {
        let (found, reason) = guess_unit(Vector::new(largest / 3.0, largest, 0.0));
        assert_eq!(found, unit, "{reason}");
        assert!(reason.contains(words), "{reason}");
    }

    #[test]
    fn by_the_size_of_body_work() {
        check(
            250.0,
            LengthUnit::Millimetre,
            "250.0, which as mm is 250 mm",
        );
        check(2310.0, LengthUnit::Millimetre, "2310 mm");
        check(2.31, LengthUnit::Metre, "also possible: ft (704 mm)");
        check(0.42, LengthUnit::Metre, "420 mm");
        check(30.0, LengthUnit::Inch, "also possible: cm (300 mm)");
        check(5e4, LengthUnit::Millimetre, "no unit makes");
        check(0.0, LengthUnit::Millimetre, "no unit makes");
        check(f64::NAN, LengthUnit::Millimetre, "no unit makes");
    }
}
