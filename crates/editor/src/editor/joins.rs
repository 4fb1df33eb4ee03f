//! Taped lengths and starts of joins, typed.

use record::StartPose;

use super::Editor;
use super::places::unread;
use crate::command::Command;
use crate::refused::Refused;

/// A length between two places as it is typed.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct TypedLength {
    /// One end: "sill end, left".
    pub from: String,
    /// The other end.
    pub to: String,
    /// What the tape said: "3120", "10' 3 1/2\"".
    pub length: String,
    /// Give or take (95 %) of the tape.
    pub u95: String,
}

/// About where a joined scan lies, as it is typed: see [`StartPose`].
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct TypedStart {
    /// Direction of the axis.
    pub axis: [String; 3],
    /// The turn about it, degrees.
    pub turn: String,
    /// The shift, mm.
    pub shift: [String; 3],
    /// How far a place may be off, mm; blank: not said.
    pub within: String,
}

impl TypedStart {
    /// As it is typed when it is to be changed.
    pub fn of(start: Option<&StartPose>) -> Self {
        let number = |v: f64| format!("{v}");
        start.map_or_else(Self::default, |s| Self {
            axis: [s.axis.x, s.axis.y, s.axis.z].map(number),
            turn: number(s.turn_deg),
            shift: [s.shift.x, s.shift.y, s.shift.z].map(number),
            within: s.within_mm.map_or_else(String::new, number),
        })
    }
}

impl Editor {
    /// Takes a typed length between two places.
    ///
    /// # Errors
    /// If something in it cannot be read, or names no place of the job.
    pub fn take_length(&mut self, typed: &TypedLength) -> Result<(), Refused> {
        let field = |head: &str| -> &str {
            match head {
                "from" => typed.from.trim(),
                "to" => typed.to.trim(),
                "length" => typed.length.trim(),
                "u95" => typed.u95.trim(),
                _ => "",
            }
        };
        let taped = formats::taped_from_words(&field).map_err(|e| unread(&e))?;
        let mut all = self.document.job().taped.clone();
        all.push(taped);
        self.apply(&Command::Taped(all))
    }

    /// Takes a typed start of the join of that number; all of it blank: none.
    ///
    /// # Errors
    /// If something in it cannot be read, or there is no such join.
    pub fn take_start(&mut self, number: usize, typed: &TypedStart) -> Result<(), Refused> {
        let field = |head: &str| -> &str {
            match head {
                "axis x" => typed.axis[0].trim(),
                "axis y" => typed.axis[1].trim(),
                "axis z" => typed.axis[2].trim(),
                "turn" => typed.turn.trim(),
                "shift x" => typed.shift[0].trim(),
                "shift y" => typed.shift[1].trim(),
                "shift z" => typed.shift[2].trim(),
                "within" => typed.within.trim(),
                _ => "",
            }
        };
        let start = formats::start_from_words(&field).map_err(|e| unread(&e))?;
        let mut joins = self.document.job().joins.clone();
        let Some(join) = joins.get_mut(number) else {
            return Err(Refused::NoSuch {
                what: "join",
                name: (number + 1).to_string(),
            });
        };
        join.start = start;
        self.apply(&Command::Joins(joins))
    }
}
