//! What leaves the house: files for the shops, with a preview, and what must not be mirrored.

use egui::{Align2, Rect, Role, Ui, WidgetInfo, pos2, vec2};
use record::Verdict;
use report::theme::{Ink, space};
use report::{Pair, pair_sheet, pair_text};

use super::bring_in::within;
use crate::controls::{Weight, button, headed, paragraph, rule, text_line, words_at};
use crate::fields::{BLOCK, Fields, fill_field, paint_field};
use crate::letter::{BODY, CAPTION, CAPTION_HEAD, STRONG};
use crate::look::theme_of;
use crate::paint::{Manner, paint_sheet};
use crate::shown::Shown;
use crate::state::Act;

/// How far handing over is.
#[derive(Clone, Debug, Default)]
pub struct Handing {
    /// The folder, as typed.
    pub folder: String,
    /// How many files were written last.
    pub last: Option<usize>,
    /// What was written, in words.
    pub says: Vec<String>,
    /// What has changed since the time before: a head and a sentence each.
    pub changed: Vec<String>,
    /// Writing is under way.
    pub writing: bool,
}

/// Shows the page.
pub fn show(ui: &mut Ui, shown: Shown, fields: &Fields, asks: &mut Vec<Act>) {
    let page = fields.page;
    let column = Rect::from_min_max(
        pos2(
            page.max.x - BLOCK[0].min(page.width() * 0.45),
            page.min.y + 96.0,
        ),
        pos2(page.max.x, page.max.y - BLOCK[1]),
    );
    let head = Rect::from_min_max(page.min, pos2(page.max.x, page.min.y + 96.0));
    let left = Rect::from_min_max(pos2(page.min.x, head.max.y), pos2(column.min.x, page.max.y));
    let list_height = (left.height() * 0.4).min(260.0);
    let list = Rect::from_min_max(left.min, pos2(left.max.x, left.min.y + list_height));
    let preview = Rect::from_min_max(pos2(left.min.x, list.max.y), left.max);
    sentence(ui, shown, head);
    within(ui, list, "who gets what", |ui| receivers(ui, shown));
    fill_field(ui, preview, Ink::Margin);
    if let Some(pair) = shown.pair() {
        picture(ui, &pair, preview);
    }
    within(ui, column, "before it leaves", |ui| {
        before_it_leaves(ui, shown, asks);
    });
    for field in [head, list, preview, column] {
        paint_field(ui, field);
    }
}

fn sentence(ui: &mut Ui, shown: Shown, field: Rect) {
    let pairs = shown.every_pair();
    let stopped: Vec<&str> = pairs
        .iter()
        .filter(|p| p.stop().is_some())
        .map(Pair::title)
        .collect();
    let open: Vec<&str> = pairs
        .iter()
        .filter(|p| pair_text(p).verdict == Verdict::NotProven)
        .map(Pair::title)
        .collect();
    let unknown: Vec<&str> = pairs
        .iter()
        .filter(|p| p.stop().is_none() && pair_text(p).verdict == Verdict::NotMeasured)
        .map(Pair::title)
        .collect();
    let (head, more) = if pairs.is_empty() {
        (
            "Nothing to hand over yet.".to_owned(),
            "Files can leave once a pair is measured.".to_owned(),
        )
    } else if !stopped.is_empty() {
        (
            match &stopped[..] {
                [one] => format!("Stop: {one} is not handed over."),
                more if more.len() < 4 => {
                    format!("Stop: {} are not handed over.", more.join(", "))
                }
                more => format!("Stop: {} pairs are not handed over.", more.len()),
            },
            "Its doubts say why. The other pairs can leave.".to_owned(),
        )
    } else if !unknown.is_empty() {
        let them = match &unknown[..] {
            [one] => format!("{one} has no verdict"),
            [one, other] => format!("{one} and {other} have no verdict"),
            more => format!("{} pairs have no verdict", more.len()),
        };
        (
            format!("What is measured can leave; {them}."),
            "Of a pair without a verdict only the measured side is drawn, as it is.".to_owned(),
        )
    } else if open.is_empty() {
        (
            "Everything can leave.".to_owned(),
            "Every curve is read back after it is written and refused where it is off.".to_owned(),
        )
    } else {
        (
            format!("Everything can leave; {} is not proven.", open.join(", ")),
            "What is not proven is said on every sheet.".to_owned(),
        )
    };
    let undecided = pairs.iter().filter(|p| shown.chosen(p).is_none()).count();
    let more = if stopped.is_empty() && unknown.is_empty() && undecided > 0 {
        format!(
            "{more} Nothing is chosen for {undecided} of {}: those are drawn to each side as it is.",
            pairs.len()
        )
    } else {
        more
    };
    let unfit: Vec<&str> = pairs
        .iter()
        .filter(|p| shown.chosen_in_doubt(p).is_some())
        .map(Pair::title)
        .collect();
    let more = if unfit.is_empty() {
        more
    } else {
        format!("Chosen and not proven to fit: {}. {more}", unfit.join(", "))
    };
    headed(ui, field, &head, &more);
}

fn receivers(ui: &mut Ui, shown: Shown) {
    paragraph(ui, "Who gets what", CAPTION_HEAD, Ink::Ink2);
    let drawings = &shown.document().study().drawings;
    let sides = match drawings.len() {
        1 => "1 opening".to_owned(),
        n => format!("{n} openings"),
    };
    for (who, what) in [
        (
            "Machinist",
            format!("STEP of {sides}, in the axes of the part, in mm"),
        ),
        (
            "Waterjet or laser shop",
            format!("DXF of {sides}, 1:1, closed lines and arcs, one layer to cut"),
        ),
        (
            "Client",
            match shown.every_pair().len() {
                1 => "a picture and a page of the pair, and each side at true size".to_owned(),
                n => {
                    format!("a picture and a page a pair, {n} pairs, and each side at true size")
                }
            },
        ),
        (
            "Inspector",
            "tables by station as CSV, the whole study as JSON".to_owned(),
        ),
    ] {
        rule(ui, Ink::Hair);
        ui.horizontal(|ui| {
            let (rect, response) =
                ui.allocate_exact_size(vec2(ui.available_width(), 28.0), egui::Sense::hover());
            response
                .widget_info(|| WidgetInfo::labeled(Role::Label, true, format!("{who}: {what}")));
            words_at(
                ui,
                rect.left_center(),
                Align2::LEFT_CENTER,
                who,
                STRONG,
                Ink::Ink,
            );
            let room = f64::from(rect.width()) - 190.0;
            let what = report::sheet::cut(&what, room, BODY.0, BODY.1);
            words_at(
                ui,
                rect.left_center() + vec2(190.0, 0.0),
                Align2::LEFT_CENTER,
                &what,
                BODY,
                Ink::Ink2,
            );
        });
    }
}

/// The client's sheet of the pair, as large as there is room.
fn picture(ui: &Ui, pair: &Pair, field: Rect) {
    let sheet = pair_sheet(pair);
    let room = field.shrink(space::INSIDE as f32);
    let scale =
        (f64::from(room.width()) / sheet.width).min(f64::from(room.height()) / sheet.height);
    let small = sheet.scaled(scale);
    let at = room.center() - vec2(small.width as f32 / 2.0, small.height as f32 / 2.0);
    let manner = Manner {
        in_small: true,
        ..Manner::default()
    };
    paint_sheet(ui, &small, at, theme_of(ui.ctx()), manner);
}

fn before_it_leaves(ui: &mut Ui, shown: Shown, asks: &mut Vec<Act>) {
    let job = shown.document().job();
    paragraph(ui, "Must not be mirrored", CAPTION_HEAD, Ink::Ink2);
    let mut any = false;
    for part in &job.choices.parts {
        for what in &part.must_not_mirror {
            any = true;
            paragraph(ui, &format!("{}: {what}", part.name), BODY, Ink::Ink);
        }
    }
    if !any {
        paragraph(
            ui,
            "Nothing is listed: text, threads, drains, cable exits and bulb marks belong here.",
            BODY,
            Ink::Ink2,
        );
    }
    rule(ui, Ink::Hair);
    paragraph(ui, "Cautions that go along", CAPTION_HEAD, Ink::Ink2);
    paragraph(ui, report::terminal::CAUTION, BODY, Ink::Ink);
    rule(ui, Ink::Hair);
    paragraph(
        ui,
        "Kept back: owner, chassis number and the full scans stay here.",
        CAPTION,
        Ink::Ink2,
    );
    paragraph(ui, "Folder, chosen once", CAPTION_HEAD, Ink::Ink2);
    let handing = &shown.view.hand_over;
    let mut folder = handing.folder.clone();
    text_line(ui, "Folder to hand over to", "", &mut folder);
    if folder != handing.folder {
        let handing = Handing {
            folder: folder.clone(),
            ..handing.clone()
        };
        asks.push(Act::Handing(Box::new(handing)));
    }
    ui.add_space(space::GAP as f32);
    let ready = !folder.trim().is_empty()
        && !shown.document().study().drawings.is_empty()
        && !handing.writing;
    let (how, hint) = if handing.writing {
        (Weight::Waiting, "The files are being written")
    } else if ready {
        (Weight::Filled, "Ctrl Enter")
    } else {
        (Weight::Waiting, "A folder and a measured pair are wanted")
    };
    let key = ready && ui.input_mut(|i| i.consume_key(egui::Modifiers::COMMAND, egui::Key::Enter));
    if button(ui, "Write the files", how, hint).clicked() || key {
        asks.push(Act::HandOver);
    }
    if button(ui, "Print the pair", Weight::Plain, "Ctrl P").clicked() {
        asks.push(Act::Print);
    }
    for line in &handing.says {
        paragraph(ui, line, BODY, Ink::Ink);
    }
    let Some((head, changes)) = handing.changed.split_first() else {
        return;
    };
    rule(ui, Ink::Hair);
    paragraph(ui, head, STRONG, Ink::Ink);
    for change in changes {
        paragraph(ui, change, CAPTION, Ink::Ink);
    }
    if !changes.is_empty()
        && button(ui, "Copy what changed", Weight::Plain, "For a letter").clicked()
    {
        asks.push(Act::Copy(handing.changed.join("\n")));
    }
}

/// What has changed since the time before, for a letter: a head, then a sentence each.
pub fn changed(done: &editor::HandedOver) -> Vec<String> {
    let Some(before) = &done.before else {
        return vec![format!(
            "Revision {}: the first hand-over into this folder.",
            done.revision
        )];
    };
    let files: Vec<String> = before.files.iter().map(|f| f.name.clone()).collect();
    let all = report::hand_over::changes((&before.figures, &files), (&done.figures, &done.files));
    let head = if all.is_empty() {
        format!(
            "Revision {}: nothing has changed since revision {}.",
            done.revision, before.revision
        )
    } else {
        format!(
            "Revision {}: changed since revision {}:",
            done.revision, before.revision
        )
    };
    std::iter::once(head).chain(all).collect()
}
