//! Lengths taped between places, which check what is joined, and the start of a join, as they are typed.

use editor::{Command, TypedLength, TypedStart};
use egui::Ui;
use record::{Place, Side};
use report::theme::Ink;

use super::{go, narrow, side_word};
use crate::controls::{Weight, button, one_of_rows, paragraph};
use crate::letter::{BODY, CAPTION, CAPTION_HEAD};
use crate::shown::Shown;
use crate::state::Act;

/// So many places are offered for what is typed so far.
const OFFERED: usize = 6;

/// "sill end, left"
fn words_of(name: &str, side: Side) -> String {
    match side {
        Side::NotSaid => name.to_owned(),
        side => format!("{name}, {}", side_word(side)),
    }
}

/// The lengths there are, and the one being typed.
pub(super) fn lengths(ui: &mut Ui, shown: Shown, asks: &mut Vec<Act>) {
    let job = shown.document().job();
    let joined = &shown.document().study().measured.joined;
    paragraph(
        ui,
        "Taped lengths, scans minus tape",
        CAPTION_HEAD,
        Ink::Ink2,
    );
    if job.taped.is_empty() && !job.joins.is_empty() {
        let says = "No taped length checks the joins: a drift along the car or a wrong scale is found by nothing else.";
        paragraph(ui, says, CAPTION, Ink::Ink2);
    }
    for (k, taped) in job.taped.iter().enumerate() {
        let [from, to] = [&taped.from, &taped.to].map(|p| words_of(&p.name, p.side));
        let row = joined.lengths.iter().find(|r| {
            let names = |p: &record::PlaceName, said: &str| said.contains(&p.name);
            names(&taped.from, &r.from) && names(&taped.to, &r.to)
        });
        let says = match row {
            Some(row) if shown.document().is_fresh() => report::joins::taped_text(row, job.units),
            _ => format!("{from} to {to}."),
        };
        paragraph(ui, &says, CAPTION, Ink::Ink);
        if button(ui, &format!("Delete {from} to {to}"), Weight::Plain, "").clicked() {
            let mut all = job.taped.clone();
            all.remove(k);
            asks.push(Act::Do(Command::Taped(all)));
        }
    }
    let mut typed = shown.view.line.tape.clone();
    let mut entered = false;
    ui.horizontal(|ui| {
        let wide = ((ui.available_width() - 8.0) / 2.0).min(240.0);
        let from = ("Taped from", "sill end, left");
        entered |= narrow(ui, wide, from, &mut typed.from).lost_focus();
        let to = ("To", "tail seam, left");
        entered |= narrow(ui, wide, to, &mut typed.to).lost_focus();
    });
    offer(ui, shown, &mut typed);
    ui.horizontal(|ui| {
        entered |= narrow(ui, 140.0, ("Length, mm", "3120"), &mut typed.length).lost_focus();
        let doubt = ("Give or take, mm", "1.5");
        entered |= narrow(ui, 140.0, doubt, &mut typed.u95).lost_focus();
    });
    if let Some([says, hint]) = &shown.view.line.tape_refused {
        paragraph(ui, says, BODY, Ink::WillNotFit);
        paragraph(ui, hint, CAPTION, Ink::Ink2);
    }
    let entered = entered && ui.input(|i| i.key_pressed(egui::Key::Enter));
    let blank = [&typed.from, &typed.to, &typed.length]
        .into_iter()
        .any(|t| t.trim().is_empty());
    let how = if blank {
        Weight::Waiting
    } else {
        Weight::Filled
    };
    if typed != shown.view.line.tape {
        let now = typed.clone();
        asks.push(go(shown, |l| l.tape = now));
    }
    if button(
        ui,
        "Take the length",
        how,
        "Waits for two places and a length",
    )
    .clicked()
        || (entered && !blank)
    {
        asks.push(Act::TakeLength);
    }
}

/// Places that begin as what is typed in the end that is not one yet.
fn offer(ui: &mut Ui, shown: Shown, typed: &mut TypedLength) {
    let job = shown.document().job();
    let mut known: Vec<String> = Vec::new();
    for Place { name, side, .. } in job.every_place() {
        let words = words_of(name, *side);
        if !known.contains(&words) {
            known.push(words);
        }
    }
    let is = |text: &str| known.iter().any(|k| k == text.trim());
    let (end, text) = if is(&typed.from) {
        ("To ", &mut typed.to)
    } else {
        ("From ", &mut typed.from)
    };
    if is(text) {
        return;
    }
    let begun = text.trim().to_lowercase();
    let fit = known
        .iter()
        .filter(|k| k.to_lowercase().starts_with(&begun));
    let fit: Vec<&String> = fit.take(OFFERED).collect();
    let words: Vec<String> = fit.iter().map(|k| format!("{end}{k}")).collect();
    let names: Vec<&str> = words.iter().map(String::as_str).collect();
    if let Some(i) = one_of_rows(ui, &names, None) {
        text.clone_from(fit[i]);
    }
}

/// About where a joined scan lies, as long as no three places say so: said, changed and taken back.
pub(super) fn start(ui: &mut Ui, shown: Shown, number: usize, asks: &mut Vec<Act>) {
    let job = shown.document().job();
    let Some(join) = job.joins.get(number) else {
        return;
    };
    let open = shown.view.line.start.as_ref().filter(|(k, _)| *k == number);
    let Some((_, typed)) = open else {
        let word = match &join.start {
            Some(_) => "Change the start",
            None => "Say about where it lies",
        };
        let hint = "A turn and a shift from the axes of the one to those of the other; only where no three places say so";
        if button(ui, word, Weight::Plain, hint).clicked() {
            let typed = TypedStart::of(join.start.as_ref());
            asks.push(go(shown, |l| l.start = Some((number, typed))));
        }
        return;
    };
    let mut typed = typed.clone();
    let says = format!(
        "From the axes of {} to those of {}: a turn about an axis, right-handed, then a shift.",
        join.scan, join.to
    );
    paragraph(ui, &says, CAPTION, Ink::Ink2);
    ui.horizontal(|ui| {
        for (k, head) in ["Axis x", "Axis y", "Axis z"].into_iter().enumerate() {
            narrow(ui, 92.0, (head, "0"), &mut typed.axis[k]);
        }
        narrow(ui, 92.0, ("Turn, °", "0"), &mut typed.turn);
    });
    ui.horizontal(|ui| {
        for (k, head) in ["Shift x, mm", "Shift y, mm", "Shift z, mm"]
            .into_iter()
            .enumerate()
        {
            narrow(ui, 92.0, (head, "0"), &mut typed.shift[k]);
        }
        narrow(ui, 92.0, ("Within, mm", ""), &mut typed.within);
    });
    if let Some([says, hint]) = &shown.view.line.start_refused {
        paragraph(ui, says, BODY, Ink::WillNotFit);
        paragraph(ui, hint, CAPTION, Ink::Ink2);
    }
    if typed != open.map(|(_, t)| t.clone()).unwrap_or_default() {
        let now = typed.clone();
        asks.push(go(shown, |l| l.start = Some((number, now))));
    }
    ui.horizontal(|ui| {
        if button(ui, "Take the start", Weight::Filled, "All blank: no start").clicked() {
            asks.push(Act::TakeStart);
        }
        if button(ui, "Leave it", Weight::Plain, "").clicked() {
            asks.push(go(shown, |l| {
                l.start = None;
                l.start_refused = None;
            }));
        }
    });
}
