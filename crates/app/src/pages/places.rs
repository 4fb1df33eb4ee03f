//! Naming the places: edges, tops, faces, junctions and holes, directly on the points.

mod boxes;
mod list;
mod looping;
mod naming;
pub(crate) mod picture;

use egui::{Align2, Id, Key, Modifiers, Rect, Role, Sense, Ui, WidgetInfo, pos2, vec2};
use record::{Opening, OpeningId, Prepared, Relation, ScanId, Side};
use report::theme::{Ink, space};

use super::bring_in::within;
use crate::controls::{switch_at, words_at};
use crate::fields::{BLOCK, Fields, paint_field};
use crate::letter::{BODY, CAPTION, STRONG};
use crate::scan_view::ScanView;
use crate::shown::Shown;
use crate::state::Act;

pub use naming::{Naming, Tool};
use naming::{edge_is_lost, keep, opening, resized, skip};

/// Shows the page.
pub fn show(
    ui: &mut Ui,
    shown: Shown,
    fields: &Fields,
    screen: &mut ScanView,
    asks: &mut Vec<Act>,
) {
    let page = fields.page;
    let column_width = BLOCK[0].min(page.width() * 0.42);
    let column = Rect::from_min_max(
        pos2(page.max.x - column_width, page.min.y),
        pos2(page.max.x, page.max.y - BLOCK[1]),
    );
    let tools = Rect::from_min_max(
        pos2(page.min.x, page.max.y - 56.0),
        pos2(column.min.x, page.max.y),
    );
    let task = Rect::from_min_max(page.min, pos2(column.min.x, page.min.y + 40.0));
    let picture = Rect::from_min_max(
        pos2(page.min.x, task.max.y),
        pos2(column.min.x, tools.min.y),
    );
    let scan = scan_of(shown);
    task_line(ui, shown, task);
    let mut picture_id = None;
    if let Some((scan, prepared)) = &scan {
        let seen = (scan, prepared.as_ref());
        picture_id = Some(picture::scan_picture(
            ui, shown, picture, seen, screen, asks,
        ));
    } else {
        let says = if shown.document().job().scans.is_empty() {
            "There is no scan in this job."
        } else {
            "The scan stands here once it is read."
        };
        words_at(
            ui,
            picture.center(),
            Align2::CENTER_CENTER,
            says,
            BODY,
            Ink::Ink3,
        );
    }
    tool_row(ui, shown, tools, asks);
    within(ui, column, "places", |ui| {
        if let Some((scan, _)) = scan.as_ref().filter(|_| shown.view.places.tool.loops()) {
            looping::list(ui, shown, scan, asks);
        }
        list::places(ui, shown, asks);
    });
    for field in [task, picture, tools, column] {
        paint_field(ui, field);
    }
    keys(ui, shown, picture_id, asks);
}

/// The scan looked at: the chosen one, else that of the opening, else the first that is ready.
fn scan_of(shown: Shown) -> Option<(ScanId, std::sync::Arc<Prepared>)> {
    let scans = shown.document().scans();
    let of_opening = opening(shown).map(|o| o.scan.clone());
    [
        shown.view.scan.clone(),
        of_opening,
        scans.keys().next().cloned(),
    ]
    .into_iter()
    .flatten()
    .find_map(|id| Some((id.clone(), std::sync::Arc::clone(scans.get(&id)?))))
}

/// What is wanted next, in one line.
fn wanted(shown: Shown) -> String {
    let hand = opening(shown).filter(|o| shown.document().job().hand_of(o).is_some());
    if let Some(o) = hand {
        return format!(
            "{} is measured by hand: its readings stand under Bring in",
            o.name
        );
    }
    if shown.document().scans().is_empty() {
        return "Bring in a scan first".to_owned();
    }
    let drawn = if shown.view.places.boxed {
        "Drag a box over"
    } else {
        "Draw a loop round"
    };
    match shown.view.places.tool {
        Tool::Aside => {
            return format!("{drawn} what does not belong; Shift drag moves");
        }
        Tool::Keep => return format!("{drawn} what is used; Shift drag moves"),
        _ => {}
    }
    if shown.view.places.looking {
        return "Looking at that place".to_owned();
    }
    if let Some(found) = &shown.view.places.found {
        return match &found.found {
            Ok(_) => "Enter keeps it, + and − make a face larger or smaller, Esc skips".to_owned(),
            Err(_) => "Click another place".to_owned(),
        };
    }
    match opening(shown) {
        None => "Click near the edge of an opening".to_owned(),
        Some(o) if o.sureness.is_some() => format!(
            "{} is proposed: Enter keeps it, Esc skips it, Tab or N: the next",
            o.name
        ),
        Some(o) if edge_is_lost(shown, o) => format!(
            "{}: no edge was found where it was clicked; click near it again",
            o.name
        ),
        Some(o) if o.edge.is_none() => format!("{}: click near its edge", o.name),
        Some(o) if o.top.is_none() => format!("{}: click the top of it", o.name),
        Some(o) if o.faces.is_empty() => format!(
            "{}: click a face beside the edge, or the next opening",
            o.name
        ),
        Some(o) if o.junctions.is_empty() && o.faces.len() > 1 => {
            format!("{}: two faces meet? Name the junction", o.name)
        }
        Some(o) => match unanswered_side(shown, o) {
            Some(other) => format!("Next: copy the places across to {other}"),
            None => format!("{} is named. Choose the next opening, or compare", o.name),
        },
    }
}

/// The scan of the other side, where nothing answers this opening yet.
fn unanswered_side(shown: Shown, opening: &Opening) -> Option<ScanId> {
    let job = shown.document().job();
    let other = job.scans.iter().find(|s| s.id != opening.scan)?;
    (!is_answered(shown, opening) && opening.side != Side::Centre).then(|| other.id.clone())
}

/// Whether an opening is compared with another one, or with its own mirror image.
fn is_answered(shown: Shown, opening: &Opening) -> bool {
    let compares = &shown.document().job().compares;
    compares.iter().any(|c| {
        let both = c.b.is_some() || c.relation == Relation::Itself;
        both && (c.a == opening.id || c.b.as_ref() == Some(&opening.id))
    })
}

fn task_line(ui: &mut Ui, shown: Shown, field: Rect) {
    let text = report::sheet::cut(
        &wanted(shown),
        f64::from(field.width()) - 32.0,
        STRONG.0,
        STRONG.1,
    );
    let response = ui.interact(field, ui.scope_id().with("task"), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Status, true, &text));
    words_at(
        ui,
        field.left_center() + vec2(space::INSIDE as f32, 0.0),
        Align2::LEFT_CENTER,
        &text,
        STRONG,
        Ink::Ink,
    );
}

fn tool_row(ui: &mut Ui, shown: Shown, field: Rect, asks: &mut Vec<Act>) {
    let mut x = field.left() + space::INSIDE as f32;
    for tool in Tool::ALL {
        let wide = crate::controls::button_width(tool.word());
        let rect = Rect::from_min_size(pos2(x, field.center().y - 16.0), vec2(wide, 32.0));
        if switch_at(ui, rect, tool.word(), shown.view.places.tool == tool).clicked() {
            let naming = Naming {
                tool,
                found: None,
                says: None,
                ..shown.view.places.clone()
            };
            asks.push(Act::Naming(Box::new(naming)));
        }
        x += wide;
    }
    let hint = "drag: turn · Shift drag or right drag: move · wheel or Ctrl ↑ ↓: nearer, farther · P: the picture by keys";
    let room = f64::from(field.right() - x) - 32.0;
    // A few letters of it would say nothing.
    if room < 160.0 {
        return;
    }
    let hint = report::sheet::cut(hint, room, CAPTION.0, CAPTION.1);
    words_at(
        ui,
        pos2(field.right() - 16.0, field.center().y),
        Align2::RIGHT_CENTER,
        &hint,
        CAPTION,
        Ink::Ink2,
    );
}

/// The proposed opening after the chosen one, round and round.
fn next_proposed(shown: Shown<'_>) -> Option<&Opening> {
    let openings = &shown.document().job().openings;
    let now = opening(shown).map(|o| &o.id);
    let at = openings.iter().position(|o| now == Some(&o.id));
    let from = at.map_or(0, |k| k + 1);
    let after = openings.iter().cycle().skip(from).take(openings.len());
    after.into_iter().find(|o| o.sureness.is_some())
}

/// Turns to an opening: its scan, seen from outside.
fn turn_to(shown: Shown, scan: &ScanId, opening: &OpeningId, asks: &mut Vec<Act>) {
    let naming = Naming {
        opening: Some(opening.clone()),
        camera: None,
        found: None,
        ..shown.view.places.clone()
    };
    asks.push(Act::Scan(scan.clone()));
    asks.push(Act::Naming(Box::new(naming)));
}

/// Keys of the page. A control that has the keyboard takes Enter for itself; Esc then only lets go of it.
fn keys(ui: &Ui, shown: Shown, picture: Option<Id>, asks: &mut Vec<Act>) {
    let held = Id::unique("what had the keyboard on the page of places");
    let before: Option<Id> = ui.data(|d| d.get_temp(held)).flatten();
    let now = ui.memory(egui::Memory::focused);
    ui.data_mut(|d| d.insert_temp(held, now));
    if ui.ctx().text_edit_focused() || shown.view.panel.is_some() {
        return;
    }
    let free = |id: Option<Id>| id.is_none() || id == picture;
    let pressed = |key: Key| ui.input_mut(|i| i.consume_key(Modifiers::NONE, key));
    if free(now)
        && pressed(Key::Enter)
        && let Some(acts) = keep(shown)
    {
        asks.extend(acts);
    }
    if free(before) && pressed(Key::Escape) {
        asks.extend(skip(shown));
    }
    if pressed(Key::Plus) || pressed(Key::Equals) {
        asks.extend(resized(shown, 1.25));
    }
    if pressed(Key::Minus) {
        asks.extend(resized(shown, 0.8));
    }
    if pressed(Key::C)
        && let Some(o) = opening(shown)
    {
        asks.push(Act::CopyAcross(o.id.clone()));
    }
    let tabbed = picture.is_some() && now == picture && pressed(Key::Tab);
    if (tabbed || pressed(Key::N))
        && let Some(o) = next_proposed(shown)
    {
        turn_to(shown, &o.scan, &o.id, asks);
    }
    if pressed(Key::P)
        && let Some(picture) = picture
    {
        ui.memory_mut(|m| m.request_focus(picture));
    }
    for (key, tool) in [
        (Key::E, Tool::Edge),
        (Key::T, Tool::Top),
        (Key::F, Tool::Face),
        (Key::J, Tool::Junction),
        (Key::H, Tool::Hole),
    ] {
        if pressed(key) {
            let naming = Naming {
                tool,
                found: None,
                says: None,
                ..shown.view.places.clone()
            };
            asks.push(Act::Naming(Box::new(naming)));
        }
    }
}
