//! What is laid over the page: doubts, a figure in words, the reason of a choice, finding by name, about.

use editor::Command;
use egui::{Context, Key, Ui};
use record::{CompareId, OptionKind};
use report::Pair;
use report::explain::{Explained, explain, table};
use report::sheet::Hit;
use report::theme::{Ink, space};

use crate::controls::{Weight, button, paragraph, rule, text_line};
use crate::folder::{Files, beginning_with};
use crate::keys::{COMMANDS, Named};
use crate::letter::{BODY, CAPTION, CAPTION_HEAD, HEAD, STRONG};
use crate::shown::Shown;
use crate::state::{Act, Panel};

/// Shows the panel, if there is one.
pub fn show(ctx: &Context, shown: Option<Shown>, panel: Option<&Panel>, asks: &mut Vec<Act>) {
    let Some(panel) = panel else {
        ctx.data_mut(|d| d.remove::<std::mem::Discriminant<Panel>>(opened_id()));
        return;
    };
    let now = std::mem::discriminant(panel);
    let fresh = ctx.data(|d| d.get_temp(opened_id())) != Some(now);
    ctx.data_mut(|d| d.insert_temp(opened_id(), now));
    let frame = egui::Frame::popup(&ctx.global_style())
        .inner_margin(egui::Margin::same(space::INSIDE as i8))
        .stroke(ctx.global_style().visuals.window_stroke);
    let modal = egui::Modal::new(egui::Id::unique("panel"))
        .frame(frame)
        .show(ctx, |ui| {
            ui.set_width(560.0_f32.min(ctx.content_rect().width() - 80.0));
            ui.set_max_height(ctx.content_rect().height() - 120.0);
            match (panel, shown) {
                (Panel::Doubts(id), Some(shown)) => doubts(ui, shown, id, asks),
                (Panel::Figure(hit), Some(shown)) => figure(ui, shown, hit, asks),
                (Panel::Choose(id, kind, note), Some(shown)) => {
                    choose(ui, shown, (id, *kind), note, fresh, asks);
                }
                (Panel::Place(part), Some(shown)) => crate::around::place(ui, shown, part, asks),
                (Panel::Find(text, at), _) => find(ui, shown, text, *at, asks),
                (Panel::OpenFile(text), _) => open_file(ui, text, fresh, asks),
                (Panel::Other(text), _) => other_job(ui, text, fresh, asks),
                (Panel::SaveAs(text), _) => save_as(ui, text, fresh, asks),
                (Panel::About, _) => about(ui),
                (
                    Panel::Doubts(_) | Panel::Figure(_) | Panel::Choose(..) | Panel::Place(_),
                    None,
                ) => {}
            }
            if !matches!(
                panel,
                Panel::Choose(..) | Panel::OpenFile(_) | Panel::Other(_) | Panel::SaveAs(_)
            ) {
                ui.add_space(space::INSIDE as f32);
                if button(ui, "Close", Weight::Plain, "Esc").clicked() {
                    asks.push(Act::Panel(None));
                }
            }
        });
    if modal.should_close() {
        asks.push(Act::Panel(None));
    }
}

fn opened_id() -> egui::Id {
    egui::Id::unique("the panel that was open")
}

fn pair_of<'a>(shown: Shown<'a>, id: &CompareId) -> Option<Pair<'a>> {
    shown
        .every_pair()
        .into_iter()
        .find(|p| p.measured.id == *id)
}

fn doubts(ui: &mut Ui, shown: Shown, id: &CompareId, asks: &mut Vec<Act>) {
    let Some(pair) = pair_of(shown, id) else {
        return;
    };
    paragraph(
        ui,
        &format!("Doubts about {}", pair.title()),
        HEAD,
        Ink::Ink,
    );
    egui::ScrollArea::vertical().show(ui, |ui| {
        let all = report::sheet::doubts(&pair);
        if all.is_empty() {
            paragraph(ui, "There is none.", BODY, Ink::Ink2);
        }
        for finding in all {
            rule(ui, Ink::Hair);
            let says = crate::pages::by_hand::finding_words(shown, finding);
            paragraph(ui, &says, BODY, Ink::Ink);
            if !finding.advice.is_empty() {
                paragraph(
                    ui,
                    &report::words::full_stop(&report::words::capital(&finding.advice)),
                    CAPTION,
                    Ink::Ink2,
                );
            }
            if button(ui, &format!("Go to {}", finding.subject), Weight::Plain, "").clicked() {
                asks.push(Act::GoTo(finding.subject.clone()));
            }
        }
    });
}

fn figure(ui: &mut Ui, shown: Shown, hit: &Hit, asks: &mut Vec<Act>) {
    let Some(pair) = shown.pair() else { return };
    let Some(explained) = explain(&pair, hit) else {
        return;
    };
    let Explained {
        title,
        values,
        means,
        how,
        at_the_car,
        copy,
    } = &explained;
    paragraph(ui, title, HEAD, Ink::Ink);
    for value in values {
        paragraph(ui, value, STRONG, Ink::Ink);
    }
    paragraph(ui, "What it means", CAPTION_HEAD, Ink::Ink2);
    paragraph(ui, means, BODY, Ink::Ink);
    paragraph(ui, "How it was got", CAPTION_HEAD, Ink::Ink2);
    for line in how {
        paragraph(ui, line, BODY, Ink::Ink);
    }
    if !at_the_car.is_empty() {
        paragraph(ui, "At the car", CAPTION_HEAD, Ink::Ink2);
        for line in at_the_car {
            paragraph(ui, line, BODY, Ink::Ink);
        }
    }
    ui.add_space(space::GAP as f32);
    ui.horizontal(|ui| {
        if button(ui, "Copy the figure", Weight::Filled, "Ctrl C").clicked() {
            asks.push(Act::Copy(copy.clone()));
        }
        if button(ui, "Copy the table", Weight::Plain, "Ctrl Shift C").clicked() {
            asks.push(Act::Copy(table(&pair)));
        }
    });
}

fn choose(
    ui: &mut Ui,
    shown: Shown,
    (id, kind): (&CompareId, OptionKind),
    note: &str,
    fresh: bool,
    asks: &mut Vec<Act>,
) {
    let Some(pair) = pair_of(shown, id) else {
        return;
    };
    let word = pair.choice_word(kind);
    paragraph(ui, &format!("{}: {word}", pair.title()), HEAD, Ink::Ink);
    paragraph(
        ui,
        &report::sheet::choice_says(&pair, kind),
        BODY,
        Ink::Ink2,
    );
    paragraph(ui, "Why (may stay empty)", CAPTION_HEAD, Ink::Ink2);
    let mut text = note.to_owned();
    let response = text_line(ui, "Why", "", &mut text);
    if fresh {
        response.request_focus();
    }
    if text != note {
        asks.push(Act::Panel(Some(Panel::Choose(
            id.clone(),
            kind,
            text.clone(),
        ))));
    }
    // Enter on another control is meant for that one.
    let entered = response.lost_focus() && ui.input(|i| i.key_pressed(Key::Enter));
    let chosen = shown
        .document()
        .job()
        .choices
        .chosen
        .iter()
        .any(|(c, k, _)| c == id && *k == kind);
    ui.add_space(space::GAP as f32);
    ui.horizontal(|ui| {
        if button(ui, "Choose it", Weight::Filled, "Enter").clicked() || entered {
            let command = Command::Choose {
                compare: id.clone(),
                option: kind,
                note: text.clone(),
            };
            asks.push(Act::Do(command));
            asks.push(Act::Panel(None));
        }
        if chosen && button(ui, "Take it back", Weight::Plain, "").clicked() {
            asks.push(Act::Do(Command::Unchoose(id.clone())));
            asks.push(Act::Panel(None));
        }
        if button(ui, "Leave it open", Weight::Plain, "Esc").clicked() {
            asks.push(Act::Panel(None));
        }
    });
}

/// Something that can be found by name.
struct Findable {
    name: String,
    /// Its key, or what it is.
    what: String,
    /// What it is for; may be empty.
    help: &'static str,
    act: Act,
}

/// Everything that can be found by name: commands, parts, stations.
fn findable(shown: Option<Shown>, text: &str) -> Vec<Findable> {
    let wanted: Vec<String> = text
        .to_lowercase()
        .split_whitespace()
        .map(str::to_owned)
        .collect();
    let mut found = Vec::new();
    let mut offer = |name: String, what: String, help: &'static str, act: Act| {
        let lower = name.to_lowercase();
        if wanted.iter().all(|w| lower.contains(w)) {
            found.push(Findable {
                name,
                what,
                help,
                act,
            });
        }
    };
    for command in COMMANDS {
        let (name, key) = (command.name.to_owned(), command.key.to_owned());
        offer(name, key, command.help, (command.act)());
    }
    if let Some(shown) = shown {
        for pair in shown.pairs() {
            offer(
                pair.title().to_owned(),
                "part".to_owned(),
                "",
                Act::Pair(pair.measured.id.clone()),
            );
        }
        if let Some(pair) = shown.pair() {
            for (k, station) in pair.measured.stations.iter().enumerate() {
                offer(
                    format!("Station {k}, {}", station.place),
                    pair.title().to_owned(),
                    "",
                    Act::Point(Some(k)),
                );
            }
        }
    }
    found
}

fn find(ui: &mut Ui, shown: Option<Shown>, text: &str, at: usize, asks: &mut Vec<Act>) {
    paragraph(ui, "Find a command, a part or a station", HEAD, Ink::Ink);
    let mut typed = text.to_owned();
    let response = text_line(ui, "Find", "", &mut typed);
    response.request_focus();
    let found = findable(shown, &typed);
    let last = found.len().saturating_sub(1);
    let mut place = if typed == text { at.min(last) } else { 0 };
    if ui.input_mut(|i| i.consume_key(egui::Modifiers::NONE, Key::ArrowDown)) {
        place = (place + 1).min(last);
    }
    if ui.input_mut(|i| i.consume_key(egui::Modifiers::NONE, Key::ArrowUp)) {
        place = place.saturating_sub(1);
    }
    if typed != text || place != at {
        asks.push(Act::Panel(Some(Panel::Find(typed, place))));
    }
    let enter = ui.input(|i| i.key_pressed(Key::Enter));
    let help = found.get(place).map_or("", |f| f.help);
    egui::ScrollArea::vertical()
        .max_height(360.0)
        .show(ui, |ui| {
            if found.is_empty() {
                paragraph(ui, "Nothing has that name.", BODY, Ink::Ink2);
            }
            for (i, row) in found.into_iter().take(60).enumerate() {
                let Findable {
                    name, what, act, ..
                } = row;
                let row = egui::Button::selectable(i == place, name)
                    .right_text(what)
                    .min_size(egui::vec2(ui.available_width(), 0.0));
                let response = ui.add(row);
                if i == place {
                    response.scroll_to_me(None);
                }
                if response.clicked() || (enter && i == place) {
                    asks.push(Act::Panel(None));
                    asks.push(act);
                }
            }
        });
    // What the row that stands out is for.
    if !help.is_empty() {
        paragraph(ui, help, CAPTION, Ink::Ink2);
    }
}

fn open_file(ui: &mut Ui, text: &str, fresh: bool, asks: &mut Vec<Act>) {
    paragraph(ui, "Open a job or bring in a scan", HEAD, Ink::Ink);
    paragraph(
        ui,
        "Drop the file on the window, or give its path. Jobs end in .ron; scans in .stl, .ply, .obj, .off, .pcd, .e57, .xyz, .pts, .asc, .csv or .txt.",
        BODY,
        Ink::Ink2,
    );
    if let Some(path) = path_field(
        ui,
        (text, fresh, Files::Read),
        "Path of the file",
        &|t| Panel::OpenFile(t),
        asks,
    ) {
        asks.push(Act::Panel(None));
        if path
            .extension()
            .is_some_and(|e| e.eq_ignore_ascii_case("ron"))
        {
            asks.push(Act::OpenJob(path));
        } else {
            asks.push(Act::BringIn(vec![path]));
        }
    }
}

fn other_job(ui: &mut Ui, text: &str, fresh: bool, asks: &mut Vec<Act>) {
    paragraph(ui, "Bring in the other job", HEAD, Ink::Ink);
    paragraph(
        ui,
        "Give the path of its job file, which ends in .ron. Its scans stay where they are; its openings come into this job.",
        BODY,
        Ink::Ink2,
    );
    if let Some(path) = path_field(
        ui,
        (text, fresh, Files::Jobs),
        "Path of the other job",
        &|t| Panel::Other(t),
        asks,
    ) {
        asks.push(Act::Panel(None));
        asks.push(Act::BringInOther(path));
    }
}

fn save_as(ui: &mut Ui, text: &str, fresh: bool, asks: &mut Vec<Act>) {
    paragraph(ui, "Save the job", HEAD, Ink::Ink);
    paragraph(
        ui,
        "Give a path that ends in .ron. Scans stay where they are.",
        BODY,
        Ink::Ink2,
    );
    if let Some(path) = path_field(
        ui,
        (text, fresh, Files::Jobs),
        "Path of the job",
        &|t| Panel::SaveAs(t),
        asks,
    ) {
        asks.push(Act::Panel(None));
        asks.push(Act::SaveAs(path));
    }
}

/// A field for a path, with folders and files of a kind below it; the path once it is entered.
fn path_field(
    ui: &mut Ui,
    (text, fresh, files): (&str, bool, Files),
    label: &str,
    again: &dyn Fn(String) -> Panel,
    asks: &mut Vec<Act>,
) -> Option<std::path::PathBuf> {
    let mut typed = text.to_owned();
    let response = text_line(ui, label, "", &mut typed);
    if fresh {
        response.request_focus();
    }
    let mut taken = None;
    egui::ScrollArea::vertical()
        .max_height(260.0)
        .show(ui, |ui| {
            for entry in beginning_with(&typed, files) {
                if ui.selectable_label(false, entry.shown()).clicked() {
                    if entry.is_folder {
                        typed = format!("{}{}", entry.path.display(), std::path::MAIN_SEPARATOR);
                        response.request_focus();
                    } else {
                        taken = Some(entry.path);
                    }
                }
            }
        });
    if typed != text {
        asks.push(Act::Panel(Some(again(typed.clone()))));
    }
    ui.add_space(space::GAP as f32);
    // Enter on another control is meant for that one.
    let entered = response.lost_focus()
        && ui.input(|i| i.key_pressed(Key::Enter))
        && !typed.trim().is_empty();
    ui.horizontal(|ui| {
        let how = if typed.trim().is_empty() {
            Weight::Waiting
        } else {
            Weight::Filled
        };
        if button(ui, "Take this one", how, "Enter").clicked() || entered {
            taken = Some(std::path::PathBuf::from(typed.trim()));
        }
        if button(ui, "Not now", Weight::Plain, "Esc").clicked() {
            asks.push(Act::Panel(None));
        }
    });
    taken
}

fn about(ui: &mut Ui) {
    paragraph(ui, "unmirror", HEAD, Ink::Ink);
    paragraph(
        ui,
        &format!(
            "Version {}. Licence MIT or Apache-2.0. Type: IBM Plex Sans Condensed, SIL Open Font License 1.1.",
            env!("CARGO_PKG_VERSION")
        ),
        CAPTION,
        Ink::Ink2,
    );
    egui::ScrollArea::vertical()
        .max_height(420.0)
        .show(ui, |ui| {
            paragraph(ui, report::terminal::CAUTION, STRONG, Ink::Ink);
            for line in CAUTIONS {
                paragraph(ui, line, BODY, Ink::Ink);
            }
            paragraph(ui, "Keys", CAPTION_HEAD, Ink::Ink2);
            let keyed: Vec<_> = COMMANDS.iter().filter(|c| !c.key.is_empty()).collect();
            ui.columns(2, |columns| {
                let half = keyed.len().div_ceil(2);
                for (ui, commands) in columns.iter_mut().zip(keyed.chunks(half)) {
                    ui.spacing_mut().item_spacing.y = space::UNIT as f32;
                    for command in commands {
                        keyed_command(ui, command);
                    }
                }
            });
            for line in MORE_KEYS {
                paragraph(ui, line, BODY, Ink::Ink);
            }
        });
}

/// A key and what it does, in two columns.
fn keyed_command(ui: &mut Ui, command: &Named) {
    let Named {
        key, name, help, ..
    } = *command;
    let wide = ui.available_width();
    let (rect, response) = ui.allocate_exact_size(
        egui::vec2(wide, space::CAPTION as f32),
        egui::Sense::hover(),
    );
    response.widget_info(|| {
        egui::WidgetInfo::labeled(egui::Role::Label, true, format!("{key}: {name}"))
    });
    if !help.is_empty() {
        response.on_hover_text(help);
    }
    for (dx, text, letter) in [(0.0, key, CAPTION_HEAD), (84.0, name, CAPTION)] {
        let room = f64::from(wide - dx);
        let text = report::sheet::cut(text, room, letter.0, letter.1);
        let at = rect.left_center() + egui::vec2(dx, 0.0);
        crate::controls::words_at(ui, at, egui::Align2::LEFT_CENTER, &text, letter, Ink::Ink);
    }
}

const CAUTIONS: [&str; 6] = [
    "Hinges, latches, strikers, steering and pedal parts carry load: they need qualified design and test, and get no mirror short cut here.",
    "Keep away from airbag, sensor and belt-anchor zones.",
    "Lamps have aim and approval marks: 0.6° of tilt of the bowl is about 1 % of aim.",
    "Protruding parts: rules on outer edges ask for radii of 2.5 mm and more; look up yours. Break sharp edges.",
    "Unlike metals corrode where they touch.",
    "A car on stands is not the car on its wheels: load alone can move a door gap by more than 2 mm.",
];

const MORE_KEYS: [&str; 6] = [
    "On the page of two visits and two cars: Up and Down go through the list, A shows the metal after or before, X draws the difference larger",
    "Ctrl B begins a job that is measured with tape and protractor; Ctrl L says where on the coach the part sits (or drag it there); Ctrl U shows inches or millimetres",
    "Space, held: the left edge over the right",
    "Up, Down: station by station",
    "Ctrl C: the figure pointed at, with unit, give or take, side and mark; Ctrl Shift C: the table",
    "While places are named: Enter keeps, Esc skips, + and − grow or shrink a face, N looks at the next proposal, P goes to the picture, where arrows move it (Alt: a little), Space takes its middle, Tab looks at the next proposal and Shift Tab leaves it; E, T, F, J, H choose what is named, O shows the colours of the scan, C copies across",
];
