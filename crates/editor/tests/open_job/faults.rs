//! A fault in the midst of work beside the window becomes a notice, and the job lives on.

use std::collections::HashSet;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex};
use std::thread::ThreadId;

use demo::{Coach, Work};
use editor::{Command, Editor, Event, Lane, PartChange, Settings, Two, TwoFound};

use crate::stand::{Stand, settings, settle, stand, until};

const FAULT: &str = "a made-up fault in the midst of the work";

/// Makes a lane that was never asked before fall over as it tells how far it is: in the next thread that has told nothing so
/// far, or in one of those that share the work, which fall over for it.
#[derive(Clone, Default)]
struct Fault {
    armed: Arc<AtomicBool>,
    told: Arc<Mutex<HashSet<ThreadId>>>,
}

impl Fault {
    fn settings(&self) -> Settings {
        let this = self.clone();
        let wake = move || {
            let new = this
                .told
                .lock()
                .unwrap()
                .insert(std::thread::current().id());
            // A thread that never told before is the lane's own; helpers that share its work told of other lanes too.
            let at_work = new || rayon::current_thread_index().is_some();
            assert!(
                !(at_work && this.armed.swap(false, Ordering::SeqCst)),
                "{FAULT}"
            );
        };
        Settings {
            wake: Box::new(wake),
            ..settings()
        }
    }
}

fn two_visits() -> Stand {
    let folder = tempfile::tempdir().unwrap();
    let files = Coach::new(21)
        .write_two_coaches(
            &Coach::second(22),
            Work::DRESSED,
            folder.path(),
            60_000,
            &record::Quiet,
        )
        .unwrap();
    Stand {
        folder,
        job: files.first,
    }
}

/// Lets a lane fall over on what `ask` asks for, and holds what was said of it and what is left against what was there.
fn falls_over(stand: &Stand, lane: Lane, ask: &dyn Fn(&mut Editor)) -> Editor {
    let fault = Fault::default();
    let mut editor = Editor::open(&stand.job, fault.settings()).unwrap();
    settle(&mut editor);
    let before = Arc::clone(editor.document().job());
    fault.armed.store(true, Ordering::SeqCst);
    ask(&mut editor);
    let told = until(&mut editor, |_, e| *e == Event::Rests(lane));
    assert!(!fault.armed.load(Ordering::SeqCst), "nothing fell over");
    let notice = told.iter().find_map(|e| match e {
        Event::Notice(notice) => Some(notice),
        _ => None,
    });
    let notice = notice.expect("it is said");
    assert_eq!(notice.lane, lane);
    assert!(notice.says.contains(FAULT), "{}", notice.says);
    assert!(
        notice.advice.contains("The job is as it was"),
        "{}",
        notice.advice
    );
    assert_eq!(editor.document().notices(), std::slice::from_ref(notice));
    assert!(editor.document().work().all(|w| w.lane != lane));
    // The job is as it was, and goes on: a step is taken, answered and taken back.
    assert_eq!(*editor.document().job(), before);
    let part = before.choices.parts[0].id.clone();
    let wide = Command::part(part, PartChange::Wide(0.7));
    editor.apply(&wide).unwrap();
    settle(&mut editor);
    editor.undo().unwrap();
    settle(&mut editor);
    assert_eq!(*editor.document().job(), before);
    editor
}

#[test]
fn a_fault_while_two_visits_are_held_against_each_other_is_said_and_the_job_lives_on() {
    let stand = two_visits();
    let ask = |e: &mut Editor| e.want_two(Some(Two::Visits));
    let mut editor = falls_over(&stand, Lane::Two, &ask);
    // It is not tried again and again by itself.
    assert!(editor.two_is_called_off() && !editor.two_is_coming());
    assert_eq!(editor.wanted_two(), None);
    assert!(editor.document().two(&Two::Visits).is_none());
    // Asked for again, it comes.
    ask(&mut editor);
    until(&mut editor, |_, e| *e == Event::Two);
    let (found, fresh) = editor.document().two(&Two::Visits).unwrap();
    let TwoFound::Visits(found) = found else {
        panic!("cars")
    };
    assert!(fresh && found.works[0].laid.is_some());
    assert!(!editor.two_is_called_off());
    // Who looks at nothing any more while it is worked out anew has it called off, and can have it again.
    editor.want_two(None);
    let part = editor.document().job().choices.parts[0].id.clone();
    let wider = Command::part(part, PartChange::Wide(0.71));
    editor.apply(&wider).unwrap();
    settle(&mut editor);
    ask(&mut editor);
    assert!(editor.two_is_coming());
    editor.want_two(None);
    assert!(!editor.two_is_coming() && !editor.two_is_called_off());
    ask(&mut editor);
    until(&mut editor, |_, e| *e == Event::Two);
    assert!(editor.document().two(&Two::Visits).is_some_and(|t| t.1));
}

#[test]
fn a_fault_while_sections_are_cut_is_said_and_the_job_lives_on() {
    // So many sections that it takes longer than the tenth of a second after which a lane tells how far it is.
    let stand = stand();
    let mut job = formats::read_job(&stand.job).unwrap();
    job.sections = record::SectionPlan {
        width_mm: 80.0,
        step_mm: 1.0,
        every_mm: 1.0,
    };
    formats::write_job(&job, &stand.job).unwrap();
    let ask = |e: &mut Editor| e.want_sections(true);
    let mut editor = falls_over(&stand, Lane::Sections, &ask);
    assert!(!editor.sections_are_coming());
    ask(&mut editor);
    until(&mut editor, |_, e| *e == Event::Sections);
    assert!(editor.document().sections().is_some());
}
