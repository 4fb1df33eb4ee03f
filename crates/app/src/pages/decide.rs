//! What is made of each part: the choices of every pair below each other.

use egui::{Align2, Rect, Role, ScrollArea, Sense, Ui, UiBuilder, WidgetInfo, pos2, vec2};
use record::{OptionKind, Verdict};
use report::sheet::{Choosing, Hit, choice_says, choices_field, cut, doubts};
use report::theme::{Ink, space};
use report::{Pair, pair_text};

use crate::controls::{Weight, button_at, button_width, headed, rule, underlined_at, words_at};
use crate::fields::{BLOCK, Fields, paint_field};
use crate::letter::{CAPTION, Letter, STRONG};
use crate::paint::{Manner, show_sheet};
use crate::shown::Shown;
use crate::state::{Act, Step};

/// Height of the choices of one pair.
const ROW: f32 = 122.0;
/// Width of the name of a part and what was chosen for it.
const NAME: f32 = 216.0;

/// Least width of a choice in which its name stands whole.
const CHOICE: f32 = 205.0;

/// Shows the page.
pub fn show(ui: &mut Ui, shown: Shown, fields: &Fields, asks: &mut Vec<Act>) {
    let page = fields.page;
    let block_w = BLOCK[0].min(page.width() * 0.45);
    let head = Rect::from_min_max(page.min, pos2(page.max.x, page.min.y + 96.0));
    let rows = Rect::from_min_max(
        pos2(page.min.x, head.max.y),
        pos2(page.max.x, page.max.y - BLOCK[1]),
    );
    let foot = Rect::from_min_max(
        pos2(page.min.x, rows.max.y),
        pos2(page.max.x - block_w, page.max.y),
    );
    let pairs = shown.pairs();
    sentence(ui, shown, &pairs, head);
    let mut inside = ui.new_child(UiBuilder::new().id_salt("all choices").max_rect(rows));
    inside.set_clip_rect(rows.intersect(ui.clip_rect()));
    ScrollArea::vertical()
        .id_salt("all choices")
        .auto_shrink(false)
        .show(&mut inside, |ui| {
            ui.spacing_mut().item_spacing.y = 0.0;
            for pair in &pairs {
                row(ui, shown, pair, asks);
                rule(ui, Ink::Rule);
            }
        });
    the_rest(ui, shown, &pairs, foot, asks);
    for field in [head, rows, foot] {
        paint_field(ui, field);
    }
}

/// The first of its choices that fits; none while a stop stands.
fn first_fitting(pair: &Pair) -> Option<OptionKind> {
    if pair.stop().is_some() {
        return None;
    }
    let mut all = pair.options().iter();
    all.find(|o| o.verdict == Verdict::Fits).map(|o| o.kind)
}

fn sentence(ui: &mut Ui, shown: Shown, pairs: &[Pair], field: Rect) {
    let decided = pairs.iter().filter(|p| shown.chosen(p).is_some()).count();
    let head = match (decided, pairs.len()) {
        (_, 0) => "Nothing to decide yet.".to_owned(),
        (d, n) if d == n => "Every part is decided.".to_owned(),
        (d, n) => format!("{d} of {n} parts decided."),
    };
    let more = match pairs {
        [] => "Name an opening on both sides and compare them first.".to_owned(),
        [one] => pair_text(one).headline,
        several => report::terminal::tally(several),
    };
    headed(ui, field, &head, &more);
}

/// A part: its name, what was chosen and why, and its choices.
fn row(ui: &mut Ui, shown: Shown, pair: &Pair, asks: &mut Vec<Act>) {
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), ROW), Sense::hover());
    let chosen = shown.chosen(pair);
    let what = chosen.map_or_else(
        || "nothing chosen yet".to_owned(),
        |(kind, _)| format!("chosen: {}", pair.choice_word(kind)),
    );
    let verdict = shown.chosen_in_doubt(pair).map(report::words::verdict);
    let why = chosen.map_or("", |(_, why)| why);
    response.widget_info(|| {
        let said = [pair.title(), &what, verdict.unwrap_or_default(), why];
        let said: Vec<&str> = said.into_iter().filter(|s| !s.is_empty()).collect();
        WidgetInfo::labeled(Role::Label, true, said.join(", "))
    });
    let left = rect.min.x + space::INSIDE as f32;
    let room = f64::from(NAME) - 1.5 * space::INSIDE;
    let line = |ui: &Ui, y: f32, text: &str, letter: Letter, ink| {
        let text = cut(text, room, letter.0, letter.1);
        let at = pos2(left, rect.min.y + y);
        words_at(ui, at, Align2::LEFT_CENTER, &text, letter, ink);
    };
    line(ui, 24.0, pair.title(), STRONG, Ink::Ink);
    let ink = if chosen.is_some() {
        Ink::Ink
    } else {
        Ink::Ink3
    };
    line(ui, 47.0, &what, CAPTION, ink);
    let number = doubts(pair).len();
    let third = match (verdict.unwrap_or(why), number) {
        ("", 0) => String::new(),
        ("", 1) => "1 doubt".to_owned(),
        ("", n) => format!("{n} doubts"),
        (why, _) => why.to_owned(),
    };
    line(ui, 68.0, &third, CAPTION, Ink::Ink2);
    let at = pos2(left, rect.max.y - 22.0);
    let look = ui
        .push_id(&pair.measured.id.0, |ui| {
            underlined_at(ui, at, "look at it")
        })
        .inner;
    if look.on_hover_text(pair.title()).clicked() {
        asks.push(Act::Pair(pair.measured.id.clone()));
        asks.push(Act::Go(Step::Compare));
    }
    let field = Rect::from_min_max(pos2(rect.min.x + NAME, rect.min.y), rect.max);
    let manner = Manner {
        faded: shown.waits(&pair.measured.id),
        in_small: false,
    };
    let changed = super::answer::changed(ui, shown, pair);
    let sheet = choices_field(
        pair,
        [f64::from(field.width()), f64::from(field.height())],
        &Choosing {
            choosing: true,
            changed: &changed,
            most: ((field.width() / CHOICE) as usize).max(2),
            ..Choosing::PRINTED
        },
    );
    let says = |hit: &Hit| match hit {
        Hit::Choice(_, kind) => Some(format!("{}: {}", pair.title(), choice_says(pair, *kind))),
        _ => None,
    };
    let answers = show_sheet(ui, &pair.measured.id.0, &sheet, field.min, manner, &says);
    if let Some(Hit::Choice(id, kind)) = answers.clicked() {
        asks.push(super::answer::ask_why(id, *kind));
    }
}

/// What is still to do, for all parts at once.
fn the_rest(ui: &mut Ui, shown: Shown, pairs: &[Pair], field: Rect, asks: &mut Vec<Act>) {
    let open: Vec<&Pair> = pairs.iter().filter(|p| shown.chosen(p).is_none()).collect();
    let fitting: Vec<(&Pair, OptionKind)> = open
        .iter()
        .filter_map(|p| Some((*p, first_fitting(p)?)))
        .collect();
    let doubtful = pairs.iter().any(|p| shown.chosen_in_doubt(p).is_some());
    let left = field.min.x + space::INSIDE as f32;
    let (says, act) = match (fitting.len(), open.len()) {
        (0, 0) if pairs.is_empty() => ("", None),
        (0, 0) if doubtful => (
            "What is chosen and not proven to fit carries its mark: look at it first.",
            Some("On to hand over"),
        ),
        (0, 0) => ("Do this next: hand over.", Some("On to hand over")),
        (0, _) => (
            "Nothing that is open is proven to fit: look at each, or measure more.",
            None,
        ),
        (1, _) => (
            "Of each open part the simplest that fits stands first.",
            Some("Choose it for 1 part"),
        ),
        _ => (
            "Of each open part the simplest that fits stands first.",
            Some("Choose the first that fits"),
        ),
    };
    let top = field.min.y;
    let at = pos2(left, top + 18.0);
    words_at(ui, at, Align2::LEFT_CENTER, says, CAPTION, Ink::Ink2);
    if let Some(text) = act {
        let rect = Rect::from_min_size(
            pos2(left, top + 34.0),
            vec2(button_width(text), space::CONTROL as f32),
        );
        let hint = if fitting.is_empty() {
            "On to the files"
        } else {
            "Each can be taken back"
        };
        if button_at(ui, rect, text, Weight::Filled, hint).clicked() {
            if fitting.is_empty() {
                asks.push(Act::Go(Step::HandOver));
            }
            asks.extend(fitting.iter().map(|(pair, kind)| {
                Act::Do(editor::Command::Choose {
                    compare: pair.measured.id.clone(),
                    option: *kind,
                    note: String::new(),
                })
            }));
        }
    }
}
