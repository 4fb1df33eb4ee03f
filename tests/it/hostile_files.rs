//! The files of `tests/data/bad`: what runs of `tests/fuzz` found, and their like. Each is told with its name, its place and a
//! remedy, in little memory; none ends the program. Those that are made up in code stand in `bad_files`.

use std::path::{Path, PathBuf};

use formats::Error;
use record::Quiet;

use crate::counting_allocator::peak_of;

/// File below `tests/data/bad`, and what is said of it: a part of the text, the place in it.
const BAD: [(&str, &str); 19] = [
    (
        "e57/odd-length.e57",
        "byte 3072: expected whole pages of 1024 bytes, the file has 3074",
    ),
    ("hand/other-bytes.csv", "line 4: expected text in UTF-8"),
    (
        "handed_over/none.ron",
        "line 1: expected opening \"(\" for struct",
    ),
    ("job/deep.ron", "line 1: "),
    (
        "job/misspelt.ron",
        "line 3: no field is called \"scanz\" here, the nearest is \"scans\"",
    ),
    (
        "job/open.ron",
        "line 4: the text ends before the last bracket is closed",
    ),
    ("job/other-bytes.ron", "line 3: expected text in UTF-8"),
    (
        "job/schema-0.ron",
        "line 1: expected \"schema: 1\", found \"schema: 0\"",
    ),
    ("job/schema-9.ron", "line 3: the job has schema 9"),
    (
        "pcd/packed-lies.pcd",
        "byte 86: the packed piece is damaged at its byte 400",
    ),
    (
        "pcd/zeros-in-type.pcd",
        "expected a type F, I or U of 1, 2, 4 or 8 bytes for \"rgb\", found \"Fj???\" of 4",
    ),
    ("places/other-bytes.csv", "expected text in UTF-8"),
    ("ply/long-count.ply", "line 4: expected"),
    ("step/deep.step", "something else than a value"),
    ("step/half-a-letter.step", "something else than a value"),
    ("step/huge.step", "something else than a value"),
    (
        "step/knots.step",
        "knots and poles of a spline do not agree",
    ),
    (
        "stl/nine-bytes.stl",
        "byte 9: expected a binary STL with a header of 84 bytes, found 9 bytes",
    ),
    (
        "table/solid.xyz",
        "byte 23: expected a binary STL with a header of 84 bytes",
    ),
];

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("data/bad")
}

/// What is said of a file by the reader that its folder names: the text, and the error if it is one of a file.
fn told(name: &str) -> (String, Option<Error>) {
    let path = folder().join(name);
    let of_file = |e: Option<Error>| {
        let text = e
            .as_ref()
            .map_or_else(|| "read".to_owned(), Error::to_string);
        (text, e)
    };
    match name.split('/').next().unwrap_or_default() {
        "hand" => of_file(formats::read_hand(&path).err()),
        "places" => of_file(formats::read_places(&path).err()),
        "job" => of_file(formats::read_job(&path).err()),
        "handed_over" => {
            // The list has a name of its own in a folder of its own.
            let home = tempfile::tempdir().unwrap();
            formats::write_hand_overs(&formats::HandOverLog::default(), home.path()).unwrap();
            let list = std::fs::read_dir(home.path())
                .unwrap()
                .flatten()
                .find(|e| e.path().is_file())
                .unwrap();
            std::fs::copy(&path, list.path()).unwrap();
            of_file(formats::read_hand_overs(home.path()).err())
        }
        "step" => {
            let text = String::from_utf8_lossy(&std::fs::read(&path).unwrap()).into_owned();
            (
                formats::read_step(&text)
                    .err()
                    .map_or_else(|| "read".to_owned(), |e| e.to_string()),
                None,
            )
        }
        _ => of_file(formats::read_scan(&path, &Quiet).err()),
    }
}

#[test]
fn every_file_that_broke_a_reader_is_told() {
    let mut wrong = Vec::new();
    for (name, says) in BAD {
        let size = std::fs::metadata(folder().join(name)).unwrap().len() as usize;
        let ((text, error), peak) = peak_of(|| told(name));
        if !text.contains(says) || text.contains(char::is_control) {
            wrong.push(format!("{name}: {text}"));
        }
        if let Some(e) = error {
            let file = e.path().is_some();
            let remedy = !e.hint().is_empty() && !e.hint().ends_with('.');
            if !file || !remedy || text.ends_with('.') {
                wrong.push(format!("{name}: {text} [{}]", e.hint()));
            }
        }
        if peak > (64 << 20) + 4 * size {
            wrong.push(format!(
                "{name}: {peak} bytes at the peak for a file of {size}"
            ));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn no_bad_file_is_left_out() {
    let mut found = Vec::new();
    for kind in std::fs::read_dir(folder()).unwrap().flatten() {
        for file in std::fs::read_dir(kind.path()).unwrap().flatten() {
            let name = |e: &std::fs::DirEntry| e.file_name().to_string_lossy().into_owned();
            found.push(format!("{}/{}", name(&kind), name(&file)));
        }
    }
    found.sort();
    assert_eq!(found, BAD.map(|b| b.0));
}
