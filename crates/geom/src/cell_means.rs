//! A cloud thinned to one mean point per cube of a grid.
//!
//! Cubes are found in two steps: blocks of 8 x 8 x 8 cubes by a table over the box of the points, cubes within a block that
//! holds any. A scan is a sheet, so few blocks hold points, and what is looked up stays in the cache.

#![allow(
    clippy::inline_always,
    clippy::needless_range_loop,
    clippy::needless_bitwise_bool,
    reason = "instruction sets are chosen at run time for what is inlined there; lanes go by number and take no branches"
)]

use pulp::NullaryFnOnce;

use crate::{FitError, Point};

/// Points handled at a time.
const LOT: usize = 256;
/// Cubes along the side of a block, as a power of two.
const SIDE: i64 = 3;
/// Cubes of a block.
const CUBES: usize = 1 << (3 * SIDE);
/// The most blocks that the box of the points may span: 256 MB of table.
const MOST_BLOCKS: f64 = 67_108_864.0;
/// 2^52: from here on doubles are whole numbers.
const WHOLE: f64 = 4_503_599_627_370_496.0;
/// Nothing there yet.
const NONE: u32 = u32::MAX;

/// The mean of the points of every cube floor(p / size) that holds any, in the order in which the cubes were first met.
/// Sums run in the order of the points. Points that are not finite are left out.
///
/// Errors: a size that is not above zero and finite; [`FitError::Degenerate`] where the box of the points spans more than
/// 64 million blocks of eight cubes a side (points far away from all others: crop them first). Cost: two passes over the
/// points; 4 bytes a block spanned, 2 KiB a block that holds points, 40 bytes a mean.
pub fn cell_means(points: &[Point], size: f64) -> Result<Vec<Point>, FitError> {
    if !(size.is_finite() && size > 0.0) {
        return Err(FitError::NotFinite);
    }
    let Some(cubes) = Cubes::over(points, size)? else {
        return Ok(Vec::new());
    };
    let mut sums = Sums {
        blocks: crate::list_of(0, cubes.blocks()),
        cubes: Vec::new(),
        means: Vec::new(),
    };
    pulp::Arch::new().dispatch(Pass {
        points,
        cubes: &cubes,
        sums: &mut sums,
    });
    let mean = |s: &[f64; 4]| Point::new(s[0] / s[3], s[1] / s[3], s[2] / s[3]);
    Ok(sums.means.iter().map(mean).collect())
}

/// The grid over the box of the points.
struct Cubes {
    size: f64,
    /// Lowest block.
    low: [i64; 3],
    /// Blocks along each axis.
    count: [i64; 3],
}

impl Cubes {
    fn over(points: &[Point], size: f64) -> Result<Option<Self>, FitError> {
        let [low, high] = pulp::Arch::new().dispatch(Bounds { points });
        if low[0] > high[0] {
            return Ok(None);
        }
        let block = |x: f64| (x / size).floor() / (1_i64 << SIDE) as f64;
        let [low, high] = [low, high].map(|c| c.map(|x| block(x).floor()));
        let spans = [0, 1, 2].map(|i| high[i] - low[i] + 1.0);
        // Beyond 2^50 cubes from the origin whole numbers run out.
        let far = low.iter().chain(&high).any(|x| x.abs() > 1e14);
        if far || spans[0] * spans[1] * spans[2] > MOST_BLOCKS {
            return Err(FitError::Degenerate);
        }
        Ok(Some(Self {
            size,
            low: low.map(|x| x as i64),
            count: spans.map(|x| x as i64),
        }))
    }

    fn blocks(&self) -> usize {
        (self.count[0] * self.count[1] * self.count[2]) as usize
    }
}

/// Coordinates of some points side by side.
type Lot = [[f64; LOT]; 3];

#[inline(always)]
fn side_by_side(points: &[Point]) -> Lot {
    let mut lot = [[f64::NAN; LOT]; 3];
    for (k, p) in points.iter().enumerate() {
        for i in 0..3 {
            lot[i][k] = p[i];
        }
    }
    lot
}

/// Which points are finite.
#[inline(always)]
fn finite(lot: &Lot) -> [bool; LOT] {
    let mut fine = [false; LOT];
    for (k, f) in fine.iter_mut().enumerate() {
        *f = (lot[0][k] + lot[1][k] + lot[2][k]) * 0.0 == 0.0;
    }
    fine
}

/// Low and high corner of the points that are finite.
struct Bounds<'a> {
    points: &'a [Point],
}

impl NullaryFnOnce for Bounds<'_> {
    type Output = [[f64; 3]; 2];

    #[inline(always)]
    fn call(self) -> [[f64; 3]; 2] {
        let mut low = [[f64::INFINITY; 8]; 3];
        let mut high = [[f64::NEG_INFINITY; 8]; 3];
        for points in self.points.chunks(LOT) {
            let lot = side_by_side(points);
            let fine = finite(&lot);
            for i in 0..3 {
                let (lanes, _) = lot[i].as_chunks::<8>();
                let (fine, _) = fine.as_chunks::<8>();
                for (x, fine) in lanes.iter().zip(fine) {
                    for k in 0..8 {
                        // One that is not finite counts as the place where nothing is.
                        let (l, h) = if fine[k] {
                            (x[k], x[k])
                        } else {
                            (f64::INFINITY, f64::NEG_INFINITY)
                        };
                        low[i][k] = if l < low[i][k] { l } else { low[i][k] };
                        high[i][k] = if h > high[i][k] { h } else { high[i][k] };
                    }
                }
            }
        }
        let least = |v: [f64; 8]| v.iter().copied().fold(f64::INFINITY, f64::min);
        let most = |v: [f64; 8]| v.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        [low.map(least), high.map(most)]
    }
}

struct Sums {
    /// By block: its place among those that hold points, plus one; 0 where it holds none.
    blocks: Vec<u32>,
    /// By block that holds points and cube: its place in `means`.
    cubes: Vec<[u32; CUBES]>,
    /// x, y, z and the count.
    means: Vec<[f64; 4]>,
}

struct Pass<'a> {
    points: &'a [Point],
    cubes: &'a Cubes,
    sums: &'a mut Sums,
}

impl NullaryFnOnce for Pass<'_> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        let Sums {
            blocks,
            cubes,
            means,
        } = self.sums;
        for points in self.points.chunks(LOT) {
            let lot = side_by_side(points);
            let fine = finite(&lot);
            // Cubes from the lowest block on: at most 8 x 64 million along an axis.
            let mut cube = [[0_u32; LOT]; 3];
            for i in 0..3 {
                let first = (self.cubes.low[i] << SIDE) as f64;
                for k in 0..LOT {
                    let at = (lot[i][k] / self.cubes.size).floor() - first;
                    // A whole number below 2^32 stands in the low bits of it plus 2^52.
                    cube[i][k] = (at + WHOLE).to_bits() as u32;
                }
            }
            let [nx, ny, _] = self.cubes.count.map(|n| n as u32);
            let (mut block, mut within) = ([0_u32; LOT], [0_u32; LOT]);
            for k in 0..LOT {
                let c = [cube[0][k], cube[1][k], cube[2][k]];
                let b = c.map(|c| c >> SIDE);
                block[k] = (b[2].wrapping_mul(ny).wrapping_add(b[1]))
                    .wrapping_mul(nx)
                    .wrapping_add(b[0]);
                let w = c.map(|c| c & ((1 << SIDE) - 1));
                within[k] = (w[2] << SIDE | w[1]) << SIDE | w[0];
            }
            // What is looked up does not hang on the point before, so that many are under way at once.
            for (k, p) in points.iter().enumerate() {
                if !fine[k] {
                    continue;
                }
                let mut at = blocks[block[k] as usize];
                if at == 0 {
                    cubes.push([NONE; CUBES]);
                    at = cubes.len() as u32;
                    blocks[block[k] as usize] = at;
                }
                let slot = &mut cubes[at as usize - 1][within[k] as usize];
                if *slot == NONE {
                    *slot = means.len() as u32;
                    means.push([0.0; 4]);
                }
                let sum = &mut means[*slot as usize];
                *sum = [sum[0] + p.x, sum[1] + p.y, sum[2] + p.z, sum[3] + 1.0];
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{RngExt, SeedableRng};
    use std::collections::BTreeMap;

    #[test]
    fn means_of_the_very_cubes() {
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(5);
        for size in [0.37, 1.0, 5.0, 400.0] {
            let mut points: Vec<Point> = (0..20_000)
                .map(|_| {
                    let (x, y): (f64, f64) = (rng.random(), rng.random());
                    Point::new(
                        300.0 * x - 150.0,
                        200.0 * y - 1000.0,
                        20.0 * (9.0 * x).sin(),
                    )
                })
                .collect();
            // Corners of cubes belong to the cube that begins there.
            points.extend((-20..20).map(|k| Point::new(f64::from(k) * size, size, 0.0)));
            points.push(Point::new(0.0, f64::NAN, 0.0));
            let mut expected: BTreeMap<[i64; 3], Vec<Point>> = BTreeMap::new();
            for p in points.iter().filter(|p| p.y.is_finite()) {
                let cell = [p.x, p.y, p.z].map(|x| (x / size).floor() as i64);
                expected.entry(cell).or_default().push(*p);
            }
            let means = cell_means(&points, size).unwrap();
            assert_eq!(means.len(), expected.len());
            let mut found: Vec<Point> = means;
            let key = |p: &Point| [p.x, p.y, p.z].map(|x| (x / size).floor() as i64);
            found.sort_by_key(key);
            for ((cell, all), mean) in expected.iter().zip(&found) {
                let sum = all.iter().fold(crate::Vector::zeros(), |s, p| s + p.coords);
                assert!(
                    (sum / all.len() as f64 - mean.coords).norm() < 1e-9,
                    "{cell:?}"
                );
            }
        }
    }

    #[test]
    fn nothing_bad_sizes_and_far_points() {
        assert_eq!(cell_means(&[], 1.0), Ok(Vec::new()));
        let nowhere = [Point::new(f64::INFINITY, 0.0, 0.0)];
        assert_eq!(cell_means(&nowhere, 1.0), Ok(Vec::new()));
        for size in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert_eq!(
                cell_means(&[Point::origin()], size),
                Err(FitError::NotFinite)
            );
        }
        let far = [Point::origin(), Point::new(1e9, 1e9, 1e9)];
        assert_eq!(cell_means(&far, 1.0), Err(FitError::Degenerate));
        assert_eq!(
            cell_means(&[Point::new(1e30, 0.0, 0.0)], 1.0),
            Err(FitError::Degenerate)
        );
    }
}
