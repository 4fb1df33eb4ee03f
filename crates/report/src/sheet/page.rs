//! How part axes are laid on a page.

use geom::{Point, Vector};

/// Part axes (mm, +X right, +Y up, seen from outside) laid on a page in pixels (y down). Both pages share one scale.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PageView {
    /// The point of the part, mm, that stands in the middle of the page.
    pub centre_mm: [f64; 2],
    /// The middle of the page.
    pub middle: [f64; 2],
    /// Pixels per mm.
    pub scale: f64,
    /// Upper left corner and size of the page.
    pub page: [[f64; 2]; 2],
}

impl PageView {
    /// Where a point of the part stands.
    pub fn at(&self, p: &Point) -> [f64; 2] {
        [
            self.middle[0] + (p.x - self.centre_mm[0]) * self.scale,
            self.middle[1] - (p.y - self.centre_mm[1]) * self.scale,
        ]
    }

    /// A direction of the part on the page, length 1 (0 where it points at the reader).
    pub(super) fn towards(v: &Vector) -> [f64; 2] {
        let flat = v.xy();
        let length = flat.norm();
        if length < 1e-9 {
            [0.0, 0.0]
        } else {
            [flat.x / length, -flat.y / length]
        }
    }

    /// Lays the box of `points` into the page with `border` pixels around; `None` where there is nothing to show.
    pub(super) fn fitted(points: &[Point], page: [[f64; 2]; 2], border: [f64; 2]) -> Option<Self> {
        let mut low = [f64::INFINITY; 2];
        let mut high = [f64::NEG_INFINITY; 2];
        for p in points {
            for (k, v) in [p.x, p.y].into_iter().enumerate() {
                low[k] = low[k].min(v);
                high[k] = high[k].max(v);
            }
        }
        let spans = [high[0] - low[0], high[1] - low[1]];
        let area = [page[1][0] - 2.0 * border[0], page[1][1] - 2.0 * border[1]];
        let usable = spans.iter().all(|s| s.is_finite())
            && spans[0].max(spans[1]) > 0.0
            && area.iter().all(|a| *a > 0.0);
        let scale = (area[0] / spans[0].max(1e-9)).min(area[1] / spans[1].max(1e-9));
        usable.then(|| Self {
            centre_mm: [
                f64::midpoint(low[0], high[0]),
                f64::midpoint(low[1], high[1]),
            ],
            middle: [page[0][0] + page[1][0] / 2.0, page[0][1] + page[1][1] / 2.0],
            scale,
            page,
        })
    }
}
