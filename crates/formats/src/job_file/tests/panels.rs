//! Sections, gaps and hinges in the file.

use super::super::{check_job, job_from_str, job_to_string};

const JOB: &str = r#"(
    schema: 1,
    sections: (width_mm: 30),
    gaps: [(
        name: "door to wing", first: "door", second: "wing",
        left: (along_mm: [(0, 0, 0), (3, 300, 9)], on_first_mm: (-12, 5, 0)),
    )],
    hinges: [(
        name: "door hinges",
        barrels: [(name: "lower", from_mm: (6, 0, 1), to_mm: (6, 0, 39), diameter_mm: 12)],
    )],
)"#;

#[test]
fn what_is_left_out_is_as_usual() {
    let job = job_from_str(JOB).unwrap();
    assert_eq!(
        (
            job.sections.width_mm,
            job.sections.step_mm,
            job.sections.every_mm
        ),
        (30.0, 5.0, 10.0)
    );
    assert_eq!((job.gaps[0].every_mm, job.gaps[0].reach_mm), (25.0, 20.0));
    assert_eq!(job.hinges[0].barrels[0].diameter_mm, Some(12.0));
    let again = job_from_str(&job_to_string(&job).unwrap()).unwrap();
    assert_eq!(again, job);
}

#[test]
fn misspelt_fields_are_named() {
    for (good, bad, near) in [
        ("width_mm: 30", "widht_mm: 30", "width_mm"),
        ("on_first_mm", "on_frist_mm", "on_first_mm"),
        ("diameter_mm", "diametre_mm", "diameter_mm"),
        ("first: \"door\"", "frist: \"door\"", "first"),
        ("hinges:", "hinge:", "hinges"),
    ] {
        let error = job_from_str(&JOB.replace(good, bad)).unwrap_err();
        let said = error.to_string();
        assert!(
            said.contains(&format!("the nearest is \"{near}\"")),
            "{said}"
        );
    }
}

#[test]
fn what_cannot_be_is_told_with_its_place() {
    let told = |from: &str, to: &str| -> Vec<String> {
        let text = JOB.replace(from, to);
        assert_ne!(text, JOB);
        let job = job_from_str(&text).unwrap();
        check_job(&job).iter().map(ToString::to_string).collect()
    };
    let of = |problems: Vec<String>, place: &str, word: &str| {
        assert!(
            problems
                .iter()
                .any(|p| p.starts_with(place) && p.contains(word)),
            "{problems:?}"
        );
    };
    of(told("width_mm: 30", "width_mm: 4"), "sections", "width_mm");
    of(told("width_mm: 30", "every_mm: -1"), "sections", "every_mm");
    of(
        told("(3, 300, 9)", ""),
        "gap \"door to wing\", left",
        "along_mm",
    );
    of(
        told("diameter_mm: 12", "diameter_mm: 0"),
        "hinge \"door hinges\", barrel \"lower\"",
        "diameter_mm",
    );
    of(
        told("(6, 0, 39)", "(6, 0, 1)"),
        "hinge \"door hinges\", barrel \"lower\"",
        "one place",
    );
    let swing = "name: \"door hinges\", swing: (part: \"door\", body: \"wing\", open_deg: 200),";
    let problems = told("name: \"door hinges\",", swing);
    of(problems.clone(), "hinge \"door hinges\", swing", "open_deg");
    of(problems, "hinge \"door hinges\", swing", "no opening");
}
