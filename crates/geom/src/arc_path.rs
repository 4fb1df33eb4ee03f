//! Plane curves of straight lines and circular arcs.

use nalgebra::Point2;

/// One piece of an [`ArcPath`]: from its start to the start of the next (or to `end`).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ArcPiece {
    /// Start, mm.
    pub start: Point2<f64>,
    /// tan(sweep / 4): 0 for a line, + counter-clockwise; |bulge| <= 1.
    pub bulge: f64,
}

/// A chain of lines and arcs in a plane.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct ArcPath {
    /// Pieces in order.
    pub pieces: Vec<ArcPiece>,
    /// End of the last piece; `None`: it closes on the first.
    pub end: Option<Point2<f64>>,
}
