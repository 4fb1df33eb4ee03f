//! Two visits to one coach with body work between them, and another coach of the same pattern: from files to verdicts, against the
//! known truth.

use std::path::Path;
use std::process::{Command, Output};

use demo::{Coach, Work};
use record::{Job, OpeningId, Quiet, Side};
use serde_json::Value;

fn run(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_unmirror"))
        .args(arguments)
        .env("COLUMNS", "100")
        .output()
        .unwrap()
}

fn said(arguments: &[&str]) -> String {
    let done = run(arguments);
    let text = String::from_utf8(done.stdout).unwrap();
    let errors = String::from_utf8(done.stderr).unwrap();
    assert_eq!(done.status.code(), Some(0), "{text}{errors}");
    text
}

fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn json(path: &Path) -> Value {
    serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

fn number(v: &Value) -> f64 {
    v.as_f64().unwrap()
}

/// A verdict must agree with the truth: how much of what is allowed is used, without angles.
fn agrees(verdict: &str, uses: &Value, truth: f64, who: &str) {
    match verdict {
        "fits" => assert!(truth <= 1.02, "{who} fits, in truth {truth}"),
        "will-not-fit" => assert!(truth >= 0.95, "{who} will not fit, in truth {truth}"),
        _ => assert!(
            (0.6..1.5).contains(&truth),
            "{who} not proven, in truth {truth}"
        ),
    }
    if let (Some(value), Some(u95)) = (uses["value"].as_f64(), uses["u95"].as_f64()) {
        // Angles are not in the truth: only a share that they may not have made is held against it.
        assert!(
            value + 2.0 * u95 >= 100.0 * truth,
            "{who}: {value} +- {u95}, in truth {}",
            100.0 * truth
        );
    }
}

#[test]
fn two_visits_and_two_coaches_from_files_to_verdicts() {
    let folder = tempfile::tempdir().unwrap();
    let coach = Coach::new(21);
    let second = Coach::second(22);
    let files = coach
        .write_two_coaches(&second, Work::DRESSED, folder.path(), 200_000, &Quiet)
        .unwrap();
    let [first, other] = [&files.first, &files.second].map(|p| p.to_str().unwrap());
    let out = folder.path().join("out");
    let out_text = out.to_str().unwrap();

    // What was worked is found, and nothing else.
    let text = one_line(&said(&["body-work", first, "--out", out_text]));
    assert!(text.contains("Flange dressed: 1 area moved."), "{text}");
    assert!(
        text.contains("Lamp opening: reached by what moved"),
        "{text}"
    );
    assert!(text.contains("Cowl vent opening: not reached"), "{text}");
    let found = json(&out.join("body-work.json"));
    let work = &found["body_work"][0];
    let areas = work["laid"]["areas"].as_array().unwrap();
    assert_eq!(areas.len(), 1);
    let near = |f: &Value, truth: f64| {
        assert!(
            (number(&f["value"]) - truth).abs() < 1.5 * number(&f["u95"]),
            "{f}"
        );
    };
    near(&areas[0]["most"], -1.493);
    near(&areas[0]["length"], 80.0);
    let reached = areas[0]["reaches"].as_array().unwrap();
    assert!(
        reached.iter().all(|r| r["opening"] == "lamp-right"),
        "{reached:?}"
    );

    // The part drawn before, in the opening after: by the truth of both.
    let [before, after, another] = &files.truths;
    let part = |id: &str| {
        files
            .first_job
            .choices
            .parts
            .iter()
            .find(|p| p.id.0 == id)
            .unwrap()
    };
    for o in work["openings"].as_array().unwrap() {
        let id = OpeningId(o["before"].as_str().unwrap().to_owned());
        let compare = &o["part_drawn_before"][0];
        let stem = id.0.split('-').next().unwrap();
        let name = part_of(&files.first_job, &id);
        let truth = before.fit_in(&id, after, &id, part(&name)).unwrap();
        let choice = &compare["choices"]
            .as_array()
            .unwrap()
            .iter()
            .find(|c| c["choice"] == "one-shape")
            .unwrap();
        agrees(
            choice["verdict"].as_str().unwrap(),
            &choice["uses"],
            truth,
            stem,
        );
        assert_eq!(o["reached"], Value::Bool(stem == "lamp"));
    }

    // Parts of one coach on the other.
    let text = one_line(&said(&["cars", first, other, "--out", out_text]));
    assert!(
        text.contains("Parts drawn for touring coach tried on second coach"),
        "{text}"
    );
    let tried = json(&out.join("cars.json"));
    let tried = tried["tried"].as_array().unwrap();
    // Four parts on two sides in two openings each, and the grille.
    assert_eq!(tried.len(), 17);
    let mut verdicts = std::collections::BTreeSet::new();
    for t in tried {
        let id = |key: &str| t[key].as_str().unwrap().to_owned();
        let drawn = OpeningId(id("drawn_to").replace("-worked", ""));
        let into = OpeningId(id("tried_in").replace("second coach: ", ""));
        let part = part(t["part"].as_str().unwrap());
        let truth = before.fit_in(&drawn, another, &into, part).unwrap();
        let choice = &t["as_drawn"];
        let verdict = choice["verdict"].as_str().unwrap();
        verdicts.insert(verdict.to_owned());
        // The junction beside the lamp is not in the truth of edges and holes.
        let by_angle = choice["worst"]["amount"]["unit"] == "deg";
        if by_angle {
            assert_eq!((drawn.0.as_str(), verdict), ("lamp-right", "will-not-fit"));
        } else {
            agrees(
                verdict,
                &choice["uses"],
                truth,
                &format!("{drawn} in {into}"),
            );
        }
    }
    assert!(
        verdicts.contains("fits") && verdicts.contains("will-not-fit"),
        "{verdicts:?}"
    );
    let csv = std::fs::read_to_string(out.join("cars.csv")).unwrap();
    assert!(
        csv.lines().count() > 17 && csv.contains("one-shape-with-slots"),
        "{csv}"
    );
}

fn part_of(job: &Job, id: &OpeningId) -> String {
    let c = job
        .compares
        .iter()
        .find(|c| c.a == *id || c.b.as_ref() == Some(id))
        .unwrap();
    c.part.0.clone()
}

#[test]
fn one_job_may_hold_both_cars_and_says_which() {
    let folder = tempfile::tempdir().unwrap();
    let files = Coach::new(3)
        .write_two_coaches(
            &Coach::second(4),
            Work::DRESSED,
            folder.path(),
            60_000,
            &Quiet,
        )
        .unwrap();
    let first = files.first.to_str().unwrap();
    let alone = run(&["cars", first]);
    assert_eq!(alone.status.code(), Some(2));
    let says = String::from_utf8(alone.stderr).unwrap();
    assert!(says.contains("the job holds 1 car"), "{says}");
    let mut second = files.second_job.clone();
    for s in &mut second.scans {
        s.path = Path::new("second coach").join(&s.path);
    }
    let both = study::together(&files.first_job, &second, ["touring coach", "second coach"]);
    let path = folder.path().join("both.ron");
    formats::write_job(&both, &path).unwrap();
    let path = path.to_str().unwrap();
    let text = one_line(&said(&["cars", path, "--from", "second coach"]));
    assert!(
        text.contains("Parts drawn for second coach tried on touring coach"),
        "{text}"
    );
    let wrong = run(&["cars", path, "--to", "third coach"]);
    let says = String::from_utf8(wrong.stderr).unwrap();
    assert!(says.contains("no car called \"third coach\""), "{says}");
    // Work on one side leaves the other as it was.
    assert_eq!(files.first_job.scans.len(), 4);
    assert_eq!(Work::DRESSED.side, Side::Right);
}
