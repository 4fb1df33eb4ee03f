//! Places of the body clicked in the scan: the left one, then the same on the right, or one on the centre.

use egui::{Align2, EventFilter, Key, Modifiers, Rect, Role, Sense, Ui, WidgetInfo, pos2};
use geom::Point;
use record::{Prepared, ScanId, Side};
use report::theme::{Ink, space};
use view3d::{Behind, MarkForm, Marks, Object, Points, Scene, Shape};

use super::go;
use crate::controls::{focus_outline, words_at};
use crate::letter::{CAPTION, HEAD, STRONG};
use crate::look::theme_of;
use crate::pages::places::picture::{moved, whole_camera};
use crate::scan_view::{ScanView, metal};
use crate::shown::Shown;
use crate::state::Act;

/// Height of the line that says what is wanted.
const TASK: f32 = 60.0;

/// The scan that is clicked in: the one said, else the first that is ready.
pub(super) fn scan_of(shown: Shown) -> Option<(ScanId, std::sync::Arc<Prepared>)> {
    let scans = shown.document().scans();
    let said = ScanId(shown.view.line.typed.scan.clone());
    let id = if scans.contains_key(&said) {
        said
    } else {
        scans.keys().next()?.clone()
    };
    Some((id.clone(), std::sync::Arc::clone(scans.get(&id)?)))
}

/// What is to be clicked next.
fn wanted(shown: Shown) -> String {
    let line = &shown.view.line;
    let name = line.typed.name.trim();
    if line.leaf == super::Leaf::Joins {
        let scan = &line.typed.scan;
        return if name.is_empty() {
            format!("Scan {scan}: click a spot that the other scan shows, too")
        } else {
            format!("Scan {scan}: click the same spot, {name}")
        };
    }
    match (line.number, line.typed.side.as_str()) {
        (Some(_), side) => format!("Click where {name}, {side}, is"),
        (None, "right") if !name.is_empty() => {
            format!("Now the same place on the right: {name}")
        }
        (None, "right") => "Click a place on the right".to_owned(),
        (None, "centre") => "Click a place on the middle of the car".to_owned(),
        (None, _) if name.is_empty() => {
            "Click a place on the left, then the same on the right".to_owned()
        }
        (None, _) => format!("Click {name} on the left, then on the right"),
    }
}

/// Marks of the places of one side in a scan.
fn marked(shown: Shown, scan: &ScanId, sides: &[Side]) -> Vec<Point> {
    let places = shown.document().job().every_place();
    places
        .filter(|p| p.scan == *scan && sides.contains(&p.side))
        .map(|p| p.at)
        .collect()
}

/// Shows the scan with the places in it, and takes clicks.
pub(super) fn show(
    ui: &mut Ui,
    shown: Shown,
    field: Rect,
    screen: &mut ScanView,
    asks: &mut Vec<Act>,
) {
    let task = Rect::from_min_max(field.min, pos2(field.max.x, field.min.y + TASK));
    let picture = Rect::from_min_max(pos2(field.min.x, task.max.y), field.max);
    let Some((scan, prepared)) = scan_of(shown) else {
        let says = "The scan stands here once it is read.";
        words_at(
            ui,
            picture.center(),
            Align2::CENTER_CENTER,
            says,
            CAPTION,
            Ink::Ink2,
        );
        return;
    };
    task_line(ui, shown, task);
    let theme = theme_of(ui.ctx());
    let sides = [
        (
            marked(shown, &scan, &[Side::Left]),
            MarkForm::Ring,
            Ink::Left,
        ),
        (
            marked(shown, &scan, &[Side::Right]),
            MarkForm::Triangle,
            Ink::Right,
        ),
        (
            marked(shown, &scan, &[Side::Centre, Side::NotSaid]),
            MarkForm::Cross,
            Ink::Ink,
        ),
    ];
    let mut scene = Scene::default();
    let own_colours = prepared.blocks.has_colours();
    let mut points = Points::new(&prepared.blocks, metal(theme));
    points.paint.own_share = if own_colours { 1.0 } else { 0.0 };
    scene.objects.push(Object::new(Shape::Points(points)));
    for (places, form, ink) in &sides {
        if places.is_empty() {
            continue;
        }
        scene.objects.push(Object::new(Shape::Marks(Marks {
            points: places,
            form: *form,
            colour: theme.rgb(*ink),
            radius_px: 7.0,
            behind: Behind::Faint(0.5),
            lift_mm: 3.0,
        })));
    }
    let pixels = (
        picture.width().max(1.0) as u32,
        picture.height().max(1.0) as u32,
    );
    let held = shown.view.line.camera.as_ref().filter(|(s, _)| *s == scan);
    let camera = held.map_or_else(|| whole_camera(&prepared, pixels), |(_, c)| *c);
    let key = crate::pages::answer::key_of(&[&scan.0, &prepared.hash, &format!("{sides:?}")]);
    let view = screen.show(ui, picture, camera, &scene, key);
    let id = ui.scope_id().with("places in the scan");
    let response = ui.interact(picture, id, Sense::click_and_drag());
    response
        .widget_info(|| WidgetInfo::labeled(Role::Image, true, format!("Places in scan {scan}")));
    focus_outline(ui, &response);
    let filter = EventFilter {
        horizontal_arrows: true,
        vertical_arrows: true,
        escape: true,
        tab: false,
    };
    ui.memory_mut(|m| m.set_focus_lock_filter(id, filter));
    if let Some(camera) = moved(ui, &response, picture, camera, &prepared, false) {
        asks.push(go(shown, |l| l.camera = Some((scan.clone(), camera))));
    }
    if response.has_focus() {
        words_at(
            ui,
            picture.center(),
            Align2::CENTER_CENTER,
            "+",
            HEAD,
            Ink::Ink,
        );
    }
    let clicked = response
        .clicked_by(egui::PointerButton::Primary)
        .then(|| response.interact_pointer_pos())
        .flatten();
    // From the keyboard the middle of the picture is what is meant.
    let entered = response.has_focus() && ui.input(|i| i.key_pressed(Key::Space));
    if let Some(pointer) = clicked.or(entered.then(|| picture.center())) {
        let at = (pointer - picture.min) * ui.ctx().pixels_per_point();
        match view3d::pick(&scene, &view, f64::from(at.x), f64::from(at.y), 6.0) {
            Some(picked) => asks.push(Act::PickPlace(scan, picked.place_in_object)),
            None => asks.push(Act::Say(
                "there is no metal at that place of the picture".into(),
            )),
        }
    }
    keys(ui, shown, id, asks);
}

/// What is wanted, and how to move the picture.
fn task_line(ui: &mut Ui, shown: Shown, field: Rect) {
    let room = f64::from(field.width()) - 2.0 * space::INSIDE;
    let text = report::sheet::cut(&wanted(shown), room, STRONG.0, STRONG.1);
    let response = ui.interact(field, ui.scope_id().with("pick task"), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Status, true, &text));
    let x = field.left() + space::INSIDE as f32;
    words_at(
        ui,
        pos2(x, field.top() + 20.0),
        Align2::LEFT_CENTER,
        &text,
        STRONG,
        Ink::Ink,
    );
    let hint = "drag: turn · Shift drag: move · wheel: nearer · P: by keys, Space takes the middle · Esc: next";
    let hint = report::sheet::cut(hint, room, CAPTION.0, CAPTION.1);
    words_at(
        ui,
        pos2(x, field.top() + 42.0),
        Align2::LEFT_CENTER,
        &hint,
        CAPTION,
        Ink::Ink2,
    );
    let stroke = egui::Stroke::new(1.0, crate::look::colour(theme_of(ui.ctx()), Ink::Hair));
    ui.painter().hline(field.x_range(), field.max.y, stroke);
}

/// P goes to the picture, Esc leaves the partner that is not seen and begins a new place.
fn keys(ui: &Ui, shown: Shown, picture: egui::Id, asks: &mut Vec<Act>) {
    if ui.ctx().text_edit_focused() || shown.view.panel.is_some() {
        return;
    }
    let pressed = |key: Key| ui.input_mut(|i| i.consume_key(Modifiers::NONE, key));
    if pressed(Key::P) {
        ui.memory_mut(|m| m.request_focus(picture));
    }
    if pressed(Key::Escape) {
        asks.push(go(shown, |l| {
            l.number = None;
            l.typed.name = String::new();
            if l.leaf == super::Leaf::Joins {
                l.typed.scan = l
                    .joining
                    .scan
                    .as_ref()
                    .map(|s| s.0.clone())
                    .unwrap_or_default();
            } else if l.typed.side == "right" {
                "left".clone_into(&mut l.typed.side);
            }
        }));
    }
}

/// The two ways to say a place.
const SWITCH: [&str; 2] = ["Type", "Click in the scan"];

/// Whether places are clicked rather than typed: the two ways beside each other.
pub(super) fn way(ui: &mut Ui, shown: Shown, asks: &mut Vec<Act>) {
    let at = usize::from(shown.view.line.picking);
    if let Some(i) = crate::controls::one_of(ui, &SWITCH, Some(at)) {
        asks.push(go(shown, |l| l.picking = i == 1));
    }
}
