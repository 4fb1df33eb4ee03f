//! A triangle mesh cut by parallel planes.
//!
//! Each vertex is told once how many planes lie below it; after that a triangle is cut by the planes that lie between its
//! lowest and its highest corner, and most triangles by none. A corner that lies in a plane counts as below it, so every
//! triangle that a plane passes gives one piece, and pieces of neighbouring triangles end in the same place, bit by bit.

use rayon::prelude::*;

use crate::{Point, Unit};

/// Triangles or vertices handled by one task; fixed, so that nothing depends on the number of threads.
const CHUNK: usize = 1 << 15;

/// What a plane cuts out of one triangle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CutPiece {
    /// The plane, by its place among those given.
    pub plane: u32,
    /// The triangle.
    pub triangle: u32,
    /// Both ends. Seen from the side to which the normal of the planes points, with the facing side of the triangle to the
    /// right, it runs from the first to the second.
    pub ends: [Point; 2],
}

/// The pieces that the planes `normal . p = offset` (mm, ascending) cut out of `triangles`, in order of the triangles and
/// then of the planes. Pieces of no length are kept where a plane touches a corner from below. Triangles with a corner
/// that does not exist or is not finite are passed over. Offsets that are not ascending are a bug of the caller and panic.
///
/// Cost: one pass over the vertices and one over the triangles.
pub fn cut_mesh(
    vertices: &[Point],
    triangles: &[[u32; 3]],
    normal: Unit,
    offsets: &[f64],
) -> Vec<CutPiece> {
    assert!(
        offsets.is_sorted() && offsets.len() < NOWHERE as usize,
        "offsets of planes must ascend"
    );
    let ranks = Ranks::of(vertices, normal, offsets);
    let parts: Vec<Vec<CutPiece>> = triangles
        .par_chunks(CHUNK)
        .enumerate()
        .map(|(k, chunk)| {
            let mut pieces = Vec::with_capacity(chunk.len() / 8);
            for (i, t) in chunk.iter().enumerate() {
                let rank = t.map(|v| ranks.below.get(v as usize).copied().unwrap_or(NOWHERE));
                let low = rank[0].min(rank[1]).min(rank[2]);
                let high = rank[0].max(rank[1]).max(rank[2]);
                if low == high || high == NOWHERE {
                    continue;
                }
                let corners = t.map(|v| vertices[v as usize]);
                let heights = corners.map(|p| normal.dot(&p.coords));
                for plane in u32::from(low)..u32::from(high) {
                    pieces.push(CutPiece {
                        plane,
                        triangle: (k * CHUNK + i) as u32,
                        ends: piece(&corners, &heights, offsets[plane as usize]),
                    });
                }
            }
            pieces
        })
        .collect();
    match <[Vec<CutPiece>; 1]>::try_from(parts) {
        Ok([only]) => only,
        Err(parts) => parts.concat(),
    }
}

/// The piece of a triangle that reaches above and not only above `offset`.
#[inline]
fn piece(corners: &[Point; 3], heights: &[f64; 3], offset: f64) -> [Point; 2] {
    let above = heights.map(|h| h > offset);
    let count = above.iter().filter(|a| **a).count();
    // The corner that is alone on its side.
    let alone = (0..3).find(|&k| above[k] == (count == 1)).unwrap_or(0);
    let meet = |other: usize| {
        // From the lower to the upper end always, so that both triangles of an edge find the same place.
        let (a, b) = if above[alone] {
            (other, alone)
        } else {
            (alone, other)
        };
        let share = (offset - heights[a]) / (heights[b] - heights[a]);
        corners[a] + (corners[b] - corners[a]) * share
    };
    let (next, last) = (meet((alone + 1) % 3), meet((alone + 2) % 3));
    if above[alone] {
        [next, last]
    } else {
        [last, next]
    }
}

/// Marks vertices that are not finite.
const NOWHERE: u16 = u16::MAX;

struct Ranks {
    /// How many planes lie below each vertex.
    below: Vec<u16>,
}

impl Ranks {
    fn of(vertices: &[Point], normal: Unit, offsets: &[f64]) -> Self {
        let first = offsets.first().copied().unwrap_or(0.0);
        let span = offsets.last().copied().unwrap_or(0.0) - first;
        // Where planes stand evenly the guess is right or next to it.
        let per_unit = if span > 0.0 {
            (offsets.len() - 1) as f64 / span
        } else {
            0.0
        };
        let rank = |p: &Point| {
            let h = normal.dot(&p.coords);
            if !h.is_finite() {
                return NOWHERE;
            }
            let guess = ((h - first) * per_unit + 1.0).max(0.0) as usize;
            let guess = guess.min(offsets.len());
            let fits = guess.checked_sub(1).is_none_or(|k| offsets[k] < h)
                && offsets.get(guess).is_none_or(|o| *o >= h);
            if fits {
                guess as u16
            } else {
                offsets.partition_point(|o| *o < h) as u16
            }
        };
        Self {
            below: vertices.par_iter().with_min_len(CHUNK).map(rank).collect(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Vector;

    /// A cylinder of radius 10 about z, z from -5 to 5, seen from outside.
    fn cylinder(sides: u32) -> (Vec<Point>, Vec<[u32; 3]>) {
        let vertices = (0..2 * sides)
            .map(|k| {
                let a = f64::from(k / 2) * std::f64::consts::TAU / f64::from(sides);
                Point::new(
                    10.0 * a.cos(),
                    10.0 * a.sin(),
                    if k % 2 == 0 { -5.0 } else { 5.0 },
                )
            })
            .collect();
        let triangles = (0..sides)
            .flat_map(|k| {
                let n = 2 * sides;
                let (a, b, c, d) = (2 * k, 2 * k + 1, (2 * k + 2) % n, (2 * k + 3) % n);
                [[a, c, b], [b, c, d]]
            })
            .collect();
        (vertices, triangles)
    }

    #[test]
    fn pieces_close_to_a_ring_with_the_outside_to_the_right() {
        let (vertices, triangles) = cylinder(40);
        let up = Unit::new_unchecked(Vector::z());
        let offsets = [-7.0, -4.9, 0.125, 4.9, 5.0, 7.0];
        let pieces = cut_mesh(&vertices, &triangles, up, &offsets);
        for (k, offset) in offsets.iter().enumerate() {
            let ring: Vec<&CutPiece> = pieces.iter().filter(|p| p.plane == k as u32).collect();
            if offset.abs() >= 5.0 {
                assert!(ring.is_empty());
                continue;
            }
            assert_eq!(ring.len(), 80);
            let mut at = 0;
            let mut area = 0.0;
            for _ in 0..ring.len() {
                let [a, b] = ring[at].ends;
                assert!((a.z - offset).abs() < 1e-12);
                area += 0.5 * (a.x * b.y - a.y * b.x);
                at = ring
                    .iter()
                    .position(|p| p.ends[0] == b)
                    .expect("the next piece");
            }
            assert_eq!(at, 0);
            // Clockwise would be minus: with the outside to the right it runs against the clock.
            let exact = 0.5 * 40.0 * 100.0 * (std::f64::consts::TAU / 40.0).sin();
            assert!((area - exact).abs() < 1e-9, "{area} {exact}");
        }
    }

    #[test]
    fn a_corner_in_the_plane_counts_as_below() {
        let vertices = [
            [0.0, 0.0, 0.0],
            [1.0, 0.0, 0.0],
            [0.0, 1.0, 1.0],
            [0.0, 1.0, -1.0],
        ]
        .map(Point::from);
        let up = Unit::new_unchecked(Vector::z());
        let cut = |t| cut_mesh(&vertices, &[t], up, &[0.0]);
        let [p] = cut([0, 1, 2])[..] else { panic!() };
        assert_eq!(
            p.ends,
            [Point::new(1.0, 0.0, 0.0), Point::origin()]
                .map(|p| p)
                .into_iter()
                .rev()
                .collect::<Vec<_>>()[..]
        );
        assert!(cut([0, 1, 3]).is_empty());
        assert!(cut([0, 1, 9]).is_empty());
        assert!(cut_mesh(&vertices, &[[0, 1, 2]], up, &[]).is_empty());
        let bad = [Point::new(0.0, 0.0, f64::NAN), vertices[1], vertices[2]];
        assert!(cut_mesh(&bad, &[[0, 1, 2]], up, &[0.5]).is_empty());
    }

    #[test]
    fn uneven_planes_are_all_found() {
        let (vertices, triangles) = cylinder(9);
        let up = Unit::new_normalize(Vector::new(0.3, -0.2, 0.9));
        let offsets = [-3.0, -2.999, -2.998, 0.0, 0.0, 1.0, 3.5];
        let pieces = cut_mesh(&vertices, &triangles, up, &offsets);
        let mut expected = 0;
        for t in &triangles {
            let h = t.map(|v| up.dot(&vertices[v as usize].coords));
            for o in offsets {
                let above = h.iter().filter(|h| **h > o).count();
                expected += usize::from(above == 1 || above == 2);
            }
        }
        assert_eq!(pieces.len(), expected);
        for p in &pieces {
            for e in p.ends {
                assert!((up.dot(&e.coords) - offsets[p.plane as usize]).abs() < 1e-12);
            }
        }
    }
}
