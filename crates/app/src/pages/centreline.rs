//! The centreline: places and what they are out, how well the line is known, and what hangs on it.

mod joining;
mod lining;
mod picking;
mod taped;
mod way;

use editor::{Command, TypedPlace};
use egui::{Align2, Rect, Role, Sense, Ui, WidgetInfo, pos2, vec2};
use record::{Laid, Place, Positions, Severity, Side};
use report::positions::{NOT_NEEDED, centreline_text, in_all, misfit_text};
use report::sheet::{answer_field, centreline_doubt, places_from_above, positions_table};
use report::theme::{Ink, space};

use super::bring_in::within;
use crate::controls::{
    Weight, button, focus_outline, one_of, paragraph, rule, text_line, words_at,
};
use crate::fields::{BLOCK, Fields, fill_field, paint_field};
use crate::letter::{BODY, CAPTION, CAPTION_HEAD, STRONG};
use crate::paint::{Manner, show_sheet};
use crate::scan_view::ScanView;
use crate::shown::Shown;
use crate::state::Act;

pub use lining::{Leaf, Lining};

/// Height of the sentence.
const ANSWER: f32 = 96.0;
/// The sides a place can have, in words.
const SIDES: [&str; 3] = ["Left", "Right", "Centre"];

/// Shows the page.
pub fn show(
    ui: &mut Ui,
    shown: Shown,
    fields: &Fields,
    screen: &mut ScanView,
    asks: &mut Vec<Act>,
) {
    let page = Rect::from_min_max(
        pos2(fields.sheet.min.x, fields.page.min.y),
        fields.sheet.max,
    );
    let answer = Rect::from_min_max(page.min, pos2(page.max.x, page.min.y + ANSWER));
    let left = if fields.wide {
        400.0
    } else {
        292.0_f32.min(page.width() * 0.25)
    };
    let middle = if fields.wide {
        360.0
    } else {
        252.0_f32.min(page.width() * 0.22)
    };
    let above = Rect::from_min_max(
        pos2(page.min.x, answer.max.y),
        pos2(page.min.x + left, page.max.y),
    );
    let doubt = Rect::from_min_max(
        pos2(above.max.x, answer.max.y),
        pos2(above.max.x + middle, page.max.y),
    );
    let column = Rect::from_min_max(
        pos2(doubt.max.x, answer.max.y),
        pos2(page.max.x, page.max.y - BLOCK[1]),
    );
    let next = Rect::from_min_max(
        pos2(doubt.max.x, column.max.y),
        pos2(
            page.max.x - BLOCK[0].min(fields.sheet.width() * 0.4),
            page.max.y,
        ),
    );
    sentence(ui, shown, answer);
    let study = shown.document().study();
    let positions = study.positions.as_ref();
    let laid = positions.and_then(|p| p.laid.as_ref());
    if shown.view.line.picking {
        picking::show(ui, shown, above.union(doubt), screen, asks);
    } else {
        fill_field(ui, above, Ink::Field);
        pictures(ui, shown, laid, above, doubt);
    }
    within(ui, column, "centreline", |ui| {
        leaves(ui, shown, positions, asks);
    });
    if let Some(positions) = positions {
        within(ui, next, "measure next", |ui| {
            paragraph(
                ui,
                &report::positions::next(positions, &study.measured.joined),
                CAPTION,
                Ink::Ink,
            );
        });
    }
    let parted: &[Rect] = if shown.view.line.picking {
        &[above.union(doubt)]
    } else {
        &[above, doubt]
    };
    for field in [answer, column, next].iter().chain(parted) {
        paint_field(ui, *field);
    }
}

fn size_of(field: Rect) -> [f64; 2] {
    [f64::from(field.width()), f64::from(field.height())]
}

fn sentence(ui: &mut Ui, shown: Shown, field: Rect) {
    let mut text = centreline_text(shown.document().study());
    if shown.document().work().next().is_some() || !shown.document().is_fresh() {
        text.cure = format!("{NOT_NEEDED} Being worked out.");
    }
    let sheet = answer_field(&text, size_of(field));
    show_sheet(
        ui,
        "centreline answer",
        &sheet,
        field.min,
        Manner::default(),
        &|_| None,
    );
}

fn pictures(ui: &mut Ui, shown: Shown, laid: Option<&Laid>, above: Rect, doubt: Rect) {
    let units = shown.document().job().units;
    let Some(laid) = laid else {
        for (field, says) in [
            (
                above,
                "The places stand here, seen from above, with what each pair is out.",
            ),
            (
                doubt,
                "How well the line is known along the car stands here.",
            ),
        ] {
            within(ui, field, says, |ui| {
                paragraph(ui, says, CAPTION, Ink::Ink2);
            });
        }
        return;
    };
    for (name, sheet, at) in [
        (
            "places from above",
            places_from_above(laid, units, size_of(above)),
            above.min,
        ),
        (
            "doubt of the line",
            centreline_doubt(laid, units, size_of(doubt)),
            doubt.min,
        ),
    ] {
        show_sheet(ui, name, &sheet, at, Manner::default(), &|_| None);
    }
}

fn go(shown: Shown, change: impl FnOnce(&mut Lining)) -> Act {
    let mut lining = shown.view.line.clone();
    change(&mut lining);
    Act::Lining(Box::new(lining))
}

fn leaves(ui: &mut Ui, shown: Shown, positions: Option<&Positions>, asks: &mut Vec<Act>) {
    let laid = positions.and_then(|p| p.laid.as_ref());
    let leaf = match shown.view.line.leaf {
        Leaf::Figures if laid.is_none() => Leaf::Places,
        leaf => leaf,
    };
    let all = [
        ("What hangs on it", Leaf::Figures),
        ("Places", Leaf::Places),
        ("Joined scans", Leaf::Joins),
    ];
    let there = if laid.is_some() { &all[..] } else { &all[1..] };
    let names: Vec<&str> = there.iter().map(|(name, _)| *name).collect();
    let at = there.iter().position(|(_, of)| *of == leaf);
    if let Some(i) = one_of(ui, &names, at) {
        let to = there[i].1;
        asks.push(go(shown, |l| l.open_leaf(to)));
    }
    let laid = match (leaf, laid) {
        (Leaf::Joins, _) => {
            joining::leaf(ui, shown, asks);
            return;
        }
        (Leaf::Figures, Some(laid)) => laid,
        _ => {
            places(ui, shown, positions, laid, asks);
            return;
        }
    };
    let wide = f64::from(ui.available_width());
    let sheet = positions_table(laid, shown.document().job().units, wide);
    let (rect, _) = ui.allocate_exact_size(
        vec2(sheet.width as f32, sheet.height as f32),
        Sense::hover(),
    );
    show_sheet(
        ui,
        "positions",
        &sheet,
        rect.min,
        Manner::default(),
        &|_| None,
    );
    paragraph(ui, report::positions::START, CAPTION, Ink::Ink2);
    findings(ui, positions);
}

/// Doubts, the gravest first.
fn findings(ui: &mut Ui, positions: Option<&Positions>) {
    if let Some(positions) = positions {
        findings_of(ui, &positions.findings);
    }
}

/// Doubts of one kind, the gravest first.
fn findings_of(ui: &mut Ui, of: &[record::Finding]) {
    let mut all: Vec<&record::Finding> = of.iter().collect();
    all.sort_by_key(|f| std::cmp::Reverse(f.severity));
    if all.is_empty() {
        return;
    }
    rule(ui, Ink::Hair);
    paragraph(ui, "Doubts", CAPTION_HEAD, Ink::Ink2);
    for f in all {
        let ink = if f.severity == Severity::Note {
            Ink::Ink2
        } else {
            Ink::Ink
        };
        paragraph(ui, &report::finding_text(f), CAPTION, ink);
    }
}

/// The places, how they are used, and the one being typed.
fn places(
    ui: &mut Ui,
    shown: Shown,
    positions: Option<&Positions>,
    laid: Option<&Laid>,
    asks: &mut Vec<Act>,
) {
    let job = shown.document().job();
    let none = job.every_place().next().is_none();
    if none {
        paragraph(
            ui,
            "A place is a spot you find again on both sides: a bolt, a corner, the end of a sill. Six pairs over the whole length of the car, all picked in one scan.",
            BODY,
            Ink::Ink,
        );
    }
    if job.scans.is_empty() {
        paragraph(
            ui,
            "Bring in one scan that shows both sides of the car first: places are picked in its axes.",
            BODY,
            Ink::Ink,
        );
        return;
    }
    entry(ui, shown, asks);
    rule(ui, Ink::Hair);
    if none {
        paragraph(
            ui,
            "Or paste a table here (Ctrl V): name;side;x;y;z;sigma, a place in each line.",
            CAPTION,
            Ink::Ink2,
        );
        rule(ui, Ink::Hair);
        way::used(ui, shown, asks);
        findings(ui, positions);
        return;
    }
    list(ui, shown, laid, asks);
    if let Some(table) = &job.places_table {
        let name = table.path.file_name().unwrap_or(table.path.as_os_str());
        let says = match &table.unread {
            Some([says, hint]) => report::words::full_stop(&format!("{says}. {hint}")),
            None => format!(
                "Rows {} and on come from {}. A change is kept in the job; the file stays as it is.",
                job.places.len() + 1,
                name.to_string_lossy()
            ),
        };
        paragraph(ui, &says, CAPTION, Ink::Ink2);
    }
    rule(ui, Ink::Hair);
    way::used(ui, shown, asks);
    if laid.is_none() {
        findings(ui, positions);
    }
}

fn side_word(side: Side) -> &'static str {
    match side {
        Side::Right => "right",
        Side::Centre => "centre",
        Side::Left | Side::NotSaid => "left",
    }
}

/// A narrow field with its caption above it.
fn narrow(
    ui: &mut Ui,
    wide: f32,
    (label, hint): (&str, &str),
    text: &mut String,
) -> egui::Response {
    ui.vertical(|ui| {
        ui.set_width(wide);
        ui.spacing_mut().item_spacing.y = space::UNIT as f32;
        paragraph(ui, label, CAPTION, Ink::Ink2);
        text_line(ui, label, hint, text)
    })
    .inner
}

/// The place being typed.
fn entry(ui: &mut Ui, shown: Shown, asks: &mut Vec<Act>) {
    let lining = &shown.view.line;
    let mut typed = lining.typed.clone();
    let head = match lining.number {
        Some(k) => format!("Place {}", k + 1),
        None => "A new place".to_owned(),
    };
    ui.horizontal(|ui| {
        picking::way(ui, shown, asks);
        paragraph(ui, &head, CAPTION_HEAD, Ink::Ink2);
    });
    let scans: Vec<&str> = shown
        .document()
        .job()
        .scans
        .iter()
        .map(|s| s.id.0.as_str())
        .collect();
    let mut entered = false;
    ui.horizontal(|ui| {
        entered |= narrow(
            ui,
            220.0,
            ("Name, without its side", "sill end"),
            &mut typed.name,
        )
        .lost_focus();
        ui.vertical(|ui| {
            ui.spacing_mut().item_spacing.y = space::UNIT as f32;
            paragraph(ui, "Side", CAPTION, Ink::Ink2);
            let at = SIDES
                .iter()
                .position(|s| s.eq_ignore_ascii_case(&typed.side));
            if let Some(i) = one_of(ui, &SIDES, at) {
                typed.side = SIDES[i].to_lowercase();
            }
        });
    });
    ui.horizontal(|ui| {
        for (k, axis) in ["x, mm", "y, mm", "z, mm"].into_iter().enumerate() {
            entered |= narrow(ui, 108.0, (axis, "0.0"), &mut typed.at[k]).lost_focus();
        }
        let pick = ("Second pick differs by", "0.5");
        entered |= narrow(ui, 150.0, pick, &mut typed.sigma).lost_focus();
    });
    if scans.len() > 1 {
        paragraph(ui, "Picked in the scan", CAPTION, Ink::Ink2);
        ui.horizontal_wrapped(|ui| {
            let at = scans.iter().position(|s| *s == typed.scan);
            if let Some(i) = one_of(ui, &scans, at) {
                scans[i].clone_into(&mut typed.scan);
            }
        });
    }
    if let Some([says, hint]) = &lining.refused {
        paragraph(ui, says, BODY, Ink::WillNotFit);
        paragraph(ui, hint, CAPTION, Ink::Ink2);
    }
    let entered = entered && ui.input(|i| i.key_pressed(egui::Key::Enter));
    if typed != lining.typed {
        let now = typed.clone();
        asks.push(go(shown, |l| l.typed = now));
    }
    ui.horizontal(|ui| {
        let (word, how) = match lining.number {
            _ if typed.name.trim().is_empty() => ("Take the place", Weight::Waiting),
            Some(_) => ("Change the place", Weight::Filled),
            None => ("Take the place", Weight::Filled),
        };
        if button(ui, word, how, "Enter").clicked() || (entered && how != Weight::Waiting) {
            asks.push(Act::TakePlace);
        }
        if let Some(number) = lining.number {
            if button(ui, "Delete the place", Weight::Plain, "").clicked() {
                asks.push(Act::Do(Command::RemovePlace(number)));
                asks.push(go(shown, |l| {
                    l.number = None;
                    l.taken();
                }));
            }
            if button(ui, "A new one instead", Weight::Plain, "").clicked() {
                asks.push(go(shown, |l| {
                    l.number = None;
                    l.taken();
                }));
            }
        }
    });
}

/// The places in rows that can be pressed.
fn list(ui: &mut Ui, shown: Shown, laid: Option<&Laid>, asks: &mut Vec<Act>) {
    let job = shown.document().job();
    let units = job.units;
    let count = job.every_place().count();
    let heads = if count == 1 {
        "1 place".to_owned()
    } else {
        format!("{count} places")
    };
    let (rect, _) = ui.allocate_exact_size(vec2(ui.available_width(), 18.0), Sense::hover());
    let right = |share: f32| pos2(rect.left() + share * rect.width(), rect.center().y);
    words_at(
        ui,
        rect.left_center(),
        Align2::LEFT_CENTER,
        &heads,
        CAPTION_HEAD,
        Ink::Ink2,
    );
    for (share, head) in [(0.58, "back"), (0.70, "out"), (0.82, "up"), (1.0, "in all")] {
        if laid.is_some() {
            words_at(
                ui,
                right(share),
                Align2::RIGHT_CENTER,
                head,
                CAPTION,
                Ink::Ink2,
            );
        }
    }
    ui.spacing_mut().item_spacing.y = 0.0;
    for (number, place) in job.every_place().enumerate() {
        let (rect, response) = ui.allocate_exact_size(
            vec2(ui.available_width(), space::ROW as f32),
            Sense::click(),
        );
        let on = shown.view.line.number == Some(number);
        let says = format!("Place {}, {}", place.name, side_word(place.side));
        response.widget_info(|| WidgetInfo::selected(Role::Button, true, on, &says));
        let row = laid.and_then(|l| l.places.iter().find(|p| p.name == place.name));
        let aside = row.is_some_and(|r| !r.kept);
        if on || response.hovered() {
            fill_field(ui, rect.expand2(vec2(8.0, 0.0)), Ink::Pick);
        } else if aside {
            fill_field(ui, rect.expand2(vec2(8.0, 0.0)), Ink::WillNotFitTint);
        }
        if response.clicked() {
            asks.push(go(shown, |l| {
                l.number = Some(number);
                l.typed = typed_of(place);
                l.refused = None;
            }));
        }
        focus_outline(ui, &response);
        let y = rect.center().y;
        let ink = match place.side {
            Side::Left => Ink::Left,
            Side::Right => Ink::Right,
            Side::Centre | Side::NotSaid => Ink::Ink2,
        };
        let room = 0.30 * f64::from(rect.width());
        let name = report::sheet::cut(&place.name, room, STRONG.0, STRONG.1);
        words_at(
            ui,
            pos2(rect.left(), y),
            Align2::LEFT_CENTER,
            &name,
            STRONG,
            Ink::Ink,
        );
        let at = pos2(rect.left() + 0.32 * rect.width(), y);
        words_at(
            ui,
            at,
            Align2::LEFT_CENTER,
            side_word(place.side),
            CAPTION,
            ink,
        );
        // What a pair is out stands once, beside its left place.
        let Some(row) = row.filter(|_| place.side != Side::Right) else {
            continue;
        };
        let [back, out, up] = row.misfit_mm;
        let cells = if row.centre {
            [String::new(), misfit_text(out / 2.0, units), String::new()]
        } else {
            [back, out, up].map(|v| misfit_text(v, units))
        };
        let strong = if aside { Ink::WillNotFit } else { Ink::Ink };
        for (share, cell) in [0.58, 0.70, 0.82].into_iter().zip(cells) {
            let at = pos2(rect.left() + share * rect.width(), y);
            words_at(ui, at, Align2::RIGHT_CENTER, &cell, BODY, Ink::Ink);
        }
        let all = in_all(row, units);
        let all = if aside { format!("aside, {all}") } else { all };
        words_at(
            ui,
            pos2(rect.right(), y),
            Align2::RIGHT_CENTER,
            &all,
            STRONG,
            strong,
        );
    }
    ui.spacing_mut().item_spacing.y = space::GAP as f32;
}

fn typed_of(place: &Place) -> TypedPlace {
    let number = |v: f64| format!("{}", (v * 1e4).round() / 1e4);
    TypedPlace {
        name: place.name.clone(),
        side: side_word(place.side).to_owned(),
        scan: place.scan.0.clone(),
        at: [place.at.x, place.at.y, place.at.z].map(number),
        sigma: number(place.sigma_mm),
    }
}
