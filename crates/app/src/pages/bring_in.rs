//! Scans come in: what each is, in which unit, of which side, and the state of the body.

mod body;
mod unit;

pub(super) use body::body_state;

use std::sync::Arc;

use editor::{Command, ScanChange, ScanState};
use egui::{Align2, Rect, Role, ScrollArea, Sense, Stroke, Ui, UiBuilder, WidgetInfo, pos2, vec2};
use record::{HandTable, LengthUnit, Prepared, ScanRef, Side, UnitSource};
use report::theme::{Ink, line, space};

use crate::controls::{Weight, button, focus_outline, one_of, paragraph, rule, tick, words_at};
use crate::fields::{BLOCK, Fields, fill_field, paint_field};
use crate::letter::{BODY, CAPTION, CAPTION_HEAD, STRONG, VERDICT};
use crate::look::{colour, theme_of};
use crate::scan_view::ScanView;
use crate::shown::Shown;
use crate::state::{Act, Panel};
use unit::{state_unit, unit_name, unit_row};

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
