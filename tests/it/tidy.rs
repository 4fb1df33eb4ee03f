//! The repository's own rules, as tests.

mod crates;
mod findings;
mod literals;
mod look;
mod tree;
mod words;

use std::path::{Path, PathBuf};

/// The top of the repository.
fn root() -> PathBuf {
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    here.parent()
        .expect("the tests lie in a folder of the repository")
        .to_owned()
}

/// Names at the top that `.gitignore` keeps out.
fn ignored() -> Vec<String> {
    let text = std::fs::read_to_string(root().join(".gitignore")).expect(".gitignore can be read");
    text.lines()
        .filter_map(|l| l.strip_prefix('/'))
        .map(str::to_owned)
        .collect()
}

/// Every file below `folder` (a path from the top), sorted; build output and version control left out.
fn files_below(folder: &str) -> Vec<PathBuf> {
    fn walk(folder: &Path, out: &mut Vec<PathBuf>) {
        let entries =
            std::fs::read_dir(folder).unwrap_or_else(|e| panic!("{}: {e}", folder.display()));
        for entry in entries {
            let path = entry.expect("a folder entry can be read").path();
            let name = path
                .file_name()
                .unwrap_or_default()
                .to_string_lossy()
                .into_owned();
            if name == ".git" || name == "__pycache__" {
                continue;
            }
            if path.is_dir() {
                walk(&path, out);
            } else {
                out.push(path);
            }
        }
    }
    let mut out = Vec::new();
    walk(&root().join(folder), &mut out);
    let hidden: Vec<PathBuf> = ignored().iter().map(|n| root().join(n)).collect();
    out.retain(|p| !hidden.iter().any(|h| p.starts_with(h)));
    out.sort();
    out
}

/// Every Rust file of the crates and of these tests.
fn rust_files() -> Vec<PathBuf> {
    let mut out = files_below("crates");
    out.extend(files_below("tests"));
    out.retain(|p| p.extension().is_some_and(|e| e == "rs"));
    assert!(out.len() > 20, "only {} Rust files were found", out.len());
    out
}

/// Path from the top, with forward slashes.
fn short(path: &Path) -> String {
    path.strip_prefix(root())
        .unwrap_or(path)
        .to_string_lossy()
        .replace('\\', "/")
}

fn read(path: &Path) -> String {
    std::fs::read_to_string(path).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

/// Whether the whole file is test or bench code.
fn is_test_file(path: &Path) -> bool {
    let name = short(path);
    name.starts_with("tests/")
        || name.contains("/tests/")
        || name.contains("/benches/")
        || ["/tests.rs", "/testing.rs", "/sample.rs"]
            .iter()
            .any(|end| name.ends_with(end))
        || path
            .parent()
            .is_some_and(|p| p.file_name().is_some_and(|n| n == "tests"))
}

/// The part of a source file before its test module.
fn product_part<'a>(path: &Path, text: &'a str) -> &'a str {
    if is_test_file(path) {
        return "";
    }
    let mut from = 0;
    while let Some(at) = text[from..].find("#[cfg(test)]") {
        let at = from + at;
        let next = text[at + 12..].trim_start();
        if next.starts_with("mod tests {") || next.starts_with("mod test {") {
            return &text[..at];
        }
        from = at + 12;
    }
    text
}

/// The part of a source file that is test code.
fn test_part<'a>(path: &Path, text: &'a str) -> &'a str {
    if is_test_file(path) {
        text
    } else {
        &text[product_part(path, text).len()..]
    }
}

/// Fails with every complaint at once.
fn nothing(complaints: &[String]) {
    assert!(
        complaints.is_empty(),
        "{} complaints:\n{}",
        complaints.len(),
        complaints.join("\n")
    );
}
