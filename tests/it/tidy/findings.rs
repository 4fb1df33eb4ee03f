//! Every kind of finding is described and tested.

use std::collections::BTreeSet;

use record::Code;

use super::{nothing, read, root, rust_files, test_part};

#[test]
fn codes_are_kebab_case_and_unique() {
    let mut complaints = Vec::new();
    let mut seen = BTreeSet::new();
    for code in Code::ALL {
        let word = code.word();
        let fine = word
            .split('-')
            .all(|part| !part.is_empty() && part.chars().all(|c| c.is_ascii_lowercase()));
        if !fine {
            complaints.push(format!("{word}: small letters and single hyphens only"));
        }
        if !seen.insert(word) {
            complaints.push(format!("{word} is used twice"));
        }
    }
    nothing(&complaints);
}

#[test]
fn every_code_is_described_and_nothing_else_is() {
    let text = read(&root().join("docs/findings.md"));
    let described: BTreeSet<&str> = text
        .lines()
        .filter_map(|l| l.strip_prefix("### `"))
        .filter_map(|l| l.strip_suffix('`'))
        .collect();
    let known: BTreeSet<&str> = Code::ALL.iter().map(|c| c.word()).collect();
    let mut complaints: Vec<String> = known
        .difference(&described)
        .map(|w| format!("{w} is not described"))
        .collect();
    complaints.extend(
        described
            .difference(&known)
            .map(|w| format!("{w} is described and does not exist")),
    );
    nothing(&complaints);
}

#[test]
fn every_code_is_named_in_a_test() {
    // This file names none of them.
    let tests: Vec<String> = rust_files()
        .iter()
        .map(|f| test_part(f, &read(f)).to_owned())
        .collect();
    let complaints: Vec<String> = Code::ALL
        .iter()
        .filter(|code| {
            let name = format!("Code::{code:?}");
            let named = |text: &String| {
                text.match_indices(&name).any(|(at, _)| {
                    !text[at + name.len()..].starts_with(|c: char| c.is_ascii_alphanumeric())
                }) || text.contains(&format!("\"{}\"", code.word()))
            };
            !tests.iter().any(named)
        })
        .map(|code| format!("{} is named in no test", code.word()))
        .collect();
    nothing(&complaints);
}
