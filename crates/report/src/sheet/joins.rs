//! One join as a table: how well it is known where it matters, and what each place is off.

use record::{DisplayUnits, Figure, JoinedScan, Side};

use super::{Anchor, Sheet, cut};
use crate::number::{show, show_signed};
use crate::theme::{Ink, line, size, weight};
use crate::words::side;

const CAPTION: (f64, u16) = (size::CAPTION, weight::REGULAR);
const HEAD: (f64, u16) = (size::CAPTION, weight::SEMI_BOLD);
/// Height of a row, and of what stands below its base line, pixels.
const ROW: [f64; 2] = [17.0, 5.0];

/// Sets a join into rows, `width` wide and as high as they are: give or take (95 %) of shift and turn in the worst
/// direction at the middle and at each opening, then each place with what it is off, joined minus the scan it is joined to.
pub fn join_table(join: &JoinedScan, units: DisplayUnits, width: f64) -> Sheet {
    let mut sheet = Sheet::empty([width, 0.0], String::new());
    let mut said = Vec::new();
    let mut y = 4.0;
    let held = |f: &Figure| {
        if f.u95.is_finite() {
            show(&Figure { value: f.u95, ..*f }, units).with_unit()
        } else {
            "not held".to_owned()
        }
    };
    let head = ["give or take, worst direction", "", "shift", "turn"];
    row(
        &mut sheet,
        &mut y,
        &head.map(str::to_owned),
        HEAD,
        Ink::Ink2,
    );
    for at in &join.at {
        let cells = [
            at.name.clone(),
            String::new(),
            held(&at.shift),
            held(&at.turn),
        ];
        said.push(format!(
            "{}: shift {}, turn {}",
            at.name, cells[2], cells[3]
        ));
        row(&mut sheet, &mut y, &cells, CAPTION, Ink::Ink);
    }
    if !join.places.is_empty() {
        y += 8.0;
        let head = ["places, joined minus the other", "X", "Y", "Z"];
        row(
            &mut sheet,
            &mut y,
            &head.map(str::to_owned),
            HEAD,
            Ink::Ink2,
        );
    }
    for p in &join.places {
        let mut name = if p.side == Side::NotSaid {
            p.name.clone()
        } else {
            format!("{}, {}", p.name, side(p.side))
        };
        if !p.kept {
            name += ": the odd one out";
        }
        let [x, y_off, z] = p.off.map(|f| show_signed(&f, units).plus_minus());
        said.push(format!("{name}: {x}, {y_off}, {z}"));
        let ink = if p.kept { Ink::Ink } else { Ink::WillNotFit };
        row(&mut sheet, &mut y, &[name, x, y_off, z], CAPTION, ink);
    }
    sheet.height = y + 4.0;
    sheet.says = said.join("; ");
    sheet
}

fn row(sheet: &mut Sheet, y: &mut f64, cells: &[String; 4], letter: (f64, u16), ink: Ink) {
    let width = sheet.width;
    let name = cut(&cells[0], 0.48 * width, letter.0, letter.1);
    *y += ROW[0];
    sheet.text([0.0, *y], letter, Anchor::Start, ink, name);
    for (share, cell) in [0.66, 0.83, 1.0].into_iter().zip(&cells[1..]) {
        sheet.text([share * width, *y], letter, Anchor::End, ink, cell.clone());
    }
    *y += ROW[1];
    sheet.line(&[[0.0, *y], [width, *y]], Ink::Hair, line::HAIR);
}
