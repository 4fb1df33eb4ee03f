//! Keys of single pages: the empty sheet, the book, copying.

use egui::{Key, Modifiers};

use crate::shown::Shown;
use crate::state::{Act, Panel};

/// On the empty sheet Enter takes the first line, unless another one has the keyboard.
pub fn start_key(ctx: &egui::Context, panel: bool, asks: &mut Vec<Act>) {
    let free = !panel && !ctx.egui_wants_keyboard_input();
    if free && ctx.input_mut(|i| i.consume_key(Modifiers::NONE, Key::Enter)) {
        asks.push(Act::Panel(Some(Panel::OpenFile(String::new()))));
    }
}

/// Keys of the book.
pub fn book_keys(ctx: &egui::Context, shown: Shown, asks: &mut Vec<Act>) {
    use report::sheet::Pages;
    if ctx.text_edit_focused() || shown.view.panel.is_some() {
        return;
    }
    let mut key = |key: Key, act: Act| {
        if ctx.input_mut(|i| i.consume_key(Modifiers::NONE, key)) {
            asks.push(act);
        }
    };
    key(Key::L, Act::Pages(Pages::A));
    key(Key::R, Act::Pages(Pages::B));
    key(Key::B, Act::Pages(Pages::Both));
    key(Key::X, Act::NextFactor);
    key(Key::E, Act::Strip);
    // With something in hand the arrows go from control to control.
    let free = !ctx.egui_wants_keyboard_input();
    let count = shown.pair().map_or(0, |p| p.measured.stations.len());
    if count > 0 && free {
        let now = shown.view.pointed;
        key(
            Key::ArrowDown,
            Act::Point(Some(now.map_or(0, |k| (k + 1) % count))),
        );
        key(
            Key::ArrowUp,
            Act::Point(Some(now.map_or(count - 1, |k| (k + count - 1) % count))),
        );
    }
    key(Key::Escape, Act::Point(None));
}

/// Ctrl-C the figure pointed at, Ctrl-Shift-C the table.
pub fn copy_keys(ctx: &egui::Context, shown: Shown, asks: &mut Vec<Act>) {
    if ctx.text_edit_focused() && shown.view.panel.is_none() {
        return;
    }
    let shift = ctx.input(|i| i.modifiers.shift);
    let wanted = ctx.input_mut(|i| {
        let before = i.events.len();
        i.events.retain(|e| !matches!(e, egui::Event::Copy));
        i.events.len() < before
    }) || ctx.input_mut(|i| {
        i.consume_key(Modifiers::COMMAND, Key::C)
            || i.consume_key(Modifiers::COMMAND | Modifiers::SHIFT, Key::C)
    });
    let Some(pair) = shown.pair().filter(|_| wanted) else {
        return;
    };
    let hit = match (&shown.view.panel, shown.view.pointed) {
        (Some(Panel::Figure(hit)), _) => Some(hit.clone()),
        (_, Some(k)) => Some(report::sheet::Hit::Station(pair.measured.id.clone(), k)),
        _ => None,
    };
    let text = if shift {
        Some(report::explain::table(&pair))
    } else {
        hit.and_then(|h| report::explain::explain(&pair, &h))
            .map(|e| e.copy)
            .or_else(|| Some(report::pair_text(&pair).full()))
    };
    asks.extend(text.map(Act::Copy));
}
