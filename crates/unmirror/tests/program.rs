//! The program as its users run it: what is printed, what is written, how it ends.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use record::{CompareId, Job};

fn run(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_unmirror"))
        .args(arguments)
        .env("COLUMNS", "80")
        .output()
        .unwrap()
}

fn out(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).unwrap()
}

fn said(output: &Output) -> String {
    String::from_utf8(output.stderr.clone()).unwrap()
}

fn text(path: &Path) -> &str {
    path.to_str().unwrap()
}

/// The made-up coach with only its cowl vents left in the job.
fn vents(folder: &Path) -> (PathBuf, Job) {
    let coach = folder.join("coach");
    let demo = run(&["demo", text(&coach)]);
    assert_eq!(demo.status.code(), Some(0), "{}", said(&demo));
    for line in out(&demo).lines() {
        assert!(line.chars().count() <= 80, "{line}");
    }
    for wanted in ["Lamp surround", "Cowl vent", "Grille", "chance it fits"] {
        assert!(out(&demo).contains(wanted), "{}", out(&demo));
    }
    let path = coach.join("coach.ron");
    let mut job = formats::read_job(&path).unwrap();
    let vent = CompareId::from("vent");
    job.compares.retain(|c| c.id == vent);
    let kept = job.compares[0].clone();
    job.openings
        .retain(|o| o.id == kept.a || Some(&o.id) == kept.b.as_ref());
    let scans: Vec<_> = job.openings.iter().map(|o| o.scan.clone()).collect();
    job.scans.retain(|s| scans.contains(&s.id));
    job.choices.parts.retain(|p| p.id == kept.part);
    job.choices.chosen.retain(|c| c.0 == vent);
    (path, job)
}

fn listing(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> = std::fs::read_dir(folder)
        .unwrap()
        .map(|f| f.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    names
}

#[test]
fn hand_over_gives_each_what_they_need_says_what_changed_and_refuses_when_a_stop_stands() {
    let folder = tempfile::tempdir().unwrap();
    let (path, mut job) = vents(folder.path());
    let handed = folder.path().join("handed");
    job.choices.parts[0].must_not_mirror = vec!["lettering".to_owned()];
    formats::write_job(&job, &path).unwrap();
    let hand_over = |who: &[&str]| {
        let plain = ["hand-over", text(&path), "--out", text(&handed)];
        run(&[&plain[..], who].concat())
    };

    let first = hand_over(&["--for", "cutter", "client"]);
    assert_eq!(first.status.code(), Some(0), "{}", said(&first));
    let answer = out(&first);
    assert!(answer.starts_with("Revision A in "), "{answer}");
    assert!(answer.contains("This is the first hand-over."), "{answer}");
    assert_eq!(listing(&handed), ["handed over.ron", "rev A"]);
    assert_eq!(listing(&handed.join("rev A")), ["client", "cutter"]);
    let cutter = handed.join("rev A").join("cutter");
    assert_eq!(
        listing(&cutter),
        [
            "Cowl vent, left, rev A.dxf",
            "Cowl vent, left, true size, rev A.pdf",
            "Cowl vent, right, rev A.dxf",
            "Cowl vent, right, true size, rev A.pdf",
            "read this.txt",
        ]
    );
    let letter = std::fs::read_to_string(cutter.join("read this.txt")).unwrap();
    for wanted in [
        "Must not be mirrored: lettering.",
        "read back: the edge lies within 0.",
        "Measurement aid, not approval",
    ] {
        assert!(letter.contains(wanted), "{wanted} is missing in\n{letter}");
    }
    // Nothing of the scans goes out.
    for scan in &job.scans {
        assert!(
            !letter.contains(&scan.path.display().to_string()),
            "{letter}"
        );
    }
    let before = std::fs::read(cutter.join("Cowl vent, left, rev A.dxf")).unwrap();

    job.choices.parts[0].gap_mm += 0.5;
    let gap = job.choices.parts[0].gap_mm;
    formats::write_job(&job, &path).unwrap();
    let second = hand_over(&["--for", "cutter", "client"]);
    assert_eq!(second.status.code(), Some(0), "{}", said(&second));
    let answer = out(&second);
    let wanted = format!("Cowl vent, agreed gap: was {} mm, is {gap} mm.", gap - 0.5);
    assert!(
        answer.starts_with("Revision B") && answer.contains(&wanted),
        "{wanted} is missing in\n{answer}"
    );
    assert_eq!(answer.matches("was ").count(), 1, "{answer}");
    assert_eq!(
        std::fs::read(cutter.join("Cowl vent, left, rev A.dxf")).unwrap(),
        before
    );

    job.scans[0].path = "gone.ply".into();
    formats::write_job(&job, &path).unwrap();
    let third = hand_over(&[]);
    assert_eq!(third.status.code(), Some(2));
    assert!(
        said(&third).contains("nothing was handed over") && said(&third).contains("gone.ply"),
        "{}",
        said(&third)
    );
    assert_eq!(
        listing(&handed),
        [".previous", "handed over.ron", "rev A", "rev B"]
    );
}

#[test]
fn a_pair_measured_by_tape_goes_from_its_tables_to_the_answer() {
    let folder = tempfile::tempdir().unwrap();
    let tables = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/data/hand");
    for name in ["lamp-left.csv", "lamp-right.csv"] {
        std::fs::copy(tables.join(name), folder.path().join(name)).unwrap();
    }
    let at = |name: &str| folder.path().join(name);
    let (left, right, job) = (at("lamp-left.csv"), at("lamp-right.csv"), at("lamp.ron"));
    let made = run(&[
        "new",
        "--by-hand",
        text(&left),
        text(&right),
        "--out",
        text(&job),
    ]);
    assert_eq!(made.status.code(), Some(0), "{}", said(&made));
    assert!(out(&made).contains("183 lengths"), "{}", out(&made));
    assert!(formats::check_job(&formats::read_job(&job).unwrap()).is_empty());

    let answer = at("answer");
    let compared = run(&["compare", text(&job), "--out", text(&answer)]);
    assert_eq!(compared.status.code(), Some(0), "{}", said(&compared));
    let words = out(&compared)
        .split_whitespace()
        .collect::<Vec<_>>()
        .join(" ");
    // The slip of 10 mm that was put into the left table, and the twist of the right opening.
    assert!(words.contains("length from E8 to P"), "{words}");
    assert!(words.contains("mostly a twist"), "{words}");
    let files = listing(&answer);
    for ending in [".dxf", ".step", ".pdf", ".svg", "study.json"] {
        assert!(files.iter().any(|f| f.ends_with(ending)), "{files:?}");
    }
    // The tables are named with what stood in them.
    let study = std::fs::read_to_string(answer.join("study.json")).unwrap();
    let hash = formats::file_hash(&left, &|| true).unwrap().unwrap();
    assert!(study.contains(&hash) && study.contains("lamp-left.csv"));

    let sheets = run(&["field-sheet", text(&job), "--out", text(&at("sheet.pdf"))]);
    assert_eq!(sheets.status.code(), Some(0), "{}", said(&sheets));
    assert!(std::fs::read(at("sheet.pdf")).unwrap().starts_with(b"%PDF"));
    let blank = at("sheet-lamp-right.csv");
    assert!(
        formats::read_hand(&blank)
            .unwrap()
            .iter()
            .all(|r| r.kind.is_word())
    );

    // One side missing: only that side is asked for, with fewer readings.
    std::fs::copy(&blank, &right).unwrap();
    let half = run(&["field-sheet", text(&job), "--out", text(&at("half.pdf"))]);
    assert_eq!(half.status.code(), Some(0), "{}", said(&half));
    assert!(at("half-lamp-right.csv").exists() && !at("half-lamp-left.csv").exists());

    // A table that cannot be read says where, and stops what hangs on it.
    std::fs::write(&right, "kind;from;to;value;unit\nlength;1;2;3/16;\n").unwrap();
    let broken = run(&["compare", text(&job)]);
    assert_eq!(broken.status.code(), Some(0), "{}", said(&broken));
    let words = out(&broken)
        .split_whitespace()
        .collect::<Vec<_>>()
        .join(" ");
    assert!(
        words.contains("line 2") && words.contains("unit is not said"),
        "{words}"
    );
}
