//! Decimal numbers of the usual kind, eight digits at a time.
//!
//! Scans as text are long rows of numbers like `-123.4567` and `3.899891e+02`. Their digits fit a word: eight of them become
//! a number by three multiplications (D. Lemire, "Number parsing at a gigabyte per second", Software: Practice and
//! Experience 51, 2021, section 3). What is below 2^53 and a power of ten up to 10^22 is exact in double precision, so one
//! multiplication or division rounds correctly (W. D. Clinger, "How to read floating point numbers accurately", PLDI
//! 1990). Everything else is left to the general reader.

#![allow(
    clippy::inline_always,
    reason = "called for every number of a scan; what is checked once per row is seen only where it is inlined"
)]

/// Bytes that must follow the start of a number: sign, two words, a point, and an exponent.
const ROOM: usize = 24;

/// Powers of ten that are exact.
const TENS: [f64; 23] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16,
    1e17, 1e18, 1e19, 1e20, 1e21, 1e22,
];
/// Powers of ten by which digits before the point are raised.
const RAISE: [u64; 9] = [
    1,
    10,
    100,
    1000,
    10_000,
    100_000,
    1_000_000,
    10_000_000,
    100_000_000,
];

/// How many of the eight bytes, from the first on, are digits.
#[inline(always)]
fn digits(word: u64) -> u32 {
    let odd = (word.wrapping_add(0x4646_4646_4646_4646) | word.wrapping_sub(0x3030_3030_3030_3030))
        & 0x8080_8080_8080_8080;
    odd.trailing_zeros() / 8
}

/// Which of the eight bytes is the first point; 8 if none is.
#[inline(always)]
fn point(word: u64) -> u32 {
    let other = word ^ 0x2e2e_2e2e_2e2e_2e2e;
    // The lowest byte that is zero; those above it may be marked wrongly.
    let zero = other.wrapping_sub(0x0101_0101_0101_0101) & !other & 0x8080_8080_8080_8080;
    zero.trailing_zeros() / 8
}

/// The number that the first `count` bytes, all digits, make.
#[inline(always)]
fn value(word: u64, count: u32) -> u64 {
    // Zeros come in before the digits.
    let word = word.checked_shl(64 - 8 * count).unwrap_or(0) & 0x0f0f_0f0f_0f0f_0f0f;
    let pairs = word.wrapping_mul(2561) >> 8 & 0x00ff_00ff_00ff_00ff;
    let fours = pairs.wrapping_mul(6_553_601) >> 16 & 0x0000_ffff_0000_ffff;
    fours.wrapping_mul(42_949_672_960_001) >> 32
}

/// The number at the start of `text` and how many bytes it takes; `None` if it is not of the usual kind (a sign, up to eight
/// digits, a point and up to eight digits more, an exponent up to two digits) or the text ends close by. The caller looks
/// at what follows: it must be something that ends a number.
#[inline(always)]
pub(crate) fn decimal(text: &[u8]) -> Option<(f64, usize)> {
    let text = text.first_chunk::<ROOM>()?;
    let word = |at: usize| {
        let mut raw = [0; 8];
        // At most 1 + 8 + 1 bytes come before the second word.
        raw.copy_from_slice(&text[at..at + 8]);
        u64::from_le_bytes(raw)
    };
    let minus = u64::from(text[0] == b'-');
    let signed = |size: f64| f64::from_bits(size.to_bits() | minus << 63);
    let mut at = minus as usize;
    let before = word(at);
    // Up to eight digits with a point among them, mostly: the point is left out and they are taken at once.
    let point = point(before);
    let low = (1_u64 << ((8 * point) & 63)) - 1;
    let joined = before & low | word(at + 1) & !low;
    let count = digits(joined);
    let end = at + count as usize + 1;
    let mut mantissa;
    let mut places;
    if point > 0 && point < 8 && count >= point && !text[end].is_ascii_digit() {
        mantissa = value(joined, count);
        places = count - point;
        at = end;
        if text[at] | 0x20 != b'e' {
            return Some((signed(mantissa as f64 / TENS[places as usize & 7]), at));
        }
    } else {
        let count = digits(before);
        if count == 0 {
            return None;
        }
        mantissa = value(before, count);
        at += count as usize;
        places = 0;
        if text[at] == b'.' {
            at += 1;
            let after = word(at);
            places = digits(after);
            mantissa = mantissa * RAISE[places as usize] + value(after, places);
            at += places as usize;
        }
        if mantissa > 1 << 53 {
            return None;
        }
    }
    let mut power = 0;
    if text[at] | 0x20 == b'e' {
        (power, at) = exponent(text, at + 1)?;
    }
    power -= places.cast_signed();
    let scale = *TENS.get(power.unsigned_abs() as usize)?;
    let size = if power < 0 {
        mantissa as f64 / scale
    } else {
        mantissa as f64 * scale
    };
    Some((signed(size), at))
}

/// A sign and one or two digits; the power and where it ends.
#[inline(always)]
fn exponent(text: &[u8; ROOM], at: usize) -> Option<(i32, usize)> {
    let digit = |at: usize| {
        let b = text.get(at)?;
        b.is_ascii_digit().then(|| i32::from(b - b'0'))
    };
    let signed = matches!(text.get(at)?, b'+' | b'-');
    let minus = text.get(at)? == &b'-';
    let at = at + usize::from(signed);
    let first = digit(at)?;
    let (power, at) = match digit(at + 1) {
        Some(second) => (10 * first + second, at + 2),
        None => (first, at + 1),
    };
    Some((if minus { -power } else { power }, at))
}

/// The same in single precision, rounded once: `None` also where rounding twice could differ.
#[inline(always)]
pub(crate) fn decimal_single(text: &[u8]) -> Option<(f32, usize)> {
    let (value, used) = decimal(text)?;
    // Halfway between two singles: which way to go hangs on what the first rounding took away.
    let below = value.to_bits() & ((1 << 29) - 1);
    if below == 1 << 28 || (value != 0.0 && value.abs() < 1e-37) {
        return None;
    }
    Some((value as f32, used))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn check(token: &str, expected: Option<f64>) {
        let text = format!("{token} {}", " ".repeat(ROOM));
        let found = decimal(text.as_bytes()).filter(|f| f.1 == token.len());
        assert_eq!(
            found.map(|f| f.0.to_bits()),
            expected.map(f64::to_bits),
            "{token}"
        );
    }

    #[test]
    fn reads_the_usual_kind_and_leaves_the_rest() {
        check("0", Some(0.0));
        check("-0.0000", Some(-0.0));
        check("12345678.87654321", Some(12_345_678.876_543_21));
        check("-123.4567", Some(-123.4567));
        check("1234.5678", Some(1234.5678));
        check("1.2345678", Some(1.234_567_8));
        check("12345678.5", Some(12_345_678.5));
        check("1.2.3", None);
        check("12a.5", None);
        check("..5", None);
        check("5.", Some(5.0));
        check("3.899891e+02", Some(389.9891));
        check("1E-7", Some(1e-7));
        check("9e22", Some(9e22));
        check("9e23", None);
        check("123456789", None);
        check("1.123456789", None);
        check("99999999.99999999", None);
        check("1e123", None);
        check(".5", None);
        check("+5", None);
        check("nan", None);
        check("", None);
        check("-", None);
        check("1e", None);
        assert_eq!(decimal(b"1.5"), None);
    }

    #[test]
    fn halfway_singles_are_left_to_the_general_reader() {
        // 2^24 + 1 lies halfway between two singles.
        let text = format!("16777217 {}", " ".repeat(ROOM));
        assert_eq!(decimal_single(text.as_bytes()), None);
        let text = format!("16777218 {}", " ".repeat(ROOM));
        assert_eq!(decimal_single(text.as_bytes()), Some((16_777_218.0, 8)));
    }

    proptest! {
        #[test]
        fn agrees_with_the_general_reader(value in prop::num::f64::NORMAL, places in 0..9_usize, small in any::<bool>()) {
            let value = if small { value.abs().log10() * 1e4 } else { value };
            for token in [format!("{value:.places$}"), format!("{value:.places$e}"), format!("{value:e}")] {
                let text = format!("{token}\n{}", "7".repeat(ROOM));
                if let Some((found, used)) = decimal(text.as_bytes()) && used == token.len() {
                    prop_assert_eq!(found.to_bits(), fast_float2::parse::<f64, _>(&token).unwrap().to_bits());
                }
                if let Some((found, used)) = decimal_single(text.as_bytes()) && used == token.len() {
                    prop_assert_eq!(found.to_bits(), fast_float2::parse::<f32, _>(&token).unwrap().to_bits());
                }
            }
        }
    }
}
