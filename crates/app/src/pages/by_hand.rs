//! Readings by hand: the boxes of the field sheet, left and right, with the answer above them.

mod boxes;
mod entry;

use editor::{Command, HandChange, HandForm, HandSide};
use egui::{Rect, Ui, pos2, vec2};
use record::{HandTable, LengthDisplay, Side};
use report::sheet::{answer_field, field_sketch};
use report::theme::{Ink, space};
use report::{Pair, PairText, pair_text};

use super::bring_in::{body_state, within};
use crate::controls::{Weight, button, one_of, paragraph, rule};
use crate::fields::{BLOCK, Fields, fill_field, paint_field};
use crate::letter::{BODY, CAPTION, CAPTION_HEAD, STRONG};
use crate::paint::{Manner, show_sheet};
use crate::shown::Shown;
use crate::state::{Act, Step};

pub use entry::{BoxAt, Entering, Entry};

/// Width of the list of what was brought in, beside a sheet.
pub const LIST: f32 = 200.0;
/// Height of the answer.
const ANSWER: f32 = 96.0;
/// Height of the heads of the columns.
const HEADS: f32 = 44.0;
/// Width that the boxes need at most.
const WIDEST: f32 = 900.0;

/// The hand table that is looked at: the chosen one, or the first where there are no scans.
pub fn chosen(shown: Shown<'_>) -> Option<&HandTable> {
    let job = shown.document().job();
    let wanted = shown.view.scan.as_ref();
    let named = job.hand.iter().find(|h| wanted == Some(&h.id));
    let none_else = job.scans.is_empty() && shown.document().incoming().is_empty();
    named.or_else(|| job.hand.first().filter(|_| none_else))
}

/// Shows the sheet of a table, right of the list.
pub fn show(
    ui: &mut Ui,
    shown: Shown,
    table: &HandTable,
    page: Rect,
    fields: &Fields,
    asks: &mut Vec<Act>,
) {
    let Some(form) = shown.document().hand_form(&table.id) else {
        within(ui, page, "no opening", |ui| {
            let says = format!("No opening is measured in the table {}.", table.id);
            paragraph(ui, &says, BODY, Ink::Ink2);
        });
        paint_field(ui, page);
        return;
    };
    let column = BLOCK[0]
        .min(fields.sheet.width() * 0.4)
        .max(page.width() - WIDEST);
    let answer = Rect::from_min_max(page.min, pos2(page.max.x, page.min.y + ANSWER));
    let about = Rect::from_min_max(
        pos2(page.max.x - column, answer.max.y),
        pos2(page.max.x, page.max.y - BLOCK[1]),
    );
    let heads = Rect::from_min_max(
        pos2(page.min.x, answer.max.y),
        pos2(about.min.x, answer.max.y + HEADS),
    );
    let rows = Rect::from_min_max(pos2(page.min.x, heads.max.y), pos2(about.min.x, page.max.y));
    sentence(ui, shown, &form, answer);
    let layout = boxes::Layout::of(rows, form.sides.len());
    boxes::heads(ui, &form, &layout, heads);
    boxes::rows(ui, shown, &form, &layout, rows, asks);
    within(ui, about, "about the box", |ui| {
        beside(ui, shown, table, &form, asks);
    });
    for field in [answer, heads, rows, about] {
        paint_field(ui, field);
    }
}

/// A finding in words; one about readings that stand in the job names their boxes, not lines of a table that nobody sees.
pub fn finding_words(shown: Shown, finding: &record::Finding) -> String {
    let document = shown.document();
    let says = report::finding_text(finding);
    let tables = document.job().hand.iter().filter(|t| t.path.is_none());
    for form in tables.filter_map(|t| document.hand_form(&t.id)) {
        for side in &form.sides {
            let doubts = document.hand_doubts(side);
            if doubts.iter().any(|(f, _)| *f == finding) {
                return boxes::said_of(shown, &form, side, &says);
            }
        }
    }
    says
}

/// The pair that is being typed, as it was worked out last.
fn pair_of<'a>(shown: Shown<'a>, form: &HandForm) -> Option<Pair<'a>> {
    let id = form.compare.as_ref()?;
    let pairs = shown.pairs();
    pairs.into_iter().find(|p| p.measured.id == *id)
}

/// The answer, which follows box by box; before there is one, how far the readings are and what holds them up.
fn sentence(ui: &mut Ui, shown: Shown, form: &HandForm, field: Rect) {
    let document = shown.document();
    let pair = pair_of(shown, form).filter(|p| !p.options().is_empty());
    let working = document.work().next().is_some() || !document.is_fresh();
    let mut text = if let Some(pair) = &pair {
        pair_text(pair)
    } else {
        let counts: Vec<String> = form
            .sides
            .iter()
            .map(|s| {
                let of: usize = form.boxes.iter().map(|b| usize::from(b.times)).sum();
                format!("{} {} of {of}", side_word(s), document.hand_count(s))
            })
            .collect();
        PairText {
            verdict: record::Verdict::NotMeasured,
            headline: format!("Readings: {}.", counts.join(", ")),
            cure: held_up(shown, form),
            reason: String::new(),
            angle: String::new(),
        }
    };
    if working && pair.is_some() {
        text.cure.push_str(" Being worked out anew.");
    }
    let sheet = answer_field(&text, [f64::from(field.width()), f64::from(field.height())]);
    show_sheet(
        ui,
        "answer by hand",
        &sheet,
        field.min,
        Manner::default(),
        &|_| None,
    );
}

/// What keeps the sides without an answer, in the words of their doubts.
fn held_up(shown: Shown, form: &HandForm) -> String {
    let measured = &shown.document().study().measured;
    let says = form.sides.iter().find_map(|s| {
        if shown.document().hand_count(s) == 0 {
            return None;
        }
        let o = measured.openings.iter().find(|o| o.id == s.opening)?;
        let stop = o
            .findings
            .iter()
            .find(|f| f.severity == record::Severity::Stop)?;
        let says = boxes::said_of(shown, form, s, &stop.says);
        let says = report::words::full_stop(&says);
        Some(format!("{}: {says}", report::words::capital(side_word(s))))
    });
    says.unwrap_or_else(|| {
        "The answer stands here once the points of both sides are held by their ties. Blank means not measured.".to_owned()
    })
}

/// What stands beside the boxes: the one being filled, drawn; the unit; what can be done.
fn beside(ui: &mut Ui, shown: Shown, table: &HandTable, form: &HandForm, asks: &mut Vec<Act>) {
    let at = shown.view.entry.at.unwrap_or_default();
    if let (Some(side), Some(row)) = (form.sides.get(at.side), form.boxes.get(at.row)) {
        let says = format!(
            "{}, {}",
            report::words::capital(side_word(side)),
            entry::box_words(row, at.time)
        );
        paragraph(ui, &says, STRONG, Ink::Ink);
        if let Some(plan) = form
            .plans
            .iter()
            .find(|p| p.opening.as_ref() == Some(&side.opening))
        {
            let wide = ui.available_width();
            let high = (wide * 0.62).min(300.0);
            let (rect, _) = ui.allocate_exact_size(vec2(wide, high), egui::Sense::hover());
            fill_field(ui, rect, Ink::Field);
            let ends: Vec<&str> = row.from.iter().chain(&row.to).map(String::as_str).collect();
            let sketch = field_sketch(plan, [f64::from(wide), f64::from(high)], &ends);
            show_sheet(ui, "sketch", &sketch, rect.min, Manner::default(), &|_| {
                None
            });
        }
    }
    let inches = shown
        .view
        .entry
        .inches(shown.document().job().units.length == LengthDisplay::Inch);
    paragraph(ui, "A number without a unit is", CAPTION_HEAD, Ink::Ink2);
    if let Some(i) = one_of(ui, &["In mm", "In inches"], Some(usize::from(inches))) {
        asks.push(Act::Enter(Entering::Inches(i == 1)));
    }
    paragraph(
        ui,
        "412.5 or 412,5 · 3/16\" · 4 1/2\" · 3' 4 1/2\" · 89.25 or 89° 15'. Enter goes to the next box; blank means not measured.",
        CAPTION,
        Ink::Ink2,
    );
    if let Some(path) = &table.path {
        let name = path
            .file_name()
            .unwrap_or(path.as_os_str())
            .to_string_lossy();
        let says = format!(
            "Read from {name}. What is typed here is kept in the job; the file stays as it is."
        );
        paragraph(ui, &says, CAPTION, Ink::Ink2);
    }
    ui.add_space(space::UNIT as f32);
    ui.horizontal(|ui| {
        if button(
            ui,
            "Print the field sheet",
            Weight::Plain,
            "Pages to fill in at the car, with the same boxes",
        )
        .clicked()
        {
            asks.push(Act::PrintFieldSheet);
        }
        let known = pair_of(shown, form).is_some_and(|p| !p.options().is_empty());
        let how = if known { Weight::Filled } else { Weight::Plain };
        if button(ui, "See the answer", how, "3").clicked() {
            if let Some(id) = &form.compare {
                asks.push(Act::Pair(id.clone()));
            }
            asks.push(Act::Go(Step::Compare));
        }
    });
    rule(ui, Ink::Hair);
    table_itself(ui, table, asks);
    rule(ui, Ink::Hair);
    body_state(ui, shown, asks);
}

/// The table as a thing: who read it with what, and how these or all of it are taken out. Undo brings them back.
fn table_itself(ui: &mut Ui, table: &HandTable, asks: &mut Vec<Act>) {
    let change = |change| {
        Act::Do(Command::Hand {
            table: table.id.clone(),
            change,
        })
    };
    let mut operators: Vec<(&str, usize)> = Vec::new();
    for r in table.readings.iter().filter(|r| !r.operator.is_empty()) {
        match operators.iter_mut().find(|(name, _)| *name == r.operator) {
            Some((_, count)) => *count += 1,
            None => operators.push((&r.operator, 1)),
        }
    }
    for (name, count) in operators {
        let says = format!("Read by {name}: {count}");
        if with_button(ui, &says, &format!("Take {name} out")) {
            asks.push(change(HandChange::RemoveOperator(name.to_owned())));
        }
    }
    for own in &table.instruments {
        let says = format!("Instrument of this table: {}", own.name);
        if with_button(ui, &says, &format!("Take {} out", own.name)) {
            asks.push(change(HandChange::RemoveInstrument(own.name.clone())));
        }
    }
    let says = format!("Table {}", table.id);
    if with_button(ui, &says, "Take the table out") {
        asks.push(Act::Do(Command::RemoveHand(table.id.clone())));
    }
}

/// A line of words with a button below it, or beside it where there is room; whether it was pressed.
fn with_button(ui: &mut Ui, says: &str, press: &str) -> bool {
    ui.horizontal_wrapped(|ui| {
        let pressed = button(ui, press, Weight::Plain, "Undo brings it back").clicked();
        let room = f64::from(ui.available_width());
        let text = report::sheet::cut(says, room, CAPTION.0, CAPTION.1);
        paragraph(ui, &text, CAPTION, Ink::Ink2);
        pressed
    })
    .inner
}

/// A side in a word.
fn side_word(side: &HandSide) -> &'static str {
    match side.side {
        Side::NotSaid => "opening",
        side => report::words::side(side),
    }
}
