//! Everything is shown: this only reads and asks.

use std::path::PathBuf;

use egui::{Key, Ui};

use super::{Window, is_job};
use crate::around::{block, plan};
use crate::fields::{Fields, paint_border, paint_edge};
use crate::page_keys::{book_keys, copy_keys, start_key};
use crate::shown::Shown;
use crate::state::{Act, Step};
use crate::{keys, pages, panels};

/// The least room in which nothing runs into anything else.
const LEAST: egui::Vec2 = egui::vec2(960.0, 640.0);

impl Window {
    /// Shows everything; a window too small for it, or type too large, shows a part that can be moved about.
    pub fn show(&mut self, ui: &mut Ui) {
        let room = ui.max_rect().size();
        let wanted = room.max(LEAST);
        if wanted == room {
            self.show_sheet(ui);
            return;
        }
        egui::ScrollArea::both()
            .id_salt("sheet")
            .auto_shrink(false)
            .show(ui, |ui| {
                let (all, _) = ui.allocate_exact_size(wanted, egui::Sense::hover());
                let mut inside = ui.new_child(egui::UiBuilder::new().max_rect(all));
                self.show_sheet(&mut inside);
            });
    }

    fn show_sheet(&mut self, ui: &mut Ui) {
        let ctx = ui.ctx().clone();
        self.view.laid_over = self.space_is_held(&ctx);
        let mut asks = keys::acts(&ctx, self.view.panel.is_some());
        self.dropped(&ctx, &mut asks);
        let all = ui.max_rect();
        let fields = Fields::of(all);
        paint_border(ui, all, fields.sheet);
        let Some(editor) = &self.open else {
            pages::start::show(
                ui,
                fields.sheet,
                self.preferences.recent(),
                self.busy.as_deref(),
                &mut asks,
            );
            start_key(&ctx, self.view.panel.is_some(), &mut asks);
            block(ui, fields.sheet, None);
            paint_edge(ui, fields.sheet);
            panels::show(&ctx, None, self.view.panel.as_ref(), &mut asks);
            self.asks.extend(asks);
            return;
        };
        let shown = Shown {
            editor,
            view: &self.view,
        };
        crate::header::show(ui, shown, &fields, &mut asks);
        match self.view.step {
            Step::BringIn => pages::bring_in::show(ui, shown, &fields, &mut self.scan, &mut asks),
            Step::Places => {
                plan(ui, shown, fields.plan, &mut asks);
                pages::places::show(ui, shown, &fields, &mut self.scan, &mut asks);
            }
            Step::Decide => {
                plan(ui, shown, fields.plan, &mut asks);
                pages::decide::show(ui, shown, &fields, &mut asks);
            }
            Step::Compare => {
                plan(ui, shown, fields.plan, &mut asks);
                pages::answer::show(ui, shown, fields, &mut self.books, &mut asks);
                book_keys(&ctx, shown, &mut asks);
            }
            Step::HandOver => {
                plan(ui, shown, fields.plan, &mut asks);
                pages::hand_over::show(ui, shown, &fields, &mut asks);
            }
            Step::Centreline => {
                pages::centreline::show(ui, shown, &fields, &mut self.scan, &mut asks);
            }
            Step::Two => {
                pages::two::show(ui, shown, &fields, &mut self.scan, &mut asks);
            }
            Step::Sections => {
                plan(ui, shown, fields.plan, &mut asks);
                pages::sections::show(ui, shown, &fields, &mut asks);
            }
        }
        block(ui, fields.sheet, Some(shown));
        paint_edge(ui, fields.sheet);
        copy_keys(&ctx, shown, &mut asks);
        panels::show(&ctx, Some(shown), self.view.panel.as_ref(), &mut asks);
        if !asks.is_empty() {
            ctx.request_repaint();
        }
        self.asks.extend(asks);
    }

    fn space_is_held(&self, ctx: &egui::Context) -> bool {
        self.view.step == Step::Compare
            && self.view.panel.is_none()
            && !ctx.egui_wants_keyboard_input()
            && ctx.input(|i| i.key_down(Key::Space))
    }

    fn dropped(&self, ctx: &egui::Context, asks: &mut Vec<Act>) {
        let files: Vec<PathBuf> = ctx.input(|i| {
            i.raw
                .dropped_files
                .iter()
                .map(|f| f.path().to_owned())
                .collect()
        });
        match files.as_slice() {
            [] => {}
            [job] if self.view.step == Step::Two && is_job(job) => {
                asks.push(Act::BringInOther(job.clone()));
            }
            _ => asks.push(Act::BringIn(files)),
        }
        let takes_tables = matches!(self.view.step, Step::BringIn | Step::Centreline);
        if takes_tables && self.view.panel.is_none() && !ctx.text_edit_focused() {
            let pasted = ctx.input(|i| {
                i.events.iter().find_map(|e| match e {
                    egui::Event::Paste(text) => Some(text.clone()),
                    _ => None,
                })
            });
            asks.extend(pasted.map(Act::Paste));
        }
    }
}
