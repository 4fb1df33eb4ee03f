//! The window: what happened is taken in first (`logic`), then everything is shown (`ui`), which only reads and asks.

mod by_hand;
mod change;
mod heard;
mod show;
mod two;
mod typed;

use std::path::{Path, PathBuf};
use std::time::Duration;

use editor::{Editor, Event, Settings};
use egui::Ui;
use record::{CompareId, LengthDisplay};
use report::theme::Ink;

use crate::lesson::Lesson;
use crate::look;
use crate::pages::by_hand::Entering;
use crate::preferences::Preferences;
use crate::printing::Printing;
use crate::scan_view::ScanView;
use crate::shown::Shown;
use crate::state::{Act, Panel, Step, ViewState};

/// How long a figure that changed stands underlined.
pub const UNDERLINED: Duration = Duration::from_secs(2);

/// The window.
pub struct Window {
    open: Option<Editor>,
    view: ViewState,
    preferences: Preferences,
    asks: Vec<Act>,
    books: [ScanView; 2],
    scan: ScanView,
    coach: Option<crate::coach::Making>,
    unsaved: PathBuf,
    /// What is being handed over.
    handed: Option<std::sync::Arc<record::Study>>,
    busy: Option<String>,
    printing: Printing,
    /// The job was changed, and the chances of it did not come yet.
    edited: bool,
    wake: egui::Context,
}

impl Window {
    /// A window in a context that was dressed before ([`look::dress`]).
    pub fn new(ctx: &egui::Context, preferences: Preferences) -> Self {
        ctx.set_theme(preferences.theme());
        ctx.set_zoom_factor(preferences.scale);
        Self {
            open: None,
            view: ViewState::default(),
            preferences,
            asks: Vec::new(),
            books: [ScanView::new(0), ScanView::new(1)],
            scan: ScanView::new(2),
            coach: None,
            unsaved: crate::preferences::data_folder().join("unsaved"),
            handed: None,
            busy: None,
            printing: Printing::of_this_computer(),
            edited: false,
            wake: ctx.clone(),
        }
    }

    /// The same with pages for paper going elsewhere.
    #[must_use]
    pub fn printing_by(mut self, printing: Printing) -> Self {
        self.printing = printing;
        self
    }

    /// The same with jobs that have no file yet kept elsewhere.
    #[must_use]
    pub fn keeping_unsaved_in(mut self, folder: PathBuf) -> Self {
        self.unsaved = folder;
        self
    }

    /// The open job, if there is one.
    pub fn editor(&self) -> Option<&Editor> {
        self.open.as_ref()
    }

    /// Where one is.
    pub fn view(&self) -> &ViewState {
        &self.view
    }

    /// From where the scan on the page of places is looked at, in pixels of its picture; `None` before it was drawn.
    pub fn scan_view(&self) -> Option<view3d::View> {
        self.scan.view()
    }

    /// Asks for something, as a page would.
    pub fn ask(&mut self, act: Act) {
        self.asks.push(act);
    }

    fn settings(&self) -> Settings {
        let ctx = self.wake.clone();
        Settings {
            unsaved_folder: Some(self.unsaved.clone()),
            wake: Box::new(move || ctx.request_repaint()),
            ..Settings::default()
        }
    }

    /// Opens a job file; what is wrong with it is said on the page.
    pub fn open_job(&mut self, path: &Path) {
        match Editor::open(path, self.settings()) {
            Ok(editor) => {
                self.preferences.opened(path);
                self.take(editor, Step::Compare);
            }
            Err(error) => {
                self.busy = Some(said(&error.to_string(), error.hint()));
            }
        }
    }

    fn take(&mut self, editor: Editor, step: Step) {
        let folder = editor
            .document()
            .path()
            .and_then(Path::parent)
            .map(|p| p.join("handed-over").display().to_string())
            .unwrap_or_default();
        self.open = Some(editor);
        self.busy = None;
        self.view = ViewState {
            step,
            ..ViewState::default()
        };
        self.view.hand_over.folder = folder;
    }

    fn bring_in(&mut self, files: Vec<PathBuf>) {
        if let [job] = files.as_slice()
            && is_job(job)
        {
            self.open_job(&job.clone());
            return;
        }
        if self.open.is_none() {
            let editor = Editor::new_job(self.settings());
            self.take(editor, Step::BringIn);
        }
        if let Some(editor) = &mut self.open {
            editor.bring_in(files);
            self.view.step = Step::BringIn;
        }
    }

    /// Takes in what happened and does what was asked for.
    pub fn advance(&mut self) {
        if let Some(made) = self.coach.as_mut().and_then(crate::coach::Making::made) {
            self.coach = None;
            match made {
                Ok(job) => {
                    self.open_job(&job);
                    self.begin_lesson();
                }
                Err(says) => self.busy = Some(says),
            }
        }
        if let Some(making) = &self.coach {
            self.busy = Some(making.says());
        }
        if let Some(editor) = &mut self.open {
            let events: Vec<Event> = editor.drain().collect();
            for event in events {
                self.heard(event);
            }
        }
        for act in std::mem::take(&mut self.asks) {
            self.act(act);
        }
        self.two_goes_on();
        self.lesson_goes_on();
    }

    /// Begins the sentences of the worked example in the job that is open.
    pub fn begin_lesson(&mut self) {
        if let Some(editor) = &self.open {
            let choices = &editor.document().job().choices;
            self.view.lesson = Some(Lesson::begin(&self.view, choices));
        }
    }

    fn lesson_goes_on(&mut self) {
        let (Some(lesson), Some(editor)) = (self.view.lesson.take(), &self.open) else {
            return;
        };
        self.view.lesson = lesson.go_on(&self.view, &editor.document().job().choices);
        if self.view.lesson.is_none() {
            self.view.said = Some("that was the whole job".to_owned());
        }
    }

    fn print(&mut self) {
        let Some(editor) = &self.open else { return };
        let document = editor.document();
        let shown = Shown {
            editor,
            view: &self.view,
        };
        self.view.said = Some(match shown.pair() {
            _ if !document.is_fresh() || !document.chances_are_drawn() => {
                "figures are being worked out: print when none is grey".to_owned()
            }
            Some(pair) => self.printing.print(&pair),
            None => "nothing to print: no pair is measured yet".to_owned(),
        });
    }

    fn act(&mut self, act: Act) {
        match act {
            Act::OpenJob(path) => self.open_job(&path),
            Act::OpenCoach => {
                if self.coach.is_none() {
                    self.coach = Some(crate::coach::Making::start(self.wake.clone()));
                }
            }
            Act::NewJob => {
                let editor = Editor::new_job(self.settings());
                self.take(editor, Step::BringIn);
            }
            Act::BringIn(files) => self.bring_in(files),
            Act::OtherTheme => {
                self.preferences.other_theme();
                self.wake.set_theme(self.preferences.theme());
            }
            Act::Larger(larger) => {
                self.preferences.resize(larger);
                self.wake.set_zoom_factor(self.preferences.scale);
            }
            Act::Copy(text) => {
                self.view.said = Some("copied".to_owned());
                self.wake.copy_text(text);
            }
            Act::Go(step) => self.go(step),
            Act::Pair(id) => {
                self.view.pair = Some(id);
                self.view.pointed = None;
                self.view.cutting.section = None;
                let stays = [Step::Compare, Step::Decide, Step::Sections];
                if !stays.contains(&self.view.step) {
                    self.view.step = Step::Compare;
                }
            }
            Act::NextPair(forward) => self.next_pair(forward),
            Act::Point(k) => self.view.pointed = k,
            Act::Panel(panel) => self.view.panel = panel,
            Act::Pages(pages) => self.view.pages = pages,
            Act::NextFactor => {
                self.view.factor = (self.view.factor + 1) % crate::state::FACTORS.len();
            }
            Act::Strip => self.view.strip = Some(!self.view.strip.unwrap_or(false)),
            Act::Typed(blank, Some(text)) => {
                self.view.typing.insert(blank, text);
            }
            Act::Typed(blank, None) => {
                self.view.typing.remove(&blank);
            }
            Act::Scan(scan) => {
                self.view.scan = Some(scan);
                self.view.entry = crate::pages::by_hand::Entry::default();
            }
            Act::OtherUnit | Act::OtherDecimal => self.show_numbers(&act),
            Act::AskPlace => self.ask_place(),
            Act::BeginByHand => self.begin_by_hand(),
            Act::Enter(Entering::Take(at, command, text)) => self.take_reading(at, &command, text),
            Act::Enter(how) => self.view.entry.go_on(how),
            Act::PrintFieldSheet => self.print_field_sheet(),
            Act::Naming(naming) => self.view.places = *naming,
            Act::Handing(handing) => self.view.hand_over = *handing,
            Act::Lining(lining) => self.view.line = *lining,
            Act::Cutting(cutting) => self.view.cutting = cutting,
            act @ (Act::Two(_)
            | Act::WantTwo
            | Act::CallOffTwo
            | Act::BringInOther(_)
            | Act::PutTogether
            | Act::Car(_)
            | Act::NextCar) => self.two(act),
            Act::TakePlace => self.take_place(),
            Act::TakeLength => self.take_length(),
            Act::TakeStart => self.take_start(),
            Act::PickPlace(scan, at) => {
                if let Some(editor) = &self.open {
                    let job = editor.document().job();
                    self.view.line.picked(job, &scan, &at);
                }
                self.take_place();
            }
            Act::Say(says) => self.view.said = Some(says),
            Act::GoTo(subject) => self.go_to(&subject),
            Act::Print => self.print(),
            Act::EndLesson => self.view.lesson = None,
            other => self.change(other),
        }
    }

    /// Numbers of the job are shown in the other way.
    fn show_numbers(&mut self, act: &Act) {
        let Some(editor) = &self.open else { return };
        let mut units = editor.document().job().units;
        if matches!(act, Act::OtherUnit) {
            units.length = match units.length {
                LengthDisplay::Millimetre => LengthDisplay::Inch,
                LengthDisplay::Inch => LengthDisplay::Millimetre,
            };
        } else {
            units.decimal_comma = !units.decimal_comma;
        }
        self.change(Act::Do(editor::Command::Show(units)));
    }

    fn ask_place(&mut self) {
        let Some(editor) = &self.open else { return };
        let shown = Shown {
            editor,
            view: &self.view,
        };
        let part = shown.pair().map(|p| p.measured.part.clone());
        self.view.panel = part.map(Panel::Place);
    }

    /// A name beside the first scan of the job; empty where there is none.
    fn beside_scans(&self, name: &str) -> String {
        let job = self.open.as_ref().map(|e| e.document().job());
        let folder = job.and_then(|j| j.scans.first()?.path.parent());
        folder.map_or_else(String::new, |f| f.join(name).display().to_string())
    }

    fn next_pair(&mut self, forward: bool) {
        let Some(editor) = &self.open else { return };
        let shown = Shown {
            editor,
            view: &self.view,
        };
        let ids: Vec<CompareId> = shown
            .pairs()
            .iter()
            .map(|p| p.measured.id.clone())
            .collect();
        let now = shown
            .pair()
            .and_then(|p| ids.iter().position(|i| *i == p.measured.id));
        let (Some(now), count) = (now, ids.len()) else {
            return;
        };
        let next = if forward { now + 1 } else { now + count - 1 } % count;
        self.view.pair = Some(ids[next].clone());
        self.view.pointed = None;
        self.view.cutting.section = None;
    }

    /// The place a doubt is about: its opening on the page of places.
    fn go_to(&mut self, subject: &str) {
        self.view.panel = None;
        let Some(editor) = &self.open else { return };
        let job = editor.document().job();
        let lower = subject.to_lowercase();
        let found = job.openings.iter().find(|o| {
            lower.contains(&o.id.0.to_lowercase()) || lower.contains(&o.name.to_lowercase())
        });
        if let Some(o) = found {
            self.view.scan = Some(o.scan.clone());
            self.view.places.opening = Some(o.id.clone());
            self.view.places.camera = None;
        }
        self.view.step = Step::Places;
    }
}

/// Whether a file is a job, by its name.
fn is_job(file: &Path) -> bool {
    file.extension()
        .is_some_and(|e| e.eq_ignore_ascii_case("ron"))
}

/// What is wrong and what to do, as two sentences.
fn said(says: &str, hint: &str) -> String {
    use report::words::{capital, full_stop};
    let both = format!(
        "{} {}",
        full_stop(&capital(says)),
        full_stop(&capital(hint))
    );
    both.trim().to_owned()
}

impl eframe::App for Window {
    fn logic(&mut self, _: &egui::Context, _: &mut eframe::Frame) {
        self.advance();
    }

    fn ui(&mut self, ui: &mut Ui, _: &mut eframe::Frame) {
        self.show(ui);
    }

    fn clear_color(&self, _: &egui::Visuals) -> [f32; 4] {
        let theme = look::theme_of(&self.wake);
        look::colour(theme, Ink::Margin).to_normalized_gamma_f32()
    }
}
