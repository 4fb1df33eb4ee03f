//! Outlines moved inwards or outwards by a distance, lines and arcs kept exact.
//!
//! The offsetting itself is that of the crate `cavalier_contours`. It can hand back open fragments without saying so,
//! so nothing of it is believed: what comes back has to be one closed path, to change its area the right way and to
//! lie at the asked distance everywhere.

use cavalier_contours::polyline::{PlineSource, PlineSourceMut, Polyline as Pline};
use geom::{ArcPath, ArcPiece};
use nalgebra::Point2;

/// How far a point of the result may be from where it belongs, mm.
const TOLERANCE_MM: f64 = 1e-6;

/// Why there is no outline.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum NoOffset {
    /// The path is open or encloses nothing.
    NotClosed,
    /// The opening is narrower than twice the distance somewhere: it falls apart or vanishes.
    TooNarrow,
    /// What came back was not the outline asked for.
    Broken,
}

/// The closed path moved by `by_mm` to its inside (negative: to its outside), counter-clockwise, arcs at most half a
/// circle. Sharp corners that open outwards become arcs about the corner.
pub(super) fn inset(path: &ArcPath, by_mm: f64) -> Result<ArcPath, NoOffset> {
    let area = path.area();
    if !path.is_closed() || path.pieces.len() < 2 || area == 0.0 || !area.is_finite() {
        return Err(NoOffset::NotClosed);
    }
    let from = if area < 0.0 {
        path.reversed()
    } else {
        path.clone()
    }
    .split_wide_arcs();
    if by_mm == 0.0 {
        return Ok(from);
    }
    let mut line = Pline::new_closed();
    for p in &from.pieces {
        line.add(p.start.x, p.start.y, p.bulge);
    }
    let found = line.parallel_offset(by_mm);
    let [one] = found.as_slice() else {
        return Err(NoOffset::TooNarrow);
    };
    let moved = tidy(one);
    check(&from, &moved, by_mm)
        .then_some(moved)
        .ok_or(NoOffset::Broken)
}

/// The outline that a cutter of the given radius leaves standing when it runs round the outside: inside corners of
/// the part tighter than the cutter keep metal, everything else is as it was.
pub(super) fn as_cut(path: &ArcPath, cutter_radius_mm: f64) -> Result<ArcPath, NoOffset> {
    inset(&inset(path, -cutter_radius_mm)?, cutter_radius_mm)
}

/// The vertices without those that lie on each other.
fn tidy(line: &Pline<f64>) -> ArcPath {
    let mut pieces: Vec<ArcPiece> = Vec::new();
    for v in line.iter_vertexes() {
        let piece = ArcPiece {
            start: Point2::new(v.x, v.y),
            bulge: v.bulge,
        };
        match pieces.last_mut() {
            Some(last) if (last.start - piece.start).norm() < 1e-9 => *last = piece,
            _ => pieces.push(piece),
        }
    }
    while pieces.len() > 1 && (pieces[0].start - pieces[pieces.len() - 1].start).norm() < 1e-9 {
        pieces.pop();
    }
    ArcPath {
        pieces,
        end: if line.is_closed() {
            None
        } else {
            Some(Point2::origin())
        },
    }
}

/// Closed, same direction, area changed the right way, every point at the asked distance.
fn check(from: &ArcPath, moved: &ArcPath, by_mm: f64) -> bool {
    let (before, after) = (from.area(), moved.area());
    let turns = (moved.turning() - from.turning()).abs() < 1e-6;
    let right_way = if by_mm > 0.0 {
        after < before
    } else {
        after > before
    };
    let apart = |p: &Point2<f64>| (from.distance(p) - by_mm.abs()).abs() <= TOLERANCE_MM;
    moved.is_closed()
        && moved.pieces.len() > 1
        && after > 0.0
        && right_way
        && turns
        && moved.pieces.iter().all(|p| p.bulge.abs() <= 1.0 + 1e-9)
        && moved.flattened(1.0, 0.01).iter().all(apart)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;
    use geom::bulge_of;
    use std::f64::consts::{FRAC_PI_2, PI};

    fn rounded(a: f64, b: f64, r: f64) -> ArcPath {
        let q = bulge_of(FRAC_PI_2);
        ArcPath::closed([
            ([-a + r, -b], 0.0),
            ([a - r, -b], q),
            ([a, -b + r], 0.0),
            ([a, b - r], q),
            ([a - r, b], 0.0),
            ([-a + r, b], q),
            ([-a, b - r], 0.0),
            ([-a, -b + r], q),
        ])
    }

    #[test]
    fn area_and_length_follow_the_formula_of_steiner() {
        let p = rounded(100.0, 60.0, 20.0);
        for by in [2.0, 7.5, -3.0] {
            let q = inset(&p, by).unwrap();
            assert_relative_eq!(
                q.area(),
                p.area() - by * p.length() + PI * by * by,
                epsilon = 1e-6
            );
            assert_relative_eq!(q.length(), p.length() - 2.0 * PI * by, epsilon = 1e-8);
            assert_eq!(q.arcs().len(), 4);
        }
    }

    #[test]
    fn the_way_round_does_not_matter() {
        let p = rounded(100.0, 60.0, 20.0);
        let q = inset(&p.reversed(), 2.0).unwrap();
        assert_relative_eq!(q.area(), inset(&p, 2.0).unwrap().area(), epsilon = 1e-9);
    }

    #[test]
    fn wide_arcs_are_split_first() {
        // Three quarters of a circle and a chord.
        let p = ArcPath::closed([([0.0, 0.0], bulge_of(1.5 * PI)), ([50.0, 0.0], 0.0)]);
        let q = inset(&p, 1.0).unwrap();
        assert!(q.area() < p.area());
    }

    #[test]
    fn too_large_a_gap_and_open_paths_are_refused() {
        let p = rounded(100.0, 60.0, 20.0);
        assert_eq!(inset(&p, 61.0), Err(NoOffset::TooNarrow));
        let open = ArcPath {
            end: Some(Point2::new(1.0, 1.0)),
            ..p
        };
        assert_eq!(inset(&open, 1.0), Err(NoOffset::NotClosed));
        // An hourglass falls into two.
        let hourglass = ArcPath::closed(
            [
                [0.0, 0.0],
                [40.0, 0.0],
                [22.0, 30.0],
                [40.0, 60.0],
                [0.0, 60.0],
                [18.0, 30.0],
            ]
            .map(|c| (c, 0.0)),
        );
        assert_eq!(inset(&hourglass, 3.0), Err(NoOffset::TooNarrow));
    }

    #[test]
    fn the_cutter_rounds_inside_corners_only() {
        // An L has one inside corner.
        let l = ArcPath::closed(
            [
                [0.0, 0.0],
                [60.0, 0.0],
                [60.0, 20.0],
                [20.0, 20.0],
                [20.0, 60.0],
                [0.0, 60.0],
            ]
            .map(|c| (c, 0.0)),
        );
        assert_eq!(l.least_radius(false, 0.1), Some(0.0));
        let cut = as_cut(&l, 3.0).unwrap();
        assert_relative_eq!(cut.least_radius(false, 0.1).unwrap(), 3.0, epsilon = 1e-9);
        // A fillet of radius r in a right angle leaves (1 - pi / 4) r2 more metal.
        assert_relative_eq!(
            cut.area(),
            l.area() + (1.0 - PI / 4.0) * 9.0,
            epsilon = 1e-6
        );
        assert!(cut.distance(&Point2::new(60.0, 0.0)) < 1e-9);
    }

    #[test]
    fn the_check_sees_a_spoilt_outline() {
        let p = rounded(100.0, 60.0, 20.0);
        let good = inset(&p, 2.0).unwrap();
        assert!(check(&p, &good, 2.0));
        assert!(!check(&p, &good, -2.0));
        assert!(!check(&p, &good.reversed(), 2.0));
        assert!(!check(&p, &good.scaled(0.9999), 2.0));
        assert!(!check(
            &p,
            &ArcPath {
                end: Some(Point2::origin()),
                ..good
            },
            2.0
        ));
    }
}
