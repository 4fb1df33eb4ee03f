//! Before and after body work: what moved, drawn on the metal and along itself, and what of the answer stands.

use editor::Command;
use egui::{Align2, Role, Sense, Ui, WidgetInfo, pos2, vec2};
use record::{ScanId, WorkFound, WorkStudy, WorkedArea};
use report::body_work::{area_short, area_text, laid_text, work_answer};
use report::number::{show as figure, show_signed};
use report::sheet::{area_profile, work_openings};
use report::theme::{Ink, space};

use super::{Places, answer, bring_in, doubts, go, head, metal, size_of, to_come, within};
use crate::controls::{Weight, button, focus_outline, one_of_rows, paragraph, rule, words_at};
use crate::fields::fill_field;
use crate::letter::{BODY, CAPTION, CAPTION_HEAD, STRONG};
use crate::paint::{Manner, show_sheet};
use crate::scan_view::ScanView;
use crate::shown::Shown;
use crate::state::Act;

/// What stands in the answer as long as there is none.
const NONE: &str =
    "Two scans of one side, before and after body work: what moved, and what of the answer stands.";

/// The piece of work on the page.
pub(super) fn of_work<'a>(shown: Shown, found: &'a WorkStudy) -> Option<&'a WorkFound> {
    let works = &found.works;
    works.get(shown.view.two.work).or_else(|| works.first())
}

pub(super) fn show(
    ui: &mut Ui,
    shown: Shown,
    found: Option<(&std::sync::Arc<WorkStudy>, bool)>,
    at: &Places,
    screen: &mut ScanView,
    asks: &mut Vec<Act>,
) {
    let manner = Manner {
        faded: found.is_some_and(|(_, fresh)| !fresh),
        ..Manner::default()
    };
    let study = found.map(|(f, _)| f.as_ref());
    let work = study.and_then(|f| of_work(shown, f));
    let text = study.zip(work).map(|(f, w)| work_answer(f, w));
    answer(ui, at.answer, text.as_ref(), NONE, manner);
    let laid = work.and_then(|w| w.laid.as_ref());
    if let (Some(study), Some(work), Some(laid)) = (study, work, laid) {
        metal::show(ui, shown, (study, work, laid), at.upper, screen, asks);
        let number = area_of(shown, laid.areas.len());
        if laid.areas.is_empty() {
            to_come(ui, at.lower, "Nothing moved: nothing is drawn here.");
        } else {
            let units = study.study.units;
            let sheet = area_profile(laid, number, units, size_of(at.lower));
            show_sheet(ui, "area", &sheet, at.lower.min, manner, &|_| None);
        }
    } else {
        let says = "The metal stands here, before and after, with what moved in bands.";
        to_come(ui, at.upper, says);
        let says = "One area stands here as it runs: how far it moved, and over which length.";
        to_come(ui, at.lower, says);
    }
    within(ui, at.column, "before and after", |ui| {
        head(ui, shown, asks);
        if let (Some(study), Some(work)) = (study, work) {
            which(ui, shown, study, asks);
            areas(ui, shown, study, work, asks);
            stands(ui, study, work, manner);
            let own = work.findings.iter();
            let whole = study.study.measured.findings.iter();
            let grave = whole.filter(|f| f.severity > record::Severity::Note);
            doubts(ui, own.chain(grave));
            rule(ui, Ink::Hair);
        }
        scans(ui, shown, asks);
    });
}

/// The area looked at.
pub(super) fn area_of(shown: Shown, count: usize) -> usize {
    shown.view.two.area.min(count.saturating_sub(1))
}

/// Which piece of work, where there are several.
fn which(ui: &mut Ui, shown: Shown, study: &WorkStudy, asks: &mut Vec<Act>) {
    if study.works.len() < 2 {
        return;
    }
    let names: Vec<&str> = study.works.iter().map(|w| w.work.name.as_str()).collect();
    let now = shown.view.two.work.min(names.len() - 1);
    if let Some(i) = one_of_rows(ui, &names, Some(now)) {
        asks.push(go(shown, |l| {
            l.work = i;
            l.look_at_area(0);
        }));
    }
}

/// What moved, in rows that can be pressed, and the one looked at in full.
fn areas(ui: &mut Ui, shown: Shown, study: &WorkStudy, work: &WorkFound, asks: &mut Vec<Act>) {
    let Some(laid) = &work.laid else { return };
    let units = study.study.units;
    paragraph(ui, "What moved", CAPTION_HEAD, Ink::Ink2);
    let now = area_of(shown, laid.areas.len());
    ui.spacing_mut().item_spacing.y = 0.0;
    for (k, area) in laid.areas.iter().enumerate() {
        if row(ui, k, area, k == now, units) {
            asks.push(go(shown, |l| l.look_at_area(k)));
        }
    }
    ui.spacing_mut().item_spacing.y = space::GAP as f32;
    if let Some(area) = laid.areas.get(now) {
        for text in area_text(now + 1, area, units) {
            paragraph(ui, &text, BODY, Ink::Ink);
        }
    }
    paragraph(ui, &laid_text(work, laid, units), CAPTION, Ink::Ink2);
}

fn row(
    ui: &mut Ui,
    number: usize,
    area: &WorkedArea,
    on: bool,
    units: record::DisplayUnits,
) -> bool {
    let size = vec2(ui.available_width(), space::ROW as f32);
    let (rect, response) = ui.allocate_exact_size(size, Sense::click());
    let says = format!("Area {}: {}", number + 1, area_short(area, units));
    response.widget_info(|| WidgetInfo::selected(Role::Button, true, on, &says));
    if on || response.hovered() {
        fill_field(ui, rect.expand2(vec2(8.0, 0.0)), Ink::Pick);
    }
    focus_outline(ui, &response);
    let letter = if on { STRONG } else { BODY };
    let at = |x: f32| pos2(rect.left() + x, rect.center().y);
    let left = format!("{}", number + 1);
    words_at(ui, at(0.0), Align2::LEFT_CENTER, &left, letter, Ink::Ink);
    let most = show_signed(&area.most, units).plus_minus();
    words_at(ui, at(24.0), Align2::LEFT_CENTER, &most, letter, Ink::Ink);
    let least = if area.ends_seen[0] { "" } else { "at least " };
    let long = format!("{least}{} long", figure(&area.length, units).plus_minus());
    let right = rect.right_center();
    words_at(ui, right, Align2::RIGHT_CENTER, &long, CAPTION, Ink::Ink2);
    response.clicked()
}

/// What of the earlier answer stands.
fn stands(ui: &mut Ui, study: &WorkStudy, work: &WorkFound, manner: Manner) {
    if work.laid.is_none() {
        return;
    }
    rule(ui, Ink::Hair);
    let says = "What of the earlier answer stands";
    paragraph(ui, says, CAPTION_HEAD, Ink::Ink2);
    let wide = f64::from(ui.available_width());
    let sheet = work_openings(study, work, wide);
    let tall = vec2(sheet.width as f32, sheet.height as f32);
    let (rect, _) = ui.allocate_exact_size(tall, Sense::hover());
    show_sheet(ui, "stands", &sheet, rect.min, manner, &|_| None);
}

/// Which scans are before and after, and how more come in.
fn scans(ui: &mut Ui, shown: Shown, asks: &mut Vec<Act>) {
    let job = shown.document().job();
    paragraph(ui, "Scans before and after", CAPTION_HEAD, Ink::Ink2);
    for (k, work) in job.body_work.iter().enumerate() {
        ui.horizontal_wrapped(|ui| {
            let word = format!("Take {} apart", work.name);
            if button(ui, &word, Weight::Plain, "").clicked() {
                let mut works = job.body_work.clone();
                works.remove(k);
                asks.push(Act::Do(Command::BodyWork(works)));
            }
        });
        let says = format!(
            "{}: {} before, {} after.",
            work.name, work.before, work.after
        );
        paragraph(ui, &says, CAPTION, Ink::Ink);
        let said = if work.worked.is_empty() {
            "What was worked is not said: it is found by itself."
        } else {
            "What was worked is said in the job file and does not pull."
        };
        paragraph(ui, said, CAPTION, Ink::Ink2);
    }
    rule(ui, Ink::Hair);
    paragraph(
        ui,
        "Was the side scanned again after the work? Bring in the job of that visit: its scans are put beside those of the same side here.",
        BODY,
        Ink::Ink,
    );
    let how = if job.body_work.is_empty() {
        Weight::Filled
    } else {
        Weight::Plain
    };
    bring_in(ui, shown, "Bring in the other visit", how, asks);
    if job.scans.len() < 2 {
        return;
    }
    let says = "Or choose two scans that are here already:";
    paragraph(ui, says, BODY, Ink::Ink);
    let looking = &shown.view.two;
    let ids: Vec<&ScanId> = job.scans.iter().map(|s| &s.id).collect();
    for (before, held) in [
        ("Before: ", &looking.before_scan),
        ("After: ", &looking.after_scan),
    ] {
        let words: Vec<String> = ids.iter().map(|id| format!("{before}{id}")).collect();
        let now = ids.iter().position(|id| held.as_ref() == Some(*id));
        let names: Vec<&str> = words.iter().map(String::as_str).collect();
        if let Some(i) = one_of_rows(ui, &names, now) {
            let id = ids[i].clone();
            asks.push(go(shown, |l| {
                if before == "Before: " {
                    l.before_scan = Some(id);
                } else {
                    l.after_scan = Some(id);
                }
            }));
        }
    }
    let both = looking
        .before_scan
        .as_ref()
        .zip(looking.after_scan.as_ref());
    let how = match both {
        Some((a, b)) if a != b => Weight::Filled,
        _ => Weight::Waiting,
    };
    let waits = "Waits for two different scans";
    if button(ui, "Hold them against each other", how, waits).clicked() {
        asks.push(Act::PutTogether);
    }
}
