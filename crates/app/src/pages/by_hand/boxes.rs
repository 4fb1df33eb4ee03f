//! The rows of boxes.

use std::collections::BTreeMap;

use editor::{Command, HandBox, HandChange, HandForm, HandSide};
use egui::text::{CCursor, CCursorRange};
use egui::{
    Align2, Id, Key, Rect, Role, ScrollArea, Stroke, StrokeKind, Ui, UiBuilder, WidgetInfo, pos2,
    vec2,
};
use record::{Code, Finding, LengthDisplay, LengthUnit, PlanBox, Side};
use report::theme::{Ink, space};

use super::entry::{BoxAt, Entering, TIMES, box_words, next};
use super::side_word;
use crate::controls::{focus_outline, paragraph, words_at};
use crate::letter::{CAPTION, CAPTION_HEAD, NAMED, STRONG};
use crate::look::{colour, font, theme_of};
use crate::shown::Shown;
use crate::state::Act;

/// Height of a row.
const ROW: f32 = 38.0;
/// Height of a box.
const TALL: f32 = 30.0;
/// Room for the number of a row, and for the points it is between.
const NUMBER: f32 = 28.0;
const BETWEEN: f32 = 104.0;
/// Boxes of one side.
const COUNT: usize = 3;
/// A row is drawn when it is as near to what can be seen: so Tab finds the next one.
const NEAR: f32 = 3.0 * ROW;

/// Where the boxes of a row stand.
pub(super) struct Layout {
    left: f32,
    width: f32,
    apart: f32,
    sides: usize,
}

impl Layout {
    pub fn of(field: Rect, sides: usize) -> Self {
        let left = field.left() + space::INSIDE as f32;
        let room = field.width() - 2.0 * space::INSIDE as f32 - NUMBER - BETWEEN;
        let apart = 2.0 * space::UNIT as f32;
        let gaps = apart * sides.saturating_sub(1) as f32;
        let width = ((room - gaps) / (COUNT * sides.max(1)) as f32).clamp(40.0, 116.0);
        Self {
            left,
            width,
            apart,
            sides,
        }
    }

    fn x(&self, side: usize, time: usize) -> f32 {
        let before = (side * COUNT + time) as f32 * self.width + side as f32 * self.apart;
        self.left + NUMBER + BETWEEN + before
    }

    fn right(&self) -> f32 {
        self.x(self.sides.saturating_sub(1), COUNT)
    }
}

/// The heads of the columns.
pub(super) fn heads(ui: &Ui, form: &HandForm, layout: &Layout, field: Rect) {
    let low = field.bottom() - 12.0;
    let at = pos2(layout.left + NUMBER, low);
    words_at(ui, at, Align2::LEFT_CENTER, "from, to", CAPTION, Ink::Ink2);
    for (k, side) in form.sides.iter().enumerate() {
        let ink = match side.side {
            Side::Right => Ink::Right,
            _ => Ink::Left,
        };
        let word = match side.side {
            Side::Left | Side::Right => side_word(side).to_uppercase(),
            _ => report::sheet::cut(
                &side.name,
                3.0 * f64::from(layout.width),
                STRONG.0,
                STRONG.1,
            ),
        };
        let at = pos2(layout.x(k, 0) + 4.0, low - 20.0);
        let at = at + vec2(16.0, 0.0);
        words_at(ui, at, Align2::LEFT_CENTER, &word, STRONG, ink);
        side_mark(ui, at - vec2(10.0, 0.0), side.side, ink);
        for (time, word) in TIMES.iter().enumerate() {
            let at = pos2(layout.x(k, time) + 4.0, low);
            words_at(ui, at, Align2::LEFT_CENTER, word, CAPTION, Ink::Ink2);
        }
    }
}

/// Left is a disc, right a triangle.
fn side_mark(ui: &Ui, at: egui::Pos2, side: Side, ink: Ink) {
    let ink = colour(theme_of(ui.ctx()), ink);
    match side {
        Side::Right => {
            let corners = [vec2(0.0, -5.5), vec2(6.0, 5.0), vec2(-6.0, 5.0)].map(|d| at + d);
            let shape = egui::Shape::convex_polygon(corners.to_vec(), ink, Stroke::NONE);
            ui.painter().add(shape);
        }
        _ => {
            ui.painter().circle_filled(at, 4.5, ink);
        }
    }
}

/// A doubt about a box: how heavy, and in words.
struct Doubt<'a> {
    finding: &'a Finding,
    words: String,
    /// Whether it is the first box that the finding names: there its words stand.
    first: bool,
}

/// The rows of a side by the line its readings stand on.
fn rows_of_lines(shown: Shown, form: &HandForm, side: &HandSide) -> BTreeMap<u32, (usize, usize)> {
    let mut found = BTreeMap::new();
    for (row, b) in form.boxes.iter().enumerate() {
        for time in 0..COUNT {
            match shown.document().hand_reading(side, &HandBox::of(b, time)) {
                Some(r) => found.insert(r.line, (row, time)),
                None => break,
            };
        }
    }
    found
}

/// A sentence about lines of a table, said of the boxes that they stand in.
fn in_boxes(says: &str, rows: &BTreeMap<u32, (usize, usize)>) -> String {
    let mut parts = says.split("line ");
    let mut out = parts.next().unwrap_or_default().to_owned();
    for part in parts {
        let digits = part.chars().take_while(char::is_ascii_digit).count();
        let row = part[..digits].parse().ok().and_then(|line| rows.get(&line));
        if let Some((row, _)) = row {
            out += &format!("box {}{}", row + 1, &part[digits..]);
        } else {
            out += "line ";
            out += part;
        }
    }
    out
}

/// What a finding says of a side, its lines as boxes.
pub(super) fn said_of(shown: Shown, form: &HandForm, side: &HandSide, says: &str) -> String {
    in_boxes(says, &rows_of_lines(shown, form, side))
}

/// What the adjusted readings say of single boxes, by box.
fn doubts<'a>(shown: Shown<'a>, form: &HandForm) -> BTreeMap<BoxAt, Doubt<'a>> {
    let mut out = BTreeMap::new();
    for (k, side) in form.sides.iter().enumerate() {
        let all = shown.document().hand_doubts(side);
        if all.is_empty() {
            continue;
        }
        let rows = rows_of_lines(shown, form, side);
        for (finding, lines) in all {
            let words = in_boxes(&report::finding_text(finding), &rows);
            let boxes = lines.iter().filter_map(|line| rows.get(line).copied());
            let mut boxes: Vec<BoxAt> = boxes
                .map(|(row, time)| BoxAt { side: k, row, time })
                .collect();
            boxes.sort_unstable();
            for (n, at) in boxes.into_iter().enumerate() {
                out.entry(at).or_insert(Doubt {
                    finding,
                    words: words.clone(),
                    first: n == 0,
                });
            }
        }
    }
    out
}

/// Whether a doubt names one reading as wrong.
fn is_named(doubt: &Doubt) -> bool {
    doubt.finding.code == Code::HandReadingWrong
}

pub(super) fn rows(
    ui: &mut Ui,
    shown: Shown,
    form: &HandForm,
    layout: &Layout,
    field: Rect,
    asks: &mut Vec<Act>,
) {
    let doubts = doubts(shown, form);
    let entry = &shown.view.entry;
    let mut child = ui.new_child(UiBuilder::new().id_salt("boxes").max_rect(field));
    child.set_clip_rect(field.intersect(ui.clip_rect()));
    ScrollArea::vertical()
        .id_salt("boxes")
        .auto_shrink(false)
        .show(&mut child, |ui| {
            ui.spacing_mut().item_spacing.y = 0.0;
            ui.add_space(space::UNIT as f32);
            let seen = field.expand2(vec2(0.0, NEAR));
            for (row, b) in form.boxes.iter().enumerate() {
                let (rect, _) =
                    ui.allocate_exact_size(vec2(ui.available_width(), ROW), egui::Sense::hover());
                let awaited = entry.focus.is_some_and(|f| f.row == row);
                let typed = entry.typing.as_ref().is_some_and(|(at, _)| at.row == row);
                if seen.intersects(rect) || awaited || typed || has_keyboard(ui, form, row) {
                    one_row(ui, shown, form, layout, (row, b, rect), &doubts, asks);
                }
                notes(ui, entry, form, layout, (row, b), &doubts);
            }
            ui.add_space(space::INSIDE as f32);
        });
    hand_keyboard_on(ui, asks);
}

/// Whether a box of a row has the keyboard.
fn has_keyboard(ui: &Ui, form: &HandForm, row: usize) -> bool {
    let Some(focused) = ui.memory(egui::Memory::focused) else {
        return false;
    };
    (0..form.sides.len())
        .any(|side| (0..COUNT).any(|time| box_id(BoxAt { side, row, time }) == focused))
}

fn one_row(
    ui: &mut Ui,
    shown: Shown,
    form: &HandForm,
    layout: &Layout,
    (row, b, rect): (usize, &PlanBox, Rect),
    doubts: &BTreeMap<BoxAt, Doubt>,
    asks: &mut Vec<Act>,
) {
    let middle = rect.center().y;
    let at = pos2(layout.left + NUMBER - 8.0, middle);
    let number = (row + 1).to_string();
    words_at(
        ui,
        at,
        Align2::RIGHT_CENTER,
        &number,
        CAPTION_HEAD,
        Ink::Ink2,
    );
    let mut says = if b.to.is_empty() {
        b.from.join(" ")
    } else {
        format!("{} – {}", b.from.join(" "), b.to.join(" "))
    };
    if !b.station.is_empty() {
        says = format!("{says}, {}", b.station);
    }
    let says = report::sheet::cut(&says, f64::from(BETWEEN) - 4.0, STRONG.0, STRONG.1);
    let at = pos2(layout.left + NUMBER, middle);
    words_at(ui, at, Align2::LEFT_CENTER, &says, STRONG, Ink::Ink);
    for side in 0..form.sides.len() {
        for time in 0..COUNT {
            let at = BoxAt { side, row, time };
            let corner = pos2(layout.x(side, time) + 1.0, middle - TALL / 2.0);
            let place = Rect::from_min_size(corner, vec2(layout.width - 3.0, TALL));
            one_box(ui, shown, form, (at, b), place, doubts.get(&at), asks);
        }
    }
}

/// What is wrong with boxes of a row, in words below it.
fn notes(
    ui: &mut Ui,
    entry: &super::Entry,
    form: &HandForm,
    layout: &Layout,
    (row, b): (usize, &PlanBox),
    doubts: &BTreeMap<BoxAt, Doubt>,
) {
    let mut lines: Vec<(String, Ink)> = Vec::new();
    for (k, side) in form.sides.iter().enumerate() {
        for time in 0..COUNT {
            let at = BoxAt { side: k, row, time };
            let head = || {
                let side = report::words::capital(side_word(side));
                format!("{side}, {}", box_words(b, time))
            };
            if let Some((text, [says, hint])) = entry.refused.get(&at) {
                let says = format!("{}: “{text}” is not taken: {says} {hint}", head());
                lines.push((says, Ink::WillNotFit));
            }
            // Of several of which one is wrong the first says it; the others are marked.
            if let Some(d) = doubts.get(&at).filter(|d| is_named(d) || d.first) {
                let (says, ink) = if is_named(d) {
                    (format!("{}: {}", head(), d.words), Ink::WillNotFit)
                } else {
                    (d.words.clone(), Ink::NotProven)
                };
                lines.push((says, ink));
            }
        }
    }
    let wide = layout.right() - layout.left - NUMBER;
    for (says, ink) in lines {
        ui.horizontal(|ui| {
            ui.add_space(space::INSIDE as f32 + NUMBER);
            ui.vertical(|ui| {
                ui.set_max_width(wide);
                paragraph(ui, &says, CAPTION, ink);
            });
        });
        ui.add_space(space::UNIT as f32);
    }
}

fn one_box(
    ui: &mut Ui,
    shown: Shown,
    form: &HandForm,
    (at, b): (BoxAt, &PlanBox),
    place: Rect,
    doubt: Option<&Doubt>,
    asks: &mut Vec<Act>,
) {
    let theme = theme_of(ui.ctx());
    let entry = &shown.view.entry;
    let side = &form.sides[at.side];
    let of = HandBox::of(b, at.time);
    let held = held_in(shown, side, &of);
    let typing = entry.typing.as_ref().filter(|(of, _)| *of == at);
    let refused = entry.refused.get(&at);
    let mut text = match (typing, refused) {
        (Some((_, text)), _) | (None, Some((text, _))) => text.clone(),
        (None, None) => held.clone(),
    };
    let before = text.clone();
    let id = box_id(at);
    let ink = if refused.is_some() {
        Ink::WillNotFit
    } else {
        Ink::Ink
    };
    let edit = egui::TextEdit::singleline(&mut text)
        .id(id)
        .font(font(NAMED))
        .text_color(colour(theme, ink))
        .frame(egui::Frame::NONE)
        .align(Align2::LEFT_CENTER)
        .clip_text(true);
    let asked = at.time < usize::from(b.times) || !held.is_empty() || typing.is_some();
    let (edge, wide) = match (refused.is_some(), doubt) {
        (true, _) => (Ink::WillNotFit, 2.0),
        (false, Some(d)) if is_named(d) => (Ink::WillNotFit, 2.0),
        (false, Some(_)) => (Ink::NotProven, 2.0),
        (false, None) if asked => (Ink::Ink, 1.2),
        (false, None) => (Ink::Hair, 1.0),
    };
    let stroke = Stroke::new(wide, colour(theme, edge));
    let ground = colour(theme, Ink::Sheet);
    ui.painter()
        .rect(place, 0.0, ground, stroke, StrokeKind::Inside);
    // Asked for before it takes the keys of this pass: an Enter among them lets go of it again.
    let awaited = entry.focus == Some(at);
    if awaited && !ui.memory(|m| m.has_focus(id)) {
        ui.memory_mut(|m| m.request_focus(id));
    }
    let takes_keys = ui.memory(|m| m.has_focus(id));
    let held_before = takes_keys || ui.data(|d| d.get_temp(held_key(id)) == Some(true));
    let response = ui.put(place.shrink2(vec2(4.0, 0.0)), edit);
    if response.has_focus() {
        ui.data_mut(|d| d.insert_temp(held_key(id), true));
    } else if held_before {
        ui.data_mut(|d| d.remove::<bool>(held_key(id)));
    }
    let label = format!(
        "{}, {}",
        report::words::capital(side_word(side)),
        box_words(b, at.time)
    );
    response.widget_info(|| WidgetInfo {
        label: Some(label.clone()),
        current_text_value: Some(text.clone()),
        ..WidgetInfo::new(Role::TextInput)
    });
    focus_outline(ui, &response.clone().with_new_rect(place));
    if awaited {
        to_be_seen(ui, place, Some(egui::Align::Center));
        asks.push(Act::Enter(Entering::Focus(None)));
    }
    if response.has_focus() && entry.at != Some(at) {
        asks.push(Act::Enter(Entering::At(at)));
        if !awaited {
            to_be_seen(ui, place, None);
        }
        if typing.is_none()
            && text == before
            && !ui.input(|i| i.pointer.any_down() || i.pointer.any_released())
        {
            // What comes by key takes the place of what stands there.
            select_all(ui, id, &text);
        }
    }
    if text != before {
        asks.push(Act::Enter(Entering::Typed(at, Some(text.clone()))));
    }
    if response.has_focus() {
        let step = |key| ui.input(|i| i.key_pressed(key));
        let rows = form.boxes.len();
        let to = match (step(Key::ArrowDown), step(Key::ArrowUp)) {
            (true, _) if at.row + 1 < rows => Some(at.row + 1),
            (_, true) if at.row > 0 => Some(at.row - 1),
            _ => None,
        };
        if let Some(row) = to {
            asks.push(Act::Enter(Entering::Focus(Some(BoxAt { row, ..at }))));
        }
    }
    // Told from what was seen here: that a field lost the keyboard is announced in two passes.
    if held_before && !response.has_focus() {
        if takes_keys && ui.input(|i| i.key_pressed(Key::Escape)) {
            asks.push(Act::Enter(Entering::Typed(at, None)));
            return;
        }
        take(shown, form, at, &text, asks);
        if takes_keys && ui.input(|i| i.key_pressed(Key::Enter)) {
            go_on(ui, shown, form, at, asks);
        }
    }
}

/// After Enter the next box has the keyboard: what was typed in the same moment is meant for it, and a whole reading with its
/// Enter for the one after.
fn go_on(ui: &Ui, shown: Shown, form: &HandForm, from: BoxAt, asks: &mut Vec<Act>) {
    let mut at = next(form, from);
    for (text, entered) in typed_after_enter(ui) {
        let Some(now) = at else { return };
        if entered {
            if !text.is_empty() {
                take(shown, form, now, &text, asks);
            }
            at = next(form, now);
        } else {
            asks.push(Act::Enter(Entering::Typed(now, Some(text))));
        }
    }
    asks.push(Act::Enter(Entering::Focus(at)));
}

/// Gives the keyboard to the box that is to have it, once all boxes had their turn: the keys of this pass are none of its
/// own, and those of the next are no commands.
fn hand_keyboard_on(ui: &Ui, asks: &[Act]) {
    let to = asks.iter().rev().find_map(|a| match a {
        Act::Enter(Entering::Focus(Some(to))) => Some(*to),
        _ => None,
    });
    let Some(to) = to else { return };
    let id = box_id(to);
    ui.memory_mut(|m| m.request_focus(id));
    if egui::TextEdit::load_state(ui.ctx(), id).is_none() {
        egui::TextEdit::store_state(ui.ctx(), id, egui::text_edit::TextEditState::default());
    }
}

/// What was typed in this pass after the first Enter, reading by reading, and whether another Enter ended it.
fn typed_after_enter(ui: &Ui) -> Vec<(String, bool)> {
    let is_enter = |e: &egui::Event| {
        matches!(
            e,
            egui::Event::Key {
                key: Key::Enter,
                pressed: true,
                ..
            }
        )
    };
    ui.input(|i| {
        let after = i.events.iter().skip_while(|e| !is_enter(e)).skip(1);
        let mut out = Vec::new();
        let mut text = String::new();
        for event in after {
            match event {
                egui::Event::Text(more) => text.push_str(more),
                e if is_enter(e) => out.push((std::mem::take(&mut text), true)),
                _ => {}
            }
        }
        if !text.is_empty() {
            out.push((text, false));
        }
        out
    })
}

/// Where it is kept that a box had the keyboard when it was shown last.
fn held_key(id: Id) -> Id {
    id.with("held")
}

fn box_id(at: BoxAt) -> Id {
    Id::unique(("box of a field sheet", at))
}

/// What a box holds, as it was written.
fn held_in(shown: Shown, side: &HandSide, of: &HandBox) -> String {
    let held = shown.document().hand_reading(side, of);
    held.map_or_else(String::new, |r| {
        if r.written.is_empty() {
            format!("{}", r.value)
        } else {
            r.written.clone()
        }
    })
}

/// What stands in a box when it is left is taken, or said why not.
fn take(shown: Shown, form: &HandForm, at: BoxAt, text: &str, asks: &mut Vec<Act>) {
    let (Some(side), Some(row)) = (form.sides.get(at.side), form.boxes.get(at.row)) else {
        return;
    };
    let of = HandBox::of(row, at.time);
    let held = held_in(shown, side, &of);
    let usual = shown.document().job().units.length == LengthDisplay::Inch;
    let unit = shown.view.entry.inches(usual).then_some(LengthUnit::Inch);
    let was_refused = shown.view.entry.refused.contains_key(&at);
    if text == held && !was_refused {
        asks.push(Act::Enter(Entering::Typed(at, None)));
        return;
    }
    match of.as_written(text, unit) {
        Ok(written) => {
            let command = Command::Hand {
                table: side.table.clone(),
                change: HandChange::Reading {
                    opening: side.opening.clone(),
                    of: of.clone(),
                    written,
                },
            };
            let take = Entering::Take(at, Box::new(command), text.to_owned());
            asks.push(Act::Enter(take));
        }
        Err(why) => {
            let words = [why.says(), why.hint().to_owned()];
            asks.push(Act::Enter(Entering::Refused(at, text.to_owned(), words)));
        }
    }
    asks.push(Act::Enter(Entering::Typed(at, None)));
}

/// Scrolls to a place at once: a picture that glides would be behind the keys.
fn to_be_seen(ui: &Ui, place: Rect, align: Option<egui::Align>) {
    let room = place.expand(ROW);
    ui.scroll_to_rect_animation(room, align, egui::style::ScrollAnimation::none());
}

fn select_all(ui: &Ui, id: Id, text: &str) {
    if let Some(mut state) = egui::TextEdit::load_state(ui.ctx(), id) {
        let all = CCursorRange::two(CCursor::new(0), CCursor::new(text.chars().count()));
        state.cursor.set_char_range(Some(all));
        state.store(ui.ctx(), id);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_are_said_as_boxes_each_by_its_whole_number() {
        let rows = BTreeMap::from([(1, (4, 0)), (14, (0, 1)), (2, (9, 0))]);
        for (says, want) in [
            ("line 14: length from 3 to 7", "box 1: length from 3 to 7"),
            ("(line 1) and (line 2)", "(box 5) and (box 10)"),
            (
                "line 3 is not there; line 1 is",
                "line 3 is not there; box 5 is",
            ),
            ("a straight line joins them", "a straight line joins them"),
            ("no line", "no line"),
        ] {
            assert_eq!(in_boxes(says, &rows), want);
        }
    }
}
