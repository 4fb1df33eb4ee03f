//! Sides in words.

use record::Side;

/// The side as it stands in file names and labels.
pub(crate) fn side_word(side: Side) -> &'static str {
    match side {
        Side::Left => "left",
        Side::Right => "right",
        Side::Centre => "centre",
        Side::NotSaid => "side not said",
    }
}
