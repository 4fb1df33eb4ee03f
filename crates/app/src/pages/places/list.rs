//! What is named, and what was found last: figures, and what can be done with them.

use editor::{Command, OpeningChange, ProbeAnswer, Probed};
use egui::{Align2, Key, Modifiers, Role, Sense, Ui, WidgetInfo, vec2};
use record::{EdgeKind, FaceId, JunctionId, JunctionPick, Opening, Side, Stations, Through};
use report::number::show as figure;
use report::theme::{Ink, space};

use super::naming::{Naming, Tool, edge_is_lost, free_name, keep, opening, resized, skip};
use super::{is_answered, turn_to, unanswered_side};
use crate::controls::{Weight, button, one_of, paragraph, rule, text_line, words_at};
use crate::letter::{BODY, CAPTION, CAPTION_HEAD, HEAD, STRONG};
use crate::shown::Shown;
use crate::state::Act;

pub(super) fn places(ui: &mut Ui, shown: Shown, asks: &mut Vec<Act>) {
    let naming = &shown.view.places;
    if let Some(says) = &naming.says {
        paragraph(ui, says, BODY, Ink::NotProven);
    }
    if let Some(answer) = &naming.found {
        found(ui, shown, answer, asks);
        rule(ui, Ink::Rule);
    }
    for offer in shown.document().offers() {
        paragraph(
            ui,
            &format!(
                "Proposed: {}, {:.0} % sure",
                offer.name,
                100.0 * offer.sureness
            ),
            STRONG,
            Ink::Ink,
        );
        ui.horizontal(|ui| {
            if button(ui, &format!("Keep {}", offer.name), Weight::Filled, "").clicked() {
                asks.push(Act::KeepOffer(offer.number));
            }
            if button(ui, &format!("Skip {}", offer.name), Weight::Plain, "").clicked() {
                asks.push(Act::SkipOffer(offer.number));
            }
        });
        rule(ui, Ink::Hair);
    }
    if naming.tool == Tool::Junction {
        junction(ui, shown, asks);
        rule(ui, Ink::Rule);
    }
    list(ui, shown, asks);
}

fn row(ui: &mut Ui, name: &str, value: &str, more: &str) {
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), 26.0), Sense::hover());
    response
        .widget_info(|| WidgetInfo::labeled(Role::Label, true, format!("{name}: {value} {more}")));
    let name = report::sheet::cut(name, 150.0, BODY.0, BODY.1);
    words_at(
        ui,
        rect.left_center(),
        Align2::LEFT_CENTER,
        &name,
        BODY,
        Ink::Ink2,
    );
    let at = rect.left_center() + vec2(160.0, 0.0);
    let value = words_at(ui, at, Align2::LEFT_CENTER, value, STRONG, Ink::Ink);
    let beside = (value.right() + 12.0).max(rect.left() + 250.0) - rect.left();
    let room = f64::from(rect.width() - beside);
    let more = report::sheet::cut(more, room, CAPTION.0, CAPTION.1);
    words_at(
        ui,
        rect.left_center() + vec2(beside, 0.0),
        Align2::LEFT_CENTER,
        &more,
        CAPTION,
        Ink::Ink2,
    );
}

fn found(ui: &mut Ui, shown: Shown, answer: &ProbeAnswer, asks: &mut Vec<Act>) {
    let units = shown.document().job().units;
    match &answer.found {
        Err(why) => {
            let says = match why {
                editor::NotFound::NoPoints => "There are no points there.",
                editor::NotFound::NotSmooth => {
                    "No smooth face there: click farther from edges and bends."
                }
                editor::NotFound::NotAnEdge => {
                    "No edge near there: click nearer to the edge of the metal."
                }
                editor::NotFound::NotRound => {
                    "No round hole there: click inside the hole, near its edge."
                }
            };
            paragraph(ui, says, HEAD, Ink::Ink);
        }
        Ok(Probed::Face(face)) => {
            let doubt = figure(&face.normal, units);
            paragraph(
                ui,
                &format!("This face is known to ±{}°.", doubt.give_or_take),
                HEAD,
                Ink::Ink,
            );
            if let Some(f) = face.face.findings.first() {
                paragraph(ui, &report::finding_text(f), BODY, Ink::Ink2);
            }
            let [long, short] = face.face.size_mm;
            row(
                ui,
                "Size",
                &format!("{long:.0} × {short:.0} mm"),
                &format!("{:.1} cm²", face.area_mm2 / 100.0),
            );
            row(
                ui,
                "Points",
                &report::number::to_step(face.face.points as f64, 1.0, units),
                "",
            );
            row(
                ui,
                "Seen",
                &format!("{:.0} %", 100.0 * face.face.seen),
                "of its outline",
            );
            row(
                ui,
                "Scatter",
                &format!("{:.2} mm", face.face.scatter_mm),
                "of single points about it",
            );
            row(
                ui,
                "Flat within",
                &format!("{:.2} mm", face.flatness_mm),
                "",
            );
            let curve = face
                .face
                .radius_mm
                .map_or_else(|| "flat".to_owned(), |r| format!("R {r:.0} mm"));
            row(
                ui,
                "Curve",
                &curve,
                &format!("{} high", figure(&face.face.sag, units).plus_minus()),
            );
            row(
                ui,
                "Its place",
                &format!("{:.2}°", face.face.turn_deg_per_mm),
                "turn for each mm it is moved",
            );
            actions(ui, shown, "Keep this face", true, asks);
        }
        Ok(Probed::Edge(edge)) => {
            let kind = match edge.kind {
                EdgeKind::Bend => "the bend of a return flange",
                EdgeKind::Free | EdgeKind::Auto => "the free edge of the sheet",
            };
            let closed = if edge.closed { "closed" } else { "open" };
            paragraph(
                ui,
                &format!("An edge, {closed}, {:.0} mm long.", edge.length_mm),
                HEAD,
                Ink::Ink,
            );
            paragraph(ui, &format!("It is {kind}."), BODY, Ink::Ink2);
            if edge.gaps.is_empty() {
                row(ui, "Seen", "all", "no gaps");
            }
            for gap in &edge.gaps {
                row(
                    ui,
                    "Gap",
                    &format!("{:.0} mm", gap.length_mm),
                    &format!("{:.0} mm along; nothing is guessed there", gap.from_mm),
                );
            }
            let named = opening(shown)
                .filter(|o| o.scan == answer.scan && (o.edge.is_none() || edge_is_lost(shown, o)));
            if named.is_none() {
                name_field(ui, shown, "Name of the new opening", asks);
            }
            actions(ui, shown, "Keep this edge", false, asks);
        }
        Ok(Probed::Hole(hole)) => {
            paragraph(
                ui,
                &format!(
                    "A hole, {} across.",
                    figure(&hole.diameter, units).plus_minus()
                ),
                HEAD,
                Ink::Ink,
            );
            row(
                ui,
                "Seen",
                &format!("{:.0}°", hole.arc_deg),
                "of its circle",
            );
            row(
                ui,
                "Middle",
                &format!("±{} mm", figure(&hole.centre_u95, units).give_or_take),
                "give or take, each direction",
            );
            actions(ui, shown, "Keep this hole", false, asks);
        }
    }
}

fn actions(ui: &mut Ui, shown: Shown, keep_word: &str, grows: bool, asks: &mut Vec<Act>) {
    ui.add_space(space::GAP as f32);
    ui.horizontal_wrapped(|ui| {
        let acts = keep(shown);
        let how = if acts.is_some() {
            Weight::Filled
        } else {
            Weight::Waiting
        };
        let response = button(
            ui,
            keep_word,
            how,
            if acts.is_some() {
                "Enter"
            } else {
                "Name an opening first: faces and holes belong to one"
            },
        );
        if response.clicked() {
            asks.extend(acts.into_iter().flatten());
        }
        if grows {
            if button(ui, "Smaller", Weight::Plain, "−").clicked() {
                asks.extend(resized(shown, 0.8));
            }
            if button(ui, "Larger", Weight::Plain, "+").clicked() {
                asks.extend(resized(shown, 1.25));
            }
        }
        if button(ui, "Skip", Weight::Plain, "Esc").clicked() {
            asks.extend(skip(shown));
        }
    });
}

fn name_field(ui: &mut Ui, shown: Shown, label: &str, asks: &mut Vec<Act>) {
    paragraph(ui, label, CAPTION_HEAD, Ink::Ink2);
    let mut text = shown.view.places.name.clone();
    text_line(ui, label, "Lamp opening", &mut text);
    if text != shown.view.places.name {
        let naming = Naming {
            name: text,
            ..shown.view.places.clone()
        };
        asks.push(Act::Naming(Box::new(naming)));
    }
}

fn junction(ui: &mut Ui, shown: Shown, asks: &mut Vec<Act>) {
    let naming = &shown.view.places;
    paragraph(ui, "A junction: two faces that meet", HEAD, Ink::Ink);
    let Some(o) = opening(shown) else {
        paragraph(
            ui,
            "Name an opening and two of its faces first.",
            BODY,
            Ink::Ink2,
        );
        return;
    };
    if o.faces.len() < 2 {
        paragraph(
            ui,
            "Two faces of this opening are wanted: click them with Face.",
            BODY,
            Ink::Ink2,
        );
        return;
    }
    let names: Vec<&str> = o.faces.iter().map(|f| f.id.0.as_str()).collect();
    for (k, says) in ["One face", "The other face"].into_iter().enumerate() {
        ui.push_id(says, |ui| {
            paragraph(ui, says, CAPTION_HEAD, Ink::Ink2);
            let at = o
                .faces
                .iter()
                .position(|f| naming.faces[k].as_ref() == Some(&f.id));
            if let Some(i) = one_of(ui, &names, at) {
                let mut faces = naming.faces.clone();
                faces[k] = Some(o.faces[i].id.clone());
                let naming = Naming {
                    faces,
                    ..naming.clone()
                };
                asks.push(Act::Naming(Box::new(naming)));
            }
        });
    }
    let [Some(a), Some(b)] = &naming.faces else {
        return;
    };
    let place = |id: &FaceId| o.faces.iter().find(|f| f.id == *id).map(|f| f.near);
    let (Some(p), Some(q)) = (place(a), place(b)) else {
        return;
    };
    if a == b {
        paragraph(ui, "Two different faces are wanted.", BODY, Ink::NotProven);
        return;
    }
    if button(
        ui,
        "Keep this junction",
        Weight::Filled,
        "Its angle runs through the metal, from the top down",
    )
    .clicked()
    {
        let middle = geom::Point::from((p.coords + q.coords) / 2.0);
        // The named start is the end of the junction nearer to the top.
        let start = o.top.unwrap_or(middle);
        let pick = JunctionPick {
            id: JunctionId(free_name(shown, "junction")),
            a: a.clone(),
            b: b.clone(),
            start,
            start_name: "top".to_owned(),
            end_name: "bottom".to_owned(),
            through: Through::Material,
            stations: Stations::Quarters,
            drawn_deg: None,
        };
        asks.push(Act::Do(Command::opening(
            o.id.clone(),
            OpeningChange::AddJunction(pick),
        )));
        let naming = Naming {
            faces: [None, None],
            ..naming.clone()
        };
        asks.push(Act::Naming(Box::new(naming)));
    }
}

/// Every opening with its places; the chosen one unfolded.
fn list(ui: &mut Ui, shown: Shown, asks: &mut Vec<Act>) {
    let job = shown.document().job();
    if job.openings.is_empty() {
        paragraph(ui, "Nothing is named yet.", HEAD, Ink::Ink);
        paragraph(
            ui,
            "Click near the edge of an opening, or let all openings be found.",
            BODY,
            Ink::Ink2,
        );
        if !shown.document().scans().is_empty()
            && button(ui, "Find the openings in all scans", Weight::Filled, "").clicked()
        {
            asks.push(Act::Find);
        }
        return;
    }
    let now = opening(shown).map(|o| o.id.clone());
    for o in &job.openings {
        let on = now.as_ref() == Some(&o.id);
        let side = report::words::side(o.side);
        let state = match o.sureness {
            Some(s) => format!("{side}, proposed, {:.0} % sure", 100.0 * s),
            None => side.to_owned(),
        };
        let (rect, response) = ui.allocate_exact_size(
            vec2(ui.available_width(), space::TWO_LINE_ROW as f32),
            Sense::click(),
        );
        response.widget_info(|| {
            WidgetInfo::selected(Role::Button, true, on, format!("{}, {state}", o.name))
        });
        if on || response.hovered() {
            crate::fields::fill_field(ui, rect.expand2(vec2(8.0, 0.0)), Ink::Pick);
        }
        words_at(
            ui,
            rect.min + vec2(0.0, 15.0),
            Align2::LEFT_CENTER,
            &o.name,
            STRONG,
            Ink::Ink,
        );
        words_at(
            ui,
            rect.min + vec2(0.0, 34.0),
            Align2::LEFT_CENTER,
            &state,
            CAPTION,
            Ink::Ink2,
        );
        crate::controls::focus_outline(ui, &response);
        if response.clicked() {
            turn_to(shown, &o.scan, &o.id, asks);
        }
        if on {
            unfolded(ui, shown, o, asks);
        }
        rule(ui, Ink::Hair);
    }
}

fn unfolded(ui: &mut Ui, shown: Shown, o: &Opening, asks: &mut Vec<Act>) {
    let id = &o.id;
    let mut ask = |change: OpeningChange| asks.push(Act::Do(Command::opening(id.clone(), change)));
    rename(ui, o, &mut ask);
    let word = |there: bool| if there { "named" } else { "not yet" };
    let by_hand = shown.document().job().hand_of(o);
    if let Some(table) = by_hand {
        let says = format!("readings of {}", table.id);
        row(ui, "Edge", "by hand", &says);
    } else if edge_is_lost(shown, o) {
        row(ui, "Edge", "not found", "click near it again");
    } else {
        row(ui, "Edge", word(o.edge.is_some()), "");
    }
    if by_hand.is_none() {
        row(ui, "Top", word(o.top.is_some()), "");
    }
    for face in &o.faces {
        let reach = face
            .reach_mm
            .map_or_else(String::new, |r| format!("within {r:.0} mm"));
        row(ui, &face.id.0, "face", &reach);
    }
    for junction in &o.junctions {
        row(
            ui,
            &junction.id.0,
            "junction",
            &format!("{} with {}", junction.a, junction.b),
        );
    }
    for hole in &o.holes {
        row(ui, &hole.id.0, "hole", "");
    }
    paragraph(ui, "Side", CAPTION_HEAD, Ink::Ink2);
    let sides = [Side::Left, Side::Right, Side::Centre];
    let at = sides.iter().position(|s| *s == o.side);
    if let Some(i) = one_of(ui, &["Left", "Right", "Across"], at) {
        ask(OpeningChange::Side(sides[i]));
    }
    ui.add_space(space::UNIT as f32);
    if o.sureness.is_some() {
        ui.horizontal(|ui| {
            if button(ui, "Keep it", Weight::Filled, "Enter").clicked() {
                ask(OpeningChange::Keep);
            }
            if button(ui, "Skip it", Weight::Plain, "Esc").clicked() {
                ask(OpeningChange::Skip);
            }
        });
    }
    let last_face = o.faces.last().map(|f| f.id.clone());
    let mut more = Vec::new();
    ui.horizontal_wrapped(|ui| {
        if unanswered_side(shown, o).is_some()
            && button(
                ui,
                "Copy across",
                Weight::Plain,
                "C: the other side's places are proposed from these",
            )
            .clicked()
        {
            more.push(Act::CopyAcross(id.clone()));
        }
        if let Some(face) = last_face
            && button(ui, &format!("Remove {face}"), Weight::Plain, "").clicked()
        {
            more.push(Act::Do(Command::opening(
                id.clone(),
                OpeningChange::RemoveFace(face),
            )));
        }
        if button(
            ui,
            "Remove it",
            Weight::Plain,
            "The opening and its comparisons; undo brings them back",
        )
        .clicked()
        {
            more.push(Act::Do(Command::RemoveOpening(id.clone())));
        }
    });
    if o.sureness.is_none() && !is_answered(shown, o) {
        partners(ui, shown, o, &mut more);
    }
    asks.extend(more);
}

/// Openings that this one can be compared with by hand.
fn partners(ui: &mut Ui, shown: Shown, o: &Opening, asks: &mut Vec<Act>) {
    let openings = &shown.document().job().openings;
    let others: Vec<&Opening> = openings
        .iter()
        .filter(|p| p.id != o.id && p.scan != o.scan && p.sureness.is_none())
        .filter(|p| !is_answered(shown, p))
        .collect();
    if others.is_empty() {
        return;
    }
    paragraph(
        ui,
        "It is compared with nothing yet",
        CAPTION_HEAD,
        Ink::Ink2,
    );
    ui.horizontal_wrapped(|ui| {
        for other in others {
            let text = format!(
                "Compare with {}, {}",
                other.name,
                report::words::side(other.side)
            );
            if button(
                ui,
                &text,
                Weight::Plain,
                "A pair begins: left with mirrored right",
            )
            .clicked()
            {
                asks.push(Act::CompareWith(o.id.clone(), other.id.clone()));
            }
        }
    });
}

fn rename(ui: &mut Ui, o: &Opening, ask: &mut dyn FnMut(OpeningChange)) {
    let id = ui.scope_id().with(("name of", &o.id.0));
    let mut text: String = ui
        .data_mut(|d| d.get_temp(id))
        .unwrap_or_else(|| o.name.clone());
    let response = text_line(ui, "Name of the opening", "", &mut text);
    if ui.input_mut(|i| i.consume_key(Modifiers::NONE, Key::F2)) {
        response.request_focus();
    }
    if response.lost_focus() {
        if text.trim() != o.name && !text.trim().is_empty() {
            ask(OpeningChange::Name(text.trim().to_owned()));
        }
        ui.data_mut(|d| d.remove::<String>(id));
    } else if response.has_focus() {
        ui.data_mut(|d| d.insert_temp(id, text));
    }
}
