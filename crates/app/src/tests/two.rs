//! Two visits and two cars through the window, against the known truth: by role and label, and by keys.

use std::path::{Path, PathBuf};
use std::sync::{Arc, LazyLock};
use std::time::{Duration, Instant};

use demo::{Coach, TwoCoaches, Work};
use editor::{Two, TwoFound};
use egui::{Key, Modifiers, Role};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use record::{CarsStudy, Job, OptionKind, Verdict, WorkStudy};

use super::{copied, settle, window};
use crate::Window;
use crate::state::{Act, Step};

pub(super) type Seen = Harness<'static, Window>;

/// Two visits to one coach, and another coach; with a job of the first visit alone, and one of the second alone.
pub(super) struct Made {
    _folder: tempfile::TempDir,
    pub files: TwoCoaches,
    pub first: PathBuf,
    pub later: PathBuf,
}

pub(super) static MADE: LazyLock<Made> = LazyLock::new(|| {
    let folder = tempfile::tempdir().unwrap();
    let files = Coach::new(21)
        .write_two_coaches(
            &Coach::second(22),
            Work::DRESSED,
            folder.path(),
            120_000,
            &record::Quiet,
        )
        .unwrap();
    let both = &files.first_job;
    let of_visit = |first: bool| {
        let mut job = both.clone();
        let visit = job.visits[usize::from(!first)].id.clone();
        job.visits.retain(|v| v.id == visit);
        job.scans.retain(|s| s.visit == visit);
        let scans: Vec<_> = job.scans.iter().map(|s| s.id.clone()).collect();
        job.openings.retain(|o| scans.contains(&o.scan));
        job.body_work.clear();
        if !first {
            job.compares.clear();
            job.choices.chosen.clear();
        }
        job
    };
    let [first, later] = ["first visit.ron", "later visit.ron"].map(|n| folder.path().join(n));
    formats::write_job(&of_visit(true), &first).unwrap();
    formats::write_job(&of_visit(false), &later).unwrap();
    Made {
        _folder: folder,
        files,
        first,
        later,
    }
});

/// A copy of the job of both visits.
pub fn worked_job(name: &str) -> PathBuf {
    copied(&MADE.files.first, name)
}

pub(super) fn on_page(job: &Path, name: &str) -> Seen {
    let mut harness = window([1280.0, 800.0]);
    harness.state_mut().open_job(&copied(job, name));
    settle(&mut harness);
    harness.key_press(Key::Num8);
    harness.run_steps(3);
    assert_eq!(harness.state().view().step, Step::Two);
    harness
}

/// Passes until what is looked at was worked out. The bound only ends a test that hangs.
pub fn settle_two(harness: &mut Seen) {
    harness.run_steps(2);
    settle(harness);
    let begun = Instant::now();
    while harness.state().editor().unwrap().two_is_coming() {
        assert!(begun.elapsed() < Duration::from_mins(5), "it never came");
        std::thread::sleep(Duration::from_millis(20));
        harness.step();
    }
    harness.run_steps(3);
}

pub(super) fn job(harness: &Seen) -> Arc<Job> {
    Arc::clone(harness.state().editor().unwrap().document().job())
}

fn found(harness: &Seen) -> TwoFound {
    let view = harness.state().view();
    let document = harness.state().editor().unwrap().document();
    let wanted = view
        .two
        .wanted(document.job())
        .expect("something is wanted");
    let (found, fresh) = document.two(&wanted).expect("something was found");
    assert!(fresh, "not that of the job as it is");
    found.clone()
}

fn work_found(harness: &Seen) -> Arc<WorkStudy> {
    match found(harness) {
        TwoFound::Visits(found) => found,
        TwoFound::Cars(_) => panic!("cars"),
    }
}

fn cars_found(harness: &Seen) -> Arc<CarsStudy> {
    match found(harness) {
        TwoFound::Cars(found) => found,
        TwoFound::Visits(_) => panic!("visits"),
    }
}

pub(super) fn click(harness: &mut Seen, role: Role, name: &str) {
    harness.get_by_role_and_label(role, name).click();
    harness.run_steps(4);
}

pub(super) fn says(harness: &Seen, what: &str) -> bool {
    harness.query_all_by_label_contains(what).next().is_some()
}

/// The job of the other one, by the button, its path typed.
pub(super) fn bring_in(harness: &mut Seen, button: &str, path: &Path) {
    click(harness, Role::Button, button);
    harness
        .get_by_role_and_label(Role::TextInput, "Path of the other job")
        .focus();
    harness.run_steps(2);
    harness.key_press_modifiers(Modifiers::COMMAND, Key::A);
    harness.event(egui::Event::Text(path.display().to_string()));
    harness.run_steps(2);
    harness.key_press(Key::Enter);
    harness.run_steps(4);
}

/// A verdict must agree with the truth: how much of what is allowed is used, without angles.
fn agrees(verdict: Verdict, truth: f64, who: &str) {
    match verdict {
        Verdict::Fits => assert!(truth <= 1.02, "{who} fits, in truth {truth}"),
        Verdict::WillNotFit => assert!(truth >= 0.95, "{who} will not fit, in truth {truth}"),
        _ => assert!(
            (0.5..1.6).contains(&truth),
            "{who} not proven, in truth {truth}"
        ),
    }
}

#[test]
fn two_visits_and_two_cars_go_through_the_window_and_agree_with_the_truth() {
    let made = &*MADE;
    let [before, after, another] = &made.files.truths;
    let mut harness = on_page(&made.first, "whole.ron");
    let began = job(&harness);
    assert!(says(&harness, "Was the side scanned again after the work?"));
    bring_in(&mut harness, "Bring in the other visit", &made.later);
    settle_two(&mut harness);
    // The scan of the same side is the one before, by itself.
    let now = job(&harness);
    assert_eq!(now.body_work.len(), 1);
    assert_eq!(now.body_work[0].before.0, "right");
    assert_eq!(now.visits.len(), 2);
    let work = work_found(&harness);
    let laid = work.works[0].laid.as_ref().expect("laid");
    assert_eq!(laid.areas.len(), 1);
    let area = &laid.areas[0];
    let near = |f: &record::Figure, truth: f64| {
        assert!((f.value - truth).abs() < 1.5 * f.u95, "{f:?}, {truth}");
    };
    near(&area.most, -1.493);
    near(&area.length, 80.0);
    // All of it is announced in words.
    let units = work.study.units;
    let short = report::body_work::area_short(area, units);
    assert!(says(&harness, &format!("Area 1: {short}")));
    assert!(says(&harness, "Lamp opening: reached by what moved"));
    assert!(says(&harness, "Cowl vent opening: not reached"));
    assert!(says(&harness, "drawn along it"));
    let answer = report::body_work::work_answer(&work, &work.works[0]);
    assert!(says(&harness, &answer.headline), "{}", answer.headline);
    let pairs = report::Pair::all(&work.study);
    for o in &work.works[0].openings {
        assert_eq!(o.touched, o.before.0.starts_with("lamp"), "{}", o.name);
        for id in &o.same {
            let pair = pairs.iter().find(|p| p.measured.id == *id).unwrap();
            let part = pair.part.unwrap();
            let truth = before.fit_in(&o.before, after, &o.before, part).unwrap();
            let option = pair.option(OptionKind::OneShape).unwrap();
            agrees(option.verdict, truth, &o.name);
        }
    }
    // The metal after, by key and by button.
    assert!(says(&harness, "Metal before. Area 1"));
    harness.key_press(Key::A);
    harness.run_steps(3);
    assert!(says(&harness, "Metal after. Area 1"));
    click(&mut harness, Role::RadioButton, "Metal before");
    assert!(says(&harness, "Metal before. Area 1"));

    // The other car.
    click(&mut harness, Role::RadioButton, "Car to car");
    assert!(says(&harness, "Bring in the job of the other car"));
    bring_in(&mut harness, "Bring in the other car", &made.files.second);
    settle_two(&mut harness);
    let cars = cars_found(&harness);
    assert_eq!(cars.cars, ["touring coach", "second coach"]);
    // Four parts on two sides in two openings each, and the grille.
    assert_eq!(cars.fits.len(), 17);
    let texts = report::cars::car_texts(&cars);
    assert!(says(&harness, &report::cars::tally(&texts)));
    let mut verdicts = std::collections::BTreeSet::new();
    for (fit, pair, text) in &texts {
        harness.get_by_role_and_label(Role::Button, &text.full());
        let plain = |id: &str| {
            let last = id.rsplit(": ").next().unwrap_or(id);
            record::OpeningId(last.replace("-worked", ""))
        };
        let (drawn, tried) = (plain(&fit.drawn.0), plain(&fit.tried.0));
        let option = pair.option(fit.kind()).unwrap();
        verdicts.insert(format!("{:?}", option.verdict));
        // The junction beside the lamp is not in the truth of edges and holes.
        let angle = option.worst.as_ref().map(|w| w.amount.quantity);
        if angle == Some(record::Quantity::Angle) {
            continue;
        }
        // The lamp of the right side was worked: its latest opening is the one drawn for.
        let of = if fit.drawn.0.contains("worked") {
            after
        } else {
            before
        };
        let truth = of.fit_in(&drawn, another, &tried, pair.part.unwrap());
        agrees(
            option.verdict,
            truth.unwrap(),
            &format!("{drawn} in {tried}"),
        );
    }
    assert!(verdicts.len() > 1, "{verdicts:?}");
    // A row is pressed, and what stands in the answer is of that part.
    let (fit, _, text) = texts.last().unwrap();
    // It stands below what is in sight: as a reader of the screen presses it.
    harness
        .get_by_role_and_label(Role::Button, &text.full())
        .click_accesskit();
    harness.run_steps(4);
    assert_eq!(harness.state().view().two.fit.as_ref(), Some(&fit.compare));
    assert!(says(&harness, "the difference ×1"));
    harness.key_press(Key::X);
    harness.run_steps(3);
    assert!(says(&harness, "the difference ×5"));
    // The arrows go through all of them.
    let seen: std::collections::BTreeSet<_> = (0..texts.len())
        .map(|_| {
            harness.key_press(Key::ArrowDown);
            harness.run_steps(2);
            harness.state().view().two.fit.clone()
        })
        .collect();
    assert_eq!(seen.len(), texts.len());
    // Until the list stands still.
    harness.run_steps(20);
    // The other way round.
    harness
        .get_by_role_and_label(Role::RadioButton, "Drawn for second coach")
        .click_accesskit();
    harness.run_steps(4);
    settle_two(&mut harness);
    assert_eq!(cars_found(&harness).cars, ["second coach", "touring coach"]);

    // The switch beside the plan: the pages show one car at a time.
    harness.key_press(Key::Num3);
    harness.run_steps(3);
    let of_second = |h: &Seen| {
        let shown = crate::shown::Shown {
            editor: h.state().editor().unwrap(),
            view: h.state().view(),
        };
        let pairs = shown.pairs();
        assert!(!pairs.is_empty());
        let second = |p: &report::Pair| p.measured.id.0.starts_with("second coach: ");
        pairs.iter().filter(|p| second(p)).count() * 10 / pairs.len()
    };
    assert_eq!(of_second(&harness), 0);
    click(&mut harness, Role::RadioButton, "second coach");
    assert_eq!(of_second(&harness), 10);
    harness.state_mut().ask(Act::NextCar);
    harness.run_steps(3);
    assert_eq!(of_second(&harness), 0);

    // Taken back by name, one step each.
    let undone = |h: &mut Seen| {
        h.state_mut().ask(Act::Undo);
        h.run_steps(3);
        h.state().view().said.clone().unwrap_or_default()
    };
    assert_eq!(
        undone(&mut harness),
        "undone: bring in the car second coach"
    );
    let name = undone(&mut harness);
    assert_eq!(name, "undone: bring in the visit second visit");
    assert_eq!(job(&harness), began);
}

#[test]
fn it_is_called_off_and_begun_again_and_what_is_undone_is_there_at_once() {
    let made = &*MADE;
    let mut harness = window([1280.0, 800.0]);
    let copy = copied(&made.files.first, "called-off.ron");
    harness.state_mut().open_job(&copy);
    settle(&mut harness);
    harness.state_mut().ask(Act::Go(Step::Two));
    harness.run_steps(2);
    assert!(harness.state().editor().unwrap().two_is_coming());
    harness.key_press(Key::Escape);
    harness.run_steps(3);
    settle_two(&mut harness);
    assert!(says(&harness, "Called off"));
    let document = harness.state().editor().unwrap().document();
    assert!(document.two(&Two::Visits).is_none());
    click(&mut harness, Role::Button, "Work it out");
    settle_two(&mut harness);
    assert!(!says(&harness, "Called off"));
    let first = work_found(&harness);
    assert_eq!(first.works.len(), 1);
    // Another share of what is allowed is another answer; taken back, the first is there without working it out.
    let part = job(&harness).choices.parts[0].id.clone();
    let gap = editor::PartChange::Gap(3.25);
    harness
        .state_mut()
        .ask(Act::Do(editor::Command::part(part, gap)));
    harness.run_steps(3);
    settle_two(&mut harness);
    assert!(!Arc::ptr_eq(&first, &work_found(&harness)));
    harness.state_mut().ask(Act::Undo);
    harness.run_steps(2);
    settle_two(&mut harness);
    assert!(
        Arc::ptr_eq(&first, &work_found(&harness)),
        "worked out again"
    );
    // Inches change what is shown, not what was found.
    harness.state_mut().ask(Act::OtherUnit);
    harness.run_steps(3);
    settle_two(&mut harness);
    let inches = work_found(&harness);
    assert_eq!(inches.study.units.length, record::LengthDisplay::Inch);
    let most = |w: &WorkStudy| w.works[0].laid.as_ref().unwrap().areas[0].most.value;
    assert_eq!(most(&inches).to_bits(), most(&first).to_bits());
}

#[test]
fn what_cannot_be_brought_in_is_said_and_changes_nothing() {
    let made = &*MADE;
    let mut harness = on_page(&made.first, "refused.ron");
    let before = job(&harness);
    let nowhere = made.first.with_file_name("nowhere.ron");
    harness.state_mut().ask(Act::BringInOther(nowhere));
    harness.run_steps(3);
    assert!(says(&harness, "nowhere.ron"));
    // The second coach is no later visit to the first.
    let other = made.files.second.clone();
    harness.state_mut().ask(Act::BringInOther(other));
    harness.run_steps(3);
    assert!(says(&harness, "Bring it in as the other car"));
    assert_eq!(job(&harness), before);
    let document = harness.state().editor().unwrap().document();
    assert_eq!(document.undo_names().count(), 0);
}

#[test]
fn two_scans_of_one_visit_are_put_together_and_the_later_one_gets_a_visit_of_its_own() {
    let made = &*MADE;
    let mut harness = on_page(&made.first, "together.ron");
    let scan = made.files.first_job.scans.last().unwrap().path.clone();
    let file = made.first.parent().unwrap().join(scan);
    harness.state_mut().ask(Act::BringIn(vec![file]));
    harness.run_steps(3);
    settle(&mut harness);
    harness.key_press(Key::Num8);
    harness.run_steps(3);
    assert_eq!(job(&harness).visits.len(), 1);
    click(&mut harness, Role::RadioButton, "Before: right");
    click(&mut harness, Role::RadioButton, "After: right-worked");
    click(&mut harness, Role::Button, "Hold them against each other");
    let now = job(&harness);
    assert_eq!(now.visits.len(), 2);
    let after = now.scans.iter().find(|s| s.id.0 == "right-worked").unwrap();
    assert_eq!(after.visit, now.visits[1].id);
    assert_eq!(now.body_work.len(), 1);
    settle_two(&mut harness);
    // No opening is picked in both and each has axes of its own: it is said that they could not be laid, and what to do.
    let work = work_found(&harness);
    assert!(work.works[0].laid.is_none());
    assert!(says(&harness, "could not be laid on"));
    click(&mut harness, Role::Button, "Take right side apart");
    assert!(job(&harness).body_work.is_empty());
}

#[test]
fn a_fault_while_two_visits_are_held_against_each_other_is_said_on_the_page() {
    use std::sync::atomic::{AtomicBool, Ordering};
    let made = &*MADE;
    let mut harness = window([1280.0, 800.0]);
    let copy = copied(&made.files.first, "fault.ron");
    harness.state_mut().open_job(&copy);
    settle(&mut harness);
    let before = job(&harness);
    // The next thread beside the window falls over as it asks to be heard.
    let armed = Arc::new(AtomicBool::new(true));
    let fault = Arc::clone(&armed);
    let own = std::thread::current().id();
    harness.ctx.set_request_repaint_callback(move |_| {
        let elsewhere = std::thread::current().id() != own;
        let falls = elsewhere && fault.swap(false, Ordering::SeqCst);
        assert!(!falls, "a made-up fault");
    });
    harness.key_press(Key::Num8);
    settle_two(&mut harness);
    assert!(!armed.load(Ordering::SeqCst), "nothing fell over");
    assert!(says(
        &harness,
        "A fault stopped this work: a made-up fault."
    ));
    assert!(says(&harness, "Have it worked out again on its page"));
    assert!(!says(&harness, "Called off"));
    assert_eq!(job(&harness), before);
    // As the page says.
    click(&mut harness, Role::Button, "Work it out");
    settle_two(&mut harness);
    assert!(work_found(&harness).works[0].laid.is_some());
    assert!(!says(&harness, "A fault stopped this work"));
    // On the page of what came in it stands until it is put away.
    harness.key_press(Key::Num1);
    harness.run_steps(3);
    assert!(says(&harness, "A fault stopped this work"));
    click(&mut harness, Role::Button, "Put this note away");
    assert!(!says(&harness, "A fault stopped this work"));
}
