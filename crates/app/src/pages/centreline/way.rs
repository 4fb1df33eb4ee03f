//! How the centreline is laid, in which scan its own mirror image is looked at, and what is forward.

use editor::Command;
use egui::Ui;
use record::{Centreline, CentrelineWay, ScanId, Side};
use report::theme::Ink;

use super::go;
use crate::controls::{Weight, button, one_of_rows, paragraph};
use crate::letter::{CAPTION, CAPTION_HEAD};
use crate::shown::Shown;
use crate::state::Act;

/// The scan that most likely shows the whole body: one of no single side, else the first.
fn whole(shown: Shown) -> Option<ScanId> {
    let scans = &shown.document().job().scans;
    let both = scans
        .iter()
        .find(|s| !matches!(s.side, Side::Left | Side::Right));
    both.or(scans.first()).map(|s| s.id.clone())
}

/// In which scan the own mirror image is looked at: the line itself, or a rival to it.
fn image(ui: &mut Ui, shown: Shown, asks: &mut Vec<Act>) {
    let job = shown.document().job();
    let line = &job.centreline;
    let says = if line.way == CentrelineWay::OwnImage {
        "The scan is laid on its own mirror image; it has to show both sides of the body, in one piece. No places are needed, but something named left or right."
    } else {
        "A scan that shows both sides of the body can be laid on its own mirror image as a rival to the line:"
    };
    paragraph(ui, says, CAPTION, Ink::Ink2);
    let mut words: Vec<String> = job
        .scans
        .iter()
        .map(|s| format!("Image of {}", s.id))
        .collect();
    words.push("No image".to_owned());
    let now = line.image_of.as_ref();
    let at = job.scans.iter().position(|s| now == Some(&s.id));
    let at = at.unwrap_or(job.scans.len());
    let names: Vec<&str> = words.iter().map(String::as_str).collect();
    if let Some(i) = one_of_rows(ui, &names, Some(at)) {
        let image_of = job.scans.get(i).map(|s| s.id.clone());
        // Without its scan there is no such line: pairs are the usual one.
        let way = match (&line.way, &image_of) {
            (CentrelineWay::OwnImage, None) => CentrelineWay::Pairs,
            (way, _) => way.clone(),
        };
        asks.push(Act::Do(Command::Centreline(Box::new(Centreline {
            way,
            image_of,
            ..line.clone()
        }))));
    }
}

/// How the centreline is laid, and what is forward.
pub(super) fn used(ui: &mut Ui, shown: Shown, asks: &mut Vec<Act>) {
    let line = &shown.document().job().centreline;
    let set = |to: Centreline| Act::Do(Command::Centreline(Box::new(to)));
    paragraph(ui, "The line is laid by", CAPTION_HEAD, Ink::Ink2);
    let ways = [
        CentrelineWay::Pairs,
        CentrelineWay::CentrePlaces,
        CentrelineWay::OwnImage,
        CentrelineWay::None,
    ];
    let at = ways.iter().position(|w| *w == line.way);
    let names = [
        "Pairs",
        "Places on the centre",
        "Own mirror image",
        "No line wanted",
    ];
    if let Some(i) = one_of_rows(ui, &names, at) {
        let way = ways[i].clone();
        let image_of = match way {
            CentrelineWay::OwnImage => line.image_of.clone().or_else(|| whole(shown)),
            _ => line.image_of.clone(),
        };
        asks.push(set(Centreline {
            way,
            image_of,
            ..line.clone()
        }));
    }
    if at.is_none() {
        let says = "By three, two and one places, as the job file says.";
        paragraph(ui, says, CAPTION, Ink::Ink2);
    }
    image(ui, shown, asks);
    let says = match (&line.front, &line.rear, &shown.view.line.front) {
        (Some(front), Some(rear), None) => format!("Forward: from {rear} to {front}."),
        (_, _, Some(front)) => format!("Forward: towards {front}, from which place? Press its row, then Rear."),
        _ if shown.document().job().every_place().next().is_none() => {
            "What is forward is taken from the tops of the openings.".to_owned()
        }
        _ => "What is forward is taken from the run of the places and the tops. To say it, press the row of a place, then Front or Rear.".to_owned(),
    };
    paragraph(ui, &says, CAPTION, Ink::Ink2);
    let named = shown
        .view
        .line
        .number
        .and_then(|k| shown.document().job().every_place().nth(k));
    let Some(place) = named else { return };
    ui.horizontal(|ui| {
        if button(ui, "Front", Weight::Plain, "This place is at the front").clicked() {
            match line.rear.as_ref().filter(|r| **r != place.name) {
                Some(_) => asks.push(set(Centreline {
                    front: Some(place.name.clone()),
                    ..line.clone()
                })),
                None => asks.push(go(shown, |l| l.front = Some(place.name.clone()))),
            }
        }
        let front = shown.view.line.front.as_ref().or(line.front.as_ref());
        let front = front.filter(|f| **f != place.name);
        let how = if front.is_some() {
            Weight::Plain
        } else {
            Weight::Waiting
        };
        if button(ui, "Rear", how, "Say the front first").clicked() {
            asks.push(set(Centreline {
                front: front.cloned(),
                rear: Some(place.name.clone()),
                ..line.clone()
            }));
            asks.push(go(shown, |l| l.front = None));
        }
        if line.front.is_some() && button(ui, "Not said", Weight::Plain, "").clicked() {
            asks.push(set(Centreline {
                front: None,
                rear: None,
                ..line.clone()
            }));
        }
    });
}
