//! The nearest place of a triangle mesh for many points at once, with the side on which each point lies.
//!
//! Triangles stand in the order of a space-filling curve, eight to a leaf, coordinates side by side in single precision
//! about the corner of the leaf, under an implicit tree of boxes; points are taken along the same curve, each search
//! bounded by the triangle that the one before found. The distance to the triangle found is then worked out in double
//! precision. Regions of a triangle: C. Ericson, Real-Time Collision Detection (2005), section 5.1.5.

#![allow(
    clippy::inline_always,
    clippy::needless_bitwise_bool,
    reason = "instruction sets are chosen at run time for what is inlined there; lanes take no branches"
)]

use std::sync::atomic::{AtomicU64, Ordering};

use pulp::NullaryFnOnce;
use rayon::prelude::*;

use crate::curve_order::Cube;
use crate::wide_boxes::{SLACK, Search, SmallBox, WideBoxes, larger, smaller};
use crate::{Point, Vector};

/// Triangles of a leaf.
const LEAF: usize = 8;
/// Points handled by one task; fixed, so that nothing depends on the number of threads.
const QUERIES: usize = 2048;

/// The place of a mesh that is nearest to a point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct NearTriangle {
    /// The triangle, by its place among those given; `u32::MAX` if the mesh has none or the point is not finite.
    pub triangle: u32,
    /// Distance, mm: positive on the facing side of that triangle (corners run against the clock), negative behind it;
    /// NaN if there is none. Beyond a sharp edge two triangles are equally near and may face differently: there the
    /// sign is that of the one the point stands more squarely before.
    pub distance: f64,
    /// The nearest place itself.
    pub foot: Point,
}

/// Triangles made ready for searches.
#[derive(Clone, Debug)]
pub struct TriangleTree {
    corners: Vec<[Point; 3]>,
    cube: Option<Cube>,
    centre: [f64; 3],
    leaves: Vec<Leaf>,
    /// Low corners of the boxes of the leaves.
    lows: Vec<[f32; 3]>,
    /// Triangle by slot.
    order: Vec<u32>,
    boxes: WideBoxes,
}

/// Eight triangles about the corner of their box: a corner and the two sides from it. Places past the last are infinite.
#[derive(Clone, Debug)]
#[repr(align(64))]
struct Leaf {
    a: [[f32; LEAF]; 3],
    ab: [[f32; LEAF]; 3],
    ac: [[f32; LEAF]; 3],
}

impl TriangleTree {
    /// Sorts and packs the triangles over `vertices` (mm). Triangles with a corner that does not exist or is not finite are
    /// passed over; flat ones count as the lines or points that they are. At most 2^31 triangles.
    pub fn new(vertices: &[Point], triangles: &[[u32; 3]]) -> Self {
        assert!(triangles.len() < 1 << 31, "more triangles than 2^31");
        let nowhere = Point::new(f64::NAN, f64::NAN, f64::NAN);
        let corner = |v: u32| vertices.get(v as usize).copied().unwrap_or(nowhere);
        let middles: Vec<Point> = triangles
            .par_iter()
            .with_min_len(QUERIES)
            .map(|t| {
                let [a, b, c] = t.map(corner);
                Point::from((a.coords + b.coords + c.coords) / 3.0)
            })
            .collect();
        let cube = Cube::over(&middles);
        let order = cube.map(|c| c.order(&middles)).unwrap_or_default();
        let centre = cube.map_or([0.0; 3], |c| {
            [0, 1, 2].map(|i| 0.5 * (c.low[i] + c.high[i]))
        });
        let corners: Vec<[Point; 3]> = order
            .par_iter()
            .with_min_len(QUERIES)
            .map(|&t| triangles[t as usize].map(corner))
            .collect();
        let (leaves, bounds): (Vec<Leaf>, Vec<SmallBox>) = corners
            .par_chunks(LEAF)
            .with_min_len(64)
            .map(|c| pack(c, centre))
            .unzip();
        let reach = bounds.iter().fold(0.0_f32, |m, b| {
            (0..3).fold(m, |m, i| larger(m, larger(-b.low[i], b.high[i])))
        });
        Self {
            corners,
            cube,
            centre,
            lows: bounds.iter().map(|b| b.low).collect(),
            leaves,
            order,
            boxes: WideBoxes::over(&bounds, reach),
        }
    }

    /// The nearest place of the mesh for every point, in the order of the points.
    pub fn nearest_of(&self, points: &[Point]) -> Vec<NearTriangle> {
        let found: Vec<AtomicU64> = (0..points.len())
            .into_par_iter()
            .with_min_len(QUERIES)
            .map(|_| AtomicU64::new(u64::MAX))
            .collect();
        if let Some(cube) = &self.cube {
            let arch = pulp::Arch::new();
            cube.order(points).par_chunks(QUERIES).for_each(|order| {
                arch.dispatch(Along {
                    tree: self,
                    points,
                    order,
                    found: &found,
                });
            });
        }
        found
            .par_iter()
            .with_min_len(QUERIES)
            .zip(points)
            .map(|(slots, p)| {
                let slots = slots.load(Ordering::Relaxed);
                self.exactly(slots as u32, (slots >> 32) as u32, p)
            })
            .collect()
    }

    /// The place of the triangle in `slot` that is nearest to `p`; the side is that of the triangle in `front`.
    fn exactly(&self, slot: u32, front: u32, p: &Point) -> NearTriangle {
        let corners = |slot: u32| self.corners.get(slot as usize);
        let (Some(t), Some(f)) = (corners(slot), corners(front)) else {
            return NearTriangle {
                triangle: u32::MAX,
                distance: f64::NAN,
                foot: *p,
            };
        };
        let foot = nearest_on(t, p);
        let away = p - foot;
        let normal = (f[1] - f[0]).cross(&(f[2] - f[0]));
        let distance = away.norm();
        NearTriangle {
            triangle: self.order[slot as usize],
            distance: if normal.dot(&away) < 0.0 {
                -distance
            } else {
                distance
            },
            foot,
        }
    }
}

/// The place of a triangle nearest to `p`.
fn nearest_on(&[a, b, c]: &[Point; 3], p: &Point) -> Point {
    let (ab, ac, ap) = (b - a, c - a, p - a);
    let (d1, d2) = (ab.dot(&ap), ac.dot(&ap));
    let (bb, bc, cc) = (ab.dot(&ab), ab.dot(&ac), ac.dot(&ac));
    let v = cc * d1 - bc * d2;
    let w = bb * d2 - bc * d1;
    let whole = bb * cc - bc * bc;
    if v >= 0.0 && w >= 0.0 && v + w <= whole && whole > 0.0 {
        return a + ab * (v / whole) + ac * (w / whole);
    }
    let on = |from: Point, side: Vector| {
        let length2 = side.norm_squared();
        let share = if length2 > 0.0 {
            ((p - from).dot(&side) / length2).clamp(0.0, 1.0)
        } else {
            0.0
        };
        let foot = from + side * share;
        ((p - foot).norm_squared(), foot)
    };
    let mut best = on(a, ab);
    for other in [on(a, ac), on(b, c - b)] {
        if other.0 < best.0 {
            best = other;
        }
    }
    best.1
}

/// The leaf of these triangles and its box about the centre.
fn pack(triangles: &[[Point; 3]], centre: [f64; 3]) -> (Leaf, SmallBox) {
    let about = |p: &Point| [0, 1, 2].map(|i| p[i] - centre[i]);
    let mut bounds = SmallBox::EMPTY;
    for p in triangles.iter().flatten() {
        bounds.add(about(p).map(|x| x as f32));
    }
    let nothing = [[f32::INFINITY; LEAF]; 3];
    let mut leaf = Leaf {
        a: nothing,
        ab: nothing,
        ac: nothing,
    };
    for (k, [a, b, c]) in triangles.iter().enumerate() {
        let first = about(a);
        for i in 0..3 {
            leaf.a[i][k] = (first[i] - f64::from(bounds.low[i])) as f32;
            leaf.ab[i][k] = (b[i] - a[i]) as f32;
            leaf.ac[i][k] = (c[i] - a[i]) as f32;
        }
    }
    (leaf, bounds)
}

/// The search along one stretch of the curve.
struct Along<'a> {
    tree: &'a TriangleTree,
    points: &'a [Point],
    order: &'a [u32],
    found: &'a [AtomicU64],
}

impl NullaryFnOnce for Along<'_> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        // Fetched beforehand: many are then on their way at once, and the searches wait for none.
        let about = |p: &Point| [0, 1, 2].map(|i| p[i] - self.tree.centre[i]);
        let places: Vec<[f64; 3]> = self
            .order
            .iter()
            .map(|&i| about(&self.points[i as usize]))
            .collect();
        let mut seed = usize::MAX;
        for (&i, &q) in self.order.iter().zip(&places) {
            let mut one = One {
                tree: self.tree,
                q,
                best2: f32::INFINITY,
                square: 0.0,
                slot: u32::MAX,
                front: u32::MAX,
                seed: usize::MAX,
            };
            if seed < self.tree.leaves.len() {
                one.leaf(seed);
                one.seed = seed;
            }
            self.tree.boxes.walk(&q.map(|x| x as f32), &mut one);
            if one.slot != u32::MAX {
                seed = one.slot as usize / LEAF;
                let slots = u64::from(one.front) << 32 | u64::from(one.slot);
                self.found[i as usize].store(slots, Ordering::Relaxed);
            }
        }
    }
}

struct One<'a> {
    tree: &'a TriangleTree,
    q: [f64; 3],
    /// Squared distance of the best so far, mm2.
    best2: f32,
    slot: u32,
    /// Of the triangles that are as near, the one that the point stands most squarely before.
    front: u32,
    /// How squarely: (distance from its plane / distance)^2.
    square: f32,
    seed: usize,
}

/// Distances within this of each other (squared, as a share) are those of one edge or corner.
const SAME: f32 = 1.0 + 1e-5;

impl Search for One<'_> {
    #[inline(always)]
    fn limit2(&self) -> f32 {
        // A little more, so that both triangles of an edge are looked at.
        self.best2 * (SLACK * SAME)
    }

    #[inline(always)]
    fn leaf(&mut self, leaf: usize) {
        if leaf == self.seed {
            return;
        }
        let low = &self.tree.lows[leaf];
        let q = [0, 1, 2].map(|i| (self.q[i] - f64::from(low[i])) as f32);
        let (d2, h2) = distances2(&self.tree.leaves[leaf], &q);
        let mut best = f32::INFINITY;
        for d in d2 {
            best = smaller(d, best);
        }
        if best > self.best2 * SAME {
            return;
        }
        for (k, (d, h)) in d2.into_iter().zip(h2).enumerate() {
            if d > self.best2 * SAME || d.is_nan() {
                continue;
            }
            let square = h / larger(d, f32::MIN_POSITIVE);
            let slot = (leaf * LEAF + k) as u32;
            // Nearer by more than rounding; or as near, and more squarely before the point.
            if d * SAME < self.best2 || self.slot == u32::MAX || square > self.square {
                self.square = square;
                self.front = slot;
            }
            if d < self.best2 || self.slot == u32::MAX {
                self.best2 = d;
                self.slot = slot;
            }
        }
    }
}

/// Squared distances of `q` from the eight triangles of a leaf, and from their planes. What is not there gives NaN.
#[inline(always)]
fn distances2(leaf: &Leaf, q: &[f32; 3]) -> ([f32; LEAF], [f32; LEAF]) {
    let mut d2 = [0.0; LEAF];
    let mut h2 = [0.0; LEAF];
    for k in 0..LEAF {
        let get = |from: &[[f32; LEAF]; 3]| [from[0][k], from[1][k], from[2][k]];
        let (a, ab, ac) = (get(&leaf.a), get(&leaf.ab), get(&leaf.ac));
        let dot = |a: [f32; 3], b: [f32; 3]| a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
        let less = |a: [f32; 3], b: [f32; 3]| [a[0] - b[0], a[1] - b[1], a[2] - b[2]];
        let ap = less(*q, a);
        let (d1, d2b) = (dot(ab, ap), dot(ac, ap));
        let (bb, bc, cc) = (dot(ab, ab), dot(ab, ac), dot(ac, ac));
        // Squared distance from a side: a share beyond its ends, and none of a side without length, count as the ends.
        let side = |ap: [f32; 3], along: [f32; 3], t: f32| {
            let t = smaller(larger(t, 0.0), 1.0);
            let d = [
                ap[0] - t * along[0],
                ap[1] - t * along[1],
                ap[2] - t * along[2],
            ];
            dot(d, d)
        };
        let (cb, bp) = (less(ac, ab), less(ap, ab));
        let edges = smaller(
            smaller(side(ap, ab, d1 / bb), side(ap, ac, d2b / cc)),
            side(bp, cb, dot(cb, bp) / dot(cb, cb)),
        );
        let normal = [
            ab[1] * ac[2] - ab[2] * ac[1],
            ab[2] * ac[0] - ab[0] * ac[2],
            ab[0] * ac[1] - ab[1] * ac[0],
        ];
        let whole = dot(normal, normal);
        let height = dot(normal, ap);
        let plane = height * height / whole;
        let (v, w) = (cc * d1 - bc * d2b, bb * d2b - bc * d1);
        let inside = (v >= 0.0) & (w >= 0.0) & (v + w <= whole) & (whole > 0.0);
        h2[k] = plane;
        d2[k] = if inside { plane } else { edges };
    }
    (d2, h2)
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{RngExt, SeedableRng};

    /// A wavy sheet of triangles with all corners shared.
    fn sheet(n: u32) -> (Vec<Point>, Vec<[u32; 3]>) {
        let at = |i: u32, j: u32| {
            let (x, y) = (f64::from(i) * 0.7, f64::from(j) * 0.9);
            Point::new(
                800.0 + x,
                y - 300.0,
                3.0 * (0.4 * x).sin() + (0.8 * y).cos(),
            )
        };
        let vertices = (0..n * n).map(|k| at(k % n, k / n)).collect();
        let triangles = (0..(n - 1) * (n - 1))
            .flat_map(|k| {
                let a = k / (n - 1) * n + k % (n - 1);
                [[a, a + 1, a + n], [a + 1, a + n + 1, a + n]]
            })
            .collect();
        (vertices, triangles)
    }

    #[test]
    fn nearest_as_by_trying_all() {
        let (vertices, triangles) = sheet(30);
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(8);
        let points: Vec<Point> = (0..3000)
            .map(|_| {
                let (x, y, z): (f64, f64, f64) = (rng.random(), rng.random(), rng.random());
                Point::new(797.0 + 26.0 * x, 32.0 * y - 303.0, 16.0 * z - 8.0)
            })
            .collect();
        let found = TriangleTree::new(&vertices, &triangles).nearest_of(&points);
        for (p, near) in points.iter().zip(&found) {
            let best = triangles
                .iter()
                .map(|t| (p - nearest_on(&t.map(|v| vertices[v as usize]), p)).norm())
                .fold(f64::INFINITY, f64::min);
            assert!((near.distance.abs() - best).abs() < 1e-6 * (1.0 + best));
            assert!(((p - near.foot).norm() - best).abs() < 1e-6 * (1.0 + best));
            // Over the sheet, above is in front.
            let over = (803.0..817.0).contains(&p.x) && (-297.0..-277.0).contains(&p.y);
            let height = 3.0 * (0.4 * (p.x - 800.0)).sin() + (0.8 * (p.y + 300.0)).cos();
            if over && (p.z - height).abs() > 0.5 {
                assert_eq!(near.distance > 0.0, p.z > height, "{p} {near:?}");
            }
        }
    }

    #[test]
    fn outside_a_box_is_outside_also_beyond_its_edges() {
        let vertices: Vec<Point> = (0..8)
            .map(|k| Point::new(f64::from(k & 1), f64::from(k >> 1 & 1), f64::from(k >> 2)))
            .collect();
        let quads = [
            [0, 2, 3, 1],
            [4, 5, 7, 6],
            [0, 1, 5, 4],
            [2, 6, 7, 3],
            [0, 4, 6, 2],
            [1, 3, 7, 5],
        ];
        let triangles: Vec<[u32; 3]> = quads
            .iter()
            .flat_map(|q| [[q[0], q[1], q[2]], [q[0], q[2], q[3]]])
            .collect();
        let tree = TriangleTree::new(&vertices, &triangles);
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(2);
        let points: Vec<Point> = (0..4000)
            .map(|_| Point::from([0; 3].map(|_: i32| 3.0 * rng.random::<f64>() - 1.0)))
            .collect();
        for (p, near) in points.iter().zip(tree.nearest_of(&points)) {
            let inside = p.iter().all(|c| (0.0..=1.0).contains(c));
            assert_eq!(near.distance < 0.0, inside, "{p} {near:?}");
        }
    }

    #[test]
    fn nothing_flat_ones_and_bad_ones() {
        let none = TriangleTree::new(&[], &[[0, 1, 2]]);
        let near = none.nearest_of(&[Point::origin()]);
        assert!(near[0].triangle == u32::MAX && near[0].distance.is_nan());
        let vertices = [
            [0.0, 0.0, 0.0],
            [2.0, 0.0, 0.0],
            [1.0, 0.0, 0.0],
            [f64::NAN, 0.0, 0.0],
        ]
        .map(Point::from);
        let tree = TriangleTree::new(&vertices, &[[0, 1, 3], [0, 1, 2], [2, 2, 2]]);
        let points = [Point::new(0.5, 3.0, 4.0), Point::new(f64::NAN, 0.0, 0.0)];
        let near = tree.nearest_of(&points);
        assert_eq!((near[0].triangle, near[0].distance), (1, 5.0));
        assert_eq!(near[1].triangle, u32::MAX);
    }
}
