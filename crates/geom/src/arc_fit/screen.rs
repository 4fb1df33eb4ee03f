//! A quick look whether points lie near one arc, before a whole chain is fitted to find out.

use nalgebra::{Matrix3, Point2, Vector2, Vector3};

/// The points of each piece of a chain with their share of its length, 0 to 1.
pub(super) struct Screen<'a> {
    pub(super) of: Vec<Vec<(f64, &'a Point2<f64>)>>,
}

impl Screen<'_> {
    /// Whether the points of piece `i` and those of the next lie within `limit` (mm) of one arc or line.
    pub(super) fn one_arc(&self, i: usize, from: f64, to: f64, limit: f64) -> bool {
        let next = (i + 1) % self.of.len();
        let points: Vec<_> = self.of[i]
            .iter()
            .filter(|(s, _)| *s >= from)
            .chain(self.of[next].iter().filter(|(s, _)| *s <= to))
            .map(|(_, p)| **p)
            .collect();
        off_one_arc(&points) <= limit
    }

    /// Whether half of piece `i` goes with the piece before it and half with the piece after it.
    pub(super) fn two_arcs(&self, i: usize, limit: f64) -> bool {
        let before = (i + self.of.len() - 1) % self.of.len();
        self.one_arc(before, 0.0, 0.35, limit) && self.one_arc(i, 0.65, 1.0, limit)
    }
}

/// Farthest distance of points from the least-squares arc over their chord: z = a + b x + c x^2 refined once by the
/// true circle, mm. Points that are too few say nothing against it.
fn off_one_arc(points: &[Point2<f64>]) -> f64 {
    let n = points.len();
    if n < 4 {
        return 0.0;
    }
    let chord = points[n - 1] - points[0];
    if chord.norm() < 1e-9 {
        return 0.0;
    }
    let middle = Point2::from(points.iter().map(|p| p.coords).sum::<Vector2<f64>>() / n as f64);
    // Algebraic circle A (x^2 + y^2) + B x + C y + 1 = 0 in centred, scaled coordinates is poor for flat arcs; the
    // form z = k (x^2 + z^2) / 2 + b x + a is good for both.
    let t = chord.normalize();
    let local: Vec<(f64, f64)> = points
        .iter()
        .map(|p| {
            let d = p - middle;
            (d.dot(&t), d.x * -t.y + d.y * t.x)
        })
        .collect();
    let mut m = Matrix3::zeros();
    let mut b = Vector3::zeros();
    for (x, z) in &local {
        let row = Vector3::new(1.0, *x, 0.5 * (x * x + z * z));
        m += row * row.transpose();
        b += row * *z;
    }
    let Some(c) = m.lu().solve(&b) else {
        return 0.0;
    };
    let k = c[2];
    local
        .iter()
        .map(|(x, z)| {
            // Distance to first order: the residual over the length of the gradient.
            let f = c[0] + c[1] * x + 0.5 * k * (x * x + z * z) - z;
            let g = Vector2::new(c[1] + k * x, k * z - 1.0).norm().max(0.05);
            (f / g).abs()
        })
        .fold(0.0, f64::max)
}
