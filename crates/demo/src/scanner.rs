//! The virtual scanner: noise, holes in the scan, stray points, the scanner's own axes.

use geom::{Improper, Point, Rigid, Vector};
use nalgebra::UnitQuaternion;
use rand::RngExt;
use rand_distr::StandardNormal;
use rayon::prelude::*;
use record::{Cancelled, Progress, Stage};

use crate::body::Body;
use crate::chance::{dice, hash};
use crate::field::Field;
use crate::weave::{Kind, Weave};

/// How the virtual scanner sees.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scanner {
    /// Standard deviation of the noise along the normal, mm.
    pub sd_mm: f64,
    /// Share of its variance that neighbouring points have in common, 0 to 1.
    pub correlated_share: f64,
    /// Range l of its covariance exp(-h^2 / 2 l^2), mm.
    pub range_mm: f64,
    /// Share of its variance in a second, longer wave, 0 to 1 less `correlated_share`.
    pub long_share: f64,
    /// Range of that, mm.
    pub long_range_mm: f64,
    /// How many small ragged holes a scan has where the metal has none.
    pub holes: usize,
    /// How many stray points (in a mesh: stray triangles) float about.
    pub strays: usize,
    /// Share of the points that a cloud lacks at random.
    pub dropouts: f64,
    /// Whether a stand is in the picture.
    pub stand: bool,
}

impl Default for Scanner {
    fn default() -> Self {
        Self {
            sd_mm: 0.05,
            correlated_share: 0.5,
            range_mm: 3.0,
            long_share: 0.0,
            long_range_mm: 15.0,
            holes: 20,
            strays: 24,
            dropouts: 0.02,
            stand: true,
        }
    }
}

impl Scanner {
    /// Sees without noise, holes, strays and stand.
    pub fn exact() -> Self {
        Self {
            sd_mm: 0.0,
            correlated_share: 0.0,
            range_mm: 3.0,
            long_share: 0.0,
            long_range_mm: 15.0,
            holes: 0,
            strays: 0,
            dropouts: 0.0,
            stand: false,
        }
    }
}

/// A hole of the scan where the metal has none.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlantedHole {
    /// Its middle, scan axes, mm.
    pub centre: Point,
    /// Its largest radius, mm.
    pub radius_mm: f64,
}

/// What a scan came out as, in scan axes.
pub(crate) struct Seen {
    pub points: Vec<[f32; 3]>,
    pub normals: Vec<[f32; 3]>,
    pub colours: Vec<[u8; 3]>,
    pub triangles: Vec<[u32; 3]>,
    pub planted: Vec<PlantedHole>,
}

/// What a scan is taken with.
pub(crate) struct Shot<'a> {
    pub scanner: &'a Scanner,
    /// Car axes from side axes.
    pub car_from_side: Improper,
    pub scan_from_car: Rigid,
    /// Seed of this scan.
    pub seed: u64,
    /// Mesh or cloud.
    pub mesh: bool,
    /// Thickness of an even film on the metal, mm.
    pub film_mm: f64,
}

/// A pose as a scanner has that was started anywhere: turned by tens of degrees, metres away.
pub(crate) fn any_pose(seed: u64) -> Rigid {
    let mut rng = dice(&[seed, 101]);
    let axis = Vector::from_fn(|_, _| rng.sample(StandardNormal));
    let angle = rng.random_range(0.5..1.6);
    let shift = Vector::new(
        rng.random_range(600.0..1800.0),
        rng.random_range(-1500.0..1500.0),
        rng.random_range(-700.0..700.0),
    );
    Rigid::from_parts(
        shift.into(),
        UnitQuaternion::from_axis_angle(&nalgebra::Unit::new_normalize(axis), angle),
    )
}

#[derive(Clone, Copy)]
struct Node {
    p: [f32; 3],
    n: [f32; 3],
    colour: [u8; 3],
    kept: bool,
}

const BLANK: Node = Node {
    p: [0.0; 3],
    n: [0.0; 3],
    colour: [0; 3],
    kept: false,
};

/// Holes to plant, side axes: middle, radius, and the seed of its ragged edge.
struct Plant {
    at: Point,
    radius: f64,
}

/// How far a planted hole stays from every opening edge, bolt hole and border of a tile, mm.
const CLEAR: f64 = 7.0;

fn plant(body: &Body, count: usize, seed: u64) -> Vec<Plant> {
    let mut rng = dice(&[seed, 102]);
    let mut all: Vec<Plant> = Vec::new();
    // A place is found at about every third try; the limit only stops a body that has no room at all.
    for _ in 0..count * 200 {
        if all.len() == count {
            break;
        }
        let o = &body.openings[rng.random_range(0..body.openings.len())];
        let t = o.numbers.tile;
        let radius: f64 = rng.random_range(1.8..4.0);
        let room = radius + CLEAR;
        let uv = [
            rng.random_range(t[0] + room..t[1] - room),
            rng.random_range(t[2] + room..t[3] - room),
        ];
        let at = body.panel.at(uv[0], uv[1]).p;
        let stations = o.edge.stations();
        let nearest = stations.iter().step_by(16).min_by(|a, b| {
            (a.p - at)
                .norm_squared()
                .total_cmp(&(b.p - at).norm_squared())
        });
        let outside = nearest.is_some_and(|s| (at - s.p).dot(&s.g) < -room);
        let clear = o
            .holes
            .iter()
            .all(|h| (h.centre - at).norm() > room + h.diameter / 2.0)
            && all.iter().all(|p| (p.at - at).norm() > 3.0 * room);
        if outside && clear {
            all.push(Plant { at, radius });
        }
    }
    all
}

/// Noise that neighbouring points share.
struct Wave {
    field: Field,
    sd: f64,
}

impl Shot<'_> {
    /// Looks at the nodes of a weave.
    pub fn take(&self, weave: &Weave, at: &dyn Progress) -> Result<Seen, Cancelled> {
        let s = self.scanner;
        let wave = |share: f64, range: f64, stream: u64| {
            (share > 0.0 && s.sd_mm > 0.0).then(|| Wave {
                field: Field::new(hash(&[self.seed, stream]), range),
                sd: s.sd_mm * share.sqrt(),
            })
        };
        let waves: Vec<Wave> = [
            wave(s.correlated_share, s.range_mm, 103),
            wave(s.long_share, s.long_range_mm, 106),
        ]
        .into_iter()
        .flatten()
        .collect();
        let plants = plant(weave.body, self.scanner.holes, self.seed);
        let total = weave.nodes as usize;
        at.at(Stage::Prepare, 0, total)?;
        let mut nodes = vec![BLANK; total];
        let mut rows: Vec<(usize, u32, &mut [Node])> = Vec::new();
        let mut rest = nodes.as_mut_slice();
        for (k, p) in weave.patches.iter().enumerate() {
            for r in 0..p.rows {
                let (row, after) = rest.split_at_mut(p.cols as usize);
                rows.push((k, r, row));
                rest = after;
            }
        }
        let done = std::sync::atomic::AtomicUsize::new(0);
        rows.into_par_iter().try_for_each(|(k, r, row)| {
            self.row(weave, k, r, row, &waves, &plants);
            let n = done.fetch_add(row.len(), std::sync::atomic::Ordering::Relaxed);
            at.at(Stage::Prepare, n, total)
        })?;
        let mut seen = self.gathered(weave, &nodes);
        at.at(Stage::Prepare, total, total)?;
        self.add_strays(&mut seen);
        seen.planted = plants
            .iter()
            .map(|p| PlantedHole {
                centre: self.scan_from_car * self.car_from_side.point(&p.at),
                radius_mm: p.radius,
            })
            .collect();
        Ok(seen)
    }

    fn row(
        &self,
        weave: &Weave,
        patch: usize,
        row: u32,
        out: &mut [Node],
        waves: &[Wave],
        plants: &[Plant],
    ) {
        let mut rng = dice(&[self.seed, 104, patch as u64, u64::from(row)]);
        let s = self.scanner;
        let white = s.sd_mm * (1.0 - s.correlated_share - s.long_share).max(0.0).sqrt();
        let of_the_car = !matches!(weave.patches[patch].kind, Kind::Stand(_));
        for (col, node) in out.iter_mut().enumerate() {
            let spot = weave.spot(patch, row, col as u32);
            let z: f64 = rng.sample(StandardNormal);
            let shared: f64 = waves.iter().map(|w| w.sd * w.field.at(&spot.p)).sum();
            let film = if of_the_car { self.film_mm } else { 0.0 };
            let off = film + white * z + shared;
            let p = self.scan_from_car * self.car_from_side.point(&(spot.p + spot.n * off));
            let n = self.scan_from_car.rotation * self.car_from_side.vector(&spot.n);
            let ragged: f64 = rng.random_range(0.72..1.0);
            let missed = plants.iter().any(|q| {
                let d = spot.p - q.at;
                d.norm_squared() < (ragged * q.radius).powi(2)
            }) || (!self.mesh && rng.random_bool(s.dropouts));
            *node = Node {
                p: [p.x as f32, p.y as f32, p.z as f32],
                n: [n.x as f32, n.y as f32, n.z as f32],
                colour: colour(&spot.p, of_the_car, rng.random_range(-3..=3)),
                kept: !missed,
            };
        }
    }

    /// Keeps the nodes that carry triangles, in order.
    fn gathered(&self, weave: &Weave, nodes: &[Node]) -> Seen {
        let flip = self.car_from_side.flips();
        let mut triangles: Vec<[u32; 3]> = weave
            .cell_rows()
            .par_iter()
            .flat_map_iter(|&(patch, row)| {
                let mut out = Vec::new();
                weave.triangles(patch, row, &mut out);
                out.retain(|t| t.iter().all(|&v| nodes[v as usize].kept));
                if flip {
                    for t in &mut out {
                        t.swap(1, 2);
                    }
                }
                out
            })
            .collect();
        // Points are numbered in the order in which the triangles first meet them, as readers do that join corners.
        let mut new = vec![u32::MAX; nodes.len()];
        let mut order: Vec<u32> = Vec::new();
        for &v in triangles.iter().flatten() {
            if new[v as usize] == u32::MAX {
                new[v as usize] = order.len() as u32;
                order.push(v);
            }
        }
        if self.mesh {
            triangles
                .par_iter_mut()
                .for_each(|t| *t = t.map(|v| new[v as usize]));
        } else {
            triangles = Vec::new();
        }
        let nodes: Vec<Node> = order.iter().map(|&v| nodes[v as usize]).collect();
        Seen {
            points: nodes.iter().map(|n| n.p).collect(),
            normals: nodes.iter().map(|n| n.n).collect(),
            colours: nodes.iter().map(|n| n.colour).collect(),
            triangles,
            planted: Vec::new(),
        }
    }

    /// Stray points near the metal; in a mesh each is a small triangle of its own.
    fn add_strays(&self, seen: &mut Seen) {
        if seen.points.is_empty() {
            return;
        }
        let mut rng = dice(&[self.seed, 105]);
        let whole = seen.points.len();
        for _ in 0..self.scanner.strays {
            let near = seen.points[rng.random_range(0..whole)];
            let off: [f32; 3] = std::array::from_fn(|_| rng.random_range(-40.0..40.0));
            let n: [f64; 3] = std::array::from_fn(|_| rng.sample(StandardNormal));
            let n = Vector::from(n).normalize();
            let (a, b) = (
                geom::any_perpendicular(&nalgebra::Unit::new_unchecked(n)).into_inner(),
                n,
            );
            let c = b.cross(&a);
            let first = seen.points.len() as u32;
            for (x, y) in [(0.0, 0.0), (0.0, 1.5), (1.5, 0.0)] {
                if !self.mesh && (x, y) != (0.0, 0.0) {
                    continue;
                }
                let d = a * x + c * y;
                seen.points.push([
                    near[0] + off[0] + d.x as f32,
                    near[1] + off[1] + d.y as f32,
                    near[2] + off[2] + d.z as f32,
                ]);
                seen.normals.push([n.x as f32, n.y as f32, n.z as f32]);
                seen.colours.push([120, 118, 112]);
            }
            if self.mesh {
                seen.triangles.push([first, first + 1, first + 2]);
            }
        }
    }
}

/// Grey primer, a little cloudy; the stand is dark.
fn colour(p: &Point, of_the_car: bool, grain: i16) -> [u8; 3] {
    let cloud = 5.0 * (p.x / 61.0 + 1.3 * (p.z / 83.0).sin()).sin()
        + 4.0 * (p.y / 47.0 - p.z / 130.0).cos();
    let base = if of_the_car {
        [164.0, 160.0, 149.0]
    } else {
        [62.0, 66.0, 74.0]
    };
    base.map(|b: f64| (b + cloud + f64::from(grain)).clamp(0.0, 255.0) as u8)
}
