//! From words to colours: closing of gaps, light from normals by differences of depth, relief, hatching.
//!
//! Done in bands of rows that need nothing of each other but the words, so any band may be done at any time.

use geom::Vector;

use crate::colour::mix;
use crate::picture::EMPTY;
use crate::raster::{Placed, Raster};
use crate::scene::{Mesh, Paint, Points, Shape};
use crate::triangles;
use crate::{Look, Rgb, Scene};

/// Rows above and below that a row looks at.
const HALO: usize = 8;
/// Depths are evened out over so many pixels to each side.
const EVEN: usize = 2;
/// Differences of depth are taken over so many pixels to each side.
const REACH: usize = 2;
/// Relief looks at pixels so far away.
const RELIEF: usize = 3;
/// Steeper than this, in pixels of depth per pixel, is a step from one surface to another.
const STEEP: f32 = 5.0;
/// Where the light comes from, view axes: over the viewer's left shoulder.
const LIGHT: [f32; 3] = [-0.388, 0.485, 0.784];
/// Distance of hatch lines, pixels.
const HATCH_PX: f64 = 7.0;
/// Thickness of hatch lines, pixels.
const HATCH_WIDE: f64 = 1.1;

/// What shading needs beside the words.
pub(crate) struct Shading<'a> {
    pub raster: &'a Raster,
    pub scene: &'a Scene<'a>,
    pub placed: &'a [Placed],
    pub starts: &'a [u32],
    pub look: &'a Look,
}

/// Rows of a band with their neighbours above and below.
struct Band {
    width: usize,
    /// First row held.
    top: usize,
    /// Rows held.
    rows: usize,
    words: Vec<u64>,
    /// Depth, pixels, evened out; infinite where nothing is.
    even: Vec<f32>,
}

impl Shading<'_> {
    /// Shades the rows from `first` on: closed words into `words`, colours into `rgba`, both of whole rows.
    pub fn band(&self, first: usize, words: &mut [u64], rgba: &mut [u8]) {
        let width = self.raster.width as usize;
        if width == 0 {
            return;
        }
        let rows = words.len() / width;
        let band = self.gather(first, rows);
        let mut last = Last::default();
        for r in 0..rows {
            let inner = first + r - band.top;
            let from = inner * width;
            let lit = band.lit(inner);
            words[r * width..(r + 1) * width].copy_from_slice(&band.words[from..from + width]);
            for x in 0..width {
                let word = band.words[from + x];
                let colour = if word == EMPTY {
                    self.look.sheet
                } else {
                    self.pixel((lit.tone[x], lit.relief[x]), x, first + r, word, &mut last)
                };
                let to = 4 * (r * width + x);
                rgba[to..to + 3].copy_from_slice(&colour);
                rgba[to + 3] = 255;
            }
        }
    }

    fn gather(&self, first: usize, rows: usize) -> Band {
        let width = self.raster.width as usize;
        let height = self.raster.height as usize;
        let top = first.saturating_sub(HALO);
        let end = (first + rows + HALO).min(height);
        let mut raw = Vec::with_capacity((end - top) * width);
        raw.extend((top * width..end * width).map(|i| self.raster.word(i)));
        let step = self.open_steps();
        // Twice, for gaps of two pixels.
        let words = closed(&closed(&raw, width, step), width, step);
        let scale = &self.raster.scale;
        let px_per_number = (1.0 / (scale.per_mm * self.raster.mm_per_px)) as f32;
        let depth: Vec<f32> = words
            .iter()
            .map(|w| {
                if *w == EMPTY {
                    f32::INFINITY
                } else {
                    (w >> 32) as f32 * px_per_number
                }
            })
            .collect();
        let even = evened(&depth, width);
        Band {
            width,
            top,
            rows: end - top,
            words,
            even,
        }
    }

    /// How far behind its neighbours a pixel must lie to be a gap in a surface, in numbers of depth.
    fn open_steps(&self) -> u64 {
        let mm = 6.0 * self.raster.mm_per_px + 0.5;
        (mm * self.raster.scale.per_mm).min(f64::from(u32::MAX)) as u64
    }

    fn pixel(
        &self,
        (point_tone, relief): (f32, f32),
        x: usize,
        y: usize,
        word: u64,
        last: &mut Last,
    ) -> Rgb {
        let number = word as u32;
        if number < last.low || number >= last.high {
            last.object = self.starts.partition_point(|s| *s <= number) - 1;
            last.low = self.starts[last.object];
            last.high = self.starts[last.object + 1];
            last.triangle = None;
        }
        let object = &self.scene.objects[last.object];
        let element = number - last.low;
        let (colour, hatch, tone) = match &object.shape {
            Shape::Points(points) => {
                let (colour, hatch) = point_colour(points, element);
                (colour, hatch, point_tone)
            }
            Shape::Mesh(mesh) => self.triangle(mesh, element, x, y, word, last),
            Shape::Line(_) | Shape::Marks(_) => (self.look.sheet, None, 0.0),
        };
        let look = self.look;
        let mut c = colour.map(f32::from);
        if tone > 0.0 {
            run_towards(&mut c, look.light, look.lit * tone);
        } else {
            run_towards(&mut c, look.shadow, look.shaded * -tone);
        }
        run_towards(&mut c, look.shadow, look.relief * relief);
        if let Some(hatch) = hatch {
            run_towards(&mut c, hatch, self.hatch(last.object, x, y));
        }
        if object.fade > 0.0 {
            run_towards(&mut c, look.sheet, object.fade.min(1.0));
        }
        c.map(|v| (v + 0.5) as u8)
    }

    /// Share of a pixel under a hatch line. The hatching sticks to the object while it is moved.
    fn hatch(&self, object: usize, x: usize, y: usize) -> f32 {
        let k = f64::from(self.raster.coarseness);
        let origin = self.placed[object].shift;
        let (mut ox, mut oy) = (0.0, 0.0);
        if -origin.z > self.raster.nearest() {
            let (px, py) = self.raster.pixel(&origin);
            if px.is_finite() && py.is_finite() {
                (ox, oy) = (px, py);
            }
        }
        let d =
            ((x as f64 + 0.5 - ox) + (y as f64 + 0.5 - oy)) * k * std::f64::consts::FRAC_1_SQRT_2;
        let off = (d.rem_euclid(HATCH_PX) - 0.5 * HATCH_PX).abs();
        (0.5 * HATCH_WIDE + 0.5 - off).clamp(0.0, 1.0) as f32
    }

    fn triangle(
        &self,
        mesh: &Mesh,
        i: u32,
        x: usize,
        y: usize,
        word: u64,
        last: &mut Last,
    ) -> (Rgb, Option<Rgb>, f32) {
        let placed = &self.placed[last.object];
        if last.triangle.is_none_or(|t| t.index != i) {
            last.triangle = triangles::corners_of(mesh, placed, i).map(|corners| {
                let mut normal = triangles::normal_of(placed, &corners).unwrap_or_else(Vector::z);
                let middle = (corners[0] + corners[1] + corners[2]) / 3.0;
                let to_eye = match self.raster.eye {
                    None => Vector::z(),
                    Some((mm, _)) => Vector::new(0.0, 0.0, mm) - middle,
                };
                let faces = normal.dot(&to_eye) >= 0.0;
                if !faces {
                    normal = -normal;
                }
                let (colour, _) = painted(&mesh.paint, i, None);
                Triangle {
                    index: i,
                    corners,
                    faces,
                    tone: tone(&[normal.x as f32, normal.y as f32, normal.z as f32]),
                    colour,
                }
            });
        }
        let Some(t) = last.triangle else {
            return (mesh.paint.colour, None, 0.0);
        };
        if !t.faces
            && let Some(back) = mesh.back
        {
            return (back, None, t.tone);
        }
        let Some(bands) = &mesh.paint.bands else {
            return (t.colour, None, t.tone);
        };
        if mesh.paint.highlights.iter().any(|h| h.slots.contains(i)) {
            return (t.colour, None, t.tone);
        }
        let depth = self.raster.scale.depth((word >> 32) as u32);
        let at = self.raster.unpixel(x as f64 + 0.5, y as f64 + 0.5, depth);
        match bands.of(triangles::step_at(mesh, &t.corners, i, &at)) {
            Some(band) => (band.colour, band.hatch, t.tone),
            None => (t.colour, None, t.tone),
        }
    }
}

/// Blends a colour towards another.
#[inline]
fn run_towards(c: &mut [f32; 3], to: Rgb, share: f32) {
    for (v, t) in c.iter_mut().zip(to) {
        *v += (f32::from(t) - *v) * share;
    }
}

/// What the pixel before found.
#[derive(Default)]
struct Last {
    object: usize,
    low: u32,
    high: u32,
    triangle: Option<Triangle>,
}

#[derive(Clone, Copy)]
struct Triangle {
    index: u32,
    corners: [Vector; 3],
    faces: bool,
    tone: f32,
    colour: Rgb,
}

fn point_colour(points: &Points, slot: u32) -> (Rgb, Option<Rgb>) {
    let own = if points.paint.own_share > 0.0 {
        points.blocks.colour(slot)
    } else {
        None
    };
    let (colour, lit_up) = painted(&points.paint, slot, own);
    if lit_up {
        return (colour, None);
    }
    match points.paint.bands.and_then(|b| b.of(b.step(slot)).copied()) {
        Some(band) => (band.colour, band.hatch),
        None => (colour, None),
    }
}

/// Plain, own and highlight colours, and whether it was a highlight.
fn painted(paint: &Paint, i: u32, own: Option<Rgb>) -> (Rgb, bool) {
    if let Some(h) = paint.highlights.iter().rev().find(|h| h.slots.contains(i)) {
        return (h.colour, true);
    }
    let colour = own.map_or(paint.colour, |o| mix(paint.colour, o, paint.own_share));
    (colour, false)
}

/// From 1 (turned to the light) over 0 (turned to the viewer) to -1 (turned from the light).
fn tone(n: &[f32; 3]) -> f32 {
    let l = (n[0] * LIGHT[0] + n[1] * LIGHT[1] + n[2] * LIGHT[2]).clamp(0.0, 1.0);
    let plain = LIGHT[2];
    if l > plain {
        (l - plain) / (1.0 - plain)
    } else {
        (l - plain) / plain
    }
}

/// Fills gaps: an empty pixel with surface in five of its eight neighbours, or one with six neighbours nearer by more
/// than `step`, takes the farthest of these. A straight end of a surface has three, so ends stay where they are.
fn closed(raw: &[u64], width: usize, step: u64) -> Vec<u64> {
    let mut out = raw.to_vec();
    let rows = raw.len() / width;
    if width < 3 {
        return out;
    }
    for r in 1..rows.saturating_sub(1) {
        for i in r * width + 1..(r + 1) * width - 1 {
            let own = raw[i];
            // A word counts as nearer below this.
            let limit = if own == EMPTY {
                EMPTY
            } else {
                (own >> 32).saturating_sub(step) << 32
            };
            let sides = [raw[i - 1], raw[i + 1], raw[i - width], raw[i + width]];
            if sides.iter().filter(|w| **w < limit).count() < 2 {
                continue;
            }
            let corners = [
                raw[i - width - 1],
                raw[i - width + 1],
                raw[i + width - 1],
                raw[i + width + 1],
            ];
            let wanted = if own == EMPTY { 5 } else { 6 };
            let (mut count, mut farthest) = (0, 0);
            for w in sides.into_iter().chain(corners).filter(|w| *w < limit) {
                count += 1;
                farthest = farthest.max(w);
            }
            if count >= wanted {
                out[i] = farthest;
            }
        }
    }
    out
}

/// Depths evened out over neighbours of the same surface, across then down.
fn evened(depth: &[f32], width: usize) -> Vec<f32> {
    let mut across = depth.to_vec();
    for (to, from) in across.chunks_mut(width).zip(depth.chunks(width)) {
        for (t, w) in to.iter_mut().skip(EVEN).zip(from.windows(2 * EVEN + 1)) {
            *t = mean(w[2], [w[1], w[3]], [w[0], w[4]]);
        }
    }
    let mut out = across.clone();
    let rows = depth.len() / width;
    for r in EVEN..rows.saturating_sub(EVEN) {
        let row = |k: usize| &across[k * width..(k + 1) * width];
        let (far_above, above, own) = (row(r - 2), row(r - 1), row(r));
        let (below, far_below) = (row(r + 1), row(r + 2));
        for (x, t) in out[r * width..(r + 1) * width].iter_mut().enumerate() {
            *t = mean(own[x], [above[x], below[x]], [far_above[x], far_below[x]]);
        }
    }
    out
}

/// The mean of a value and its neighbours on the same surface; in pairs, so that a slope stays as it is.
#[inline]
fn mean(own: f32, near: [f32; 2], far: [f32; 2]) -> f32 {
    let mut sum = own;
    let mut n = 1.0;
    for (k, [a, b]) in [(1.0, near), (2.0, far)] {
        let limit = STEEP * k;
        let fits = ((a - own).abs() < limit) & ((b - own).abs() < limit);
        sum += if fits { a + b } else { 0.0 };
        n += if fits { 2.0 } else { 0.0 };
    }
    sum / n
}

/// Light and relief of a row.
struct Lit {
    /// See [`tone`].
    tone: Vec<f32>,
    /// How much nearer the surroundings are, 0 to 1: hollows and what lies behind an edge.
    relief: Vec<f32>,
}

impl Band {
    /// A row of evened depths with room at both ends; nothing at all outside the band.
    fn padded(&self, row: Option<usize>) -> Vec<f32> {
        let mut out = vec![f32::INFINITY; self.width + 2 * RELIEF];
        if let Some(r) = row.filter(|r| *r < self.rows) {
            out[RELIEF..RELIEF + self.width]
                .copy_from_slice(&self.even[r * self.width..(r + 1) * self.width]);
        }
        out
    }

    /// Light and relief of a row, from the slopes of the evened depths.
    fn lit(&self, row: usize) -> Lit {
        let n = self.width;
        let own = self.padded(Some(row));
        let rows =
            [REACH, RELIEF].map(|k| [self.padded(row.checked_sub(k)), self.padded(Some(row + k))]);
        let at = part(&own, RELIEF, n);
        let (left, right) = (part(&own, RELIEF - REACH, n), part(&own, RELIEF + REACH, n));
        let (above, below) = (part(&rows[0][0], RELIEF, n), part(&rows[0][1], RELIEF, n));
        let mut tones = vec![0.0; n];
        for (x, t) in tones.iter_mut().enumerate() {
            // Depth grows away from the viewer, rows grow downward.
            let p = slope(at[x], left[x], right[x]);
            let q = -slope(at[x], above[x], below[x]);
            let len = (p * p + q * q + 1.0).sqrt();
            *t = tone(&[p / len, q / len, 1.0 / len]);
        }
        let (left, right) = (part(&own, 0, n), part(&own, 2 * RELIEF, n));
        let (above, below) = (part(&rows[1][0], RELIEF, n), part(&rows[1][1], RELIEF, n));
        let mut relief = vec![0.0; n];
        for (x, deep) in relief.iter_mut().enumerate() {
            let sum = bend(at[x], left[x], right[x]) + bend(at[x], above[x], below[x]);
            let share = sum / (4.0 * RELIEF as f32);
            *deep = share / (1.0 + share);
        }
        Lit {
            tone: tones,
            relief,
        }
    }
}

/// `n` values from `first` on.
fn part(row: &[f32], first: usize, n: usize) -> &[f32] {
    &row[first..first + n]
}

/// Slope of the surface, pixels of depth per pixel, from the depths `REACH` before and after; what belongs to another
/// surface does not count.
#[inline]
fn slope(own: f32, before: f32, after: f32) -> f32 {
    let limit = STEEP * REACH as f32;
    let (a, b) = (own - before, after - own);
    let (a_fits, b_fits) = (a.abs() < limit, b.abs() < limit);
    let sum = if a_fits { a } else { 0.0 } + if b_fits { b } else { 0.0 };
    let n: f32 = if a_fits & b_fits { 2.0 } else { 1.0 };
    sum / (n * REACH as f32)
}

/// How far a place lies behind the mean of its two sides, twice, pixels; a side where nothing is does not count.
#[inline]
fn bend(own: f32, a: f32, b: f32) -> f32 {
    let a = if a < f32::INFINITY { a } else { own };
    let b = if b < f32::INFINITY { b } else { own };
    let d = own - a + (own - b);
    if d > 0.0 {
        d.min(6.0 * RELIEF as f32)
    } else {
        0.0
    }
}
