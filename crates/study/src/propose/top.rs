//! Which way is up in a scan, and which opening of a pair in one scan is the right one.

use geom::Vector;

use super::judge::Found;

/// The scan's own axis that is most likely up, its name, and how sure that is. Body panels with trim stand more or less
/// upright, so up lies about in the plane of the openings; of the axes that do, Z is up more often than Y, and a
/// negative axis never is by itself.
pub(super) fn up_axis(openings: &[&Found]) -> (Vector, &'static str, f64) {
    let weight: f64 = openings.iter().map(|o| o.perimeter).sum();
    let leaning = |axis: &Vector| -> f64 {
        openings
            .iter()
            .map(|o| o.normal.dot(axis).abs() * o.perimeter)
            .sum::<f64>()
            / weight.max(1e-9)
    };
    let (z, y) = (leaning(&Vector::z()), leaning(&Vector::y()));
    if z < 0.35 {
        (Vector::z(), "Z", 0.6)
    } else if y < 0.35 {
        (Vector::y(), "Y", 0.4)
    } else if z <= y {
        (Vector::z(), "Z", 0.15)
    } else {
        (Vector::y(), "Y", 0.15)
    }
}

/// Of two openings of one scan that look about the same way: whether the first is the left one, seated facing forward,
/// if that can be told. With the panels facing forward and `up` known, right is `normal x up`.
pub(super) fn first_is_left(a: &Found, b: &Found, up: &Vector) -> Option<bool> {
    let facing = (a.normal + b.normal).try_normalize(0.3)?;
    let right = facing.cross(up).try_normalize(0.3)?;
    let apart = (b.centre - a.centre).dot(&right);
    (apart.abs() > 0.5 * (b.centre - a.centre).norm()).then_some(apart > 0.0)
}
