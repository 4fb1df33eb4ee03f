//! Body work in the job file.

use super::super::*;

const JOB: &str = r#"(schema: 1, cars: [(name: "coach"), (name: "other")],
    visits: [
        (id: "before", car: "coach", flatness_mm: 0.05),
        (id: "after", car: "coach", flatness_mm: 0.05),
        (id: "elsewhere", car: "other", flatness_mm: 0.05),
    ],
    scans: [
        (id: "left", visit: "before", path: "left.ply", unit: mm),
        (id: "left again", visit: "before", path: "again.ply", unit: mm),
        (id: "left worked", visit: "after", path: "worked.ply", unit: mm),
        (id: "theirs", visit: "elsewhere", path: "theirs.ply", unit: mm),
    ],
    body_work: [(
        name: "flange dressed", before: "left", after: "left worked",
        worked: [(shape: box(low_mm: (0, 0, 0), high_mm: (10, 20, 30)))],
        start: (axis: (0, 0, 1), turn_deg: 30, shift_mm: (5, 0, 0), within_mm: 4),
    )],
)"#;

#[test]
fn body_work_is_read_written_and_needs_little() {
    let job = job_from_str(JOB).unwrap_or_else(|e| panic!("{e}: {}", e.hint()));
    assert_eq!(check_job(&job), []);
    let w = &job.body_work[0];
    assert_eq!(w.most_mm, record::BodyWork::MOST_MM);
    assert_eq!((w.worked.len(), w.start.unwrap().within_mm), (1, Some(4.0)));
    assert_eq!(job_from_str(&job_to_string(&job).unwrap()).unwrap(), job);
}

#[test]
fn what_is_wrong_with_body_work_is_said() {
    let says = |from: &str, to: &str, expected: &str| {
        assert!(JOB.contains(from), "{from}");
        let all = check_job(&job_from_str(&JOB.replacen(from, to, 1)).unwrap());
        assert_eq!(all.len(), 1, "{all:?}");
        assert!(!all[0].hint.is_empty());
        assert!(all[0].to_string().contains(expected), "{}", all[0]);
    };
    let after = "after: \"left worked\"";
    says(
        after,
        "after: \"left wroked\"",
        "no scan called \"left wroked\"",
    );
    says(after, "after: \"left\"", "before and after are one scan");
    says(
        after,
        "after: \"left again\"",
        "both of the visit \"before\"",
    );
    says(after, "after: \"theirs\"", "after shows \"other\"");
    says("(0, 0, 0), high", "(50, 0, 0), high", "above");
    says("axis: (0, 0, 1)", "axis: (0, 0, 0)", "\"start\" is no pose");
    says(
        "after: \"left worked\"",
        "after: \"left worked\", most_mm: 0",
        "\"most_mm\" is 0",
    );
}
