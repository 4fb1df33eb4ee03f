//! The words people read.

use super::literals::literals;
use super::{nothing, product_part, read, root, rust_files, short};

/// Words that mean something else in a body shop, or nothing, and what to say instead.
const BARRED: [(&str, &str); 12] = [
    ("frame", "opening edge, axes, centreline"),
    ("frames", "opening edges, axes"),
    ("rim", "opening edge"),
    ("rims", "opening edges"),
    ("outlier", "the odd one out"),
    ("outliers", "the odd ones out"),
    ("rms", "give or take"),
    ("significant", "proven"),
    ("significantly", "provenly"),
    ("nominal", "drawn"),
    ("oops", "what happened"),
    ("please", "nothing"),
];

/// Where a barred word may stand all the same: file, word, why.
const ALLOWED: [(&str, &str, &str); 0] = [];

fn complaints_of(name: &str, line: usize, text: &str) -> Vec<String> {
    let words = text
        .split(|c: char| !c.is_alphabetic())
        .map(str::to_lowercase);
    words
        .filter_map(|word| BARRED.iter().find(|(barred, _)| *barred == word))
        .filter(|(barred, _)| {
            !ALLOWED
                .iter()
                .any(|(file, word, _)| *file == name && word == barred)
        })
        .map(|(barred, instead)| format!("{name}:{line}: \"{barred}\"; say: {instead}"))
        .collect()
}

#[test]
fn the_words_of_the_program_are_those_of_the_workshop() {
    let mut complaints = Vec::new();
    for file in rust_files() {
        let name = short(&file);
        if !name.starts_with("crates/") {
            continue;
        }
        let text = read(&file);
        for literal in literals(product_part(&file, &text)) {
            complaints.extend(complaints_of(&name, literal.line, &literal.text));
        }
    }
    nothing(&complaints);
}

#[test]
fn the_words_of_the_documents_for_users_are_those_of_the_workshop() {
    let mut complaints = Vec::new();
    for name in ["README.md", "docs/findings.md"] {
        for (number, line) in read(&root().join(name)).lines().enumerate() {
            complaints.extend(complaints_of(name, number + 1, line));
        }
    }
    nothing(&complaints);
}

#[test]
fn no_sentence_shouts() {
    // An exclamation mark at the end of a word of a literal that reads as a sentence.
    let mut complaints = Vec::new();
    for file in rust_files() {
        let name = short(&file);
        if !name.starts_with("crates/") {
            continue;
        }
        let text = read(&file);
        for literal in literals(product_part(&file, &text)) {
            let words: Vec<&str> = literal.text.split(' ').collect();
            let shouts = |w: &&str| {
                w.len() > 2
                    && w.ends_with('!')
                    && w.chars().rev().nth(1).is_some_and(char::is_alphabetic)
            };
            if words.len() > 2 && words.iter().any(shouts) {
                complaints.push(format!("{name}:{}: {}", literal.line, literal.text));
            }
        }
    }
    nothing(&complaints);
}

#[test]
fn a_barred_word_is_noticed() {
    assert_eq!(
        complaints_of("x.rs", 3, "the local RMS of the lamp rim").len(),
        2
    );
    assert_eq!(
        complaints_of("x.rs", 3, "rms_mm"),
        ["x.rs:3: \"rms\"; say: give or take"]
    );
    assert!(complaints_of("x.rs", 3, "trimming the framework").is_empty());
}
