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
