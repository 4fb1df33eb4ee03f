//! The marks: side and verdict, each with its own shape.

use record::Verdict;

use super::{Dash, Item, Sheet};
use crate::theme::Ink;

/// The ink of a verdict.
pub(super) fn verdict_ink(verdict: Verdict) -> Ink {
    match verdict {
        Verdict::Fits => Ink::Fits,
        Verdict::NotProven => Ink::NotProven,
        Verdict::WillNotFit => Ink::WillNotFit,
        Verdict::NotMeasured => Ink::Ink3,
    }
}

/// A verdict square with its upper left corner at `at`: full, half, crossed or dotted.
pub(super) fn verdict_mark(sheet: &mut Sheet, verdict: Verdict, [x, y]: [f64; 2], side: f64) {
    let ink = verdict_ink(verdict);
    let width = (side / 12.0).clamp(1.5, 2.5);
    let line = Some((ink, width, Dash::Full));
    match verdict {
        Verdict::Fits => sheet.rect([x, y], [side, side], None, Some(ink)),
        Verdict::NotProven => {
            sheet.rect([x, y], [side, side], line, None);
            sheet.path(
                vec![[x, y], [x + side, y], [x, y + side]],
                true,
                None,
                Some(ink),
            );
        }
        Verdict::WillNotFit => {
            sheet.rect([x, y], [side, side], line, None);
            sheet.line(&[[x, y], [x + side, y + side]], ink, width);
            sheet.line(&[[x + side, y], [x, y + side]], ink, width);
        }
        Verdict::NotMeasured => {
            sheet.rect([x, y], [side, side], Some((ink, width, Dash::Dotted)), None);
        }
    }
}

/// The disc of the left side or the triangle of the right, of equal area, around `at`.
pub(super) fn side_mark(sheet: &mut Sheet, is_left: bool, at: [f64; 2], radius: f64) {
    if is_left {
        sheet.items.push(Item::Disc {
            at,
            radius,
            fill: Ink::Left,
            hit: None,
        });
    } else {
        // A regular triangle of the same area: its corners lie 1.555 radii from the middle.
        let r = radius * 1.555;
        let corner = |deg: f64| {
            [
                at[0] + r * deg.to_radians().cos(),
                at[1] - r * deg.to_radians().sin(),
            ]
        };
        sheet.path(
            vec![corner(90.0), corner(210.0), corner(330.0)],
            true,
            None,
            Some(Ink::Right),
        );
    }
}
