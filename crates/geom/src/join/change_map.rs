//! Where one surface lies off another that it was laid on: the heights in cells, and which of them stand out.
//!
//! Nothing is assumed of the noise. What cells scatter by where nothing changed is the measure of those that did: cells of
//! their own kind (flat or bent, with many or few points), and for a mean over an area the covariance of the quiet cells by their distance. A cell stands out
//! if so much would come up by chance among all cells in one map of twenty (Bonferroni); an area grows from it over
//! its neighbours that are moved the same way.

use std::collections::BTreeMap;

use super::changed_area::{ChangedArea, area};
use super::cubes::{Cubes, voxel, way};
use super::matches::{Limits, Match, facing_matches};
use super::pose_doubt::PoseDoubt;
use super::surface::JoinSurface;
use crate::robust::{NORMAL_MEDIAN, median};
use crate::{Point, Rigid, Vector, normal_quantile};

/// A cell is so many distances between neighbours wide, and not narrower than `LEAST_CELL`.
const CELL: f64 = 3.0;
/// mm.
const LEAST_CELL: f64 = 6.0;
/// Points looked at, at most.
const MOST_POINTS: usize = 400_000;
/// Beyond so many distances between neighbours a point lies beside the surface.
const BESIDE: f64 = 2.5;
/// Fewer points make no cell.
const FEWEST_POINTS: usize = 4;
/// Fewer quiet cells do not say how cells scatter.
const FEWEST_CELLS: usize = 40;
/// Chance that a map in which nothing changed shows an area.
const LEVEL: f64 = 0.05;
/// An area has at least so many cells that stand out.
const FEWEST_OUT: usize = 3;
/// Cells are neighbours up to this distance of their middles, in cells.
const NEAR: f64 = 1.6;
/// Normals of neighbours differ by less (cosine).
const ALIKE: f64 = 0.8;
/// Below this length of the mean normal the surface is bent within a cell and its neighbours.
const FLAT: f64 = 0.985;
/// Distance up to which cells err together, in cells.
pub(super) const TOGETHER: usize = 10;
/// The same, in cubes.
const REACH: i64 = 10;

/// A patch of surface, about a cell wide; axes of the surface it lies over, mm.
#[derive(Clone, Debug, PartialEq)]
pub struct ChangeCell {
    /// Mean of its points.
    pub at: Point,
    /// Mean normal of both surfaces there, one long.
    pub normal: Vector,
    /// Median height over the other surface, mm.
    pub height: f64,
    /// Number of points.
    pub count: usize,
    /// Mean height of it and its neighbours, mm.
    pub smooth: f64,
    /// How much that scatters where nothing changed, mm.
    pub scatter: f64,
    /// The area it belongs to.
    pub area: Option<usize>,
}

/// The heights of one surface over another.
#[derive(Clone, Debug, PartialEq)]
pub struct ChangeMap {
    /// Cells in order of their places.
    pub cells: Vec<ChangeCell>,
    /// Areas that moved, the largest move first.
    pub areas: Vec<ChangedArea>,
    /// Width of a cell, mm.
    pub cell: f64,
    /// A move over a cell and its neighbours is found in 95 of 100 cases from here on, mm: on flat metal.
    pub found_from: f64,
    /// Covariance of the heights of two quiet cells by their distance in cells, mm2.
    pub(super) together: Vec<f64>,
}

/// What a cell is put together from.
#[derive(Default)]
struct Heap {
    points: Vec<u32>,
}

type Key = ([i64; 3], u8);

/// The kind of a cell that is flat with neighbours all round.
pub(super) const FLAT_WITHIN: usize = 2;

/// A map before areas are looked for.
pub(super) struct Draft {
    pub map: ChangeMap,
    pub points: Vec<Match>,
    /// Which points belong to which cell.
    pub of_cell: Vec<Vec<u32>>,
    pub near: Vec<Vec<u32>>,
}

impl ChangeMap {
    /// The heights of `from` over `to` where it was laid by `pose`, up to `reach` (mm). Cells for which `aside` holds say nothing
    /// of the scatter. `None` where too little is shown by both. `doubt` goes into the figures of the areas.
    pub(super) fn of(
        from: &JoinSurface,
        to: &JoinSurface,
        pose: &Rigid,
        doubt: &PoseDoubt,
        reach: f64,
        aside: &dyn Fn(&Point) -> bool,
    ) -> Option<Self> {
        let mut draft = Draft::of(from, to, pose, reach)?;
        let mut quiet: Vec<bool> = draft.map.cells.iter().map(|c| !aside(&c.at)).collect();
        // Cells that stand out are no noise: what they are is found in two rounds.
        let mut groups = Vec::new();
        for round in 0..4 {
            draft.scatter(&quiet, round > 0)?;
            groups = draft.groups();
            let mut calm: Vec<bool> = draft.map.cells.iter().map(|c| !aside(&c.at)).collect();
            for &k in groups.iter().flatten() {
                calm[k] = false;
                for &n in &draft.near[k] {
                    calm[n as usize] = false;
                }
            }
            if calm == quiet {
                break;
            }
            quiet = calm;
        }
        draft.map.together = draft.together(&quiet);
        let mut areas: Vec<ChangedArea> = draft
            .together_moved(&groups)
            .iter()
            .filter_map(|(all, main)| area(&draft, all, main, doubt))
            .collect();
        areas.sort_by(|a, b| b.most.0.abs().total_cmp(&a.most.0.abs()));
        for (k, a) in areas.iter().enumerate() {
            for &c in &a.cells {
                draft.map.cells[c].area = Some(k);
            }
        }
        draft.map.areas = areas;
        Some(draft.map)
    }
}

impl Draft {
    fn of(from: &JoinSurface, to: &JoinSurface, pose: &Rigid, reach: f64) -> Option<Self> {
        let every = from.len().div_ceil(MOST_POINTS).max(1);
        let spacing = to.spacing.max(from.spacing * (every as f64).sqrt());
        let cell = (CELL * spacing).max(LEAST_CELL);
        let limits = Limits {
            reach,
            beside: BESIDE * to.spacing,
        };
        let points = facing_matches(from, to, pose, every, limits);
        let mut heaps: BTreeMap<Key, Heap> = BTreeMap::new();
        for (k, m) in points.iter().enumerate() {
            let key = (voxel(&m.at, cell), way(&m.normal));
            heaps.entry(key).or_default().points.push(k as u32);
        }
        heaps.retain(|_, h| h.points.len() >= FEWEST_POINTS);
        if heaps.len() < FEWEST_CELLS {
            return None;
        }
        let mut cells = Vec::with_capacity(heaps.len());
        let mut lengths = Vec::with_capacity(heaps.len());
        let mut of_voxel = Vec::with_capacity(heaps.len());
        let mut of_cell = Vec::with_capacity(heaps.len());
        for (key, heap) in heaps {
            let own = || heap.points.iter().map(|&k| &points[k as usize]);
            let count = heap.points.len();
            let at = own().map(|m| m.at.coords).sum::<Vector>() / count as f64;
            let normal = own().map(|m| m.normal).sum::<Vector>() / count as f64;
            let mut heights: Vec<f64> = own().map(|m| m.height).collect();
            of_voxel.push((key.0, cells.len() as u32));
            lengths.push(normal);
            cells.push(ChangeCell {
                at: at.into(),
                normal: normal.normalize(),
                height: median(&mut heights),
                count,
                smooth: 0.0,
                scatter: f64::INFINITY,
                area: None,
            });
            of_cell.push(heap.points);
        }
        let of_voxel = Cubes::new(of_voxel);
        let near: Vec<Vec<u32>> = cells
            .iter()
            .map(|c| {
                of_voxel
                    .within(voxel(&c.at, cell), 2)
                    .filter(|&o| {
                        let o = &cells[o as usize];
                        (o.at - c.at).norm() <= NEAR * cell && o.normal.dot(&c.normal) > ALIKE
                    })
                    .collect()
            })
            .collect();
        for k in 0..cells.len() {
            let (mut sum, mut weight) = (0.0, 0.0);
            for &n in &near[k] {
                let o = &cells[n as usize];
                sum += o.height * o.count as f64;
                weight += o.count as f64;
            }
            cells[k].smooth = sum / weight;
        }
        Some(Self {
            map: ChangeMap {
                cells,
                areas: Vec::new(),
                cell,
                found_from: f64::NAN,
                together: Vec::new(),
            },
            points,
            of_cell,
            near,
        })
    }

    /// The kind of a cell: at a border or within, flat or bent.
    pub(super) fn kind(&self, k: usize) -> usize {
        let (mut count, mut normal) = (0.0, Vector::zeros());
        for &n in &self.near[k] {
            let o = &self.map.cells[n as usize];
            count += o.count as f64;
            normal += o.normal * o.count as f64;
        }
        let within = match self.near[k].len() {
            ..5 => 0,
            5..8 => 1,
            _ => FLAT_WITHIN,
        };
        within + if normal.norm() > FLAT * count { 0 } else { 3 }
    }

    /// The scatter of every cell by that of the quiet ones of its kind; with `tails` a kind whose largest are larger than its
    /// middle lets expect counts by those.
    fn scatter(&mut self, quiet: &[bool], tails: bool) -> Option<()> {
        let kinds: Vec<usize> = (0..self.near.len()).map(|k| self.kind(k)).collect();
        let mut heights: [Vec<f64>; 6] = Default::default();
        for (k, c) in self.map.cells.iter().enumerate() {
            if quiet[k] {
                heights[kinds[k]].push(c.smooth.abs());
            }
        }
        let mut all: Vec<f64> = heights.iter().flatten().copied().collect();
        if all.len() < FEWEST_CELLS {
            return None;
        }
        let of = |h: &mut Vec<f64>| {
            let middle = median(h) / NORMAL_MEDIAN;
            h.sort_by(f64::total_cmp);
            let far = h[(h.len() - 1) * 99 / 100] / normal_quantile(0.995);
            if tails { middle.max(far) } else { middle }
        };
        let overall = of(&mut all);
        let scatter = heights.map(|mut h| {
            if h.len() < FEWEST_CELLS {
                overall
            } else {
                of(&mut h)
            }
        });
        for (c, k) in self.map.cells.iter_mut().zip(&kinds) {
            c.scatter = scatter[*k].max(1e-9);
        }
        self.map.found_from = (self.threshold() + normal_quantile(0.95)) * scatter[2];
        Some(())
    }

    /// From how many scatters on a cell stands out.
    fn threshold(&self) -> f64 {
        normal_quantile(1.0 - 0.5 * LEVEL / self.map.cells.len() as f64)
    }

    /// Connected cells that moved one way, at least three of which stand out.
    fn groups(&self) -> Vec<Vec<usize>> {
        let out = self.threshold();
        let z = |k: usize| self.map.cells[k].smooth / self.map.cells[k].scatter;
        let mut taken = vec![false; self.near.len()];
        let mut groups = Vec::new();
        for seed in 0..taken.len() {
            if taken[seed] || z(seed).abs() < out {
                continue;
            }
            let sign = z(seed).signum();
            let (mut group, mut at) = (vec![seed], 0);
            taken[seed] = true;
            while at < group.len() {
                for &n in &self.near[group[at]] {
                    let n = n as usize;
                    if !taken[n] && z(n) * sign > 0.5 * out {
                        taken[n] = true;
                        group.push(n);
                    }
                }
                at += 1;
            }
            // One cell of stray points raises its neighbours: some must stand out by themselves.
            let alone = |k: &&usize| {
                let c = &self.map.cells[**k];
                c.height * sign > 0.5 * out * c.scatter && z(**k) * sign > out
            };
            if group.iter().filter(alone).count() >= FEWEST_OUT {
                group.sort_unstable();
                groups.push(group);
            }
        }
        groups
    }

    /// Groups that lie beside each other and moved the same way are one piece of metal: front and back, flange and bend. Its cells,
    /// and those of its largest group.
    fn together_moved(&self, groups: &[Vec<usize>]) -> Vec<(Vec<usize>, Vec<usize>)> {
        let cells = &self.map.cells;
        let moved = |k: usize| cells[k].normal * cells[k].smooth;
        let reach = (NEAR * self.map.cell).powi(2);
        let beside = |a: &[usize], b: &[usize]| {
            a.iter().any(|&i| {
                b.iter().any(|&k| {
                    (cells[i].at - cells[k].at).norm_squared() <= reach
                        && moved(i).dot(&moved(k)) > 0.0
                })
            })
        };
        let mut of: Vec<usize> = (0..groups.len()).collect();
        for i in 0..groups.len() {
            for k in 0..i {
                if of[i] != of[k] && beside(&groups[i], &groups[k]) {
                    let (from, to) = (of[i].max(of[k]), of[i].min(of[k]));
                    for o in of.iter_mut().filter(|o| **o == from) {
                        *o = to;
                    }
                }
            }
        }
        (0..groups.len())
            .filter(|&k| of[k] == k)
            .filter_map(|k| {
                let members = || {
                    (0..groups.len())
                        .filter(|&i| of[i] == k)
                        .map(|i| &groups[i])
                };
                let mut all: Vec<usize> = members().flatten().copied().collect();
                all.sort_unstable();
                // The last of equals, so that the order of the cells decides.
                let main = members().max_by_key(|g| g.len())?.clone();
                Some((all, main))
            })
            .collect()
    }

    /// Covariance of quiet cells by distance.
    fn together(&self, quiet: &[bool]) -> Vec<f64> {
        let size = self.map.cell;
        let cells = (0..)
            .zip(&self.map.cells)
            .filter(|(k, _)| quiet[*k as usize]);
        let of_voxel = Cubes::new(cells.map(|(k, c)| (voxel(&c.at, size), k)));
        let cut = |k: u32| {
            let c = &self.map.cells[k as usize];
            // A stray cell must not speak for all.
            let most = 5.0 * c.scatter * 3.0;
            c.height.clamp(-most, most)
        };
        let every = of_voxel.iter().len().div_ceil(3000).max(1);
        let (mut sum, mut n) = (vec![0.0; TOGETHER], vec![0.0_f64; TOGETHER]);
        for a in of_voxel.iter().step_by(every) {
            let from = &self.map.cells[a as usize];
            for b in of_voxel.within(voxel(&from.at, size), REACH) {
                let to = &self.map.cells[b as usize];
                let d = ((to.at - from.at).norm() / size + 0.5) as usize;
                if d < TOGETHER && to.normal.dot(&from.normal) > 0.0 {
                    sum[d] += cut(a) * cut(b);
                    n[d] += 1.0;
                }
            }
        }
        sum.iter()
            .zip(&n)
            .map(|(s, n)| if *n > 0.0 { s / n } else { 0.0 })
            .collect()
    }
}
