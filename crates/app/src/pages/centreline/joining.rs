//! Scans joined to common axes: which lies in the axes of which, on what it rests, and how well it holds.

use editor::Command;
use egui::{Sense, Ui, vec2};
use record::{Join, JoinedScan, ScanId};
use report::theme::Ink;

use super::{Leaf, findings_of, go, taped};
use crate::controls::{Weight, button, one_of_rows, paragraph, rule, tick};
use crate::letter::{BODY, CAPTION, CAPTION_HEAD, STRONG};
use crate::paint::{Manner, show_sheet};
use crate::shown::Shown;
use crate::state::Act;

/// Two scans that are being joined.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Joining {
    /// The scan that is joined.
    pub scan: Option<ScanId>,
    /// The scan in whose axes it is to lie.
    pub to: Option<ScanId>,
}

/// The leaf of the joins.
pub(super) fn leaf(ui: &mut Ui, shown: Shown, asks: &mut Vec<Act>) {
    let job = shown.document().job();
    if job.scans.len() < 2 {
        let says = "One scan that shows all of the car needs no joining. Bring in a second one to join it: angles, sizes and fit need no join.";
        paragraph(ui, says, BODY, Ink::Ink);
        return;
    }
    if job.joins.is_empty() {
        let says = "Scans are joined for positions on the car only. Click five places or more in both scans, stickers or corners; three are the least, but bend to fit almost any error.";
        paragraph(ui, says, BODY, Ink::Ink);
    }
    for number in 0..job.joins.len() {
        one_join(ui, shown, number, asks);
        rule(ui, Ink::Hair);
    }
    if can_be_joined(shown) {
        another(ui, shown, asks);
    }
    let joined = &shown.document().study().measured.joined;
    if !job.joins.is_empty() || !job.taped.is_empty() {
        if can_be_joined(shown) {
            rule(ui, Ink::Hair);
        }
        taped::lengths(ui, shown, asks);
    }
    findings_of(ui, &joined.findings);
}

/// So many places in both scans are the least.
const FEWEST: usize = 3;

/// How many places two scans can be joined by so far.
fn shared_words(shown: Shown, join: &Join) -> String {
    match shown.document().job().places_in_both(join).count() {
        0 => "No place is in both scans yet; three are the least, five are wanted.".to_owned(),
        1 => "1 place is in both scans; three are the least, five are wanted.".to_owned(),
        n => format!("{n} places are in both scans; three are the least, five are wanted."),
    }
}

/// Begins and ends clicking the same places in both scans.
fn click_switch(ui: &mut Ui, shown: Shown, join: &Join, asks: &mut Vec<Act>) {
    let line = &shown.view.line;
    let held = [&line.joining.scan, &line.joining.to];
    let clicking = line.picking && held == [&Some(join.scan.clone()), &Some(join.to.clone())];
    let (word, how) = if clicking {
        ("Done clicking", Weight::Filled)
    } else {
        ("Click places in both", Weight::Plain)
    };
    if button(ui, word, how, "").clicked() {
        asks.push(go(shown, |l| l.click_in_both(join, !clicking)));
    }
}

fn one_join(ui: &mut Ui, shown: Shown, number: usize, asks: &mut Vec<Act>) {
    let job = shown.document().job();
    let join = &job.joins[number];
    let head = format!("{} lies in the axes of {}", join.scan, join.to);
    paragraph(ui, &head, STRONG, Ink::Ink);
    let set = |change: &dyn Fn(&mut Vec<Join>)| {
        let mut joins = job.joins.clone();
        change(&mut joins);
        Act::Do(Command::Joins(joins))
    };
    ui.horizontal(|ui| {
        click_switch(ui, shown, join, asks);
        if button(ui, "Take apart", Weight::Plain, "").clicked() {
            asks.push(set(&|joins| {
                joins.remove(number);
            }));
        }
    });
    let mut refine = join.refine;
    if tick(
        ui,
        &mut refine,
        "Lay the surfaces that both show on each other, too",
    )
    .changed()
    {
        asks.push(set(&|joins| joins[number].refine = refine));
    }
    taped::start(ui, shown, number, asks);
    let joined = &shown.document().study().measured.joined;
    let waits = !shown.document().is_fresh();
    match joined.joins.iter().find(|j| j.scan == join.scan) {
        Some(done) => {
            result(ui, shown, done, waits);
        }
        None if waits => {
            paragraph(ui, "Being worked out.", BODY, Ink::Ink2);
        }
        None => {
            paragraph(ui, &shared_words(shown, join), BODY, Ink::Ink);
        }
    }
}

/// What came of it: on what it rests, how well it is known, what each place is off.
fn result(ui: &mut Ui, shown: Shown, done: &JoinedScan, waits: bool) {
    let units = shown.document().job().units;
    paragraph(ui, &report::joins::how(done, units), BODY, Ink::Ink);
    let wide = f64::from(ui.available_width());
    let sheet = report::sheet::join_table(done, units, wide);
    let tall = vec2(sheet.width as f32, sheet.height as f32);
    let (rect, _) = ui.allocate_exact_size(tall, Sense::hover());
    let salt = format!("join {}", done.scan);
    let manner = Manner {
        faded: waits,
        ..Manner::default()
    };
    show_sheet(ui, &salt, &sheet, rect.min, manner, &|_| None);
}

/// Whether another scan can be joined: of those that are joined to none one stays as it is.
fn can_be_joined(shown: Shown) -> bool {
    let job = shown.document().job();
    let joined = |id: &ScanId| job.joins.iter().any(|j| j.scan == *id);
    job.joins.is_empty() || job.scans.iter().filter(|s| !joined(&s.id)).count() > 1
}

/// Two scans are chosen.
fn another(ui: &mut Ui, shown: Shown, asks: &mut Vec<Act>) {
    let job = shown.document().job();
    let joining = &shown.view.line.joining;
    let ids: Vec<&ScanId> = job.scans.iter().map(|s| &s.id).collect();
    let free: Vec<&ScanId> = ids
        .iter()
        .copied()
        .filter(|id| !job.joins.iter().any(|j| j.scan == **id))
        .collect();
    let names = |of: &[&ScanId], before: &str| -> Vec<String> {
        of.iter().map(|id| format!("{before}{id}")).collect()
    };
    for (head, before, of, held) in [
        ("Join the scan", "Join ", &free, &joining.scan),
        ("to lie in the axes of", "To ", &ids, &joining.to),
    ] {
        paragraph(ui, head, CAPTION_HEAD, Ink::Ink2);
        let words = names(of, before);
        let words: Vec<&str> = words.iter().map(String::as_str).collect();
        let at = of.iter().position(|id| held.as_ref() == Some(*id));
        if let Some(i) = one_of_rows(ui, &words, at) {
            let id = of[i].clone();
            asks.push(go(shown, |l| {
                if before == "To " {
                    l.joining.to = Some(id);
                } else {
                    l.joining.scan = Some(id);
                }
            }));
        }
    }
    let both = joining.scan.as_ref().zip(joining.to.as_ref());
    let chosen = both.filter(|(a, b)| a != b);
    let Some((scan, to)) = chosen else {
        let says = "Choose two different scans, then click the same places in both.";
        paragraph(ui, says, CAPTION, Ink::Ink2);
        return;
    };
    let join = Join {
        scan: scan.clone(),
        to: to.clone(),
        places: Vec::new(),
        start: None,
        refine: false,
        note: String::new(),
    };
    paragraph(ui, &shared_words(shown, &join), BODY, Ink::Ink);
    let enough = job.places_in_both(&join).count() >= FEWEST;
    let how = if enough {
        Weight::Filled
    } else {
        Weight::Waiting
    };
    ui.horizontal(|ui| {
        click_switch(ui, shown, &join, asks);
        let waits_for = "Waits for three places in both scans";
        if button(ui, "Join them", how, waits_for).clicked() {
            let mut joins = job.joins.clone();
            joins.push(join.clone());
            asks.push(Act::Do(Command::Joins(joins)));
            asks.push(go(shown, |l| l.leaf = Leaf::Joins));
        }
        // Surfaces need no place, but then it has to be known about where the scan lies.
        let hint = "Where no places are in both: say then about where it lies";
        if !enough && button(ui, "Join by their surfaces", Weight::Plain, hint).clicked() {
            let mut joins = job.joins.clone();
            joins.push(Join {
                refine: true,
                ..join.clone()
            });
            let number = joins.len() - 1;
            asks.push(Act::Do(Command::Joins(joins)));
            asks.push(go(shown, |l| {
                l.leaf = Leaf::Joins;
                l.start = Some((number, editor::TypedStart::default()));
            }));
        }
    });
}
