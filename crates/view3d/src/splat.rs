//! Points drawn as small squares, block by block.

use geom::{Block, Vector};

use crate::raster::{Extent, Placed, Raster};
use crate::scene::{Keeps, Object, Points, Shape};
use crate::{Look, Scene};

/// Points mapped before they are written.
const RUN: usize = 256;
/// A number that, added to a single-precision one below 2^22, leaves its whole part in the low bits.
const WHOLE: f32 = 12_582_912.0;
/// Blocks narrower than this many pixels are drawn by their coarse level alone.
const SMALL_PX: f64 = 4.0;
/// Side of a square in spacings of the points: leaves about one pixel in thirteen open on a random scan, which the
/// closing of the picture fills.
const CLOSES: f64 = 1.6;
/// A block counts as at most so many times sparser than the median block of its object.
const AT_MOST: f64 = 1.5;

/// A block to be drawn.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Portion {
    /// Index of the object in the scene.
    pub object: u32,
    /// Index of the block.
    pub block: u32,
    /// How many of its points.
    pub take: u32,
    /// Side of the squares, pixels.
    pub side: u32,
}

/// The blocks that are in the picture, thinned to about `budget` points altogether.
pub(crate) fn portions(
    raster: &Raster,
    scene: &Scene,
    placed: &[Placed],
    starts: &[u32],
    look: &Look,
    budget: usize,
) -> Vec<Portion> {
    let mut list = Vec::new();
    let mut extents = Vec::new();
    let mut total = 0;
    for (o, object) in scene.objects.iter().enumerate() {
        let Shape::Points(points) = &object.shape else {
            continue;
        };
        if starts[o + 1] == starts[o] {
            continue;
        }
        for (b, block) in points.blocks.blocks().iter().enumerate() {
            if clipped_away(object, block) {
                continue;
            }
            let Some(extent) = raster.extent(&placed[o], &block.bounds) else {
                continue;
            };
            let wide = (extent.high.0 - extent.low.0).max(extent.high.1 - extent.low.1);
            let coarse = points.blocks.coarse(b).len() as u32;
            let take = if wide <= SMALL_PX { coarse } else { block.len };
            total += take as usize;
            extents.push((extent, spacing_of(block)));
            list.push(Portion {
                object: o as u32,
                block: b as u32,
                take,
                side: 1,
            });
        }
    }
    let share = if total > budget {
        budget as f64 / total as f64
    } else {
        1.0
    };
    let typical = typical_spacings(&list, &extents, scene.objects.len());
    for (p, (extent, spacing)) in list.iter_mut().zip(&extents) {
        let Shape::Points(points) = &scene.objects[p.object as usize].shape else {
            continue;
        };
        let block = &points.blocks.blocks()[p.block as usize];
        if share < 1.0 {
            p.take = ((f64::from(p.take) * share).ceil() as u32).clamp(1, p.take);
        }
        let largest = u32::from(look.largest_point_px.clamp(1, 15));
        // A block round an opening or a corner looks larger than its surface is.
        let full = spacing.min(AT_MOST * typical[p.object as usize]);
        let spacing = full * (f64::from(block.len) / f64::from(p.take.max(1))).sqrt();
        p.side = side_of(raster, spacing, extent, largest);
    }
    list
}

/// Spacing of all the points of a block on their surface, mm.
fn spacing_of(block: &Block) -> f64 {
    let s = block.bounds.size();
    // A surface is about as large as the largest of the three sides of its box.
    let area = (s.x * s.y).max(s.y * s.z).max(s.z * s.x);
    (area / f64::from(block.len.max(1))).sqrt()
}

/// The median spacing of the blocks of each object, mm.
fn typical_spacings(list: &[Portion], extents: &[(Extent, f64)], objects: usize) -> Vec<f64> {
    let mut of: Vec<Vec<f64>> = vec![Vec::new(); objects];
    for (p, (_, spacing)) in list.iter().zip(extents) {
        of[p.object as usize].push(*spacing);
    }
    of.into_iter()
        .map(|mut v| {
            let middle = v.len() / 2;
            if v.is_empty() {
                0.0
            } else {
                *v.select_nth_unstable_by(middle, f64::total_cmp).1
            }
        })
        .collect()
}

/// The side of the squares that closes a surface of points so far apart, pixels.
fn side_of(raster: &Raster, spacing: f64, extent: &Extent, largest: u32) -> u32 {
    let px = raster.px_per_mm(extent.near.max(raster.nearest()));
    ((spacing * px * CLOSES).ceil() as u32).clamp(1, largest)
}

fn clipped_away(object: &Object, block: &Block) -> bool {
    object.clips.iter().any(|c| match c.keeps {
        Keeps::Inside => !c.bounds.meets(&block.bounds),
        Keeps::Outside => c.bounds.holds(&block.bounds.low) && c.bounds.holds(&block.bounds.high),
    })
}

/// Whether every point of a block passes the clips.
fn clips_pass(object: &Object, block: &Block) -> bool {
    object.clips.iter().all(|c| match c.keeps {
        Keeps::Inside => c.bounds.holds(&block.bounds.low) && c.bounds.holds(&block.bounds.high),
        Keeps::Outside => !c.bounds.meets(&block.bounds),
    })
}

/// One block made ready: single precision about its origin.
struct Near {
    x: [f32; 3],
    y: [f32; 3],
    depth: [f32; 3],
    at: [f32; 3],
    /// Number of the depth of the origin.
    base: u32,
    /// Pixels from the eye, for perspective, with the pixel place of the middle.
    eye: Option<Eye>,
}

struct Eye {
    /// Numbers of depth per mm.
    per_mm: f32,
    /// Distance of the block origin behind the eye, mm.
    away: f32,
    /// Least distance drawn, mm.
    least: f32,
    px: f32,
    middle: [f32; 2],
}

fn row(v: &Vector, by: f64) -> [f32; 3] {
    [v.x * by, v.y * by, v.z * by].map(|x| x as f32)
}

impl Near {
    fn new(raster: &Raster, placed: &Placed, block: &Block, side: u32) -> Self {
        let v = placed.place(&block.origin);
        let depth = -v.z;
        let per_mm = raster.scale.per_mm;
        // May lie outside the scale while the points do not: wraps there and back again.
        let base = ((depth - raster.scale.near) * per_mm) as i64 as u32;
        let rows = [0, 1, 2].map(|i| placed.turn.row(i).transpose());
        // Rounding to the nearest takes the place of rounding down; squares begin half their side before.
        let half = 0.5 * f64::from(side - 1) + 0.5;
        match raster.eye {
            None => {
                let s = 1.0 / raster.mm_per_px;
                let (x, y) = raster.pixel(&v);
                Self {
                    x: row(&rows[0], s),
                    y: row(&rows[1], -s),
                    depth: row(&rows[2], -per_mm),
                    at: [(x - half) as f32, (y - half) as f32, 0.0],
                    base,
                    eye: None,
                }
            }
            Some((mm, px)) => Self {
                x: row(&rows[0], 1.0),
                y: row(&rows[1], -1.0),
                depth: row(&rows[2], -1.0),
                at: [v.x as f32, -v.y as f32, 0.0],
                base,
                eye: Some(Eye {
                    per_mm: per_mm as f32,
                    away: (mm + depth) as f32,
                    least: (mm + raster.nearest()) as f32,
                    px: px as f32,
                    middle: [
                        (raster.middle.0 - half) as f32,
                        (raster.middle.1 - half) as f32,
                    ],
                }),
            },
        }
    }

    /// Upper left pixel of the square, and depth number about the base. Outside: far from the picture.
    #[inline]
    fn map(&self, o: [f32; 3]) -> (i32, i32, f32) {
        let dot = |r: &[f32; 3], a: f32| r[0] * o[0] + r[1] * o[1] + r[2] * o[2] + a;
        let (mut x, mut y, mut d) = (
            dot(&self.x, self.at[0]),
            dot(&self.y, self.at[1]),
            dot(&self.depth, 0.0),
        );
        if let Some(eye) = &self.eye {
            let away = eye.away + d;
            let s = if away >= eye.least {
                eye.px / away
            } else {
                f32::NAN
            };
            x = eye.middle[0] + x * s;
            y = eye.middle[1] + y * s;
            d *= eye.per_mm;
        }
        (whole(x), whole(y), d)
    }
}

/// The nearest whole number of one below 2^22; of larger ones and of none something far outside any picture.
#[inline]
fn whole(x: f32) -> i32 {
    (x + WHOLE)
        .to_bits()
        .cast_signed()
        .wrapping_sub(WHOLE.to_bits().cast_signed())
}

/// Draws the points of one block.
pub(crate) fn draw(
    raster: &Raster,
    object: &Object,
    points: &Points,
    placed: &Placed,
    start: u32,
    portion: &Portion,
) {
    let block = &points.blocks.blocks()[portion.block as usize];
    let offsets = points.blocks.offsets_of(portion.block as usize);
    let near = Near::new(raster, placed, block, portion.side);
    let filter = !clips_pass(object, block);
    let shows = |i: usize| {
        let slot = block.first + i as u32;
        points.shows(slot) && (!filter || object.shows(&points.blocks.point(slot)))
    };
    let picky = filter || points.hidden.is_some();
    let number = u64::from(start + block.first);
    let mut xs = [0; RUN];
    let mut ys = [0; RUN];
    let mut ds = [0.0; RUN];
    let all = portion.take as usize >= offsets.len();
    let pen = Pen::new(raster, portion.side);
    // The coarse level stands first and is spread over all of the block; of the rest every so many-th.
    let coarse = points.blocks.coarse(portion.block as usize).len();
    let take = (portion.take as usize).min(offsets.len());
    let (first, rest) = (take.min(coarse), take.saturating_sub(coarse));
    let left = offsets.len() - coarse;
    let index = |j: usize| {
        if j < first {
            // Fewer than the coarse level: spread over it.
            if first < coarse {
                j * coarse / first
            } else {
                j
            }
        } else {
            coarse + (j - first) * left / rest
        }
    };
    let mut j = 0;
    while j < take {
        let n = RUN.min(take - j);
        if all {
            for (k, o) in offsets[j..j + n].iter().enumerate() {
                (xs[k], ys[k], ds[k]) = near.map(*o);
            }
        } else {
            for k in 0..n {
                (xs[k], ys[k], ds[k]) = near.map(offsets[index(j + k)]);
            }
        }
        for k in 0..n {
            if !pen.touches(xs[k], ys[k]) {
                continue;
            }
            let i = if all { j + k } else { index(j + k) };
            if picky && !shows(i) {
                continue;
            }
            let depth = near.base.wrapping_add((ds[k] as i32).cast_unsigned());
            pen.stamp(xs[k], ys[k], u64::from(depth) << 32 | (number + i as u64));
        }
        j += n;
    }
}

/// A square that is stamped.
struct Pen<'a> {
    raster: &'a Raster,
    side: i32,
    width: i32,
    height: i32,
}

impl<'a> Pen<'a> {
    fn new(raster: &'a Raster, side: u32) -> Self {
        Self {
            raster,
            side: side.cast_signed(),
            width: raster.width.cast_signed(),
            height: raster.height.cast_signed(),
        }
    }

    #[inline]
    fn touches(&self, x: i32, y: i32) -> bool {
        x > -self.side && y > -self.side && x < self.width && y < self.height
    }

    #[inline]
    fn stamp(&self, x: i32, y: i32, word: u64) {
        if self.side == 1 {
            self.raster.put((y * self.width + x) as usize, word);
            return;
        }
        let columns = x.max(0)..(x + self.side).min(self.width);
        for row in y.max(0)..(y + self.side).min(self.height) {
            let first = row * self.width;
            for column in columns.clone() {
                self.raster.put((first + column) as usize, word);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn whole_numbers() {
        assert_eq!(whole(0.0), 0);
        assert_eq!(whole(-3.4), -3);
        assert_eq!(whole(1234.6), 1235);
        for far in [1e9, -1e9, f32::INFINITY, f32::NEG_INFINITY, f32::NAN, 3e38] {
            let w = whole(far);
            assert!(!(-100..100_000).contains(&w), "{far} became {w}");
        }
    }
}
