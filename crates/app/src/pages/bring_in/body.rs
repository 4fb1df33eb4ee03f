//! The state of the body while it was measured: how it stood, what covered it, its doors.

use editor::{Command, VisitChange};
use egui::Ui;
use record::{Mounting, Side, Surface, Visit};
use report::theme::{Ink, space};

use super::chosen;
use crate::controls::{one_of, paragraph};
use crate::letter::{BODY, CAPTION_HEAD};
use crate::shown::Shown;
use crate::state::Act;

/// Asks for the state of the body during the visit of the scan that is looked at.
pub(in crate::pages) fn body_state(ui: &mut Ui, shown: Shown, asks: &mut Vec<Act>) {
    paragraph(
        ui,
        "State of the body while it was measured",
        CAPTION_HEAD,
        Ink::Ink2,
    );
    let job = shown.document().job();
    let Some(visit) = chosen(shown)
        .and_then(|s| job.visits.iter().find(|v| v.id == s.visit))
        .or_else(|| job.visits.first())
    else {
        paragraph(ui, "Asked once a scan is there.", BODY, Ink::Ink2);
        return;
    };
    let mut ask =
        |change: VisitChange| asks.push(Act::Do(Command::visit(visit.id.clone(), change)));
    mounting(ui, visit, &mut ask);
    surfaces(ui, visit, &mut ask);
    paragraph(ui, "Doors", CAPTION_HEAD, Ink::Ink2);
    let doors = [None, Some(true), Some(false)];
    let at = doors.iter().position(|d| *d == visit.state.doors_hung);
    if let Some(i) = one_of(ui, &["Not noted", "Hung, shut", "Off"], at) {
        ask(VisitChange::DoorsHung(doors[i]));
    }
    ui.add_space(space::WIDE_GAP as f32);
    paragraph(ui, "Why it is asked", CAPTION_HEAD, Ink::Ink2);
    paragraph(
        ui,
        "A primed side stands about 0.15 mm proud of a bare one, and load alone can move a gap by 2 mm. Not stated, that would be \
         read as a difference of the body. “Not noted” is a legal answer; the doubt then stands beside the verdict.",
        BODY,
        Ink::Ink2,
    );
}

fn mounting(ui: &mut Ui, visit: &Visit, ask: &mut dyn FnMut(VisitChange)) {
    paragraph(ui, "Standing", CAPTION_HEAD, Ink::Ink2);
    let all = [Mounting::NotNoted, Mounting::OnMounts, Mounting::OnStands];
    let at = all.iter().position(|m| *m == visit.state.mounting);
    if let Some(i) = one_of(ui, &["Not noted", "On its mounts", "On stands"], at) {
        ask(VisitChange::Mounting(all[i]));
    }
}

fn surfaces(ui: &mut Ui, visit: &Visit, ask: &mut dyn FnMut(VisitChange)) {
    let all = [
        Surface::NotNoted,
        Surface::Bare,
        Surface::Primed,
        Surface::Painted,
    ];
    for (side, name, now) in [
        (Side::Left, "Left side", visit.state.left),
        (Side::Right, "Right side", visit.state.right),
    ] {
        ui.push_id(name, |ui| {
            paragraph(ui, name, CAPTION_HEAD, Ink::Ink2);
            let at = all.iter().position(|s| *s == now);
            if let Some(i) = one_of(ui, &["Not noted", "Bare", "Primed", "Painted"], at) {
                ask(VisitChange::Surface {
                    side,
                    surface: all[i],
                });
            }
        });
    }
}
