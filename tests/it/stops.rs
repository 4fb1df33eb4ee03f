//! Where figures would mislead there are none; where only a click is missing there still are.

use demo::Coach;
use record::{Code, CompareId, Job, OpeningId, Quiet, Severity, Study, UnitSource, Verdict};

use crate::demo_truth::prepared;

fn study_of(job: &Job, coach: &Coach) -> Study {
    let scans = prepared(coach, 200_000);
    study::run(job, &scans, &mut study::Kept::default(), 0, &Quiet).unwrap()
}

fn options(study: &Study, id: &str) -> usize {
    let id = CompareId::from(id);
    study
        .decided
        .compares
        .iter()
        .find(|c| c.id == id)
        .unwrap()
        .options
        .len()
}

/// A pick of an edge that leads nowhere stops its pair and no other.
#[test]
fn an_edge_that_is_not_found_stops_its_pair() {
    let coach = Coach::new(3);
    let mut job = coach.job();
    let id = OpeningId::from("vent-right");
    let opening = job.openings.iter_mut().find(|o| o.id == id).unwrap();
    opening.edge.as_mut().unwrap().near.z += 5_000.0;
    let study = study_of(&job, &coach);
    assert_eq!(options(&study, "vent"), 0);
    assert!(options(&study, "step") > 0);
    let vent = study
        .measured
        .compares
        .iter()
        .find(|c| c.id == CompareId::from("vent"))
        .unwrap();
    assert!(
        vent.findings
            .iter()
            .any(|f| f.code == Code::PickNotFound && f.severity == Severity::Stop)
    );
    let text = report::terminal_text(&study, report::Look::default());
    assert!(!text.contains("Cowl vent: mirror"), "{text}");
}

/// A taped length that contradicts the unit stops everything and names the likely unit.
#[test]
fn a_taped_length_that_contradicts_the_unit_stops_all() {
    let coach = Coach::new(3);
    let mut job = coach.job();
    let near = |id: &str| {
        let id = OpeningId::from(id);
        let o = job.openings.iter().find(|o| o.id == id).unwrap();
        o.edge.as_ref().unwrap().near
    };
    let (from, to) = (near("lamp-left"), near("vent-left"));
    let taped_mm = (to - from).norm() * 25.4;
    job.scans[0].unit_source = UnitSource::Checked { from, to, taped_mm };
    let study = study_of(&job, &coach);
    let stop = &study.measured.findings[0];
    assert_eq!(
        (stop.code, stop.severity),
        (Code::UnitDoubt, Severity::Stop)
    );
    assert!(stop.advice.ends_with(" in"), "{}", stop.advice);
    assert_eq!(options(&study, "lamp"), 0);
}

/// Two scans of one side, one of them named right, do not pass for a pair.
#[test]
fn two_openings_of_one_side_look_swapped() {
    let coach = Coach::new(3);
    let mut job = coach.job();
    let lamp = CompareId::from("lamp");
    let compare = job.compares.iter_mut().find(|c| c.id == lamp).unwrap();
    compare.b = Some(compare.a.clone());
    let study = study_of(&job, &coach);
    let lamp = study
        .measured
        .compares
        .iter()
        .find(|c| c.id == lamp)
        .unwrap();
    assert!(
        lamp.findings
            .iter()
            .any(|f| f.code == Code::SideLooksSwapped)
    );
    assert_eq!(options(&study, "lamp"), 0);
}

/// Without clicked tops the openings are still laid on each other, and the verdicts stay.
#[test]
fn no_top_is_needed_to_lay_openings_on_each_other() {
    let coach = Coach::new(3);
    let mut job = coach.job();
    for o in &mut job.openings {
        o.top = None;
    }
    let study = study_of(&job, &coach);
    for c in &study.measured.compares {
        assert!(!c.stations.is_empty(), "{} was not laid", c.id);
    }
    let vent = &study
        .decided
        .compares
        .iter()
        .find(|c| c.id == CompareId::from("vent"))
        .unwrap();
    assert_eq!(vent.options[0].verdict, Verdict::Fits);
}

/// Unlike covers of the two sides are told.
#[test]
fn unlike_body_states_are_told() {
    let coach = Coach::new(3);
    let mut job = coach.job();
    job.visits[0].state.left = record::Surface::Bare;
    job.visits[0].state.right = record::Surface::Primed;
    let study = study_of(&job, &coach);
    let told =
        |c: &record::MeasuredCompare| c.findings.iter().any(|f| f.code == Code::UnlikeBodyStates);
    assert!(
        study
            .measured
            .compares
            .iter()
            .filter(|c| c.b.is_some())
            .all(told)
    );
}
