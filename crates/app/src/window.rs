//! The window: what happened is taken in first (`logic`), then everything is shown (`ui`), which only reads and asks.

mod by_hand;
mod two;
mod typed;

use std::path::{Path, PathBuf};
use std::time::Duration;

use editor::{Editor, Event, Refused, Settings};
use egui::{Key, Ui};
use record::{CompareId, LengthDisplay};
use report::theme::Ink;

use crate::around::{block, plan};
use crate::fields::{Fields, paint_border, paint_edge};
use crate::lesson::Lesson;
use crate::page_keys::{book_keys, copy_keys, start_key};
use crate::pages;
use crate::pages::by_hand::Entering;
use crate::preferences::Preferences;
use crate::printing::Printing;
use crate::scan_view::ScanView;
use crate::shown::Shown;
use crate::state::{Act, Panel, Step, ViewState};
use crate::{keys, look, panels};

/// How long a figure that changed stands underlined.
pub const UNDERLINED: Duration = Duration::from_secs(2);

/// The least room in which nothing runs into anything else.
const LEAST: egui::Vec2 = egui::vec2(960.0, 640.0);

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

    /// Takes down which shares an edit made other ones: they stand underlined for a while.
    fn shares_came(&mut self) {
        let Some(editor) = &self.open else { return };
        let now = self.wake.input(|i| i.time);
        for pair in report::Pair::all(editor.document().study()) {
            for option in pair.options() {
                let key = (pair.measured.id.clone(), option.kind);
                let text = report::sheet::uses_text(&pair, option);
                let held = self.view.uses.get(&key);
                if held.is_none_or(|(before, _)| *before != text) {
                    let since = held.filter(|_| self.edited).map(|_| now);
                    self.view.uses.insert(key, (text, since));
                }
            }
        }
        self.wake.request_repaint_after(UNDERLINED);
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

    fn heard(&mut self, event: Event) {
        match event {
            Event::Probed(answer) => {
                self.view.places.looking = false;
                self.view.places.says = None;
                self.view.places.found = Some((*answer).clone());
            }
            Event::HandedOver(done) => {
                let handing = &mut self.view.hand_over;
                handing.writing = false;
                let study = self.handed.take();
                let (papers, lost) = study.map_or_else(Default::default, |study| {
                    crate::printing::papers(&done, &study)
                });
                handing.last = Some(done.written.len() + papers);
                handing.says = vec![format!(
                    "{} files written to {} and read back, and {papers} pictures and pages.",
                    done.written.len(),
                    done.folder.display()
                )];
                handing.says.extend(lost);
                handing.changed = crate::pages::hand_over::changed(&done);
                handing.says.extend(
                    done.refused
                        .iter()
                        .map(|(name, why)| format!("Not written: {name}: {why}.")),
                );
            }
            Event::Proposed { openings } => {
                self.view.said = Some(match openings {
                    0 => "no opening was found".to_owned(),
                    1 => "1 opening is proposed".to_owned(),
                    n => format!("{n} openings are proposed"),
                });
                if openings > 0 {
                    self.view.step = Step::Places;
                    self.view.scan = None;
                }
            }
            Event::Study { chances } => {
                self.shares_came();
                self.edited &= !chances;
            }
            Event::Notice(notice) => self.view.said = Some(without_folders(&notice.says)),
            Event::BroughtIn(scan) => {
                self.view.scan = Some(scan);
                if self.view.hand_over.folder.is_empty() {
                    self.view.hand_over.folder = self.beside_scans("handed-over");
                }
            }
            Event::Rests(editor::Lane::HandOver) => self.view.hand_over.writing = false,
            _ => {}
        }
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

    /// What goes to the editor.
    fn change(&mut self, act: Act) {
        let Some(editor) = &mut self.open else { return };
        self.edited |= matches!(
            act,
            Act::Do(_)
                | Act::DoLive(_)
                | Act::Undo
                | Act::Redo
                | Act::KeepOffer(_)
                | Act::CompareWith(..)
        );
        let done: Result<Option<String>, Refused> = match act {
            // What goes with a scan is said, not only the scan.
            Act::Do(command @ editor::Command::RemoveScan(_)) => editor
                .apply(&command)
                .map(|()| editor.document().undo_names().next().map(str::to_owned)),
            Act::Do(command) => editor.apply(&command).map(|()| None),
            Act::DoLive(command) => editor.apply_live(&command).map(|()| None),
            Act::Settle => {
                editor.settle();
                Ok(None)
            }
            Act::Undo => editor.undo().map(|n| Some(format!("undone: {n}"))),
            Act::Redo => editor.redo().map(|n| Some(format!("done again: {n}"))),
            Act::Save => {
                match editor.save() {
                    Ok(()) => self.view.said = Some("saved".to_owned()),
                    Err(editor::NotSaved::NoName) => {
                        let beside = self.beside_scans("job.ron");
                        self.view.panel = Some(Panel::SaveAs(beside));
                    }
                    Err(error) => self.view.said = Some(error.to_string()),
                }
                return;
            }
            Act::SaveAs(path) => {
                self.view.said = Some(match editor.save_as(&path) {
                    Ok(()) => "saved".to_owned(),
                    Err(error) => said(&error.to_string(), error.hint()),
                });
                return;
            }
            Act::WantSections(wanted) => {
                editor.want_sections(wanted);
                Ok(None)
            }
            Act::CallOffSections => {
                editor.call_off_sections();
                Ok(Some("cutting was called off".to_owned()))
            }
            Act::CallOff(file) => {
                editor.call_off(&file);
                Ok(None)
            }
            Act::PutAway(notice) => {
                editor.put_away(notice);
                Ok(None)
            }
            Act::Find => {
                editor.propose();
                Ok(Some("looking for openings".to_owned()))
            }
            Act::CopyAcross(opening) => editor.copy_across(&opening).map(|()| None),
            Act::CompareWith(one, other) => editor.pair(&one, &other).map(|()| None),
            Act::KeepOffer(number) => editor.keep_offer(number).map(|()| None),
            Act::SkipOffer(number) => {
                editor.skip_offer(number);
                Ok(None)
            }
            Act::Recover => {
                editor.recover();
                Ok(Some("what was not saved is back".to_owned()))
            }
            Act::LeaveRecovery => {
                editor.leave_recovery();
                Ok(None)
            }
            Act::Paste(table) if self.view.step == Step::Centreline => editor
                .paste_places(&table)
                .map(|n| Some(format!("{n} places taken"))),
            Act::Paste(table) => {
                if let Err(error) = editor.paste(&table) {
                    self.view.said = Some(error.to_string());
                }
                return;
            }
            Act::HandOver => {
                let folder = PathBuf::from(self.view.hand_over.folder.trim());
                let figures = report::hand_over::figures(editor.document().study());
                let asked = editor.hand_over(&folder, figures);
                self.view.hand_over.writing = asked.is_ok();
                self.handed = Some(std::sync::Arc::clone(editor.document().study()));
                asked.map(|()| None)
            }
            Act::Probe(scan, at) => {
                self.view.places.looking = editor.probe(&scan, at).is_some();
                Ok(None)
            }
            _ => Ok(None),
        };
        match done {
            Ok(None) => {}
            Ok(says) => self.view.said = says,
            Err(refused) => self.view.said = Some(refused.to_string()),
        }
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

    /// Shows everything; a window too small for it, or type too large, shows a part that can be moved about.
    pub fn show(&mut self, ui: &mut Ui) {
        let room = ui.max_rect().size();
        let wanted = room.max(LEAST);
        if wanted == room {
            self.show_sheet(ui);
            return;
        }
        egui::ScrollArea::both()
            .id_salt("sheet")
            .auto_shrink(false)
            .show(ui, |ui| {
                let (all, _) = ui.allocate_exact_size(wanted, egui::Sense::hover());
                let mut inside = ui.new_child(egui::UiBuilder::new().max_rect(all));
                self.show_sheet(&mut inside);
            });
    }

    fn show_sheet(&mut self, ui: &mut Ui) {
        let ctx = ui.ctx().clone();
        self.view.laid_over = self.space_is_held(&ctx);
        let mut asks = keys::acts(&ctx, self.view.panel.is_some());
        self.dropped(&ctx, &mut asks);
        let all = ui.max_rect();
        let fields = Fields::of(all);
        paint_border(ui, all, fields.sheet);
        let Some(editor) = &self.open else {
            pages::start::show(
                ui,
                fields.sheet,
                self.preferences.recent(),
                self.busy.as_deref(),
                &mut asks,
            );
            start_key(&ctx, self.view.panel.is_some(), &mut asks);
            block(ui, fields.sheet, None);
            paint_edge(ui, fields.sheet);
            panels::show(&ctx, None, self.view.panel.as_ref(), &mut asks);
            self.asks.extend(asks);
            return;
        };
        let shown = Shown {
            editor,
            view: &self.view,
        };
        crate::header::show(ui, shown, &fields, &mut asks);
        match self.view.step {
            Step::BringIn => pages::bring_in::show(ui, shown, &fields, &mut self.scan, &mut asks),
            Step::Places => {
                plan(ui, shown, fields.plan, &mut asks);
                pages::places::show(ui, shown, &fields, &mut self.scan, &mut asks);
            }
            Step::Compare | Step::Decide => {
                plan(ui, shown, fields.plan, &mut asks);
                pages::answer::show(ui, shown, fields, &mut self.books, &mut asks);
                book_keys(&ctx, shown, &mut asks);
            }
            Step::HandOver => {
                plan(ui, shown, fields.plan, &mut asks);
                pages::hand_over::show(ui, shown, &fields, &mut asks);
            }
            Step::Centreline => {
                pages::centreline::show(ui, shown, &fields, &mut self.scan, &mut asks);
            }
            Step::Two => {
                pages::two::show(ui, shown, &fields, &mut self.scan, &mut asks);
            }
            Step::Sections => {
                plan(ui, shown, fields.plan, &mut asks);
                pages::sections::show(ui, shown, &fields, &mut asks);
            }
        }
        block(ui, fields.sheet, Some(shown));
        paint_edge(ui, fields.sheet);
        copy_keys(&ctx, shown, &mut asks);
        panels::show(&ctx, Some(shown), self.view.panel.as_ref(), &mut asks);
        if !asks.is_empty() {
            ctx.request_repaint();
        }
        self.asks.extend(asks);
    }

    fn space_is_held(&self, ctx: &egui::Context) -> bool {
        matches!(self.view.step, Step::Compare | Step::Decide)
            && self.view.panel.is_none()
            && !ctx.egui_wants_keyboard_input()
            && ctx.input(|i| i.key_down(Key::Space))
    }

    fn dropped(&self, ctx: &egui::Context, asks: &mut Vec<Act>) {
        let files: Vec<PathBuf> = ctx.input(|i| {
            i.raw
                .dropped_files
                .iter()
                .map(|f| f.path().to_owned())
                .collect()
        });
        match files.as_slice() {
            [] => {}
            [job] if self.view.step == Step::Two && is_job(job) => {
                asks.push(Act::BringInOther(job.clone()));
            }
            _ => asks.push(Act::BringIn(files)),
        }
        let takes_tables = matches!(self.view.step, Step::BringIn | Step::Centreline);
        if takes_tables && self.view.panel.is_none() && !ctx.text_edit_focused() {
            let pasted = ctx.input(|i| {
                i.events.iter().find_map(|e| match e {
                    egui::Event::Paste(text) => Some(text.clone()),
                    _ => None,
                })
            });
            asks.extend(pasted.map(Act::Paste));
        }
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

/// A sentence with quoted paths cut down to the names of the files: it has one line.
fn without_folders(says: &str) -> String {
    let name = |part: &str| {
        let from = part.rfind(['/', '\\']).map_or(0, |at| at + 1);
        part[from..].to_owned()
    };
    let parts = says.split('"').enumerate();
    let parts: Vec<String> = parts
        .map(|(k, part)| {
            if k % 2 == 1 {
                name(part)
            } else {
                part.to_owned()
            }
        })
        .collect();
    parts.concat()
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
