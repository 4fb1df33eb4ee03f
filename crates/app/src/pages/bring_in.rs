//! Scans come in: what each is, in which unit, of which side, and the state of the body.

use std::sync::Arc;

use editor::{Command, ScanChange, ScanState, VisitChange};
use egui::{
    Align2, Rect, Role, ScrollArea, Sense, Stroke, StrokeKind, Ui, UiBuilder, WidgetInfo, pos2,
    vec2,
};
use record::{
    HandTable, LengthUnit, Mounting, Prepared, ScanRef, Side, Surface, UnitSource, Visit,
};
use report::theme::{Ink, line, space};

use crate::controls::{Weight, button, focus_outline, one_of, paragraph, rule, tick, words_at};
use crate::fields::{BLOCK, Fields, fill_field, paint_field};
use crate::letter::{BODY, CAPTION, CAPTION_HEAD, STRONG, VERDICT};
use crate::look::{colour, theme_of};
use crate::scan_view::ScanView;
use crate::shown::Shown;
use crate::state::{Act, Panel};

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
    let by_hand = super::by_hand::chosen(shown);
    let list_width = match by_hand {
        Some(_) => super::by_hand::LIST,
        None => (page.width() * 0.25).clamp(260.0, 360.0),
    };
    let state_width = BLOCK[0].min(page.width() * 0.36);
    let list = Rect::from_min_max(page.min, pos2(page.min.x + list_width, page.max.y));
    let state = Rect::from_min_max(
        pos2(page.max.x - state_width, page.min.y),
        pos2(page.max.x, page.max.y - BLOCK[1]),
    );
    let middle = Rect::from_min_max(pos2(list.max.x, page.min.y), pos2(state.min.x, page.max.y));
    fill_field(ui, list, Ink::Field);
    within(ui, list, "list", |ui| files(ui, shown, asks));
    if let Some(table) = by_hand {
        let rest = Rect::from_min_max(pos2(list.max.x, page.min.y), page.max);
        super::by_hand::show(ui, shown, table, rest, fields, asks);
        paint_field(ui, list);
        return;
    }
    within(ui, middle, "question", |ui| question(ui, shown, asks));
    // What is left below the state of the body shows the scan.
    let seen = looked_at(shown);
    let room = (state.height() - STATE).min(state.width() * 0.8);
    let (state, picture) = if seen.is_some() && room > LEAST_PICTURE {
        state.split_top_bottom_at_y(state.max.y - room)
    } else {
        (state, Rect::NOTHING)
    };
    within(ui, state, "state", |ui| body_state(ui, shown, asks));
    for field in [list, middle, state] {
        paint_field(ui, field);
    }
    if let Some((name, prepared)) = seen.filter(|_| picture.is_positive()) {
        scan_picture(ui, (&name, &prepared), picture, screen);
        paint_field(ui, picture);
    }
}

/// Height that the state of the body needs, and the least that a picture is worth.
const STATE: f32 = 446.0;
const LEAST_PICTURE: f32 = 120.0;

/// The scan that is asked about, or the first thinned points of one that is being read.
fn looked_at(shown: Shown) -> Option<(String, Arc<Prepared>)> {
    let document = shown.document();
    let ready = chosen(shown).and_then(|s| {
        let prepared = document.scans().get(&s.id)?;
        Some((file_name(s), Arc::clone(prepared)))
    });
    ready.or_else(|| {
        document.incoming().iter().find_map(|file| {
            let name = file.file_name()?.to_string_lossy().into_owned();
            Some((name, Arc::clone(document.coarse(file)?)))
        })
    })
}

/// A whole scan from its broad side, beside a bar of a round length.
fn scan_picture(
    ui: &mut Ui,
    (name, prepared): (&str, &Prepared),
    field: Rect,
    screen: &mut ScanView,
) {
    let theme = theme_of(ui.ctx());
    let inside = Rect::from_min_max(field.min + vec2(1.0, 28.0), field.max - vec2(1.0, 28.0));
    let size = (inside.width() as u32, inside.height() as u32);
    let camera = super::places::picture::whole_camera(prepared, size);
    let mut points = view3d::Points::new(&prepared.blocks, crate::scan_view::metal(theme));
    points.paint.own_share = if prepared.blocks.has_colours() {
        1.0
    } else {
        0.0
    };
    let mut scene = view3d::Scene::default();
    scene
        .objects
        .push(view3d::Object::new(view3d::Shape::Points(points)));
    let key = super::answer::key_of(&["bring in", name, &prepared.hash]);
    screen.show(ui, inside, camera, &scene, key);
    let id = ui.scope_id().with("scan brought in");
    let response = ui.interact(inside, id, Sense::hover());
    response.widget_info(|| {
        let says = format!("Picture of {name}, {} points", prepared.blocks.len());
        WidgetInfo::labeled(Role::Image, true, says)
    });
    let at = field.min + vec2(space::INSIDE as f32, 15.0);
    let room = f64::from(field.width()) - 2.0 * space::INSIDE;
    let says = format!("{name} from its broad side");
    let says = report::sheet::cut(&says, room, CAPTION_HEAD.0, CAPTION_HEAD.1);
    words_at(ui, at, Align2::LEFT_CENTER, &says, CAPTION_HEAD, Ink::Ink2);
    // The longest round length that takes at most a third of the width.
    let widest = f64::from(field.width()) / 3.0 * camera.mm_per_px;
    let bar_mm = [2000.0, 1000.0, 500.0, 200.0, 100.0, 50.0, 20.0, 10.0]
        .into_iter()
        .find(|mm| *mm <= widest);
    let Some(bar_mm) = bar_mm else { return };
    let long = (bar_mm / camera.mm_per_px) as f32;
    let y = field.max.y - 14.0;
    let x = field.min.x + space::INSIDE as f32;
    let ink = Stroke::new(2.0, colour(theme, Ink::Ink2));
    ui.painter()
        .line_segment([pos2(x, y), pos2(x + long, y)], ink);
    let at = pos2(x + long + 8.0, y);
    let says = if bar_mm < 1000.0 {
        format!("{bar_mm:.0} mm")
    } else {
        format!("{:.0} m", bar_mm / 1000.0)
    };
    words_at(ui, at, Align2::LEFT_CENTER, &says, CAPTION, Ink::Ink2);
}

/// A field with its own layout, scrolled where it does not fit.
pub(crate) fn within(ui: &mut Ui, field: Rect, name: &str, add: impl FnOnce(&mut Ui)) {
    let inside = field.shrink(space::INSIDE as f32);
    // The bar to scroll by stands beside what is scrolled.
    let mut with_bar = inside;
    with_bar.max.x += space::WIDE_GAP as f32;
    let mut child = ui.new_child(UiBuilder::new().id_salt(name).max_rect(with_bar));
    child.set_clip_rect(field.intersect(ui.clip_rect()));
    ScrollArea::vertical()
        .id_salt(name)
        .auto_shrink(false)
        .show(&mut child, |ui| {
            ui.set_max_width(inside.width());
            add(ui);
        });
}

fn chosen(shown: Shown<'_>) -> Option<&ScanRef> {
    let job = shown.document().job();
    let wanted = shown.view.scan.as_ref();
    job.scans
        .iter()
        .find(|s| wanted == Some(&s.id))
        .or_else(|| {
            job.scans
                .iter()
                .find(|s| s.unit_source == UnitSource::Guessed)
        })
        .or_else(|| job.scans.first())
}

fn files(ui: &mut Ui, shown: Shown, asks: &mut Vec<Act>) {
    let document = shown.document();
    paragraph(ui, "Brought in", CAPTION_HEAD, Ink::Ink2);
    let picked = chosen(shown).map(|s| s.id.clone());
    for scan in &document.job().scans {
        let (rect, response) =
            ui.allocate_exact_size(vec2(ui.available_width(), 68.0), Sense::click());
        let on = picked.as_ref() == Some(&scan.id);
        response.widget_info(|| {
            WidgetInfo::selected(Role::Button, true, on, format!("Scan {}", scan.id))
        });
        if response.clicked() {
            asks.push(Act::Scan(scan.id.clone()));
        }
        if on || response.hovered() {
            fill_field(
                ui,
                rect.expand2(vec2(8.0, 0.0)),
                if on { Ink::Sheet } else { Ink::Pick },
            );
        }
        let room = f64::from(rect.width()) - 70.0;
        let name = report::sheet::cut(&file_name(scan), room, STRONG.0, STRONG.1);
        words_at(
            ui,
            rect.min + vec2(0.0, 14.0),
            Align2::LEFT_CENTER,
            &name,
            STRONG,
            Ink::Ink,
        );
        let unit = match scan.unit_source {
            UnitSource::Guessed => format!("{}?", scan.unit.word()),
            UnitSource::Stated | UnitSource::Checked { .. } => scan.unit.word().to_owned(),
        };
        let ink = if scan.unit_source == UnitSource::Guessed {
            Ink::NotProven
        } else {
            Ink::Ink2
        };
        words_at(
            ui,
            pos2(rect.right(), rect.top() + 14.0),
            Align2::RIGHT_CENTER,
            &unit,
            BODY,
            ink,
        );
        let lines = match document.scan_state(&scan.id) {
            ScanState::Ready | ScanState::BeingCut => {
                let extent = document.scans().get(&scan.id).map(|p| {
                    let s = p.blocks.bounds().size();
                    (
                        p.blocks.len(),
                        format!("{:.0} × {:.0} × {:.0} mm", s.x, s.y, s.z),
                    )
                });
                extent.map_or_else(Default::default, |(n, e)| {
                    [format!("{} points", grouped(n)), e]
                })
            }
            ScanState::Waiting => ["being read".to_owned(), progress(shown)],
            ScanState::NotRead { says, hint } => [says, hint],
        };
        for (i, text) in lines.iter().enumerate() {
            let text = report::sheet::cut(text, f64::from(rect.width()), CAPTION.0, CAPTION.1);
            words_at(
                ui,
                rect.min + vec2(0.0, 34.0 + 18.0 * i as f32),
                Align2::LEFT_CENTER,
                &text,
                CAPTION,
                Ink::Ink2,
            );
        }
        focus_outline(ui, &response);
        rule(ui, Ink::Hair);
    }
    for table in &document.job().hand {
        table_row(ui, shown, table, asks);
    }
    for file in document.incoming() {
        let name = file
            .file_name()
            .unwrap_or(file.as_os_str())
            .to_string_lossy()
            .into_owned();
        paragraph(ui, &name, STRONG, Ink::Ink);
        paragraph(ui, &progress(shown), CAPTION, Ink::Ink2);
        let escape = shown.view.panel.is_none()
            && !ui.ctx().text_edit_focused()
            && ui.input_mut(|i| i.consume_key(egui::Modifiers::NONE, egui::Key::Escape));
        if button(ui, "Stop reading it", Weight::Plain, "Esc").clicked() || escape {
            asks.push(Act::CallOff(file.clone()));
        }
        rule(ui, Ink::Hair);
    }
    ui.add_space(space::GAP as f32);
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), 96.0), Sense::click());
    response.widget_info(|| WidgetInfo::labeled(Role::Button, true, "Drop scans or tables here"));
    let theme = theme_of(ui.ctx());
    let corners = [
        rect.left_top(),
        rect.right_top(),
        rect.right_bottom(),
        rect.left_bottom(),
        rect.left_top(),
    ];
    let stroke = Stroke::new(line::FIELD as f32, colour(theme, Ink::Ink2));
    ui.painter()
        .extend(egui::Shape::dashed_line(&corners, stroke, 4.0, 3.0));
    words_at(
        ui,
        rect.center() - vec2(0.0, 10.0),
        Align2::CENTER_CENTER,
        if rect.width() < 200.0 {
            "Drop files here"
        } else {
            "Drop scans or tables here"
        },
        STRONG,
        Ink::Ink,
    );
    words_at(
        ui,
        rect.center() + vec2(0.0, 12.0),
        Align2::CENTER_CENTER,
        "Ctrl O: a path · Ctrl V: a table",
        CAPTION,
        Ink::Ink2,
    );
    focus_outline(ui, &response);
    if response.clicked() {
        asks.push(Act::Panel(Some(Panel::OpenFile(String::new()))));
    }
    ui.add_space(space::GAP as f32);
    let hint = "A left and a right opening, measured with tape and protractor";
    if button(ui, "Begin by hand", Weight::Plain, hint).clicked() {
        asks.push(Act::BeginByHand);
    }
    if let Some(recovery) = document.recovery() {
        ui.add_space(space::GAP as f32);
        paragraph(
            ui,
            &format!(
                "{} changes were not saved when the program ended.",
                recovery.names.len()
            ),
            STRONG,
            Ink::Ink,
        );
        for name in recovery.names.iter().rev().take(4) {
            paragraph(ui, name, CAPTION, Ink::Ink2);
        }
        ui.horizontal(|ui| {
            if button(ui, "Bring them back", Weight::Filled, "").clicked() {
                asks.push(Act::Recover);
            }
            if button(ui, "Leave them", Weight::Plain, "").clicked() {
                asks.push(Act::LeaveRecovery);
            }
        });
    }
    for one in document.notices() {
        super::notice::notice(ui, one, asks);
    }
}

/// A table of readings by hand in the list.
fn table_row(ui: &mut Ui, shown: Shown, table: &HandTable, asks: &mut Vec<Act>) {
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), 50.0), Sense::click());
    let on = super::by_hand::chosen(shown).is_some_and(|t| t.id == table.id);
    let count = table.readings.iter().filter(|r| !r.kind.is_word()).count();
    let says = match (&table.unread, count) {
        (Some([says, _]), _) => says.clone(),
        (None, 1) => "1 reading by hand".to_owned(),
        (None, n) => format!("{n} readings by hand"),
    };
    response.widget_info(|| {
        WidgetInfo::selected(Role::Button, true, on, format!("Table {}", table.id))
    });
    if response.clicked() {
        asks.push(Act::Scan(table.id.clone()));
    }
    if on || response.hovered() {
        let ground = if on { Ink::Sheet } else { Ink::Pick };
        fill_field(ui, rect.expand2(vec2(8.0, 0.0)), ground);
    }
    let room = f64::from(rect.width());
    for (dy, text, letter, ink) in [
        (14.0, table.id.0.as_str(), STRONG, Ink::Ink),
        (34.0, says.as_str(), CAPTION, Ink::Ink2),
    ] {
        let text = report::sheet::cut(text, room, letter.0, letter.1);
        let at = rect.min + vec2(0.0, dy);
        words_at(ui, at, Align2::LEFT_CENTER, &text, letter, ink);
    }
    focus_outline(ui, &response);
    rule(ui, Ink::Hair);
}

fn file_name(scan: &ScanRef) -> String {
    scan.path
        .file_name()
        .unwrap_or(scan.path.as_os_str())
        .to_string_lossy()
        .into_owned()
}

fn grouped(count: usize) -> String {
    report::number::to_step(count as f64, 1.0, record::DisplayUnits::default())
}

fn progress(shown: Shown) -> String {
    let Some(work) = shown
        .document()
        .work()
        .find(|w| w.lane == editor::Lane::Read)
    else {
        return String::new();
    };
    let share = if work.total == 0 {
        0.0
    } else {
        100.0 * work.done as f64 / work.total as f64
    };
    match work.seconds_left {
        Some(s) => format!("reading {share:.0} %, {s:.0} s left"),
        None => format!("reading {share:.0} %"),
    }
}

fn question(ui: &mut Ui, shown: Shown, asks: &mut Vec<Act>) {
    let Some(scan) = chosen(shown) else {
        paragraph(ui, "Bring in a scan of each side.", VERDICT, Ink::Ink);
        paragraph(
            ui,
            "Each may have its own axes. 100 mm of metal around the opening is enough.",
            BODY,
            Ink::Ink2,
        );
        return;
    };
    let prepared = shown.document().scans().get(&scan.id);
    let guessed = scan.unit_source == UnitSource::Guessed;
    let head = if guessed {
        format!("Is {} in {}?", file_name(scan), unit_name(scan.unit))
    } else {
        format!("{}: {}, as stated", file_name(scan), unit_name(scan.unit))
    };
    paragraph(ui, &head, VERDICT, Ink::Ink);
    if let Some(prepared) = prepared {
        let s = prepared.blocks.bounds().size() / scan.unit.in_mm();
        paragraph(
            ui,
            &format!(
                "Its numbers run over {:.1} × {:.1} × {:.1}; points lie {:.2} mm apart if that is right.",
                s.x, s.y, s.z, prepared.spacing_mm
            ),
            BODY,
            Ink::Ink2,
        );
        ui.add_space(space::GAP as f32);
        for unit in LengthUnit::ALL {
            unit_row(ui, scan, unit, s * unit.in_mm(), asks);
        }
    }
    ui.horizontal(|ui| {
        if guessed
            && button(
                ui,
                &format!("Yes, it is in {}", unit_name(scan.unit)),
                Weight::Filled,
                "Asked once per file",
            )
            .clicked()
        {
            asks.push(state_unit(scan, scan.unit));
        }
    });
    ui.add_space(space::INSIDE as f32);
    paragraph(
        ui,
        "Which side of the car it shows",
        CAPTION_HEAD,
        Ink::Ink2,
    );
    let sides = [Side::Left, Side::Right, Side::Centre, Side::NotSaid];
    let at = sides.iter().position(|s| *s == scan.side);
    if let Some(i) = one_of(ui, &["Left", "Right", "Across the centre", "Not said"], at) {
        asks.push(Act::Do(Command::scan(
            scan.id.clone(),
            ScanChange::Side(sides[i]),
        )));
    }
    paragraph(
        ui,
        "Seated facing forward. A scan cannot tell; a mirrored verdict rests on it.",
        CAPTION,
        Ink::Ink2,
    );
    ui.add_space(space::GAP as f32);
    let mut largest = scan.largest_piece_only;
    if tick(
        ui,
        &mut largest,
        "Use only the largest piece of it (stand, hand and floor stay out)",
    )
    .changed()
    {
        asks.push(Act::Do(Command::scan(
            scan.id.clone(),
            ScanChange::LargestPieceOnly(largest),
        )));
    }
    ui.add_space(space::GAP as f32);
    ui.horizontal(|ui| {
        let hint = "Proposes edges, faces, junctions and holes; each waits for you to keep it";
        if button(ui, "Find the openings in all scans", Weight::Plain, hint).clicked() {
            asks.push(Act::Find);
        }
        let hint = "With everything picked in it and what is joined to it; the file stays, and undo brings it back";
        if button(ui, "Take this scan out", Weight::Plain, hint).clicked() {
            asks.push(Act::Do(Command::RemoveScan(scan.id.clone())));
        }
    });
}

fn unit_name(unit: LengthUnit) -> &'static str {
    match unit {
        LengthUnit::Millimetre => "millimetres",
        LengthUnit::Centimetre => "centimetres",
        LengthUnit::Metre => "metres",
        LengthUnit::Inch => "inches",
        LengthUnit::Foot => "feet",
    }
}

fn state_unit(scan: &ScanRef, unit: LengthUnit) -> Act {
    Act::Do(Command::scan(
        scan.id.clone(),
        ScanChange::Unit {
            unit,
            source: UnitSource::Stated,
        },
    ))
}

/// One unit with the scan drawn to scale beside a coach.
fn unit_row(
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

pub(super) fn body_state(ui: &mut Ui, shown: Shown, asks: &mut Vec<Act>) {
    paragraph(
        ui,
        "State of the body while it was measured",
        CAPTION_HEAD,
        Ink::Ink2,
    );
    let job = shown.document().job();
    let Some(visit) = chosen(shown)
        .and_then(|s| job.visits.iter().find(|v| v.id == s.visit))
        .or_else(|| job.visits.first())
    else {
        paragraph(ui, "Asked once a scan is there.", BODY, Ink::Ink2);
        return;
    };
    let mut ask =
        |change: VisitChange| asks.push(Act::Do(Command::visit(visit.id.clone(), change)));
    mounting(ui, visit, &mut ask);
    surfaces(ui, visit, &mut ask);
    paragraph(ui, "Doors", CAPTION_HEAD, Ink::Ink2);
    let doors = [None, Some(true), Some(false)];
    let at = doors.iter().position(|d| *d == visit.state.doors_hung);
    if let Some(i) = one_of(ui, &["Not noted", "Hung, shut", "Off"], at) {
        ask(VisitChange::DoorsHung(doors[i]));
    }
    ui.add_space(space::WIDE_GAP as f32);
    paragraph(ui, "Why it is asked", CAPTION_HEAD, Ink::Ink2);
    paragraph(
        ui,
        "A primed side stands about 0.15 mm proud of a bare one, and load alone can move a gap by 2 mm. Not stated, that would be \
         read as a difference of the body. “Not noted” is a legal answer; the doubt then stands beside the verdict.",
        BODY,
        Ink::Ink2,
    );
}

fn mounting(ui: &mut Ui, visit: &Visit, ask: &mut dyn FnMut(VisitChange)) {
    paragraph(ui, "Standing", CAPTION_HEAD, Ink::Ink2);
    let all = [Mounting::NotNoted, Mounting::OnMounts, Mounting::OnStands];
    let at = all.iter().position(|m| *m == visit.state.mounting);
    if let Some(i) = one_of(ui, &["Not noted", "On its mounts", "On stands"], at) {
        ask(VisitChange::Mounting(all[i]));
    }
}

fn surfaces(ui: &mut Ui, visit: &Visit, ask: &mut dyn FnMut(VisitChange)) {
    let all = [
        Surface::NotNoted,
        Surface::Bare,
        Surface::Primed,
        Surface::Painted,
    ];
    for (side, name, now) in [
        (Side::Left, "Left side", visit.state.left),
        (Side::Right, "Right side", visit.state.right),
    ] {
        ui.push_id(name, |ui| {
            paragraph(ui, name, CAPTION_HEAD, Ink::Ink2);
            let at = all.iter().position(|s| *s == now);
            if let Some(i) = one_of(ui, &["Not noted", "Bare", "Primed", "Painted"], at) {
                ask(VisitChange::Surface {
                    side,
                    surface: all[i],
                });
            }
        });
    }
}
