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
    /// Depth, pixels; infinite where nothing is.
    depth: Vec<f32>,
    /// Evened out.
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
            words[r * width..(r + 1) * width].copy_from_slice(&band.words[from..from + width]);
            for x in 0..width {
                let word = band.words[from + x];
                let colour = if word == EMPTY {
                    self.look.sheet
                } else {
                    self.pixel(&band, inner, x, first + r, word, &mut last)
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
            depth,
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
        band: &Band,
        row: usize,
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
                (colour, hatch, tone(&band.normal(row, x)))
            }
            Shape::Mesh(mesh) => self.triangle(mesh, element, x, y, word, last),
            Shape::Line(_) | Shape::Marks(_) => (self.look.sheet, None, 0.0),
        };
        let look = self.look;
        let mut c = if tone > 0.0 {
            mix(colour, look.light, look.lit * tone)
        } else {
            mix(colour, look.shadow, look.shaded * -tone)
        };
        c = mix(c, look.shadow, look.relief * band.relief(row, x));
        if let Some(hatch) = hatch {
            let cover = self.hatch(last.object, x, y);
            c = mix(c, hatch, cover);
        }
        mix(c, look.sheet, object.fade)
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
        if width <= 2 * EVEN {
            continue;
        }
        for x in EVEN..width - EVEN {
            to[x] = mean(from[x], |k, side| from[if side { x + k } else { x - k }]);
        }
    }
    let mut out = across.clone();
    let rows = depth.len() / width;
    for r in EVEN..rows.saturating_sub(EVEN) {
        for x in 0..width {
            let i = r * width + x;
            out[i] = mean(across[i], |k, side| {
                across[if side { i + k * width } else { i - k * width }]
            });
        }
    }
    out
}

/// The mean of a value and its neighbours on the same surface; in pairs, so that a slope stays as it is.
#[inline]
fn mean(own: f32, at: impl Fn(usize, bool) -> f32) -> f32 {
    let mut sum = own;
    let mut n = 1.0;
    for k in 1..=EVEN {
        let limit = STEEP * k as f32;
        let (a, b) = (at(k, false), at(k, true));
        let fits = (a - own).abs() < limit && (b - own).abs() < limit;
        sum += if fits { a + b } else { 0.0 };
        n += if fits { 2.0 } else { 0.0 };
    }
    sum / n
}

impl Band {
    /// Slope of the surface in one direction, pixels of depth per pixel.
    fn slope(&self, i: usize, before: Option<usize>, after: Option<usize>) -> f32 {
        let own = self.even[i];
        let limit = STEEP * REACH as f32;
        let step = |j: Option<usize>| {
            j.map(|j| self.even[j] - own)
                .filter(|d| d.abs() < limit)
                .map(|d| d / REACH as f32)
        };
        match (step(before), step(after)) {
            (Some(a), Some(b)) => 0.5 * (b - a),
            (Some(a), None) => -a,
            (None, Some(b)) => b,
            (None, None) => 0.0,
        }
    }

    fn around(&self, row: usize, x: usize, reach: usize) -> [Option<usize>; 4] {
        let i = row * self.width + x;
        [
            (x >= reach).then(|| i - reach),
            (x + reach < self.width).then(|| i + reach),
            (row >= reach).then(|| i - reach * self.width),
            (row + reach < self.rows).then(|| i + reach * self.width),
        ]
    }

    /// The unit normal towards the viewer, view axes.
    fn normal(&self, row: usize, x: usize) -> [f32; 3] {
        let i = row * self.width + x;
        let [left, right, above, below] = self.around(row, x, REACH);
        // Depth grows away from the viewer, rows grow downward.
        let (p, q) = (self.slope(i, left, right), -self.slope(i, above, below));
        let len = (p * p + q * q + 1.0).sqrt();
        [p / len, q / len, 1.0 / len]
    }

    /// How much nearer the surroundings are, 0 to 1: hollows and what lies behind an edge.
    fn relief(&self, row: usize, x: usize) -> f32 {
        let i = row * self.width + x;
        let own = self.depth[i];
        let [left, right, above, below] = self.around(row, x, RELIEF);
        let at = |j: Option<usize>| {
            j.map(|j| self.even[j])
                .filter(|d| d.is_finite())
                .unwrap_or(own)
        };
        let own = if self.even[i].is_finite() {
            self.even[i]
        } else {
            own
        };
        let bend = |a: f32, b: f32| (2.0 * own - a - b).clamp(0.0, 6.0 * RELIEF as f32);
        let sum = bend(at(left), at(right)) + bend(at(above), at(below));
        let x = sum / (4.0 * RELIEF as f32);
        x / (1.0 + x)
    }
}
