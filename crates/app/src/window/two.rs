//! What the page of two visits and two cars asks for, and the switch from car to car.

use std::path::Path;

use editor::Refused;

use super::Window;
use crate::pages::two::{Leaf, Looking};
use crate::shown::{Shown, cars_of};
use crate::state::{Act, Step};

impl Window {
    /// Does what was asked for there.
    pub(super) fn two(&mut self, act: Act) {
        match act {
            Act::Two(looking) => {
                let other = looking.leaf != self.view.two.leaf;
                self.view.two = *looking;
                if other {
                    self.want_two();
                }
            }
            Act::WantTwo => self.want_two(),
            Act::CallOffTwo => {
                if let Some(editor) = &mut self.open {
                    editor.call_off_two();
                    self.view.said = Some("called off".to_owned());
                }
            }
            Act::BringInOther(path) => self.bring_in_other(&path),
            Act::PutTogether => self.put_together(),
            Act::Car(name) => self.look_at_car(name),
            Act::NextCar => self.next_car(),
            _ => {}
        }
    }

    /// Another page. Sections are cut, and the two held against each other, only while they are looked at.
    pub(super) fn go(&mut self, step: Step) {
        let looked = self.view.step;
        self.view.step = step;
        let Some(editor) = self.open.as_mut().filter(|_| step != looked) else {
            return;
        };
        if (looked == Step::Sections) != (step == Step::Sections) {
            editor.want_sections(step == Step::Sections);
        }
        if looked == Step::Two {
            editor.want_two(None);
        }
    }

    fn want_two(&mut self) {
        if let Some(editor) = &mut self.open {
            let wanted = self.view.two.wanted(editor.document().job());
            editor.want_two(wanted);
        }
    }

    /// While the page is looked at, what it shows is wanted: also when the job has just become one of two cars.
    pub(super) fn two_goes_on(&mut self) {
        let Some(editor) = self.open.as_mut().filter(|_| self.view.step == Step::Two) else {
            return;
        };
        let wanted = self.view.two.wanted(editor.document().job());
        if !editor.two_is_called_off() && editor.wanted_two() != wanted.as_ref() {
            editor.want_two(wanted);
        }
    }

    fn bring_in_other(&mut self, path: &Path) {
        let Some(editor) = &mut self.open else { return };
        let leaf = self.view.two.leaf;
        let brought = match leaf {
            Leaf::Visits => editor.bring_in_visit(path),
            Leaf::Cars => editor.bring_in_car(path),
        };
        let said = brought.map(|brought| {
            let said = match (leaf, brought.together) {
                (Leaf::Cars, _) => format!("the car {} is here, too", brought.called),
                (_, 0) => "brought in; say which scans are before and after".to_owned(),
                (_, 1) => "1 side is there before and after".to_owned(),
                (_, n) => format!("{n} sides are there before and after"),
            };
            self.view.two.brought = Some(brought);
            said
        });
        self.was(said);
    }

    fn put_together(&mut self) {
        let Some(editor) = &mut self.open else { return };
        let Looking {
            before_scan: Some(before),
            after_scan: Some(after),
            ..
        } = &self.view.two
        else {
            return;
        };
        let done = editor.put_together(before, after);
        self.was(done.map(|()| format!("{before} before, {after} after")));
    }

    /// Says what came of it.
    fn was(&mut self, done: Result<String, Refused>) {
        let looking = &mut self.view.two;
        match done {
            Ok(said) => {
                self.edited = true;
                looking.refused = None;
                looking.before_scan = None;
                looking.after_scan = None;
                self.view.said = Some(said);
            }
            Err(refused) => {
                looking.brought = None;
                looking.refused = Some([refused.says(), refused.hint().to_owned()]);
            }
        }
    }

    /// The pages show the openings of another car.
    fn look_at_car(&mut self, name: String) {
        let Some(editor) = &self.open else { return };
        let job = editor.document().job();
        let of_car = |s: &&record::ScanRef| {
            let visit = job.visits.iter().find(|v| v.id == s.visit);
            visit.is_some_and(|v| v.car == name)
        };
        self.view.scan = job.scans.iter().find(of_car).map(|s| s.id.clone());
        self.view.places.opening = None;
        self.view.places.camera = None;
        self.view.pair = None;
        self.view.pointed = None;
        self.view.cutting.section = None;
        self.view.said = Some(format!("the pages show {name}"));
        self.view.car = Some(name);
    }

    fn next_car(&mut self) {
        let Some(editor) = &self.open else { return };
        let shown = Shown {
            editor,
            view: &self.view,
        };
        let all = cars_of(editor.document().job());
        let Some(now) = shown.car().and_then(|c| all.iter().position(|a| *a == c)) else {
            self.view.said = Some("the job is of one car".to_owned());
            return;
        };
        let next = all[(now + 1) % all.len()].to_owned();
        self.look_at_car(next);
    }
}
