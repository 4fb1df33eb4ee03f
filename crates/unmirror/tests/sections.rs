//! Sections and panels, from files to sentences, tables and drawings.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use demo::Coach;
use record::Quiet;

fn run(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_unmirror"))
        .args(arguments)
        .env("COLUMNS", "100")
        .output()
        .unwrap()
}

fn text(path: &Path) -> &str {
    path.to_str().unwrap()
}

/// The answer and the folder of what was written.
fn sections(coach: &Coach, folder: &Path) -> (String, PathBuf) {
    let files = coach.write(folder, 600_000, &Quiet).unwrap();
    let out = folder.join("sections");
    let done = run(&["sections", text(&files.job_path), "--out", text(&out)]);
    let said = String::from_utf8(done.stdout).unwrap();
    let aside = String::from_utf8(done.stderr).unwrap();
    assert_eq!(done.status.code(), Some(0), "{said}{aside}");
    assert!(said.lines().count() <= 40, "{said}");
    assert!(said.lines().all(|l| l.chars().count() <= 100), "{said}");
    (said, out)
}

/// The right lamp's panel is twisted by 1.65 mm at (88, 74) from its middle, its upper inner corner proud: seen from outside
/// the inner side of the left lamp is at -X, so left minus right is 1.65 x y / (88 x 74) as far as that twist goes, and a
/// level, slanting part more: where its middle lies, and how edges that differ in a corner lay it. The top of the part is
/// clicked, a few degrees off that of the car: turned by f, x y becomes x y cos 2f + (x^2 - y^2) / 2 sin 2f.
#[test]
fn the_twist_of_the_lamp_panel_is_found_where_it_was_made() {
    let folder = tempfile::tempdir().unwrap();
    let (said, out) = sections(&Coach::new(7), folder.path());
    println!("{said}");
    let one_line = said.split_whitespace().collect::<Vec<_>>().join(" ");
    let lamp = one_line
        .find("Lamp opening: the panel differs most at the")
        .unwrap();
    let sentence = &one_line[lamp..lamp + one_line[lamp..].find("Proven.").unwrap()];
    assert!(sentence.contains("corner,"), "{sentence}");
    let table = std::fs::read_to_string(out.join("lamp, sections.csv")).unwrap();
    let mut lines = table.trim_start_matches('\u{feff}').lines();
    let head: Vec<&str> = lines.next().unwrap().split(',').collect();
    let mut found: Vec<[f64; 4]> = Vec::new();
    for line in lines {
        // Names of places hold commas and are in quotes.
        let cells: Vec<String> = cells(line);
        let of = |name: &str| {
            let k = head.iter().position(|h| *h == name).unwrap();
            cells[k].parse::<f64>().ok()
        };
        let (Some(x), Some(y), Some(d), Some(u95)) = (
            of("x_mm"),
            of("y_mm"),
            of("a_minus_b_mm"),
            of("a_minus_b_u95_mm"),
        ) else {
            continue;
        };
        if x.abs() > 112.0 || y.abs() > 104.0 {
            continue;
        }
        found.push([x, y, d, u95]);
    }
    let fit = saddle(&found);
    let beyond = |[x, y, d, u95]: &[f64; 4]| {
        let made: f64 = std::iter::zip(fit, terms(*x, *y)).map(|(c, t)| c * t).sum();
        (d - made).abs() > u95 + 0.05
    };
    let outside = found.iter().filter(|f| beyond(f)).count();
    println!("{outside} of {} steps not as made; {fit:?}", found.len());
    assert!(found.len() > 150);
    let small = fit[0].abs() < 0.4 && fit[1].abs() < 5e-3 && fit[2].abs() < 5e-3;
    assert!(small, "{fit:?}");
    let (made, twist) = (1.65 / (88.0 * 74.0), fit[3].hypot(fit[4]));
    assert!((twist / made - 1.0).abs() < 0.04, "{twist} {made}");
    assert!((fit[4] / fit[3]).abs() < 0.2, "{fit:?}");
    assert!(outside * 20 <= found.len(), "{outside} of {}", found.len());
    for name in [
        "lamp, panel.csv",
        "lamp, sections.dxf",
        "lamp, sections.step",
        "sections.json",
    ] {
        assert!(out.join(name).exists(), "{name}");
    }
}

/// Level, slant and the two saddles at (x, y).
fn terms(x: f64, y: f64) -> [f64; 5] {
    [1.0, x, y, x * y, 0.5 * (x * x - y * y)]
}

/// How much of each of the terms is in figures at (x, y), least squares.
fn saddle(found: &[[f64; 4]]) -> [f64; 5] {
    let mut m = [[0.0; 6]; 5];
    for [x, y, d, _] in found {
        let row = terms(*x, *y);
        for (i, line) in m.iter_mut().enumerate() {
            for (j, entry) in line.iter_mut().enumerate() {
                *entry += row[i] * row.get(j).unwrap_or(d);
            }
        }
    }
    for i in 0..5 {
        let pivot = m[i];
        for (k, line) in m.iter_mut().enumerate() {
            if k != i {
                let f = line[i] / pivot[i];
                for (entry, p) in line.iter_mut().zip(pivot) {
                    *entry -= f * p;
                }
            }
        }
    }
    [0, 1, 2, 3, 4].map(|i: usize| m[i][5] / m[i][i])
}

fn cells(line: &str) -> Vec<String> {
    let mut found = vec![String::new()];
    let mut quoted = false;
    for c in line.chars() {
        match c {
            '"' => quoted = !quoted,
            ',' if !quoted => found.push(String::new()),
            c => {
                let last = found.len() - 1;
                found[last].push(c);
            }
        }
    }
    found
}

#[test]
fn of_a_perfect_coach_nothing_is_claimed() {
    let folder = tempfile::tempdir().unwrap();
    let (said, _) = sections(&Coach::perfect(5), folder.path());
    println!("{said}");
    assert!(!said.contains("Proven."), "{said}");
    assert!(
        said.contains("no difference of the panel is proven"),
        "{said}"
    );
}

#[test]
fn a_job_that_asks_for_too_much_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("job.ron");
    std::fs::write(&path, "(schema: 1, sections: (width_mm: 4))").unwrap();
    let done = run(&["sections", text(&path)]);
    assert_eq!(done.status.code(), Some(2));
    let said = String::from_utf8(done.stderr).unwrap();
    assert!(
        said.contains("width_mm") && said.contains("sections"),
        "{said}"
    );
    std::fs::write(&path, "(schema: 1, sections: (widht_mm: 40))").unwrap();
    let done = run(&["sections", text(&path)]);
    let said = String::from_utf8(done.stderr).unwrap();
    assert_eq!(done.status.code(), Some(2));
    assert!(said.contains("the nearest is \"width_mm\""), "{said}");
}
