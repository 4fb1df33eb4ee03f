//! Words for a place on an opening edge.

use geom::{Point, Vector};
use record::Side;

/// How the words for the two sides of an opening are chosen.
#[derive(Clone, Copy, Debug)]
pub enum SideWords {
    /// +X is towards the outside of the car.
    OuterAtPlusX,
    /// -X is towards the outside of the car.
    OuterAtMinusX,
    /// Across the centre, seen from outside: +X is the car's left.
    LeftAtPlusX,
    /// Not known: the clock is used, as seen from outside.
    Clock,
}

/// The words for an opening whose outward direction in part axes is `outward`, if it is known.
pub fn side_words(outward: Option<Vector>, side: Side) -> SideWords {
    match outward {
        Some(v) if v.x.abs() > 0.3 * v.norm() => {
            if v.x > 0.0 {
                SideWords::OuterAtPlusX
            } else {
                SideWords::OuterAtMinusX
            }
        }
        _ if side == Side::Centre => SideWords::LeftAtPlusX,
        _ => SideWords::Clock,
    }
}

/// The words for place `p` (part axes) of an opening with half sizes `half`: "upper inner corner", "top edge",
/// "outer edge", "edge at 4 o'clock".
pub fn place_name(p: &Point, half: (f64, f64), words: SideWords) -> String {
    let (u, v) = (p.x / half.0, p.y / half.1);
    let side = match (words, u > 0.0) {
        (SideWords::OuterAtPlusX, true) | (SideWords::OuterAtMinusX, false) => "outer",
        (SideWords::OuterAtPlusX, false) | (SideWords::OuterAtMinusX, true) => "inner",
        (SideWords::LeftAtPlusX, true) => "left",
        (SideWords::LeftAtPlusX, false) => "right",
        (SideWords::Clock, _) => return clock(u, v),
    };
    let (corner_u, corner_v) = (u.abs() > 0.6, v.abs() > 0.6);
    if corner_u && corner_v {
        format!("{} {side} corner", if v > 0.0 { "upper" } else { "lower" })
    } else if u.abs() > v.abs() {
        match v {
            v if v > 0.25 => format!("{side} edge, upper half"),
            v if v < -0.25 => format!("{side} edge, lower half"),
            _ => format!("{side} edge, middle"),
        }
    } else {
        let edge = if v > 0.0 { "top edge" } else { "bottom edge" };
        if u.abs() < 0.25 {
            format!("{edge}, middle")
        } else {
            format!("{edge}, {side} half")
        }
    }
}

fn clock(u: f64, v: f64) -> String {
    // Seen from outside with +Y up, +X of right-handed part axes lies to the right.
    let hour = (u.atan2(v).to_degrees() / 30.0).round() as i64;
    let hour = (hour + 11).rem_euclid(12) + 1;
    format!("edge at {hour} o'clock seen from outside")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(x: f64, y: f64, words: SideWords, expected: &str) {
        assert_eq!(
            place_name(&Point::new(x, y, 0.0), (100.0, 80.0), words),
            expected
        );
    }

    #[test]
    fn places_have_workshop_names() {
        check(90.0, 70.0, SideWords::OuterAtPlusX, "upper outer corner");
        check(90.0, 70.0, SideWords::OuterAtMinusX, "upper inner corner");
        check(-98.0, 0.0, SideWords::OuterAtPlusX, "inner edge, middle");
        check(5.0, -80.0, SideWords::OuterAtPlusX, "bottom edge, middle");
        check(-60.0, 80.0, SideWords::OuterAtPlusX, "top edge, inner half");
        check(-95.0, -70.0, SideWords::LeftAtPlusX, "lower right corner");
        check(
            100.0,
            0.0,
            SideWords::Clock,
            "edge at 3 o'clock seen from outside",
        );
        check(
            0.0,
            80.0,
            SideWords::Clock,
            "edge at 12 o'clock seen from outside",
        );
    }
}
