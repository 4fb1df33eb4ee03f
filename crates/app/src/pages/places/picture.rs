//! The scan with everything named in it, and clicks on it.

use editor::{Command, OpeningChange, ProbeAt, Probed};
use egui::{
    Align2, EventFilter, Id, Key, Modifiers, PointerButton, Rect, Role, Sense, Ui, WidgetInfo,
    pos2, vec2,
};
use geom::{Point, Vector};
use record::{
    EdgeKind, EdgePick, FaceId, FacePick, HoleId, HoleKind, HolePick, Prepared, ScanId, Side,
};
use report::theme::{Ink, space};
use view3d::{Behind, Camera, Line, MarkForm, Marks, Object, Points, Scene, Shape, View};

use super::naming::{Naming, Tool, free_name, opening, side_of};
use crate::controls::{switch_at, words_at};
use crate::letter::{BODY, HEAD, STRONG};
use crate::look::theme_of;
use crate::scan_view::{ScanView, metal};
use crate::shown::Shown;
use crate::state::Act;

/// The scan with everything named in it.
pub(super) fn scan_picture(
    ui: &mut Ui,
    shown: Shown,
    field: Rect,
    (scan, prepared): (&ScanId, &Prepared),
    screen: &mut ScanView,
    asks: &mut Vec<Act>,
) -> Id {
    let theme = theme_of(ui.ctx());
    let size = (
        field.width().max(1.0) as u32,
        field.height().max(1.0) as u32,
    );
    let camera = shown
        .view
        .places
        .camera
        .as_ref()
        .filter(|(s, _)| s == scan)
        .map_or_else(|| first_camera(shown, scan, prepared, size), |(_, c)| *c);
    let side = side_of(shown, scan);
    let ink = if side == Side::Right {
        Ink::Right
    } else {
        Ink::Left
    };
    let own_colours = shown.view.places.own_colours && prepared.blocks.has_colours();
    let drawn = Drawn::of(shown, scan);
    let scene = drawn.scene(
        (prepared, own_colours),
        theme.rgb(ink),
        theme.rgb(Ink::Ink),
        metal(theme),
    );
    let key = crate::pages::answer::key_of(&[
        &scan.0,
        &prepared.hash,
        &format!("{:?}", shown.view.places.found.as_ref().map(|f| f.number)),
        &format!("{:?} {:?} {own_colours}", drawn.version, drawn.boxes),
    ]);
    let view = screen.show(ui, field, camera, &scene, key);
    let id = ui.scope_id().with("scan picture");
    let response = ui.interact(field, id, Sense::click_and_drag());
    response.widget_info(|| {
        WidgetInfo::labeled(
            Role::Image,
            true,
            format!("Scan {scan}, {} points", prepared.blocks.len()),
        )
    });
    crate::controls::focus_outline(ui, &response);
    // Arrows move the picture while it has the keyboard, and Esc skips what was found. Tab takes the next proposal while
    // there is one, else it leaves the picture; Shift-Tab always leaves it.
    let filter = EventFilter {
        horizontal_arrows: true,
        vertical_arrows: true,
        escape: true,
        tab: super::next_proposed(shown).is_some() && !ui.input(|i| i.modifiers.shift),
    };
    ui.memory_mut(|m| m.set_focus_lock_filter(id, filter));
    // Both in one moment: the picture lets go of the keyboard.
    if response.has_focus() && ui.input_mut(|i| i.consume_key(Modifiers::SHIFT, Key::Tab)) {
        ui.memory_mut(|m| m.surrender_focus(id));
    }
    let shift = ui.input(|i| i.modifiers.shift);
    let looping = shown.view.places.tool.loops() && !shift;
    if looping {
        super::looping::draw(
            ui,
            shown,
            field,
            (scan, prepared),
            screen.picture(),
            &response,
            asks,
        );
    }
    if let Some(moved) = moved(ui, &response, field, camera, prepared, looping) {
        let naming = Naming {
            camera: Some((scan.clone(), moved)),
            ..shown.view.places.clone()
        };
        asks.push(Act::Naming(Box::new(naming)));
    }
    let per_point = f64::from(ui.ctx().pixels_per_point());
    let clicked = response
        .clicked_by(PointerButton::Primary)
        .then(|| response.interact_pointer_pos())
        .flatten();
    // From the keyboard the middle of the picture is what is meant.
    let entered =
        (response.has_focus() && ui.input(|i| i.key_pressed(Key::Space))).then(|| field.center());
    if response.has_focus() {
        words_at(
            ui,
            field.center(),
            Align2::CENTER_CENTER,
            "+",
            HEAD,
            Ink::Ink,
        );
    }
    if let Some(pointer) = clicked.or(entered) {
        let at = (pointer - field.min).to_pos2();
        pick(
            shown,
            scan,
            &scene,
            &view,
            (f64::from(at.x) * per_point, f64::from(at.y) * per_point),
            asks,
        );
    }
    let says = match side {
        Side::Left => "LEFT",
        Side::Right => "RIGHT",
        Side::Centre => "ACROSS",
        Side::NotSaid => "SIDE NOT SAID",
    };
    let corner = field.min + vec2(space::INSIDE as f32, 20.0);
    let named = words_at(ui, corner, Align2::LEFT_CENTER, says, STRONG, ink);
    words_at(
        ui,
        pos2(named.right() + 8.0, corner.y),
        Align2::LEFT_CENTER,
        &format!("scan {scan}, seen from outside"),
        BODY,
        Ink::Ink2,
    );
    if prepared.blocks.has_colours() {
        colours_switch(ui, shown, field, asks);
    }
    id
}

/// Turns the colours of the scan on and off: pen marks and tape show in nothing else.
fn colours_switch(ui: &mut Ui, shown: Shown, field: Rect, asks: &mut Vec<Act>) {
    let naming = &shown.view.places;
    let name = "Own colours";
    let size = vec2(
        crate::controls::button_width(name),
        space::SMALL_CONTROL as f32,
    );
    let corner = pos2(
        field.right() - size.x - space::GAP as f32,
        field.top() + space::GAP as f32,
    );
    let key = !ui.ctx().text_edit_focused()
        && shown.view.panel.is_none()
        && ui.input_mut(|i| i.consume_key(Modifiers::NONE, Key::O));
    let rect = Rect::from_min_size(corner, size);
    if switch_at(ui, rect, name, naming.own_colours).clicked() || key {
        let naming = Naming {
            own_colours: !naming.own_colours,
            ..naming.clone()
        };
        asks.push(Act::Naming(Box::new(naming)));
    }
}

/// How far an arrow moves the picture, points of the screen.
const STEP: f64 = 16.0;
/// The same with Alt.
const FINE_STEP: f64 = 2.0;

/// Looks at the opening from outside, or at the whole scan along its thinnest direction.
fn first_camera(shown: Shown, scan: &ScanId, prepared: &Prepared, size: (u32, u32)) -> Camera {
    let study = shown.document().study();
    let measured = opening(shown).filter(|o| o.scan == *scan).and_then(|o| {
        let m = study.measured.openings.iter().find(|m| m.id == o.id)?;
        // Where its edge was not found, its axes may be anywhere.
        (m.edge.is_some() || o.edge.is_none()).then_some(m)
    });
    if let Some(m) = measured {
        let scan_from_part = m.part_from_scan.inverse();
        let middle = scan_from_part * Point::origin();
        let camera = Camera::along(
            middle,
            &(scan_from_part * -Vector::z()),
            &(scan_from_part * Vector::y()),
        );
        let reach = m.edge.as_ref().map_or(200.0, |e| {
            e.stations
                .iter()
                .map(|s| s.at.coords.norm())
                .fold(60.0, f64::max)
        });
        return Camera {
            mm_per_px: 3.2 * reach / f64::from(size.0.min(size.1).max(1)),
            ..camera
        };
    }
    whole_camera(prepared, size)
}

/// Looks at a whole scan along its thinnest direction.
pub(crate) fn whole_camera(prepared: &Prepared, size: (u32, u32)) -> Camera {
    let bounds = prepared.blocks.bounds();
    let [along, across] = broad_side(prepared).unwrap_or([Vector::z(), Vector::y()]);
    // It lies along the picture, as far as it can the way up it was scanned.
    let upright = if along.z.abs() > 0.9 * along.norm() {
        Vector::y()
    } else {
        Vector::z()
    };
    let up = across * across.dot(&upright).signum();
    filled(Camera::along(bounds.centre(), &along, &up), prepared, size)
}

/// Moves and enlarges so that the points themselves, not the box of their axes, fill a picture; few that lie far off may
/// fall out of it.
fn filled(camera: Camera, prepared: &Prepared, size: (u32, u32)) -> Camera {
    const LOOKS: usize = 4000;
    const BORDER: f64 = 14.0;
    let blocks = &prepared.blocks;
    let step = (blocks.len() / LOOKS).max(1);
    let bounds = || camera.fitted_to(&blocks.bounds(), size, 24.0);
    let along = |direction: Vector| -> Option<[f64; 2]> {
        let slots = (0..blocks.len() as u32).step_by(step);
        let mut all: Vec<f64> = slots
            .map(|s| (blocks.point(s) - camera.centre).dot(&direction))
            .collect();
        all.sort_by(f64::total_cmp);
        let out = all.len() / 400;
        let (low, high) = (*all.get(out)?, *all.get(all.len().checked_sub(1 + out)?)?);
        let more = 0.01 * (high - low);
        Some([low - more, high + more])
    };
    let (Some(wide), Some(high)) = (along(camera.right()), along(camera.up())) else {
        return bounds();
    };
    let room = [size.0, size.1].map(|s| (f64::from(s) - 2.0 * BORDER).max(1.0));
    let mm_per_px = ((wide[1] - wide[0]) / room[0]).max((high[1] - high[0]) / room[1]);
    if mm_per_px <= 0.0 || !mm_per_px.is_finite() {
        return bounds();
    }
    let middle = |[low, high]: [f64; 2]| f64::midpoint(low, high);
    Camera {
        centre: camera.centre + camera.right() * middle(wide) + camera.up() * middle(high),
        mm_per_px,
        ..camera
    }
}

/// The direction in which a scan is thinnest, away from the side its triangles or normals face, and that in which it is
/// neither thinnest nor longest; `None` for next to no points.
fn broad_side(prepared: &Prepared) -> Option<[Vector; 2]> {
    const LOOKS: usize = 2000;
    let blocks = &prepared.blocks;
    let count = blocks.len();
    let step = (count / LOOKS).max(1);
    let slots = || (0..count as u32).step_by(step);
    let sum = slots()
        .map(|s| blocks.point(s).coords)
        .reduce(|a, b| a + b)?;
    let middle = sum / slots().count() as f64;
    let spread = slots()
        .map(|s| blocks.point(s).coords - middle)
        .map(|d| d * d.transpose())
        .reduce(|a, b| a + b)?
        .symmetric_eigen();
    let mut order = [0, 1, 2];
    order.sort_by(|a, b| spread.eigenvalues[*a].total_cmp(&spread.eigenvalues[*b]));
    let [thin, across, _] = order.map(|k| -> Vector { spread.eigenvectors.column(k).into_owned() });
    let step = (prepared.triangles.len() / LOOKS).max(1);
    let faces: Vector = prepared
        .triangles
        .iter()
        .step_by(step)
        .map(|t| {
            let [a, b, c] = t.map(|s| blocks.point(s));
            (b - a).cross(&(c - a))
        })
        .sum();
    let normals: Vector = slots().filter_map(|s| blocks.normal(s)).sum();
    let outward = if prepared.triangles.is_empty() {
        normals
    } else {
        faces
    };
    let away = if thin.dot(&outward) > 0.0 {
        -thin
    } else {
        thin
    };
    Some([away, across])
}

/// The camera after what pointer and keys ask for; `None` if they ask for nothing.
pub(crate) fn moved(
    ui: &Ui,
    response: &egui::Response,
    field: Rect,
    camera: Camera,
    prepared: &Prepared,
    looping: bool,
) -> Option<Camera> {
    let mut now = camera;
    let mut changed = false;
    let shift = ui.input(|i| i.modifiers.shift);
    let drag = response.drag_delta();
    let looped = looping && response.dragged_by(PointerButton::Primary);
    if drag != vec2(0.0, 0.0) && !looped {
        let (dx, dy) = (f64::from(drag.x), f64::from(drag.y));
        let turning = response.dragged_by(PointerButton::Primary) && !shift;
        now = if turning {
            let up = geom::Unit::new_normalize(now.up());
            now.turned(dx * 0.006, dy * 0.006, &now.centre.clone(), &up)
        } else {
            now.panned(dx, dy)
        };
        changed = true;
    }
    if response.hovered() {
        let (scroll, pinch) = ui.input(|i| (i.smooth_scroll_delta().y, i.zoom_delta()));
        let factor = f64::from(pinch) * (f64::from(scroll) * 0.004).exp();
        if (factor - 1.0).abs() > 1e-6 {
            let off = ui
                .ctx()
                .pointer_hover_pos()
                .map_or(vec2(0.0, 0.0), |p| p - field.center());
            now = now.zoomed(factor, f64::from(off.x), f64::from(off.y));
            changed = true;
        }
    }
    if response.has_focus() || response.hovered() {
        let up = geom::Unit::new_normalize(now.up());
        let step = 0.08;
        for (modifiers, key, act) in [
            (Modifiers::COMMAND, Key::ArrowUp, 0),
            (Modifiers::COMMAND, Key::ArrowDown, 1),
            (Modifiers::SHIFT, Key::ArrowLeft, 2),
            (Modifiers::SHIFT, Key::ArrowRight, 3),
            (Modifiers::SHIFT, Key::ArrowUp, 4),
            (Modifiers::SHIFT, Key::ArrowDown, 5),
        ] {
            if ui.input_mut(|i| i.consume_key(modifiers, key)) {
                let pivot = now.centre;
                now = match act {
                    0 => now.zoomed(1.25, 0.0, 0.0),
                    1 => now.zoomed(0.8, 0.0, 0.0),
                    2 => now.turned(-step, 0.0, &pivot, &up),
                    3 => now.turned(step, 0.0, &pivot, &up),
                    4 => now.turned(0.0, -step, &pivot, &up),
                    _ => now.turned(0.0, step, &pivot, &up),
                };
                changed = true;
            }
        }
    }
    if response.has_focus() {
        for (modifiers, step) in [(Modifiers::ALT, FINE_STEP), (Modifiers::NONE, STEP)] {
            for (key, right, down) in [
                (Key::ArrowLeft, step, 0.0),
                (Key::ArrowRight, -step, 0.0),
                (Key::ArrowUp, 0.0, step),
                (Key::ArrowDown, 0.0, -step),
            ] {
                if ui.input_mut(|i| i.consume_key(modifiers, key)) {
                    now = now.panned(right, down);
                    changed = true;
                }
            }
        }
    }
    let home = response.double_clicked_by(PointerButton::Secondary);
    if home {
        now = now.fitted_to(
            &prepared.blocks.bounds(),
            (field.width() as u32, field.height() as u32),
            24.0,
        );
    }
    (changed || home).then_some(now)
}

/// At most so many points of a face that was found are marked: enough to cover it.
const FACE_MARKS: usize = 30_000;

/// What is drawn over the points: places of the job, and what was found last.
struct Drawn {
    edges: Vec<(Vec<Point>, bool, bool)>,
    marks: Vec<(Point, MarkForm)>,
    found_line: Option<(Vec<Point>, bool)>,
    found_points: Vec<Point>,
    boxes: Vec<[Point; 2]>,
    version: (usize, usize, usize),
}

impl Drawn {
    fn of(shown: Shown, scan: &ScanId) -> Self {
        let job = shown.document().job();
        let study = shown.document().study();
        let mut drawn = Self {
            edges: Vec::new(),
            marks: Vec::new(),
            found_line: None,
            found_points: Vec::new(),
            boxes: Vec::new(),
            version: (0, 0, 0),
        };
        for o in job.openings.iter().filter(|o| o.scan == *scan) {
            let measured = study.measured.openings.iter().find(|m| m.id == o.id);
            if let Some((m, edge)) = measured.and_then(|m| Some((m, m.edge.as_ref()?))) {
                let back = m.part_from_scan.inverse();
                let points = edge.stations.iter().map(|s| back * s.at).collect();
                drawn
                    .edges
                    .push((points, edge.closed, o.sureness.is_some()));
            } else if let Some(edge) = &o.edge {
                drawn.marks.push((edge.near, MarkForm::Ring));
            }
            drawn.marks.extend(o.top.map(|p| (p, MarkForm::Triangle)));
            drawn
                .marks
                .extend(o.faces.iter().map(|f| (f.near, MarkForm::Square)));
            drawn
                .marks
                .extend(o.holes.iter().map(|h| (h.near, MarkForm::Cross)));
        }
        if let Some(answer) = shown.view.places.found.as_ref().filter(|f| f.scan == *scan) {
            match &answer.found {
                Ok(Probed::Edge(edge)) => {
                    drawn.found_line =
                        Some((edge.curve.iter().map(|p| p.at).collect(), edge.closed));
                }
                // In the order of the blocks of the scan: every so many are spread over all of it.
                Ok(Probed::Face(face)) => {
                    let every = face.points.len().div_ceil(FACE_MARKS).max(1);
                    drawn.found_points = face.points.iter().step_by(every).copied().collect();
                }
                Ok(Probed::Hole(hole)) => {
                    let radius = hole.diameter.value / 2.0;
                    let side = geom::any_perpendicular(&hole.axis);
                    let up = hole.axis.cross(&side);
                    let ring = (0..48).map(|k| {
                        let phi = std::f64::consts::TAU * f64::from(k) / 48.0;
                        hole.centre + radius * (phi.cos() * side.into_inner() + phi.sin() * up)
                    });
                    drawn.found_line = Some((ring.collect(), true));
                }
                Err(_) => {}
            }
        }
        if shown.view.places.tool.loops()
            && let Some(said) = job.scans.iter().find(|s| s.id == *scan)
        {
            drawn.boxes = super::boxes::edges(said);
        }
        let points = drawn.edges.iter().map(|e| e.0.len()).sum();
        drawn.version = (points, drawn.marks.len(), drawn.found_points.len());
        drawn
    }

    fn scene<'a>(
        &'a self,
        (prepared, own_colours): (&'a Prepared, bool),
        side: [u8; 3],
        ink: [u8; 3],
        metal: [u8; 3],
    ) -> Scene<'a> {
        let mut scene = Scene::default();
        let mut points = Points::new(&prepared.blocks, metal);
        points.paint.own_share = if own_colours { 1.0 } else { 0.0 };
        scene.objects.push(Object::new(Shape::Points(points)));
        for (points, closed, proposed) in &self.edges {
            let mut line = Line::new(points, *closed, side);
            line.behind = Behind::Faint(0.3);
            line.lift_mm = 3.0;
            if *proposed {
                line = line.dashed(8.0, 5.0);
            }
            scene.objects.push(Object::new(Shape::Line(line)));
        }
        for ends in &self.boxes {
            let mut line = Line::new(ends, false, ink);
            line.behind = Behind::Faint(0.3);
            let line = line.dashed(8.0, 5.0);
            scene.objects.push(Object::new(Shape::Line(line)));
        }
        for (place, form) in &self.marks {
            let marks = Marks {
                points: std::slice::from_ref(place),
                form: *form,
                colour: ink,
                radius_px: 5.0,
                behind: Behind::Faint(0.4),
                lift_mm: 3.0,
            };
            scene.objects.push(Object::new(Shape::Marks(marks)));
        }
        if let Some((points, closed)) = &self.found_line {
            let mut line = Line::new(points, *closed, ink);
            line.width_px = 3.0;
            line.behind = Behind::Faint(0.5);
            line.lift_mm = 3.0;
            scene.objects.push(Object::new(Shape::Line(line)));
        }
        if !self.found_points.is_empty() {
            let marks = Marks {
                points: &self.found_points,
                form: MarkForm::Square,
                colour: side,
                radius_px: 1.2,
                behind: Behind::Hidden,
                lift_mm: 1.5,
            };
            scene.objects.push(Object::new(Shape::Marks(marks)));
        }
        scene
    }
}

/// A click on the points.
fn pick(
    shown: Shown,
    scan: &ScanId,
    scene: &Scene,
    view: &View,
    (x, y): (f64, f64),
    asks: &mut Vec<Act>,
) {
    let naming = &shown.view.places;
    let Some(picked) = view3d::pick(scene, view, x, y, 6.0) else {
        let said = Naming {
            says: Some("There is no metal at that place of the picture.".to_owned()),
            ..naming.clone()
        };
        asks.push(Act::Naming(Box::new(said)));
        return;
    };
    let near = picked.place_in_object;
    let facing = picked.normal;
    match naming.tool {
        Tool::Edge => asks.push(Act::Probe(
            scan.clone(),
            ProbeAt::Edge(EdgePick {
                near,
                kind: EdgeKind::Auto,
                by_hand: Vec::new(),
                closed: false,
            }),
        )),
        Tool::Face => asks.push(Act::Probe(
            scan.clone(),
            ProbeAt::Face(FacePick {
                id: FaceId(free_name(shown, "face")),
                near,
                facing,
                reach_mm: None,
                band_mm: None,
            }),
        )),
        Tool::Hole => asks.push(Act::Probe(
            scan.clone(),
            ProbeAt::Hole(
                HolePick {
                    id: HoleId(free_name(shown, "hole")),
                    near,
                    kind: HoleKind::Hole,
                    diameter_mm: None,
                },
                opening(shown)
                    .filter(|o| o.scan == *scan)
                    .and_then(|o| o.edge.clone()),
            ),
        )),
        Tool::Top => {
            if let Some(o) = opening(shown) {
                asks.push(Act::Do(Command::opening(
                    o.id.clone(),
                    OpeningChange::Top(Some(near)),
                )));
                let naming = Naming {
                    tool: Tool::Face,
                    ..naming.clone()
                };
                asks.push(Act::Naming(Box::new(naming)));
            }
        }
        Tool::Junction | Tool::Aside | Tool::Keep => {}
    }
}
