//! Finds the string literals of Rust source.

/// A string literal: its line, counted from one, and what stands between the quotes, escapes as written.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct Literal {
    pub line: usize,
    pub text: String,
}

/// Every string literal of `source`. Comments, lifetimes and single characters are passed over.
pub(super) fn literals(source: &str) -> Vec<Literal> {
    let chars: Vec<char> = source.chars().collect();
    let mut out = Vec::new();
    let mut line = 1;
    let mut i = 0;
    let at = |i: usize| chars.get(i).copied().unwrap_or('\0');
    while i < chars.len() {
        let c = chars[i];
        let in_word = i > 0 && (at(i - 1).is_alphanumeric() || at(i - 1) == '_');
        if c == '/' && at(i + 1) == '/' {
            while i < chars.len() && chars[i] != '\n' {
                i += 1;
            }
        } else if c == '/' && at(i + 1) == '*' {
            let mut depth = 0;
            loop {
                if at(i) == '/' && at(i + 1) == '*' {
                    depth += 1;
                    i += 2;
                } else if at(i) == '*' && at(i + 1) == '/' {
                    depth -= 1;
                    i += 2;
                } else {
                    line += usize::from(at(i) == '\n');
                    i += 1;
                }
                if depth == 0 || i >= chars.len() {
                    break;
                }
            }
        } else if c == 'r' && !in_word && raw_hashes(&chars, i + 1).is_some() {
            let hashes = raw_hashes(&chars, i + 1).unwrap_or(0);
            i += 2 + hashes;
            let start = line;
            let mut text = String::new();
            let closes = |i: usize| at(i) == '"' && (1..=hashes).all(|k| at(i + k) == '#');
            while i < chars.len() && !closes(i) {
                line += usize::from(chars[i] == '\n');
                text.push(chars[i]);
                i += 1;
            }
            i += 1 + hashes;
            out.push(Literal { line: start, text });
        } else if c == '"' {
            let start = line;
            let mut text = String::new();
            i += 1;
            while i < chars.len() && chars[i] != '"' {
                if chars[i] == '\\' {
                    text.push(chars[i]);
                    i += 1;
                }
                line += usize::from(at(i) == '\n');
                text.push(at(i));
                i += 1;
            }
            i += 1;
            out.push(Literal { line: start, text });
        } else if c == '\'' {
            // 'x', '\n', '\u{2212}' are characters; 'a alone is a lifetime.
            if at(i + 1) == '\\' {
                i += 3;
                while i < chars.len() && chars[i] != '\'' {
                    i += 1;
                }
                i += 1;
            } else if at(i + 2) == '\'' {
                line += usize::from(at(i + 1) == '\n');
                i += 3;
            } else {
                i += 1;
            }
        } else {
            line += usize::from(c == '\n');
            i += 1;
        }
    }
    out
}

/// Number of hashes of a raw string whose `r` stands before `i`; `None` if it is none.
fn raw_hashes(chars: &[char], i: usize) -> Option<usize> {
    let hashes = chars[i.min(chars.len())..]
        .iter()
        .take_while(|c| **c == '#')
        .count();
    (chars.get(i + hashes) == Some(&'"')).then_some(hashes)
}

// The text holds a raw string of its own: one hash would end it early.
#[allow(clippy::needless_raw_string_hashes)]
#[test]
fn literals_are_found_and_comments_are_not() {
    let source = r##"
// "not this"
/* nor "this" /* nested "one" */ */
let a = "one \" two"; let b = '"'; let c: &'static str = r#"raw "x""#;
let d = '\''; let e = b"bytes"; for r in x { "three" }
"##;
    let texts: Vec<String> = literals(source).into_iter().map(|l| l.text).collect();
    assert_eq!(texts, [r#"one \" two"#, r#"raw "x""#, "bytes", "three"]);
    assert_eq!(literals(source)[0].line, 4);
    assert_eq!(literals(source)[3].line, 5);
}
