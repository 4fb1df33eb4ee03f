//! The look comes from the tokens: no raw colour and no spacing of its own outside the theme.

use super::{nothing, product_part, read, rust_files, short};

/// Where a raw colour may stand, with why: the one place that turns a token into a colour of the window.
const RAW: [(&str, &str); 1] = [("crates/app/src/look.rs", "Color32::from_rgb(r, g, b)")];

/// Calls that set spacing: what they are given names a token, or is nothing.
const SPACING: [&str; 6] = [
    "add_space(",
    "Margin::same(",
    "Margin::symmetric(",
    "item_spacing = ",
    "item_spacing.x = ",
    "item_spacing.y = ",
];

fn has_raw_colour(line: &str) -> bool {
    let code = line.split("//").next().unwrap_or_default();
    let named = code.match_indices("Color32::").any(|(at, found)| {
        let rest = &code[at + found.len()..];
        rest.starts_with("from_") || rest.starts_with(|c: char| c.is_ascii_uppercase())
    });
    let bytes = |text: &str| {
        let mut parts = text.split(',').map(str::trim);
        (0..3).all(|_| {
            parts
                .next()
                .is_some_and(|p| p.starts_with("0x") && p.len() == 4)
        })
    };
    let listed = code
        .match_indices('[')
        .any(|(at, _)| bytes(code[at + 1..].split(']').next().unwrap_or_default()));
    let hex = code.match_indices('#').any(|(at, _)| {
        let digits = code[at + 1..]
            .chars()
            .take_while(char::is_ascii_hexdigit)
            .count();
        digits == 6 || digits == 8
    });
    named || listed || hex
}

fn has_own_spacing(line: &str) -> bool {
    let code = line.split("//").next().unwrap_or_default();
    SPACING.iter().any(|call| {
        code.find(call).is_some_and(|at| {
            let given = &code[at + call.len()..];
            // Given on the next line: that one is looked at when it says a number alone.
            let number = given.trim_start().starts_with(|c: char| c.is_ascii_digit());
            number && !given.trim_start().starts_with("0.0") && !given.contains("space::")
        })
    })
}

#[test]
fn colours_and_spacing_come_from_the_tokens() {
    let mut complaints = Vec::new();
    for file in rust_files() {
        let name = short(&file);
        if !name.starts_with("crates/app/src") && !name.starts_with("crates/report/src") {
            continue;
        }
        let text = read(&file);
        for (number, line) in product_part(&file, &text).lines().enumerate() {
            let allowed = RAW
                .iter()
                .any(|(f, code)| *f == name && line.contains(code));
            if has_raw_colour(line) && !allowed {
                complaints.push(format!(
                    "{name}:{}: a raw colour: {}",
                    number + 1,
                    line.trim()
                ));
            }
            if has_own_spacing(line) {
                complaints.push(format!(
                    "{name}:{}: spacing of its own: {}",
                    number + 1,
                    line.trim()
                ));
            }
        }
    }
    nothing(&complaints);
}

#[test]
fn raw_colours_and_spacing_are_seen() {
    for line in [
        "Color32::from_gray(7)",
        "let a = Color32::RED;",
        "[0xE6, 0xEA, 0xE7]",
        "fill=\"#1C252B\"",
    ] {
        assert!(has_raw_colour(line), "{line}");
    }
    for line in [
        "let a: Color32 = colour(theme, Ink::Ink);",
        "a[0], b[1], c[2]",
        "// #1C252B",
        "#[test]",
    ] {
        assert!(!has_raw_colour(line), "{line}");
    }
    assert!(has_own_spacing("ui.add_space(7.0);"));
    assert!(has_own_spacing("Margin::symmetric(4, 0)"));
    assert!(!has_own_spacing("ui.add_space(space::GAP as f32);"));
    assert!(!has_own_spacing("ui.spacing_mut().item_spacing.x = 0.0;"));
}
