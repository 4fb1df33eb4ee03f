//! Paints a sheet and makes what can be pointed at answer.

use egui::{Color32, Pos2, Rect, Response, Role, Sense, Shape, Stroke, Ui, Vec2, WidgetInfo, pos2};
use report::Theme;
use report::sheet::{Anchor, Hit, Item, Sheet};
use report::theme::{Ink, size};

use crate::look::{colour, font};

/// How a sheet is painted.
#[derive(Clone, Copy, Debug, Default)]
pub struct Manner {
    /// Its numbers wait for new ones: all ink is faint.
    pub faded: bool,
    /// It is a sheet in small: text takes the next smaller size of type there is, and stands as a bar where there is none.
    pub in_small: bool,
}

/// Paints a sheet with its upper left corner at `at`, clipped to its size. Nothing answers to the pointer.
pub fn paint_sheet(ui: &Ui, sheet: &Sheet, at: Pos2, theme: Theme, manner: Manner) {
    let rect = Rect::from_min_size(at, Vec2::new(sheet.width as f32, sheet.height as f32));
    let painter = ui.painter().with_clip_rect(rect.intersect(ui.clip_rect()));
    let place = |p: &[f64; 2]| pos2(at.x + p[0] as f32, at.y + p[1] as f32);
    let ink_of = |ink: Ink| colour(theme, if manner.faded { faded(ink) } else { ink });
    for item in &sheet.items {
        match item {
            Item::Path {
                points,
                closed,
                stroke,
                fill,
                ..
            } => {
                let points: Vec<Pos2> = points.iter().map(place).collect();
                if let Some(fill) = fill {
                    painter.add(filled(&points, ink_of(*fill)));
                }
                if let Some((ink, wide, dash)) = stroke {
                    let line = Stroke::new(*wide as f32, ink_of(*ink));
                    stroked(&painter, points, *closed, line, dash.pattern());
                }
            }
            Item::Disc {
                at, radius, fill, ..
            } => {
                painter.circle_filled(place(at), *radius as f32, ink_of(*fill));
            }
            Item::Text {
                at,
                size,
                weight,
                anchor,
                ink,
                text,
                ..
            } => {
                let mut size = *size;
                if manner.in_small {
                    let Some(smaller) = next_smaller(size) else {
                        let fill = ink_of(Ink::Hair);
                        painter.rect_filled(
                            bar(place(at), text, (size, *weight), *anchor),
                            0.0,
                            fill,
                        );
                        continue;
                    };
                    size = smaller;
                }
                let ink = ink_of(*ink);
                let galley = painter.layout_no_wrap(text.clone(), font((size, *weight)), ink);
                let base = galley.rows.first().map_or(0.0, |row| {
                    row.pos.y + row.row.glyphs.first().map_or(row.row.size.y, |g| g.pos.y)
                });
                let wide = galley.size().x;
                let left = match anchor {
                    Anchor::Start => 0.0,
                    Anchor::Middle => -wide / 2.0,
                    Anchor::End => -wide,
                };
                painter.galley(place(at) + Vec2::new(left, -base), galley, ink);
            }
        }
    }
}

/// The largest size of type of the sheet that is not larger.
fn next_smaller(wanted: f64) -> Option<f64> {
    [size::HEAD, size::BODY, size::CAPTION]
        .into_iter()
        .find(|s| *s <= wanted)
}

/// Where text too small to read stands.
fn bar(at: Pos2, text: &str, (size, weight): (f64, u16), anchor: Anchor) -> Rect {
    let wide = report::theme::text_width(text, size, weight) as f32;
    let left = match anchor {
        Anchor::Start => 0.0,
        Anchor::Middle => -wide / 2.0,
        Anchor::End => -wide,
    };
    let high = 0.5 * size as f32;
    Rect::from_min_size(at + Vec2::new(left, -high), Vec2::new(wide, high))
}

/// What a sheet answers.
pub struct Answers {
    /// What can be pointed at, in order.
    pub hits: Vec<(Hit, Response)>,
}

impl Answers {
    /// The first that was clicked or entered from the keyboard.
    pub fn clicked(&self) -> Option<&Hit> {
        self.hits.iter().find(|(_, r)| r.clicked()).map(|(h, _)| h)
    }
}

/// Paints a sheet and gives each of its names a place that answers to pointer and keyboard; `says` names a place in words,
/// or keeps it silent (`None`).
pub fn show_sheet(
    ui: &mut Ui,
    salt: &str,
    sheet: &Sheet,
    at: Pos2,
    manner: Manner,
    says: &dyn Fn(&Hit) -> Option<String>,
) -> Answers {
    show_sensing(ui, salt, sheet, at, (manner, Sense::click()), says)
}

/// As [`show_sheet`], with what its names answer to.
pub fn show_sensing(
    ui: &mut Ui,
    salt: &str,
    sheet: &Sheet,
    at: Pos2,
    (manner, sense): (Manner, Sense),
    says: &dyn Fn(&Hit) -> Option<String>,
) -> Answers {
    let theme = crate::look::theme_of(ui.ctx());
    let rect = Rect::from_min_size(at, Vec2::new(sheet.width as f32, sheet.height as f32));
    let id = ui.scope_id().with(salt);
    let whole = ui.interact(rect, id, Sense::hover());
    if !sheet.says.is_empty() {
        whole.widget_info(|| WidgetInfo::labeled(Role::Label, true, &sheet.says));
    }
    // The places come first, so that what is under the pointer can be drawn beneath the ink.
    let mut hits = Vec::new();
    // Known by what they are, not by their order: that changes while one of them is dragged.
    let mut alike: std::collections::HashMap<String, usize> = std::collections::HashMap::new();
    for (hit, place) in places(sheet, at) {
        let Some(label) = says(&hit) else { continue };
        let name = format!("{hit:?}");
        let id = id.with((&name, *alike.get(&name).unwrap_or(&0)));
        *alike.entry(name).or_default() += 1;
        let response = ui.interact(place.intersect(rect), id, sense);
        response.widget_info(|| WidgetInfo::labeled(Role::Button, true, &label));
        let response = response.on_hover_cursor(egui::CursorIcon::PointingHand);
        if response.hovered() {
            ui.painter()
                .rect_filled(place, 0.0, colour(theme, Ink::Pick));
        }
        hits.push((hit, response));
    }
    paint_sheet(ui, sheet, at, theme, manner);
    for (_, response) in &hits {
        crate::controls::focus_outline(ui, response);
    }
    Answers { hits }
}

/// Pieces of a station are one place where they lie so near to each other, points of the screen.
const NEAR: f32 = 24.0;

/// Every name with the box of all pieces that carry it; a station has one on each page.
fn places(sheet: &Sheet, at: Pos2) -> Vec<(Hit, Rect)> {
    let mut found: Vec<(Hit, Rect)> = Vec::new();
    for item in &sheet.items {
        let (hit, rect) = match item {
            Item::Path {
                points,
                hit: Some(hit),
                ..
            } => {
                let points = points.iter().map(|p| pos2(p[0] as f32, p[1] as f32));
                (
                    hit,
                    points.fold(Rect::NOTHING, |r, p| r.union(Rect::from_min_max(p, p))),
                )
            }
            Item::Disc {
                at,
                radius,
                hit: Some(hit),
                ..
            } => {
                let middle = pos2(at[0] as f32, at[1] as f32);
                (
                    hit,
                    Rect::from_center_size(middle, Vec2::splat(2.0 * *radius as f32)),
                )
            }
            Item::Text {
                at,
                size,
                weight,
                anchor,
                text,
                hit: Some(hit),
                ..
            } => {
                let wide = report::theme::text_width(text, *size, *weight);
                let left = match anchor {
                    Anchor::Start => at[0],
                    Anchor::Middle => at[0] - wide / 2.0,
                    Anchor::End => at[0] - wide,
                };
                let top = at[1] - size;
                let rect = Rect::from_min_size(
                    pos2(left as f32 - 3.0, top as f32),
                    Vec2::new(wide as f32 + 6.0, 1.35 * *size as f32),
                );
                (hit, rect)
            }
            _ => continue,
        };
        let rect = rect.translate(at.to_vec2());
        // A station stands on both pages: what lies between them is not it.
        let near = |r: &Rect| !matches!(hit, Hit::Station(..)) || r.expand(NEAR).intersects(rect);
        match found.iter_mut().find(|(h, r)| h == hit && near(r)) {
            Some((_, r)) => *r = r.union(rect),
            None => found.push((hit.clone(), rect)),
        }
    }
    found
}

/// Ink of a figure that waits for a new one: grounds stay, text and lines turn faint.
fn faded(ink: Ink) -> Ink {
    match ink {
        Ink::Ink
        | Ink::Ink2
        | Ink::Left
        | Ink::Right
        | Ink::Fits
        | Ink::NotProven
        | Ink::WillNotFit => Ink::Ink3,
        other => other,
    }
}

/// A filled polygon; concave ones are cut into triangles.
pub(crate) fn filled(points: &[Pos2], fill: Color32) -> Shape {
    if points.len() < 3 {
        return Shape::Noop;
    }
    if let [a, b, c, d] = points
        && let Some(rect) = upright(*a, *b, *c, *d)
    {
        return Shape::rect_filled(rect, 0.0, fill);
    }
    if is_convex(points) {
        return Shape::convex_polygon(points.to_vec(), fill, Stroke::NONE);
    }
    let flat: Vec<[f32; 2]> = points.iter().map(|p| [p.x, p.y]).collect();
    let mut corners: Vec<u32> = Vec::new();
    earcut::Earcut::new().earcut(flat, &[], &mut corners);
    let mut mesh = egui::Mesh::default();
    for p in points {
        mesh.colored_vertex(*p, fill);
    }
    for t in corners.chunks_exact(3) {
        mesh.add_triangle(t[0], t[1], t[2]);
    }
    Shape::mesh(mesh)
}

fn upright(a: Pos2, b: Pos2, c: Pos2, d: Pos2) -> Option<Rect> {
    (a.y == b.y && b.x == c.x && c.y == d.y && d.x == a.x).then(|| Rect::from_two_pos(a, c))
}

fn is_convex(points: &[Pos2]) -> bool {
    let n = points.len();
    let mut sign = 0.0f32;
    let mut turned = 0.0f32;
    for i in 0..n {
        let (a, b, c) = (points[i], points[(i + 1) % n], points[(i + 2) % n]);
        let (u, v) = (b - a, c - b);
        let cross = u.x * v.y - u.y * v.x;
        if cross.abs() > 1e-4 {
            if sign * cross < 0.0 {
                return false;
            }
            sign = cross;
        }
        turned += cross.atan2(u.dot(v)).abs();
    }
    // A spiral turns one way too, but more than once round.
    turned < 2.0 * std::f32::consts::PI + 0.1
}

fn stroked(
    painter: &egui::Painter,
    mut points: Vec<Pos2>,
    closed: bool,
    line: Stroke,
    pattern: &[f64],
) {
    if pattern.is_empty() {
        if let [a, b] = points[..] {
            painter.line_segment([a, b], line);
        } else if closed {
            painter.add(Shape::closed_line(points, line));
        } else {
            painter.add(Shape::line(points, line));
        }
        return;
    }
    if closed && let Some(first) = points.first().copied() {
        points.push(first);
    }
    let (on, off): (Vec<f32>, Vec<f32>) = pattern
        .chunks_exact(2)
        .map(|p| (p[0] as f32, p[1] as f32))
        .unzip();
    painter.extend(Shape::dashed_line_with_offset(
        &points, line, &on, &off, 0.0,
    ));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn concave_and_convex_are_told_apart() {
        let square = [
            pos2(0.0, 0.0),
            pos2(4.0, 0.0),
            pos2(4.0, 4.0),
            pos2(0.0, 4.0),
        ];
        assert!(is_convex(&square));
        let dart = [
            pos2(0.0, 0.0),
            pos2(4.0, 0.0),
            pos2(1.0, 1.0),
            pos2(0.0, 4.0),
        ];
        assert!(!is_convex(&dart));
        let twice: Vec<Pos2> = (0..20)
            .map(|k| {
                let phi = std::f32::consts::TAU * k as f32 / 10.0;
                pos2(phi.cos() * (10.0 + k as f32), phi.sin() * (10.0 + k as f32))
            })
            .collect();
        assert!(!is_convex(&twice));
    }

    #[test]
    fn a_concave_ring_is_filled_with_its_own_area_only() {
        let dart = [
            pos2(0.0, 0.0),
            pos2(4.0, 0.0),
            pos2(1.0, 1.0),
            pos2(0.0, 4.0),
        ];
        let Shape::Mesh(mesh) = filled(&dart, Color32::BLACK) else {
            panic!("a mesh was expected");
        };
        let area: f32 = mesh
            .indices
            .chunks_exact(3)
            .map(|t| {
                let p = |i: usize| mesh.vertices[t[i] as usize].pos;
                let (u, v) = (p(1) - p(0), p(2) - p(0));
                (u.x * v.y - u.y * v.x).abs() / 2.0
            })
            .sum();
        assert!((area - 4.0).abs() < 1e-5, "{area}");
    }
}
