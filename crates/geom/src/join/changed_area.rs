//! How far an area moved, and how large it is.

use std::collections::BTreeMap;

use nalgebra::{Matrix3, SymmetricEigen};

use super::change_map::{Draft, FLAT_WITHIN, TOGETHER};
use super::matches::Match;
use super::pose_doubt::PoseDoubt;
use crate::{Point, Uncertain, Vector};

/// The core of an area moved at least this share of its most.
const CORE: f64 = 0.5;
/// The level part of an area moved at least this share of its most.
const LEVEL_PART: f64 = 0.8;
/// Cells that face otherwise by more (cosine) do not count.
const FACING: f64 = 0.95;
/// Share by which heights on narrow strips may be too small: normals that lean by 15 degrees.
const LEANS: f64 = 0.034;
/// Gaps of so many bins in the scan are stepped over.
const GAP: i64 = 4;
/// Cells of which covariances are summed, at most.
const MOST_CELLS: usize = 500;

/// An area that moved. Lengths in mm; axes of the surface that stays.
#[derive(Clone, Debug, PartialEq)]
pub struct ChangedArea {
    /// Its cells, by place in the map.
    pub cells: Vec<usize>,
    /// Middle of its core.
    pub centre: Point,
    /// Mean normal of its core, one long.
    pub normal: Vector,
    /// Direction in which it is longest, one long.
    pub along: Vector,
    /// Mean move of its core along the normals, + outward. The core is what moved at least half as far as the most.
    pub mean: (f64, Uncertain),
    /// Mean move of its level part: of what moved at least 0.8 times as far as the most.
    pub most: (f64, Uncertain),
    /// Length of the core.
    pub length: (f64, Uncertain),
    /// Width of the core.
    pub width: (f64, Uncertain),
    /// Whether the core ends on both sides within what both surfaces show: along its length, across it.
    pub ends_seen: [bool; 2],
}

/// The figures of the cells `group`, a sheet of `all` that moved; `None` where nothing of it is left.
pub(super) fn area(
    draft: &Draft,
    all: &[usize],
    group: &[usize],
    doubt: &PoseDoubt,
) -> Option<ChangedArea> {
    let cells = &draft.map.cells;
    let peak = group
        .iter()
        .copied()
        .max_by(|a, b| cells[*a].smooth.abs().total_cmp(&cells[*b].smooth.abs()))?;
    let most = cells[peak].smooth;
    let moved = |k: usize| cells[k].smooth / most;
    // Where metal is bent over, what moved one way moved little along the normal.
    let facing = group
        .iter()
        .filter(|&&k| moved(k) >= LEVEL_PART)
        .map(|&k| cells[k].normal)
        .sum::<Vector>()
        .try_normalize(1e-6)?;
    let over = |share: f64| -> Vec<usize> {
        let all = group.iter().copied();
        all.filter(|&k| moved(k) >= share && cells[k].normal.dot(&facing) > FACING)
            .collect()
    };
    let mean = |of: &[usize]| of.iter().map(|&k| cells[k].height).sum::<f64>() / of.len() as f64;
    let (core, level) = (over(CORE), over(LEVEL_PART));
    if level.is_empty() {
        return None;
    }
    let at = core.iter().map(|&k| cells[k].at.coords).sum::<Vector>() / core.len() as f64;
    let centre = Point::from(at);
    let normal = core
        .iter()
        .map(|&k| cells[k].normal)
        .sum::<Vector>()
        .try_normalize(1e-6)?;
    let posed = doubt
        .at(&centre, &normal)
        .unwrap_or_else(|| Uncertain::new(f64::INFINITY, f64::INFINITY));
    let known = |s: f64| Uncertain::new(s, f64::INFINITY);
    // Where its border is taken bears on the mean: half the change from a little outside to a little inside, as half a width.
    let border = |share: f64| {
        let (inside, outside) = (over(share + 0.1), over(share - 0.1));
        if inside.is_empty() {
            return 0.0;
        }
        0.5 * (mean(&inside) - mean(&outside)).abs() / 3f64.sqrt()
    };
    // On a narrow strip the normals lean towards what bends away, and heights along them are too small.
    let lean = |of: &[usize]| {
        let narrow = of.iter().filter(|&&k| draft.kind(k) != FLAT_WITHIN);
        LEANS * narrow.count() as f64 / of.len() as f64 * mean(of).abs() / 3f64.sqrt()
    };
    let doubt_of = |of: &[usize], share: f64| {
        Uncertain::combined(&[
            known(scatter_of(draft, of)),
            known(border(share)),
            known(lean(of)),
            posed,
        ])
    };

    let (along, across) = axes(draft, &core, &centre, &normal)?;
    let top = mean(&level);
    let points = beside(draft, group, &normal);
    let size = [(along, across), (across, along)].map(|(d, other)| {
        let reach = core
            .iter()
            .map(|&k| (cells[k].at - centre).dot(&other).abs())
            .fold(0.0, f64::max)
            .max(0.5 * draft.map.cell);
        extent(draft, &points, &centre, (&d, &other), reach, top)
    });
    Some(ChangedArea {
        cells: all.to_vec(),
        centre,
        normal,
        along,
        mean: (mean(&core), doubt_of(&core, CORE)),
        most: (top, doubt_of(&level, LEVEL_PART)),
        length: (size[0].value, known(size[0].u)),
        width: (size[1].value, known(size[1].u)),
        ends_seen: [size[0].seen, size[1].seen],
    })
}

/// Standard uncertainty of the mean height of cells, by how quiet ones err together.
fn scatter_of(draft: &Draft, of: &[usize]) -> f64 {
    let every = of.len().div_ceil(MOST_CELLS).max(1);
    let some: Vec<usize> = of.iter().copied().step_by(every).collect();
    let cells = &draft.map.cells;
    let mut sum = 0.0;
    for &a in &some {
        for &b in &some {
            let d = (cells[a].at - cells[b].at).norm() / draft.map.cell + 0.5;
            if (d as usize) < TOGETHER {
                sum += draft.map.together[d as usize];
            }
        }
    }
    let own = draft.map.together[0].max(0.0);
    // Rounding and short runs of the covariance must not make it better than independent cells.
    (sum.max(own * some.len() as f64)).sqrt() / some.len() as f64
}

/// Directions in which the core is longest and across, in its surface.
fn axes(
    draft: &Draft,
    core: &[usize],
    centre: &Point,
    normal: &Vector,
) -> Option<(Vector, Vector)> {
    let mut spread = Matrix3::zeros();
    for &k in core {
        let d = draft.map.cells[k].at - centre;
        let d = d - normal * normal.dot(&d);
        spread += d * d.transpose();
    }
    let eigen = SymmetricEigen::new(spread);
    let long: Vector = eigen.eigenvectors.column(eigen.eigenvalues.imax()).into();
    let along = (long - normal * normal.dot(&long))
        .try_normalize(1e-6)
        .unwrap_or_else(|| {
            let n = nalgebra::Unit::new_normalize(*normal);
            crate::any_perpendicular(&n).into_inner()
        });
    // The largest component is positive.
    let along = if along[along.iamax()] < 0.0 {
        -along
    } else {
        along
    };
    Some((along, normal.cross(&along).try_normalize(1e-6)?))
}

/// Points of the group and of two rings round it.
fn beside<'d>(draft: &'d Draft, group: &[usize], normal: &Vector) -> Vec<&'d Match> {
    let mut inside = vec![false; draft.near.len()];
    let mut list = group.to_vec();
    for &k in group {
        inside[k] = true;
    }
    for _ in 0..3 {
        for k in list.clone() {
            for &n in &draft.near[k] {
                if !inside[n as usize] {
                    inside[n as usize] = true;
                    list.push(n as usize);
                }
            }
        }
    }
    list.sort_unstable();
    list.iter()
        .flat_map(|&k| &draft.of_cell[k])
        .map(|&p| &draft.points[p as usize])
        .filter(|m| m.normal.dot(normal) > 0.5)
        .collect()
}

/// A length between the places where the move falls to half.
struct Extent {
    value: f64,
    u: f64,
    seen: bool,
}

fn extent(
    draft: &Draft,
    points: &[&Match],
    centre: &Point,
    (d, other): (&Vector, &Vector),
    reach: f64,
    level: f64,
) -> Extent {
    let bin = 0.5 * draft.map.cell;
    // Heights by bin along d, in a band as wide as the core.
    let mut bins: BTreeMap<i64, Vec<f64>> = BTreeMap::new();
    let mut ends: BTreeMap<i64, [f64; 2]> = BTreeMap::new();
    for m in points {
        let off = m.at - centre;
        if off.dot(other).abs() <= reach {
            let t = off.dot(d);
            let k = (t / bin).floor() as i64;
            let e = ends.entry(k).or_insert([t, t]);
            *e = [e[0].min(t), e[1].max(t)];
            bins.entry(k).or_default().push(m.height / level);
        }
    }
    bins.retain(|_, h| h.len() >= 2);
    let mean = |k: i64| bins.get(&k).map(|h| h.iter().sum::<f64>() / h.len() as f64);
    let noise = draft.map.together[0].max(0.0).sqrt() / level.abs();
    let end = |way: i64| -> (f64, f64, bool) {
        let mut k = if way > 0 { 0 } else { -1 };
        loop {
            // Over gaps in the scan.
            let next = (1..=GAP)
                .map(|g| k + g * way)
                .find(|n| bins.contains_key(n));
            let Some(next) = next else {
                // The border of what both show.
                let at = ends
                    .get(&k)
                    .map_or(k as f64 * bin, |e| e[usize::from(way > 0)]);
                return (at, bin / 3f64.sqrt(), false);
            };
            if let (Some(here), Some(there)) = (mean(k), mean(next))
                && here >= CORE
                && there < CORE
            {
                let apart = (next - k).abs() as f64 * bin;
                let share = (here - CORE) / (here - there);
                let at = (k as f64 + 0.5) * bin + share * apart * way as f64;
                let slope = (here - there) / apart;
                let u = (noise / slope).min(2.0 * bin).hypot(apart / 12f64.sqrt());
                return (at, u, true);
            }
            k = next;
        }
    };
    let (low, high) = (end(-1), end(1));
    Extent {
        value: high.0 - low.0,
        u: low.1.hypot(high.1),
        seen: low.2 && high.2,
    }
}
