//! Where the fields of the window lie: one drawing sheet, its fields touch and are parted by single lines.

use egui::{Rect, Stroke, StrokeKind, Ui, pos2, vec2};
use report::theme::{Ink, line, space};

use crate::look::{colour, theme_of};

/// From this width the choices stand in a column and the strip unfolds.
const WIDE: f32 = 1600.0;
/// Height of the header.
const HEADER: f32 = 68.0;
/// Size of the title block.
pub const BLOCK: [f32; 2] = [440.0, 80.0];

/// The sheet, its header, and what is below.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fields {
    /// The sheet.
    pub sheet: Rect,
    /// Name of the job and the way through it.
    pub header: Rect,
    /// The plan, on the left.
    pub plan: Rect,
    /// All to the right of the plan and below the header.
    pub page: Rect,
    /// Whether there is much room.
    pub wide: bool,
}

impl Fields {
    /// The fields of a window that covers `all`.
    pub fn of(all: Rect) -> Self {
        let sheet = all.shrink(space::EDGE as f32);
        let wide = all.width() >= WIDE;
        let header = Rect::from_min_max(sheet.min, pos2(sheet.max.x, sheet.min.y + HEADER));
        let plan_width = if wide {
            264.0
        } else if all.width() >= 1100.0 {
            200.0
        } else {
            164.0
        };
        let below = pos2(sheet.min.x, header.max.y);
        let plan = Rect::from_min_max(below, pos2(sheet.min.x + plan_width, sheet.max.y));
        let page = Rect::from_min_max(pos2(plan.max.x, below.y), sheet.max);
        Self {
            sheet,
            header,
            plan,
            page,
            wide,
        }
    }
}

/// The fields of the answer page.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AnswerFields {
    /// Verdict sentence.
    pub answer: Rect,
    /// Pages and ladder.
    pub book: Rect,
    /// Choices.
    pub choices: Rect,
    /// Whether they stand in a column.
    pub column: bool,
    /// The strip, if it is unfolded.
    pub strip: Option<Rect>,
    /// The sentence of allowances.
    pub allowances: Rect,
    /// What to measure next and the doubts.
    pub next: Rect,
    /// The title block.
    pub block: Rect,
}

impl AnswerFields {
    /// The fields of the answer within a page.
    pub fn of(page: Rect, wide: bool, strip: Option<bool>) -> Self {
        let [block_w, block_h] = [BLOCK[0].min(page.width() * 0.45), BLOCK[1]];
        let block = Rect::from_min_max(page.max - vec2(block_w, block_h), page.max);
        let answer_height = 96.0;
        let answer = Rect::from_min_max(page.min, pos2(page.max.x, page.min.y + answer_height));
        if wide {
            let column = Rect::from_min_max(
                pos2(block.min.x, answer.max.y),
                pos2(page.max.x, block.min.y),
            );
            let choices = Rect::from_min_size(
                column.min,
                vec2(column.width(), 646.0_f32.min(column.height() * 0.78)),
            );
            let next = Rect::from_min_max(pos2(column.min.x, choices.max.y), column.max);
            let allowances = Rect::from_min_max(
                pos2(page.min.x, page.max.y - 60.0),
                pos2(column.min.x, page.max.y),
            );
            let strip_height = if strip.unwrap_or(true) { 262.0 } else { 0.0 };
            let strip = Rect::from_min_max(
                pos2(page.min.x, allowances.min.y - strip_height),
                pos2(column.min.x, allowances.min.y),
            );
            let book = Rect::from_min_max(
                pos2(page.min.x, answer.max.y),
                pos2(column.min.x, strip.min.y),
            );
            return Self {
                answer,
                book,
                choices,
                column: true,
                strip: (strip_height > 0.0).then_some(strip),
                allowances,
                next,
                block,
            };
        }
        let next = Rect::from_min_max(pos2(page.min.x, block.min.y), pos2(block.min.x, page.max.y));
        let allowances = Rect::from_min_max(
            pos2(page.min.x, next.min.y - sentence_height(page)),
            pos2(page.max.x, next.min.y),
        );
        let choices = Rect::from_min_max(
            pos2(page.min.x, allowances.min.y - 122.0),
            pos2(page.max.x, allowances.min.y),
        );
        let mut book = Rect::from_min_max(
            pos2(page.min.x, answer.max.y),
            pos2(page.max.x, choices.min.y),
        );
        let mut unfolded = None;
        if strip == Some(true) {
            // There is no room for both: the strip takes the place of the pages, the ladder stays.
            let ladder = 348.0_f32.min(book.width() * 0.4);
            let strip = Rect::from_min_max(book.min, pos2(book.max.x - ladder, book.max.y));
            book.min.x = strip.max.x;
            unfolded = Some(strip);
        }
        Self {
            answer,
            book,
            choices,
            column: false,
            strip: unfolded,
            allowances,
            next,
            block,
        }
    }
}

/// Height of the sentence of allowances: two lines where one is too short for it.
fn sentence_height(page: Rect) -> f32 {
    if page.width() < 1040.0 { 84.0 } else { 46.0 }
}

/// The ground, the edge of the sheet and the centring marks on its sides.
pub fn paint_border(ui: &Ui, all: Rect, sheet: Rect) {
    let theme = theme_of(ui.ctx());
    let painter = ui.painter();
    painter.rect_filled(all, 0.0, colour(theme, Ink::Margin));
    let edge = Stroke::new(line::SHEET as f32, colour(theme, Ink::Rule));
    painter.rect(
        sheet,
        0.0,
        colour(theme, Ink::Sheet),
        edge,
        StrokeKind::Inside,
    );
    let thin = Stroke::new(line::FIELD as f32, colour(theme, Ink::Rule));
    let twice = 2.0 * space::EDGE as f32;
    let c = all.center();
    painter.vline(c.x, all.top()..=all.top() + twice, thin);
    painter.vline(c.x, all.bottom() - twice..=all.bottom(), thin);
    painter.hline(all.left()..=all.left() + twice, c.y, thin);
    painter.hline(all.right() - twice..=all.right(), c.y, thin);
}

/// The edge of the sheet once more, over the lines of the fields.
pub fn paint_edge(ui: &Ui, sheet: Rect) {
    let theme = theme_of(ui.ctx());
    // Lines of fields lie half outside; beyond the sheet there is nothing but the centring marks.
    let beyond = Stroke::new(line::FIELD as f32, colour(theme, Ink::Margin));
    ui.painter()
        .rect_stroke(sheet, 0.0, beyond, StrokeKind::Outside);
    let edge = Stroke::new(line::SHEET as f32, colour(theme, Ink::Rule));
    ui.painter()
        .rect_stroke(sheet, 0.0, edge, StrokeKind::Inside);
}

/// The line round a field.
pub fn paint_field(ui: &Ui, field: Rect) {
    let stroke = Stroke::new(line::FIELD as f32, colour(theme_of(ui.ctx()), Ink::Rule));
    ui.painter()
        .rect_stroke(field, 0.0, stroke, StrokeKind::Middle);
}

/// A field filled with a role.
pub fn fill_field(ui: &Ui, field: Rect, ink: Ink) {
    ui.painter()
        .rect_filled(field, 0.0, colour(theme_of(ui.ctx()), ink));
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(size: [f32; 2], strip: Option<bool>) -> AnswerFields {
        let all = Rect::from_min_size(pos2(0.0, 0.0), vec2(size[0], size[1]));
        let fields = Fields::of(all);
        let answer = AnswerFields::of(fields.page, fields.wide, strip);
        let parts = [
            answer.answer,
            answer.book,
            answer.choices,
            answer.allowances,
            answer.next,
        ];
        for (i, a) in parts.iter().enumerate() {
            assert!(fields.page.contains_rect(*a), "{i} {a:?}");
            assert!(a.width() > 100.0 && a.height() > 40.0, "{i} {a:?}");
            for b in &parts[i + 1..] {
                assert!(
                    a.intersect(*b).area() < 1.0 || !a.intersects(*b),
                    "{a:?} {b:?}"
                );
            }
        }
        answer
    }

    #[test]
    fn fields_fill_the_page_without_overlap() {
        assert!(check([1280.0, 800.0], None).strip.is_none());
        assert!(check([1280.0, 800.0], Some(true)).strip.is_some());
        assert!(check([1920.0, 1080.0], None).column);
        assert!(check([1920.0, 1080.0], Some(false)).strip.is_none());
        check([1024.0, 720.0], None);
    }
}
