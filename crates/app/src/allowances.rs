//! The allowances as a sentence with blanks: the answer follows while one types.

use editor::{Command, FastenerChange, PartChange};
use egui::{Align2, Key, Rect, Role, Stroke, StrokeKind, Ui, WidgetInfo, pos2, vec2};
use record::{DisplayUnits, Finish, Gasket, LengthDisplay, Part, Quantity};
use report::Pair;
use report::number::typed;
use report::theme::{Ink, size, space, text_width, weight};

use crate::controls::focus_outline;
use crate::letter::{BODY, STRONG};
use crate::look::{colour, font, theme_of};
use crate::shown::Shown;
use crate::state::{Act, Blank};

/// Shows the sentence of the pair's part in one line.
pub fn show(ui: &mut Ui, shown: Shown, pair: &Pair, field: Rect, asks: &mut Vec<Act>) {
    let job = shown.document().job();
    let Some(part) = job
        .choices
        .parts
        .iter()
        .find(|p| p.id == pair.measured.part)
    else {
        return;
    };
    let units = job.units;
    let room = field.width() - 2.0 * space::INSIDE as f32;
    let two = field.height() > 70.0;
    let long = sentence(part, units, false);
    // In one line the short words are taken where the long ones do not go in.
    let pieces = if two || width_of(&long, part, units) <= room {
        long
    } else {
        sentence(part, units, true)
    };
    let mut lines: Vec<Vec<(Piece, f32)>> = vec![Vec::new()];
    let mut x = 0.0;
    for piece in pieces {
        let wide = piece.width(part, units);
        // A blank stays with the words before it.
        let with_next = matches!(piece, Piece::Words(_)) && x + wide + WIDTH > room;
        if two && lines.len() == 1 && with_next {
            lines.push(Vec::new());
            x = 0.0;
        }
        x += wide + BETWEEN;
        if let Some(line) = lines.last_mut() {
            line.push((piece, wide));
        }
    }
    let tall = field.height() / lines.len() as f32;
    for (i, line) in lines.into_iter().enumerate() {
        let middle = field.top() + tall * (i as f32 + 0.5);
        let mut x = field.left() + space::INSIDE as f32;
        for (piece, wide) in line {
            match piece {
                Piece::Words(text) => words(ui, &text, pos2(x, middle)),
                Piece::Blank(blank, label) => {
                    let rect = Rect::from_min_size(pos2(x, middle - 15.0), vec2(wide, 30.0));
                    self::blank(ui, shown, part, units, (blank, &label), rect, asks);
                }
            }
            x += wide + BETWEEN;
        }
    }
}

/// Width that pieces take in one line.
fn width_of(pieces: &[Piece], part: &Part, units: DisplayUnits) -> f32 {
    pieces.iter().map(|p| p.width(part, units) + BETWEEN).sum()
}

/// Room between two pieces.
const BETWEEN: f32 = 6.0;
/// Least width of a blank.
const WIDTH: f32 = 50.0;

enum Piece {
    Words(String),
    Blank(Blank, String),
}

impl Piece {
    fn width(&self, part: &Part, units: DisplayUnits) -> f32 {
        match self {
            Self::Words(text) => text_width(text, size::BODY, weight::REGULAR) as f32,
            Self::Blank(blank, _) => {
                let held = value(part, *blank, units).unwrap_or_default();
                let wide = text_width(&held, size::BODY, weight::SEMI_BOLD) as f32 + 18.0;
                wide.max(WIDTH)
            }
        }
    }
}

fn sentence(part: &Part, units: DisplayUnits, short: bool) -> Vec<Piece> {
    let unit = match units.length {
        LengthDisplay::Millimetre => "mm",
        LengthDisplay::Inch => "in",
    };
    let blank = |blank, label: &str| Piece::Blank(blank, label.to_owned());
    let words = |text: &str| Piece::Words(text.to_owned());
    let either = |long: &str, brief: &str| words(if short { brief } else { long });
    let mut pieces = vec![
        words("Gap"),
        blank(Blank::Gap, "Agreed gap"),
        either(&format!("{unit}, may vary by"), &format!("{unit}, by")),
        blank(Blank::Vary, "How far the gap may vary"),
        either("· proud or shy", "· flush"),
        blank(Blank::Flush, "How far it may stand proud or shy"),
        either("· angle within", "· angle"),
        blank(Blank::Angle, "How far an angle may be off"),
        words("°"),
    ];
    if !part.fasteners.is_empty() {
        pieces.push(words("· holes"));
        pieces.push(blank(Blank::Hole, "Hole in the part"));
    }
    pieces.push(words("· gasket"));
    pieces.push(blank(Blank::Gasket, "Gasket thickness"));
    pieces.push(words("· film"));
    pieces.push(blank(Blank::Film, "Film on the part"));
    pieces.push(words(match units.length {
        LengthDisplay::Millimetre => "µm",
        LengthDisplay::Inch => "mil",
    }));
    pieces
}

fn words(ui: &Ui, text: &str, at: egui::Pos2) {
    let ink = colour(theme_of(ui.ctx()), Ink::Ink2);
    let font = font(BODY);
    ui.painter().text(at, Align2::LEFT_CENTER, text, font, ink);
}

/// What a blank holds, in its own unit as shown; `None`: nothing ("none").
fn value(part: &Part, blank: Blank, units: DisplayUnits) -> Option<String> {
    let length = |mm: f64| Some(typed(mm, Quantity::Length, units));
    let pair = |up: f64, down: f64| {
        if (up - down).abs() < 1e-9 {
            length(up)
        } else {
            Some(format!("+{} −{}", length(up)?, length(down)?))
        }
    };
    match blank {
        Blank::Gap => length(part.gap_mm),
        Blank::Vary => pair(part.allowed.wide_mm, part.allowed.tight_mm),
        Blank::Flush => pair(part.allowed.proud_mm, part.allowed.shy_mm),
        Blank::Angle => Some(typed(part.allowed.angle_deg, Quantity::Angle, units)),
        Blank::Hole => {
            let first = part.fasteners.first()?.part_hole_mm;
            let alike = part
                .fasteners
                .iter()
                .all(|f| (f.part_hole_mm - first).abs() < 1e-9);
            if alike {
                length(first)
            } else {
                Some("several".to_owned())
            }
        }
        Blank::Gasket => part.gasket.and_then(|g| length(g.thickness_mm)),
        Blank::Film => Some(film_shown(part.finish.part_mm, units)),
    }
}

fn film_shown(mm: f64, units: DisplayUnits) -> String {
    let value = match units.length {
        LengthDisplay::Millimetre => mm * 1000.0,
        LengthDisplay::Inch => mm / 0.0254,
    };
    report::number::to_step(value, 0.1, units)
        .trim_end_matches('0')
        .trim_end_matches(['.', ','])
        .to_owned()
}

/// A number as it may be typed: comma or dot, fractions such as `3/16` or `4 1/2`, not negative.
pub fn number(text: &str) -> Option<f64> {
    let text = text.trim().replace(',', ".");
    let plain = |t: &str| t.parse::<f64>().ok().filter(|v| v.is_finite() && *v >= 0.0);
    let fraction = |t: &str| {
        let (above, below) = t.split_once('/')?;
        let (above, below) = (plain(above.trim())?, plain(below.trim())?);
        (below > 0.0).then_some(above / below)
    };
    match text.split_once(' ') {
        Some((whole, rest)) => Some(plain(whole)? + fraction(rest)?),
        None => plain(&text).or_else(|| fraction(&text)),
    }
}

/// Two limits, the one above first: `0.6` for both, or `+0.7 −0.3`.
fn limits_of(text: &str) -> Option<[f64; 2]> {
    let text = text.trim();
    let Some(rest) = text.strip_prefix('+') else {
        return number(text).map(|v| [v, v]);
    };
    let (up, down) = rest.split_once(['-', '−'])?;
    Some([number(up)?, number(down)?])
}

/// The change that a blank asks for; `None` if its text is no number.
pub fn change(part: &Part, blank: Blank, text: &str, units: DisplayUnits) -> Option<Command> {
    let id = || part.id.clone();
    let to_mm = match units.length {
        LengthDisplay::Millimetre => 1.0,
        LengthDisplay::Inch => 25.4,
    };
    let both = |name: &str, [up, down]: [f64; 2], limits: [fn(f64) -> PartChange; 2]| {
        let [above, below] = limits;
        Command::Several {
            name: format!("{name} {text}"),
            commands: vec![
                Command::part(id(), above(up * to_mm)),
                Command::part(id(), below(down * to_mm)),
            ],
        }
    };
    match blank {
        Blank::Vary => {
            let limits: [fn(f64) -> PartChange; 2] = [PartChange::Wide, PartChange::Tight];
            return Some(both("gap may vary by", limits_of(text)?, limits));
        }
        Blank::Flush => {
            let limits: [fn(f64) -> PartChange; 2] = [PartChange::Proud, PartChange::Shy];
            return Some(both("proud or shy", limits_of(text)?, limits));
        }
        _ => {}
    }
    if blank == Blank::Gasket && matches!(text.trim(), "" | "none" | "0") {
        return Some(Command::part(id(), PartChange::Gasket(None)));
    }
    let v = number(text)?;
    Some(match blank {
        Blank::Gap => Command::part(id(), PartChange::Gap(v * to_mm)),
        Blank::Vary | Blank::Flush => return None,
        Blank::Angle => Command::part(id(), PartChange::Angle(v)),
        Blank::Hole => Command::Several {
            name: format!("holes {text}"),
            commands: part
                .fasteners
                .iter()
                .map(|f| {
                    let change = PartChange::Fastener {
                        hole: f.hole.clone(),
                        change: FastenerChange::PartHole(v * to_mm),
                    };
                    Command::part(id(), change)
                })
                .collect(),
        },
        Blank::Gasket => {
            // Solid rubber works at 25 to 40 % compression, 10 to 15 % is the least at which it seals (common practice).
            let (least, most) = part.gasket.map_or((0.10, 0.40), |g| (g.least, g.most));
            let gasket = Gasket {
                thickness_mm: v * to_mm,
                least,
                most,
            };
            Command::part(id(), PartChange::Gasket(Some(gasket)))
        }
        Blank::Film => {
            let part_mm = match units.length {
                LengthDisplay::Millimetre => v / 1000.0,
                LengthDisplay::Inch => v * 0.0254,
            };
            let finish = Finish {
                part_mm,
                ..part.finish.clone()
            };
            Command::part(id(), PartChange::Finish(finish))
        }
    })
}

fn blank(
    ui: &mut Ui,
    shown: Shown,
    part: &Part,
    units: DisplayUnits,
    (blank, label): (Blank, &str),
    rect: Rect,
    asks: &mut Vec<Act>,
) {
    let theme = theme_of(ui.ctx());
    let held = value(part, blank, units);
    let mut text = shown
        .view
        .typing
        .get(&blank)
        .cloned()
        .unwrap_or_else(|| held.clone().unwrap_or_else(|| "none".to_owned()));
    let before = text.clone();
    let id = ui.scope_id().with(("blank", blank));
    // What is held is sound, also where typing could not say it.
    let sound = held.as_ref() == Some(&text) || change(part, blank, &text, units).is_some();
    let edit = egui::TextEdit::singleline(&mut text)
        .id(id)
        .font(font(STRONG))
        .align(Align2::CENTER_CENTER)
        .frame(egui::Frame::NONE)
        .margin(egui::Margin::symmetric(space::UNIT as i8, 0));
    let edge = if sound { Ink::Ink2 } else { Ink::WillNotFit };
    let wide = if sound { 1.0 } else { 2.0 };
    ui.painter().rect(
        rect,
        0.0,
        colour(theme, Ink::Sheet),
        Stroke::new(wide, colour(theme, edge)),
        StrokeKind::Inside,
    );
    let response = ui.put(rect, edit);
    response.widget_info(|| WidgetInfo {
        label: Some(label.to_owned()),
        current_text_value: Some(text.clone()),
        ..WidgetInfo::new(Role::TextInput)
    });
    focus_outline(ui, &response);
    let response = if sound {
        response.on_hover_text(label)
    } else {
        response.on_hover_text("A number is wanted here, such as 0.6, 0,6 or 3/16; what stood here before still counts.")
    };
    if response.gained_focus() {
        select_all(ui, id, &text);
    }
    if text != before {
        asks.push(Act::Typed(blank, Some(text.clone())));
        if let Some(command) = change(part, blank, &text, units) {
            asks.push(Act::DoLive(command));
        }
    }
    if response.lost_focus() {
        asks.push(Act::Settle);
        asks.push(Act::Typed(blank, None));
    } else if response.has_focus() && ui.input(|i| i.key_pressed(Key::Enter)) {
        asks.push(Act::Settle);
    }
}

fn select_all(ui: &Ui, id: egui::Id, text: &str) {
    use egui::text::{CCursor, CCursorRange};
    if let Some(mut state) = egui::TextEdit::load_state(ui.ctx(), id) {
        let range = CCursorRange::two(CCursor::new(0), CCursor::new(text.chars().count()));
        state.cursor.set_char_range(Some(range));
        state.store(ui.ctx(), id);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_read_as_they_are_typed() {
        for (text, value) in [
            ("0.6", 0.6),
            ("0,6", 0.6),
            ("3/16", 0.1875),
            ("4 1/2", 4.5),
            (" 7 ", 7.0),
        ] {
            assert_eq!(number(text), Some(value), "{text}");
        }
        for text in ["", "-1", "x", "1/0", "3 5/1x", "1e999", "NaN"] {
            assert_eq!(number(text), None, "{text}");
        }
    }

    #[test]
    fn unlike_limits_are_shown_and_typed_as_two() {
        for (text, limits) in [
            ("0.6", Some([0.6, 0.6])),
            ("+0.7 −0.3", Some([0.7, 0.3])),
            ("+0,7 -0,3", Some([0.7, 0.3])),
            ("+1/2-1/4", Some([0.5, 0.25])),
            ("+0.7", None),
            ("+0.7 - x", None),
        ] {
            assert_eq!(limits_of(text), limits, "{text}");
        }
    }
}
