//! Marks of constant size.

use crate::overlay::{Ink, Rows};
use crate::scene::MarkForm;

/// Thickness of rings and crosses, pixels.
const THICK: f64 = 1.5;

/// A mark as seen.
pub(crate) struct MarkStroke {
    pub ink: Ink,
    pub form: MarkForm,
    pub radius_px: f64,
    /// Pixels of the picture.
    pub at: (f64, f64),
    pub depth: f64,
}

impl MarkStroke {
    /// Draws the part in a band of rows. The mark is hidden as a whole, by what lies before its middle.
    pub fn draw(&self, rows: &mut Rows) {
        let reach = 1.8 * self.radius_px + 2.0;
        let (x, y) = self.at;
        let count = rows.rows();
        let span = |low: f64, high: f64, n: usize| {
            low.floor().max(0.0) as usize..(high.ceil().max(0.0) as usize).min(n)
        };
        let first = rows.first as f64;
        let band = span(y - reach - first, y + reach - first, count);
        if band.is_empty() || !(x + reach > 0.0 && x - reach < rows.width as f64) {
            return;
        }
        let inside = x >= 0.0 && y >= 0.0 && x < rows.width as f64;
        let before = if inside {
            rows.depth(x as usize, y as usize)
        } else {
            None
        };
        let share = self.ink.share(before, self.depth);
        if share <= 0.0 {
            return;
        }
        for r in band {
            let row = rows.first + r;
            for column in span(x - reach, x + reach, rows.width) {
                let off = self.outside(column as f64 + 0.5 - x, row as f64 + 0.5 - y);
                let cover = (0.5 - off).clamp(0.0, 1.0) as f32;
                if cover > 0.0 {
                    rows.blend(column, row, self.ink.colour, share * cover);
                }
            }
        }
    }

    /// Distance outside the form, pixels; negative inside.
    fn outside(&self, dx: f64, dy: f64) -> f64 {
        let r = self.radius_px;
        match self.form {
            MarkForm::Disc => dx.hypot(dy) - r,
            MarkForm::Ring => (dx.hypot(dy) - r + 0.5 * THICK).abs() - 0.5 * THICK,
            MarkForm::Square => dx.abs().max(dy.abs()) - 0.5 * std::f64::consts::PI.sqrt() * r,
            MarkForm::Triangle => {
                // An equilateral triangle of area pi r2 has an inner circle of radius r sqrt(pi / (3 sqrt 3)).
                let inner = r * (std::f64::consts::PI / (3.0 * 3.0_f64.sqrt())).sqrt();
                let side = 0.5 * 3.0_f64.sqrt() * dx.abs() - 0.5 * dy;
                side.max(dy) - inner
            }
            MarkForm::Cross => {
                let bar = |a: f64, b: f64| (a.abs() - r).max(b.abs() - 0.5 * THICK);
                bar(dx, dy).min(bar(dy, dx))
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scene::Behind;

    /// Area of a form by counting fine squares.
    fn area(form: MarkForm) -> f64 {
        let mark = MarkStroke {
            ink: Ink {
                colour: [0; 3],
                strength: 1.0,
                behind: Behind::Shown,
                lift_mm: 0.0,
            },
            form,
            radius_px: 10.0,
            at: (0.0, 0.0),
            depth: 0.0,
        };
        let step = 0.05;
        let n = (-400..400)
            .flat_map(|i| (-400..400).map(move |j| (i, j)))
            .filter(|(i, j)| mark.outside(f64::from(*i) * step, f64::from(*j) * step) <= 0.0)
            .count();
        n as f64 * step * step
    }

    #[test]
    fn forms_are_of_equal_area() {
        let disc = std::f64::consts::PI * 100.0;
        for form in [MarkForm::Disc, MarkForm::Square, MarkForm::Triangle] {
            assert!((area(form) / disc - 1.0).abs() < 0.01, "{form:?}");
        }
        let ring = std::f64::consts::PI * (100.0 - 8.5 * 8.5);
        assert!((area(MarkForm::Ring) / ring - 1.0).abs() < 0.02);
    }
}
