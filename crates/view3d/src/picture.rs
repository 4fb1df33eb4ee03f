//! A finished picture: colours, and what each pixel shows.

use geom::Point;

use crate::{Rgb, Seen, View};

/// The word of a pixel that shows nothing.
pub(crate) const EMPTY: u64 = u64::MAX;

/// How depths in mm are kept in 32 bits: evenly between the nearest and the farthest place of the scene.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct DepthScale {
    /// Depth of the number 0, mm.
    pub near: f64,
    /// Numbers per mm.
    pub per_mm: f64,
}

impl DepthScale {
    /// Numbers used; the rest is room for rounding.
    const NUMBERS: f64 = (1_u32 << 31) as f64;

    /// A scale over `near..far`, mm; anything for an empty span.
    pub fn over(near: f64, far: f64) -> Self {
        let (near, far) = if near <= far { (near, far) } else { (0.0, 0.0) };
        let room = 1.0 + 1e-6 * (near.abs() + far.abs());
        Self {
            near: near - room,
            per_mm: Self::NUMBERS / (far - near + 2.0 * room),
        }
    }

    /// The depth a number stands for, mm.
    pub fn depth(&self, number: u32) -> f64 {
        self.near + f64::from(number) / self.per_mm
    }

    /// The number of a depth, rounded down; cut off at the ends.
    pub fn number(&self, depth: f64) -> u32 {
        ((depth - self.near) * self.per_mm) as u32
    }
}

/// What a pixel shows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hit {
    /// Index of the object in the scene.
    pub object: usize,
    /// Slot of the point, or index of the triangle.
    pub element: u32,
    /// Depth behind the plane through the camera's centre, mm.
    pub depth: f64,
    /// Where it is, world, mm: for a point the middle of the pixel at its depth, so good to half a pixel only; see
    /// [`crate::pick()`] for exact ones.
    pub place: Point,
}

/// A finished picture.
#[derive(Clone, Debug)]
pub struct Picture {
    /// From where it was taken.
    pub view: View,
    /// Colours, four bytes a pixel (red, green, blue, 255), row by row from the top.
    pub rgba: Vec<u8>,
    /// Depth (upper half) and number (lower half) of each pixel, at `1 / coarseness` of the size.
    pub(crate) words: Vec<u64>,
    /// Pixels of the picture per pixel of `words`, in each direction: 2 while moving, 1 when still.
    pub(crate) coarseness: u32,
    pub(crate) scale: DepthScale,
    /// First number of each object, and one more.
    pub(crate) starts: Vec<u32>,
}

impl Picture {
    /// A picture without anything.
    pub fn blank(view: View, sheet: Rgb) -> Self {
        let n = view.width as usize * view.height as usize;
        Self {
            view,
            rgba: [sheet[0], sheet[1], sheet[2], 255].repeat(n),
            words: vec![EMPTY; n],
            coarseness: 1,
            scale: DepthScale::over(0.0, 0.0),
            starts: vec![0],
        }
    }

    /// The colour of a pixel, `None` outside.
    pub fn colour(&self, x: u32, y: u32) -> Option<Rgb> {
        if x >= self.view.width || y >= self.view.height {
            return None;
        }
        let i = 4 * (y as usize * self.view.width as usize + x as usize);
        Some([self.rgba[i], self.rgba[i + 1], self.rgba[i + 2]])
    }

    /// What a pixel shows; `None` outside and where nothing is.
    pub fn hit(&self, x: u32, y: u32) -> Option<Hit> {
        let word = self.word(x, y)?;
        let number = word as u32;
        let object = self
            .starts
            .partition_point(|s| *s <= number)
            .checked_sub(1)?;
        let depth = self.scale.depth((word >> 32) as u32);
        let seen = Seen {
            x: f64::from(x) + 0.5,
            y: f64::from(y) + 0.5,
            depth,
        };
        Some(Hit {
            object,
            element: number - self.starts[object],
            depth,
            place: self.view.unproject(&seen),
        })
    }

    /// What is shown nearest to (`x`, `y`) within `radius_px`; of equally near pixels the front-most.
    pub fn hit_near(&self, x: f64, y: f64, radius_px: f64) -> Option<Hit> {
        if !(x.is_finite() && y.is_finite() && radius_px >= 0.0) {
            return None;
        }
        let r = radius_px.min(64.0);
        let span = |c: f64, n: u32| {
            let low = (c - r - 1.0).floor().max(0.0) as u32;
            let high = ((c + r + 1.0).ceil().max(0.0) as u32).min(n);
            low..high
        };
        let mut best: Option<(f64, u64, (u32, u32))> = None;
        for py in span(y, self.view.height) {
            for px in span(x, self.view.width) {
                let (dx, dy) = (f64::from(px) + 0.5 - x, f64::from(py) + 0.5 - y);
                let d2 = dx * dx + dy * dy;
                // The pixel the place lies in counts whatever the radius.
                if d2 > (r * r).max(0.5) {
                    continue;
                }
                if let Some(word) = self.word(px, py)
                    && best.is_none_or(|(b, w, _)| (d2, word) < (b, w))
                {
                    best = Some((d2, word, (px, py)));
                }
            }
        }
        best.and_then(|(_, _, (px, py))| self.hit(px, py))
    }

    /// Share of the pixels that show something, 0 to 1.
    pub fn filled(&self) -> f64 {
        let shown = self.words.iter().filter(|w| **w != EMPTY).count();
        shown as f64 / self.words.len().max(1) as f64
    }

    fn word(&self, x: u32, y: u32) -> Option<u64> {
        if x >= self.view.width || y >= self.view.height {
            return None;
        }
        let across = self.view.width.div_ceil(self.coarseness) as usize;
        let i = (y / self.coarseness) as usize * across + (x / self.coarseness) as usize;
        self.words.get(i).copied().filter(|w| *w != EMPTY)
    }
}
