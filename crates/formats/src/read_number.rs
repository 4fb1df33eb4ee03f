//! Numbers as people and programs write them.

/// A number from a token without white space. `comma`: the decimal mark is a comma.
///
/// Read are signs, decimals and exponents, and the words for not-a-number and infinity; a blank token is no number.
#[inline]
pub(crate) fn number(token: &[u8], comma: bool) -> Option<f64> {
    if comma && token.contains(&b',') {
        return with_comma(token);
    }
    fast_float2::parse(token).ok()
}

fn with_comma(token: &[u8]) -> Option<f64> {
    let mut dotted = [0_u8; 64];
    let room = dotted.get_mut(..token.len())?;
    if token.contains(&b'.') {
        return None;
    }
    for (to, &from) in room.iter_mut().zip(token) {
        *to = if from == b',' { b'.' } else { from };
    }
    fast_float2::parse(&*room).ok()
}

/// A token for a message: at most 24 letters, in double quotes.
pub(crate) fn quoted(token: &[u8]) -> String {
    let text = String::from_utf8_lossy(token);
    let mut short: String = text
        .chars()
        .take(24)
        .map(|c| if c.is_control() { '?' } else { c })
        .collect();
    if text.chars().count() > 24 {
        short.push_str("...");
    }
    format!("\"{short}\"")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(token: &str, comma: bool, expected: Option<f64>) {
        assert_eq!(number(token.as_bytes(), comma), expected, "{token}");
    }

    #[test]
    fn reads_what_is_written() {
        check("1.25", false, Some(1.25));
        check("+1.25e-1", false, Some(0.125));
        check("1.25", true, Some(1.25));
        check("-1,25", true, Some(-1.25));
        check("1,25", false, None);
        check("1,250,3", true, None);
        check("1.250,3", true, None);
        check("", false, None);
        check("abc", false, None);
        check("1.5x", false, None);
        check(&"1".repeat(80).replacen('1', "0,", 1), true, None);
        assert!(number(b"nan", false).unwrap().is_nan());
    }

    #[test]
    fn messages_stay_short_and_printable() {
        assert_eq!(quoted(b"a\x07b"), "\"a?b\"");
        assert_eq!(quoted(&[b'x'; 40]).len(), 2 + 24 + 3);
    }
}
