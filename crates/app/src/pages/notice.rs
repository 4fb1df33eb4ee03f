//! What went wrong beside the window, said on a page.

use editor::{Lane, Notice};
use egui::Ui;
use report::theme::{Ink, space};

use crate::controls::{Weight, button, paragraph};
use crate::letter::{BODY, CAPTION};
use crate::shown::Shown;
use crate::state::Act;

/// What went wrong beside the window, what to do, and a way to put the note away.
pub fn notice(ui: &mut Ui, notice: &Notice, asks: &mut Vec<Act>) {
    ui.add_space(space::GAP as f32);
    let sentence = |text: &str| report::words::full_stop(&report::words::capital(text));
    paragraph(ui, &sentence(&notice.says), BODY, Ink::Ink);
    if !notice.advice.is_empty() {
        paragraph(ui, &sentence(&notice.advice), CAPTION, Ink::Ink2);
    }
    if button(ui, "Put this note away", Weight::Plain, "").clicked() {
        asks.push(Act::PutAway(notice.number));
    }
}

/// Why work of a lane is not under way: what went wrong in it, else that it was called off.
pub fn why_called_off(ui: &mut Ui, shown: Shown, lane: Lane, says: &str, asks: &mut Vec<Act>) {
    let notices = shown.document().notices().iter();
    match notices.rev().find(|n| n.lane == lane) {
        Some(fault) => notice(ui, fault, asks),
        None => {
            paragraph(ui, says, BODY, Ink::Ink);
        }
    }
}
