//! Lines and marks over the shaded surfaces: smooth at their sides, hidden by what lies before them.
//!
//! Drawn in bands of rows, each band by itself, lines and marks in the order of the scene.

use geom::{Point, Vector};

use crate::colour::mix;
use crate::mark_form;
use crate::picture::EMPTY;
use crate::raster::{Placed, Raster};
use crate::scene::{Behind, Clip, Dash, Shape};
use crate::{Rgb, Scene};

/// A line or mark in pixels of the picture.
pub(crate) enum Stroke {
    Line(LineStroke),
    Mark(mark_form::MarkStroke),
}

/// How a line or mark gives way.
#[derive(Clone, Debug)]
pub(crate) struct Ink {
    pub colour: Rgb,
    /// Share of the colour where nothing lies before it.
    pub strength: f32,
    pub behind: Behind,
    pub lift_mm: f64,
}

impl Ink {
    /// Share of the colour at a depth before which something may lie.
    pub fn share(&self, before: Option<f64>, depth: f64) -> f32 {
        let hidden = before.is_some_and(|b| b + self.lift_mm < depth);
        match self.behind {
            _ if !hidden => self.strength,
            Behind::Shown => self.strength,
            Behind::Faint(s) => self.strength * s.clamp(0.0, 1.0),
            Behind::Hidden => 0.0,
        }
    }
}

/// A line as seen.
pub(crate) struct LineStroke {
    ink: Ink,
    width_px: f64,
    /// Lengths of dash and period, pixels.
    dash: Option<(f64, f64)>,
    segments: Vec<Segment>,
    /// The object's clips, with the way back to its coordinates.
    clips: Vec<Clip>,
    placed: Placed,
}

#[derive(Clone, Copy)]
struct Segment {
    a: (f64, f64),
    b: (f64, f64),
    /// Ends in view axes.
    from: Vector,
    to: Vector,
    /// Length in pixels, and along the curve to its start.
    length: f64,
    along: f64,
}

/// All lines and marks of a scene as seen.
pub(crate) fn strokes(raster: &Raster, scene: &Scene, placed: &[Placed]) -> Vec<Stroke> {
    let mut out = Vec::new();
    for (object, placed) in scene.objects.iter().zip(placed) {
        let strength = 1.0 - object.fade.clamp(0.0, 1.0);
        match &object.shape {
            Shape::Line(line) => {
                let ink = Ink {
                    colour: line.colour,
                    strength,
                    behind: line.behind,
                    lift_mm: line.lift_mm
                        + (2.0 + f64::from(line.width_px)) * raster.view.camera.mm_per_px,
                };
                let mut stroke = LineStroke {
                    ink,
                    width_px: f64::from(line.width_px).clamp(0.0, 64.0),
                    dash: None,
                    segments: segments(raster, placed, line.points, line.closed),
                    clips: object.clips.clone(),
                    placed: *placed,
                };
                stroke.dash = line.dash.and_then(|d| stroke.fitted(d, line.closed));
                out.push(Stroke::Line(stroke));
            }
            Shape::Marks(marks) => {
                let ink = Ink {
                    colour: marks.colour,
                    strength,
                    behind: marks.behind,
                    lift_mm: marks.lift_mm + 2.0 * raster.view.camera.mm_per_px,
                };
                for p in marks.points {
                    if !object.shows(p) {
                        continue;
                    }
                    if let Some((x, y, depth)) = seen(raster, &placed.place(p)) {
                        out.push(Stroke::Mark(mark_form::MarkStroke {
                            ink: ink.clone(),
                            form: marks.form,
                            radius_px: f64::from(marks.radius_px).clamp(0.0, 256.0),
                            at: (x, y),
                            depth,
                        }));
                    }
                }
            }
            Shape::Points(_) | Shape::Mesh(_) => {}
        }
    }
    out
}

/// Where a place in view axes is seen, pixels of the picture, and its depth.
fn seen(raster: &Raster, v: &Vector) -> Option<(f64, f64, f64)> {
    let depth = -v.z;
    if !v.iter().all(|x| x.is_finite()) || depth < raster.nearest() {
        return None;
    }
    let (x, y) = raster.pixel(v);
    let k = f64::from(raster.coarseness);
    Some((x * k, y * k, depth))
}

fn segments(raster: &Raster, placed: &Placed, points: &[Point], closed: bool) -> Vec<Segment> {
    let mut out: Vec<Segment> = Vec::with_capacity(points.len());
    let n = points.len();
    let count = if closed && n > 2 {
        n
    } else {
        n.saturating_sub(1)
    };
    let mut along = 0.0;
    for i in 0..count {
        let (mut from, mut to) = (placed.place(&points[i]), placed.place(&points[(i + 1) % n]));
        if !before_eye(raster, &mut from, &mut to) {
            continue;
        }
        let (Some(a), Some(b)) = (seen(raster, &from), seen(raster, &to)) else {
            continue;
        };
        let length = (b.0 - a.0).hypot(b.1 - a.1);
        out.push(Segment {
            a: (a.0, a.1),
            b: (b.0, b.1),
            from,
            to,
            length,
            along,
        });
        along += length;
    }
    out
}

/// Cuts off what lies behind the eye; whether anything is left.
fn before_eye(raster: &Raster, from: &mut Vector, to: &mut Vector) -> bool {
    let limit = raster.nearest();
    if limit == f64::NEG_INFINITY {
        return true;
    }
    let (a, b) = (-from.z - limit, -to.z - limit);
    if a < 0.0 && b < 0.0 {
        return false;
    }
    if a < 0.0 || b < 0.0 {
        let mut cut = *from + (*to - *from) * (a / (a - b));
        cut.z = -limit;
        *(if a < 0.0 { from } else { to }) = cut;
    }
    true
}

/// The rows of a band of the finished picture.
pub(crate) struct Rows<'a> {
    pub width: usize,
    pub first: usize,
    pub rgba: &'a mut [u8],
    /// Words of the whole picture, rows of `words_width`, `coarseness` pixels of the picture each.
    pub words: &'a [u64],
    pub words_width: usize,
    pub raster: &'a Raster,
}

impl Rows<'_> {
    pub fn rows(&self) -> usize {
        self.rgba.len() / (4 * self.width).max(1)
    }

    /// Depth of the surface in a pixel of the picture, mm.
    pub fn depth(&self, x: usize, y: usize) -> Option<f64> {
        let k = self.raster.coarseness as usize;
        let word = *self.words.get(y / k * self.words_width + x / k)?;
        (word != EMPTY).then(|| self.raster.scale.depth((word >> 32) as u32))
    }

    pub fn blend(&mut self, x: usize, y: usize, colour: Rgb, share: f32) {
        let i = 4 * ((y - self.first) * self.width + x);
        let old = [self.rgba[i], self.rgba[i + 1], self.rgba[i + 2]];
        self.rgba[i..i + 3].copy_from_slice(&mix(old, colour, share));
    }
}

/// Draws all strokes into a band of rows.
pub(crate) fn draw(rows: &mut Rows, strokes: &[Stroke]) {
    let mut cover = Cover::default();
    for stroke in strokes {
        match stroke {
            Stroke::Line(line) => line.draw(rows, &mut cover),
            Stroke::Mark(mark) => mark.draw(rows),
        }
    }
}

/// How much of each pixel of a band a line covers; kept between lines to save memory.
#[derive(Default)]
struct Cover {
    cells: Vec<Cell>,
    touched: Vec<u32>,
}

#[derive(Clone, Copy, Default)]
struct Cell {
    /// How far inside the widened line, pixels; 0 where no line is.
    inside: f32,
    /// The nearest segment and the nearest place on it.
    segment: u32,
    t: f32,
}

impl LineStroke {
    /// Dash and period so that a closed curve holds a whole number of them. `None` if there would be no gap.
    fn fitted(&self, dash: Dash, closed: bool) -> Option<(f64, f64)> {
        let (on, off) = (f64::from(dash.on_px), f64::from(dash.off_px));
        let period = on + off;
        if !(on >= 0.0 && off > 0.0 && period.is_finite() && period >= 1.0) {
            return None;
        }
        if !closed {
            return Some((on, period));
        }
        let whole: f64 = self.segments.iter().map(|s| s.length).sum();
        let stretch = whole / (whole / period).round().max(1.0) / period;
        Some((on * stretch, period * stretch))
    }

    fn draw(&self, rows: &mut Rows, cover: &mut Cover) {
        let (width, count) = (rows.width, rows.rows());
        if self.width_px <= 0.0 || self.ink.strength <= 0.0 {
            return;
        }
        cover.cells.resize(width * count, Cell::default());
        let half = (0.5 * self.width_px).max(0.5);
        // A line thinner than a pixel is drawn a pixel wide and paler.
        let thin = self.width_px.min(1.0);
        for (i, s) in self.segments.iter().enumerate() {
            Self::cover(s, i as u32, half, rows, cover);
        }
        for &touched in &cover.touched {
            let cell = std::mem::take(&mut cover.cells[touched as usize]);
            let s = &self.segments[cell.segment as usize];
            let (x, y) = (
                touched as usize % width,
                rows.first + touched as usize / width,
            );
            let at = place(s, f64::from(cell.t), rows.raster);
            if !self.clips.is_empty() {
                let p = self.placed.back(&at);
                if !self.clips.iter().all(|c| c.shows(&p)) {
                    continue;
                }
            }
            let mut filled = f64::from(cell.inside).min(1.0) * thin;
            if let Some((on, period)) = self.dash {
                let phase = (s.along + f64::from(cell.t) * s.length).rem_euclid(period);
                let inside = (0.5 * on - (phase - 0.5 * on).abs()).max(phase - period);
                filled *= (inside + 0.5).clamp(0.0, 1.0);
            }
            let share = self.ink.share(rows.depth(x, y), -at.z);
            rows.blend(x, y, self.ink.colour, share * filled as f32);
        }
        cover.touched.clear();
    }

    fn cover(s: &Segment, index: u32, half: f64, rows: &Rows, cover: &mut Cover) {
        let reach = half + 1.0;
        let (dx, dy) = (s.b.0 - s.a.0, s.b.1 - s.a.1);
        let low = s.a.1.min(s.b.1) - reach - rows.first as f64;
        let high = s.a.1.max(s.b.1) + reach - rows.first as f64;
        let end = rows.rows();
        let span = |low: f64, high: f64, n: usize| {
            low.floor().max(0.0) as usize..((high.ceil().max(0.0)) as usize).min(n)
        };
        for r in span(low, high, end) {
            let y = (rows.first + r) as f64 + 0.5;
            let (mut left, mut right) = (s.a.0.min(s.b.0) - reach, s.a.0.max(s.b.0) + reach);
            if dy.abs() > 1e-9 {
                let x = s.a.0 + (y - s.a.1) * dx / dy;
                let wide = reach * s.length / dy.abs();
                (left, right) = (left.max(x - wide), right.min(x + wide));
            }
            for column in span(left, right, rows.width) {
                let x = column as f64 + 0.5;
                let (px, py) = (x - s.a.0, y - s.a.1);
                let t = if s.length > 0.0 {
                    ((px * dx + py * dy) / (s.length * s.length)).clamp(0.0, 1.0)
                } else {
                    0.0
                };
                let off = (px - t * dx).hypot(py - t * dy);
                let inside = (half + 0.5 - off) as f32;
                let i = r * rows.width + column;
                let cell = &mut cover.cells[i];
                if inside > cell.inside {
                    if cell.inside == 0.0 {
                        cover.touched.push(i as u32);
                    }
                    *cell = Cell {
                        inside,
                        segment: index,
                        t: t as f32,
                    };
                }
            }
        }
    }
}

/// The place on a segment, view axes, at a share of its length in pixels.
fn place(s: &Segment, t: f64, raster: &Raster) -> Vector {
    let t = match raster.eye {
        None => t,
        Some((mm, _)) => {
            // Even steps in the picture are even in the inverse of the distance from the eye.
            let (a, b) = (mm - s.from.z, mm - s.to.z);
            t * a / (b + t * (a - b))
        }
    };
    s.from + (s.to - s.from) * t
}
