//! The header: name of the job, and the way through it.

use editor::ScanState;
use egui::{Align2, Color32, Rect, Role, Sense, Stroke, Ui, WidgetInfo, pos2, vec2};
use record::{Side, Verdict};
use report::theme::{Ink, line, size, space, text_width, weight};

use crate::controls::{focus_outline, underlined_at, words_at};
use crate::fields::{Fields, fill_field, paint_field};
use crate::letter::{CAPTION, NAMED, STRONG};
use crate::look::{colour, theme_of};
use crate::shown::Shown;
use crate::state::{Act, Panel, Step};

/// How far a step is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Far {
    Done,
    Doubt,
    NotYet,
}

/// Shows the header.
pub fn show(ui: &mut Ui, shown: Shown, fields: &Fields, asks: &mut Vec<Act>) {
    let header = fields.header;
    let title = Rect::from_min_max(header.min, pos2(fields.plan.max.x, header.max.y));
    job_name(ui, shown, title, asks);
    let room = Rect::from_min_max(pos2(title.max.x, header.min.y), header.max);
    let cells = cells(room);
    let states: Vec<(Far, String)> = Step::ALL.iter().map(|s| state_of(*s, shown)).collect();
    for (i, step) in Step::ALL.into_iter().enumerate() {
        let cell = cells[i];
        let id = ui.scope_id().with(("step", i));
        let response = ui.interact(cell, id, Sense::click());
        let on = shown.view.step == step;
        response.widget_info(|| WidgetInfo::selected(Role::Tab, true, on, step.word()));
        if on || response.hovered() {
            fill_field(ui, cell.shrink2(vec2(0.0, 1.0)), Ink::Pick);
        }
        if response.clicked() {
            asks.push(Act::Go(step));
        }
        focus_outline(ui, &response);
    }
    for (i, step) in Step::ALL.into_iter().enumerate() {
        let each = cells[i].width();
        let x = cells[i].left() + space::INSIDE as f32;
        let (far, says) = &states[i];
        let middle = pos2(x + 8.0, header.min.y + 19.0);
        if i + 1 < Step::ALL.len() {
            way(ui, middle, middle + vec2(each, 0.0), *far == Far::NotYet);
        }
        ring(ui, middle, *far);
        let ink = if shown.view.step == step || *far != Far::NotYet {
            Ink::Ink
        } else {
            Ink::Ink2
        };
        words_at(
            ui,
            pos2(x, header.min.y + 40.0),
            Align2::LEFT_CENTER,
            step.word(),
            NAMED,
            ink,
        );
        let says = report::sheet::cut(says, f64::from(each) - 20.0, CAPTION.0, CAPTION.1);
        words_at(
            ui,
            pos2(x, header.min.y + 57.0),
            Align2::LEFT_CENTER,
            &says,
            CAPTION,
            Ink::Ink2,
        );
    }
    let stroke = Stroke::new(1.0, colour(theme_of(ui.ctx()), Ink::Hair));
    for (i, step) in Step::OFF.into_iter().enumerate() {
        let cell = cells[Step::ALL.len() + i];
        let tall = header.min.y + 12.0..=header.max.y - 12.0;
        ui.painter().vline(cell.left(), tall, stroke);
        off_the_way(ui, shown, step, cell, asks);
    }
    paint_field(ui, header);
}

/// Where each step stands, those off the way behind the others: as wide as its name, and an equal share of what is left.
fn cells(room: Rect) -> Vec<Rect> {
    let all = Step::ALL.into_iter().chain(Step::OFF);
    let names: Vec<f32> = all
        .map(|s| text_width(s.word(), NAMED.0, NAMED.1) as f32)
        .collect();
    let free = (room.width() - names.iter().sum::<f32>()) / names.len() as f32;
    let mut x = room.left();
    names
        .iter()
        .map(|wide| {
            let cell =
                Rect::from_min_max(pos2(x, room.top()), pos2(x + wide + free, room.bottom()));
            x = cell.right();
            cell
        })
        .collect()
}

/// What lies off the way: most jobs never need it.
fn off_the_way(ui: &mut Ui, shown: Shown, step: Step, cell: Rect, asks: &mut Vec<Act>) {
    let (far, says) = state_of(step, shown);
    let on = shown.view.step == step;
    let id = ui.scope_id().with(("step", step.word()));
    let response = ui.interact(cell, id, Sense::click());
    let word = step.word();
    response.widget_info(|| WidgetInfo::selected(Role::Tab, true, on, word));
    if on || response.hovered() {
        fill_field(ui, cell.shrink(1.0), Ink::Pick);
    }
    if response.clicked() {
        asks.push(Act::Go(step));
    }
    focus_outline(ui, &response);
    let at = |dx: f32, dy: f32| cell.min + vec2(dx, dy);
    ring(ui, at(24.0, 19.0), far);
    let ink = if on || far != Far::NotYet {
        Ink::Ink
    } else {
        Ink::Ink2
    };
    let room = f64::from(cell.width()) - 20.0;
    let says = report::sheet::cut(&says, room, CAPTION.0, CAPTION.1);
    let what = match step {
        Step::Sections => "of the panels",
        Step::Two => "side by side",
        _ => "for position",
    };
    let what = report::sheet::cut(what, room - 22.0, CAPTION.0, CAPTION.1);
    let what = what.as_str();
    for (place, text, letter, ink) in [
        (at(38.0, 19.0), what, CAPTION, Ink::Ink2),
        (at(16.0, 40.0), word, NAMED, ink),
        (at(16.0, 57.0), says.as_str(), CAPTION, Ink::Ink2),
    ] {
        words_at(ui, place, Align2::LEFT_CENTER, text, letter, ink);
    }
}

fn job_name(ui: &mut Ui, shown: Shown, field: Rect, asks: &mut Vec<Act>) {
    let document = shown.document();
    let room = f64::from(field.width()) - 2.0 * space::INSIDE;
    let at = |dy: f32| field.min + vec2(space::INSIDE as f32, dy);
    let title = report::sheet::cut(&document.job().title, room, size::BODY, weight::SEMI_BOLD);
    words_at(ui, at(19.0), Align2::LEFT_CENTER, &title, STRONG, Ink::Ink);
    let undo = document
        .undo_names()
        .next()
        .map(|n| format!(", undo “{n}”"))
        .unwrap_or_default();
    let saved = if document.is_saved() {
        "saved"
    } else if document.path().is_some() {
        "kept, not saved"
    } else {
        "no file yet"
    };
    let says = shown
        .view
        .said
        .clone()
        .unwrap_or_else(|| format!("{saved}{undo}"));
    let says = report::sheet::cut(&says, room, CAPTION.0, CAPTION.1);
    words_at(ui, at(38.0), Align2::LEFT_CENTER, &says, CAPTION, Ink::Ink2);
    // What keys do can be pressed too.
    let mut place = at(56.0);
    for (name, act) in [
        ("Save", Act::Save),
        ("Undo", Act::Undo),
        (
            "All commands",
            Act::Panel(Some(Panel::Find(String::new(), 0))),
        ),
    ] {
        let response = underlined_at(ui, place, name);
        place.x = response.rect.right() + space::WIDE_GAP as f32;
        if response.clicked() {
            asks.push(act);
        }
    }
}

fn state_of(step: Step, shown: Shown) -> (Far, String) {
    let document = shown.document();
    let job = document.job();
    let plural =
        |n: usize, one: &str, more: &str| format!("{n} {}", if n == 1 { one } else { more });
    match step {
        Step::BringIn => {
            let ready = job
                .scans
                .iter()
                .filter(|s| document.scan_state(&s.id) == ScanState::Ready)
                .count();
            let coming = document.incoming().len() + job.scans.len() - ready;
            if job.scans.is_empty() && coming == 0 && !job.hand.is_empty() {
                let tables = job.hand.len();
                (Far::Done, plural(tables, "table by hand", "tables by hand"))
            } else if job.scans.is_empty() && coming == 0 {
                (Far::NotYet, "no scan yet".to_owned())
            } else if coming > 0 {
                (Far::Doubt, format!("{ready} of {} read", ready + coming))
            } else {
                let asked = job
                    .scans
                    .iter()
                    .filter(|s| s.unit_source == record::UnitSource::Guessed)
                    .count();
                // A side may be said of what is named in a scan instead.
                let sides = job
                    .scans
                    .iter()
                    .filter(|s| s.side == Side::NotSaid)
                    .filter(|s| {
                        let mut within = job.openings.iter().filter(|o| o.scan == s.id);
                        within.all(|o| o.side == Side::NotSaid)
                    })
                    .count();
                let mut scans = plural(ready, "scan", "scans");
                if !job.hand.is_empty() {
                    scans = format!("{scans}, {} by hand", job.hand.len());
                }
                if asked > 0 {
                    (Far::Doubt, format!("{scans}, {asked} unit to say"))
                } else if sides > 0 {
                    (Far::Doubt, format!("{scans}, {sides} side to say"))
                } else {
                    (Far::Done, scans)
                }
            }
        }
        Step::Places => {
            let named: usize = job
                .openings
                .iter()
                .map(|o| {
                    usize::from(o.edge.is_some() || job.hand_of(o).is_some())
                        + o.faces.len()
                        + o.junctions.len()
                        + o.holes.len()
                })
                .sum();
            let proposed = job.openings.iter().filter(|o| o.sureness.is_some()).count();
            match (named, proposed) {
                (0, _) => (Far::NotYet, "nothing named yet".to_owned()),
                (n, 0) => (Far::Done, format!("{n} named")),
                (n, p) => (Far::Doubt, format!("{n} named, {p} to look at")),
            }
        }
        Step::Compare => {
            let pairs = shown.every_pair();
            let known = pairs.iter().filter(|p| !p.options().is_empty()).count();
            match (pairs.len(), known) {
                (0, _) => (Far::NotYet, "no pair yet".to_owned()),
                (n, k) if k == n => (Far::Done, plural(n, "pair", "pairs")),
                (n, k) => (Far::Doubt, format!("{k} of {n} pairs")),
            }
        }
        Step::Decide => {
            let all = job.compares.len();
            let chosen = job.choices.chosen.len();
            let open = shown
                .every_pair()
                .iter()
                .any(|p| report::pair_text(p).verdict == Verdict::NotProven);
            match (chosen, all) {
                (0, 0) => (Far::NotYet, String::new()),
                (c, a) if c == a => (
                    if open { Far::Doubt } else { Far::Done },
                    format!("{c} of {a} decided"),
                ),
                (0, a) => (Far::NotYet, format!("0 of {a} decided")),
                (c, a) => (Far::Doubt, format!("{c} of {a} decided")),
            }
        }
        Step::HandOver => match &shown.view.hand_over.last {
            Some(files) => (Far::Done, plural(*files, "file written", "files written")),
            None => (Far::NotYet, "nothing handed over".to_owned()),
        },
        Step::Sections => match document.sections() {
            None => (Far::NotYet, "not cut yet".to_owned()),
            Some(_) if !document.sections_are_fresh() => (Far::Doubt, "to be cut anew".to_owned()),
            Some(s) => {
                let proven = |p: &&record::PairPanel| p.worst.as_ref().is_some_and(|w| w.proven);
                let differ = s.pairs.iter().filter(proven).count();
                let of = s.pairs.len();
                match (differ, of) {
                    (_, 0) => (Far::NotYet, "none cut".to_owned()),
                    (0, _) => (Far::Done, "no difference".to_owned()),
                    (d, n) => (Far::Done, format!("{d} of {n} differ")),
                }
            }
        },
        Step::Two => two_visits(shown),
        Step::Centreline => match document.study().positions.as_ref() {
            None => (Far::NotYet, "not needed for fit".to_owned()),
            Some(p) => {
                let doubt = p
                    .findings
                    .iter()
                    .any(|f| f.severity > record::Severity::Note);
                match &p.laid {
                    Some(laid) if doubt => (Far::Doubt, report::positions::laid_short(laid)),
                    Some(laid) => (Far::Done, report::positions::laid_short(laid)),
                    None => (Far::Doubt, "not laid".to_owned()),
                }
            }
        },
    }
}

/// What body work changed, or how many cars there are.
fn two_visits(shown: Shown) -> (Far, String) {
    let document = shown.document();
    let cars = shown.cars().len();
    if document.job().body_work.is_empty() {
        return match cars {
            0 => (Far::NotYet, "one of each".to_owned()),
            n => (Far::Done, format!("{n} cars")),
        };
    }
    match document.two(&editor::Two::Visits) {
        Some((editor::TwoFound::Visits(found), true)) => {
            let laid = found.works.iter().filter_map(|w| w.laid.as_ref());
            let areas: usize = laid.map(|l| l.areas.len()).sum();
            let all = found.works.iter().all(|w| w.laid.is_some());
            let far = if all { Far::Done } else { Far::Doubt };
            match areas {
                0 if !all => (far, "not laid".to_owned()),
                0 => (far, "nothing moved".to_owned()),
                1 => (far, "1 area moved".to_owned()),
                n => (far, format!("{n} areas moved")),
            }
        }
        Some(_) => (Far::Doubt, "to be seen anew".to_owned()),
        None => (Far::NotYet, "not seen yet".to_owned()),
    }
}

/// The way from one step to the next: full once the first is done.
fn way(ui: &Ui, from: egui::Pos2, to: egui::Pos2, dashed: bool) {
    let (a, b) = (from + vec2(9.0, 0.0), to - vec2(9.0, 0.0));
    let theme = theme_of(ui.ctx());
    if dashed {
        let stroke = Stroke::new(1.0, colour(theme, Ink::Ink3));
        ui.painter()
            .extend(egui::Shape::dashed_line(&[a, b], stroke, 4.0, 3.0));
    } else {
        ui.painter().line_segment(
            [a, b],
            Stroke::new(line::SHEET as f32, colour(theme, Ink::Ink)),
        );
    }
}

/// Disc with a tick, half disc, ring.
fn ring(ui: &Ui, at: egui::Pos2, far: Far) {
    let theme = theme_of(ui.ctx());
    let of = |ink| -> Color32 { colour(theme, ink) };
    let painter = ui.painter();
    let radius = 7.5;
    painter.circle_filled(at, radius, of(Ink::Sheet));
    match far {
        Far::Done => {
            painter.circle_filled(at, radius, of(Ink::Ink));
            let stroke = Stroke::new(1.8, of(Ink::OnInk));
            painter.line_segment([at + vec2(-3.5, 0.3), at + vec2(-1.0, 3.0)], stroke);
            painter.line_segment([at + vec2(-1.0, 3.0), at + vec2(3.8, -3.0)], stroke);
        }
        Far::Doubt => {
            let half = (0..=16)
                .map(|k| {
                    let phi = std::f32::consts::FRAC_PI_2 + std::f32::consts::PI * k as f32 / 16.0;
                    at + radius * vec2(phi.cos(), phi.sin())
                })
                .collect();
            painter.add(egui::Shape::convex_polygon(
                half,
                of(Ink::Ink),
                Stroke::NONE,
            ));
            painter.circle_stroke(at, radius, Stroke::new(1.5, of(Ink::Ink)));
        }
        Far::NotYet => {
            painter.circle_stroke(at, radius, Stroke::new(1.2, of(Ink::Ink2)));
        }
    }
}
