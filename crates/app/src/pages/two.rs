//! Two visits and two cars: what body work changed, and the parts drawn for one car tried on another.

mod cars;
mod looking;
mod metal;
mod visits;

use editor::{BroughtIn, Lane, TwoFound};
use egui::{Key, Modifiers, Rect, Ui, pos2};
use report::PairText;
use report::sheet::answer_field;
use report::theme::Ink;

use super::bring_in::within;
use super::notice::why_called_off;
use crate::controls::{Weight, button, one_of, paragraph, rule};
use crate::fields::{BLOCK, Fields, paint_field};
use crate::letter::{BODY, CAPTION, CAPTION_HEAD, SAID};
use crate::paint::{Manner, show_sheet};
use crate::scan_view::ScanView;
use crate::shown::Shown;
use crate::state::{Act, Panel};

pub use looking::{Leaf, Looking};

/// Height of the sentence.
const ANSWER: f32 = 96.0;
/// How many times larger a difference is drawn, in words.
const FACTORS: [(f64, &str); 4] = [(1.0, "×1"), (5.0, "×5"), (10.0, "×10"), (20.0, "×20")];

/// Where everything lies: the sentence above, two pictures one above the other, the column beside them.
struct Places {
    answer: Rect,
    upper: Rect,
    lower: Rect,
    column: Rect,
}

impl Places {
    fn of(fields: &Fields) -> Self {
        let sheet = fields.sheet;
        let page = Rect::from_min_max(pos2(sheet.min.x, fields.page.min.y), sheet.max);
        let answer = Rect::from_min_max(page.min, pos2(page.max.x, page.min.y + ANSWER));
        let column_width = BLOCK[0].min(sheet.width() * 0.4);
        let column = Rect::from_min_max(
            pos2(page.max.x - column_width, answer.max.y),
            pos2(page.max.x, page.max.y - BLOCK[1]),
        );
        let middle = answer.max.y + (page.max.y - answer.max.y) * 0.6;
        Self {
            answer,
            upper: Rect::from_min_max(pos2(page.min.x, answer.max.y), pos2(column.min.x, middle)),
            lower: Rect::from_min_max(pos2(page.min.x, middle), pos2(column.min.x, page.max.y)),
            column,
        }
    }
}

/// Shows the page.
pub fn show(
    ui: &mut Ui,
    shown: Shown,
    fields: &Fields,
    screen: &mut ScanView,
    asks: &mut Vec<Act>,
) {
    let at = Places::of(fields);
    let wanted = shown.view.two.wanted(shown.document().job());
    let found = wanted.as_ref().and_then(|w| shown.document().two(w));
    match shown.view.two.leaf {
        Leaf::Visits => {
            let found = found.and_then(|(f, fresh)| match f {
                TwoFound::Visits(found) => Some((found, fresh)),
                TwoFound::Cars(_) => None,
            });
            visits::show(ui, shown, found, &at, screen, asks);
        }
        Leaf::Cars => {
            let found = found.and_then(|(f, fresh)| match f {
                TwoFound::Cars(found) => Some((found, fresh)),
                TwoFound::Visits(_) => None,
            });
            cars::show(ui, shown, found, &at, asks);
        }
    }
    for field in [at.answer, at.upper, at.lower, at.column] {
        paint_field(ui, field);
    }
    keys(ui, shown, asks);
}

fn size_of(field: Rect) -> [f64; 2] {
    [f64::from(field.width()), f64::from(field.height())]
}

fn go(shown: Shown, change: impl FnOnce(&mut Looking)) -> Act {
    let mut looking = shown.view.two.clone();
    change(&mut looking);
    Act::Two(Box::new(looking))
}

/// The sentence, or what will stand there.
fn answer(ui: &mut Ui, field: Rect, text: Option<&PairText>, says: &str, manner: Manner) {
    match text {
        Some(text) => {
            let sheet = answer_field(text, size_of(field));
            show_sheet(ui, "two answer", &sheet, field.min, manner, &|_| None);
        }
        None => within(ui, field, "two answer", |ui| {
            paragraph(ui, says, SAID, Ink::Ink);
        }),
    }
}

/// What will stand in a field.
fn to_come(ui: &mut Ui, field: Rect, says: &str) {
    within(ui, field, says, |ui| {
        paragraph(ui, says, CAPTION, Ink::Ink2);
    });
}

/// Which of the two is looked at, and how far it is.
fn head(ui: &mut Ui, shown: Shown, asks: &mut Vec<Act>) {
    let leaves = [Leaf::Visits, Leaf::Cars];
    let names = ["Before and after work", "Car to car"];
    let at = leaves.iter().position(|l| *l == shown.view.two.leaf);
    if let Some(i) = one_of(ui, &names, at) {
        asks.push(go(shown, |l| l.open_leaf(leaves[i])));
    }
    if let Some([says, hint]) = &shown.view.two.refused {
        paragraph(ui, says, BODY, Ink::WillNotFit);
        paragraph(ui, hint, CAPTION, Ink::Ink2);
        rule(ui, Ink::Hair);
    }
    if let Some(brought) = &shown.view.two.brought {
        came(ui, shown, brought, asks);
    }
    progress(ui, shown, asks);
}

/// What came with the other job beside its scans and openings, and what was left out.
fn came(ui: &mut Ui, shown: Shown, brought: &BroughtIn, asks: &mut Vec<Act>) {
    if brought.with.is_empty() && brought.left_out.is_empty() {
        return;
    }
    if !brought.with.is_empty() {
        let with = brought.with.join(", ");
        let says = format!("With {} came: {with}.", brought.called);
        paragraph(ui, &says, BODY, Ink::Ink);
    }
    for says in &brought.left_out {
        paragraph(ui, says, BODY, Ink::Ink);
    }
    if button(ui, "Put this away", Weight::Plain, "").clicked() {
        asks.push(go(shown, |l| l.brought = None));
    }
    rule(ui, Ink::Hair);
}

/// How far it is, and how to stop it or begin it again.
fn progress(ui: &mut Ui, shown: Shown, asks: &mut Vec<Act>) {
    let document = shown.document();
    if shown.editor.two_is_called_off() {
        let says = "Called off: what stands here is not that of the job as it is.";
        why_called_off(ui, shown, Lane::Two, says, asks);
        if button(ui, "Work it out", Weight::Filled, "").clicked() {
            asks.push(Act::WantTwo);
        }
        rule(ui, Ink::Hair);
    } else if shown.editor.two_is_coming() {
        let work = document.work().find(|w| w.lane == Lane::Two);
        let far = work.map_or_else(String::new, |work| {
            let share = 100.0 * work.done as f64 / work.total.max(1) as f64;
            let left = work
                .seconds_left
                .map_or_else(String::new, |s| format!(", {s:.0} s left"));
            format!(", {share:.0} % of this step{left}")
        });
        let says = match shown.view.two.leaf {
            Leaf::Visits => "Laying after on before, measuring again",
            Leaf::Cars => "Trying the parts on the other car",
        };
        paragraph(ui, &format!("{says}{far}"), BODY, Ink::Ink);
        if button(ui, "Call off", Weight::Plain, "Esc").clicked() {
            asks.push(Act::CallOffTwo);
        }
        rule(ui, Ink::Hair);
    }
}

/// The job of the other one is asked for.
fn bring_in(ui: &mut Ui, shown: Shown, word: &str, how: Weight, asks: &mut Vec<Act>) {
    if button(ui, word, how, "Its job file; it can be dropped here, too").clicked() {
        let document = shown.document();
        let folder = document.path().and_then(std::path::Path::parent);
        let typed = folder.map_or_else(String::new, |f| {
            format!("{}{}", f.display(), std::path::MAIN_SEPARATOR)
        });
        asks.push(Act::Panel(Some(Panel::Other(typed))));
    }
}

/// Doubts, the gravest first.
fn doubts<'f>(ui: &mut Ui, of: impl Iterator<Item = &'f record::Finding>) {
    let mut all: Vec<&record::Finding> = of.collect();
    all.sort_by_key(|f| std::cmp::Reverse(f.severity));
    if all.is_empty() {
        return;
    }
    rule(ui, Ink::Hair);
    paragraph(ui, "Doubts", CAPTION_HEAD, Ink::Ink2);
    for f in all {
        paragraph(ui, &report::finding_text(f), CAPTION, Ink::Ink);
    }
}

fn keys(ui: &Ui, shown: Shown, asks: &mut Vec<Act>) {
    if ui.ctx().text_edit_focused() || shown.view.panel.is_some() {
        return;
    }
    let pressed = |key: Key| ui.input_mut(|i| i.consume_key(Modifiers::NONE, key));
    if shown.editor.two_is_coming() && pressed(Key::Escape) {
        asks.push(Act::CallOffTwo);
    }
    if pressed(Key::X) {
        asks.push(go(shown, |l| l.factor = (l.factor + 1) % FACTORS.len()));
    }
    if pressed(Key::A) {
        asks.push(go(shown, |l| l.after = !l.after));
    }
    // With something in hand the arrows go from control to control.
    if ui.ctx().egui_wants_keyboard_input() {
        return;
    }
    for (key, forward) in [(Key::ArrowDown, true), (Key::ArrowUp, false)] {
        if pressed(key) {
            asks.push(next(shown, forward));
        }
    }
}

/// The next thing in the list, or the one before.
fn next(shown: Shown, forward: bool) -> Act {
    let step = |now: usize, count: usize| {
        let count = count.max(1);
        if forward {
            (now + 1) % count
        } else {
            (now + count - 1) % count
        }
    };
    let wanted = shown.view.two.wanted(shown.document().job());
    let found = wanted.as_ref().and_then(|w| shown.document().two(w));
    match found.map(|(f, _)| f) {
        Some(TwoFound::Visits(found)) => {
            let count = visits::of_work(shown, found)
                .and_then(|w| w.laid.as_ref())
                .map_or(0, |l| l.areas.len());
            go(shown, |l| l.look_at_area(step(l.area, count)))
        }
        Some(TwoFound::Cars(found)) => {
            let now = cars::chosen(shown, found);
            let all = report::cars::by_part(found);
            let at = now.and_then(|n| all.iter().position(|t| t.0.compare == n.compare));
            let to = step(at.unwrap_or(0), all.len());
            let to = all.get(to).map(|t| t.0.compare.clone());
            go(shown, |l| l.fit = to)
        }
        None => go(shown, |_| {}),
    }
}

/// The cars that can be looked at as first and second.
fn cars_of(shown: Shown) -> Vec<String> {
    shown.cars().into_iter().map(str::to_owned).collect()
}
