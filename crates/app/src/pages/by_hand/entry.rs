//! What is being typed into boxes, and where Enter goes.

use std::collections::BTreeMap;

use editor::HandForm;
use record::PlanBox;

/// A box: its side, its row and which of its repeats.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct BoxAt {
    /// Which side of the sheet.
    pub side: usize,
    /// Which row.
    pub row: usize,
    /// Which repeat.
    pub time: usize,
}

/// How typing goes on.
#[derive(Clone, Debug)]
pub enum Entering {
    /// A box has the keyboard.
    At(BoxAt),
    /// A box is to have it.
    Focus(Option<BoxAt>),
    /// Text of a box; `None`: it shows what is held again.
    Typed(BoxAt, Option<String>),
    /// A number without a unit is in inches.
    Inches(bool),
    /// What stands in a box is taken: the command, and the text should it be refused.
    Take(BoxAt, Box<editor::Command>, String),
    /// Why the text of a box is not taken: what is wrong, and what to do.
    Refused(BoxAt, String, [String; 2]),
}

/// What is being typed.
#[derive(Clone, Debug, Default)]
pub struct Entry {
    /// The box that had the keyboard last.
    pub at: Option<BoxAt>,
    /// The box that is to have it.
    pub focus: Option<BoxAt>,
    /// Text of the box that is being typed in.
    pub typing: Option<(BoxAt, String)>,
    /// Text that was not taken, with what is wrong and what to do.
    pub refused: BTreeMap<BoxAt, (String, [String; 2])>,
    inches: Option<bool>,
}

impl Entry {
    /// Whether a number without a unit is in inches; `usual` until it was said.
    pub fn inches(&self, usual: bool) -> bool {
        self.inches.unwrap_or(usual)
    }

    /// Goes on.
    pub fn go_on(&mut self, how: Entering) {
        match how {
            Entering::At(at) => self.at = Some(at),
            Entering::Focus(at) => self.focus = at,
            Entering::Typed(at, Some(text)) => self.typing = Some((at, text)),
            Entering::Typed(at, None) => {
                self.typing.take_if(|(of, _)| *of == at);
            }
            Entering::Inches(on) => self.inches = Some(on),
            Entering::Refused(at, text, why) => {
                self.refused.insert(at, (text, why));
            }
            Entering::Take(..) => {}
        }
    }
}

/// What a box is in words: "3 to A, 2nd".
pub(super) fn box_words(row: &PlanBox, time: usize) -> String {
    let of = editor::HandBox::of(row, time);
    format!("{}, {}", of.says(), TIMES[time.min(2)])
}

/// The repeats in words.
pub(super) const TIMES: [&str; 3] = ["1st", "2nd", "3rd"];

/// The box after this one as the sheet is filled in: the repeats of its row that are asked for, the next row, then the other
/// side. `None` after the last.
pub(super) fn next(form: &HandForm, at: BoxAt) -> Option<BoxAt> {
    let times = usize::from(form.boxes.get(at.row)?.times);
    if at.time + 1 < times {
        return Some(BoxAt {
            time: at.time + 1,
            ..at
        });
    }
    if at.row + 1 < form.boxes.len() {
        return Some(BoxAt {
            row: at.row + 1,
            time: 0,
            ..at
        });
    }
    let side = at.side + 1;
    (side < form.sides.len()).then_some(BoxAt {
        side,
        row: 0,
        time: 0,
    })
}

#[cfg(test)]
mod tests {
    use record::HandKind;

    use super::*;

    #[test]
    fn enter_goes_along_the_row_then_down_then_to_the_other_side() {
        let row = |times| PlanBox {
            kind: HandKind::Length,
            from: vec!["A".to_owned()],
            to: vec!["B".to_owned()],
            station: String::new(),
            times,
        };
        let side = |id: &str| editor::HandSide {
            table: id.into(),
            opening: id.into(),
            name: id.to_owned(),
            side: record::Side::Left,
        };
        let form = HandForm {
            compare: None,
            sides: vec![side("l"), side("r")],
            plans: Vec::new(),
            boxes: vec![row(2), row(1)],
        };
        let mut at = BoxAt::default();
        let mut seen = vec![(at.side, at.row, at.time)];
        while let Some(then) = next(&form, at) {
            at = then;
            seen.push((at.side, at.row, at.time));
        }
        let want = [
            (0, 0, 0),
            (0, 0, 1),
            (0, 1, 0),
            (1, 0, 0),
            (1, 0, 1),
            (1, 1, 0),
        ];
        assert_eq!(seen, want);
    }
}
