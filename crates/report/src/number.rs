//! Numbers as people read them.
//!
//! A figure never shows a digit its give-or-take cannot carry. The give-or-take is rounded up to one
//! significant digit (two where the first is a 1 and the finer step is one the workshop reads), unless the
//! step below is within 5 % (GUM, JCGM 100:2008, 7.2.6); the value is then rounded to the same step.

use record::{DisplayUnits, Figure, LengthDisplay, Quantity};

/// Millimetres in an inch.
const INCH_MM: f64 = 25.4;
/// U+2212, the minus sign.
pub const MINUS: char = '\u{2212}';
/// U+202F, a thin space that does not break: between groups of three digits.
pub const THIN: char = '\u{2009}';

/// A figure as text, in parts so that the give-or-take can be set in lighter ink.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Shown {
    /// The value, without unit: `−1.3`.
    pub value: String,
    /// The 95 % half-width, without sign or unit: `0.2`; empty where it is not known.
    pub give_or_take: String,
    /// The unit with the space that belongs before it: ` mm`, `°`, ` in`, ` %`.
    pub unit: &'static str,
}

impl Shown {
    /// `1.4 mm`, `89.1°`.
    pub fn with_unit(&self) -> String {
        format!("{}{}", self.value, self.unit)
    }

    /// `1.4 ±0.3 mm`; without the `±` where the give-or-take is not known.
    pub fn plus_minus(&self) -> String {
        if self.give_or_take.is_empty() {
            self.with_unit()
        } else if self.unit == "°" {
            format!("{}° ±{}", self.value, self.give_or_take)
        } else {
            format!("{} ±{}{}", self.value, self.give_or_take, self.unit)
        }
    }

    /// `(give or take 0.3)`, or `(give or take not known)`.
    pub fn in_brackets(&self) -> String {
        if self.give_or_take.is_empty() {
            "(give or take not known)".to_owned()
        } else {
            format!("(give or take {})", self.give_or_take)
        }
    }
}

/// The unit as shown, with the space that belongs before it.
pub fn unit_text(quantity: Quantity, units: DisplayUnits) -> &'static str {
    match (quantity, units.length) {
        (Quantity::Length, LengthDisplay::Millimetre) => " mm",
        (Quantity::Length, LengthDisplay::Inch) => " in",
        (Quantity::Angle, _) => "°",
        (Quantity::TwistRate, LengthDisplay::Millimetre) => "° per 100 mm",
        (Quantity::TwistRate, LengthDisplay::Inch) => "° per 4 in",
        (Quantity::Area, LengthDisplay::Millimetre) => " mm²",
        (Quantity::Area, LengthDisplay::Inch) => " in²",
        (Quantity::Percent, _) => " %",
    }
}

/// A value in the unit of `quantity` (mm, deg, ...) taken to the unit shown.
pub fn to_shown_unit(value: f64, quantity: Quantity, units: DisplayUnits) -> f64 {
    match (quantity, units.length) {
        (Quantity::Length, LengthDisplay::Inch) => value / INCH_MM,
        (Quantity::Area, LengthDisplay::Inch) => value / (INCH_MM * INCH_MM),
        // "per 100 mm" becomes "per 4 in" (101.6 mm): the nearest length a rule in inches has.
        (Quantity::TwistRate, LengthDisplay::Inch) => value * 1.016,
        _ => value,
    }
}

/// Finest step ever shown, and the finest step used to keep a second digit; in the unit shown.
fn steps(quantity: Quantity, units: DisplayUnits) -> (f64, f64) {
    match (quantity, units.length) {
        (Quantity::Length, LengthDisplay::Millimetre)
        | (Quantity::TwistRate | Quantity::Angle, _) => (0.01, 0.1),
        (Quantity::Length, LengthDisplay::Inch) => (0.001, 0.001),
        (Quantity::Area, LengthDisplay::Inch) => (0.01, 0.01),
        (Quantity::Area, LengthDisplay::Millimetre) | (Quantity::Percent, _) => (1.0, 1.0),
    }
}

/// The step to which a figure with half-width `u95` (unit shown, >= 0) is rounded.
/// Where it is zero or not known the finest step is used.
pub fn step_for(u95: f64, quantity: Quantity, units: DisplayUnits) -> f64 {
    let (finest, second) = steps(quantity, units);
    if !u95.is_finite() || u95 <= 0.0 {
        return finest;
    }
    let mut decade = 10f64.powi(u95.log10().floor() as i32);
    // 0.999 of a decade and 1.001 of the one above are the same give-or-take.
    if u95 / decade >= 9.5 {
        decade *= 10.0;
    }
    if u95 / decade < 1.95 && decade * 0.1 >= second * 0.999 {
        decade *= 0.1;
    }
    decade.max(finest)
}

/// `u95` rounded up to `step`, or down where the step below is within 5 %.
fn round_up(u95: f64, step: f64) -> f64 {
    let below = (u95 / step).floor();
    if below >= 1.0 && u95 <= below * step * 1.05 {
        below * step
    } else {
        (u95 / step).ceil() * step
    }
}

/// Number of decimals that write multiples of `step`.
fn decimals(step: f64) -> usize {
    (0..6)
        .find(|&d| {
            let scaled = step * 10f64.powi(d);
            (scaled - scaled.round()).abs() < 1e-6
        })
        .unwrap_or(6) as usize
}

/// `value` (unit shown) rounded to a multiple of `step`, with the minus sign, groups of three and the decimal mark.
pub fn to_step(value: f64, step: f64, units: DisplayUnits) -> String {
    if !value.is_finite() {
        return "not known".to_owned();
    }
    let rounded = (value / step).round() * step;
    let digits = format!("{:.*}", decimals(step), rounded.abs());
    let (whole, rest) = digits
        .split_once('.')
        .map_or((digits.as_str(), None), |(w, r)| (w, Some(r)));
    let mut out = String::new();
    let is_zero = digits.chars().all(|c| c == '0' || c == '.');
    if rounded < 0.0 && !is_zero {
        out.push(MINUS);
    }
    for (i, c) in whole.chars().enumerate() {
        if i > 0 && whole.len() > 4 && (whole.len() - i).is_multiple_of(3) {
            out.push(THIN);
        }
        out.push(c);
    }
    if let Some(rest) = rest {
        out.push(if units.decimal_comma { ',' } else { '.' });
        out.push_str(rest);
    }
    out
}

/// A figure as text at its own step.
pub fn show(figure: &Figure, units: DisplayUnits) -> Shown {
    show_at(figure, step_of(figure, units), units)
}

/// The step a figure is shown at by itself.
pub fn step_of(figure: &Figure, units: DisplayUnits) -> f64 {
    step_for(
        to_shown_unit(figure.u95, figure.quantity, units),
        figure.quantity,
        units,
    )
}

/// A figure as text at a given step, for figures that stand side by side.
pub fn show_at(figure: &Figure, step: f64, units: DisplayUnits) -> Shown {
    let value = to_shown_unit(figure.value, figure.quantity, units);
    let u95 = to_shown_unit(figure.u95, figure.quantity, units);
    let give_or_take = if u95.is_finite() {
        to_step(round_up(u95, step), step, units)
    } else {
        String::new()
    };
    Shown {
        value: to_step(value, step, units),
        give_or_take,
        unit: unit_text(figure.quantity, units),
    }
}

/// A signed difference: as [`show`], with a `+` before positive values that do not round to zero.
pub fn show_signed(figure: &Figure, units: DisplayUnits) -> Shown {
    show_signed_at(figure, step_of(figure, units), units)
}

/// As [`show_signed`], at a given step.
pub fn show_signed_at(figure: &Figure, step: f64, units: DisplayUnits) -> Shown {
    let mut shown = show_at(figure, step, units);
    if figure.value > 0.0 && shown.value.chars().any(|c| c.is_ascii_digit() && c != '0') {
        shown.value.insert(0, '+');
    }
    shown
}

/// A number that was typed (allowed, agreed gap), in the unit of `quantity`: without needless zeros.
pub fn typed(value: f64, quantity: Quantity, units: DisplayUnits) -> String {
    let step = match (quantity, units.length) {
        (Quantity::Length, LengthDisplay::Inch) => 0.0001,
        _ => 0.001,
    };
    let text = to_step(to_shown_unit(value, quantity, units), step, units);
    let mark = if units.decimal_comma { ',' } else { '.' };
    if text.contains(mark) {
        text.trim_end_matches('0').trim_end_matches(mark).to_owned()
    } else {
        text
    }
}

/// A chance from 0 to 1 as `98 %`, `< 1 %`, `> 99 %`; rounding never carries it across the 5 and 95 % limits.
pub fn chance(share: f64) -> String {
    if !share.is_finite() {
        return "not known".to_owned();
    }
    if share < 0.01 {
        return "< 1 %".to_owned();
    }
    if share > 0.99 {
        return "> 99 %".to_owned();
    }
    let mut percent = (share * 100.0).round();
    if share < 0.95 {
        percent = percent.min(94.0);
    }
    if share > 0.05 {
        percent = percent.max(6.0);
    }
    format!("{percent:.0} %")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::figure;

    fn check(value: f64, u95: f64, quantity: Quantity, expected: &str) {
        assert_eq!(
            show(&figure(value, u95, quantity), DisplayUnits::default()).plus_minus(),
            expected
        );
    }

    #[test]
    fn lengths_show_what_the_give_or_take_can_carry() {
        check(1.4321, 0.27, Quantity::Length, "1.4 ±0.3 mm");
        check(1.4321, 0.13, Quantity::Length, "1.4 ±0.2 mm");
        check(1.4321, 0.102, Quantity::Length, "1.4 ±0.1 mm");
        check(1.4321, 0.034, Quantity::Length, "1.43 ±0.04 mm");
        check(1.4321, 0.0004, Quantity::Length, "1.43 ±0.01 mm");
        check(1.4321, 0.0, Quantity::Length, "1.43 ±0.00 mm");
        check(201.43, 1.31, Quantity::Length, "201.4 ±1.3 mm");
        check(201.43, 3.1, Quantity::Length, "201 ±3 mm");
        check(201.43, 31.0, Quantity::Length, "200 ±30 mm");
        check(201.43, 0.97, Quantity::Length, "201.4 ±1.0 mm");
    }

    #[test]
    fn angles_are_never_finer_than_a_twentieth_of_a_degree() {
        check(89.125, 0.19, Quantity::Angle, "89.1° ±0.2");
        check(89.125, 0.04, Quantity::Angle, "89.13° ±0.04");
        check(89.125, 0.096, Quantity::Angle, "89.1° ±0.1");
        check(89.125, 0.001, Quantity::Angle, "89.13° ±0.01");
        check(89.125, 2.6, Quantity::Angle, "89° ±3");
    }

    #[test]
    fn shares_are_whole_percents() {
        check(133.4, 8.6, Quantity::Percent, "133 ±9 %");
        check(133.4, 0.2, Quantity::Percent, "133 ±1 %");
    }

    #[test]
    fn minus_zero_is_zero_and_minus_is_the_real_sign() {
        check(-0.03, 0.2, Quantity::Length, "0.0 ±0.2 mm");
        check(-1.3, 0.2, Quantity::Angle, "−1.3° ±0.2");
        let plus = show_signed(&figure(0.5, 0.2, Quantity::Angle), DisplayUnits::default());
        assert_eq!(plus.value, "+0.5");
        let none = show_signed(&figure(0.04, 0.2, Quantity::Angle), DisplayUnits::default());
        assert_eq!(none.value, "0.0");
    }

    #[test]
    fn inches_and_the_decimal_comma() {
        let inch = DisplayUnits {
            length: LengthDisplay::Inch,
            decimal_comma: false,
        };
        assert_eq!(
            show(&figure(25.4, 0.2, Quantity::Length), inch).plus_minus(),
            "1.000 ±0.008 in"
        );
        assert_eq!(
            show(&figure(25.4, 0.001, Quantity::Length), inch).plus_minus(),
            "1.000 ±0.001 in"
        );
        assert_eq!(typed(0.8, Quantity::Length, inch), "0.0315");
        let comma = DisplayUnits {
            length: LengthDisplay::Millimetre,
            decimal_comma: true,
        };
        assert_eq!(
            show(&figure(-1.44, 0.2, Quantity::Length), comma).plus_minus(),
            "−1,4 ±0,2 mm"
        );
        assert_eq!(typed(0.80, Quantity::Length, comma), "0,8");
        assert_eq!(typed(3.0, Quantity::Length, comma), "3");
    }

    #[test]
    fn large_numbers_are_grouped_and_unknown_doubt_is_said() {
        check(12_345.6, 3.0, Quantity::Area, "12\u{2009}346 ±3 mm²");
        check(1.44, f64::INFINITY, Quantity::Length, "1.44 mm");
        assert_eq!(
            show(
                &figure(1.4, f64::NAN, Quantity::Length),
                DisplayUnits::default()
            )
            .in_brackets(),
            "(give or take not known)"
        );
        assert_eq!(to_step(f64::NAN, 0.1, DisplayUnits::default()), "not known");
    }

    #[test]
    fn a_chance_keeps_to_its_side_of_the_limits() {
        assert_eq!(chance(0.948), "94 %");
        assert_eq!(chance(0.95), "95 %");
        assert_eq!(chance(0.052), "6 %");
        assert_eq!(chance(0.004), "< 1 %");
        assert_eq!(chance(0.999), "> 99 %");
    }
}
