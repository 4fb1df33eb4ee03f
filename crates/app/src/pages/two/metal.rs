//! The metal before or after body work, with what moved in flat bands and the edges of the openings.

use egui::{Align2, Key, Rect, Role, Sense, Ui, WidgetInfo, pos2, vec2};
use geom::{Improper, Point, Unit, Vector};
use record::{LaidWork, OpeningId, WorkFound, WorkStudy, WorkedArea};
use report::body_work::area_short;
use report::number::show_signed;
use report::sheet::band_inks;
use report::theme::{Ink, line, space, text_width};
use view3d::{Band, Bands, Behind, Camera, Line, Mesh, Object, Paint, Points, Scene, Shape, View};

use super::go;
use super::visits::area_of;
use crate::controls::{focus_outline, one_of, words_at};
use crate::fields::fill_field;
use crate::letter::{CAPTION, CAPTION_HEAD};
use crate::look::theme_of;
use crate::pages::answer::key_of;
use crate::pages::places::picture::moved;
use crate::scan_view::{ScanView, metal};
use crate::shown::Shown;
use crate::state::Act;

/// Height of the line above the picture.
const HEAD: f32 = 46.0;
/// Patches stand so far over the metal, mm: more than the roughness of a scan.
const LIFT: f64 = 1.5;
/// Which metal shows, in words.
const METAL: [&str; 2] = ["Metal before", "Metal after"];

/// What is drawn over the metal; axes of the scan from before.
struct Over {
    vertices: Vec<Point>,
    triangles: Vec<[u32; 3]>,
    steps: Vec<i8>,
    /// Edges of openings before, and after.
    edges: [Vec<(Vec<Point>, bool)>; 2],
}

pub(super) fn show(
    ui: &mut Ui,
    shown: Shown,
    (study, work, laid): (&WorkStudy, &WorkFound, &LaidWork),
    field: Rect,
    screen: &mut ScanView,
    asks: &mut Vec<Act>,
) {
    let above = Rect::from_min_max(field.min, pos2(field.max.x, field.min.y + HEAD));
    let picture = Rect::from_min_max(pos2(field.min.x, above.max.y), field.max).shrink(1.0);
    let after = shown.view.two.after != space_is_held(ui, shown);
    head(ui, shown, above, after, asks);
    let scans = shown.document().scans();
    let id = if after {
        &work.work.after
    } else {
        &work.work.before
    };
    let (Some(prepared), Some(before)) = (scans.get(id), scans.get(&work.work.before)) else {
        let says = "The scan stands here once it is read.";
        let at = picture.center();
        words_at(ui, at, Align2::CENTER_CENTER, says, CAPTION, Ink::Ink2);
        return;
    };
    let theme = theme_of(ui.ctx());
    let over = over(study, work, laid, after);
    let place = if after {
        laid.before_from_after
    } else {
        geom::Rigid::identity()
    };
    let points = Points::new(&prepared.blocks, metal(theme));
    let mut scene = Scene::default();
    let bands: Vec<Band> = [-3, -2, -1, 1, 2, 3]
        .into_iter()
        .map(|step: i8| {
            let (fill, contour) = band_inks(i32::from(step));
            Band {
                step,
                colour: theme.rgb(fill),
                hatch: (step < 0).then(|| theme.rgb(contour)),
            }
        })
        .collect();
    scene.objects.push(Object::new(Shape::Mesh(Mesh {
        vertices: &over.vertices,
        triangles: &over.triangles,
        paint: Paint {
            bands: Some(Bands {
                steps: &over.steps,
                colours: &bands,
            }),
            ..Paint::plain(metal(theme))
        },
        back: None,
    })));
    let object = Object::new(Shape::Points(points));
    scene.objects.push(object.placed(Improper::proper(place)));
    for (edges, ink, wide) in [
        (&over.edges[0], Ink::Ink2, 1.2),
        (&over.edges[1], Ink::Ink, line::SIDE as f32),
    ] {
        for (points, closed) in edges {
            scene.objects.push(Object::new(Shape::Line(Line {
                width_px: wide,
                behind: Behind::Faint(0.4),
                lift_mm: 3.0,
                ..Line::new(points, *closed, theme.rgb(ink))
            })));
        }
    }
    let number = area_of(shown, laid.areas.len());
    let camera = shown.view.two.camera.unwrap_or_else(|| {
        let size = [picture.width(), picture.height()].map(f64::from);
        if let Some(area) = laid.areas.get(number) {
            near(study, work, area, size)
        } else {
            let size = (size[0] as u32, size[1] as u32);
            crate::pages::places::picture::whole_camera(before, size)
        }
    });
    let words = format!("{} {} {number} {after}", work.work.name, laid.areas.len());
    let key = key_of(&["two", &id.0, &prepared.hash, &words]);
    let view = screen.show(ui, picture, camera, &scene, key);
    let id = ui.scope_id().with("metal before and after");
    let response = ui.interact(picture, id, Sense::click_and_drag());
    response.widget_info(|| WidgetInfo::labeled(Role::Image, true, says(laid, after, study)));
    focus_outline(ui, &response);
    if let Some(camera) = moved(ui, &response, picture, camera, before, false) {
        asks.push(go(shown, |l| l.camera = Some(camera)));
    }
    let units = study.study.units;
    for (k, area) in laid.areas.iter().enumerate() {
        let number = show_signed(&area.most, units).plus_minus();
        let text = if laid.areas.len() > 1 {
            format!("{}: {number}", k + 1)
        } else {
            number
        };
        label(ui, picture, &view, area, &text);
    }
}

fn space_is_held(ui: &Ui, shown: Shown) -> bool {
    shown.view.panel.is_none()
        && !ui.ctx().egui_wants_keyboard_input()
        && ui.input(|i| i.key_down(Key::Space))
}

/// Which metal shows, and how to move it.
fn head(ui: &mut Ui, shown: Shown, field: Rect, after: bool, asks: &mut Vec<Act>) {
    let inside = field.shrink2(vec2(space::INSIDE as f32, 7.0));
    let mut child = ui.new_child(
        egui::UiBuilder::new()
            .id_salt("which metal")
            .max_rect(inside),
    );
    if let Some(i) = one_of(&mut child, &METAL, Some(usize::from(after))) {
        asks.push(go(shown, |l| l.after = i == 1));
    }
    let wide: f32 = METAL.map(crate::controls::button_width).iter().sum();
    let hint = "A, or Space held: the other · edges: thin before, heavy after · drag: turn · Shift drag: move · wheel: nearer";
    let room = f64::from(inside.width() - wide) - space::INSIDE;
    let hint = report::sheet::cut(hint, room, CAPTION.0, CAPTION.1);
    let at = inside.left_center() + vec2(wide + space::INSIDE as f32, 0.0);
    words_at(ui, at, Align2::LEFT_CENTER, &hint, CAPTION, Ink::Ink2);
}

fn says(laid: &LaidWork, after: bool, study: &WorkStudy) -> String {
    let mut text = METAL[usize::from(after)].to_owned();
    for (k, area) in laid.areas.iter().enumerate() {
        text += &format!(". Area {}: {}", k + 1, area_short(area, study.study.units));
    }
    text
}

/// The number of an area on a bare ground beside it, and a line to it.
fn label(ui: &Ui, picture: Rect, view: &View, area: &WorkedArea, text: &str) {
    let Some(seen) = view.project(&area.centre) else {
        return;
    };
    let per_point = ui.ctx().pixels_per_point();
    let at = picture.min + vec2(seen.x as f32, seen.y as f32) / per_point;
    if !picture.shrink(12.0).contains(at) {
        return;
    }
    let wide = text_width(text, CAPTION_HEAD.0, CAPTION_HEAD.1) as f32 + 10.0;
    let up = if at.y - picture.top() > 60.0 {
        -44.0
    } else {
        44.0
    };
    let ground = Rect::from_center_size(at + vec2(0.0, up), vec2(wide, 20.0));
    let theme = theme_of(ui.ctx());
    let stroke = egui::Stroke::new(1.0, crate::look::colour(theme, Ink::Ink));
    ui.painter().line_segment([at, ground.center()], stroke);
    ui.painter().circle_filled(at, 2.4, stroke.color);
    fill_field(ui, ground, Ink::Sheet);
    let ink = if area.most.value < 0.0 {
        Ink::ShyLine
    } else {
        Ink::ProudLine
    };
    words_at(
        ui,
        ground.center(),
        Align2::CENTER_CENTER,
        text,
        CAPTION_HEAD,
        ink,
    );
}

/// The smallest step of the bands that needs at most three a side, mm.
fn band_step(laid: &LaidWork) -> f64 {
    let most = laid
        .areas
        .iter()
        .map(|a| a.most.value.abs())
        .fold(0.0, f64::max);
    [0.1, 0.2, 0.5, 1.0, 2.0]
        .into_iter()
        .find(|step| most < 4.0 * step)
        .unwrap_or(5.0)
}

fn over(study: &WorkStudy, work: &WorkFound, laid: &LaidWork, after: bool) -> Over {
    let mut out = Over {
        vertices: Vec::new(),
        triangles: Vec::new(),
        steps: Vec::new(),
        edges: [Vec::new(), Vec::new()],
    };
    let half = laid.patch_mm / 6.0;
    let step = band_step(laid);
    for cell in laid.cells.iter().filter(|c| c.area.is_some()) {
        let steps = ((cell.height.abs() / step).floor().clamp(1.0, 3.0)) as i8;
        let class = if cell.height < 0.0 { -steps } else { steps };
        let normal = Unit::new_normalize(cell.normal);
        let [u, v] = across(&normal).map(|d| d * (1.08 * half));
        // A cell lies on the metal after; over the metal that shows, so that this does not hide it.
        let under = if after { 0.0 } else { cell.height };
        let middle = cell.at + normal.into_inner() * (LIFT - under);
        let first = out.vertices.len() as u32;
        out.vertices.extend([
            middle - u - v,
            middle + u - v,
            middle + u + v,
            middle - u + v,
        ]);
        out.triangles
            .extend([[first, first + 1, first + 2], [first, first + 2, first + 3]]);
        out.steps.extend([class; 4]);
    }
    for o in &work.openings {
        out.edges[0].extend(edge(study, &o.before, &geom::Rigid::identity()));
        if let Some(after) = &o.after {
            out.edges[1].extend(edge(study, after, &laid.before_from_after));
        }
    }
    out
}

/// Two directions in a plane.
fn across(normal: &Unit) -> [Vector; 2] {
    let least = normal.iamin();
    let mut axis = Vector::zeros();
    axis[least] = 1.0;
    let u = normal.cross(&axis).normalize();
    [u, normal.cross(&u)]
}

/// The edge of an opening where it was seen.
fn edge(study: &WorkStudy, id: &OpeningId, place: &geom::Rigid) -> Option<(Vec<Point>, bool)> {
    let all = &study.study.measured.openings;
    let m = all.iter().find(|o| o.id == *id)?;
    let edge = m.edge.as_ref()?;
    let back = place * m.part_from_scan.inverse();
    let points = edge.stations.iter().map(|s| back * s.at).collect();
    Some((points, edge.closed))
}

/// Looks at an area from outside the panel, tipped so that metal bent inward is seen as well.
fn near(study: &WorkStudy, work: &WorkFound, area: &WorkedArea, size: [f64; 2]) -> Camera {
    let touched = area.touches.first().map(|t| &t.opening);
    let nearest = touched.or_else(|| work.openings.first().map(|o| &o.before));
    let all = &study.study.measured.openings;
    let m = nearest.and_then(|id| all.iter().find(|o| o.id == *id));
    let (out, up) = match m {
        Some(m) => {
            let back = m.part_from_scan.inverse();
            (back * Vector::z(), back * Vector::y())
        }
        None => (area.normal.into_inner(), Vector::z()),
    };
    let towards = -(out + 0.6 * area.normal.into_inner());
    let towards = if towards.norm() > 1e-6 { towards } else { -out };
    let up = if towards.cross(&up).norm() > 1e-3 * towards.norm() {
        up
    } else {
        area.along.into_inner()
    };
    let wide = 3.2 * area.length.value.max(20.0);
    Camera {
        mm_per_px: wide / size[0].min(1.6 * size[1]).max(1.0),
        ..Camera::along(area.centre, &towards.normalize(), &up)
    }
}
