//! What stands round every page: the plan on the left, the sentence of the worked example, the title block.

use egui::{Rect, Ui};
use report::sheet::{place_on_plan, plan_field, title_block, units_word};
use report::theme::{Ink, size, space, weight};

use crate::fields::{BLOCK, fill_field, paint_field};
use crate::lesson;
use crate::letter::{BODY, CAPTION_HEAD, HEAD};
use crate::paint::{Manner, paint_sheet, show_sensing};
use crate::shown::Shown;
use crate::state::Act;
use crate::{controls, look, pages};

/// The plan of the coach with every pair, and below it the sentence of the worked example.
pub fn plan(ui: &mut Ui, shown: Shown, field: Rect, asks: &mut Vec<Act>) {
    fill_field(ui, field, Ink::Field);
    let mut plan = field;
    if let Some(lesson) = &shown.view.lesson {
        plan.max.y -= SLIP;
        let slip = Rect::from_min_max(egui::pos2(field.min.x, plan.max.y), field.max);
        let ladder = shown.pair().is_none_or(|p| !p.measured.angles.is_empty());
        prompt(ui, lesson.prompt(ladder), slip, asks);
    }
    let cars = shown.cars();
    if !cars.is_empty() {
        plan.max.y -= car_height(cars.len());
        let slip = Rect::from_min_size(
            egui::pos2(field.min.x, plan.max.y),
            egui::vec2(field.width(), car_height(cars.len())),
        );
        which_car(ui, shown, &cars, slip, asks);
    }
    let field = plan;
    let pairs = shown.pairs();
    let chosen = shown.pair().map(|p| p.measured.id.clone());
    let size = [f64::from(field.width()), f64::from(field.height())];
    let sheet = plan_field(&pairs, chosen.as_ref(), size);
    let says = |hit: &report::sheet::Hit| match hit {
        report::sheet::Hit::Pair(id) => pairs.iter().find(|p| p.measured.id == *id).map(|p| {
            format!(
                "{}: {}",
                p.title(),
                report::words::verdict(report::pair_text(p).verdict).to_lowercase()
            )
        }),
        _ => None,
    };
    let sense = (Manner::default(), egui::Sense::click_and_drag());
    let answers = show_sensing(ui, "plan", &sheet, field.min, sense, &says);
    drag(&answers, &pairs, (field, size), asks);
    if let Some(report::sheet::Hit::Pair(id)) = answers.clicked() {
        asks.push(Act::Pair(id.clone()));
    }
    paint_field(ui, field);
}

/// Height of the slip with so many cars.
fn car_height(cars: usize) -> f32 {
    48.0 + 34.0 * cars as f32
}

/// Whose openings the pages show, below the plan.
fn which_car(ui: &mut Ui, shown: Shown, cars: &[&str], slip: Rect, asks: &mut Vec<Act>) {
    let at = slip.min + egui::vec2(space::INSIDE as f32, 18.0);
    controls::words_at(
        ui,
        at,
        egui::Align2::LEFT_CENTER,
        "The pages show",
        CAPTION_HEAD,
        Ink::Ink2,
    );
    let wide = slip.width() - 2.0 * space::INSIDE as f32;
    for (k, car) in cars.iter().enumerate() {
        let corner = slip.min + egui::vec2(space::INSIDE as f32, 34.0 + 34.0 * k as f32);
        let rect = Rect::from_min_size(corner, egui::vec2(wide, space::SMALL_CONTROL as f32));
        let room = f64::from(wide) - 12.0;
        let name = report::sheet::cut(car, room, size::BODY, weight::MEDIUM);
        let on = shown.car() == Some(*car);
        let response = controls::switch_at(ui, rect, &name, on);
        let response = if name == *car {
            response
        } else {
            response.on_hover_text(*car)
        };
        if response.clicked() && !on {
            asks.push(Act::Car((*car).to_owned()));
        }
    }
    paint_field(ui, slip);
}

/// A part is put where it is dragged to; off the body it goes back to the row below.
fn drag(
    answers: &crate::paint::Answers,
    pairs: &[report::Pair],
    (field, size): (Rect, [f64; 2]),
    asks: &mut Vec<Act>,
) {
    for (hit, response) in &answers.hits {
        let report::sheet::Hit::Pair(id) = hit else {
            continue;
        };
        let Some(pair) = pairs.iter().find(|p| p.measured.id == *id) else {
            continue;
        };
        if response.dragged()
            && let Some(pointer) = response.interact_pointer_pos()
        {
            let at: [f32; 2] = (pointer - field.min).into();
            let mut to = place_on_plan(pairs, size, at.map(f64::from));
            if pair.measured.sides[0] == record::Side::Centre {
                to = to.map(|[along, _]| [along, 0.0]);
            }
            if to != pair.part.and_then(|p| p.place) {
                let change = editor::PartChange::Place(to);
                let part = pair.measured.part.clone();
                asks.push(Act::DoLive(editor::Command::part(part, change)));
            }
        }
        if response.drag_stopped() {
            asks.push(Act::Settle);
        }
    }
}

/// How far along the body, and how far aside, in words.
const ALONG: [(&str, f64); 6] = [
    ("Nose", 0.0),
    ("Front", 0.12),
    ("Cowl", 0.33),
    ("Doors", 0.5),
    ("Rear", 0.75),
    ("Tail", 0.98),
];
const ASIDE: [(&str, f64); 4] = [
    ("Middle", 0.0),
    ("Inner", 0.35),
    ("Outer", 0.7),
    ("Side", 1.0),
];

/// Where on the coach a part sits, in words that can be pressed.
pub fn place(ui: &mut Ui, shown: Shown, id: &record::PartId, asks: &mut Vec<Act>) {
    let parts = &shown.document().job().choices.parts;
    let Some(part) = parts.iter().find(|p| p.id == *id) else {
        return;
    };
    let head = format!("Where on the coach {} sits", part.name);
    controls::paragraph(ui, &head, HEAD, Ink::Ink);
    let says = "For the plan only: no figure hangs on it. On the plan a part can be dragged as well. Parts without a place stand in a row below the body.";
    controls::paragraph(ui, says, BODY, Ink::Ink2);
    let nearest = |all: &[(&str, f64)], v: f64| {
        (0..all.len()).min_by(|a, b| (all[*a].1 - v).abs().total_cmp(&(all[*b].1 - v).abs()))
    };
    let now = part.place;
    let mut go = |to: Option<[f64; 2]>| {
        let change = editor::PartChange::Place(to);
        asks.push(Act::Do(editor::Command::part(id.clone(), change)));
    };
    controls::paragraph(ui, "Along the body", CAPTION_HEAD, Ink::Ink2);
    let at = now.and_then(|p| nearest(&ALONG, p[0]));
    if let Some(i) = controls::one_of(ui, &ALONG.map(|a| a.0), at) {
        go(Some([ALONG[i].1, now.map_or(0.7, |p| p[1])]));
    }
    controls::paragraph(ui, "From the middle", CAPTION_HEAD, Ink::Ink2);
    let at = now.and_then(|p| nearest(&ASIDE, p[1]));
    if let Some(i) = controls::one_of(ui, &ASIDE.map(|a| a.0), at) {
        go(Some([now.map_or(0.12, |p| p[0]), ASIDE[i].1]));
    }
    ui.add_space(space::GAP as f32);
    if now.is_some() && controls::button(ui, "Off the plan", controls::Weight::Plain, "").clicked()
    {
        go(None);
    }
}

/// Height of the slip with a sentence of the worked example.
const SLIP: f32 = 204.0;

/// The sentence of the worked example, below the plan.
fn prompt(ui: &mut Ui, (at, says): (usize, &str), slip: Rect, asks: &mut Vec<Act>) {
    fill_field(ui, slip, Ink::Sheet);
    paint_field(ui, slip);
    pages::bring_in::within(ui, slip, "worked example", |ui| {
        let count = format!("Worked example, {} of {}", at + 1, lesson::PROMPTS.len());
        controls::paragraph(ui, &count, CAPTION_HEAD, Ink::Ink2);
        controls::paragraph(ui, says, BODY, Ink::Ink);
        let hint = "The coach stays open; the sentences go";
        if controls::button(ui, "Enough", controls::Weight::Plain, hint).clicked() {
            asks.push(Act::EndLesson);
        }
    });
}

/// The title block, always lower right.
pub fn block(ui: &Ui, sheet: Rect, shown: Option<Shown>) {
    let size = [BLOCK[0].min(sheet.width() * 0.4), BLOCK[1]];
    let at = sheet.max - egui::vec2(size[0], size[1]);
    let none = || "none".to_owned();
    let (units, line, state, pair, saved) = match shown {
        None => (
            "not set".to_owned(),
            "not needed yet".to_owned(),
            "not stated".to_owned(),
            none(),
            none(),
        ),
        Some(shown) => {
            let job = shown.document().job();
            let pair = shown.pair().map_or_else(none, |p| p.measured.id.0.clone());
            let file = if shown.document().is_saved() {
                "saved"
            } else {
                "not saved"
            };
            let positions = shown.document().study().positions.as_ref();
            let laid = positions.and_then(|p| p.laid.as_ref());
            (
                units_word(job.units).to_owned(),
                laid.map_or_else(
                    || "not needed yet".to_owned(),
                    report::positions::laid_short,
                ),
                body_state(shown),
                pair,
                file.to_owned(),
            )
        }
    };
    let cells = [
        ("Units", units),
        ("Centreline", line),
        ("Body state", state),
        ("Left, right", "seated facing front".to_owned()),
        ("Pair", pair),
        ("Job file", saved),
    ];
    let block = title_block(&cells, size.map(f64::from));
    paint_sheet(ui, &block, at, look::theme_of(ui.ctx()), Manner::default());
}

fn body_state(shown: Shown) -> String {
    use record::{Mounting, Surface};
    let job = shown.document().job();
    let Some(visit) = job.visits.first() else {
        return "not stated".to_owned();
    };
    let mounting = match visit.state.mounting {
        Mounting::NotNoted => "not noted",
        Mounting::OnMounts => "on mounts",
        Mounting::OnStands => "on stands",
    };
    let word = |s: Surface| match s {
        Surface::NotNoted => None,
        Surface::Bare => Some("bare"),
        Surface::Primed => Some("primed"),
        Surface::Painted => Some("painted"),
    };
    match (word(visit.state.left), word(visit.state.right)) {
        (Some(l), Some(r)) if l == r => format!("{mounting}; {l}"),
        (Some(l), Some(r)) => format!("L {l}, R {r}"),
        _ => mounting.to_owned(),
    }
}
