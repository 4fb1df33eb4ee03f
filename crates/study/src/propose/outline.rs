//! Closed lines in which the metal of a scan ends.

use geom::{Blocks, Point, RawPoints, Vector};
use rayon::prelude::*;
use record::Prepared;

use super::skin::Skin;

/// A cloud ends where neighbours leave an angle of so many degrees free.
const FREE_DEG: f64 = 118.0;
/// Points of a cloud are neighbours within so many steps.
const REACH_STEPS: f64 = 2.7;
/// So many candidates for the next point are kept.
const CANDIDATES: usize = 8;
/// The next point of an outline lies within so many steps, and ahead by at least this cosine.
const TIERS: [(f64, f64); 4] = [(1.7, 0.4), (2.7, 0.3), (4.5, 0.6), (8.0, 0.8)];

/// A closed line along which the metal ends; the metal is on the left seen from the facing side.
#[derive(Clone, Debug)]
pub(super) struct Outline {
    pub points: Vec<Point>,
    /// Unit normals of the metal.
    pub normals: Vec<Vector>,
    pub length: f64,
}

impl Outline {
    fn new(points: Vec<Point>, normals: Vec<Vector>) -> Self {
        let n = points.len();
        let length = (0..n)
            .map(|i| (points[(i + 1) % n] - points[i]).norm())
            .sum();
        Self {
            points,
            normals,
            length,
        }
    }

    /// `count` places evenly spaced along it, with the normal of the nearest of its points before.
    pub fn resampled(&self, count: usize) -> Self {
        let n = self.points.len();
        let mut out = (Vec::with_capacity(count), Vec::with_capacity(count));
        let (mut i, mut before) = (0, 0.0);
        for k in 0..count {
            let wanted = self.length * k as f64 / count as f64;
            let mut piece = (self.points[(i + 1) % n] - self.points[i % n]).norm();
            while before + piece < wanted && i + 1 < n {
                before += piece;
                i += 1;
                piece = (self.points[(i + 1) % n] - self.points[i % n]).norm();
            }
            let share = if piece > 0.0 {
                ((wanted - before) / piece).clamp(0.0, 1.0)
            } else {
                0.0
            };
            out.0
                .push(self.points[i] + (self.points[(i + 1) % n] - self.points[i]) * share);
            out.1.push(self.normals[i]);
        }
        Self::new(out.0, out.1)
    }

    /// The mean of its points, which should be evenly spaced.
    pub fn centre(&self) -> Point {
        Point::from(self.points.iter().map(|p| p.coords).sum::<Vector>() / self.points.len() as f64)
    }
}

/// All closed outlines between `least` and `most` mm long: boundary loops of a mesh, found in the skin for a cloud.
pub(super) fn outlines(scan: &Prepared, skin: &Skin, least: f64, most: f64) -> Vec<Outline> {
    let all = if scan.triangles.is_empty() {
        of_cloud(skin)
    } else {
        of_mesh(scan)
    };
    all.into_iter()
        .filter(|o| o.points.len() >= 5 && o.length >= least && o.length <= most)
        .collect()
}

fn of_mesh(scan: &Prepared) -> Vec<Outline> {
    scan.loops
        .par_iter()
        .filter(|l| l.closed)
        .map(|l| {
            let (points, normals) = l
                .slots
                .iter()
                .filter_map(|&s| Some((scan.blocks.point(s), scan.blocks.normal(s)?)))
                .unzip();
            Outline::new(points, normals)
        })
        .collect()
}

/// A point of the skin at which it ends: where, its normal, and which way the outline runs there.
#[derive(Clone, Copy)]
struct End {
    p: Point,
    n: Vector,
    along: Vector,
}

fn of_cloud(skin: &Skin) -> Vec<Outline> {
    let slots: Vec<u32> = (0..skin.blocks.len() as u32).collect();
    let ends: Vec<End> = slots
        .par_iter()
        .map_init(Vec::new, |room, &s| end_at(skin, s, room))
        .flatten_iter()
        .collect();
    let raw = RawPoints::F64(ends.iter().map(|e| [e.p.x, e.p.y, e.p.z]).collect());
    let places = Blocks::build(raw, 1.0, Vec::new(), Vec::new(), &|| true).unwrap_or_default();
    let candidates: Vec<Vec<usize>> = ends
        .par_iter()
        .enumerate()
        .map(|(i, e)| following(&ends, &places, i, e, skin.step))
        .collect();
    let next = lead_on(&candidates);
    cycles(&next)
        .into_iter()
        .map(|c| {
            Outline::new(
                c.iter().map(|&i| ends[i].p).collect(),
                c.iter().map(|&i| ends[i].n).collect(),
            )
        })
        .collect()
}

/// Whether neighbours in the tangent plane leave a wide angle free, and which way the outline runs then.
fn end_at(skin: &Skin, slot: u32, room: &mut Vec<(f64, u32)>) -> Option<End> {
    let p = skin.blocks.point(slot);
    let n = skin.blocks.normal(slot)?;
    skin.blocks.k_nearest(&p, 28, REACH_STEPS * skin.step, room);
    let u = geom::any_perpendicular(&nalgebra::Unit::new_unchecked(n)).into_inner();
    let v = n.cross(&u);
    let mut angles: Vec<f64> = room
        .iter()
        .filter(|f| f.1 != slot && skin.blocks.normal(f.1).is_some_and(|m| m.dot(&n) > 0.2))
        .map(|f| skin.blocks.point(f.1) - p)
        .filter(|d| d.norm_squared() > 0.0)
        .map(|d| d.dot(&v).atan2(d.dot(&u)))
        .collect();
    if angles.len() < 3 {
        return None;
    }
    angles.sort_by(f64::total_cmp);
    let mut widest = (
        angles[0] + std::f64::consts::TAU - angles[angles.len() - 1],
        angles[angles.len() - 1],
    );
    for w in angles.windows(2) {
        if w[1] - w[0] > widest.0 {
            widest = (w[1] - w[0], w[0]);
        }
    }
    if widest.0 < FREE_DEG.to_radians() {
        return None;
    }
    let middle = widest.1 + widest.0 / 2.0;
    let into_void = u * middle.cos() + v * middle.sin();
    Some(End {
        p,
        n,
        along: n.cross(&into_void),
    })
}

/// Ends that may come next along the outline, best first: near ones, and far ones only straight ahead, over a gap in
/// the scan.
fn following(ends: &[End], places: &Blocks, i: usize, e: &End, step: f64) -> Vec<usize> {
    let mut found: Vec<(usize, f64, usize)> = Vec::new();
    let far = TIERS[TIERS.len() - 1].0 * step;
    places.in_ball(&e.p, far, |s, p, d2| {
        let j = places.indices()[s as usize] as usize;
        let d = d2.sqrt();
        if j == i || d <= 0.0 {
            return;
        }
        let forward = (p - e.p).dot(&e.along) / d;
        let f = &ends[j];
        if f.n.dot(&e.n) < 0.2 || f.along.dot(&e.along) < -0.2 {
            return;
        }
        if let Some(tier) = TIERS.iter().position(|t| d <= t.0 * step && forward >= t.1) {
            found.push((tier, d * (1.0 + 2.5 * (1.0 - forward)), j));
        }
    });
    found.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)).then(a.2.cmp(&b.2)));
    found.truncate(CANDIDATES);
    found.into_iter().map(|f| f.2).collect()
}

/// The best candidate of each that leads on for ever: those that lead nowhere are struck out until none is left.
fn lead_on(candidates: &[Vec<usize>]) -> Vec<Option<usize>> {
    let mut next: Vec<Option<usize>> = candidates.iter().map(|c| c.first().copied()).collect();
    let mut alive: Vec<bool> = next.iter().map(Option::is_some).collect();
    loop {
        let mut changed = false;
        for i in 0..candidates.len() {
            if alive[i] && !next[i].is_some_and(|j| alive[j]) {
                next[i] = candidates[i].iter().copied().find(|&j| alive[j]);
                alive[i] = next[i].is_some();
                changed = true;
            }
        }
        if !changed {
            break;
        }
    }
    for (n, a) in next.iter_mut().zip(alive) {
        if !a {
            *n = None;
        }
    }
    next
}

/// The cycles of a graph in which everything leads to one other at most, each from its lowest member.
fn cycles(next: &[Option<usize>]) -> Vec<Vec<usize>> {
    let mut seen = vec![0_usize; next.len()];
    let mut out = Vec::new();
    for start in 0..next.len() {
        let mut i = start;
        while seen[i] == 0 {
            seen[i] = start + 1;
            match next[i] {
                Some(j) => i = j,
                None => break,
            }
        }
        if seen[i] == start + 1 && next[i].is_some() {
            let mut cycle = vec![i];
            let mut j = next[i];
            while let Some(k) = j
                && k != i
            {
                cycle.push(k);
                j = next[k];
            }
            if j == Some(i) {
                // The walk from `start` may have run into the cycle it has just marked; take each once.
                if let Some(at) = (0..cycle.len()).min_by_key(|&k| cycle[k]) {
                    cycle.rotate_left(at);
                }
                out.push(cycle);
            }
        }
    }
    out
}
