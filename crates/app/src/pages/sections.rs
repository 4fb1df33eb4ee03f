//! Sections and panels: one section with the other side laid on it, the panel round the opening, gaps and hinges.

use editor::Lane;
use egui::{Key, Modifiers, Rect, Role, Sense, Ui, WidgetInfo, pos2, vec2};
use record::{PairPanel, Sections, SheetKind};
use report::sections::{NO_SECTIONS, gap_sentence, hinge_sentence};
use report::sheet::{
    Sheet, gap_strip, hinge_drawing, panel_answer, panel_map, section_profile, section_table,
};
use report::theme::Ink;

use super::bring_in::within;
use super::notice::why_called_off;
use crate::controls::{Weight, button, focus_outline, one_of, paragraph, rule};
use crate::fields::{BLOCK, Fields, paint_field};
use crate::letter::{BODY, CAPTION, CAPTION_HEAD, SAID};
use crate::look::theme_of;
use crate::paint::{Manner, paint_sheet, show_sheet};
use crate::shown::Shown;
use crate::state::Act;

/// Height of the sentence.
const ANSWER: f32 = 96.0;
/// How many times larger the difference is drawn, in words.
const FACTORS: [(f64, &str); 4] = [(1.0, "×1"), (5.0, "×5"), (20.0, "×20"), (50.0, "×50")];

/// What is looked at on the page.
#[derive(Clone, Debug)]
pub struct Cutting {
    /// The section; `None`: the one with the worst place.
    pub section: Option<usize>,
    /// Which of the factors.
    pub factor: usize,
}

impl Default for Cutting {
    fn default() -> Self {
        Self {
            section: None,
            factor: 2,
        }
    }
}

/// Shows the page.
pub fn show(ui: &mut Ui, shown: Shown, fields: &Fields, asks: &mut Vec<Act>) {
    let page = fields.page;
    let answer = Rect::from_min_max(page.min, pos2(page.max.x, page.min.y + ANSWER));
    let column_width = BLOCK[0].min(page.width() * 0.42);
    let column = Rect::from_min_max(
        pos2(page.max.x - column_width, answer.max.y),
        pos2(page.max.x, page.max.y - BLOCK[1]),
    );
    let share = if fields.wide { 0.62 } else { 0.55 };
    let middle = answer.max.y + (page.max.y - answer.max.y) * share;
    let profile = Rect::from_min_max(pos2(page.min.x, answer.max.y), pos2(column.min.x, middle));
    let map = Rect::from_min_max(pos2(page.min.x, middle), pos2(column.min.x, page.max.y));
    let all = shown.document().sections();
    let pair = all.and_then(|s| of_page(shown, s));
    let section = pair.map_or(0, |p| looked_at(shown, p));
    let manner = Manner {
        faded: !shown.document().sections_are_fresh(),
        ..Manner::default()
    };
    if let Some(pair) = pair {
        let units = shown.document().job().units;
        let (factor, _) = FACTORS[shown.view.cutting.factor % FACTORS.len()];
        let sheet = panel_answer(pair, units, size_of(answer));
        show_sheet(ui, "panel answer", &sheet, answer.min, manner, &|_| None);
        let sheet = section_profile(pair, section, factor, units, size_of(profile));
        show_sheet(ui, "section", &sheet, profile.min, manner, &|_| None);
        panel(ui, shown, pair, section, map, manner, asks);
    } else {
        let says = match all {
            Some(_) if shown.document().sections_are_fresh() => NO_SECTIONS,
            _ => "How the metal beside the opening runs, left against right.",
        };
        within(ui, answer, "panel answer", |ui| {
            paragraph(ui, says, SAID, Ink::Ink);
        });
        for (field, says) in [
            (
                profile,
                "One section stands here, the other side mirrored and laid on it.",
            ),
            (
                map,
                "The panel round the opening stands here, with what stands proud or shy.",
            ),
        ] {
            within(ui, field, says, |ui| {
                paragraph(ui, says, CAPTION, Ink::Ink2);
            });
        }
    }
    within(ui, column, "sections", |ui| {
        progress(ui, shown, asks);
        if let Some(pair) = pair {
            one_section(ui, shown, pair, section, asks);
        }
        if let Some(all) = all {
            neighbours(ui, shown, all);
        }
    });
    for field in [answer, profile, map, column] {
        paint_field(ui, field);
    }
    keys(ui, shown, pair, section, asks);
}

fn size_of(field: Rect) -> [f64; 2] {
    [f64::from(field.width()), f64::from(field.height())]
}

/// The panel of the pair on the page.
fn of_page<'a>(shown: Shown, sections: &'a Sections) -> Option<&'a PairPanel> {
    let id = shown.pair().map(|p| p.measured.id.clone());
    let of = |p: &&PairPanel| Some(&p.compare) == id.as_ref();
    sections.pairs.iter().find(of)
}

/// The section that is looked at: the chosen one, else the one with the worst place.
fn looked_at(shown: Shown, pair: &PairPanel) -> usize {
    let worst = pair.worst.as_ref().map_or(0, |w| w.section);
    let last = pair.sections.len().saturating_sub(1);
    shown.view.cutting.section.unwrap_or(worst).min(last)
}

fn look_at(shown: Shown, change: impl FnOnce(&mut Cutting)) -> Act {
    let mut cutting = shown.view.cutting.clone();
    change(&mut cutting);
    Act::Cutting(cutting)
}

/// The map: a press looks at the section there.
fn panel(
    ui: &mut Ui,
    shown: Shown,
    pair: &PairPanel,
    section: usize,
    field: Rect,
    manner: Manner,
    asks: &mut Vec<Act>,
) {
    let map = panel_map(pair, section, shown.document().job().units, size_of(field));
    paint_sheet(ui, &map.sheet, field.min, theme_of(ui.ctx()), manner);
    let id = ui.scope_id().with("panel map");
    let response = ui.interact(field.shrink(2.0), id, Sense::click());
    response.widget_info(|| WidgetInfo::labeled(Role::Figure, true, &map.sheet.says));
    focus_outline(ui, &response);
    let pressed = response
        .clicked()
        .then(|| response.interact_pointer_pos())
        .flatten();
    if let Some(at) = pressed
        && let Some(k) = map.section_at(f64::from(at.x - field.min.x))
    {
        asks.push(look_at(shown, |c| c.section = Some(k)));
    }
}

/// How far the cutting is, and how to stop it or begin it again.
fn progress(ui: &mut Ui, shown: Shown, asks: &mut Vec<Act>) {
    let document = shown.document();
    let work = document.work().find(|w| w.lane == Lane::Sections);
    if shown.editor.sections_are_called_off() {
        let says = "Called off: these sections are not those of the job as it is.";
        why_called_off(ui, shown, Lane::Sections, says, asks);
        if button(ui, "Cut the sections", Weight::Filled, "").clicked() {
            asks.push(Act::WantSections(true));
        }
        rule(ui, Ink::Hair);
    } else if shown.editor.sections_are_coming() {
        let far = work.map_or_else(String::new, |work| {
            let share = 100.0 * work.done as f64 / work.total.max(1) as f64;
            let left = work
                .seconds_left
                .map_or_else(String::new, |s| format!(", {s:.0} s left"));
            format!(", {share:.0} %{left}")
        });
        paragraph(ui, &format!("Cutting sections{far}"), BODY, Ink::Ink);
        if button(ui, "Call off", Weight::Plain, "Esc").clicked() {
            asks.push(Act::CallOffSections);
        }
        rule(ui, Ink::Hair);
    } else if !document.sections_are_fresh() {
        let says = if document.job().compares.is_empty() {
            "Name an opening on each side and compare them first: sections are cut round a pair."
        } else {
            "The sections stand here once the pair is measured."
        };
        paragraph(ui, says, BODY, Ink::Ink2);
        rule(ui, Ink::Hair);
    }
}

/// The section in numbers.
fn one_section(ui: &mut Ui, shown: Shown, pair: &PairPanel, section: usize, asks: &mut Vec<Act>) {
    let count = pair.sections.len();
    if count == 0 {
        return;
    }
    ui.horizontal(|ui| {
        if button(ui, "Section before", Weight::Plain, "←").clicked() {
            asks.push(look_at(shown, |c| {
                c.section = Some((section + count - 1) % count);
            }));
        }
        if button(ui, "Next section", Weight::Plain, "→").clicked() {
            asks.push(look_at(shown, |c| c.section = Some((section + 1) % count)));
        }
        let worst = pair.worst.as_ref().map(|w| w.section);
        if worst.is_some_and(|w| w != section)
            && button(ui, "Worst place", Weight::Plain, "Home").clicked()
        {
            asks.push(look_at(shown, |c| c.section = None));
        }
    });
    let names = FACTORS.map(|f| f.1);
    if let Some(k) = one_of(ui, &names, Some(shown.view.cutting.factor)) {
        asks.push(look_at(shown, |c| c.factor = k));
    }
    let place = &pair.sections[section].place;
    let head = format!(
        "Section {} of {count}, {place}: {}",
        section + 1,
        report::sections::minus(pair)
    );
    paragraph(ui, &head, CAPTION_HEAD, Ink::Ink2);
    let wide = f64::from(ui.available_width());
    let sheet = section_table(pair, section, shown.document().job().units, wide);
    let tall = vec2(sheet.width as f32, sheet.height as f32);
    let (rect, _) = ui.allocate_exact_size(tall, Sense::hover());
    show_sheet(
        ui,
        "section table",
        &sheet,
        rect.min,
        Manner::default(),
        &|_| None,
    );
    let flange = pair.steps.iter().any(|s| s.sheet == SheetKind::Flange);
    let says = if flange {
        "+ : the first named side stands further out of the metal. The flange is read from the edge into the body."
    } else {
        "+ : the first named side stands further out of the metal."
    };
    paragraph(ui, says, CAPTION, Ink::Ink2);
}

/// A drawing in the flow of the column; nothing where there is none.
fn drawn(ui: &mut Ui, name: &str, sheet: &Sheet) {
    if sheet.items.is_empty() {
        return;
    }
    let tall = vec2(sheet.width as f32, sheet.height as f32);
    let (rect, _) = ui.allocate_exact_size(tall, Sense::hover());
    let salt = format!("drawing of {name}");
    show_sheet(ui, &salt, sheet, rect.min, Manner::default(), &|_| None);
}

/// Gaps to neighbours, hinges and doubts.
fn neighbours(ui: &mut Ui, shown: Shown, all: &Sections) {
    let units = shown.document().job().units;
    rule(ui, Ink::Hair);
    paragraph(ui, "Gaps, flush and hinges", CAPTION_HEAD, Ink::Ink2);
    let wide = f64::from(ui.available_width());
    for gap in &all.gaps {
        paragraph(ui, &gap_sentence(gap, units), BODY, Ink::Ink);
        drawn(ui, &gap.name, &gap_strip(gap, units, wide));
    }
    for hinge in &all.hinges {
        paragraph(ui, &hinge_sentence(hinge, units), BODY, Ink::Ink);
        drawn(ui, &hinge.name, &hinge_drawing(hinge, units, wide));
    }
    if all.gaps.is_empty() && all.hinges.is_empty() {
        let says =
            "None is asked for. They are written into the job file: docs/sections.md says how.";
        paragraph(ui, says, CAPTION, Ink::Ink2);
    }
    let mut doubts: Vec<&record::Finding> = all.findings.iter().collect();
    doubts.sort_by_key(|f| std::cmp::Reverse(f.severity));
    if !doubts.is_empty() {
        rule(ui, Ink::Hair);
        paragraph(ui, "Doubts", CAPTION_HEAD, Ink::Ink2);
    }
    for f in doubts {
        paragraph(ui, &report::finding_text(f), CAPTION, Ink::Ink);
    }
}

fn keys(ui: &Ui, shown: Shown, pair: Option<&PairPanel>, section: usize, asks: &mut Vec<Act>) {
    if ui.ctx().text_edit_focused() || shown.view.panel.is_some() {
        return;
    }
    let pressed = |key: Key| ui.input_mut(|i| i.consume_key(Modifiers::NONE, key));
    if shown.editor.sections_are_coming() && pressed(Key::Escape) {
        asks.push(Act::CallOffSections);
    }
    if pressed(Key::X) {
        asks.push(look_at(shown, |c| {
            c.factor = (c.factor + 1) % FACTORS.len();
        }));
    }
    // With something in hand the arrows go from control to control.
    let Some(pair) = pair.filter(|_| !ui.ctx().egui_wants_keyboard_input()) else {
        return;
    };
    let count = pair.sections.len().max(1);
    if pressed(Key::ArrowRight) || pressed(Key::ArrowDown) {
        asks.push(look_at(shown, |c| c.section = Some((section + 1) % count)));
    }
    if pressed(Key::ArrowLeft) || pressed(Key::ArrowUp) {
        asks.push(look_at(shown, |c| {
            c.section = Some((section + count - 1) % count);
        }));
    }
    if pressed(Key::Home) {
        asks.push(look_at(shown, |c| c.section = None));
    }
}
