//! Lines in which two large smooth faces meet.

use std::collections::BTreeMap;

use geom::{Blocks, Point, RawPoints, Vector};
use nalgebra::Matrix3;

use super::skin::Skin;

/// Faces are looked at on a grid of about so many mm.
const GRID: f64 = 5.0;
/// A face goes on where the normal turns less than so many degrees from one grid place to the next.
const SMOOTH_DEG: f64 = 8.0;
/// Faces that meet are seen within so many mm of each other.
const GAP: f64 = 16.0;
/// Least length of a junction, mm.
const LENGTH: f64 = 80.0;
/// How far from the line, mm, there must be face along most of it.
const WIDE: (f64, f64) = (16.0, 26.0);

/// Two faces that meet in a line.
#[derive(Clone, Debug)]
pub(super) struct Line {
    pub ends: [Point; 2],
    /// A place on each face with the side it faces; the larger face first.
    pub faces: [(Point, Vector); 2],
    /// Angle between the normals, degrees.
    pub turn_deg: f64,
}

struct Grid {
    points: Vec<Point>,
    normals: Vec<Vector>,
    blocks: Blocks,
    step: f64,
}

/// All junctions of faces that hold one of `panels` with others, longest first: what stands beside the car has its own
/// lines, which are none of ours.
pub(super) fn junctions(skin: &Skin, panels: &[Point]) -> Vec<Line> {
    let grid = Grid::of(skin);
    let (face_of, sizes) = grid.faces();
    // Places of one face that have the other within reach, by pair of faces.
    let mut meeting: BTreeMap<(u32, u32), Vec<Point>> = BTreeMap::new();
    for i in 0..grid.points.len() {
        let a = face_of[i];
        if sizes[a as usize] < 40 {
            continue;
        }
        let mut nearest: BTreeMap<u32, (f64, u32)> = BTreeMap::new();
        grid.blocks
            .in_ball(&grid.points[i], GAP.max(2.5 * grid.step), |s, _, d2| {
                let j = grid.blocks.indices()[s as usize];
                let b = face_of[j as usize];
                if b > a && sizes[b as usize] >= 40 {
                    let e = nearest.entry(b).or_insert((f64::INFINITY, j));
                    if (d2, j) < *e {
                        *e = (d2, j);
                    }
                }
            });
        for (b, (_, j)) in nearest {
            let (p, q) = (grid.points[i], grid.points[j as usize]);
            let (n, m) = (grid.normals[i], grid.normals[j as usize]);
            // Front and back of thin metal lie side by side but do not meet.
            if n.angle(&m).to_degrees() < 155.0 {
                meeting
                    .entry((a, b))
                    .or_default()
                    .push(crease(&p, &n, &q, &m));
            }
        }
    }
    let ours: Vec<u32> = panels
        .iter()
        .filter_map(|p| grid.blocks.nearest(p, 3.0 * grid.step))
        .map(|f| face_of[grid.blocks.indices()[f.0 as usize] as usize])
        .collect();
    let mut out: Vec<Line> = meeting
        .iter()
        .filter(|(k, _)| ours.contains(&k.0) || ours.contains(&k.1))
        .filter_map(|(&(a, b), places)| {
            let (a, b) = if sizes[b as usize] > sizes[a as usize] {
                (b, a)
            } else {
                (a, b)
            };
            line(&grid, &face_of, a, b, places)
        })
        .collect();
    out.sort_by(|a, b| {
        (b.ends[1] - b.ends[0])
            .norm()
            .total_cmp(&(a.ends[1] - a.ends[0]).norm())
    });
    out
}

/// The place between two tangent planes that is nearest to the middle of their points.
fn crease(p: &Point, n: &Vector, q: &Point, m: &Vector) -> Point {
    let middle = nalgebra::center(p, q);
    let c = n.dot(m);
    let det = 1.0 - c * c;
    if det < 0.03 {
        return middle;
    }
    let (dn, dm) = (n.dot(&(p - middle)), m.dot(&(q - middle)));
    let (x, y) = ((dn - c * dm) / det, (dm - c * dn) / det);
    middle + n * x + m * y
}

impl Grid {
    fn of(skin: &Skin) -> Self {
        let step = GRID.max(skin.step);
        let low = skin.blocks.bounds().low;
        let mut cells: BTreeMap<([i64; 3], u8), (Vector, Vector, f64)> = BTreeMap::new();
        for (s, p) in skin.blocks.iter() {
            if let Some(n) = skin.blocks.normal(s) {
                let c = ((p - low) / step).map(|x| x as i64);
                let a = n.iamax();
                let lean = (2 * a + usize::from(n[a] < 0.0)) as u8;
                let e = cells.entry((c.into(), lean)).or_insert((
                    Vector::zeros(),
                    Vector::zeros(),
                    0.0,
                ));
                e.0 += p - low;
                e.1 += n;
                e.2 += 1.0;
            }
        }
        let (points, normals): (Vec<Point>, Vec<Vector>) = cells
            .values()
            .filter_map(|(p, n, w)| Some((low + p / *w, n.try_normalize(1e-9)?)))
            .unzip();
        let raw = RawPoints::F64(points.iter().map(|p| [p.x, p.y, p.z]).collect());
        let blocks = Blocks::build(raw, 1.0, Vec::new(), Vec::new(), &|| true).unwrap_or_default();
        Self {
            points,
            normals,
            blocks,
            step,
        }
    }

    /// The face each place belongs to, and how many places each face has.
    fn faces(&self) -> (Vec<u32>, Vec<usize>) {
        let mut face_of = vec![u32::MAX; self.points.len()];
        let mut sizes = Vec::new();
        let least = SMOOTH_DEG.to_radians().cos();
        let mut heap = Vec::new();
        for seed in 0..self.points.len() {
            if face_of[seed] != u32::MAX {
                continue;
            }
            let face = sizes.len() as u32;
            sizes.push(0);
            heap.push(seed);
            face_of[seed] = face;
            while let Some(i) = heap.pop() {
                sizes[face as usize] += 1;
                self.blocks
                    .in_ball(&self.points[i], 1.8 * self.step, |s, p, _| {
                        let j = self.blocks.indices()[s as usize] as usize;
                        // Beside, not above: the next sheet is no continuation.
                        let above = self.normals[i].dot(&(p - self.points[i])).abs();
                        if face_of[j] == u32::MAX
                            && self.normals[i].dot(&self.normals[j]) > least
                            && above < 0.25 * self.step
                        {
                            face_of[j] = face;
                            heap.push(j);
                        }
                    });
            }
        }
        (face_of, sizes)
    }
}

fn line(grid: &Grid, face_of: &[u32], a: u32, b: u32, places: &[Point]) -> Option<Line> {
    let (mid, along) = straight(places)?;
    let mut s: Vec<f64> = places
        .iter()
        .filter(|p| off(p, &mid, &along) < 4.0)
        .map(|p| (p - mid).dot(&along))
        .collect();
    s.sort_by(f64::total_cmp);
    let (low, high) = (*s.first()?, *s.last()?);
    if high - low < LENGTH || (s.len() as f64) < 0.5 * (high - low) / grid.step {
        return None;
    }
    let ends = [mid + along * low, mid + along * high];
    let middle = nalgebra::center(&ends[0], &ends[1]);
    let face = |f: u32| -> Option<(Point, Vector)> {
        let beside: Vec<usize> = (0..grid.points.len())
            .filter(|&i| {
                let t = (grid.points[i] - mid).dot(&along);
                let d = off(&grid.points[i], &mid, &along);
                face_of[i] == f && t >= low && t <= high && d >= WIDE.0 && d <= WIDE.1
            })
            .collect();
        let mut eighths = [false; 8];
        for &i in &beside {
            let share = ((grid.points[i] - mid).dot(&along) - low) / (high - low);
            eighths[((share * 8.0) as usize).min(7)] = true;
        }
        if eighths.iter().filter(|e| **e).count() < 6 {
            return None;
        }
        let best = beside.into_iter().min_by(|&i, &j| {
            let t = |k: usize| (grid.points[k] - middle).dot(&along).abs();
            t(i).total_cmp(&t(j)).then(i.cmp(&j))
        })?;
        Some((grid.points[best], grid.normals[best]))
    };
    let faces = [face(a)?, face(b)?];
    let turn_deg = faces[0].1.angle(&faces[1].1).to_degrees();
    (turn_deg > 25.0 && turn_deg < 150.0).then_some(Line {
        ends,
        faces,
        turn_deg,
    })
}

fn off(p: &Point, mid: &Point, along: &Vector) -> f64 {
    let d = p - mid;
    (d - along * d.dot(along)).norm()
}

/// A straight line along places, if most lie on one: fitted three times, each time to those near the last.
fn straight(places: &[Point]) -> Option<(Point, Vector)> {
    let mut near: Vec<Point> = places.to_vec();
    let mut out = None;
    for limit in [f64::INFINITY, 12.0, 6.0] {
        if let Some((mid, along)) = out {
            near = places
                .iter()
                .copied()
                .filter(|p| off(p, &mid, &along) < limit)
                .collect();
        }
        if near.len() < 10 {
            return None;
        }
        let mid = Point::from(near.iter().map(|p| p.coords).sum::<Vector>() / near.len() as f64);
        let m: Matrix3<f64> = near.iter().map(|p| (p - mid) * (p - mid).transpose()).sum();
        let e = m.symmetric_eigen();
        out = Some((
            mid,
            e.eigenvectors.column(e.eigenvalues.imax()).into_owned(),
        ));
    }
    let (mid, along) = out?;
    let on = places.iter().filter(|p| off(p, &mid, &along) < 4.0).count();
    (on as f64 > 0.7 * places.len() as f64).then_some((mid, along))
}
