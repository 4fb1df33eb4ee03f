//! The whole job from the empty sheet to written files: once by the pointer alone, once by keys alone.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::{Duration, Instant};

use egui::{Key, Modifiers, Role, vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};
use geom::Point;
use record::{Opening, Side};

use super::{COACH, settle};
use crate::state::{Panel, Step};
use crate::{Preferences, Window, look};

/// What stands in the header, which does not scroll.
const HEADER: [&str; 3] = ["Save", "Compare", "Hand over"];

/// A file let go of over the window.
#[derive(Debug)]
struct Dropped(PathBuf);

impl egui::DroppedFile for Dropped {
    fn path(&self) -> &Path {
        &self.0
    }

    fn bytes(&self) -> Result<Vec<u8>, String> {
        std::fs::read(&self.0).map_err(|e| e.to_string())
    }
}

/// Someone at the window, who sees what is announced and has a pointer or keys.
pub(super) struct Person {
    pub(super) window: Harness<'static, Window>,
    pub(super) folder: tempfile::TempDir,
}

impl Person {
    /// Before the empty sheet; two scans of the coach lie in a folder of their own.
    pub(super) fn arrives() -> Self {
        let folder = tempfile::tempdir().unwrap();
        for scan in ["left.ply", "right.stl"] {
            let from = COACH.1.with_file_name(scan);
            std::fs::copy(from, folder.path().join(scan)).unwrap();
        }
        let unsaved = folder.path().join("unsaved");
        let printed = folder.path().join("printed");
        let mut window = Harness::builder()
            .with_size(vec2(1280.0, 800.0))
            .with_max_steps(40)
            .build_eframe(|cc| {
                look::dress(&cc.egui_ctx);
                // Nothing on this computer shows the pages.
                let printing = crate::Printing::new(printed, Box::new(|_| Ok(())));
                Window::new(&cc.egui_ctx, Preferences::default())
                    .keeping_unsaved_in(unsaved)
                    .printing_by(printing)
            });
        window.run_steps(2);
        Self { window, folder }
    }

    pub(super) fn job(&self) -> Arc<record::Job> {
        Arc::clone(self.window.state().editor().unwrap().document().job())
    }

    /// Passes until something holds. The bound only ends a test that hangs.
    pub(super) fn until(&mut self, what: &str, holds: impl Fn(&Window) -> bool) {
        let begun = Instant::now();
        while !holds(self.window.state()) {
            self.window.step();
            let said = self.window.state().view().said.clone();
            assert!(begun.elapsed() < Duration::from_mins(2), "{what}: {said:?}");
            std::thread::sleep(Duration::from_millis(10));
        }
        self.window.run_steps(3);
    }

    fn until_read(&mut self, scans: usize) {
        self.until("scans are read", |w| {
            w.editor().is_some_and(|e| {
                let d = e.document();
                d.job().scans.len() == scans && d.scans().len() == scans && d.incoming().is_empty()
            })
        });
    }

    /// Presses what has a role and a name, with the pointer where it is shown. What lies outside the window is scrolled to.
    pub(super) fn press(&mut self, role: Role, name: &str) {
        let all = self.window.query_all_by_role(role);
        let known: Vec<_> = all.filter_map(|n| n.accesskit_node().label()).collect();
        assert!(known.iter().any(|k| k == name), "{name}: only {known:?}");
        let middle = |p: &Self| p.window.get_by_role_and_label(role, name).rect().center();
        for _ in 0..60 {
            let at = middle(self);
            // The header and the foot of the window do not scroll.
            if (110.0..700.0).contains(&at.y)
                || at.y < 78.0 && HEADER.contains(&name)
                || at.y > 740.0 && role == Role::RadioButton
            {
                break;
            }
            let down = if at.y < 110.0 { 60.0 } else { -60.0 };
            self.window.hover_at(egui::pos2(at.x, 500.0));
            self.window.event(egui::Event::MouseWheel {
                unit: egui::MouseWheelUnit::Point,
                delta: vec2(0.0, down),
                modifiers: Modifiers::NONE,
                phase: egui::TouchPhase::Move,
                source: egui::MouseWheelSource::Wheel,
            });
            self.window.run_steps(12);
        }
        let at = middle(self);
        self.click(at);
    }

    fn click(&mut self, at: egui::Pos2) {
        self.window.hover_at(at);
        self.window.run_steps(1);
        self.window.drag_at(at);
        self.window.run_steps(1);
        self.window.drop_at(at);
        self.window.run_steps(4);
    }

    /// Tab until what has a role and a name has the keyboard.
    pub(super) fn tab_to(&mut self, role: Role, name: &str) {
        for _ in 0..160 {
            let there = self
                .window
                .query_all_by_role(role)
                .any(|n| n.is_focused() && n.accesskit_node().label().as_deref() == Some(name));
            if there {
                return;
            }
            self.key(Key::Tab);
        }
        panic!("{name} is not reached by Tab");
    }

    pub(super) fn key(&mut self, key: Key) {
        self.window.key_press(key);
        self.window.run_steps(2);
    }

    pub(super) fn control(&mut self, key: Key) {
        self.window.key_press_modifiers(Modifiers::COMMAND, key);
        self.window.run_steps(3);
    }

    pub(super) fn types(&mut self, text: &str) {
        self.window.event(egui::Event::Text(text.to_owned()));
        self.window.run_steps(3);
    }

    /// Where a place of the scan is seen in the window.
    fn seen(&self, place: &Point) -> egui::Pos2 {
        let mut images = self.window.get_all_by_role(Role::Image);
        let image = images
            .find(|n| {
                n.accesskit_node()
                    .label()
                    .is_some_and(|l| l.starts_with("Scan "))
            })
            .unwrap();
        let view = self.window.state().scan_view().unwrap();
        let seen = view.project(place).unwrap();
        image.rect().min + vec2(seen.x as f32, seen.y as f32)
    }

    /// What is found at a place is shown, waiting to be kept.
    fn until_found(&mut self) {
        let view = self.window.state().view();
        assert_eq!(view.places.says, None);
        self.until("something is found there", |w| {
            w.view().places.found.is_some()
        });
        let found = &self.window.state().view().places.found;
        assert!(found.as_ref().unwrap().found.is_ok(), "{found:?}");
    }

    /// The end of the job: a part of every kind of file the shops take lies in the folder.
    pub(super) fn until_written(&mut self, folder: &Path) {
        self.until("files are written", |w| w.view().hand_over.last.is_some());
        let says = self.window.state().view().hand_over.says.clone();
        for ending in ["dxf", "step", "csv", "json", "svg", "pdf"] {
            assert!(count(folder, ending) > 0, "no {ending}: {says:?}");
        }
    }
}

pub(super) fn count(folder: &Path, ending: &str) -> usize {
    let entries = std::fs::read_dir(folder).unwrap();
    entries
        .map(|e| e.unwrap().path())
        .map(|p| {
            if p.is_dir() {
                count(&p, ending)
            } else {
                usize::from(p.extension().is_some_and(|e| e == ending))
            }
        })
        .sum()
}

/// Proposed openings of a side, in the order of the list.
fn proposed(p: &Person) -> Vec<Opening> {
    let job = p.job();
    let openings = job.openings.iter().filter(|o| o.sureness.is_some());
    openings.cloned().collect()
}

fn label(o: &Opening) -> String {
    let side = report::words::side(o.side);
    let state = o.sureness.map_or_else(
        || side.to_owned(),
        |s| format!("{side}, proposed, {:.0} % sure", 100.0 * s),
    );
    format!("{}, {state}", o.name)
}

/// The side a scan was said to show.
fn side_of(p: &Person, scan: &str) -> Side {
    let job = p.job();
    job.scans.iter().find(|s| s.id.0 == scan).unwrap().side
}

#[test]
fn the_whole_job_from_the_empty_sheet_with_the_pointer() {
    let mut p = Person::arrives();
    // Both scans dropped at once.
    for scan in ["left.ply", "right.stl"] {
        let file = Dropped(p.folder.path().join(scan));
        p.window.input_mut().dropped_files.push(Arc::new(file));
    }
    p.window.run_steps(2);
    p.until_read(2);
    for (scan, side) in [("left", "Left"), ("right", "Right")] {
        p.press(Role::Button, &format!("Scan {scan}"));
        // The left file states its unit; of the right one it is asked.
        if scan == "right" {
            p.press(Role::Button, "Yes, it is in millimetres");
        }
        p.press(Role::RadioButton, side);
    }
    assert_eq!(side_of(&p, "left"), Side::Left);
    assert_eq!(side_of(&p, "right"), Side::Right);
    settle(&mut p.window);
    // Places: proposals are looked at one by one and kept, all but one pair.
    p.press(Role::Button, "Find the openings in all scans");
    p.until("openings are proposed", |w| w.view().step == Step::Places);
    let all = proposed(&p);
    let pair = p
        .job()
        .compares
        .iter()
        .find(|c| c.b.is_some())
        .cloned()
        .unwrap();
    let by_hand = [pair.a.clone(), pair.b.clone().unwrap()];
    for o in all.iter().filter(|o| !by_hand.contains(&o.id)) {
        p.press(Role::Button, &label(o));
        p.press(Role::Button, "Keep it");
    }
    assert_eq!(proposed(&p).len(), 2);
    // The pair is named by hand instead: the edge clicked, its top, a face; then the two are compared.
    let mut named = Vec::new();
    for id in &by_hand {
        let was = all.iter().find(|o| o.id == *id).unwrap();
        p.press(Role::Button, &label(was));
        // The picture turns to it once it is measured.
        settle(&mut p.window);
        // A little to one side and back: the picture stays when the proposal goes.
        let middle = p.seen(&was.edge.as_ref().unwrap().near);
        drag(&mut p, middle, vec2(9.0, 0.0));
        p.press(Role::Button, "Skip it");
        p.press(Role::RadioButton, "Opening edge");
        let edge = p.seen(&was.edge.as_ref().unwrap().near);
        p.click(edge);
        p.until_found();
        p.press(Role::Button, "Keep this edge");
        // The tool goes on to the top, then to faces.
        let top = p.seen(&was.top.unwrap());
        p.click(top);
        let own = p.job().openings.last().unwrap().clone();
        assert!(own.edge.is_some() && own.top.is_some(), "{own:?}");
        assert_eq!(own.scan, was.scan);
        assert_eq!(own.side, was.side);
        let face = p.seen(&was.faces.first().unwrap().near);
        p.click(face);
        p.until_found();
        p.press(Role::Button, "Keep this face");
        let own = p.job().openings.last().unwrap().clone();
        assert_eq!(own.faces.len(), 1);
        named.push(own);
    }
    let [left, right] = &named[..] else { panic!() };
    p.press(Role::Button, &label(right));
    let says = format!(
        "Compare with {}, {}",
        left.name,
        report::words::side(left.side)
    );
    p.press(Role::Button, &says);
    settle(&mut p.window);
    // The answer.
    p.press(Role::Tab, "Compare");
    let by_hand = p.job().compares.last().unwrap().clone();
    assert_eq!(
        [&by_hand.a, by_hand.b.as_ref().unwrap()],
        [&left.id, &right.id]
    );
    let study = Arc::clone(p.window.state().editor().unwrap().document().study());
    let pairs = report::Pair::all(&study);
    let pair = pairs.iter().find(|q| q.measured.id == by_hand.id).unwrap();
    let text = report::pair_text(pair);
    let verdict = report::words::verdict(text.verdict).to_lowercase();
    p.press(Role::Button, &format!("{}: {verdict}", pair.title()));
    assert!(
        p.window
            .query_all_by_label_contains(&text.headline)
            .next()
            .is_some()
    );
    // A choice, and the reason left empty.
    let doubts: Vec<_> = report::sheet::doubts(pair);
    assert!(!pair.options().is_empty(), "{text:?} {doubts:#?}");
    let choice = report::sheet::choice_says(pair, pair.options()[0].kind);
    p.press(Role::Button, &choice);
    p.press(Role::Button, "Choose it");
    assert_eq!(p.job().choices.chosen.len(), 1);
    settle(&mut p.window);
    // Saved beside the scans, and handed over.
    p.press(Role::Button, "Save");
    p.press(Role::Button, "Take this one");
    assert!(p.folder.path().join("job.ron").is_file());
    p.press(Role::Tab, "Hand over");
    p.press(Role::Button, "Write the files");
    let folder = p.folder.path().join("handed-over");
    p.until_written(&folder);
}

fn drag(p: &mut Person, at: egui::Pos2, by: egui::Vec2) {
    p.window.hover_at(at);
    p.window.run_steps(1);
    p.window.drag_at(at);
    p.window.run_steps(1);
    p.window.hover_at(at + by);
    p.window.run_steps(1);
    p.window.drop_at(at + by);
    p.window.run_steps(3);
}

#[test]
fn the_whole_job_from_the_empty_sheet_with_the_keyboard() {
    let mut p = Person::arrives();
    for (count, scan) in [(1, "left.ply"), (2, "right.stl")] {
        // The empty sheet takes Enter; later Ctrl O does the same.
        if count == 1 {
            p.key(Key::Enter);
        } else {
            p.control(Key::O);
        }
        assert!(matches!(
            p.window.state().view().panel,
            Some(Panel::OpenFile(_))
        ));
        let path = p.folder.path().join(scan);
        p.types(&path.display().to_string());
        p.key(Key::Enter);
        p.until_read(count);
    }
    for (scan, side) in [("left", "Left"), ("right", "Right")] {
        p.tab_to(Role::Button, &format!("Scan {scan}"));
        p.key(Key::Enter);
        if scan == "right" {
            p.tab_to(Role::Button, "Yes, it is in millimetres");
            p.key(Key::Enter);
        }
        p.tab_to(Role::RadioButton, side);
        p.key(Key::Space);
    }
    assert_eq!(side_of(&p, "right"), Side::Right);
    settle(&mut p.window);
    p.tab_to(Role::Button, "Find the openings in all scans");
    p.key(Key::Enter);
    p.until("openings are proposed", |w| w.view().step == Step::Places);
    // While the picture has the keyboard Tab takes the next proposal, and Shift-Tab leaves it.
    p.key(Key::P);
    let mut seen = Vec::new();
    for _ in 0..3 {
        p.key(Key::Tab);
        seen.extend(p.window.state().view().places.opening.clone());
        assert!(picture_has_keyboard(&p));
    }
    assert!(seen.len() == 3 && seen[0] != seen[1] && seen[1] != seen[2]);
    p.window.key_press_modifiers(Modifiers::SHIFT, Key::Tab);
    p.window.run_steps(2);
    assert!(!picture_has_keyboard(&p));
    p.key(Key::P);
    // Enter keeps, N goes on. One pair is skipped and named by hand.
    let all = proposed(&p);
    let pair = p
        .job()
        .compares
        .iter()
        .find(|c| c.b.is_some())
        .cloned()
        .unwrap();
    let by_hand = [pair.a.clone(), pair.b.clone().unwrap()];
    for _ in 0..all.len() {
        p.key(Key::N);
        let now = p.window.state().view().places.opening.clone().unwrap();
        if !by_hand.contains(&now) {
            p.key(Key::Enter);
        }
    }
    assert_eq!(proposed(&p).len(), 2);
    let mut named = Vec::new();
    for _ in 0..2 {
        p.key(Key::N);
        let now = p.window.state().view().places.opening.clone().unwrap();
        let was = all.iter().find(|o| o.id == now).unwrap();
        p.key(Key::P);
        // The picture turns to it once it is measured.
        settle(&mut p.window);
        // A step aside: the picture stays when the proposal goes.
        p.key(Key::ArrowLeft);
        p.key(Key::Escape);
        assert!(p.job().openings.iter().all(|o| o.id != now), "skipped");
        p.key(Key::E);
        aim(&mut p, &was.edge.as_ref().unwrap().near);
        p.key(Key::Space);
        p.until_found();
        p.key(Key::Enter);
        aim(&mut p, &was.top.unwrap());
        p.key(Key::Space);
        aim(&mut p, &was.faces.first().unwrap().near);
        p.key(Key::Space);
        p.until_found();
        p.key(Key::Enter);
        let own = p.job().openings.last().unwrap().clone();
        assert!(own.edge.is_some() && own.top.is_some(), "{own:?}");
        assert_eq!((own.side, own.faces.len()), (was.side, 1));
        named.push(own);
    }
    let [one, other] = &named[..] else { panic!() };
    // The one named last lies unfolded.
    let says = format!(
        "Compare with {}, {}",
        one.name,
        report::words::side(one.side)
    );
    p.tab_to(Role::Button, &says);
    p.key(Key::Enter);
    settle(&mut p.window);
    let compare = p.job().compares.last().unwrap().clone();
    let both = [&compare.a, compare.b.as_ref().unwrap()];
    assert!(both.contains(&&one.id) && both.contains(&&other.id));
    p.key(Key::Num3);
    let id = compare.id.clone();
    for _ in 0..20 {
        if p.window.state().view().pair.as_ref() == Some(&id) {
            break;
        }
        p.key(Key::PageDown);
    }
    let study = Arc::clone(p.window.state().editor().unwrap().document().study());
    let pairs = report::Pair::all(&study);
    let pair = pairs.iter().find(|q| q.measured.id == id).unwrap();
    let headline = report::pair_text(pair).headline;
    assert!(
        p.window
            .query_all_by_label_contains(&headline)
            .next()
            .is_some()
    );
    p.tab_to(
        Role::Button,
        &report::sheet::choice_says(pair, pair.options()[0].kind),
    );
    p.key(Key::Enter);
    p.window.run_steps(3);
    p.types("agreed by telephone");
    p.key(Key::Enter);
    let chosen = p.job().choices.chosen.clone();
    assert_eq!(chosen.len(), 1);
    assert_eq!(chosen[0].2, "agreed by telephone");
    settle(&mut p.window);
    p.control(Key::S);
    p.key(Key::Enter);
    assert!(p.folder.path().join("job.ron").is_file());
    p.key(Key::Num5);
    p.control(Key::Enter);
    let folder = p.folder.path().join("handed-over");
    p.until_written(&folder);
}

fn picture_has_keyboard(p: &Person) -> bool {
    let mut images = p.window.query_all_by_role(Role::Image);
    images.any(|n| n.is_focused())
}

/// Moves the picture with the arrows until its middle, which Space takes, lies on a place; Ctrl and an arrow bring it
/// nearer where even the small step with Alt is too wide.
fn aim(p: &mut Person, place: &Point) {
    for _ in 0..400 {
        let mut images = p.window.get_all_by_role(Role::Image);
        let image = images
            .find(|n| {
                n.accesskit_node()
                    .label()
                    .is_some_and(|l| l.starts_with("Scan "))
            })
            .unwrap();
        assert!(image.is_focused(), "the picture has the keyboard");
        let off = p.seen(place) - image.rect().center();
        drop(images);
        if off.x.abs() <= 1.5 && off.y.abs() <= 1.5 {
            return;
        }
        let key = if off.x.abs() > off.y.abs() {
            if off.x < 0.0 {
                Key::ArrowLeft
            } else {
                Key::ArrowRight
            }
        } else if off.y < 0.0 {
            Key::ArrowUp
        } else {
            Key::ArrowDown
        };
        let fine = off.x.abs().max(off.y.abs()) < 16.0;
        let modifiers = if fine {
            Modifiers::ALT
        } else {
            Modifiers::NONE
        };
        p.window.key_press_modifiers(modifiers, key);
        p.window.run_steps(1);
    }
    panic!("the arrows do not bring the place to the middle");
}
