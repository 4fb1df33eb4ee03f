//! Triangles drawn into a raster.

use geom::Vector;

use crate::Scene;
use crate::raster::{Placed, Raster};
use crate::scene::{Mesh, Object, Shape};

/// Triangles handled in one go.
pub(crate) const RUN: usize = 1024;

/// A run of triangles of one object.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Run {
    pub object: u32,
    pub first: u32,
    pub end: u32,
}

/// All runs of a scene.
pub(crate) fn runs(scene: &Scene, starts: &[u32]) -> Vec<Run> {
    let mut list = Vec::new();
    for (o, object) in scene.objects.iter().enumerate() {
        if !matches!(object.shape, Shape::Mesh(_)) {
            continue;
        }
        let count = (starts[o + 1] - starts[o]) as usize;
        list.extend((0..count).step_by(RUN).map(|first| Run {
            object: o as u32,
            first: first as u32,
            end: (first + RUN).min(count) as u32,
        }));
    }
    list
}

/// Corners of a triangle in view axes; `None` if one does not exist or is not finite.
pub(crate) fn corners_of(mesh: &Mesh, placed: &Placed, i: u32) -> Option<[Vector; 3]> {
    let t = mesh.triangles.get(i as usize)?;
    let mut out = [Vector::zeros(); 3];
    for (o, v) in out.iter_mut().zip(t) {
        *o = placed.place(mesh.vertices.get(*v as usize)?);
        if !o.iter().all(|x| x.is_finite()) {
            return None;
        }
    }
    Some(out)
}

/// The unit normal of a triangle in view axes, towards its facing side; `None` if it has no area.
pub(crate) fn normal_of(placed: &Placed, c: &[Vector; 3]) -> Option<Vector> {
    let n = (c[1] - c[0]).cross(&(c[2] - c[0]));
    // A mirror turns the order of the corners round.
    (if placed.flips { -n } else { n }).try_normalize(0.0)
}

/// Draws a run.
pub(crate) fn draw(
    raster: &Raster,
    object: &Object,
    mesh: &Mesh,
    placed: &Placed,
    start: u32,
    run: &Run,
) {
    for i in run.first..run.end {
        let Some(c) = corners_of(mesh, placed, i) else {
            continue;
        };
        let number = start + i;
        let near = c.iter().filter(|v| -v.z >= raster.nearest()).count();
        match near {
            0 => {}
            3 => fill(raster, object, placed, &c, number),
            _ => {
                let cut = before_eye(raster, &c);
                for k in 2..cut.len() {
                    fill(
                        raster,
                        object,
                        placed,
                        &[cut[0], cut[k - 1], cut[k]],
                        number,
                    );
                }
            }
        }
    }
}

/// The part of a triangle before the eye: three or four corners. I. E. Sutherland and G. W. Hodgman, "Reentrant
/// polygon clipping", Comm. ACM 17 (1974), for one plane.
fn before_eye(raster: &Raster, c: &[Vector; 3]) -> Vec<Vector> {
    let limit = raster.nearest();
    let mut out = Vec::with_capacity(4);
    for k in 0..3 {
        let (a, b) = (c[k], c[(k + 1) % 3]);
        let (da, db) = (-a.z - limit, -b.z - limit);
        if da >= 0.0 {
            out.push(a);
        }
        if (da >= 0.0) != (db >= 0.0) {
            let mut cut = a + (b - a) * (da / (da - db));
            cut.z = -limit;
            out.push(cut);
        }
    }
    out
}

/// Fills the pixels whose middle lies in a triangle; a middle on a side shared by two belongs to one of them at least.
fn fill(raster: &Raster, object: &Object, placed: &Placed, c: &[Vector; 3], number: u32) {
    let p = [0, 1, 2].map(|k| raster.pixel(&c[k]));
    let area = (p[1].0 - p[0].0) * (p[2].1 - p[0].1) - (p[2].0 - p[0].0) * (p[1].1 - p[0].1);
    if area == 0.0 || !area.is_finite() {
        return;
    }
    // Depth is even across the picture for parallel sight; in perspective its inverse from the eye is.
    let even = |k: usize| match raster.eye {
        None => -c[k].z,
        Some((mm, _)) => 1.0 / (mm - c[k].z),
    };
    let z = [even(0), even(1), even(2)];
    let low = |f: fn(&(f64, f64)) -> f64| p.iter().map(f).fold(f64::INFINITY, f64::min);
    let high = |f: fn(&(f64, f64)) -> f64| p.iter().map(f).fold(f64::NEG_INFINITY, f64::max);
    let span = |low: f64, high: f64, n: u32| {
        let first = (low - 0.5).ceil().max(0.0) as u32;
        let end = (((high - 0.5).floor() + 1.0).max(0.0) as u32).min(n);
        first..end
    };
    let columns = span(low(|p| p.0), high(|p| p.0), raster.width);
    let rows = span(low(|p| p.1), high(|p| p.1), raster.height);
    if columns.is_empty() {
        return;
    }
    // Weight of corner k at (x, y): along * x + down * y + at.
    let weights = [0, 1, 2].map(|k| {
        let (a, b) = (p[(k + 1) % 3], p[(k + 2) % 3]);
        let along = (a.1 - b.1) / area;
        let down = (b.0 - a.0) / area;
        (along, down, -(along * a.0 + down * a.1))
    });
    let clipped = !object.clips.is_empty();
    for row in rows {
        let y = f64::from(row) + 0.5;
        let first = row as usize * raster.width as usize;
        let at = weights.map(|w| w.1 * y + w.2);
        for column in columns.clone() {
            let x = f64::from(column) + 0.5;
            let w = [0, 1, 2].map(|k| weights[k].0 * x + at[k]);
            if w.iter().any(|w| *w < -1e-12) {
                continue;
            }
            let value = w[0] * z[0] + w[1] * z[1] + w[2] * z[2];
            let depth = match raster.eye {
                None => value,
                Some((mm, _)) => 1.0 / value - mm,
            };
            if clipped && !object.shows(&placed.back(&raster.unpixel(x, y, depth))) {
                continue;
            }
            let word = u64::from(raster.scale.number(depth)) << 32 | u64::from(number);
            raster.put(first + column as usize, word);
        }
    }
}

/// The step of a triangle's bands at a place in view axes.
pub(crate) fn step_at(mesh: &Mesh, c: &[Vector; 3], i: u32, at: &Vector) -> i8 {
    let (Some(bands), Some(t)) = (&mesh.paint.bands, mesh.triangles.get(i as usize)) else {
        return 0;
    };
    let steps = t.map(|v| bands.step(v));
    if steps[0] == steps[1] && steps[1] == steps[2] {
        return steps[0];
    }
    let n = (c[1] - c[0]).cross(&(c[2] - c[0]));
    let n2 = n.norm_squared();
    if n2 <= 0.0 {
        return steps[0];
    }
    let weight = |a: &Vector, b: &Vector| (b - a).cross(&(at - a)).dot(&n) / n2;
    let w = [
        weight(&c[1], &c[2]),
        weight(&c[2], &c[0]),
        weight(&c[0], &c[1]),
    ];
    let value: f64 = (0..3).map(|k| w[k] * f64::from(steps[k])).sum();
    value.round().clamp(-128.0, 127.0) as i8
}
