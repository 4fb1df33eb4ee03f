//! Controls of our own: square, ruled in ink, each with role and name.

use egui::{Align2, Rect, Response, Role, Sense, Stroke, StrokeKind, Ui, Vec2, WidgetInfo};
use report::theme::{Ink, line, size, space, text_width, weight};

use crate::letter::{BODY, CAPTION_NAMED, HEADED, Letter, NAMED};
use crate::look::{colour, font, theme_of};

/// How a button stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Weight {
    /// Filled: the one thing to do here.
    Filled,
    /// Outlined.
    Plain,
    /// Waiting: says what for when pointed at.
    Waiting,
}

/// The outline of what has the keyboard; what just got it is brought into sight where its column scrolls.
pub fn focus_outline(ui: &Ui, response: &Response) {
    if response.gained_focus() {
        let still = egui::style::ScrollAnimation::none();
        ui.scroll_to_rect_animation(response.rect, None, still);
    }
    if response.has_focus() {
        let ink = colour(theme_of(ui.ctx()), Ink::Ink);
        let outline = Stroke::new(line::FOCUS as f32, ink);
        let rect = response.rect.expand(line::FOCUS as f32);
        ui.painter()
            .rect_stroke(rect, 0.0, outline, StrokeKind::Outside);
    }
}

/// An id that stays while the control moves, as in a column that scrolls: by its words, and where several of one layout have
/// the same, by which of them it is. So the keyboard stays with it.
fn own_id(ui: &Ui, words: (&str, &str)) -> egui::Id {
    let id = ui.scope_id().with(words);
    let pass = ui.ctx().cumulative_pass_nr();
    let before = ui.data_mut(|d| {
        let (of, count) = d.get_temp_mut_or(id.with("how many"), (pass, 0_u32));
        if *of != pass {
            (*of, *count) = (pass, 0);
        }
        *count += 1;
        *count - 1
    });
    id.with(before)
}

/// Width a button of that text takes.
pub fn button_width(text: &str) -> f32 {
    (text_width(text, size::BODY, weight::MEDIUM) + 2.0 * space::INSIDE) as f32
}

/// A button at a place; `hint` says more about it, or what it waits for.
pub fn button_at(ui: &mut Ui, rect: Rect, text: &str, how: Weight, hint: &str) -> Response {
    let theme = theme_of(ui.ctx());
    let of = |ink| colour(theme, ink);
    let enabled = how != Weight::Waiting;
    let id = own_id(ui, ("button", text));
    let sense = if enabled {
        Sense::click()
    } else {
        Sense::hover()
    };
    let response = ui.interact(rect, id, sense);
    response.widget_info(|| WidgetInfo::labeled(Role::Button, enabled, text));
    let hovered = response.hovered() && enabled;
    let (fill, edge, ink) = match how {
        Weight::Filled => (Ink::Ink, Ink::Ink, Ink::OnInk),
        Weight::Plain if hovered => (Ink::Pick, Ink::Ink, Ink::Ink),
        Weight::Plain => (Ink::Sheet, Ink::Ink2, Ink::Ink),
        Weight::Waiting => (Ink::Pick, Ink::Ink3, Ink::Ink3),
    };
    let wide = if hovered { line::FOCUS } else { line::FIELD };
    let painter = ui.painter();
    painter.rect(
        rect,
        0.0,
        of(fill),
        Stroke::new(wide as f32, of(edge)),
        StrokeKind::Inside,
    );
    painter.text(
        rect.center(),
        Align2::CENTER_CENTER,
        text,
        font(NAMED),
        of(ink),
    );
    focus_outline(ui, &response);
    if hint.is_empty() {
        response
    } else {
        response.on_hover_text(hint)
    }
}

/// Underlined words that can be pressed, the middle of their left edge at `at`.
pub fn underlined_at(ui: &mut Ui, at: egui::Pos2, words: &str) -> Response {
    let wide = text_width(words, CAPTION_NAMED.0, CAPTION_NAMED.1) as f32;
    let high = space::CAPTION as f32;
    let rect = Rect::from_min_size(at - Vec2::new(0.0, high / 2.0), Vec2::new(wide, high));
    let id = ui.scope_id().with(("underlined", words));
    let response = ui.interact(rect, id, Sense::click());
    response.widget_info(|| WidgetInfo::labeled(Role::Button, true, words));
    let seen = words_at(ui, at, Align2::LEFT_CENTER, words, CAPTION_NAMED, Ink::Ink);
    let wide = if response.hovered() {
        line::FOCUS
    } else {
        line::FIELD
    };
    let stroke = Stroke::new(wide as f32, colour(theme_of(ui.ctx()), Ink::Ink));
    ui.painter()
        .hline(seen.x_range(), seen.bottom() + 1.0, stroke);
    focus_outline(ui, &response);
    response
}

/// A button in the flow of a layout.
pub fn button(ui: &mut Ui, text: &str, how: Weight, hint: &str) -> Response {
    let (rect, _) = ui.allocate_exact_size(
        Vec2::new(button_width(text), space::CONTROL as f32),
        Sense::hover(),
    );
    button_at(ui, rect, text, how, hint)
}

/// A row of choices of which one holds; the index of one newly taken.
pub fn one_of(ui: &mut Ui, names: &[&str], holds: Option<usize>) -> Option<usize> {
    let mut taken = None;
    ui.horizontal(|ui| {
        ui.spacing_mut().item_spacing.x = 0.0;
        for (i, name) in names.iter().enumerate() {
            let size = Vec2::new(button_width(name), space::SMALL_CONTROL as f32);
            let (rect, _) = ui.allocate_exact_size(size, Sense::hover());
            if switch_at(ui, rect, name, holds == Some(i)).clicked() {
                taken = Some(i);
            }
        }
    });
    taken
}

/// As [`one_of`], in as many rows as there is need for.
pub fn one_of_rows(ui: &mut Ui, names: &[&str], holds: Option<usize>) -> Option<usize> {
    let room = ui.available_width();
    let (mut taken, mut first) = (None, 0);
    while first < names.len() {
        let mut wide = 0.0;
        let fit = names[first..].iter().take_while(|name| {
            wide += button_width(name);
            wide <= room
        });
        let end = first + fit.count().max(1);
        let here = holds
            .filter(|k| (first..end).contains(k))
            .map(|k| k - first);
        if let Some(i) = one_of(ui, &names[first..end], here) {
            taken = Some(first + i);
        }
        first = end;
    }
    taken
}

/// One cell of a row of choices.
pub fn switch_at(ui: &mut Ui, rect: Rect, name: &str, on: bool) -> Response {
    let theme = theme_of(ui.ctx());
    let id = own_id(ui, ("switch", name));
    let response = ui.interact(rect, id, Sense::click());
    response.widget_info(|| WidgetInfo::selected(Role::RadioButton, true, on, name));
    let (fill, ink) = match (on, response.hovered()) {
        (true, _) => (Ink::Ink, Ink::OnInk),
        (false, true) => (Ink::Pick, Ink::Ink),
        (false, false) => (Ink::Sheet, Ink::Ink),
    };
    let edge = Stroke::new(line::FIELD as f32, colour(theme, Ink::Ink2));
    ui.painter()
        .rect(rect, 0.0, colour(theme, fill), edge, StrokeKind::Inside);
    ui.painter().text(
        rect.center(),
        Align2::CENTER_CENTER,
        name,
        font(NAMED),
        colour(theme, ink),
    );
    focus_outline(ui, &response);
    response
}

/// A box to tick with its words; whether it changed.
pub fn tick(ui: &mut Ui, on: &mut bool, words: &str) -> Response {
    let theme = theme_of(ui.ctx());
    let wide = text_width(words, size::BODY, weight::REGULAR) as f32 + 28.0;
    let (rect, mut response) =
        ui.allocate_exact_size(Vec2::new(wide, space::SMALL_CONTROL as f32), Sense::click());
    if response.clicked() {
        *on = !*on;
        response.mark_changed();
    }
    let now = *on;
    response.widget_info(|| WidgetInfo::selected(Role::CheckBox, true, now, words));
    let mark = Rect::from_center_size(
        egui::pos2(rect.left() + 9.0, rect.center().y),
        Vec2::splat(18.0),
    );
    let (fill, edge) = if now {
        (Ink::Ink, Ink::Ink)
    } else {
        (Ink::Sheet, Ink::Ink2)
    };
    let painter = ui.painter();
    painter.rect(
        mark,
        0.0,
        colour(theme, fill),
        Stroke::new(1.0, colour(theme, edge)),
        StrokeKind::Inside,
    );
    if now {
        let at = |x: f32, y: f32| mark.min + Vec2::new(x, y);
        let stroke = Stroke::new(2.0, colour(theme, Ink::OnInk));
        painter.line_segment([at(4.0, 9.5), at(7.5, 13.0)], stroke);
        painter.line_segment([at(7.5, 13.0), at(14.0, 5.0)], stroke);
    }
    let at = egui::pos2(mark.right() + 10.0, rect.center().y);
    painter.text(
        at,
        Align2::LEFT_CENTER,
        words,
        font(BODY),
        colour(theme, Ink::Ink),
    );
    focus_outline(ui, &response);
    response
}

/// Words at a place; `size` and `weight` from the tokens.
pub fn words_at(
    ui: &Ui,
    at: egui::Pos2,
    anchor: Align2,
    text: &str,
    letter: Letter,
    ink: Ink,
) -> Rect {
    let colour = colour(theme_of(ui.ctx()), ink);
    ui.painter().text(at, anchor, text, font(letter), colour)
}

/// The sentence of a page and one line below it, at the head of the page, announced as a label.
pub fn headed(ui: &mut Ui, field: Rect, head: &str, more: &str) {
    let room = f64::from(field.width()) - 2.0 * space::INSIDE;
    let response = ui.interact(field, ui.scope_id().with("head"), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, format!("{head} {more}")));
    let at = field.min + Vec2::new(space::INSIDE as f32, 36.0);
    let head = report::sheet::cut(head, room, HEADED.0, HEADED.1);
    words_at(ui, at, Align2::LEFT_CENTER, &head, HEADED, Ink::Ink);
    let more = report::sheet::cut(more, room, BODY.0, BODY.1);
    let below = at + Vec2::new(0.0, 32.0);
    words_at(ui, below, Align2::LEFT_CENTER, &more, BODY, Ink::Ink2);
}

/// A paragraph in the flow of a layout, wrapped, announced as a label.
pub fn paragraph(ui: &mut Ui, text: &str, letter: Letter, ink: Ink) -> Response {
    let colour = colour(theme_of(ui.ctx()), ink);
    ui.add(egui::Label::new(egui::RichText::new(text).font(font(letter)).color(colour)).wrap())
}

/// A line to type in, as wide as there is room, announced by its label.
pub fn text_line(ui: &mut Ui, label: &str, hint: &str, text: &mut String) -> Response {
    let edit = egui::TextEdit::singleline(text)
        .font(font(BODY))
        .align(Align2::LEFT_CENTER)
        .hint_text(hint)
        .min_size(Vec2::new(0.0, space::SMALL_CONTROL as f32))
        .desired_width(f32::INFINITY);
    let response = ui.add(edit);
    response.widget_info(|| WidgetInfo {
        label: Some(label.to_owned()),
        current_text_value: Some(text.clone()),
        ..WidgetInfo::new(Role::TextInput)
    });
    response
}

/// A line between fields or rows across the layout.
pub fn rule(ui: &mut Ui, ink: Ink) {
    let (rect, _) = ui.allocate_exact_size(Vec2::new(ui.available_width(), 1.0), Sense::hover());
    let stroke = Stroke::new(line::HAIR as f32, colour(theme_of(ui.ctx()), ink));
    ui.painter().hline(rect.x_range(), rect.center().y, stroke);
}
