//! Grows a face from a seed: the connected region of points that lie on one smooth surface and face one way.

use geom::{LocalAxes, Point, Unit, Vector, any_perpendicular};
use rayon::prelude::*;

use super::robust;
use super::surface::Surface;

/// How far a face reaches unless the job says otherwise, mm.
const REACH: f64 = 260.0;
/// Largest turn of the surface from the direction at the seed; its cosine.
const WIDEST: f64 = 0.90;
/// Points belong to the surface within this distance, mm, or this many scales.
const NEAR: f64 = 0.25;
const SCALES: f64 = 4.5;
/// Normals of cells agree with the surface at least so well.
const AGREE: f64 = 0.965;
/// While it grows, points about this far apart are looked at, mm; in the end all are.
const APART: f64 = 1.0;
/// So many points are looked at one after the other by one core.
const TOGETHER: usize = 1 << 12;
/// So many points are held until they are looked at.
const HELD: usize = 1 << 16;

/// A grown face, scan axes.
#[derive(Clone, Debug)]
pub struct GrownFace {
    /// Origin near the middle, u along its longer side, n out of the metal.
    pub axes: LocalAxes,
    /// Its points, a border of one cell left out.
    pub points: Vec<Point>,
    /// Extents along u and v, mm.
    pub size: [f64; 2],
    /// Share of the region within its outline that was seen, 0 to 1.
    pub seen: f64,
}

/// One cell of the working grid.
#[derive(Clone, Copy, Default)]
struct Cell {
    n: f64,
    h: f64,
    u: f64,
    v: f64,
    normal: Vector,
}

/// Why no face was found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoFace {
    /// No points near the pick.
    NoPoints,
    /// Points, but no smooth surface.
    NotSmooth,
}

/// One sweep over the points with the surface as it is known so far.
struct Sweep {
    cells: Vec<Cell>,
    inside: Vec<bool>,
    points: Vec<(usize, Point)>,
    columns: usize,
}

impl GrownFace {
    /// The part of it in a square of sides `2 half` (mm) along its own axes about a place.
    #[must_use]
    pub fn within(mut self, middle: &Point, half: f64) -> Self {
        let [u0, v0, _] = self.axes.local(middle);
        let axes = self.axes;
        self.points.retain(|p| {
            let [u, v, _] = axes.local(p);
            (u - u0).abs() <= half && (v - v0).abs() <= half
        });
        self.size = self.size.map(|s| s.min(2.0 * half));
        self
    }
}

/// The surface as it is known so far: a quadric over axes at the seed.
struct Model {
    axes: LocalAxes,
    terms: [f64; 6],
    scale: f64,
    radius: f64,
    cell: f64,
}

/// Where a face is grown, and how far.
#[derive(Clone, Copy, Debug)]
pub struct Seed<'a> {
    /// Where it begins.
    pub near: &'a Point,
    /// Tells front from back of thin metal.
    pub facing: Option<Vector>,
    /// Direction of u; without it, along the longer side of what is found.
    pub along: Option<Unit>,
    /// How far it goes from where it begins, mm; without it, as far as a face usually goes.
    pub reach_mm: Option<f64>,
}

/// Grows the face about a seed.
pub fn grow(surface: &Surface, from: &Seed<'_>) -> Result<GrownFace, NoFace> {
    let reach = from.reach_mm.unwrap_or(REACH);
    let cell = (1.9 * surface.spacing()).max(2.0);
    let mut axes = seed(surface, from.near, from.facing)?;
    if let Some(turned) = from
        .along
        .and_then(|u| LocalAxes::along(axes.origin, &u, axes.n).ok())
    {
        axes = turned;
    }
    let mut model = Model {
        axes,
        terms: [0.0; 6],
        scale: 0.05,
        radius: (6.0 * cell).max(14.0).min(reach),
        cell,
    };
    let mut last = None;
    for _ in 0..16 {
        let sweep = model.sweep(surface, APART);
        let moved = model.refit(&sweep)?;
        let wider = sweep.touches_border() && model.radius < reach;
        last = Some(sweep);
        if wider {
            model.radius = (model.radius * 1.6).min(reach);
        } else if moved < 0.02 {
            break;
        }
    }
    let all = if surface.every(APART) > 1 {
        model.sweep(surface, 0.0)
    } else {
        last.ok_or(NoFace::NotSmooth)?
    };
    model.finish(all, from.along)
}

impl Model {
    fn index(&self, u: f64) -> usize {
        ((u + self.radius) / self.cell) as usize
    }

    fn terms(u: f64, v: f64) -> [f64; 6] {
        [1.0, u, v, u * u, u * v, v * v]
    }

    fn height(&self, u: f64, v: f64) -> f64 {
        Self::terms(u, v)
            .iter()
            .zip(&self.terms)
            .map(|(a, b)| a * b)
            .sum()
    }

    fn normal(&self, u: f64, v: f64) -> Unit {
        let t = &self.terms;
        let (du, dv) = (
            t[1] + 2.0 * t[3] * u + t[4] * v,
            t[2] + t[4] * u + 2.0 * t[5] * v,
        );
        let a = &self.axes;
        Unit::new_normalize(a.n.into_inner() - a.u.into_inner() * du - a.v.into_inner() * dv)
    }

    /// The points near the model that are about `apart` mm from each other, by cells.
    fn sweep(&self, surface: &Surface, apart: f64) -> Sweep {
        let columns = (2.0 * self.radius / self.cell).ceil() as usize + 1;
        let tolerance = NEAR.max(SCALES * self.scale);
        let mut cells = vec![Cell::default(); columns * columns];
        let mut points = Vec::new();
        let near = |&(slot, p): &(u32, Point)| -> Option<(Point, [f64; 3], Vector)> {
            let [u, v, h] = self.axes.local(&p);
            if (h - self.height(u, v)).abs() > tolerance {
                return None;
            }
            let (n, normal) = (surface.normal(slot), self.normal(u, v));
            if surface.agreement(&n, &normal) < 0.7 {
                return None;
            }
            let n = if n.dot(&normal) < 0.0 { -n } else { n };
            Some((p, [u, v, h], n))
        };
        // Looked at on all cores, counted in the order of the scan.
        let mut count = |met: &mut Vec<(u32, Point)>| {
            let found: Vec<Vec<_>> = met
                .par_chunks(TOGETHER)
                .map(|some| some.iter().filter_map(near).collect())
                .collect();
            for (p, [u, v, h], normal) in found.into_iter().flatten() {
                let k = self.index(v) * columns + self.index(u);
                let c = &mut cells[k];
                c.n += 1.0;
                c.u += u;
                c.v += v;
                c.h += h;
                c.normal += normal;
                points.push((k, p));
            }
            met.clear();
        };
        let mut met = Vec::new();
        surface.some_in_ball(&self.axes.origin, self.radius, apart, |slot, p| {
            met.push((slot, p));
            if met.len() == HELD {
                count(&mut met);
            }
        });
        count(&mut met);
        for c in cells.iter_mut().filter(|c| c.n > 0.0) {
            c.u /= c.n;
            c.v /= c.n;
            c.h /= c.n;
        }
        let inside = self.flood(&cells, columns);
        Sweep {
            cells,
            inside,
            points,
            columns,
        }
    }

    /// Cells joined to the seed over edges whose mean normals agree with the surface.
    fn flood(&self, cells: &[Cell], columns: usize) -> Vec<bool> {
        let good: Vec<bool> = cells
            .iter()
            .map(|c| {
                let Some(mean) = Unit::try_new(c.normal, 1e-9) else {
                    return false;
                };
                // The mean of a few noisy normals scatters: fewer points, wider cone.
                let least = AGREE - 0.06 / c.n.sqrt();
                let normal = self.normal(c.u, c.v);
                mean.dot(&normal) > least && normal.dot(&self.axes.n) > WIDEST
            })
            .collect();
        let start = self.index(0.0);
        let mut inside = vec![false; cells.len()];
        let mut queue: Vec<usize> = Vec::new();
        for dj in 0..3 {
            for di in 0..3 {
                let k = (start + dj).saturating_sub(1) * columns + (start + di).saturating_sub(1);
                if k < good.len() && good[k] && !inside[k] {
                    inside[k] = true;
                    queue.push(k);
                }
            }
        }
        while let Some(k) = queue.pop() {
            let (i, j) = (k % columns, k / columns);
            for (a, b) in neighbours(i, j, columns) {
                let m = b * columns + a;
                if good[m] && !inside[m] {
                    inside[m] = true;
                    queue.push(m);
                }
            }
        }
        inside
    }

    /// Fits the surface anew; how far it moved within the region, mm.
    fn refit(&mut self, sweep: &Sweep) -> Result<f64, NoFace> {
        let (rows, values): (Vec<[f64; 6]>, Vec<f64>) = sweep
            .cells
            .iter()
            .zip(&sweep.inside)
            .filter(|(_, i)| **i)
            .map(|(c, _)| (Self::terms(c.u, c.v), c.h))
            .unzip();
        if rows.len() < 10 {
            return Err(NoFace::NotSmooth);
        }
        let (fitted, _) = robust::fit(&rows, &values, 0.01).ok_or(NoFace::NotSmooth)?;
        let moved = rows
            .iter()
            .map(|r| {
                r.iter()
                    .zip(fitted.iter().zip(&self.terms))
                    .map(|(t, (a, b))| t * (a - b))
                    .sum::<f64>()
                    .abs()
            })
            .fold(0.0, f64::max);
        self.terms = fitted;
        let mut residuals: Vec<f64> = sweep
            .points
            .iter()
            .filter(|(k, _)| sweep.inside[*k])
            .map(|(_, p)| {
                let [u, v, h] = self.axes.local(p);
                (h - self.height(u, v)).abs()
            })
            .collect();
        if residuals.is_empty() {
            return Err(NoFace::NotSmooth);
        }
        let k = residuals.len() / 2;
        let (_, m, _) = residuals.select_nth_unstable_by(k, f64::total_cmp);
        self.scale = (1.4826 * *m).clamp(0.01, 0.4);
        Ok(moved)
    }

    /// Leaves a border of one cell out and turns the axes along `along`, or else to the longer side.
    fn finish(&self, sweep: Sweep, along: Option<Unit>) -> Result<GrownFace, NoFace> {
        let columns = sweep.columns;
        let kept: Vec<bool> = (0..sweep.inside.len())
            .map(|k| {
                let (i, j) = (k % columns, k / columns);
                sweep.inside[k]
                    && neighbours(i, j, columns)
                        .filter(|(a, b)| sweep.inside[b * columns + a])
                        .count()
                        >= 7
            })
            .collect();
        let points: Vec<Point> = sweep
            .points
            .into_iter()
            .filter(|(k, _)| kept[*k])
            .map(|(_, p)| p)
            .collect();
        if points.len() < 12 {
            return Err(NoFace::NotSmooth);
        }
        let seen = seen_share(&sweep.inside, columns);
        let (axes, size) = level_axes(&self.axes, &points, along);
        Ok(GrownFace {
            axes,
            points,
            size,
            seen,
        })
    }
}

impl Sweep {
    fn touches_border(&self) -> bool {
        let c = self.columns;
        let middle = c as f64 / 2.0;
        self.inside.iter().enumerate().any(|(k, i)| {
            let (x, y) = ((k % c) as f64 + 0.5 - middle, (k / c) as f64 + 0.5 - middle);
            *i && x.hypot(y) > middle - 2.5
        })
    }
}

fn neighbours(i: usize, j: usize, columns: usize) -> impl Iterator<Item = (usize, usize)> {
    let (i0, j0) = (i.saturating_sub(1), j.saturating_sub(1));
    let (i1, j1) = ((i + 1).min(columns - 1), (j + 1).min(columns - 1));
    (j0..=j1)
        .flat_map(move |b| (i0..=i1).map(move |a| (a, b)))
        .filter(move |p| *p != (i, j))
}

/// Share of the cells between the first and last of each row that belong to the region.
fn seen_share(inside: &[bool], columns: usize) -> f64 {
    let (mut all, mut within) = (0usize, 0usize);
    for row in inside.chunks(columns) {
        let first = row.iter().position(|x| *x);
        let last = row.iter().rposition(|x| *x);
        if let (Some(a), Some(b)) = (first, last) {
            all += b - a + 1;
            within += row[a..=b].iter().filter(|x| **x).count();
        }
    }
    within as f64 / all.max(1) as f64
}

/// Axes with the same normal side, the origin in the middle of the points and u along `along`, or else along their
/// longer side; and the extents along u and v.
fn level_axes(axes: &LocalAxes, points: &[Point], along: Option<Unit>) -> (LocalAxes, [f64; 2]) {
    let middle = Point::from(points.iter().map(|p| p.coords).sum::<Vector>() / points.len() as f64);
    let mut m = nalgebra::Matrix3::zeros();
    for p in points {
        let d = p - middle;
        m += d * d.transpose();
    }
    let eigen = nalgebra::SymmetricEigen::new(m);
    let n: Vector = eigen
        .eigenvectors
        .column(eigen.eigenvalues.imin())
        .into_owned();
    let n = Unit::new_normalize(if n.dot(&axes.n) < 0.0 { -n } else { n });
    let long: Vector = along.map_or_else(
        || {
            let widest = eigen.eigenvalues.imax();
            eigen.eigenvectors.column(widest).into_owned()
        },
        Unit::into_inner,
    );
    let u = Unit::try_new(long - n.into_inner() * n.dot(&long), 1e-9)
        .unwrap_or_else(|| any_perpendicular(&n));
    let v = Unit::new_normalize(n.cross(&u));
    let turned = LocalAxes {
        origin: middle,
        u,
        v,
        n,
    };
    let mut b = geom::Aabb::empty();
    for p in points {
        b.add(&Point::from(turned.local(p)));
    }
    let size = b.size();
    (turned, [size.x, size.y])
}

/// Axes at the seed: the plane of the bundle of points that face as wanted.
pub(super) fn seed(
    surface: &Surface,
    near: &Point,
    facing: Option<Vector>,
) -> Result<LocalAxes, NoFace> {
    let mut radius = (4.0 * surface.spacing()).max(7.0);
    for _ in 0..3 {
        let mut points = Vec::new();
        surface.in_ball(near, radius, |slot, p| {
            points.push((p, surface.normal(slot)));
        });
        let wanted =
            |n: &Vector| facing.is_none_or(|f| !surface.oriented || n.dot(&f) > 0.3 * f.norm());
        points.retain(|(_, n)| wanted(n));
        if points.len() < 10 {
            radius *= 1.6;
            continue;
        }
        // The direction most points agree with.
        let stride = points.len().div_ceil(120);
        let best = points
            .iter()
            .step_by(stride)
            .map(|(_, n)| {
                (
                    points
                        .iter()
                        .filter(|(_, m)| agree(surface, n, m) > 0.94)
                        .count(),
                    *n,
                )
            })
            .max_by_key(|(c, _)| *c);
        let Some((_, n)) = best else { continue };
        let n = match facing {
            Some(f) if n.dot(&f) < 0.0 => -n,
            _ => n,
        };
        points.retain(|(_, m)| agree(surface, &n, m) > 0.94);
        let (mut middle, mut mean) = (Vector::zeros(), Vector::zeros());
        for (p, m) in &points {
            middle += p.coords;
            mean += m * m.dot(&n).signum();
        }
        let n = Unit::try_new(mean, 1e-9).ok_or(NoFace::NotSmooth)?;
        let middle = Point::from(middle / points.len() as f64);
        let u = any_perpendicular(&n);
        return Ok(LocalAxes {
            origin: near + n.into_inner() * (middle - near).dot(&n),
            u,
            v: Unit::new_normalize(n.cross(&u)),
            n,
        });
    }
    Err(NoFace::NoPoints)
}

fn agree(surface: &Surface, a: &Vector, b: &Vector) -> f64 {
    let c = a.dot(b);
    if surface.oriented { c } else { c.abs() }
}
