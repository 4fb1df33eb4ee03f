//! The unit of a scan: each candidate with the scan drawn to scale beside a coach.

use editor::{Command, ScanChange};
use egui::{Align2, Rect, Role, Sense, Stroke, StrokeKind, Ui, WidgetInfo, pos2, vec2};
use record::{LengthUnit, ScanRef, UnitSource};
use report::theme::{Ink, line, space};

use crate::controls::{focus_outline, words_at};
use crate::letter::{CAPTION, STRONG};
use crate::look::{colour, theme_of};
use crate::state::Act;
pub(super) fn unit_name(unit: LengthUnit) -> &'static str {
    match unit {
        LengthUnit::Millimetre => "millimetres",
        LengthUnit::Centimetre => "centimetres",
        LengthUnit::Metre => "metres",
        LengthUnit::Inch => "inches",
        LengthUnit::Foot => "feet",
    }
}

pub(super) fn state_unit(scan: &ScanRef, unit: LengthUnit) -> Act {
    Act::Do(Command::scan(
        scan.id.clone(),
        ScanChange::Unit {
            unit,
            source: UnitSource::Stated,
        },
    ))
}

/// One unit with the scan drawn to scale beside a coach.
pub(super) fn unit_row(
    ui: &mut Ui,
    scan: &ScanRef,
    unit: LengthUnit,
    size_mm: geom::Vector,
    asks: &mut Vec<Act>,
) {
    let theme = theme_of(ui.ctx());
    let (rect, response) =
        ui.allocate_exact_size(vec2(ui.available_width(), UNIT_ROW), Sense::click());
    let on = scan.unit == unit;
    response.widget_info(|| {
        WidgetInfo::selected(
            Role::RadioButton,
            true,
            on,
            format!("In {}", unit_name(unit)),
        )
    });
    if response.clicked() {
        asks.push(state_unit(scan, unit));
    }
    let (fill, wide, edge) = match (on, response.hovered()) {
        (true, _) => (Ink::Pick, line::SHEET, Ink::Ink),
        (false, true) => (Ink::Field, line::FIELD, Ink::Ink),
        (false, false) => (Ink::Sheet, line::FIELD, Ink::Ink2),
    };
    ui.painter().rect(
        rect,
        0.0,
        colour(theme, fill),
        Stroke::new(wide as f32, colour(theme, edge)),
        StrokeKind::Inside,
    );
    let name = report::words::capital(unit_name(unit));
    words_at(
        ui,
        rect.min + vec2(16.0, 18.0),
        Align2::LEFT_CENTER,
        &name,
        STRONG,
        Ink::Ink,
    );
    let longest = size_mm.amax();
    let says = format!(
        "{} × {} × {}, {}",
        long(size_mm.x),
        long(size_mm.y),
        long(size_mm.z),
        in_coaches(longest)
    );
    words_at(
        ui,
        rect.min + vec2(16.0, 38.0),
        Align2::LEFT_CENTER,
        &says,
        CAPTION,
        Ink::Ink2,
    );
    beside_a_coach(ui, rect, size_mm);
    focus_outline(ui, &response);
    ui.add_space(space::UNIT as f32);
}

/// Height of the row of a unit.
const UNIT_ROW: f32 = 56.0;
/// Length and height of the coach that scans are held against, mm.
const COACH: [f64; 2] = [5000.0, 2000.0];

/// A length held against the coach, in words.
fn in_coaches(longest_mm: f64) -> String {
    let coaches = longest_mm / COACH[0];
    if coaches >= 10.0 {
        format!("as long as {coaches:.0} coaches")
    } else if coaches >= 1.5 {
        format!("as long as {coaches:.1} coaches")
    } else {
        format!("{:.0} % of a coach", 100.0 * coaches)
    }
}

/// The scan as a box and a coach from its side, both to one scale and on one ground.
fn beside_a_coach(ui: &Ui, rect: Rect, size_mm: geom::Vector) {
    let theme = theme_of(ui.ctx());
    let tall = f64::from(rect.height()) - 18.0;
    let mut sides = [size_mm.x, size_mm.y, size_mm.z];
    sides.sort_by(f64::total_cmp);
    // It lies on its longest side, its middle one up.
    let [_, high, long] = sides;
    let scale = (tall / high.max(COACH[1])).min(110.0 / long.max(COACH[0]));
    let ground = rect.bottom() - 9.0;
    let right = rect.right() - 16.0;
    let px = |mm: f64| ((mm * scale) as f32).max(1.5);
    let ink = Stroke::new(line::FIELD as f32, colour(theme, Ink::Ink2));
    let coach = Rect::from_min_max(
        pos2(right - px(COACH[0]), ground - px(COACH[1])),
        pos2(right, ground),
    );
    if coach.width() < 10.0 {
        ui.painter().rect_filled(coach, 0.0, ink.color);
    } else {
        coach_from_its_side(ui, coach, ink);
    }
    let left = coach.left() - 14.0 - px(long);
    let body = Rect::from_min_max(pos2(left, ground - px(high)), pos2(left + px(long), ground));
    ui.painter().rect(
        body,
        0.0,
        colour(theme, Ink::RightTint),
        Stroke::new(1.5, colour(theme, Ink::Right)),
        StrokeKind::Inside,
    );
    ui.painter()
        .hline(body.left() - 4.0..=right + 4.0, ground, ink);
}

/// Bonnet, cabin and two wheels.
fn coach_from_its_side(ui: &Ui, within: Rect, ink: Stroke) {
    let at = |x: f32, y: f32| {
        pos2(
            within.left() + x * within.width(),
            within.bottom() - y * within.height(),
        )
    };
    let wheel = 0.17 * within.height();
    let outline = [
        (0.0, 0.16),
        (0.01, 0.46),
        (0.06, 0.56),
        (0.25, 0.60),
        (0.33, 0.94),
        (0.42, 1.0),
        (0.90, 0.97),
        (0.97, 0.80),
        (1.0, 0.40),
        (0.99, 0.16),
    ];
    let outline: Vec<egui::Pos2> = outline.iter().map(|(x, y)| at(*x, *y)).collect();
    ui.painter().add(egui::Shape::closed_line(outline, ink));
    let fill = colour(theme_of(ui.ctx()), Ink::Sheet);
    for x in [0.16, 0.80] {
        let middle = at(x, 0.0) - vec2(0.0, wheel);
        ui.painter().circle(middle, wheel, fill, ink);
    }
}

/// A length in words at the scale of the hand or the house.
fn long(mm: f64) -> String {
    if mm >= 10_000.0 {
        format!("{:.0} m", mm / 1000.0)
    } else if mm >= 1000.0 {
        format!("{:.2} m", mm / 1000.0)
    } else {
        format!("{mm:.0} mm")
    }
}
