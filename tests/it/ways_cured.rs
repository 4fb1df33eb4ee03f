//! Differences are told by their name with what cures them, and a part that carries load is judged in all places at once.

use demo::{Coach, Differences};
use record::{CureWay, DecidedCompare, Matters, OptionKind, Quiet, Study, Verdict, WayOfDiffering};

use super::demo_truth::prepared;

const POINTS: usize = 200_000;

fn study_of(coach: &Coach, load_bearing: bool, draws: u32) -> Study {
    let scans = prepared(coach, POINTS);
    let mut job = coach.job();
    for p in &mut job.choices.parts {
        p.load_bearing = load_bearing;
    }
    study::run(&job, &scans, &mut study::Kept::default(), draws, &Quiet).unwrap()
}

fn pair<'a>(s: &'a Study, id: &str) -> &'a DecidedCompare {
    s.decided.compares.iter().find(|c| c.id.0 == id).unwrap()
}

#[test]
fn what_is_planted_is_named_with_its_cure() {
    let planted = Differences {
        // 1.5 degrees over the height of the lamp.
        lamp_twist_mm: 1.5_f64.to_radians() * 88.0 / 2.0,
        step_holes_mm: 1.2,
        marker_width_mm: 0.9,
        ..Differences::NONE
    };
    let s = study_of(&Coach::perfect(61).with(planted), false, 0);
    for (id, way, cure) in [
        ("lamp", WayOfDiffering::Twist, CureWay::Gasket),
        ("step", WayOfDiffering::Shift, CureWay::Slots),
        ("marker", WayOfDiffering::Width, CureWay::WiderFlange),
    ] {
        let differs = &pair(&s, id).differs;
        for d in differs {
            println!(
                "{id}: {:?} {:.3} +- {:.3} of {:.2}",
                d.way, d.amount.value, d.amount.u95, d.allowed
            );
        }
        assert_eq!(differs[0].way, way, "{id}");
        assert_eq!(differs[0].cures[0], cure, "{id}");
    }
    // 1.2 mm of shift against the play of the fasteners: it matters, and slots are what the decision finds as well.
    let step = pair(&s, "step");
    assert_eq!(step.differs[0].matters, Matters::Matters);
    assert!(
        step.options
            .iter()
            .any(|o| o.kind == OptionKind::MirrorAWithSlots)
    );
    // The left is the narrower one.
    assert!(pair(&s, "marker").differs[0].amount.value < 0.0);
    let text = report::terminal_text(&s, report::Look::default());
    println!("{text}");
    assert!(text.contains("slots can cure that"), "{text}");
}

#[test]
fn like_sides_have_nothing_that_matters() {
    let s = study_of(&Coach::perfect(62), false, 0);
    for c in &s.decided.compares {
        for d in &c.differs {
            println!(
                "{}: {:?} {:.3} +- {:.3} of {:.2}",
                c.id, d.way, d.amount.value, d.amount.u95, d.allowed
            );
            assert_ne!(d.matters, Matters::Matters, "{} {:?}", c.id, d.way);
        }
    }
}

#[test]
fn a_part_that_carries_load_is_judged_in_all_places_at_once() {
    let coach = Coach::new(63);
    for draws in [0, 400] {
        let s = study_of(&coach, true, draws);
        for c in s
            .decided
            .compares
            .iter()
            .filter(|c| c.joint.is_some() || draws == 0)
        {
            for o in &c.options {
                assert_eq!(o.kind, OptionKind::TwoHands);
                let [least, most] = o.band_percent.unwrap();
                println!("{}, {draws} draws: {least:.0} % to {most:.0} %", c.id);
                assert!(least <= o.uses.unwrap().value + 1e-6 && most > least);
                let wanted = if most <= 100.0 {
                    Verdict::Fits
                } else {
                    Verdict::NotProven
                };
                assert_eq!(o.verdict, wanted, "{}", c.id);
            }
        }
    }
    // Other parts have no band.
    let s = study_of(&coach, false, 0);
    let none = s.decided.compares.iter().flat_map(|c| &c.options);
    assert!(none.into_iter().all(|o| o.band_percent.is_none()));
}
