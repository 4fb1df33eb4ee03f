//! The empty sheet: what to do first.

use std::path::PathBuf;

use egui::{Align2, Rect, Role, Sense, Stroke, StrokeKind, Ui, WidgetInfo, pos2, vec2};
use report::theme::{Ink, line, size, space, weight};

use crate::controls::{focus_outline, words_at};
use crate::fields::{fill_field, paint_field};
use crate::letter::{BODY, CAPTION, HEAD, NAMED, STRONG, VERDICT};
use crate::look::{colour, theme_of};
use crate::state::{Act, Panel};

/// Shows the empty sheet. `busy` says what is being done, if something is.
pub fn show(ui: &mut Ui, sheet: Rect, recent: &[PathBuf], busy: Option<&str>, asks: &mut Vec<Act>) {
    let left = Rect::from_min_max(
        sheet.min,
        pos2(sheet.min.x + (sheet.width() * 0.44).max(480.0), sheet.max.y),
    );
    let right = Rect::from_min_max(pos2(left.max.x, sheet.min.y), sheet.max);
    fill_field(ui, right, Ink::Field);
    paint_field(ui, right);
    two_halves(ui, right);
    let x = left.min.x + 32.0;
    let wide = left.width() - 64.0;
    words_at(
        ui,
        pos2(x, left.min.y + 48.0),
        Align2::LEFT_CENTER,
        "unmirror",
        HEAD,
        Ink::Ink,
    );
    words_at(
        ui,
        pos2(x, left.min.y + 132.0),
        Align2::LEFT_CENTER,
        "This sheet is empty.",
        VERDICT,
        Ink::Ink,
    );
    let says = "Two scans of one opening, left and right, and four clicks give the first answer: does a mirrored part fit. \
                No stickers and no centreline are needed.";
    let mut y = left.min.y + 166.0;
    for text in report::sheet::wrapped(says, f64::from(wide), size::BODY, weight::REGULAR) {
        words_at(ui, pos2(x, y), Align2::LEFT_CENTER, &text, BODY, Ink::Ink2);
        y += 22.0;
    }
    y += 20.0;
    let mut row = |ui: &mut Ui, name: &str, says: &str, key: &str, filled: bool| {
        let rect = Rect::from_min_size(pos2(x, y), vec2(wide, 60.0));
        y += 60.0;
        line_of(ui, rect, (name, says, key), filled)
    };
    if row(
        ui,
        "Drop scans here",
        "or press Enter and give a path; STL, PLY, OBJ, E57, XYZ, CSV",
        "Ctrl O",
        true,
    ) {
        asks.push(Act::Panel(Some(Panel::OpenFile(String::new()))));
    }
    if row(
        ui,
        "Begin with tape and protractor",
        "No scan: print the field sheet, type the readings, read the answer",
        "Ctrl B",
        false,
    ) {
        asks.push(Act::BeginByHand);
    }
    if row(
        ui,
        "Open the coach",
        "A worked example: five pairs of a touring coach, fifteen minutes",
        "Ctrl D",
        false,
    ) {
        asks.push(Act::OpenCoach);
    }
    let mut any = false;
    for path in recent.iter().take(4) {
        any = true;
        let name = path
            .file_stem()
            .unwrap_or(path.as_os_str())
            .to_string_lossy()
            .into_owned();
        let folder = path
            .parent()
            .map(|p| p.display().to_string())
            .unwrap_or_default();
        let folder = report::sheet::cut(
            &folder,
            f64::from(wide) - 140.0,
            size::CAPTION,
            weight::REGULAR,
        );
        if row(ui, &format!("Recent job: {name}"), &folder, "", false) {
            asks.push(Act::OpenJob(path.clone()));
        }
    }
    if !any {
        row(ui, "Recent jobs", "none yet on this computer", "", false);
    }
    if let Some(busy) = busy {
        words_at(
            ui,
            pos2(x, y + 24.0),
            Align2::LEFT_CENTER,
            busy,
            NAMED,
            Ink::Ink,
        );
    }
    let foot = left.max.y - 48.0;
    words_at(
        ui,
        pos2(x, foot),
        Align2::LEFT_CENTER,
        report::terminal::CAUTION,
        CAPTION,
        Ink::Ink2,
    );
    let more = "Cautions, keys and licence: F1. Everything works without a network.";
    words_at(
        ui,
        pos2(x, foot + 20.0),
        Align2::LEFT_CENTER,
        more,
        CAPTION,
        Ink::Ink2,
    );
}

/// A line of two rows that can be pressed.
fn line_of(ui: &mut Ui, rect: Rect, (name, says, key): (&str, &str, &str), filled: bool) -> bool {
    let theme = theme_of(ui.ctx());
    let id = ui.scope_id().with(("line", name));
    let response = ui.interact(rect, id, Sense::click());
    response.widget_info(|| WidgetInfo::labeled(Role::Button, true, name));
    let (ground, ink, ink2) = match (filled, response.hovered()) {
        (true, _) => (Ink::Ink, Ink::OnInk, Ink::OnInk),
        (false, true) => (Ink::Pick, Ink::Ink, Ink::Ink2),
        (false, false) => (Ink::Sheet, Ink::Ink, Ink::Ink2),
    };
    let stroke = Stroke::new(line::FIELD as f32, colour(theme, Ink::Ink2));
    ui.painter()
        .rect(rect, 0.0, colour(theme, ground), stroke, StrokeKind::Middle);
    let x = rect.left() + 20.0;
    words_at(
        ui,
        pos2(x, rect.top() + 22.0),
        Align2::LEFT_CENTER,
        name,
        STRONG,
        ink,
    );
    words_at(
        ui,
        pos2(x, rect.top() + 42.0),
        Align2::LEFT_CENTER,
        says,
        CAPTION,
        ink2,
    );
    let end = pos2(rect.right() - 20.0, rect.center().y);
    words_at(ui, end, Align2::RIGHT_CENTER, key, CAPTION, ink2);
    focus_outline(ui, &response);
    response.clicked()
}

/// A body from above whose right half is not the mirror image of its left one.
fn two_halves(ui: &Ui, field: Rect) {
    let theme = theme_of(ui.ctx());
    let tall = (field.height() - 200.0).min(field.width() * 1.1).max(100.0);
    let half = tall * 0.15;
    let middle = pos2(field.center().x, field.center().y - 30.0);
    let top = middle.y - tall / 2.0;
    // Half width by share of the length: a nose, a long body, a rounded tail.
    let width_at = |s: f32| {
        half * (1.0 - (1.0 - (s / 0.16).min(1.0)).powi(3) * 0.62)
            * (1.0 - ((s - 0.86) / 0.14).max(0.0).powi(3) * 0.6)
    };
    let off = |s: f32| {
        16.0 * (-((s - 0.13) / 0.07).powi(2)).exp() - 9.0 * (-((s - 0.72) / 0.1).powi(2)).exp()
    };
    let side = |sign: f32, extra: &dyn Fn(f32) -> f32| -> Vec<egui::Pos2> {
        (0..=80)
            .map(|k| {
                let s = k as f32 / 80.0;
                pos2(middle.x + sign * (width_at(s) + extra(s)), top + s * tall)
            })
            .collect()
    };
    let none = |_: f32| 0.0;
    let left = side(-1.0, &none);
    let copied = side(1.0, &none);
    let right = side(1.0, &off);
    let painter = ui.painter();
    let mut whole = left.clone();
    whole.extend(copied.iter().rev());
    painter.add(crate::paint::filled(&whole, colour(theme, Ink::Sheet)));
    for (a, b) in copied.windows(2).zip(right.windows(2)) {
        // Where they lie on each other there is nothing to fill; the soft edge of a sliver would grow into a spike.
        if (0..2).all(|k| (a[k] - b[k]).length() < 0.75) {
            continue;
        }
        let quad = vec![a[0], a[1], b[1], b[0]];
        painter.add(egui::Shape::convex_polygon(
            quad,
            colour(theme, Ink::RightTint),
            Stroke::NONE,
        ));
    }
    let chain = Stroke::new(1.0, colour(theme, Ink::Ink2));
    let axis = [
        pos2(middle.x, top - 24.0),
        pos2(middle.x, top + tall + 24.0),
    ];
    painter.extend(egui::Shape::dashed_line_with_offset(
        &axis,
        chain,
        &[12.0, 3.0],
        &[3.0, 3.0],
        0.0,
    ));
    painter.extend(egui::Shape::dashed_line(
        &copied,
        Stroke::new(1.2, colour(theme, Ink::Left)),
        2.0,
        3.0,
    ));
    let ends = [(left[0], right[0]), (left[80], right[80])];
    for (a, b) in ends {
        painter.line_segment(
            [a, pos2(middle.x, a.y)],
            Stroke::new(2.25, colour(theme, Ink::Left)),
        );
        let end = Stroke::new(2.25, colour(theme, Ink::Right));
        painter.extend(egui::Shape::dashed_line(
            &[pos2(middle.x, b.y), b],
            end,
            8.0,
            3.0,
        ));
    }
    painter.add(egui::Shape::line(
        left,
        Stroke::new(2.25, colour(theme, Ink::Left)),
    ));
    painter.extend(egui::Shape::dashed_line(
        &right,
        Stroke::new(2.25, colour(theme, Ink::Right)),
        8.0,
        3.0,
    ));
    let at = |dx: f32, share: f32| pos2(middle.x + dx, top + share * tall);
    let reach = half + 28.0;
    words_at(
        ui,
        at(-reach, 0.45),
        Align2::RIGHT_CENTER,
        "left",
        STRONG,
        Ink::Left,
    );
    words_at(
        ui,
        at(-reach, 0.45) + vec2(0.0, 20.0),
        Align2::RIGHT_CENTER,
        "as it was built",
        CAPTION,
        Ink::Ink2,
    );
    words_at(
        ui,
        at(reach, 0.13),
        Align2::LEFT_CENTER,
        "right",
        STRONG,
        Ink::Right,
    );
    words_at(
        ui,
        at(reach, 0.13) + vec2(0.0, 20.0),
        Align2::LEFT_CENTER,
        "as it was built",
        CAPTION,
        Ink::Ink2,
    );
    words_at(
        ui,
        at(reach, 0.72),
        Align2::LEFT_CENTER,
        "left, mirrored",
        STRONG,
        Ink::Left,
    );
    words_at(
        ui,
        at(reach, 0.72) + vec2(0.0, 20.0),
        Align2::LEFT_CENTER,
        "where a copied part would go",
        CAPTION,
        Ink::Ink2,
    );
    let corner = field.min + vec2(space::INSIDE as f32, 34.0);
    words_at(
        ui,
        corner,
        Align2::LEFT_CENTER,
        "A sketch: differences drawn larger",
        CAPTION,
        Ink::Ink2,
    );
}
